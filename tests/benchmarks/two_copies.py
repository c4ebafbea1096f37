"""The shipped clip with its person in it twice, side by side, each at a time of their own."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.run import demo


class TwoCopies:
    """Pictures of the clip's place with two copies of its person, whose depths are known."""

    def __init__(self) -> None:
        capture = cv2.VideoCapture(str(demo.sample_folder() / demo.CLIP))
        self.frames: list[ColourImage] = []
        while (found := capture.read())[0]:
            self.frames.append(found[1])
        self._cut: dict[int, np.ndarray] = {}

    def _person(self, number: int) -> np.ndarray:
        """Where the person is in a frame of the clip; the first shows nobody."""
        if number not in self._cut:
            off = np.abs(self.frames[number].astype(int) - self.frames[0]).max(axis=2)
            mask = (cv2.GaussianBlur(off.astype(np.uint8), (5, 5), 0) > 18).astype(np.uint8)
            mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
            _, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
            body = np.zeros_like(mask)
            if len(stats) > 1:
                body = (labels == 1 + np.argmax(stats[1:, cv2.CC_STAT_AREA])).astype(np.uint8)
            self._cut[number] = body
        return self._cut[number]

    def picture(self, copies: list[tuple[int, float]]) -> ColourImage:
        """Copies by frame of the clip and shift across in pixels, the farthest first."""
        made = self.frames[0].copy()
        size = (made.shape[1], made.shape[0])
        for number, shift_px in copies:
            shift = np.array([[1, 0, shift_px], [0, 1, 0]], np.float32)
            inside = cv2.warpAffine(self._person(number), shift, size) > 0
            made[inside] = cv2.warpAffine(self.frames[number], shift, size)[inside]
        return made

    def write(self, to: Path, pictures: list[list[tuple[int, float]]], rate_hz: float) -> None:
        """A video of them."""
        height, width = self.frames[0].shape[:2]
        code = cv2.VideoWriter_fourcc(*"mp4v")  # type: ignore[attr-defined]
        writer = cv2.VideoWriter(str(to), code, rate_hz, (width, height))
        for copies in pictures:
            writer.write(self.picture(copies))
        writer.release()
