"""Bars in a feed without a profile: what they do to the distances, and how to mend it."""

from __future__ import annotations

import shlex
from collections.abc import Callable

from assist.base.words import _
from assist.feed import Source
from assist.feed.bars_watch import BarsWatch
from assist.feed.black_bars import PictureArea
from assist.guidance.assistant import Known
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import SetUp

_WORTH_TELLING = 0.01


def watched(
    source: Source,
    feed: str,
    rotation_deg: int,
    chosen: SetUp,
    known: Known,
    note: Callable[[str], None],
) -> Source:
    """The feed, its bars cut off once they are found, where no profile knows of them.

    Not where a personal profile is in use: that may have been learned with the bars, and then makes
    up for them. `note` takes one line for the user.
    """
    if known.feed is not None:
        return source
    calibrated = known.person is not None

    def found(area: PictureArea, width_px: int, height_px: int) -> None:
        note(told(area, width_px, height_px, feed, rotation_deg, chosen, calibrated))

    def gone() -> None:
        note(_("the feed's bars are gone; all of its picture is used from now on"))

    def doubted(area: PictureArea, width_px: int, height_px: int) -> None:
        note(told_in_doubt(area, width_px, height_px, feed, rotation_deg, chosen))

    return BarsWatch(source, found, gone, doubted, cuts=not calibrated)


def told(
    area: PictureArea,
    width_px: int,
    height_px: int,
    feed: str,
    rotation_deg: int,
    chosen: SetUp,
    calibrated: bool,
) -> str:
    """One line: the bars, what they do, and the command that makes a profile without them.

    calibrated: with a personal profile, which makes up for it where it was learned with this feed.
    """
    command = _command(feed, rotation_deg, chosen)
    words = {
        "size": f"{width_px}x{height_px}",
        "picture": f"{area.width_px}x{area.height_px}",
        "command": command,
    }
    if not calibrated:
        return _(
            "the feed has bars: of its {size} the picture is {picture}; they are cut off "
            "from now on. To have it from the start: {command}, then --feed-profile feed.toml",
            **words,
        )
    wrong = distances_wrong_by(area, width_px, height_px, chosen)
    if abs(wrong) < _WORTH_TELLING:
        return _(
            "the feed has bars: of its {size} the picture is {picture}; to be rid of them: "
            "{command}, then --feed-profile feed.toml",
            **words,
        )
    by = f"{abs(wrong):.0%}"
    if wrong > 0:
        return _(
            "the feed has bars: of its {size} the picture is {picture}, and distances are "
            "told {by} too long unless your profile was learned with them; to be rid of them: "
            "{command}, then --feed-profile feed.toml",
            by=by,
            **words,
        )
    return _(
        "the feed has bars: of its {size} the picture is {picture}, and distances are told "
        "{by} too short unless your profile was learned with them; to be rid of them: {command}, "
        "then --feed-profile feed.toml",
        by=by,
        **words,
    )


def told_in_doubt(
    area: PictureArea,
    width_px: int,
    height_px: int,
    feed: str,
    rotation_deg: int,
    chosen: SetUp,
) -> str:
    """One line where there seem to be bars with signs or colours in them, or on one side only."""
    command = _command(feed, rotation_deg, chosen)
    return _(
        "the feed seems to have bars with signs, a colour or a blurred picture in them: of its "
        "{size} the picture would be {picture}. Not sure of that, nothing is said to be in focus: "
        "turn off the display of settings on the camera's video output; or, if that is the "
        "picture and it lies in the middle, {command} --area {picture}, if there are no bars "
        "--area none, then --feed-profile feed.toml",
        size=f"{width_px}x{height_px}",
        picture=f"{area.width_px}x{area.height_px}",
        command=command,
    )


def distances_wrong_by(area: PictureArea, width_px: int, height_px: int, chosen: SetUp) -> float:
    """Distance told over the true one less 1, where the bars are taken for picture."""
    geometry = FeedGeometry.of(chosen)
    taken = geometry.camera(width_px, height_px).fx_px
    return taken / geometry.camera(area.width_px, area.height_px).fx_px - 1


def _command(feed: str, rotation_deg: int, chosen: SetUp) -> str:
    view = chosen.feed.stated_view
    if view is not None:
        words = ["view", feed, f"--{view[0]}", f"{view[1]:g}deg"]
    else:
        lens = chosen.lens
        words = ["lens", feed, "--lens", f"{lens.focal_length_mm:g}mm"]
        words += ["--focus", f"{lens.focus_distance_m:g}m".replace("infm", "inf")]
        if chosen.camera.sensor != "full-frame":
            words += ["--sensor", chosen.camera.sensor]
        if chosen.feed.crop != 1:
            words += ["--crop", f"{chosen.feed.crop:g}"]
    if rotation_deg:
        words += ["--rotate", str(rotation_deg)]
    return shlex.join(["assist", "calibrate", *words, "--out", "feed.toml"])
