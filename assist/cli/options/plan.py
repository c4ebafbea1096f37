"""The options of `assist plan`: where each goes in a set-up, and how errors name it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from assist.base.errors import UserError

_PICTURE = "The picture"
_LIGHT = "Light and movement"
_SEARCH = "To have lens, aperture and distance found"
_OUTPUT = "What to write"

Lenses = Annotated[
    list[str] | None,
    typer.Option(
        "--lens",
        help='A lens: 50mm, "50mm f/1.8", "24-70mm f/2.8-f/22 from 0.38m" (its nearest focus). '
        "Repeat it for every lens you own to have one chosen.",
    ),
]
Aperture = Annotated[str | None, typer.Option("--aperture", help="f/5.6 or 5.6.")]
Focus = Annotated[
    str | None,
    typer.Option(
        "--focus",
        "--distance",
        help="Focus distance from the sensor plane mark on the camera: 3m, 10ft, 10'6\". Left out, "
        "with --framing: where that fits.",
    ),
]
Name = Annotated[str | None, typer.Option("--name", help="A name for the set-up.")]
PictureWidth = Annotated[
    str | None,
    typer.Option(
        "--picture-width", rich_help_panel=_PICTURE, help="Width of the pictures in pixels: 6000."
    ),
]
Orientation = Annotated[
    str | None,
    typer.Option("--orientation", rich_help_panel=_PICTURE, help="landscape or portrait."),
]
Framing = Annotated[
    str | None,
    typer.Option(
        "--framing",
        rich_help_panel=_PICTURE,
        help="full-body, knees-up, waist-up, chest-up or head-and-shoulders.",
    ),
]
Headroom = Annotated[
    str | None,
    typer.Option("--headroom", rich_help_panel=_PICTURE, help="Part above the head: 8%."),
]
Across = Annotated[
    str | None,
    typer.Option(
        "--across",
        rich_help_panel=_PICTURE,
        help="Place of the person across the frame: 50% is the middle, 33% a third from the left.",
    ),
]
CameraHeight = Annotated[
    str | None,
    typer.Option(
        "--camera-height",
        rich_help_panel=_PICTURE,
        help="Height of the lens above the ground: 1.4m. Left out: level, at mid frame.",
    ),
]
Tilt = Annotated[
    str | None,
    typer.Option("--tilt", rich_help_panel=_PICTURE, help="Degrees, downwards positive: 5deg."),
]
Background = Annotated[
    str | None,
    typer.Option(
        "--background",
        rich_help_panel=_PICTURE,
        help="Distance of the background from the sensor plane: 8m, or inf.",
    ),
]
Posture = Annotated[
    str | None,
    typer.Option(
        "--posture",
        rich_help_panel=_PICTURE,
        help="standing, or seated (in a seat or wheelchair); auto is planned for as standing.",
    ),
]
SeatHeight = Annotated[
    str | None,
    typer.Option(
        "--seat-height",
        rich_help_panel=_PICTURE,
        help="Height of your seat with you on it, for --posture seated: 0.50m.",
    ),
]
Movement = Annotated[
    str | None,
    typer.Option("--movement", rich_help_panel=_LIGHT, help="standing, gesture or walking."),
]
Ev = Annotated[
    str | None,
    typer.Option("--ev", rich_help_panel=_LIGHT, help="Light: exposure value at ISO 100: 9."),
]
Metered = Annotated[
    str | None,
    typer.Option(
        "--metered",
        rich_help_panel=_LIGHT,
        help='Light, as an exposure that a meter or camera shows: "f/5.6 1/60 ISO 400".',
    ),
]
Shutter = Annotated[
    str | None, typer.Option("--shutter", rich_help_panel=_LIGHT, help="Shutter time: 1/60.")
]
Iso = Annotated[str | None, typer.Option("--iso", rich_help_panel=_LIGHT, help="ISO speed: 400.")]
Timer = Annotated[
    str | None,
    typer.Option("--timer", rich_help_panel=_LIGHT, help="Delay of the self-timer: 10s."),
]
RoomBefore = Annotated[
    str | None,
    typer.Option("--room-before", rich_help_panel=_SEARCH, help="Room wanted before you: 0.6m."),
]
RoomBehind = Annotated[
    str | None,
    typer.Option("--room-behind", rich_help_panel=_SEARCH, help="Room wanted behind you: 0.4m."),
]
PoseDepth = Annotated[
    str | None,
    typer.Option(
        "--pose-depth",
        rich_help_panel=_SEARCH,
        help="Instead of room: depth of the whole pose, all of it sharp: 0.8m.",
    ),
]
MaxDistance = Annotated[
    str | None,
    typer.Option(
        "--max-distance", rich_help_panel=_SEARCH, help="The place: camera to you at most: 6m."
    ),
]
IsoMax = Annotated[
    str | None,
    typer.Option(
        "--iso-max", rich_help_panel=_SEARCH, help="Highest ISO speed: 3200 (6400 if left out)."
    ),
]
LooserBy = Annotated[
    str | None,
    typer.Option(
        "--looser-by",
        rich_help_panel=_SEARCH,
        help="How much more than the framing the picture may show: 25%.",
    ),
]
Choose = Annotated[
    int | None,
    typer.Option(
        "--choose",
        min=1,
        rich_help_panel=_SEARCH,
        help="Which of the set-ups found to plan and save; the first if left out.",
    ),
]
Units = Annotated[str, typer.Option("--units", rich_help_panel=_OUTPUT, help="metres or feet.")]
Json = Annotated[
    bool,
    typer.Option("--json", rich_help_panel=_OUTPUT, help="JSON: SI units, infinity as text."),
]
Brief = Annotated[
    bool, typer.Option("--brief", rich_help_panel=_OUTPUT, help="Only focus zone and framing.")
]
CompareCriteria = Annotated[
    bool,
    typer.Option(
        "--compare-criteria",
        rich_help_panel=_OUTPUT,
        help="Add the zone under other criteria of sharpness.",
    ),
]
Save = Annotated[
    Path | None,
    typer.Option(
        "--save", metavar="FILE", rich_help_panel=_OUTPUT, help="Write the set-up (.toml)."
    ),
]
Replace = Annotated[
    bool,
    typer.Option(
        "--replace", rich_help_panel=_OUTPUT, help="Let --save write over an existing set-up."
    ),
]
Sheet = Annotated[
    Path | None,
    typer.Option(
        "--sheet", metavar="FILE", rich_help_panel=_OUTPUT, help="Write one page to print (.html)."
    ),
]
SideView = Annotated[
    Path | None,
    typer.Option(
        "--side-view",
        metavar="FILE",
        rich_help_panel=_OUTPUT,
        help="Draw the place to scale (.png, .svg).",
    ),
]
Curves = Annotated[
    Path | None,
    typer.Option(
        "--curves",
        metavar="FILE",
        rich_help_panel=_OUTPUT,
        help="Draw blur against distance (.png, .svg).",
    ),
]

# Where each option's value goes, by the option's name as an argument of the command.
PLACES = {
    "aperture": "lens.f_number",
    "focus": "lens.focus_distance_m",
    "name": "name",
    "sensor": "camera.sensor",
    "picture_width": "camera.picture_width_px",
    "orientation": "camera.orientation",
    "camera_height": "camera.height_m",
    "tilt": "camera.tilt_deg",
    "criterion": "sharpness.criterion",
    "stature": "person.stature_m",
    "posture": "person.posture",
    "seat_height": "person.seat_height_m",
    "movement": "person.movement",
    "framing": "framing.shot_size",
    "headroom": "framing.headroom",
    "across": "framing.across",
    "background": "place.background_distance_m",
    "ev": "exposure.light_ev100",
    "shutter": "exposure.shutter_s",
    "iso": "exposure.iso",
    "timer": "timer.delay_s",
    "room_before": "room_before_m",
    "room_behind": "room_behind_m",
    "pose_depth": "pose_depth_m",
    "max_distance": "farthest_m",
    "iso_max": "highest_iso",
    "looser_by": "looser_by",
}

NAMES = {place: "--" + option.replace("_", "-") for option, place in PLACES.items()} | {
    "lens.focal_length_mm": "--lens",
    "lens.minimum_focus_distance_m": "--lens",
    "lens.widest_f_number": "--lens",
    "lens.narrowest_f_number": "--lens",
}
"""How an error about a place names it to somebody who typed options."""


def put(values: dict[str, Any], place: str, value: object) -> None:
    """Set a nested value, if there is one to set."""
    if value is None:
        return
    *parts, last = place.split(".")
    for part in parts:
        values = values.setdefault(part, {})
        if not isinstance(values, dict):
            raise UserError(f"set-up: {part} must be a table of values, not {values!r}")
    values[last] = value
