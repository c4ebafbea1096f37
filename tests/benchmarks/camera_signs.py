"""Feeds framed by bars with a camera's signs in them, composed from the shipped clip.

`python -m tests.benchmarks.camera_signs --scenes FOLDER_OR_VIDEO ...` runs the assistant on each
variant, with the person standing in the focus zone, and counts sure words while the bars are in
the picture that is measured in; and it looks for bars in scenes that have none: the clip itself,
the photographs that scikit-image carries, and what is named, each also cut out in other places and
shapes. Kept as results/camera_signs.md.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.feed import Frame, Unfit
from assist.feed.bars_watch import BarsWatch
from assist.feed.signed_bars import Framed, find_framed, small
from assist.guidance.assistant import Assistant, Moment
from assist.guidance.guide import Action, Unmeasured
from assist.guidance.verdict import Verdict
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo, true_distances
from assist.setup.set_up import SetUp, from_values, load
from tests.benchmarks.tables import keep, table

RATE_HZ = 25.0
FIRST, LAST, EVERY = 205, 330, 2
"""Pictures of the clip in which the person stands in the zone, and which of them are shown."""
SURE = (Action.HOLD, Action.STOP, Action.REFRAME)


@dataclass(frozen=True)
class Variant:
    """One way in which a feed frames its picture.

    shape: of the picture, width over height.   feed: size of the feed.   place: where the picture
    lies in what is left over, 0.5 for the middle.   scale: of the picture, 1 for as large as fits.
    colour: of the bars; "blurred" for a blurred copy of the picture.
    signs: in each bar.   size: of a sign, as a share of the bar's width.   sides: which bars have
    signs.   blink: whether some come and go.   text: whether signs are figures and letters.
    after: what the whole feed has gone through.
    """

    shape: float
    feed: tuple[int, int] = (1280, 720)
    place: float = 0.5
    scale: float = 1.0
    colour: tuple[int, int, int] | str = (0, 0, 0)
    signs: int = 7
    size: float = 0.5
    sides: tuple[int, ...] = (0, 1)
    blink: bool = False
    text: bool = False
    after: str = ""

    @property
    def box_px(self) -> tuple[int, int, int, int]:
        """Left, top, width and height of the picture."""
        feed_w, feed_h = self.feed
        width = min(feed_w, round(feed_h * self.shape)) * self.scale
        height = width / self.shape
        width, height = round(width), round(height)
        left, top = (round((feed_w - width) * self.place), round((feed_h - height) * self.place))
        return left, top, width, height

    def frame(self, picture: ColourImage, index: int) -> ColourImage:
        """The feed's picture around one of the camera's."""
        left, top, width, height = self.box_px
        inner = _cut(picture, width, height)
        feed_w, feed_h = self.feed
        if isinstance(self.colour, str):
            feed = cv2.GaussianBlur(cv2.resize(inner, (feed_w, feed_h)), (0, 0), feed_h / 30)
        else:
            feed = np.full((feed_h, feed_w, 3), self.colour, np.uint8)
        for side, bar in enumerate(self._bars()):
            if side in self.sides and bar[2] > 8 and bar[3] > 8:
                self._sign(feed, bar, side, index)
        feed[top : top + height, left : left + width] = inner
        return _gone_through(feed, self.after, index)

    def _bars(self) -> list[tuple[int, int, int, int]]:
        left, top, width, height = self.box_px
        feed_w, feed_h = self.feed
        if left or left + width < feed_w:
            return [(0, 0, left, feed_h), (left + width, 0, feed_w - left - width, feed_h)]
        return [(0, 0, feed_w, top), (0, top + height, feed_w, feed_h - top - height)]

    def _sign(
        self, feed: ColourImage, bar: tuple[int, int, int, int], side: int, index: int
    ) -> None:
        x, y, w, h = bar
        upright = h >= w
        across, along = (w, h) if upright else (h, w)
        size = max(round(self.size * across), 6)
        luma = float(np.mean(self.colour)) if not isinstance(self.colour, str) else 90.0
        ink = (235, 235, 235) if luma < 140 else (20, 20, 20)
        for k in range(self.signs):
            if self.blink and k % 2 == 0 and (index // 12) % 2:
                continue
            middle = round((k + 0.5) * along / self.signs)
            a, b = middle - size // 2, (across - size) // 2
            px, py = (x + b, y + a) if upright else (x + a, y + b)
            if self.text:
                words = ("ISO 400", "1/60", "F2.8", "AF-S", "[120]", "RAW+J", "AWB", "REC 01:23")
                text = f"{index // 25:02d}s" if self.blink and k == 0 else words[(k + side) % 8]
                scale = size / 90
                cv2.putText(feed, text, (x + 4, py + size // 2), cv2.FONT_HERSHEY_SIMPLEX,
                            scale, ink, max(round(2 * scale), 1), cv2.LINE_AA)  # fmt: skip
            elif k % 3 == 0:
                cv2.rectangle(feed, (px, py), (px + size, py + size), ink, -1)
            elif k % 3 == 1:
                cv2.circle(feed, (px + size // 2, py + size // 2), size // 2, (60, 180, 240), -1)
            else:
                cv2.rectangle(feed, (px, py), (px + size, py + size), ink, max(size // 8, 2))


def _cut(picture: ColourImage, width: int, height: int) -> ColourImage:
    """The middle of a picture in that shape and size."""
    h, w = picture.shape[:2]
    across, down = min(w, round(h * width / height)), min(h, round(w * height / width))
    x, y = (w - across) // 2, (h - down) // 2
    part = picture[y : y + down, x : x + across]
    return np.asarray(cv2.resize(part, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def _gone_through(feed: ColourImage, after: str, index: int) -> ColourImage:
    if after.startswith("jpeg"):
        code = cv2.imencode(".jpg", feed, [cv2.IMWRITE_JPEG_QUALITY, int(after[4:])])[1]
        return np.asarray(cv2.imdecode(code, cv2.IMREAD_COLOR), np.uint8)
    if after.startswith("blur"):
        return np.asarray(cv2.GaussianBlur(feed, (0, 0), float(after[4:])), np.uint8)
    if after.startswith("noise"):
        noise = np.random.default_rng(index).normal(0, float(after[5:]), feed.shape)
        return np.clip(feed + noise, 0, 255).astype(np.uint8)
    if after == "dark":
        return np.asarray(feed // 3, np.uint8)
    return feed


_GREY, _WHITE, _BLUE = (70, 70, 70), (235, 235, 235), (150, 60, 20)

VARIANTS: dict[str, Variant] = {
    **{f"3:2, {n} signs a bar": Variant(1.5, signs=n) for n in (5, 6, 7, 8, 10)},
    **{f"3:2, {n} large signs a bar": Variant(1.5, signs=n, size=0.8) for n in (5, 6, 8)},
    "3:2, signs on the left only": Variant(1.5, sides=(0,)),
    "3:2, signs on the right only": Variant(1.5, sides=(1,), size=0.7),
    "3:2, blinking": Variant(1.5, blink=True),
    "3:2, text": Variant(1.5, text=True, size=0.8, signs=8),
    "3:2, text and a clock": Variant(1.5, text=True, blink=True, size=0.8, signs=10),
    "3:2, dark grey": Variant(1.5, colour=(40, 40, 40)),
    "3:2, grey": Variant(1.5, colour=_GREY),
    "3:2, light grey": Variant(1.5, colour=(170, 170, 170)),
    "3:2, white": Variant(1.5, colour=_WHITE),
    "3:2, blue": Variant(1.5, colour=_BLUE),
    "3:2, grey without signs": Variant(1.5, colour=_GREY, signs=0),
    "3:2, white without signs": Variant(1.5, colour=_WHITE, signs=0),
    "3:2, blue without signs": Variant(1.5, colour=_BLUE, signs=0),
    "3:2, blurred copy": Variant(1.5, colour="blurred", signs=0),
    "3:2, blurred copy with signs": Variant(1.5, colour="blurred"),
    "2:3, blurred copy": Variant(2 / 3, colour="blurred", signs=0),
    "9:16, blurred copy": Variant(9 / 16, colour="blurred", signs=0),
    "3:2, all a little blurred": Variant(1.5, after="blur1.5"),
    "3:2, grey, all blurred": Variant(1.5, colour=_GREY, after="blur2"),
    "3:2, JPEG 80": Variant(1.5, after="jpeg80"),
    "3:2, JPEG 40": Variant(1.5, after="jpeg40"),
    "3:2, grey, JPEG 60": Variant(1.5, colour=_GREY, after="jpeg60"),
    "3:2, blue, JPEG 40": Variant(1.5, colour=_BLUE, after="jpeg40"),
    "3:2, text, JPEG 30": Variant(1.5, text=True, size=0.8, after="jpeg30"),
    "3:2, noise": Variant(1.5, after="noise3"),
    "3:2, dark": Variant(1.5, after="dark"),
    "3:2, at the left, panel at the right": Variant(1.5, place=0.0, signs=8),
    "3:2, at the right, panel at the left": Variant(1.5, place=1.0, signs=8),
    "3:2, at the left, grey panel": Variant(1.5, place=0.0, signs=8, colour=_GREY),
    "4:3, at the left, panel of text": Variant(4 / 3, place=0.0, signs=10, text=True),
    "4:3, at the right, blue panel": Variant(4 / 3, place=1.0, colour=_BLUE, size=0.3),
    "4:3": Variant(4 / 3),
    "4:3, large signs": Variant(4 / 3, signs=8, size=0.5),
    "4:3, grey, text": Variant(4 / 3, colour=_GREY, text=True),
    "5:4": Variant(5 / 4),
    "1:1": Variant(1.0, size=0.3),
    "1:1, white": Variant(1.0, colour=_WHITE, size=0.3),
    "2:3 upright": Variant(2 / 3, size=0.2, signs=8),
    "3:4 upright, grey": Variant(3 / 4, size=0.2, colour=_GREY),
    "9:16 upright": Variant(9 / 16, size=0.2, signs=6),
    "9:16 upright, text": Variant(9 / 16, size=0.2, text=True, signs=10),
    "16:9 in 4:3, signs above and below": Variant(16 / 9, (960, 720), signs=6),
    "16:9 in 4:3, grey": Variant(16 / 9, (960, 720), signs=6, colour=_GREY),
    "16:9 in 4:3, blurred copy": Variant(16 / 9, (960, 720), signs=0, colour="blurred"),
    "3:2 in 4:3, signs above and below": Variant(1.5, (960, 720), signs=8),
    "3:2 in 4:3, panel below": Variant(1.5, (960, 720), place=0.0, signs=8),
    "3:2 in 1920x1080": Variant(1.5, (1920, 1080), signs=7),
    "3:2 in 640x480": Variant(1.5, (640, 480), signs=7),
    "3:2 in 640x360, large signs": Variant(1.5, (640, 360), signs=7, size=0.8),
    "17:9 in 16:9": Variant(17 / 9, signs=6, size=0.8),
}


def clip_pictures(
    every: int = EVERY, first: int = 0, last: int = 10_000
) -> Iterator[tuple[int, ColourImage]]:
    """Pictures of the shipped clip with their indices."""
    capture = cv2.VideoCapture(str(demo.sample_folder() / demo.CLIP))
    index = 0
    while index < last and (read := capture.read())[0]:
        if index >= first and (index - first) % every == 0:
            yield index, read[1]  # type: ignore[misc]
        index += 1


class _Film:
    """A `Source` of one variant's pictures."""

    live = False
    rate_hz = RATE_HZ / EVERY

    def __init__(self, variant: Variant, pictures: Sequence[tuple[int, ColourImage]]) -> None:
        self.frames_expected: int | None = len(pictures)
        self._variant, self._left = variant, [*pictures]

    def read(self) -> Frame | None:
        if not self._left:
            return None
        index, picture = self._left.pop(0)
        return Frame(self._variant.frame(picture, index), (index - FIRST) / RATE_HZ, index)

    def close(self) -> None:
        pass


def _set_up(variant: Variant, of_clip: SetUp, clip_px: tuple[int, int]) -> SetUp:
    """The clip's, with the angle of view that the picture between the bars has."""
    width, height = variant.box_px[2:]
    across = min(clip_px[0], round(clip_px[1] * width / height))
    view = 2 * math.atan(across / clip_px[0] * 18 / of_clip.lens.focal_length_mm)
    view = 2 * math.atan(math.tan(view / 2) * (1 - of_clip.lens.focal_length_m / 4.0))
    values = of_clip.model_dump(exclude_unset=True)
    feed = {"through": "own-lens", "horizontal_field_of_view_deg": math.degrees(view)}
    return from_values({**values, "feed": feed})


def run(variant: Variant, pictures: Sequence[tuple[int, ColourImage]], set_up: SetUp) -> list[str]:
    """How one variant is met: the cells of its row."""
    areas: list[str] = []
    source = BarsWatch(
        _Film(variant, pictures), lambda *_: areas.append("cut"), lambda: areas.append("gone"),
        lambda *_: areas.append("doubted"),
    )  # fmt: skip
    moments: list[Moment] = []
    with MediaPipePoseDetector() as detector:
        assistant = Assistant(set_up, detector)
        while (frame := source.read()) is not None:
            moments.append(assistant.see(frame))
    source.close()
    known = true_distances.load(demo.sample_folder() / demo.TRUTH)
    whole = variant.feed
    barred = [m for m in moments if m.frame.picture.shape[1::-1] == whole]
    sure = sum(
        m.guidance.action in SURE or m.assessment.verdict is Verdict.IN_FOCUS for m in barred
    )
    why = (Unmeasured.BARS, Unmeasured.SIGNS)
    told = [m.frame.time_s for m in moments if m.guidance.unmeasured in why]
    cut = [m for m in moments if m.frame.picture.shape[1::-1] != whole]
    errors = [
        m.assessment.distance.eyes_m / known.eyes_at(m.frame.time_s + FIRST / RATE_HZ) - 1
        for m in cut
        if m.assessment.distance is not None
    ]
    signs = sum(m.frame.unfit is Unfit.SIGNS for m in moments)
    return [
        ", ".join(dict.fromkeys(areas)) or "nothing",
        f"{sure} of {len(barred)}",
        f"{told[0]:.1f} s" if told else "never",
        f"{signs}",
        f"{float(np.median(errors)):+.1%}" if errors else "",
        f"{sum(m.guidance.action is Action.HOLD for m in cut)} of {len(cut)}" if cut else "",
    ]


# -- scenes without bars ----------------------------------------------------------------------


_PHOTOGRAPHS = (
    "astronaut.png", "brick.png", "camera.png", "chelsea.png", "clock_motion.png", "coffee.png",
    "coins.png", "color.png", "grass.png", "gravel.png", "hubble_deep_field.jpg", "ihc.png",
    "motorcycle_left.png", "motorcycle_right.png", "retina.jpg", "rocket.jpg", "eagle.png",
    "moon.png", "page.png", "skin.jpg", "truncated.jpg",
)  # fmt: skip
"""What scikit-image carries that a lens has seen; the rest is drawn."""


def scenes(named: Sequence[Path]) -> Iterator[tuple[str, list[ColourImage]]]:
    """Pictures of one scene each, and where they come from."""
    pictures = [picture for _, picture in clip_pictures(12)]
    for k in range(0, len(pictures) - 4, 5):
        yield "the shipped clip", pictures[k : k + 5]
    try:
        import skimage  # type: ignore[import-not-found]

        of_package = Path(skimage.__file__).parent / "data"
        named = [*named, *(of_package / name for name in _PHOTOGRAPHS)]
    except ImportError:
        pass
    for path in named:
        files = sorted(path.rglob("*")) if path.is_dir() else [path]
        for file in files:
            kind = file.suffix.lower()
            if kind in (".mp4", ".avi", ".mov"):
                of_video = _every_twelfth(file)
                for k in range(0, max(len(of_video) - 4, 1), 5):
                    yield f"videos of {path.name}", of_video[k : k + 5]
            elif kind in (".jpg", ".jpeg", ".png"):
                picture = cv2.imread(str(file))
                if picture is not None and min(picture.shape[:2]) >= 200:
                    name = "scikit-image" if path.name in _PHOTOGRAPHS else path.name
                    yield f"pictures of {name}", [np.asarray(picture, np.uint8)]


def _every_twelfth(video: Path) -> list[ColourImage]:
    capture, pictures, index = cv2.VideoCapture(str(video)), [], 0
    while (read := capture.read())[0]:
        if index % 12 == 0:
            pictures.append(np.asarray(read[1], np.uint8))
        index += 1
    return pictures


CUTS = 12
_CUT_SHAPES = (16 / 9, 4 / 3, 1.5, 9 / 16)


def look_at_scenes(named: Sequence[Path]) -> list[list[str]]:
    """A row for each kind of scene: how many were looked at, doubted, and cut."""
    counts: dict[str, list[int]] = {}
    chance = np.random.default_rng(1)
    for kind, pictures in scenes(named):
        count = counts.setdefault(kind, [0, 0, 0, 0])
        for k in range(1 + CUTS):
            found = _framed_in(
                pictures, None if k == 0 else (16 / 9, 4 / 3, 1.5, 9 / 16)[k % 4], chance
            )
            if found is not None:
                count[2 if k else 1] += 1
                count[3] += found.sure
            count[0] += k == 0
    return [
        [kind, str(n), str(whole), f"{parts} of {CUTS * n}", str(sure)]
        for kind, (n, whole, parts, sure) in counts.items()
    ]


def _framed_in(
    pictures: list[ColourImage], shape: float | None, chance: np.random.Generator
) -> Framed | None:
    """Bars in the whole, or in a part of it at any place in that shape."""
    if shape is not None:
        height, width = pictures[0].shape[:2]
        part = chance.uniform(0.6, 1.0)
        across, down = (
            round(part * min(width, height * shape)), round(part * min(height, width / shape)),
        )  # fmt: skip
        x, y = chance.integers(0, width - across + 1), chance.integers(0, height - down + 1)
        pictures = [picture[y : y + down, x : x + across] for picture in pictures]
    return find_framed([small(np.ascontiguousarray(picture)) for picture in pictures])


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scenes", nargs="*", type=Path, default=[])
    options = parser.parse_args()
    samples = demo.sample_folder()
    of_clip = load(samples / demo.SET_UP)
    pictures = list(clip_pictures(EVERY, FIRST, LAST))
    clip_px = (pictures[0][1].shape[1], pictures[0][1].shape[0])
    rows = [
        [name, *run(variant, pictures, _set_up(variant, of_clip, clip_px))]
        for name, variant in VARIANTS.items()
    ]
    text = (
        "# Bars with signs, colours or blurred pictures in them\n\n"
        f"{len(VARIANTS)} variants of the shipped clip, {len(pictures)} pictures of each, "
        f"{(LAST - FIRST) / RATE_HZ:.0f} s; the person stands in the focus zone from the first "
        "picture on. Sure words: hold, stop, framing, or the verdict \"in focus\", in pictures "
        "with the bars in them.\n\n"
    ) + table(
        ["bars", "what became of it", "sure words before they were cut", "reason told after",
         "pictures in doubt", "distance once cut, off by", "hold once cut"], rows,
    )  # fmt: skip
    text += "\n# Scenes without bars\n\n" + table(
        ["scenes", "looked at", "doubted", "parts of them doubted", "cut"],
        look_at_scenes(options.scenes),
    )
    keep("camera_signs", text)


if __name__ == "__main__":
    main()
