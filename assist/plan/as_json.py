"""A plan for other programs: SI units whatever the screen shows, and "infinity" as text."""

from __future__ import annotations

import dataclasses
import json
import math
from typing import Any

from pydantic import BaseModel


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {x.name: _plain(getattr(value, x.name)) for x in dataclasses.fields(value)}
    if isinstance(value, BaseModel):
        return _plain(value.model_dump())
    if isinstance(value, dict):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner) for inner in value]
    if isinstance(value, float) and math.isinf(value):
        return "infinity" if value > 0 else "-infinity"  # JSON has no number for it
    return value


def to_json(result: Any) -> str:
    """Text of a result made of dataclasses and models."""
    return json.dumps(_plain(result), indent=2, allow_nan=False, ensure_ascii=False)
