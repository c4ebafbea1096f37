"""What to do to the camera so that the picture becomes as the earlier one."""

from __future__ import annotations

from assist.guidance.camera_hints import CameraHint, Hint
from assist.run.repeat.camera_shift import LEAST_ANGLE_DEG, LEAST_ZOOM, CameraShift


def to_do(shift: CameraShift | None) -> tuple[CameraHint, ...]:
    """Hints, at least one; `shift` is None where the earlier scene is not recognised."""
    if shift is None:
        return (CameraHint(Hint.UNKNOWN),)
    if shift.same:
        return (CameraHint(Hint.SAME),)
    hints = []
    if shift.moved:
        hints.append(CameraHint(Hint.MOVED))
    for angle_deg, if_positive, if_negative in (
        (shift.pan_deg, Hint.TURN_LEFT, Hint.TURN_RIGHT),
        (shift.tilt_deg, Hint.TILT_DOWN, Hint.TILT_UP),
        (shift.roll_deg, Hint.ROLL_ANTICLOCKWISE, Hint.ROLL_CLOCKWISE),
    ):
        if abs(angle_deg) >= LEAST_ANGLE_DEG:
            way = if_positive if angle_deg > 0 else if_negative
            hints.append(CameraHint(way, abs(angle_deg)))
    if abs(shift.zoom - 1) >= LEAST_ZOOM:
        way = Hint.ZOOM_OUT if shift.zoom > 1 else Hint.ZOOM_IN
        hints.append(CameraHint(way, 100 * abs(shift.zoom - 1)))
    return tuple(hints)
