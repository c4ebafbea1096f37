"""A set-up from a file and from values stated beside it, which go over the file's.

Values are named by their places in a set-up, such as "lens.f_number", and may be written as people
write them: "f/2.8", "3m".
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from assist.base.errors import UserError
from assist.base.validation import validated
from assist.base.words import _
from assist.setup import feed_profile as feed_profiles
from assist.setup import set_up as set_ups
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.profiles import beside, prefer_profile, prefer_view
from assist.setup.set_up import FeedPart, PersonPart, SetUp

NEEDED = ("lens.focal_length_mm", "lens.f_number", "lens.focus_distance_m")
_VIEW = "feed.horizontal_field_of_view_deg"
_ANY_APERTURE = "8"
"""For a lens whose aperture nobody stated: what a feed shows does not depend on it."""


def put(values: dict[str, Any], place: str, value: object, what: str = "") -> None:
    """Set the value at a place in nested values, unless it is None.

    Raises UserError, naming `what` the values are of, where a part of the place is no table.
    """
    if value is None:
        return
    *parts, last = place.split(".")
    for part in parts:
        values = values.setdefault(part, {})
        if not isinstance(values, dict):
            raise UserError(
                _("{what}: {part} must be a table of values", what=what or _("set-up"), part=part)
            )
    values[last] = value


def set_up_from(
    file: Path | None,
    stated: Mapping[str, Any],
    *,
    feed_profile: Path | None = None,
    names: Mapping[str, str] | None = None,
) -> SetUp:
    """The set-up of a file, None for none, with what is stated put over it.

    stated: values by their places.   feed_profile: a profile's file, which goes before every stated
    view.   names: what errors call a place; the place itself where it has no name.

    Raises UserError naming what is wrong, or what a set-up needs and lacks.
    """
    names = names or {}
    values: dict[str, Any] = {} if file is None else set_ups.read_values(file)
    what = _("set-up") if file is None else _("set-up file {file}", file=file)
    through = stated.get("feed.through")
    of_feed = values.get("feed")
    if isinstance(of_feed, dict) and "profile" in of_feed and feed_profile is not None:
        # Another profile of the same feed, as where a session is repeated: through the same lens.
        through = through or of_feed.get("through")
    for place, value in stated.items():
        put(values, place, value, what)
    if feed_profile is not None:
        put(values, "feed.profile", str(feed_profile), what)
        prefer_profile(values["feed"], feed_profiles.load(feed_profile), through)
    elif _VIEW in stated:
        prefer_view(values["feed"], stated[_VIEW], through)
    lens = values.get("lens", {})
    if not isinstance(lens, dict):
        raise UserError(_("{what}: {part} must be a table of values", what=what, part="lens"))
    missing = [names.get(place, place) for place in NEEDED if place.split(".")[1] not in lens]
    if missing:
        raise UserError(
            _(
                "the set-up lacks {missing}: give it, or a file with --set-up",
                missing=", ".join(missing),
            )
        )
    given = {*stated, *(() if feed_profile is None else ("feed.profile",))}
    typed = {place: names[place] for place in given if place in names}
    return set_ups.from_values(values, what, typed)


_SHORT = {
    "sensor": "camera.sensor",
    "picture_width": "camera.picture_width_px",
    "criterion": "sharpness.criterion",
    "stature": "person.stature_m",
    "posture": "person.posture",
    "framing": "framing.shot_size",
    "through": "feed.through",
    "crop": "feed.crop",
    "field_of_view": _VIEW,
}


def set_up_of(
    lens: str | float,
    aperture: str | float,
    focus: str | float,
    *,
    name: str = "",
    **stated: str | float | None,
) -> SetUp:
    """A set-up from focal length, aperture and focus distance, and what else is stated.

    Quantities may be written as people write them, "50mm", "f/5.6", "10ft"; bare numbers are
    millimetres and metres. The focus distance starts at the sensor plane.
    stated: sensor, picture_width, criterion, stature, posture, framing; and of the feed: through,
    crop, or field_of_view (degrees) of a feed with a lens of its own.

    Raises UserError naming what is wrong, and TypeError for anything else that is stated.
    """
    unknown = stated.keys() - _SHORT.keys()
    if unknown:
        known = ", ".join(_SHORT)
        raise TypeError(f"set_up_of() takes {known}, not {', '.join(sorted(unknown))}")
    values = {_SHORT[short]: value for short, value in stated.items() if value is not None}
    needed = dict(zip(NEEDED, (lens, aperture, focus), strict=True))
    return set_up_from(None, {"name": name, **needed, **values})


def feed_from(
    file: Path | None,
    stated: Mapping[str, Any],
    *,
    feed_profile: Path | None = None,
    names: Mapping[str, str] | None = None,
) -> tuple[FeedGeometry, float | None]:
    """How a feed sees, and the person's stature in metres, None where it is not stated.

    For what needs no whole set-up: no aperture, and no lens where the feed has one of its own.
    Arguments as of `set_up_from`. Raises UserError naming what is wrong, or what would do nothing.
    """
    names = names or {}
    if file is None and "lens.focal_length_mm" not in stated:
        return _without_lens(stated, feed_profile, names)
    if file is None:
        stated = {**stated, "lens.f_number": _ANY_APERTURE}
    set_up = set_up_from(file, stated, feed_profile=feed_profile, names=names)
    path = feed_profile or beside(set_up.feed.profile, file)
    profile = None if path is None else feed_profiles.load(path)
    return FeedGeometry.of(set_up, profile), set_up.person.stature_m


def _without_lens(
    stated: Mapping[str, Any], feed_profile: Path | None, names: Mapping[str, str]
) -> tuple[FeedGeometry, float | None]:
    for place in ("camera.sensor", "lens.focus_distance_m", "feed.crop"):
        if place in stated:
            raise UserError(
                _(
                    "{option} says nothing without the lens it goes with: give --lens, or a file "
                    "with --set-up",
                    option=names.get(place, place),
                )
            )
    through = stated.get("feed.through")
    if through == "taking-lens" and feed_profile is None:
        raise UserError(_("--through taking-lens: say through which, --lens and --focus"))
    values: dict[str, Any] = {} if through is None else {"through": through}
    if "feed.mirrored" in stated:
        values["mirrored"] = stated["feed.mirrored"]
    profile = None
    if feed_profile is not None:
        profile = feed_profiles.load(feed_profile)
        values["profile"] = str(feed_profile)
        prefer_profile(values, profile, through)
    elif _VIEW in stated:
        prefer_view(values, stated[_VIEW], through)
    feed = validated(FeedPart, values, _("the feed"), _in_part("feed", names))
    stature = {"stature_m": stated.get("person.stature_m")}
    person = validated(PersonPart, stature, _("set-up"), _in_part("person", names))
    return FeedGeometry(feed, profile=profile), person.stature_m


def _in_part(part: str, names: Mapping[str, str]) -> dict[str, str]:
    """What errors call the fields of one part of a set-up."""
    start = f"{part}."
    return {
        place.removeprefix(start): name for place, name in names.items() if place.startswith(start)
    }
