"""Helps a photographer who is alone with a camera on a tripod to stand in focus.

The data flows one way: set-up -> feed -> frame -> pose -> body -> distance -> verdict -> guidance
-> screen, sound, trigger, record. What a notebook needs is here, and is loaded where it is first
used:

>>> import assist
>>> assist.prepare_process()  # small solves on one thread; before NumPy is imported

Plan: where is it sharp, and what follows from lens, aperture and distance?

>>> set_up = assist.set_up_of("35mm", "f/2.8", "4m", stature="1.72m")
>>> zone = set_up.focus_zone
>>> print(f"sharp from {zone.near_from_sensor_m:.2f} to {zone.far_from_sensor_m:.2f} m")
sharp from 3.18 to 5.39 m
>>> assist.plan_for(set_up).framing.named
'full body'

Run over a clip, here the one that comes along, and get a moment a picture:

>>> set_up = assist.load_set_up(assist.sample("walk.set-up.toml"))
>>> for moment in assist.moments(assist.sample("walk.mp4"), set_up):
...     if moment.body is not None and moment.frame.time_s > 4:
...         break
>>> print(f"eyes about {moment.body.eyes_m:.0f} m from the lens")
eyes about 5 m from the lens

Measure one picture by itself; distances are from the lens, in metres:

>>> body = assist.measure(moment.frame.picture, set_up)
>>> abs(body.eyes_m / moment.body.eyes_m - 1) < 0.1
True

Importing this changes nothing in the process; `prepare_process` does, and says what.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from assist.base.errors import UserError
    from assist.base.system.libraries import prepare_process
    from assist.distance import BodyDistance
    from assist.guidance.assistant import Moment
    from assist.plan.plan import Plan
    from assist.plan.planning import plan_of as plan_for
    from assist.run.demo import sample
    from assist.run.in_python import measure, moments
    from assist.setup.profiles import ProfileFiles, Profiles
    from assist.setup.set_up import SetUp
    from assist.setup.set_up import load as load_set_up
    from assist.setup.set_up import save as save_set_up
    from assist.setup.stated import set_up_of
    from optics.focus_zone import FocusZone

__version__ = "0.2.0"

_WHERE = {
    "BodyDistance": "assist.distance:BodyDistance",
    "FocusZone": "optics.focus_zone:FocusZone",
    "Moment": "assist.guidance.assistant:Moment",
    "Plan": "assist.plan.plan:Plan",
    "ProfileFiles": "assist.setup.profiles:ProfileFiles",
    "Profiles": "assist.setup.profiles:Profiles",
    "SetUp": "assist.setup.set_up:SetUp",
    "UserError": "assist.base.errors:UserError",
    "load_set_up": "assist.setup.set_up:load",
    "measure": "assist.run.in_python:measure",
    "moments": "assist.run.in_python:moments",
    "plan_for": "assist.plan.planning:plan_of",
    "prepare_process": "assist.base.system.libraries:prepare_process",
    "sample": "assist.run.demo:sample",
    "save_set_up": "assist.setup.set_up:save",
    "set_up_of": "assist.setup.stated:set_up_of",
}

__all__ = [
    "BodyDistance",
    "FocusZone",
    "Moment",
    "Plan",
    "ProfileFiles",
    "Profiles",
    "SetUp",
    "UserError",
    "load_set_up",
    "measure",
    "moments",
    "plan_for",
    "prepare_process",
    "sample",
    "save_set_up",
    "set_up_of",
]


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module 'assist' has no attribute {name!r}")
    module, _colon, attribute = _WHERE[name].partition(":")
    return getattr(importlib.import_module(module), attribute)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
