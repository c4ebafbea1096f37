"""The 33 points of the body that a pose detector reports, by name.

Order and meaning are those of the BlazePose topology (Bazarevsky and others, 2020,
"BlazePose: On-device Real-time Body Pose tracking", arXiv:2006.10204; from memory).
Left and right are the person's own.
"""

from __future__ import annotations

from enum import IntEnum


class Landmark(IntEnum):
    """Row of a landmark in every array of a pose."""

    NOSE = 0
    LEFT_EYE_INNER = 1
    LEFT_EYE = 2
    LEFT_EYE_OUTER = 3
    RIGHT_EYE_INNER = 4
    RIGHT_EYE = 5
    RIGHT_EYE_OUTER = 6
    LEFT_EAR = 7
    RIGHT_EAR = 8
    MOUTH_LEFT = 9
    MOUTH_RIGHT = 10
    LEFT_SHOULDER = 11
    RIGHT_SHOULDER = 12
    LEFT_ELBOW = 13
    RIGHT_ELBOW = 14
    LEFT_WRIST = 15
    RIGHT_WRIST = 16
    LEFT_PINKY = 17
    RIGHT_PINKY = 18
    LEFT_INDEX = 19
    RIGHT_INDEX = 20
    LEFT_THUMB = 21
    RIGHT_THUMB = 22
    LEFT_HIP = 23
    RIGHT_HIP = 24
    LEFT_KNEE = 25
    RIGHT_KNEE = 26
    LEFT_ANKLE = 27
    RIGHT_ANKLE = 28
    LEFT_HEEL = 29
    RIGHT_HEEL = 30
    LEFT_FOOT_INDEX = 31
    RIGHT_FOOT_INDEX = 32


COUNT = len(Landmark)

L = Landmark
BONES: tuple[tuple[Landmark, Landmark], ...] = (
    (L.LEFT_SHOULDER, L.RIGHT_SHOULDER),
    (L.LEFT_SHOULDER, L.LEFT_ELBOW),
    (L.LEFT_ELBOW, L.LEFT_WRIST),
    (L.RIGHT_SHOULDER, L.RIGHT_ELBOW),
    (L.RIGHT_ELBOW, L.RIGHT_WRIST),
    (L.LEFT_SHOULDER, L.LEFT_HIP),
    (L.RIGHT_SHOULDER, L.RIGHT_HIP),
    (L.LEFT_HIP, L.RIGHT_HIP),
    (L.LEFT_HIP, L.LEFT_KNEE),
    (L.LEFT_KNEE, L.LEFT_ANKLE),
    (L.RIGHT_HIP, L.RIGHT_KNEE),
    (L.RIGHT_KNEE, L.RIGHT_ANKLE),
)
"""Lines of the drawn figure, and the segments whose lengths a personal profile holds."""
