"""Poses of a video or a picture, kept in a file so that a benchmark can be rerun in seconds."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.pose import Face, Pose
from assist.pose.face import COUNT
from assist.pose.mediapipe_backend import FACE_EVERY_S, MediaPipePoseDetector

SETTLING = 3
"""How often a single picture is shown, so that the detector's cut-out settles as it does live."""


def _save(path: Path, poses: list[Pose | None]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    empty = Pose(np.full((33, 2), np.nan), np.full((33, 3), np.nan), np.zeros(33), 0, 0)
    no_face = np.full((COUNT, 3), np.nan)
    kept = [p or empty for p in poses]
    np.savez_compressed(
        path,
        image_px=[p.image_px for p in kept],
        world_m=[p.world_m for p in kept],
        visibility=[p.visibility for p in kept],
        size_px=[(p.width_px, p.height_px) for p in kept],
        face=[no_face if p.face is None else p.face.points_px for p in kept],
    )


def _cached(path: Path, make: Callable[[], list[Pose | None]]) -> list[Pose | None]:
    path = path.with_name(f"{path.stem}-face{COUNT}.npz")  # another network's points are others
    if not path.exists():
        _save(path, make())
    with np.load(path) as kept:
        names = ("image_px", "world_m", "visibility", "size_px", "face")
        rows = zip(*(kept[name] for name in names), strict=True)
        return [
            None
            if np.isnan(i).any()
            else Pose(i, w, v, *map(int, size), None if np.isnan(f).any() else Face(f))
            for i, w, v, size, f in rows
        ]


def of_video(video: Path, cache: Path, frames_per_second: float) -> list[Pose | None]:
    """The first person of every frame."""

    def make() -> list[Pose | None]:
        poses: list[Pose | None] = []
        capture = cv2.VideoCapture(str(video))
        with MediaPipePoseDetector() as detector:
            while True:
                ok, frame = capture.read()
                if not ok:
                    break
                found = detector.detect(frame, len(poses) / frames_per_second)
                poses.append(found[0] if found else None)
        capture.release()
        return poses

    return _cached(cache / f"{video.stem}.npz", make)


def people_of_video(
    video: Path, cache: Path, frames_per_second: float, people: int
) -> list[list[Pose]]:
    """Everybody of every frame, so many being looked for."""
    file = cache / f"{video.stem}-{people}.npz"

    def make() -> list[Pose | None]:
        flat: list[Pose | None] = []
        capture = cv2.VideoCapture(str(video))
        number = 0
        with MediaPipePoseDetector(people=people) as detector:
            while (read := capture.read())[0]:
                found = detector.detect(read[1], number / frames_per_second) or []
                flat += [*found, *([None] * (people - len(found)))][:people]
                number += 1
        capture.release()
        return flat

    flat = _cached(file, make)
    return [
        [pose for pose in flat[k : k + people] if pose is not None]
        for k in range(0, len(flat), people)
    ]


def of_picture(picture: Path, cache: Path) -> Pose | None:
    """The first person of one picture, as a detector that has followed them sees it."""

    def make() -> list[Pose | None]:
        image: ColourImage | None = cv2.imread(str(picture))
        if image is None:
            return [None]
        found: list[Pose] = []
        with MediaPipePoseDetector() as detector:
            for k in range(SETTLING):
                found = detector.detect(image, k * FACE_EVERY_S)
        return [found[0] if found else None]

    return _cached(cache / f"{picture.stem}.npz", make)[0]


def looks_at_picture(picture: Path, cache: Path, looks: int) -> list[Pose]:
    """The first person of one picture, looked at again and again as somebody who stands still."""

    def make() -> list[Pose | None]:
        image: ColourImage | None = cv2.imread(str(picture))
        if image is None:
            return [None]
        found: list[Pose | None] = []
        with MediaPipePoseDetector() as detector:
            for k in range(SETTLING + looks):
                poses = detector.detect(image, k * FACE_EVERY_S)
                found.append(poses[0] if poses else None)
        return found[SETTLING:]

    kept = _cached(cache / f"{picture.stem}-looks{looks}.npz", make)
    return [pose for pose in kept if pose is not None]
