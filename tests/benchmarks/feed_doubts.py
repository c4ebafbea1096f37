"""What cannot be believed, done to the shipped clip: `python -m tests.benchmarks.feed_doubts`.

Squeezed and spread pictures, statures that are not the person's, and a camera that stops while a
clock runs on. Told for each: sure words - hold, stop, framing, or the verdict "in focus" - while
the doubt should stand, how long after the person's face could first be seen (or after the picture
stopped) the reason was told, and the same of the clip as it is, where none must be. Kept as
results/feed_doubts.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.feed import Frame, Silence
from assist.guidance.assistant import Assistant, Moment
from assist.guidance.doubts import TO_BE_MENDED
from assist.guidance.verdict import Verdict
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo
from assist.setup.set_up import SetUp, from_values, load
from tests.benchmarks.camera_signs import RATE_HZ, SURE, clip_pictures
from tests.benchmarks.tables import keep, table

STANDS = 205
"""From this picture on the clip's person stands in the zone."""
STOPS = 260


@dataclass(frozen=True)
class Case:
    """One thing done to the clip.

    see: what becomes of a picture.   stature_m: as stated.   doubtful: whether it must not be
    believed.   stops: whether the picture stops, with something running on in it.
    """

    see: Callable[[ColourImage, int], ColourImage] = lambda picture, _: picture
    stature_m: float | None = 1.70
    doubtful: bool = True
    stops: bool = False


def _scaled(across: float, down: float) -> Callable[[ColourImage, int], ColourImage]:
    def see(picture: ColourImage, _index: int) -> ColourImage:
        size = (round(picture.shape[1] * across), round(picture.shape[0] * down))
        return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)

    return see


def _clock(picture: ColourImage, index: int) -> ColourImage:
    text = f"{index // 25:02d}:{index % 25:02d}"
    return np.asarray(cv2.putText(picture.copy(), text, (40, 70), 0, 2.0, (255, 255, 255), 3))


def _dot(picture: ColourImage, index: int) -> ColourImage:
    colour = (0, 0, 255) if index // 12 % 2 else (40, 40, 40)
    return np.asarray(cv2.circle(picture.copy(), (1200, 60), 18, colour, -1))


def _compressed(picture: ColourImage, index: int) -> ColourImage:
    quality = int(np.random.default_rng(index).integers(40, 95))
    code = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return np.asarray(cv2.imdecode(code, cv2.IMREAD_COLOR), np.uint8)


def _noise(sd: float, light: float = 1.0) -> Callable[[ColourImage, int], ColourImage]:
    def see(picture: ColourImage, index: int) -> ColourImage:
        noise = np.random.default_rng(index).normal(0, sd, picture.shape)
        return np.clip(picture * light + noise, 0, 255).astype(np.uint8)

    return see


CASES: dict[str, Case] = {
    "the clip as it is": Case(doubtful=False),
    "with noise": Case(_noise(3), doubtful=False),
    "in low light": Case(_noise(2, 0.25), doubtful=False),
    "compressed": Case(_compressed, doubtful=False),
    "16:9 sent as 4:3 (960x720)": Case(_scaled(0.75, 1)),
    "16:9 sent as 640x480": Case(_scaled(0.5, 2 / 3)),
    "4:3 sent as 16:9 (1280x540)": Case(_scaled(1, 0.75)),
    "television's 0.89": Case(_scaled(0.89, 1)),
    "stature 1.20 m stated": Case(stature_m=1.20),
    "stature 1.35 m stated": Case(stature_m=1.35),
    "stature 1.45 m stated": Case(stature_m=1.45),
    "stature 1.95 m stated": Case(stature_m=1.95),
    "stature 2.10 m stated": Case(stature_m=2.10),
    "stature 1.66 m stated": Case(stature_m=1.66, doubtful=False),
    "stature 1.74 m stated": Case(stature_m=1.74, doubtful=False),
    "stopped, all equal": Case(stops=True),
    "stopped, a clock": Case(_clock, stops=True),
    "stopped, a dot": Case(_dot, stops=True),
    "stopped, compressed anew": Case(_compressed, stops=True),
    "stopped, clock, dot, compressed": Case(
        lambda p, k: _compressed(_dot(_clock(p, k), k), k), stops=True
    ),
}


def moments_of(case: Case, of_clip: SetUp) -> list[Moment]:
    """What the assistant makes of the clip as the case has it."""
    values = of_clip.model_dump(exclude_unset=True)
    set_up = from_values({**values, "person": {"stature_m": case.stature_m}})
    moments, stopped = [], None
    with MediaPipePoseDetector() as detector:
        assistant = Assistant(set_up, detector, live=True)
        for index, clip_picture in clip_pictures(1):
            picture = clip_picture
            if case.stops and index >= STOPS:
                stopped = picture if stopped is None else stopped
                picture = stopped
            frame = Frame(case.see(picture, index), index / RATE_HZ, index)
            moments.append(assistant.see(frame).without_picture())
    return moments


def row(name: str, case: Case, of_clip: SetUp) -> list[str]:
    """The cells of one case."""
    moments = moments_of(case, of_clip)
    sure = np.array(
        [m.guidance.action in SURE or m.assessment.verdict is Verdict.IN_FOCUS for m in moments]
    )
    doubted = np.array(
        [
            m.guidance.why.reason in TO_BE_MENDED or m.guidance.silence is Silence.FROZEN
            for m in moments
        ]
    )
    begins = STOPS if case.stops else _face_seen(moments)
    first = int(np.argmax(doubted[begins:])) if doubted[begins:].any() else None
    until = len(moments) if first is None else begins + first
    before = int(sure[(0 if not case.stops else STOPS) : until].sum())
    return [
        name,
        "yes" if case.doubtful else "no",
        "never" if first is None else f"{first / RATE_HZ:.2f} s",
        str(before) if case.doubtful else "",
        str(int(sure[until:].sum())) if case.doubtful else "",
        f"{int(doubted.sum())} of {len(moments)}",
        f"{int(sure[STANDS:].sum())} of {len(moments) - STANDS}",
    ]


def _face_seen(moments: list[Moment]) -> int:
    return next((k for k, m in enumerate(moments) if m.pose and m.pose.face), 0)


def main() -> None:
    """Measure, print, keep."""
    of_clip = load(demo.sample_folder() / demo.SET_UP)
    rows = [row(name, case, of_clip) for name, case in CASES.items()]
    keep(
        "feed_doubts",
        "# What cannot be believed\n\nThe shipped clip as a camera's feed.\n\n"
        + table(
            ["done to the clip", "to be doubted", "told after", "sure words before", "after",
             "pictures doubted", "sure words while standing in the zone"], rows,
        ),
    )  # fmt: skip


if __name__ == "__main__":
    main()
