"""Does the program still do what it did? Records all that it tells, and compares two records.

    python -m tests.benchmarks.same_as_before record OLD
    (change the program)
    python -m tests.benchmarks.same_as_before record NEW [--poses OLD] [--only part,part]
    python -m tests.benchmarks.same_as_before compare OLD NEW [--except PATTERN ...] [--only ...]

For changes that are meant to change nothing. `record` fills a folder with text files: poses,
moments with every word shown, said and sent, screens, runs of the command line, plans, help,
errors, verdicts on crops of known blur, phrases, sounds. `compare` prints each difference, some of
each file, and ends with exit code 1 if there is any; what was meant to change is left out with
--except, a pattern such as "help.txt" or "moments_*:said.guidance.why". With --poses the poses are
taken from an earlier record and the pose network is not run for the moments, which is quicker.

Times of day, the time that things take and the names of temporary folders are masked. Records made
on different machines, or with different versions of the libraries, may differ in last digits.

All that this module knows of the program's inside is in the part "The program".
"""

from __future__ import annotations

import argparse
import contextlib
import difflib
import fnmatch
import hashlib
import io
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from enum import Enum
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from assist.base.trouble import Notices, Trouble
from assist.base.words import Units, Words, languages
from assist.base.words.languages import translations
from assist.cli import command_line
from assist.cli import load as load_command_line
from assist.cli import run as run_app
from assist.feed import Frame
from assist.feed.video_file import VideoFileSource
from assist.guidance.assistant import Moment
from assist.guidance.countdown import TimerOptions
from assist.guidance.message import Message
from assist.output.phone.page_message import page_message
from assist.output.screen.palette import THEMES
from assist.output.screen.plan_view import PlanView
from assist.output.screen.screen import GuidanceScreen, ScreenOptions
from assist.output.sound.cues import CueMaker
from assist.output.sound.renderer import Renderer
from assist.output.sound.tour import play, stops
from assist.output.speech.talk import Talk
from assist.pose import Pose, PoseDetector
from assist.pose.face import Face
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.review.blur.luminance import linear_luminance
from assist.review.blur.measure import NotMeasured, measure
from assist.review.diagnosis import cause_of, diagnose, verdict_of
from assist.review.tags import PictureTags
from assist.review.taking_lens import taken_with
from assist.run.live import LiveOptions, LiveRun
from assist.setup.set_up import SetUp, from_values, load
from tests.assist import blur_truth
from tests.benchmarks import review_blur
from tests.benchmarks.review_blur import LIMIT_PX
from tests.benchmarks.same_as_before_cases import BAD, WORDED, plans
from tests.benchmarks.same_as_before_cases import Words as Arguments

ROOT = Path(__file__).resolve().parents[2]
SAMPLES, DATA = ROOT / "samples", ROOT / "tests" / "assist" / "data"
TIMINGS = "timings.json"
"""How long each part took; told by `compare`, and no difference."""
_EYES: Callable[..., Any] = review_blur.eye_mask
_AGREEMENT: Callable[..., Any] = review_blur.agreement
_HELD: Callable[..., Any] = review_blur.interval_held
_CROPS: Callable[..., Any] = blur_truth.rendered_eyes
_FURTHER_CROPS: Callable[..., Any] = blur_truth.rendered_causes
_EVERY = 10
"""One screen of so many is drawn, and one picture of so many of a video is looked at."""
_RATE_HZ = 48000
_SHOWN = 12
"""How many differences of one file are printed."""
_SIDE = 160
"""How many characters of a value are printed."""

# -- the program ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Variant:
    """One way to run the assistant over a clip.

    values: what goes over the clip's set-up, part by part.
    disturbed: whether the network fails for a while, then somebody else comes by, and each trouble
        is told.   turned: whether the picture lies on its side.
    """

    name: str
    language: str = "en"
    units: Units = "metres"
    forward_only: bool = False
    timer: TimerOptions | None = None
    by: str | None = "hand"
    at_once: bool = True
    disturbed: bool = False
    turned: bool = False
    values: dict[str, dict[str, Any]] = field(default_factory=dict)


@dataclass(frozen=True)
class Clip:
    """A clip with how it is run in every language, and in what further ways in one."""

    name: str
    timer: TimerOptions
    person: dict[str, Any]
    by: str | None = "hand"
    at_once: bool = True
    further: tuple[Variant, ...] = ()

    @property
    def path(self) -> Path:
        """Its file."""
        return (SAMPLES if self.name == "walk" else DATA) / f"{self.name}.mp4"

    def set_up(self, changes: dict[str, dict[str, Any]]) -> SetUp:
        """Its set-up, with those values over it."""
        if self.name == "walk":
            values = load(SAMPLES / "walk.set-up.toml").model_dump(mode="json", exclude_none=True)
        else:
            camera = json.loads((DATA / f"{self.name}.camera.json").read_text(encoding="utf-8"))
            lens = {
                "focal_length_mm": camera["focal_length_mm"],
                "f_number": camera["f_number"],
                "focus_distance_m": camera["focus_distance_from_sensor_m"],
            }
            values = {"lens": lens, "person": self.person}
        for part, change in changes.items():
            together = {**values.get(part, {}), **change}
            values[part] = {k: v for k, v in together.items() if v is not None}
        return from_values(values)

    def variants(self) -> Iterator[Variant]:
        """Every way in which it is run."""
        for language in languages():
            units: Units
            for units in ("metres", "feet"):
                for forward_only in (False, True):
                    name = f"{language} {units}{' forward only' if forward_only else ''}"
                    yield Variant(
                        name, language, units, forward_only, self.timer, self.by, self.at_once
                    )
        yield from self.further


CLIPS = (
    Clip(
        "walk", TimerOptions(12.0), {}, None,
        further=(
            Variant("stature unknown", timer=TimerOptions(5.0, burst=3),
                    values={"person": {"stature_m": None}}),
            Variant("own lens", timer=TimerOptions(5.0, if_not_ready="hold", limit_s=4.0),
                    values={"feed": {"through": "own-lens", "horizontal_field_of_view_deg": 54.4,
                                     "along_m": 0.1, "across_m": 0.2, "up_m": -0.1,
                                     "yaw_deg": -2.0, "pitch_deg": 1.0}}),
            Variant("when ready", timer=TimerOptions(None, ready_for_s=1.0, burst=2),
                    values={"framing": {"shot_size": "knees-up", "across": 0.33}}),
            Variant("gives up", timer=TimerOptions(2.0, 0.3, if_not_ready="hold", limit_s=1.0),
                    values={"camera": {"orientation": "portrait"}, "lens": {"f_number": 8.0}}),
            Variant("turned", timer=TimerOptions(11.0), turned=True),
            Variant("disturbed", timer=TimerOptions(4.0), disturbed=True),
            Variant("gestoert", "de", "feet", timer=TimerOptions(10.0), disturbed=True),
        ),
    ),
    Clip(
        "rolls_in", TimerOptions(3.5), {"stature_m": 1.70},
        further=(
            Variant("by head", timer=TimerOptions(1.0), by="head", at_once=False),
            Variant("seated, stated", values={"person": {"posture": "seated"}}),
        ),
    ),
    Clip(
        "rolls_in_leg_ends_early", TimerOptions(4.0), {"stature_m": 1.58},
        further=(
            Variant("stated", timer=TimerOptions(4.0),
                    values={"person": {"without": ["right-foot"]}}),
        ),
    ),
    Clip(
        "arm_ends_early", TimerOptions(1.5), {"stature_m": 1.78}, at_once=False,
        further=(
            Variant("stated, by arm", timer=TimerOptions(1.0), by="arm", at_once=False,
                    values={"person": {"without": ["left-hand"]}}),
        ),
    ),
    Clip(
        "child_walks_in", TimerOptions(5.0), {"stature_m": 1.20},
        further=(
            Variant("stature unknown", timer=TimerOptions(5.0),
                    values={"person": {"stature_m": None}}),
        ),
    ),
)  # fmt: skip


def detected(clip: Clip) -> Iterator[dict[str, Any]]:
    """A clip's size, then its frames with the poses in them, found one after another."""
    source = VideoFileSource(clip.path)
    with contextlib.closing(source), MediaPipePoseDetector() as detector:
        first = True
        while (frame := source.read()) is not None:
            if first:
                first = False
                height, width = frame.picture.shape[:2]
                yield {"size_px": [width, height], "rate_hz": source.rate_hz}
            poses = detector.detect(frame.picture, frame.time_s)
            yield {
                "time_s": frame.time_s,
                "index": frame.index,
                "poses": None if poses is None else [_of_pose(pose) for pose in poses],
            }


def _of_pose(pose: Pose) -> dict[str, Any]:
    return {
        "image_px": pose.image_px.tolist(),
        "world_m": pose.world_m.tolist(),
        "visibility": pose.visibility.tolist(),
        "face": None if pose.face is None else pose.face.points_px.tolist(),
    }


def _to_pose(values: dict[str, Any], size_px: tuple[int, int]) -> Pose:
    face = values["face"]
    return Pose(
        np.array(values["image_px"]),
        np.array(values["world_m"]),
        np.array(values["visibility"]),
        *size_px,
        None if face is None else Face(np.array(face)),
    )


class Replayed(PoseDetector):
    """Poses kept earlier as a detector, and as the source of the frames that they were found in."""

    live = False

    def __init__(self, lines: list[dict[str, Any]]) -> None:
        width, height = lines[0]["size_px"]
        self.rate_hz = float(lines[0]["rate_hz"])
        black = np.zeros((height, width, 3), np.uint8)
        self._frames = [Frame(black, line["time_s"], line["index"]) for line in lines[1:]]
        self._poses = {
            line["time_s"]: None
            if line["poses"] is None
            else [_to_pose(pose, (width, height)) for pose in line["poses"]]
            for line in lines[1:]
        }
        self._left = iter(self._frames)
        self._width_px = float(width)
        self._disturbed = self._turned = False
        self.frames_expected: int | None = len(self._frames)

    def again(self, variant: Variant) -> Replayed:
        """From the first frame on."""
        self._left = iter(self._frames)
        self._disturbed, self._turned = variant.disturbed, variant.turned
        return self

    def read(self) -> Frame | None:
        """The next frame, all black."""
        return next(self._left, None)

    def detect(self, picture: Any, time_s: float) -> list[Pose] | None:
        """What was found then."""
        del picture
        poses = self._poses[time_s]
        if poses is None or (self._disturbed and _FAILS_S[0] <= time_s < _FAILS_S[1]):
            return None
        if self._disturbed and _TWO_S[0] <= time_s < _TWO_S[1]:
            aside_px = (_TWO_S[1] - time_s) / 4 * self._width_px
            return [*poses, *(_moved(pose, aside_px) for pose in poses)]
        if self._turned:
            return [_turned(pose) for pose in poses]
        return list(poses)

    def close(self) -> None:
        """Nothing to free."""


_FAILS_S, _TWO_S = (2.5, 3.5), (6.0, 8.0)
"""When a run is disturbed, and how."""


def _moved(pose: Pose, aside_px: float) -> Pose:
    return replace(pose, image_px=pose.image_px + np.array([aside_px, 0.0]), face=None)


def _turned(pose: Pose) -> Pose:
    """As in a picture that lies on its side."""
    middle, turn = pose.image_px.mean(axis=0), np.array([[0.0, -1.0], [1.0, 0.0]])
    world = pose.world_m.copy()
    world[:, :2] = world[:, :2] @ turn
    return replace(
        pose, image_px=middle + (pose.image_px - middle) @ turn, world_m=world, face=None
    )


@dataclass
class Heard:
    """What a listener was told last."""

    message: Message | None = None

    def hear(self, message: Message) -> None:
        """Keep it."""
        self.message = message

    def close(self) -> None:
        """Nothing to free."""


def run_over(clip: Clip, variant: Variant, seen: Replayed) -> tuple[list[Message], list[Any]]:
    """Every message of a run, and the attempts."""
    told: list[Message] = []
    heard, notices = Heard(), Notices()
    troubles = list(Trouble) if variant.disturbed else []

    def keep(moment: Moment) -> None:
        assert heard.message is not None
        told.append(replace(heard.message, moment=moment.without_picture()))
        if troubles and len(told) % _EVERY == 0:
            notices.tell(troubles.pop(0), "as a test")

    outcome = LiveRun(
        clip.set_up(variant.values),
        seen.again(variant),
        seen,
        LiveOptions(
            window=False,
            timer=variant.timer,
            timer_at_once=variant.at_once,
            orders_by=variant.by,  # type: ignore[arg-type]
            forward_only=variant.forward_only,
        ),
        on_moment=keep,
        listener=heard,
        say=Words(variant.language, variant.units),
        notices=notices,
    ).run()
    attempts = [
        attempt.model_dump(mode="json", exclude={"taken_at", "set_up"})
        for attempt in outcome.attempts
    ]
    return told, [*attempts, *outcome.problems]


def _of_moment(moment: Moment) -> dict[str, Any]:
    """What is known, without the words."""
    assessment, framing, body = moment.assessment, moment.framing, moment.body
    distance = assessment.distance
    return {
        "verdict": assessment.verdict,
        "p": [assessment.p_too_near, assessment.p_in_focus, assessment.p_too_far],
        "distance": None if distance is None else {
            "eyes_m": distance.eyes_m, "sd_m": distance.sd_m, "speed_m_s": distance.speed_m_s,
            "speed_sd_m_s": distance.speed_sd_m_s, "age_s": distance.age_s,
        },
        "body": None if body is None else {
            "eyes_m": body.eyes_m, "eyes_sd_m": body.eyes_sd_m, "hips_m": body.hips_m,
            "hips_sd_m": body.hips_sd_m, "landmarks_m": np.nansum(body.landmarks_m, axis=0),
        },
        "pose": None if moment.pose is None else _hash(moment.pose.visibility.tobytes()),
        "framing": None if framing is None else {
            "shows": framing.shows, "cut": sorted(framing.cut), "across": framing.across,
            "headroom": framing.headroom,
        },
        "framed": moment.framed,
        "still": moment.person.still,
        "posture": moment.person.posture,
        "rotate_deg": moment.person.rotate_deg,
        "ready": moment.readiness.ready,
    }  # fmt: skip


_FACTS = ("action", "to_mark_m", "across_m", "to_go_m", "lean")
_WORDS = ("sentence", "why", "caution", "spoken", "also", "trouble_spoken")
_TIMER = (
    "seconds_left", "shown", "word", "counting", "fired", "paused", "holding", "warning", "gave_up",
    "trouble", "pending", "unheard", "camera_runs_on",
)  # fmt: skip


class Teller:
    """What a person is told of the moments of one run, by every way."""

    def __init__(self, set_up: SetUp) -> None:
        zone = set_up.focus_zone
        self._cues = CueMaker(zone)
        self._view = PlanView(zone)
        self._talk = Talk()
        self._sound = Renderer(_RATE_HZ)
        self._speaks_until_s = -math.inf

    def told(self, message: Message) -> dict[str, Any]:
        """By the guidance, the timer, the second screen, the sound and the voice."""
        guidance, countdown = message.moment.guidance, message.countdown
        now_s = message.moment.frame.time_s
        cue = self._cues.cue(guidance)
        sentence = self._talk.next(now_s, message, now_s < self._speaks_until_s)
        if sentence is not None:
            self._speaks_until_s = now_s + 0.4 + 0.06 * len(sentence.text)
        self._sound.tell(cue, countdown, bool(message.troubles))
        samples = self._sound.render(max(0, round((now_s - self._sound.rendered_s) * _RATE_HZ)))
        return {
            "guidance": {
                **{name: getattr(guidance, name) for name in _FACTS},
                **{name: getattr(message, name) for name in _WORDS},
                "also_spoken": message.advice_spoken,
                "trouble": "\n".join(message.troubles),
            },
            "countdown": None if countdown is None else {
                name: getattr(countdown, name) for name in _TIMER
            },
            "message": page_message(message, self._cues, self._view),
            "cue": None if cue is None else [cue.kind, cue.pitch_hz, cue.tempo_hz],
            "sound": _hash(samples.tobytes()),
            "said": None if sentence is None else [sentence.text, sentence.interrupts],
        }  # fmt: skip


def screens_of(clip: Clip, told: list[Message], language: str) -> Iterator[dict[str, Any]]:
    """Every tenth screen of a run, in every theme, lying and upright."""
    zone = clip.set_up({}).focus_zone
    pictures: list[Any] = []
    with contextlib.closing(VideoFileSource(clip.path)) as source:
        while (frame := source.read()) is not None:
            pictures.append(frame.picture if len(pictures) % _EVERY == 0 else None)
    for theme, size_px in ((t, s) for t in THEMES for s in ((1280, 720), (720, 1280))):
        options = ScreenOptions(size_px, theme=THEMES[theme], keys="Q")
        screen = GuidanceScreen(zone, options, Words(language))
        for n, message in enumerate(told):
            picture = pictures[n]
            if picture is None:
                continue
            frame = replace(message.moment.frame, picture=picture)
            moment = replace(message.moment, frame=frame)
            progress = 0.4 if n % 3 == 0 else 0.0
            canvas = screen.draw(replace(message, moment=moment, gesture_progress=progress))
            yield {
                "language": language, "theme": theme, "size_px": size_px, "picture": n,
                "canvas": _hash(canvas.tobytes()),
            }  # fmt: skip


def judged_crop(eye: blur_truth.RenderedEyes) -> tuple[dict[str, Any], tuple[Any, ...]]:
    """What the review says of one crop, and the same as a row for `agreement`."""
    gray = linear_luminance(eye.picture)
    got = measure(gray, _EYES(eye.eyes_px, gray.shape), compression=eye.compression)
    told: dict[str, Any] = {"crop": eye.name, "true_px": eye.width_px}
    taken = taken_with(PictureTags(focal_length_mm=35, f_number=2.0), 6000, 4000, None)
    if isinstance(got, NotMeasured):
        told["not measured"] = str(got)
        return told, (eye.name, eye.width_px, np.nan, np.nan, verdict_of_nothing())
    verdict, p_sharp = verdict_of(got, LIMIT_PX, 1.45 * LIMIT_PX)
    words = diagnose(got, [], taken, None, 1 / 60)
    told |= {
        "blur_px": got.width_px, "sd_px": got.sd_px, "across_px": got.across_px,
        "direction_deg": got.direction_deg, "softest_px": got.softest_px, "edges": got.edges,
        "shapes": got.shapes, "verdict": verdict, "p_sharp": p_sharp, "cause": cause_of(got, []),
        "why": words.why, "change": words.change,
    }  # fmt: skip
    return told, (eye.name, eye.width_px, got.width_px, got.sd_px, verdict)


def verdict_of_nothing() -> Any:
    """The verdict where no blur could be measured."""
    from assist.review.checked import Sharpness

    return Sharpness.NOT_SURE


def sound_of_each_scene() -> dict[str, str]:
    """The tour's sounds by their names."""
    renderer = Renderer(_RATE_HZ, 70)
    return {
        stop.name: _hash(b"".join(block.tobytes() for block in play(stop, renderer)))
        for stop in stops(Words())
    }


def all_phrases() -> dict[str, dict[str, Any]]:
    """Every phrase of every language, and how lengths are said."""
    lengths = (0.0, 0.04, 0.06, 0.1, 0.3, 0.5, 0.97, 1.0, 1.4, 1.6, 2.2, 3.5, 7.0, 30.0, math.inf)
    found: dict[str, dict[str, Any]] = {}
    for language in languages():
        catalogue = getattr(translations(language), "_catalog", {})
        found[language] = {str(key): text for key, text in catalogue.items() if key}
        units: Units
        for units in ("metres", "feet"):
            said = Words(language, units)
            found[language][f"(lengths in {units})"] = [
                [said.length(m, 2), said.length_to_go(m), said.spoken_length(m)]
                for m in lengths
                if math.isfinite(m)
            ]
    return found


class CommandLine:
    """The command line, run within this process in one folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._app = load_command_line()

    def __call__(self, *words: object) -> tuple[int, str, str]:
        """Exit code, output and errors of `assist` with these words, masked."""
        out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8") for _ in range(2))
        argv, sys.argv = sys.argv, ["assist", *map(str, words)]
        try:
            with (
                _working_in(self.folder),
                contextlib.redirect_stdout(out),
                contextlib.redirect_stderr(err),
            ):
                code = run_app(self._app)
        finally:
            sys.argv = argv
        return code, self._text(out), self._text(err)

    def _text(self, stream: io.TextIOWrapper) -> str:
        stream.flush()
        content = stream.detach()
        assert isinstance(content, io.BytesIO)
        return masked(content.getvalue().decode("utf-8", "replace"), self.folder)

    def told(self, *words: object) -> str:
        """All of that as text."""
        code, out, err = self(*words)
        line = masked(" ".join(map(str, words)), self.folder)
        parts = [f"$ assist {line}", out.rstrip(), f"! {err.rstrip()}" if err else "", f"= {code}"]
        return "\n".join(part for part in parts if part) + "\n\n"

    def commands(self) -> Iterator[Arguments]:
        """The words that name each command, those of commands within others too."""

        def within(command: Any, path: Arguments) -> Iterator[Arguments]:
            yield path
            for name, inner in getattr(command, "commands", {}).items():
                yield from within(inner, (*path, name))

        return within(command_line(whole=True), ())


# -- values as text -------------------------------------------------------------------------------


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:16]


def plain(value: Any, digits: int | None = 9) -> Any:
    """A value as JSON has it; numbers with so many digits, None for all of them."""
    if isinstance(value, Enum):
        value = value.value
    elif isinstance(value, (np.ndarray, np.generic)):
        value = value.tolist()
    elif isinstance(value, (set, frozenset)):
        value = sorted(value)
    if isinstance(value, dict):
        return {str(plain(k)): plain(v, digits) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(v, digits) for v in value]
    if isinstance(value, float):
        if not math.isfinite(value):
            return str(value)
        return value if digits is None else float(f"{value:.{digits}g}")
    return value


def write_lines(path: Path, lines: Iterable[Any], digits: int | None = 9) -> None:
    """JSON, one value a line."""
    with path.open("w", encoding="utf-8") as file:
        for line in lines:
            kept = json.dumps(plain(line, digits), ensure_ascii=False, sort_keys=True)
            file.write(kept + "\n")


def write_json(path: Path, value: Any) -> None:
    """JSON to be read by people."""
    text = json.dumps(plain(value), ensure_ascii=False, sort_keys=True, indent=1)
    path.write_text(text + "\n", encoding="utf-8")


def read_lines(path: Path) -> list[Any]:
    """What `write_lines` wrote."""
    with path.open(encoding="utf-8") as file:
        return [json.loads(line) for line in file]


_MASKS = (
    (r"data:[\w/+.-]+;base64,[A-Za-z0-9+/=]+", lambda m: f"<data {_hash(m[0].encode())}>"),
    (
        r"\d{4}-\d\d-\d\d([T ]\d\d:\d\d(:\d\d(\.\d+)?)?( ?([+-]\d\d:?\d\d|Z|UTC))?)?",
        lambda m: "<time>",
    ),
    (r"\b\d\d:\d\d(:\d\d)?\b", lambda m: "<clock>"),
    (r"\b\d+\.\d s \(\d+ a second\)", lambda m: "<speed>"),
)  # fmt: skip


def masked(text: str, folder: Path) -> str:
    """The text without what no two records have in common."""
    for path, name in ((folder.resolve(), "<folder>"), (folder, "<folder>"), (ROOT, "<root>")):
        text = text.replace(str(path), name)
    for pattern, mask in _MASKS:
        text = re.sub(pattern, mask, text)
    return text


@contextlib.contextmanager
def _working_in(folder: Path) -> Iterator[None]:
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


# -- recording ------------------------------------------------------------------------------------


@dataclass
class Recording:
    """One record being made.

    poses_from: an earlier record whose poses are used; None to have them found anew.
    """

    folder: Path
    poses_from: Path | None = None

    def poses(self) -> None:
        """The poses of every clip, kept with all digits."""
        for clip in CLIPS:
            name = f"poses_{clip.name}.jsonl"
            if self.poses_from is None:
                write_lines(self.folder / name, detected(clip), None)
            elif self.poses_from.resolve() != self.folder.resolve():
                shutil.copyfile(self.poses_from / name, self.folder / name)

    def _replayed(self, clip: Clip) -> Replayed:
        path = self.folder / f"poses_{clip.name}.jsonl"
        if not path.exists():
            raise SystemExit(f"{path} is not there: record the part poses too, or give --poses")
        return Replayed(read_lines(path))

    def moments(self) -> None:
        """Every moment of every run, with all that is told."""
        for clip in CLIPS:
            seen = self._replayed(clip)
            lines = (line for v in clip.variants() for line in self._run(clip, v, seen))
            write_lines(self.folder / f"moments_{clip.name}.jsonl", lines)

    @staticmethod
    def _run(clip: Clip, variant: Variant, seen: Replayed) -> Iterator[dict[str, Any]]:
        told, attempts = run_over(clip, variant, seen)
        teller = Teller(clip.set_up(variant.values))
        for message in told:
            yield {
                "run": variant.name,
                "time_s": message.moment.frame.time_s,
                "seen": _of_moment(message.moment),
                "told": teller.told(message),
            }
        yield {"run": variant.name, "attempts": attempts}

    def screens(self) -> None:
        """Screens of the walk."""
        clip = CLIPS[0]
        seen = self._replayed(clip)
        lines = []
        for language in languages():
            variant = Variant(language, language, timer=TimerOptions(9.0), by=None)
            told, _ = run_over(clip, variant, seen)
            lines += list(screens_of(clip, told, language))
        write_lines(self.folder / "screens.jsonl", lines)

    def countdown(self) -> None:
        """Whole runs of the command line, and what is made of their files."""
        with tempfile.TemporaryDirectory() as made:
            work = Path(made)
            assist = CommandLine(work)
            lens = ("--lens", "35mm", "--aperture", "f/2", "--focus", "4m", "--no-window",
                    "--through", "taking-lens")  # fmt: skip
            set_up = ("--set-up", SAMPLES / "walk.set-up.toml", "--no-window")
            lines: list[tuple[object, ...]] = [
                ("live", SAMPLES / "walk.mp4", *set_up, "--timer", "5s", "--trigger", "frame",
                 "--session", "first", "--output", "out.mp4"),
                ("live", DATA / "rolls_in.mp4", *lens, "--stature", "1.70m", "--language", "de",
                 "--units", "feet", "--when-ready", "1s", "--limit", "2s", "--burst", "2",
                 "--session", "second", "--forward-only", "--theme", "sun", "--output", "in.mp4",
                 "--screen-size", "720x1280"),
                ("live", DATA / "child_walks_in.mp4", *set_up, "--repeat", "first"),
                ("rehearse", DATA / "child_walks_in.mp4", *lens, "--timer", "5s", "--stature",
                 "1.20m", "--session", "third"),
                ("sessions", "list", "."), ("sessions", "list"), ("sessions", "show", "first"),
                ("sessions", "show", "second"), ("sessions", "show", "third"),
                ("report", "first"), ("report", "second", "--output", "printed"),
                ("review", "first"), ("review", "first", "--json", "--output", "again"),
                ("plan", *lens[:-1], "--stature", "1.70m", "--save", "plan.toml", "--sheet",
                 "plan.html", "--side-view", "side.svg", "--compare-criteria"),
                ("calibrate", "lens", "--lens", "35mm", "--focus", "4m", "--size", "1920x1080",
                 "--out", "lens.toml"),
                ("calibrate", "view", "--horizontal", "70deg", "--size", "1920x1080", "--out",
                 "view.toml"),
                ("sounds", "--output", "tones.wav"),
                ("sounds", "--output", "leise.wav", "--language", "de", "--volume", "40"),
            ]  # fmt: skip
            text = "".join(assist.told(*words) for words in lines)
            (self.folder / "command_lines.txt").write_text(text, encoding="utf-8")
            write_lines(self.folder / "countdown.jsonl", _files_of(work))

    def plans(self) -> None:
        """Plans of a grid of set-ups."""
        with _Prepared() as assist:
            found: dict[str, Any] = {}
            given = plans()
            for n, words in enumerate(given):
                code, out, err = assist("plan", *words, "--json")
                try:
                    value = json.loads(out)
                except ValueError:
                    value = out
                name = f"{n:02d} {' '.join(words)}"
                found[name] = {"code": code, "err": err, "plan": value}
            write_json(self.folder / "plans.json", found)
            told = "".join(assist.told("plan", *given[n]) for n in WORDED)
            (self.folder / "plans.txt").write_text(told, encoding="utf-8")

    def help(self) -> None:
        """The help of every command."""
        with _Prepared() as assist:
            told = "".join(assist.told(*words, "--help") for words in assist.commands())
            (self.folder / "help.txt").write_text(told, encoding="utf-8")

    def errors(self) -> None:
        """What wrong lines are answered with."""
        with _Prepared() as assist:
            told = "".join(assist.told(*words) for words in BAD)
            (self.folder / "errors.txt").write_text(told, encoding="utf-8")

    def review(self) -> None:
        """Verdicts on crops of known blur."""
        rows: list[tuple[Any, ...]] = []
        for name in ("eyes", "causes", "third", "fourth", "fifth"):
            crops = _CROPS() if name == "eyes" else _FURTHER_CROPS(DATA / name)
            lines = []
            for crop in crops:
                line, row = judged_crop(crop)
                lines.append(line)
                rows.append(row)
            write_lines(self.folder / f"review_{name}.jsonl", lines)
        outside, right, unsure, wrong, dangerous = _AGREEMENT(rows)
        summary = {
            "crops": len(rows), "outside 15 %": outside, "right": right, "not sure": unsure,
            "wrong": wrong, "dangerous": dangerous, "interval held": _HELD(rows),
        }  # fmt: skip
        write_lines(self.folder / "review_summary.jsonl", [summary])
        print(f"  {summary}")

    def phrases(self) -> None:
        """All phrases and sounds."""
        write_json(self.folder / "phrases.json", all_phrases())
        write_json(self.folder / "sounds.json", sound_of_each_scene())


FILES: dict[str, Arguments] = {
    "countdown": ("countdown.*", "command_lines.*"),
    "phrases": ("phrases.*", "sounds.*"),
}
"""What a part is kept in, where it is not in files that begin with its name."""

PARTS: dict[str, Callable[[Recording], None]] = {
    "poses": Recording.poses,
    "moments": Recording.moments,
    "screens": Recording.screens,
    "countdown": Recording.countdown,
    "plans": Recording.plans,
    "help": Recording.help,
    "errors": Recording.errors,
    "review": Recording.review,
    "phrases": Recording.phrases,
}


def _files_of(folder: Path) -> Iterator[dict[str, Any]]:
    """The files in a folder: text as it is, pictures and videos by what they show, names alone of
    others (a PDF holds the time at which it was made)."""
    for path in sorted(folder.rglob("*")):
        if not path.is_file():
            continue
        kept: dict[str, Any] = {"file": path.relative_to(folder).as_posix()}
        if path.suffix in (".png", ".jpg"):
            shown = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
            kept["shows"] = [*shown.shape, _hash(shown.tobytes())]
        elif path.suffix == ".mp4":
            kept["shows"] = list(_shown_in(path))
        elif path.suffix == ".wav":
            kept["sounds"] = _hash(path.read_bytes())
        elif path.suffix in (".jsonl", ".json", ".toml", ".csv", ".html", ".svg", ".txt"):
            text = masked(path.read_text(encoding="utf-8"), folder)
            kept["lines"] = text.splitlines()
        yield kept


def _shown_in(video: Path) -> Iterator[str]:
    capture = cv2.VideoCapture(str(video))
    n = 0
    while True:
        there, picture = capture.read()
        if not there:
            break
        if n % _EVERY == 0:
            yield _hash(picture.tobytes())
        n += 1
    yield f"{n} pictures"


@contextlib.contextmanager
def _Prepared() -> Iterator[CommandLine]:  # noqa: N802  (used as a class would be)
    """The command line in a folder that holds the files which the cases name."""
    lens = "[lens]\nfocal_length_mm = 35\nf_number = {}\nfocus_distance_m = 4\n"
    with tempfile.TemporaryDirectory() as made:
        work = Path(made)
        (work / "broken.mp4").write_bytes(b"\x00not a video")
        (work / "good.toml").write_text(lens.format(2))
        (work / "bad.toml").write_text(lens.format(0))
        (work / "odd.toml").write_text(lens.format(2) + 'colour = "red"\n')
        (work / "newer.toml").write_text("version = 2\nof_tomorrow = true\n")
        (work / "flat.toml").write_text("lens = 35\n")
        (work / "empty").mkdir()
        ramp = np.tile(np.linspace(60, 200, 320, dtype=np.uint8)[None, :, None], (180, 1, 3))
        cv2.imwrite(str(work / "room.jpg"), ramp)
        video = cv2.VideoWriter(
            str(work / "room.mp4"), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (320, 180)
        )
        for _ in range(30):
            video.write(ramp)
        video.release()
        yield CommandLine(work)


def record(recording: Recording, parts: Iterable[str]) -> None:
    """Record these parts, and how long each takes."""
    recording.folder.mkdir(parents=True, exist_ok=True)
    path = recording.folder / TIMINGS
    took: dict[str, float] = json.loads(path.read_text()) if path.exists() else {}
    for part in parts:
        began_s = time.perf_counter()
        PARTS[part](recording)
        took[part] = round(time.perf_counter() - began_s, 1)
        print(f"{part}: {took[part]:.1f} s", flush=True)
    write_json(path, took)


_ENVIRONMENT = {
    "COLUMNS": "100",
    "LINES": "40",
    "LC_ALL": "C.UTF-8",
    "NO_COLOR": "1",
    "TERM": "dumb",
    "TZ": "UTC",
    "OPENBLAS_NUM_THREADS": "1",
    "OPENCV_LOG_LEVEL": "OFF",
    "OPENCV_FFMPEG_LOGLEVEL": "-8",
    "PYTHONHASHSEED": "0",
}
_INSIDE = "SAME_AS_BEFORE_INSIDE"
"""Set in the process that records, whose environment is always the same."""


def in_a_fixed_environment(arguments: list[str]) -> int:
    """Run this module again with an empty home folder and without what a user has set."""
    with tempfile.TemporaryDirectory() as home:
        homes = dict.fromkeys(("HOME", "XDG_CONFIG_HOME", "APPDATA", "LOCALAPPDATA"), home)
        environment = {**os.environ, **homes, **_ENVIRONMENT, _INSIDE: "1"}
        for name in ("LANG", "LC_MESSAGES", "DISPLAY", "WAYLAND_DISPLAY", "FORCE_COLOR"):
            environment.pop(name, None)
        words = [sys.executable, "-m", "tests.benchmarks.same_as_before", *arguments]
        return subprocess.run(words, env=environment, check=False).returncode


# -- comparing ------------------------------------------------------------------------------------

Difference = tuple[str, str, str]
"""Where, what it was, what it is."""
_ABSENT = "(not there)"


def _short(value: Any) -> str:
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= _SIDE else f"{text[: _SIDE - 4]} ..."


def differences(old: Any, new: Any, where: str = "") -> Iterator[Difference]:
    """Where two values of JSON differ, by the dotted path of their keys."""
    if isinstance(old, dict) and isinstance(new, dict):
        for key in sorted(old.keys() | new.keys()):
            path = f"{where}.{key}" if where else key
            yield from differences(old.get(key, _ABSENT), new.get(key, _ABSENT), path)
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for n, (one, other) in enumerate(zip(old, new, strict=True)):
            yield from differences(one, other, f"{where}[{n}]")
    elif isinstance(old, list) and isinstance(new, list) and _are_text(old) and _are_text(new):
        for at, one, other in _of_text(old, new):
            yield f"{where}[{at}]", one, other
    elif type(old) is not type(new) or old != new:
        yield where, _short(old), _short(new)


def _are_text(values: list[Any]) -> bool:
    return all(isinstance(value, str) for value in values)


def _of_text(old: list[str], new: list[str]) -> Iterator[Difference]:
    matched = difflib.SequenceMatcher(None, old, new, autojunk=False)
    for kind, i1, i2, j1, j2 in matched.get_opcodes():
        if kind == "equal":
            continue
        for n in range(max(i2 - i1, j2 - j1)):
            one = _short(old[i1 + n]) if i1 + n < i2 else _ABSENT
            other = _short(new[j1 + n]) if j1 + n < j2 else _ABSENT
            yield f"line {min(i1 + n, i2) + 1}", one, other


def _name_of(line: Any) -> str:
    """What a line of a record is about."""
    if not isinstance(line, dict):
        return ""
    keys = ("run", "time_s", "crop", "file", "language", "theme", "size_px", "picture")
    return " ".join(str(line[key]) for key in keys if key in line)


def of_files(old: Path, new: Path) -> Iterator[Difference]:
    """Where two files of a record differ."""
    if not old.exists() or not new.exists():
        was, is_now = ("there" if path.exists() else _ABSENT for path in (old, new))
        yield "", was, is_now
    elif old.read_bytes() == new.read_bytes():
        return
    elif old.suffix == ".jsonl":
        one, other = read_lines(old), read_lines(new)
        if len(one) != len(other):
            yield "", f"{len(one)} lines", f"{len(other)} lines"
        kept = {_name_of(line): line for line in one} if len(one) != len(other) else {}
        for n, line in enumerate(other):
            before = kept.get(_name_of(line), _ABSENT) if kept else one[n]
            for where, was, is_now in differences(before, line):
                yield f"{where} @ {_name_of(line) or n}", was, is_now
    elif old.suffix == ".json":
        texts = (path.read_text(encoding="utf-8") for path in (old, new))
        yield from differences(*map(json.loads, texts))
    else:
        texts = (path.read_text(encoding="utf-8") for path in (old, new))
        yield from _of_text(*(text.splitlines() for text in texts))


def _files_of_parts(old: Path, new: Path, parts: Iterable[str]) -> list[str]:
    patterns = [pattern for part in parts for pattern in FILES.get(part, (f"{part}[._]*",))]
    names = {path.name for folder in (old, new) for path in folder.iterdir()} - {TIMINGS}
    return sorted(n for n in names if any(fnmatch.fnmatchcase(n, p) for p in patterns))


def compare(
    old: Path, new: Path, excepted: Iterable[str] = (), parts: Iterable[str] = PARTS
) -> int:
    """Print what differs in these parts, some of each file; the number of all differences."""
    patterns = list(excepted)
    names = _files_of_parts(old, new, parts)
    total = left_out = 0
    for name in names:
        found = []
        for difference in of_files(old / name, new / name):
            field_of = difference[0].split(" @ ")[0]
            if any(fnmatch.fnmatchcase(f"{name}:{field_of}", p if ":" in p else f"{p}:*")
                   for p in patterns):  # fmt: skip
                left_out += 1
            else:
                found.append(difference)
        total += len(found)
        if found:
            _print(name, found)
    for folder in (old, new):
        if (folder / TIMINGS).exists():
            took = json.loads((folder / TIMINGS).read_text())
            print(f"seconds, {folder}: " + ", ".join(f"{k} {v:g}" for k, v in took.items()))
    expected = f" ({left_out} more excepted)" if left_out else ""
    print(f"{len(names)} files compared: {total or 'no'} differences{expected}")
    return total


def _print(name: str, found: list[Difference]) -> None:
    print(f"== {name}: {len(found)} differences")
    for where, was, is_now in found[:_SHOWN]:
        print(f"  {where}\n    - {was}\n    + {is_now}")
    if len(found) > _SHOWN:
        fields = Counter(re.sub(r"\d+", "#", where.split(" @ ")[0]) for where, _, _ in found)
        most = ", ".join(f"{field_of} {n}" for field_of, n in fields.most_common(_SHOWN))
        print(f"  ... and {len(found) - _SHOWN} more; of all by field: {most}")


# -- command line ---------------------------------------------------------------------------------


def main() -> int:
    """Record or compare; the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    commands = parser.add_subparsers(dest="command", required=True)
    recorder = commands.add_parser("record", help="record what the program does now")
    recorder.add_argument("folder", type=Path)
    recorder.add_argument("--poses", type=Path, help="an earlier record whose poses are used")
    comparer = commands.add_parser("compare", help="print how two records differ")
    comparer.add_argument("old", type=Path)
    comparer.add_argument("new", type=Path)
    comparer.add_argument(
        "--except", dest="excepted", action="append", default=[], metavar="PATTERN",
        help='what was meant to change: "FILE" or "FILE:FIELD", with * and ?',
    )  # fmt: skip
    for command in (recorder, comparer):
        command.add_argument("--only", default=",".join(PARTS), help="parts, with commas between")
    options = parser.parse_args()
    parts = options.only.split(",")
    if unknown := [part for part in parts if part not in PARTS]:
        parser.error(f"no part {unknown[0]!r}: use {', '.join(PARTS)}")
    if options.command == "compare":
        for folder in (options.old, options.new):
            if not folder.is_dir():
                parser.error(f"{folder} is no record")
        return 1 if compare(options.old, options.new, options.excepted, parts) else 0
    if _INSIDE not in os.environ:
        return in_a_fixed_environment(sys.argv[1:])
    # The order counts: moments are made of poses.
    record(Recording(options.folder, options.poses), [part for part in PARTS if part in parts])
    return 0


if __name__ == "__main__":
    sys.exit(main())
