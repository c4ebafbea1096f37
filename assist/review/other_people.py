"""Somebody else in a reviewed picture.

The pose network, asked for two people in one picture, seldom reports the second: in 3 of 30
pictures with two, put together from rendered walks. Asked again with the first one covered it does
in 14, and in none of 66 pictures of one person (looked at once; no benchmark prints these).
"""

from __future__ import annotations

import numpy as np

from assist.base.images import ColourImage
from assist.base.words import _
from assist.pose import Pose, PoseDetector
from assist.pose.landmarks import Landmark
from assist.review.sentence import Sentence

_MARGIN = 0.08
"""How far clothes and hair reach beyond the landmarks, over the longer side of their box."""
_TRUNK = [
    Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER, Landmark.LEFT_HIP, Landmark.RIGHT_HIP,
]  # fmt: skip


def told(judged: Pose, picture: ColourImage, detector: PoseDetector) -> tuple[str, ...]:
    """A note on which of the people in the picture was judged; none where only one is seen."""
    low, high = judged.image_px.min(axis=0), judged.image_px.max(axis=0)
    margin = _MARGIN * float((high - low).max())
    height, width = picture.shape[:2]
    left, top = np.clip(low - margin, 0, (width, height)).astype(int)
    right, bottom = np.clip(high + margin, 0, (width, height)).astype(int)
    covered = picture.copy()
    covered[top:bottom, left:right] = np.median(picture[::8, ::8].reshape(-1, 3), axis=0)
    here_px = judged.image_px[_TRUNK].mean(axis=0)
    for other in detector.detect(covered, 0.0) or []:
        x, y = other.image_px[_TRUNK].mean(axis=0)
        if not (left <= x < right and top <= y < bottom):
            return (Sentence(_left_judged if here_px[0] < x else _right_judged),)
    return ()


def _left_judged() -> str:
    return _("another person is in it: the one farther to the left was judged")


def _right_judged() -> str:
    return _("another person is in it: the one farther to the right was judged")
