"""A plan for other programs: SI units whatever the screen shows, and "infinity" as text."""

from __future__ import annotations

import contextlib
import dataclasses
import json
import math
from typing import Any

from pydantic import BaseModel

from assist.base.words import Words, speaking
from assist.plan.plan import Plan


def _plain(value: Any) -> Any:
    if isinstance(value, Plan):
        value = _plan(value)
    elif isinstance(value, BaseModel):
        value = value.model_dump()
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        value = _fields(value)
    if isinstance(value, dict):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner) for inner in value]
    if isinstance(value, float) and math.isinf(value):
        return "infinity" if value > 0 else "-infinity"  # JSON has no number for it
    return value


def _fields(value: Any) -> dict[str, Any]:
    return {x.name: getattr(value, x.name) for x in dataclasses.fields(value)}


def _plan(plan: Plan) -> dict[str, Any]:
    parts = _fields(plan)
    del parts["hyperfocal_m"]  # it stands with the zone
    parts["zone"] = _zone(plan)
    return parts


def _zone(plan: Plan) -> dict[str, Any]:
    """The focus zone, distances from the sensor plane.

    The room comes from the formulas for it: a difference of the limits has fewer digits.
    """
    zone, room, criterion = plan.zone, plan.set_up.depth_of_field, plan.set_up.criterion
    return {
        "near_m": zone.near_from_sensor_m,
        "focus_m": zone.best_from_sensor_m,
        "far_m": zone.far_from_sensor_m,
        "in_front_m": room.in_front_m,
        "behind_m": room.behind_m,
        "total_m": room.total_m,
        "hyperfocal_m": plan.hyperfocal_m,
        "circle_of_confusion_m": criterion.circle_of_confusion_m,
        "criterion": criterion.basis,
    }


def in_english(as_json: bool = True) -> contextlib.AbstractContextManager[None]:
    """Where a result for programs is made: its reasons are in English, whatever the screen says."""
    return speaking(Words()) if as_json else contextlib.nullcontext()


def to_json(result: Any) -> str:
    """Text of a result made of dataclasses and models."""
    return json.dumps(_plain(result), indent=2, allow_nan=False, ensure_ascii=False)
