"""Distance from the face: the size of its mesh, which a head's turn hardly changes."""

from __future__ import annotations

import math

from assist.distance import CueAbsent, CueReading, Size
from assist.distance.face_size import ADULT_FACE_M, PUPIL_AHEAD_SD_M, look_at
from assist.distance.observation import Observation

NAME = "face"
_SHAPE_SD = 0.012
"""What the mesh's own idea of a face adds, relative."""
_REPEAT_SD = 0.0065
"""What is left of that against another view of the same face from nearly the same side."""
_TURNED_SD = 0.04
"""Added for a face in profile, falling with the square of the sine of its turn."""
_REPEATED_TURNED_SD = 0.045
"""The same against another view of the face from the front."""
_WIDTH_SD_PX, _REPEATED_WIDTH_SD_PX = 0.5, 0.25
"""How well the mesh's width is read: at all, and of one face again and again."""
_MOST_TURNED_RAD = math.radians(70.0)


class FaceCue:
    """The size of the face against what is known of it."""

    name = NAME

    def read(self, seen: Observation) -> CueReading | CueAbsent:
        """Depth of the eyes by the face alone."""
        if seen.pose.face is None:
            return CueAbsent(NAME, "no face was found")
        if not seen.face_seen:
            return CueAbsent(NAME, "the back of the head is seen")
        face = look_at(seen.pose.face, seen.camera)
        if face is None:
            return CueAbsent(NAME, "the landmarks of the face coincide")
        if face.turned_rad > _MOST_TURNED_RAD:
            return CueAbsent(NAME, "the face is turned away")
        size_m = ADULT_FACE_M * seen.shape.face
        turned = _TURNED_SD * math.sin(face.turned_rad) ** 2
        own = math.hypot(_SHAPE_SD, turned, _WIDTH_SD_PX / face.width_px)
        turned_again = _REPEATED_TURNED_SD * math.sin(face.turned_rad) ** 2
        repeat = math.hypot(_REPEAT_SD, turned_again, _REPEATED_WIDTH_SD_PX / face.width_px)
        eyes_m = face.eyes_per_face * size_m
        own_m = math.hypot(own * eyes_m, PUPIL_AHEAD_SD_M)
        return CueReading(NAME, eyes_m, own_m, Size.FACE, repeat * eyes_m)
