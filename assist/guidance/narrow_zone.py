"""Whether a zone can be told at all by measuring, and what would help where it cannot."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from assist.base.words import _, current
from assist.distance import Size
from assist.guidance.focus_plane import FOCUS_SD, MARK_SD
from assist.guidance.verdict import NINETY_PERCENT
from assist.setup.body import ADULT_STATURE_M, Person
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import SetUp
from optics import exposure
from optics.focus_zone import FocusZone
from optics.plane_of_focus import circles_of_confusion

_OWN_SD = 0.012
"""What a picture of somebody who stands and is seen whole adds to what is the same in all of them,
relative (`tests.benchmarks.distance_real`)."""
_REPEATED_SD = 0.006
"""The same against a mark that was taught (`tests.benchmarks.repeatability`)."""
_NARROWEST = 32.0
_FARTHER = 2.0
"""Nobody is sent more than so many times as far: it would be another picture."""
_SHORT_M = 0.3


@dataclass(frozen=True, slots=True)
class NarrowZone:
    """A zone that is too narrow to be told by measuring.

    depth_m: from its near to its far limit.   needed: half of the 90 % interval, relative.
    told_m: the same at the mark, metres.
    f_number: the full stop that would make it deep enough; None where none would.
    distance_m: the focus distance that would, from the sensor plane; None where that is too far.
    mark_helps: whether a mark that is taught makes it deep enough.
    """

    depth_m: float
    told_m: float
    f_number: float | None
    distance_m: float | None
    mark_helps: bool


def narrow_zone(set_up: SetUp, person: Person, geometry: FeedGeometry) -> NarrowZone | None:
    """The zone of a set-up if it is too narrow for what can be measured; None where it is not."""
    lens, zone = set_up.lens, set_up.focus_zone
    if math.isinf(zone.far_m):
        return None
    if person.unknown:  # what to do about that is told elsewhere, and is worth more
        person = Person(ADULT_STATURE_M)
    needed = NINETY_PERCENT * math.hypot(
        best_common_sd(person), geometry.distance_sd, FOCUS_SD[lens.focused_by], _OWN_SD
    )
    half = half_depth(zone)
    if half >= needed:
        return None
    # Blur at a limit is c, so c / A = half / (1 - half) grows with the f-number and with s - f.
    more = needed / (1 - needed) / (half / (1 - half))
    stops = [
        stop.nominal
        for stop in exposure.APERTURES.full_stops
        if stop.nominal >= more * lens.f_number
    ]
    f_number = min(stops, default=math.inf)
    distance_m = more * zone.best_m + zone.sensor_offset_m
    taught = NINETY_PERCENT * math.hypot(_REPEATED_SD, MARK_SD[lens.focused_by])
    return NarrowZone(
        zone.far_m - zone.near_m,
        needed * zone.best_m,
        f_number if f_number <= _NARROWEST else None,
        distance_m if more <= _FARTHER else None,
        taught <= half,
    )


def half_depth(zone: FocusZone) -> float:
    """From the plane of focus to the near limit, the lesser of the two, relative."""
    return 1.0 / (1.0 + circles_of_confusion(zone))


def best_common_sd(person: Person) -> float:
    """How well the sizes of body and face together tell a distance, relative."""
    both = person.shape.size_covariance[np.ix_([Size.BODY, Size.FACE], [Size.BODY, Size.FACE])]
    return float(1.0 / math.sqrt(float(np.linalg.inv(both).sum())))


def told(narrow: NarrowZone, length: Callable[[float], str] | None = None) -> str:
    """What to say of it before a run, in one line; `length` tells lengths, in metres."""
    say, length = current(), length or _length
    line = _(
        "the zone is {depth} deep, and your distance is known to {spread} either way",
        depth=length(narrow.depth_m),
        spread=length(narrow.told_m),
    )
    if narrow.mark_helps:
        ways = [_("teach the mark (--teach-mark)")]
    else:
        ways = [_("take three test pictures (assist calibrate focus)")]
    if narrow.f_number is not None:
        ways.append(_("use f/{f_number}", f_number=say.decimal(f"{narrow.f_number:g}")))
    if narrow.distance_m is not None:
        ways.append(_("focus at {distance}", distance=length(narrow.distance_m)))
    return _("{line}: {ways}", line=line, ways=_(", or ").join(ways))


def _length(metres: float) -> str:
    say = current()
    return say.short_length(metres) if metres < _SHORT_M else say.length(metres, 2)
