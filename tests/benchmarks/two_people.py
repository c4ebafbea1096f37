"""Holding on to one of two people, as a run does with its own settings, and as it did without.

Three kinds of footage, all played at their own rate through pose network, lookout and tracker:

- `Demo_MultiPerson` in the wheel of the PyPI package pose2sim (BSD-3-Clause): four calibrated
  cameras, 100 frames at 60 a second, a man and a woman, and somebody far behind in two of them; who
  a pose belongs to is told by where the other three cameras see the two. Played to and fro three
  times, as 1.7 s are too few. In the third view one comes to hide the other.
- The same with a picture that is moved over it, so that one of the two leaves it and comes back.
- The shipped clip with its person shown twice, the nearer copy moved across before the other: once
  in the same clothes, once in other colours. Where each stands is known.

    python -m tests.benchmarks.two_people --data FOLDER [--ci-data]
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.distance.person_tracker import Followed, PersonTracker
from assist.pose import Pose
from assist.pose.landmarks import Landmark
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo
from tests.benchmarks import four_cameras
from tests.benchmarks.tables import keep, table

L = Landmark
TRUNK = [L.LEFT_SHOULDER, L.RIGHT_SHOULDER, L.LEFT_HIP, L.RIGHT_HIP]
CI_DATA = Path(__file__).resolve().parents[1] / "distance" / "data" / "crossing.npz"
STANDS_PX = (675.0, 658.0)
"""Across the picture: where the far and the near copy stand in the shipped clip."""
RATE_HZ = 25.0
_CROSSING = 125
_AGREES_PX = 120.0
_TURNS = 3
_CLIP_TRUNK_PX, _REAL_TRUNK_PX = 110.0, 200.0
_BEYOND_PX = 120.0
"""How far beyond the one who stays the part is moved that the other leaves."""
_SEEN_SHARE = 0.04
"""How far within the picture a trunk is for its person to count as in it, over the width."""


@dataclass(frozen=True)
class Scene:
    """Pictures, and where each person's trunk is in them: (people, pictures, 2) pixels.

    apart_px: about a trunk's length; between two trunks from which on the two are seen apart.
    """

    name: str
    people: tuple[str, str]
    pictures: int
    picture: Callable[[int], ColourImage]
    rate_hz: float
    true_px: np.ndarray
    apart_px: float

    def who(self, pose: Pose, picture: int) -> int | None:
        """Number of the person whom a pose belongs to; None for neither."""
        gaps = np.hypot(*(self.true_px[:, picture] - pose.image_px[TRUNK].mean(axis=0)).T)
        best = int(np.nanargmin(gaps))
        return best if gaps[best] < _AGREES_PX else None

    def apart(self, picture: int, width_px: int) -> bool:
        """Whether both are in that picture and apart."""
        spots = self.true_px[:, picture]
        edge = _SEEN_SHARE * width_px
        inside = bool(np.all((spots[:, 0] > edge) & (spots[:, 0] < width_px - edge)))
        return inside and float(np.hypot(*(spots[0] - spots[1]))) > self.apart_px


def moved_by(picture: int) -> float:
    """How far the near copy is shifted across in that picture of the crossing, pixels."""
    return float(np.interp(picture, [14, 15, 94, 95], [-900, -640, 640, 900]))


def _clip() -> list[ColourImage]:
    capture = cv2.VideoCapture(str(demo.sample_folder() / demo.CLIP))
    frames = []
    while (found := capture.read())[0]:
        frames.append(found[1])
    return frames


def crossing_picture(frames: list[ColourImage], number: int, *, other: bool) -> ColourImage:
    """The shipped clip's person twice; `other`: the nearer in other colours."""
    empty = frames[0].astype(int)
    far, near = frames[150 + number % 30].copy(), frames[235 + number % 60]
    differs = np.abs(near - empty).max(axis=2).astype(np.uint8)
    differs = (cv2.GaussianBlur(differs, (5, 5), 0) > 18).astype(np.uint8)
    differs = cv2.morphologyEx(differs, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(differs)
    body = (labels == 1 + np.argmax(stats[1:, cv2.CC_STAT_AREA])).astype(np.uint8)
    shift = np.array([[1, 0, moved_by(number)], [0, 1, 0]], np.float32)
    size = (far.shape[1], far.shape[0])
    inside = cv2.warpAffine(body, shift, size) > 0
    shown = 255 - near if other else near
    far[inside] = cv2.warpAffine(shown, shift, size)[inside]
    return far


def crossings() -> list[Scene]:
    """The shipped clip's person twice, in the same clothes and in others."""
    frames = _clip()
    across = np.array(
        [
            np.full(_CROSSING, STANDS_PX[0]),
            [STANDS_PX[1] + moved_by(k) for k in range(_CROSSING)],
        ]
    )
    true = np.stack([across, np.full_like(across, np.nan)], axis=-1)
    heights = []
    with MediaPipePoseDetector(stills=True, faces=False) as detector:
        for number in (165, 260):  # heights of the trunks, from pictures with one each
            [pose] = detector.detect(frames[number], 0.0) or []
            heights.append(pose.image_px[TRUNK].mean(axis=0)[1])
    true[0, :, 1], true[1, :, 1] = heights

    def scene(name: str, *, other: bool) -> Scene:
        return Scene(
            f"shipped clip, twice, {name}",
            ("far copy", "near copy"),
            _CROSSING,
            lambda k: crossing_picture(frames, k, other=other),
            RATE_HZ,
            true,
            _CLIP_TRUNK_PX,
        )

    return [scene("the same clothes", other=False), scene("other colours", other=True)]


def _triangulated(
    views: list[four_cameras.PlacedCamera], spots: list[np.ndarray]
) -> tuple[np.ndarray, float]:
    """World point of some pixels and the largest reprojection error."""
    rows, target = [], []
    for view, spot in zip(views, spots, strict=True):
        ray = view.camera.normalised(spot)
        for axis in (0, 1):
            rows.append(ray[axis] * view.rotation[2] - view.rotation[axis])
            target.append(view.shift[axis] - ray[axis] * view.shift[2])
    point = np.linalg.lstsq(np.array(rows), np.array(target), rcond=None)[0]
    errors = [
        np.linalg.norm(v.camera.project(v.see(point)) - s)
        for v, s in zip(views, spots, strict=True)
    ]
    return point, float(max(errors))


def _spots(place: Path, name: str, cache: Path) -> list[np.ndarray]:
    """Trunks (people, 2) that a network looking for two reports in each picture of a camera."""
    kept = cache / f"two-people-{name}.npz"
    if not kept.exists():
        capture = cv2.VideoCapture(str(place / "videos" / f"{name}.mp4"))
        found = []
        with MediaPipePoseDetector(people=2, faces=False) as detector:
            while (frame := capture.read())[0]:
                poses = detector.detect(frame[1], len(found) / four_cameras.FRAMES_PER_SECOND)
                spots = np.full((2, 2), np.nan)
                for k, pose in enumerate(poses or []):
                    spots[k] = pose.image_px[TRUNK].mean(axis=0)
                found.append(spots)
        cache.mkdir(parents=True, exist_ok=True)
        np.savez_compressed(kept, spots=found)
    with np.load(kept) as stored:
        return [spots[~np.isnan(spots[:, 0])] for spots in stored["spots"]]


def _to_and_fro(count: int) -> np.ndarray:
    """Numbers of pictures, to the end and back again and again."""
    once = np.concatenate([np.arange(count), np.arange(count - 2, 0, -1)])
    return np.tile(once, _TURNS)


def four_views(folder: Path) -> list[Scene]:
    """Scenes of each camera; the truth is the other cameras', by triangulated trunks."""
    place = four_cameras.fetch(folder, "Demo_MultiPerson")
    views = four_cameras.cameras(place)
    seen = [_spots(place, view.name, folder / "detections") for view in views]
    scenes = []
    for judged, view in enumerate(views):
        others = [k for k in range(len(views)) if k != judged]
        world = np.full((2, len(seen[0]), 3), np.nan)
        for picture in range(world.shape[1]):
            spots = [seen[k][picture] for k in others]
            matches = []
            for size in (3, 2):
                for chosen in itertools.combinations(range(3), size):
                    for which in itertools.product(*(range(len(spots[c])) for c in chosen)):
                        at = [spots[c][w] for c, w in zip(chosen, which, strict=True)]
                        point, error = _triangulated([views[others[c]] for c in chosen], at)
                        if error < 40:
                            matches.append((-size, error, point))
            for _, _, point in sorted(matches, key=lambda m: m[:2]):
                # They keep to two ends of a platform: the man at negative x, the woman at positive.
                person = 0 if point[0] < -0.3 else 1
                if np.isnan(world[person, picture, 0]):
                    world[person, picture] = point
        known = [~np.isnan(world[p, :, 0]) for p in range(2)]
        steps = np.arange(world.shape[1])
        for p, axis in itertools.product(range(2), range(3)):
            world[p, :, axis] = np.interp(steps, steps[known[p]], world[p, known[p], axis])
        true = np.stack([view.camera.project(view.see(world[p])) for p in range(2)])
        capture = cv2.VideoCapture(str(place / "videos" / f"{view.name}.mp4"))
        frames: list[ColourImage] = []
        while (found := capture.read())[0]:
            frames.append(found[1])
        scenes += _played(view.name, frames, true)
    return scenes


def _played(name: str, frames: list[ColourImage], true: np.ndarray) -> list[Scene]:
    """One camera's pictures to and fro; and a part of them that leaves one of the two out."""
    order = _to_and_fro(len(frames))
    people, rate_hz = ("man", "woman"), four_cameras.FRAMES_PER_SECOND
    whole = Scene(
        f"real, {name}",
        people,
        len(order),
        lambda k: frames[order[k]],
        rate_hz,
        true[:, order],
        _REAL_TRUNK_PX,
    )
    if name not in ("cam02", "cam04"):
        return [whole]
    # Half as wide as the picture is high: from both people to the one, and back to both.
    wide = 620
    middle = true[:, order, 0].mean(axis=0)
    beyond = np.sign(true[1, order, 0] - true[0, order, 0])
    end = true[1, order, 0] + _BEYOND_PX * beyond
    share = np.interp(np.arange(len(order)), [0, 90, 180, 360, 450, 600], [0, 0, 1, 1, 0, 0])
    start = np.round((1 - share) * middle + share * end - wide / 2).astype(int)

    def part(k: int) -> ColourImage:
        shift = np.array([[1.0, 0.0, -start[k]], [0.0, 1.0, 0.0]])
        return np.asarray(cv2.warpAffine(frames[order[k]], shift, (wide, frames[0].shape[0])))

    moved = true[:, order].copy()
    moved[:, :, 0] -= start
    return [
        whole,
        Scene(
            f"real, {name}, man leaves", people, len(order), part, rate_hz, moved, _REAL_TRUNK_PX
        ),
    ]


@dataclass
class Count:
    """What became of the pictures from where the person was chosen on."""

    right: int = 0
    doubted: int = 0
    nobody: int = 0
    wrong_doubted: int = 0
    wrong: int = 0
    apart: int = 0
    apart_right: int = 0
    longest_wrong: int = 0
    _wrong_now: int = field(default=0, repr=False)

    def add(self, whose: int | None, person: int, found: Followed, *, apart: bool) -> None:
        """One picture; `whose` is the pose that is followed."""
        wrong = whose == 1 - person
        sure_wrong = found.index is not None and wrong and found.sure
        self._wrong_now = self._wrong_now + 1 if sure_wrong else 0
        self.longest_wrong = max(self.longest_wrong, self._wrong_now)
        self.apart += apart
        if found.index is None:
            self.nobody += 1
        elif wrong:
            self.wrong += found.sure
            self.wrong_doubted += not found.sure
        else:
            self.right += found.sure
            self.doubted += not found.sure
            self.apart_right += apart and found.sure


def run(scene: Scene, person: int, *, as_before: bool) -> Count:
    """Follow that person as a run with its own settings does, or as one did before there was more.

    They say who they are as soon as they can, once; before that nothing counts.
    """
    tracker, count, chosen = PersonTracker(), Count(), as_before
    with MediaPipePoseDetector(lookout=not as_before, faces=False) as detector:
        for k in range(scene.pictures):
            picture, time_s = scene.picture(k), k / scene.rate_hz
            poses = detector.detect(picture, time_s) or []
            if as_before:
                found = tracker.follow(poses, time_s)
            else:
                found = tracker.follow(poses, time_s, picture, detector.glance(wait=True))
                if found.search_again:
                    detector.search_again(found.search_again)
            whose = None if found.index is None else scene.who(poses[found.index], k)
            if chosen:
                count.add(whose, person, found, apart=scene.apart(k, picture.shape[1]))
                continue
            if whose == person and found.others:
                tracker.choose()
                chosen = True
            else:
                for other in found.others:
                    if not chosen and scene.who(other.pose, k) == person:
                        tracker.choose(other.number)
                        chosen = True
    return count


def unchosen(scene: Scene) -> tuple[int, int, float]:
    """Nobody says who they are: pictures with both apart, those of them that were sure, and when.

    The last: until when anybody was sure at the start, seconds.
    """
    tracker, apart, sure, last_s = PersonTracker(), 0, 0, 0.0
    pictures = min(scene.pictures, round(3 * scene.rate_hz))
    with MediaPipePoseDetector(lookout=True, faces=False) as detector:
        for k in range(pictures):
            picture, time_s = scene.picture(k), k / scene.rate_hz
            poses = detector.detect(picture, time_s) or []
            found = tracker.follow(poses, time_s, picture, detector.glance(wait=True))
            if not scene.apart(k, picture.shape[1]):
                continue
            apart += 1
            if found.index is not None and found.sure:
                sure, last_s = sure + 1, time_s
    return apart, sure, last_s


def _ci_data(scene: Scene) -> None:
    """The tests' copy of the crossing: what a network that looks for two reports."""
    trunks = np.full((scene.pictures, 2, 4, 2), np.nan, np.float32)
    with MediaPipePoseDetector(people=2, faces=False) as detector:
        for number in range(scene.pictures):
            poses = detector.detect(scene.picture(number), number / scene.rate_hz) or []
            for k, pose in enumerate(poses):
                trunks[number, k] = pose.image_px[TRUNK]
    CI_DATA.parent.mkdir(exist_ok=True)
    np.savez_compressed(CI_DATA, trunks_px=trunks, near_px=scene.true_px[1, :, 0])


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--data", type=Path, default=Path("two-people"))
    parser.add_argument("--ci-data", action="store_true", help="write the tests' copy")
    parser.add_argument("--only", default="", help="scenes with this in their name; keeps nothing")
    options = parser.parse_args()
    crossed = crossings()
    if options.ci_data:
        _ci_data(crossed[0])
    scenes = [s for s in (*crossed, *four_views(options.data)) if options.only in s.name]
    rows, first = [], []
    for scene in scenes:
        for person in (0, 1):
            for as_before in (True, False):
                count = run(scene, person, as_before=as_before)
                share = f"{count.apart_right / count.apart:.0%}" if count.apart else ""
                row = [
                    scene.name,
                    scene.people[person],
                    "before" if as_before else "now",
                    *map(str, (count.right, count.doubted, count.nobody, count.wrong_doubted)),
                    str(count.wrong),
                    f"{count.longest_wrong / scene.rate_hz:.2f}",
                    share,
                ]
                rows.append(row)
                print(*row, sep=" | ", flush=True)
        apart, sure, last_s = unchosen(scene)
        first.append([scene.name, str(apart), str(sure), f"{last_s:.2f}"])
        print(*first[-1], sep=" | ", flush=True)
    if options.only:
        return
    header = [
        "footage", "who it is", "", "right", "right, not sure", "nobody", "wrong, not sure",
        "wrong and sure", "longest so, s", "sure and right of those with both apart",
    ]  # fmt: skip
    keep(
        "two_people",
        "# Holding on to one of two people\n\n"
        "Pictures of each piece of footage, by who is meant. Now: with the settings of a run, the "
        "person choosing themselves once, as soon as they are seen, by a raised hand, a key or the "
        "phone. Before: the pose network alone, which nobody could tell whom to follow. Told by "
        "the truth of where the two are; a pose between the two counts as right.\n\n"
        + table(header, rows)
        + "\nWhere nobody says who they are, of the first three seconds:\n\n"
        + table(["footage", "both apart", "sure of anybody", "the last of them at, s"], first)
        + "\nIn cam03 one comes to stand before the other. The bounds on a body's motion and on "
        "clothes were set with this footage in sight.\n",
    )


if __name__ == "__main__":
    main()
