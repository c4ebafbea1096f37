"""The options of `assist plan`, in the groups that its help lists them in."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from assist.base.errors import UserError
from assist.base.words import _
from assist.cli.options import common, of_model
from assist.cli.options import set_up as set_ups
from assist.cli.options.of_model import Of
from assist.cli.options.values import remark_far
from assist.plan.search_request import SearchRequest
from assist.setup.set_up import SetUp

_PICTURE = "The picture"
_LIGHT = "Light and movement"
_SEARCH = "To have lens, aperture and distance found"
_OUTPUT = "What to write"


@dataclass(frozen=True)
class LensOptions:
    """The lens and how it is set."""

    lens: Annotated[
        list[str] | None,
        typer.Option(
            "--lens",
            help='A lens: 50mm, "50mm f/1.8", "24-70mm f/2.8-f/22 from 0.38m" (its nearest '
            "focus). Repeat it for every lens you own to have one chosen.",
        ),
    ] = None
    aperture: Annotated[str | None, Of(SetUp, "lens.f_number")] = None
    focus: Annotated[
        str | None,
        Of(
            SetUp,
            "lens.focus_distance_m",
            names=("--focus", "--distance"),
            more="Left out, with --framing: where that fits.",
        ),
    ] = None
    set_up: set_ups.SetUpFile = None
    name: Annotated[str | None, Of(SetUp, "name")] = None
    sensor: set_ups.Sensor = None
    criterion: set_ups.Criterion = None
    stature: set_ups.Stature = None


@dataclass(frozen=True)
class PictureOptions:
    """What the picture shows, and how the camera stands for it."""

    picture_width: Annotated[str | None, Of(SetUp, "camera.picture_width_px", _PICTURE)] = None
    orientation: Annotated[str | None, Of(SetUp, "camera.orientation", _PICTURE)] = None
    framing: Annotated[str | None, Of(SetUp, "framing.shot_size", _PICTURE)] = None
    headroom: Annotated[str | None, Of(SetUp, "framing.headroom", _PICTURE)] = None
    across: Annotated[str | None, Of(SetUp, "framing.across", _PICTURE)] = None
    camera_height: Annotated[
        str | None,
        Of(SetUp, "camera.height_m", _PICTURE, more="Left out: level, at mid frame."),
    ] = None
    tilt: Annotated[str | None, Of(SetUp, "camera.tilt_deg", _PICTURE)] = None
    background: Annotated[str | None, Of(SetUp, "place.background_distance_m", _PICTURE)] = None
    posture: Annotated[
        str | None,
        Of(SetUp, "person.posture", _PICTURE, more="auto is planned for as standing."),
    ] = None
    seat_height: Annotated[
        str | None, Of(SetUp, "person.seat_height_m", _PICTURE, more="For --posture seated.")
    ] = None


@dataclass(frozen=True)
class LightOptions:
    """Light, exposure, movement and the self-timer."""

    movement: Annotated[str | None, Of(SetUp, "person.movement", _LIGHT)] = None
    ev: Annotated[str | None, Of(SetUp, "exposure.light_ev100", _LIGHT)] = None
    metered: Annotated[
        str | None,
        typer.Option(
            "--metered",
            rich_help_panel=_LIGHT,
            help='Light, as an exposure that a meter or camera shows: "f/5.6 1/60 ISO 400".',
        ),
    ] = None
    shutter: Annotated[str | None, Of(SetUp, "exposure.shutter_s", _LIGHT)] = None
    iso: Annotated[str | None, Of(SetUp, "exposure.iso", _LIGHT)] = None
    timer: Annotated[str | None, Of(SetUp, "timer.delay_s", _LIGHT)] = None


@dataclass(frozen=True)
class SearchOptions:
    """What is wanted, to have lens, aperture and distance found."""

    room_before: Annotated[str | None, Of(SearchRequest, "room_before_m", _SEARCH)] = None
    room_behind: Annotated[str | None, Of(SearchRequest, "room_behind_m", _SEARCH)] = None
    pose_depth: Annotated[str | None, Of(SearchRequest, "pose_depth_m", _SEARCH)] = None
    max_distance: Annotated[str | None, Of(SearchRequest, "farthest_m", _SEARCH)] = None
    iso_max: Annotated[
        str | None, Of(SearchRequest, "highest_iso", _SEARCH, more="6400 if left out.")
    ] = None
    looser_by: Annotated[str | None, Of(SearchRequest, "looser_by", _SEARCH)] = None
    choose: Annotated[
        int | None,
        typer.Option(
            "--choose",
            min=1,
            rich_help_panel=_SEARCH,
            help="Which of the set-ups found to plan and save; the first if left out.",
        ),
    ] = None

    @property
    def wanted(self) -> bool:
        """Whether something is to be found at all."""
        sought = (self.room_before, self.room_behind, self.pose_depth)
        return any(room is not None for room in sought)


@dataclass(frozen=True)
class OutputOptions:
    """How and where to write the result."""

    units: common.PlanUnits = "metres"
    json: Annotated[
        bool,
        typer.Option("--json", rich_help_panel=_OUTPUT, help="JSON: SI units, infinity as text."),
    ] = False
    full: Annotated[
        bool,
        typer.Option(
            "--full",
            rich_help_panel=_OUTPUT,
            help="All tables too: shot sizes, field covered, softness, shutter times, apertures, "
            "marks.",
        ),
    ] = False
    compare_criteria: Annotated[
        bool,
        typer.Option(
            "--compare-criteria",
            rich_help_panel=_OUTPUT,
            help="Add the zone under other criteria of sharpness.",
        ),
    ] = False
    save: Annotated[
        Path | None,
        typer.Option(
            "--save", metavar="FILE", rich_help_panel=_OUTPUT, help="Write the set-up (.toml)."
        ),
    ] = None
    replace_file: Annotated[
        bool,
        typer.Option(
            "--replace", rich_help_panel=_OUTPUT, help="Let --save write over an existing set-up."
        ),
    ] = False
    sheet_file: Annotated[
        Path | None,
        typer.Option(
            "--sheet",
            metavar="FILE",
            rich_help_panel=_OUTPUT,
            help="Write one page to print (.html).",
        ),
    ] = None
    side_view_file: Annotated[
        Path | None,
        typer.Option(
            "--side-view",
            metavar="FILE",
            rich_help_panel=_OUTPUT,
            help="Draw the place to scale (.png, .svg).",
        ),
    ] = None
    curves_file: Annotated[
        Path | None,
        typer.Option(
            "--curves",
            metavar="FILE",
            rich_help_panel=_OUTPUT,
            help="Draw blur against distance (.png, .svg).",
        ),
    ] = None


_KINDS = (LensOptions, PictureOptions, LightOptions, SearchOptions)

NAMES = {
    **of_model.names(*_KINDS),
    "lens.focal_length_mm": "--lens",
    "lens.minimum_focus_distance_m": "--lens",
    "lens.widest_f_number": "--lens",
    "lens.narrowest_f_number": "--lens",
}
"""How an error about a place names it to somebody who typed options."""


def stated(*groups: Any) -> dict[str, Any]:
    """What the options state, by places; lengths that may not have meant metres are remarked."""
    found = of_model.stated(*groups)
    for place, value in found.items():
        if place.endswith("_m"):
            remark_far(NAMES[place], value)
    return found


def refuse_in_search(*groups: Any) -> None:
    """UserError for an option of a plan, rather than ignoring it."""
    only = ("lens.f_number", "lens.focus_distance_m", "camera.tilt_deg", "exposure.shutter_s")
    given = of_model.stated(*groups)
    for place in (*only, "exposure.iso"):
        if place in given:
            raise UserError(
                _(
                    "{option} is for a plan, not for a search: leave it out",
                    option=NAMES[place],
                )
            )


def refuse_in_plan(search: SearchOptions) -> None:
    """UserError for an option of a search, rather than ignoring it."""
    given = [NAMES[place] for place in of_model.stated(search)]
    if search.choose is not None:
        given.append("--choose")
    if given:
        raise UserError(
            _(
                "{option} is for a search: say --room-before, --room-behind or --pose-depth",
                option=given[0],
            )
        )
