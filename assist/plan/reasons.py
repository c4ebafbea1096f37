"""Why an answer is as it is, in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from assist.plan import formats
from assist.plan.formats import LengthFormat
from optics import framing, lens
from optics.planner import Bound, Candidate, NearMiss, Relaxation, Relaxed, Wishes

_SETS_DISTANCE: dict[Bound, str] = {
    "framing": "the framing sets the distance",
    "room": "the room wanted sets the distance",
    "light": "freezing the movement in this light sets the distance",
    "nearest focus": "the lens's nearest focus sets the distance",
}

_WIDER_FAILS: dict[Bound, str] = {
    "framing": "wider would not frame",
    "room": "wider leaves too little room",
    "light": "wider would not freeze the movement",
    "nearest focus": "wider would want to be nearer than the lens focuses",
    "brightness": "wider is too bright for the fastest shutter",
}

_WANTS: dict[Bound, str] = {
    "framing": "the framing",
    "room": "the room wanted",
    "light": "freezing the movement in this light",
    "nearest focus": "the lens's nearest focus",
}

_ALLOWS: dict[Bound, str] = {
    "place": "the place allows",
    "loosest framing": "the loosest framing allows",
}

_GIVEN_UP: dict[Bound, str] = {
    "light": "with as much light as it takes",
    "place": "with as much distance as it takes",
    "loosest framing": "with any looser framing",
}


def reason(found: Candidate, show: LengthFormat) -> str:
    """Why this distance and aperture, and what it costs."""
    parts = [_SETS_DISTANCE[found.set_by]]
    if found.wider_fails is not None:
        parts.append(_WIDER_FAILS[found.wider_fails])
    if found.cost.noise > 0 and found.speed is not None:
        parts.append(f"ISO {found.speed.label} is {_stops(found.cost.noise)} above the lowest")
    if found.cost.softness > 0:
        parts.append(f"diffraction shows, {_stops(found.cost.softness)} beyond its limit")
    if found.looser_by > 0.02:
        parts.append(f"{formats.percent(found.looser_by)} of the frame's height to spare")
    return "; ".join(parts)


def why_none(miss: NearMiss | None, wishes: Wishes, show: LengthFormat) -> str:
    """Which wish fails, and by how much, where it is nearest to being met."""
    if miss is None:
        if wishes.light is not None:
            return (
                "No lens and aperture comes near: too much or too little light for every shutter "
                "time, or no lens can be focused within the place."
            )
        return (
            f"No lens can be focused within {show.length(wishes.farthest_m)}, or none opens to an "
            "aperture of the dial."
        )
    f = miss.lens.focal_length_m
    least = float(lens.lens_to_sensor_distance_m(f, miss.at_least_m))
    most = float(lens.lens_to_sensor_distance_m(f, max(miss.at_most_m, 1.01 * f)))
    return (
        f"Nothing does it all. {miss.lens.name} at f/{miss.aperture.label} comes nearest: "
        f"{_WANTS[miss.wants]} wants {show.length(least)} or more, {_ALLOWS[miss.allows]} "
        f"{show.length(most)}: {show.length(least - most)} short."
    )


def suggestion(change: Relaxation, wishes: Wishes, show: LengthFormat) -> str:
    """The change as advice."""
    f = change.lens.focal_length_m
    distance = show.length(float(lens.lens_to_sensor_distance_m(f, change.focus_distance_m)))
    where = f" ({change.lens.name}, f/{change.aperture.label}, {distance})"
    beside = f", {_GIVEN_UP[change.beside]}" if change.beside else ""
    return _advice(change, wishes, show) + beside + where


def _advice(change: Relaxation, wishes: Wishes, show: LengthFormat) -> str:
    value, size = change.value, wishes.shot_size.name
    advice: dict[Relaxed, Callable[[], str]] = {
        "farthest distance": lambda: (
            f"{'sit' if wishes.figure.is_seated else 'stand'} {show.length(value)} from the camera"
        ),
        "looser framing": lambda: (
            f"frame {formats.percent(value - 1)} looser than {size} needs and crop afterwards"
        ),
        "tighter framing": lambda: _tighter(change, wishes),
        "less room": lambda: (
            f"make do with {formats.percent(value)} of the room: {_room(value, wishes, show)}"
        ),
        "higher ISO": lambda: f"let the ISO speed go up to {value:g}",
        "more light": lambda: _more_light(value, wishes),
        "slower movement": lambda: f"move no faster than {_speed(value)} across the picture",
        "another lens": lambda: f"use a lens of {value * 1000:g} mm",
    }
    return advice[change.what]()


def _more_light(ev100: float, wishes: Wishes) -> str:
    added = ev100 - wishes.light.ev100 if wishes.light else 0.0
    return f"add {_stops(added)} of light, to EV {ev100:.3g}"


def _tighter(change: Relaxation, wishes: Wishes) -> str:
    """The loosest shot size that fits there."""
    for size in framing.SHOT_SIZES:
        wanted = replace(wishes.framed, size=size)
        nearest = framing.focus_distance_to_fit_m(wanted, change.lens.focal_length_m)
        if nearest <= change.focus_distance_m:
            return f"frame tighter: {size.name} fits"
    share = formats.percent(change.value)
    return f"frame tighter, with {share} of the height ({wishes.shot_size.name})"


def _room(share: float, wishes: Wishes, show: LengthFormat) -> str:
    room = wishes.room.scaled(share)
    if room.in_all_m > 0:
        return f"{show.length(room.in_all_m)} in all"
    parts = []
    if room.in_front_m > 0:
        parts.append(f"{show.length(room.in_front_m)} before")
    if room.behind_m > 0:
        parts.append(f"{show.length(room.behind_m)} behind")
    return ", ".join(parts)


def _speed(speed_m_s: float) -> str:
    return f"{speed_m_s:.2g} m/s" if speed_m_s >= 0.1 else f"{speed_m_s * 100:.2g} cm/s"


def _stops(stops: float) -> str:
    """Stops in thirds: `1 stop`, `2/3 stop`, `1 1/3 stops`."""
    thirds = round(stops * 3)
    whole, rest = divmod(thirds, 3)
    text = " ".join(x for x in (str(whole) if whole else "", f"{rest}/3" if rest else "") if x)
    return f"{text or '0'} stop{'s' if stops > 1.01 else ''}"
