"""The demonstration: the live assistant on the shipped clip, checked against its known truth."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from assist.base.errors import UserError
from assist.base.files import free_name
from assist.base.words import _
from assist.camera.frame import FrameTrigger
from assist.feed.video_file import VideoFileSource
from assist.guidance.assistant import Moment
from assist.guidance.countdown import TimerOptions
from assist.output.terminal import Progress
from assist.pose import PoseDetector
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import distance_plot, true_distances
from assist.run.live import LiveOptions, LiveOutcome, LiveRun
from assist.run.true_distances import Truth
from assist.session.folder import RECORD_FILE, Session
from assist.setup.set_up import SetUp, load
from optics.checks import FloatArray

CLIP, TRUTH, SET_UP = "walk.mp4", "walk.truth.csv", "walk.set-up.toml"
TIMER_S = 12.0
"""A self-timer that leaves the person in the clip just the time they need."""


def sample_folder() -> Path:
    """Where the sample is: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "data", package.parent / "samples"):
        if all((folder / name).is_file() for name in (CLIP, TRUTH, SET_UP)):
            return folder
    raise UserError(_("the sample clip is not there: install the package anew"))


def sample(name: str) -> Path:
    """A file of the sample: CLIP, TRUTH or SET_UP. Raises UserError when it is not there."""
    return sample_folder() / name


@dataclass(frozen=True)
class DemoResult:
    """What the demonstration made and found.

    relative_errors: (n,) measured over true distance of the eyes less 1, of all pictures in which
        the assistant knew a distance.
    """

    folder: Path
    set_up: SetUp
    truth: Truth
    outcome: LiveOutcome
    moments: list[Moment]
    relative_errors: FloatArray

    @property
    def files(self) -> dict[str, Path]:
        """What each file is, and where."""
        made = {
            _("annotated video"): self.folder / "annotated.mp4",
            _("distance plot"): self.folder / "distance.png",
            _("record"): self.folder / RECORD_FILE,
        }
        for attempt in self.outcome.attempts:
            if attempt.picture is not None:
                made[_("picture taken")] = self.folder / attempt.picture
        return made


def demonstrate(
    folder: Path | None = None, *, pose_model: Path | None = None, window: bool = False
) -> DemoResult:
    """Run it with a pose network, into a folder of its own; in real time where it has a window.

    folder: demo-output, or the first numbered one without a record, if left out.   pose_model: a
    pose landmarker bundle, None for the one that comes along.
    """
    with MediaPipePoseDetector(pose_model, lookout=True) as detector:
        where = folder or free_name(Path("demo-output"), RECORD_FILE)
        return run(where, detector, window=window, real_time=window)


def run(
    folder: Path, detector: PoseDetector, *, window: bool = False, real_time: bool = False
) -> DemoResult:
    """Run it, writing into a folder that may not hold a record yet."""
    samples = sample_folder()
    set_up = load(samples / SET_UP)
    known = true_distances.load(samples / TRUTH)
    moments: list[Moment] = []
    options = LiveOptions(
        pace="real" if real_time else "fast",
        window=window,
        output=folder / "annotated.mp4",
        timer=TimerOptions(TIMER_S),
        orders_by=None,
    )
    with (
        Session(folder, set_up) as session,
        contextlib.closing(VideoFileSource(samples / CLIP)) as source,
        Progress(source) as progress,
    ):

        def keep(moment: Moment) -> None:
            # The pictures themselves are let go: a plot needs only where the eyes were.
            moments.append(moment.without_picture())
            progress.show(moment)

        outcome = LiveRun(
            set_up,
            source,
            detector,
            options,
            session=session,
            trigger=FrameTrigger(folder),
            on_moment=keep,
            feed_name=CLIP,
            listener=progress,
        ).run()
    fired_s = [moment.frame.time_s for moment in outcome.fired_at]
    distance_plot.distance_over_time(folder / "distance.png", moments, set_up, known, fired_s)
    return DemoResult(folder, set_up, known, outcome, moments, relative_errors(moments, known))


def relative_errors(moments: list[Moment], known: Truth) -> FloatArray:
    """Measured over true depth of the eyes, less 1, where there is a measurement."""
    return np.array(
        [
            m.assessment.distance.eyes_m / known.eyes_at(m.frame.time_s) - 1
            for m in moments
            if m.assessment.distance is not None
        ]
    )
