"""Are the guidance words right? The live run on the shipped clip and on further rendered walks.

    python -m tests.benchmarks.guidance_words --data FOLDER

FOLDER holds what `python -m samples.rendering.walks` makes. Each walk is run as `assist live` runs
it, with the set-up that its camera file describes and the person's stature (limbs that are not
there are not stated), and with a self-timer that fires a second before the end. Every word shown is
judged against the truth.

The right word follows from the true distance z of the eyes from the lens and from their true speed
v away from it. Who stands (|v| up to 0.3 m/s) is right to be told to hold within the zone, to come
forward behind it, to go back before it. Who walks is told by where they will come to rest, z + 0.7
s times v: to stop when that lies in the zone, or when they are about to walk out of the zone; else
forward or back. "Stop" and "hold" both mean: stay.

Not judged, because no word could be called wrong: pictures within 0.25 s of a change of the right
word; pictures in which the right word would be another were the zone's edges 3 % nearer or farther;
pictures with less than 40 % of the body in view. "Not sure" and "no one" are counted apart: they
help nobody, but they are not wrong.
"""

from __future__ import annotations

import argparse
import csv
import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from assist.feed.video_file import VideoFileSource
from assist.guidance.assistant import Moment
from assist.guidance.countdown import TimerOptions
from assist.guidance.debounce import CONTRADICTION_S, contradict
from assist.guidance.guide import LEAD_S, WALKING_M_S, Action
from assist.guidance.verdict import Verdict
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo
from assist.run.live import LiveOptions, LiveRun
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import SetUp, from_values
from tests.benchmarks.tables import keep, machine, table

WALKS = (
    "stops_too_far",
    "overshoots",
    "stops_short",
    "stands_aside",
    "rolls_in",
    "child_walks_in",
    "arm_ends_early",
    "rolls_in_leg_ends_early",
)
WITH_ORDERS = ("arm_ends_early",)
"""Walks in which arms are raised to give orders; here nothing obeys them."""
EDGE = 0.03
CHANGE_S = 0.25
LEAST_VISIBLE = 0.4
_SPEED_OVER_S = 0.3
_DOUBT = (Action.NOT_SURE, Action.NO_ONE, Action.NO_FEED)


@dataclass(frozen=True)
class Known:
    """The truth of one walk, a value a picture."""

    time_s: np.ndarray
    eyes_m: np.ndarray
    across_m: np.ndarray
    visible: np.ndarray
    phase: list[str]

    @property
    def speed_m_s(self) -> np.ndarray:
        """Speed away from the camera, over a step's part and not its jerks."""
        half = _SPEED_OVER_S / 2
        ahead = np.interp(self.time_s + half, self.time_s, self.eyes_m)
        before = np.interp(self.time_s - half, self.time_s, self.eyes_m)
        span = np.minimum(self.time_s + half, self.time_s[-1]) - np.maximum(self.time_s - half, 0)
        return (ahead - before) / span


def read_truth(path: Path) -> Known:
    """The truth table that the renderer writes."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    column = {k: np.array([float(r[k]) for r in rows]) for k in rows[0] if k != "phase"}
    return Known(
        column["time_s"],
        column["eye_mid_z_m"],
        column["eye_mid_x_m"],
        column["visible_fraction"],
        [row["phase"] for row in rows],
    )


def set_up_of(camera: dict[str, object]) -> SetUp:
    """The set-up of a rendered camera, seen through its own lens; the stature known to 1 cm."""
    person = camera["person"]
    assert isinstance(person, dict)
    made = from_values(
        {
            "lens": {
                "focal_length_mm": camera["focal_length_mm"],
                "f_number": camera["f_number"],
                "focus_distance_m": camera["focus_distance_from_sensor_m"],
            },
            "person": {"stature_m": round(float(person["stature_barefoot_m"]), 2)},
        }
    )
    width, height = camera["image_width_px"], camera["image_height_px"]
    assert isinstance(width, int) and isinstance(height, int)
    fx = FeedGeometry.of(made).camera(width, height).fx_px
    assert abs(fx / float(str(camera["fx_px"])) - 1) < 1e-4, "the camera file is of another camera"
    return made


def right_word(z: float, speed: float, near: float, far: float) -> Action:
    """What a watcher who knows the truth would say."""
    if abs(speed) <= WALKING_M_S:
        return Action.BACK if z < near else Action.FORWARD if z > far else Action.HOLD
    rest = z + LEAD_S * speed
    if near <= rest <= far:
        return Action.STOP
    if rest > far:
        return Action.STOP if speed > 0 and z < far else Action.FORWARD
    return Action.STOP if speed < 0 and z > near else Action.BACK


def sense(word: Action) -> str:
    """What a word asks of the person."""
    return "stay" if word in (Action.HOLD, Action.STOP, Action.REFRAME) else word.value


def judged(known: Known, near: float, far: float) -> tuple[list[str], np.ndarray]:
    """The right word's sense for each picture, and which pictures are judged."""
    speed = known.speed_m_s
    scales = (1.0, 1 - EDGE, 1 + EDGE)
    words = [
        [
            sense(right_word(z, v, near * a, far * b))
            for a, b in ((s, t) for s in scales for t in scales)
        ]
        for z, v in zip(known.eyes_m, speed, strict=True)
    ]
    right = [row[0] for row in words]
    clear = np.array([len(set(row)) == 1 for row in words])
    for k, now in enumerate(known.time_s):
        around = np.abs(known.time_s - now) <= CHANGE_S + 1e-9
        clear[k] &= all(right[i] == right[k] for i in np.flatnonzero(around))
    return right, clear & (known.visible >= LEAST_VISIBLE)


def contradictions(moments: Sequence[Moment]) -> int:
    """How often a word was followed by its contrary within a second."""
    count, last, last_s = 0, Action.NO_ONE, -np.inf
    for moment in moments:
        word = moment.guidance.action
        if word in _DOUBT:
            continue
        if moment.frame.time_s - last_s < CONTRADICTION_S and contradict(last, word):
            count += 1
        last, last_s = word, moment.frame.time_s
    return count


def to_rest_s(known: Known, moments: Sequence[Moment], near: float, far: float) -> float | None:
    """From entering the zone for the last time to the first "stop" or "hold"; negative is ahead."""
    inside = (known.eyes_m >= near) & (known.eyes_m <= far)
    if not inside[-1]:
        return None
    last_out = np.flatnonzero(~inside)
    entered_s = known.time_s[last_out[-1] + 1] if last_out.size else known.time_s[0]
    told = [m for m in moments if sense(m.guidance.action) == "stay"]
    first = [m.frame.time_s for m in told if m.frame.time_s >= entered_s - LEAD_S - CHANGE_S]
    return first[0] - entered_s if first else np.inf


@dataclass(frozen=True)
class Judged:
    """One walk, judged."""

    name: str
    row: list[str]
    wrong: list[str]
    counts: Counter[str]


def shown(moments: Sequence[Moment], pictures: int) -> list[Moment | None]:
    """The moment whose word stood at each picture: at rest not every picture is looked at."""
    by_index = {moment.frame.index: moment for moment in moments}
    told: list[Moment | None] = []
    for index in range(pictures):
        told.append(by_index.get(index, told[-1] if told else None))
    return told


def judge(name: str, clip: Path, known: Known, set_up: SetUp, **options: object) -> Judged:
    """Run the assistant over one walk and judge its words."""
    moments: list[Moment] = []
    live = LiveOptions(
        window=False,
        timer=TimerOptions(float(known.time_s[-1]) - 1.0),
        orders_by=None,
        **options,  # type: ignore[arg-type]
    )
    with MediaPipePoseDetector() as detector:
        source = VideoFileSource(clip)
        outcome = LiveRun(
            set_up, source, detector, live, on_moment=lambda m: moments.append(m.without_picture())
        ).run()
    zone = set_up.focus_zone
    near, far = float(zone.near_m), float(zone.far_m)
    right, clear = judged(known, near, far)
    counts: Counter[str] = Counter()
    wrong = []
    for k, moment in enumerate(shown(moments, len(known.time_s))):
        if moment is None:
            continue
        word, z = moment.guidance.action, known.eyes_m[k]
        if word in (Action.HOLD, Action.REFRAME) and not near <= z <= far:
            counts["in focus, was not"] += 1
        if not clear[k]:
            continue
        counts["judged"] += 1
        if word in _DOUBT:
            counts[word.value] += 1
        elif sense(word) == right[k]:
            counts["right"] += 1
        else:
            counts["wrong"] += 1
            wrong.append(
                f"{name}, {known.time_s[k]:.2f} s ({known.phase[k]}): {word.value}, right: "
                f"{right[k]} (eyes at {z:.2f} m, {known.speed_m_s[k]:+.2f} m/s)"
            )
    counts["contradictions"] = contradictions(moments)
    rest_s = to_rest_s(known, moments, near, far)
    at_zero = outcome.attempts[0] if outcome.attempts else None
    zero = "no zero"
    if at_zero is not None:
        z = float(np.interp(at_zero.feed_time_s, known.time_s, known.eyes_m))
        truly = "in focus" if near <= z <= far else "too near" if z < near else "too far"
        zero = f"{at_zero.verdict} ({at_zero.p_in_focus:.0%}); truly {truly}"
        counts["zero right"] = at_zero.verdict == truly
        counts["zero wrong"] = at_zero.verdict not in (
            truly,
            Verdict.NOT_SURE.value,
            Verdict.NO_ONE.value,
        )
    told = counts["right"] + counts["wrong"]
    row = [
        name,
        str(counts["judged"]),
        f"{counts['right']} of {told}" + (f" ({counts['right'] / told:.0%})" if told else ""),
        str(counts["not_sure"]),
        str(counts["no_one"]),
        str(counts["contradictions"]),
        str(counts["in focus, was not"]),
        "never there" if rest_s is None else "never" if np.isinf(rest_s) else f"{rest_s:+.2f} s",
        zero,
        _posture(moments),
    ]
    return Judged(name, row, wrong, counts)


def _posture(moments: Sequence[Moment]) -> str:
    """The postures told in the run's pictures."""
    said = Counter(m.person.posture.value for m in moments if m.pose is not None)
    return ", ".join(f"{posture} {n / said.total():.0%}" for posture, n in said.most_common())


def main() -> None:
    """Judge, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", type=Path, help="folder with the further walks")
    parser.add_argument(
        "--rest",
        action="store_true",
        help="let the pose network rest, as it does on a camera; prints, keeps nothing",
    )
    options = parser.parse_args()
    samples = demo.sample_folder()
    places = [("walk", samples)]
    if options.data is not None:
        places += [(name, options.data) for name in WALKS]
    done, missing = [], []
    for name, folder in places:
        truth, camera = folder / f"{name}.truth.csv", folder / f"{name}.camera.json"
        if not (truth.exists() and camera.exists()):
            missing.append(name)
            continue
        set_up = set_up_of(json.loads(camera.read_text(encoding="utf-8")))
        clip = folder / f"{name}.mp4"
        done.append(
            judge(
                "shipped clip" if name == "walk" else name,
                clip,
                read_truth(truth),
                set_up,
                rest="every" if options.rest else "never",
            )
        )
    header = ["walk", "pictures judged", "words right of those told", "not sure", "no one",
              "contrary words within 1 s", "said in focus outside the zone",
              "from in the zone to told", "at zero", "posture seen"]  # fmt: skip
    total: Counter[str] = Counter()
    for one in done:
        total += one.counts
    told = total["right"] + total["wrong"]
    text = (
        f"# Guidance words on rendered walks ({machine()})\n\n"
        "What is judged, and how: `tests/benchmarks/guidance_words.py`.\n\n"
        + table(header, [one.row for one in done])
        + f"\nTogether: {total['right']} of {told} words right ({total['right'] / told:.1%}), "
        f"{total['not_sure']} of {total['judged']} pictures not sure, {total['contradictions']} "
        f'contrary words within a second, {total["in focus, was not"]} times "in focus" outside '
        f"the zone; at zero {total['zero right']} right, {total['zero wrong']} wrong of "
        f"{len(done)}.\n"
    )
    wrong = [line for one in done for line in one.wrong]
    if wrong:
        text += "\nEvery wrong word:\n\n" + "".join(f"- {line}\n" for line in wrong)
    if missing:
        text += f"\nNot there, so not judged: {', '.join(missing)}.\n"
    if options.rest:
        print(text)
    else:
        keep("guidance_words", text)


if __name__ == "__main__":
    main()
