"""Why an answer is as it is, in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from assist.base import terms
from assist.base.words import N_, _
from assist.plan import formats
from assist.plan.formats import LengthFormat
from optics import framing, lens
from optics.planner import Bound, Candidate, NearMiss, Relaxation, Relaxed, Wishes

_SETS_DISTANCE: dict[Bound, str] = {
    "framing": N_("the framing sets the distance"),
    "room": N_("the room wanted sets the distance"),
    "light": N_("freezing the movement in this light sets the distance"),
    "nearest focus": N_("the lens's nearest focus sets the distance"),
}

_WIDER_FAILS: dict[Bound, str] = {
    "framing": N_("wider would not frame"),
    "room": N_("wider leaves too little room"),
    "light": N_("wider would not freeze the movement"),
    "nearest focus": N_("wider would want to be nearer than the lens focuses"),
    "brightness": N_("wider is too bright for the fastest shutter"),
}

_WANTS: dict[Bound, str] = {
    "framing": N_("the framing"),
    "room": N_("the room wanted"),
    "light": N_("freezing the movement in this light"),
    "nearest focus": N_("the lens's nearest focus"),
}

_ALLOWS: dict[Bound, str] = {
    "place": N_("the place allows"),
    "loosest framing": N_("the loosest framing allows"),
}

_GIVEN_UP: dict[Bound, str] = {
    "light": N_("with as much light as it takes"),
    "place": N_("with as much distance as it takes"),
    "loosest framing": N_("with any looser framing"),
}


def reason(found: Candidate, show: LengthFormat) -> str:
    """Why this distance and aperture, and what it costs."""
    parts = [_(_SETS_DISTANCE[found.set_by])]
    if found.wider_fails is not None:
        parts.append(_(_WIDER_FAILS[found.wider_fails]))
    if found.cost.noise > 0 and found.speed is not None:
        parts.append(
            _(
                "ISO {speed} is {stops} above the lowest",
                speed=found.speed.label,
                stops=_stops(found.cost.noise),
            )
        )
    if found.cost.softness > 0:
        stops = _stops(found.cost.softness)
        parts.append(_("diffraction shows, {stops} beyond its limit", stops=stops))
    if found.looser_by > 0.02:
        share = formats.percent(found.looser_by)
        parts.append(_("{share} of the frame's height to spare", share=share))
    return "; ".join(parts)


def why_none(miss: NearMiss | None, wishes: Wishes, show: LengthFormat) -> str:
    """Which wish fails, and by how much, where it is nearest to being met."""
    if miss is None:
        if wishes.light is not None:
            return _(
                "No lens and aperture comes near: too much or too little light for every shutter "
                "time, or no lens can be focused within the place."
            )
        return _(
            "No lens can be focused within {distance}, or none opens to an aperture of the dial.",
            distance=show.length(wishes.farthest_m),
        )
    f = miss.lens.focal_length_m
    least = float(lens.lens_to_sensor_distance_m(f, miss.at_least_m))
    most = float(lens.lens_to_sensor_distance_m(f, max(miss.at_most_m, 1.01 * f)))
    return _(
        "Nothing does it all. {lens} at {aperture} comes nearest: {wish} wants {least} or more, "
        "{bound} {most}: {missing} short.",
        lens=formats.number(miss.lens.name),
        aperture=formats.number(f"f/{miss.aperture.label}"),
        wish=_(_WANTS[miss.wants]),
        least=show.length(least),
        bound=_(_ALLOWS[miss.allows]),
        most=show.length(most),
        missing=show.length(least - most),
    )


def suggestion(change: Relaxation, wishes: Wishes, show: LengthFormat) -> str:
    """The change as advice."""
    f = change.lens.focal_length_m
    values = {
        "advice": _advice(change, wishes, show),
        "lens": formats.number(change.lens.name),
        "aperture": formats.number(f"f/{change.aperture.label}"),
        "distance": show.length(float(lens.lens_to_sensor_distance_m(f, change.focus_distance_m))),
    }
    if not change.beside:
        return _("{advice} ({lens}, {aperture}, {distance})", **values)
    beside = _(_GIVEN_UP[change.beside])
    return _("{advice}, {beside} ({lens}, {aperture}, {distance})", beside=beside, **values)


def _advice(change: Relaxation, wishes: Wishes, show: LengthFormat) -> str:
    value = change.value
    advice: dict[Relaxed, Callable[[], str]] = {
        "farthest distance": lambda: _farther(show.length(value), wishes),
        "looser framing": lambda: _(
            "frame {share} looser than {shot_size} needs and crop afterwards",
            share=formats.percent(value - 1),
            shot_size=terms.told(wishes.shot_size.name),
        ),
        "tighter framing": lambda: _tighter(change, wishes),
        "less room": lambda: _(
            "make do with {share} of the room: {room}",
            share=formats.percent(value),
            room=_room(value, wishes, show),
        ),
        "higher ISO": lambda: _("let the ISO speed go up to {speed}", speed=formats.iso(value)),
        "more light": lambda: _more_light(value, wishes),
        "slower movement": lambda: _(
            "move no faster than {speed} across the picture", speed=_speed(value)
        ),
        "another lens": lambda: _(
            "use a lens of {focal_length}", focal_length=formats.focal_length(value * 1000)
        ),
    }
    return advice[change.what]()


def _farther(distance: str, wishes: Wishes) -> str:
    if wishes.figure.is_seated:
        return _("sit {distance} from the camera", distance=distance)
    return _("stand {distance} from the camera", distance=distance)


def _more_light(ev100: float, wishes: Wishes) -> str:
    added = ev100 - wishes.light.ev100 if wishes.light else 0.0
    light = formats.exposure_value(ev100)
    return _("add {stops} of light, to EV {light}", stops=_stops(added), light=light)


def _tighter(change: Relaxation, wishes: Wishes) -> str:
    """The loosest shot size that fits there."""
    for size in framing.SHOT_SIZES:
        wanted = replace(wishes.framed, size=size)
        nearest = framing.focus_distance_to_fit_m(wanted, change.lens.focal_length_m)
        if nearest <= change.focus_distance_m:
            return _("frame tighter: {shot_size} fits", shot_size=terms.told(size.name))
    return _(
        "frame tighter, with {share} of the height ({shot_size})",
        share=formats.percent(change.value),
        shot_size=terms.told(wishes.shot_size.name),
    )


def _room(share: float, wishes: Wishes, show: LengthFormat) -> str:
    room = wishes.room.scaled(share)
    if room.in_all_m > 0:
        return _("{room} in all", room=show.length(room.in_all_m))
    parts = []
    if room.in_front_m > 0:
        parts.append(_("{room} before", room=show.length(room.in_front_m)))
    if room.behind_m > 0:
        parts.append(_("{room} behind", room=show.length(room.behind_m)))
    return ", ".join(parts)


def _speed(speed_m_s: float) -> str:
    return formats.number(
        f"{speed_m_s:.2g} m/s" if speed_m_s >= 0.1 else f"{speed_m_s * 100:.2g} cm/s"
    )


def _stops(stops: float) -> str:
    """Stops in thirds: `1 stop`, `2/3 stop`, `1 1/3 stops`."""
    thirds = round(stops * 3)
    whole, rest = divmod(thirds, 3)
    text = " ".join(x for x in (str(whole) if whole else "", f"{rest}/3" if rest else "") if x)
    number = text or "0"
    return _("{number} stops", number=number) if stops > 1.01 else _("{number} stop", number=number)
