"""The assistant from a notebook or a script: what a picture or a feed shows, without any device.

`assist` gives these by its own name.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.words import _
from assist.distance import BodyDistance
from assist.feed import Frame
from assist.feed.image_folder import read_picture
from assist.feed.opening import open_feed
from assist.guidance.assistant import Assistant, Known, Moment
from assist.pose import PoseDetector
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.profiles import Profiles
from assist.setup.set_up import SetUp


def measure(
    picture: ColourImage | Path | str,
    set_up: SetUp,
    *,
    profiles: Profiles | None = None,
    detector: PoseDetector | None = None,
) -> BodyDistance | None:
    """How far the person in one picture of the feed is; None where nobody can be measured.

    picture: (h, w, 3) blue, green, red, or the file that holds it.   profiles: what calibrations
    taught.   detector: the pose network to use, which stays open; one for stills is opened, which
    takes half a second, and closed again if left out.

    Distances are axial depths from the lens of the feed's camera, metres. Raises UserError for a
    file that holds no picture, and where the set-up does not tell how the feed sees.
    """
    if isinstance(picture, (str, Path)):
        read = read_picture(Path(picture))
        if read is None:
            raise UserError(_("{file} is not a picture that can be read", file=picture))
        picture = read
    with contextlib.ExitStack() as stack:
        detector = detector or stack.enter_context(MediaPipePoseDetector(stills=True))
        assistant = Assistant(set_up, detector, known=_known(profiles))
        return assistant.see(Frame(picture, 0.0, 0)).body


def moments(
    feed: Path | str,
    set_up: SetUp,
    *,
    profiles: Profiles | None = None,
    rotation_deg: int = 0,
    detector: PoseDetector | None = None,
) -> Iterator[Moment]:
    """What the assistant makes of every picture of a feed, in order, until the feed ends.

    feed: a video file, a folder of pictures, or a camera, by number, device path or address.
    profiles, detector: as of `measure`; the detector must be one for a feed.   rotation_deg: what
    the feed is turned by, clockwise: 0, 90, 180 or 270.

    The feed is closed at its end, or when the iterator is. Raises UserError when it does not open.
    Pictures of a camera come as fast as they are thought about: `assist.run.live` keeps up with it.
    """
    known = _known(profiles)
    geometry = FeedGeometry.of(set_up, known.feed, known.person)
    with contextlib.ExitStack() as stack:
        source = stack.enter_context(
            contextlib.closing(
                open_feed(
                    str(feed),
                    rotation_deg,
                    known.feed,
                    set_up.feed.delay_s,
                    mirrored=geometry.mirrored,
                )
            )
        )
        detector = detector or stack.enter_context(MediaPipePoseDetector(lookout=True))
        assistant = Assistant(set_up, detector, known=known, rotated_deg=rotation_deg)
        while (frame := source.read()) is not None:
            yield assistant.see(frame)


def _known(profiles: Profiles | None) -> Known:
    profiles = profiles or Profiles()
    return Known(profiles.personal, profiles.feed)
