"""Pose detection by MediaPipe's PoseLandmarker."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any

import cv2
import numpy as np

from assist.pose import ColourImage, Pose
from assist.pose.bundle import find_bundle
from assist.pose.landmarks import COUNT


class MediaPipePoseDetector:
    """`PoseDetector` on MediaPipe's Tasks interface, in its video mode, or for stills.

    The network follows a person from frame to frame and searches the whole picture only when it
    has lost them. With `people` above one it goes on searching for the missing ones, which costs
    about as much again per frame. With `stills` every picture is searched for itself, as is right
    for pictures that have nothing to do with each other.
    """

    def __init__(
        self,
        model: Path | None = None,
        *,
        people: int = 1,
        confidence: float = 0.5,
        stills: bool = False,
    ) -> None:
        bundle = find_bundle(model)
        with _quiet_native_log():
            import mediapipe  # noqa: PLC0415  (half a second; only where it is needed)
            from mediapipe.tasks.python import BaseOptions, vision  # noqa: PLC0415

            # The file is read here and not by path, which the library takes relative to itself on
            # some systems and cannot open when it has other than ASCII letters on others.
            options = vision.PoseLandmarkerOptions(
                base_options=BaseOptions(model_asset_buffer=bundle.read_bytes()),
                running_mode=vision.RunningMode.IMAGE if stills else vision.RunningMode.VIDEO,
                num_poses=people,
                min_pose_detection_confidence=confidence,
                min_pose_presence_confidence=confidence,
                min_tracking_confidence=confidence,
            )
            self._landmarker: Any = vision.PoseLandmarker.create_from_options(options)
        self._image_class = mediapipe.Image
        self._srgb = mediapipe.ImageFormat.SRGB
        self._stills = stills
        self._last_ms = -1
        self._rgb: ColourImage | None = None
        self._chatty = True

    def detect(self, picture: ColourImage, time_s: float) -> list[Pose]:
        """People in the picture; time that stands still or goes back is nudged forward."""
        self._last_ms = max(self._last_ms + 1, round(time_s * 1000))
        if self._rgb is None or self._rgb.shape != picture.shape:
            self._rgb = np.empty_like(picture)
        cv2.cvtColor(picture, cv2.COLOR_BGR2RGB, dst=self._rgb)
        image = self._image_class(image_format=self._srgb, data=self._rgb)
        # The native library prints a warning of no use to anyone with the first person it finds.
        with _quiet_native_log() if self._chatty else contextlib.nullcontext():
            if self._stills:
                found = self._landmarker.detect(image)
            else:
                found = self._landmarker.detect_for_video(image, self._last_ms)
        self._chatty = self._chatty and not found.pose_landmarks
        height, width = picture.shape[:2]
        return [
            _to_pose(flat, world, width, height)
            for flat, world in zip(found.pose_landmarks, found.pose_world_landmarks, strict=True)
        ]

    def close(self) -> None:
        """Free the network; safe to call twice."""
        if self._landmarker is not None:
            with _quiet_native_log():
                self._landmarker.close()
            self._landmarker = None

    def __enter__(self) -> MediaPipePoseDetector:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _to_pose(flat: list[Any], world: list[Any], width: int, height: int) -> Pose:
    """Our own type from the library's two lists of landmarks."""
    image = np.fromiter(
        (value for mark in flat for value in (mark.x, mark.y, mark.visibility)),
        np.float64,
        3 * COUNT,
    ).reshape(COUNT, 3)
    metres = np.fromiter(
        (value for mark in world for value in (mark.x, mark.y, mark.z)), np.float64, 3 * COUNT
    ).reshape(COUNT, 3)
    return Pose(image[:, :2] * (width, height), metres, image[:, 2].copy())


@contextlib.contextmanager
def _quiet_native_log() -> Iterator[None]:
    """Keep the native library's start-up chatter off the terminal; our own errors still show."""
    try:
        sys.stderr.flush()
        saved = os.dup(2)
    except (OSError, ValueError):  # no terminal at all, as under a windowed launcher
        yield
        return
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(saved, 2)
        os.close(saved)
