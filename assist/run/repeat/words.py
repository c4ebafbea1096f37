"""What to do to the camera so that the picture becomes as the earlier one, in words."""

from __future__ import annotations

from assist.base.phrases import Phrases
from assist.run.repeat.camera_shift import LEAST_ANGLE_DEG, LEAST_ZOOM, CameraShift


def to_do(shift: CameraShift | None, say: Phrases) -> tuple[str, ...]:
    """Short lines, at least one; `shift` is None where the earlier scene is not recognised."""
    if shift is None:
        return (say.text("repeat.unknown"),)
    if shift.same:
        return (say.text("repeat.same"),)
    parts = []
    if shift.moved:
        parts.append(say.text("repeat.moved"))
    for angle_deg, if_positive, if_negative in (
        (shift.pan_deg, "turn_left", "turn_right"),
        (shift.tilt_deg, "tilt_down", "tilt_up"),
        (shift.roll_deg, "roll_anticlockwise", "roll_clockwise"),
    ):
        if abs(angle_deg) >= LEAST_ANGLE_DEG:
            way = if_positive if angle_deg > 0 else if_negative
            parts.append(say.text(f"repeat.{way}", degrees=say.figure(abs(angle_deg))))
    if abs(shift.zoom - 1) >= LEAST_ZOOM:
        way = "zoom_out" if shift.zoom > 1 else "zoom_in"
        percent = say.figure(100 * abs(shift.zoom - 1))
        parts.append(say.text(f"repeat.{way}", percent=percent))
    return tuple(parts)
