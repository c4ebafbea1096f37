"""`assist plan`: decide lens, aperture and place before walking into the picture."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console

from assist import set_up as set_up_file
from assist.errors import UserError
from assist.plan import table
from assist.plan.as_json import to_json
from assist.plan.forward import plan_of
from assist.plan.lens_owned import LensOwned, lens_owned
from assist.plan.shown import Shown, Units
from assist.set_up import SetUp

# Where each option goes in a set-up, and so how an error about that place names it.
_PLACES = {
    "lens.focal_length_mm": "--lens",
    "lens.f_number": "--aperture",
    "lens.focus_distance_m": "--distance",
    "lens.minimum_focus_distance_m": "--lens",
    "lens.widest_f_number": "--lens",
    "lens.narrowest_f_number": "--lens",
    "camera.sensor": "--sensor",
    "camera.picture_width_px": "--picture-width",
    "camera.orientation": "--orientation",
    "camera.height_m": "--camera-height",
    "camera.tilt_deg": "--tilt",
    "sharpness.criterion": "--criterion",
    "person.stature_m": "--stature",
    "person.movement": "--movement",
    "framing.shot_size": "--framing",
    "framing.headroom": "--headroom",
    "exposure.light_ev100": "--ev",
    "exposure.shutter_s": "--shutter",
    "exposure.iso": "--iso",
    "place.background_distance_m": "--background",
    "timer.delay_s": "--timer",
    "name": "--name",
}


def _put(values: dict[str, Any], place: str, value: object) -> None:
    """Set a nested value, if there is one to set."""
    if value is None:
        return
    *parts, last = place.split(".")
    for part in parts:
        values = values.setdefault(part, {})
    values[last] = value


def _lens_values(values: dict[str, Any], lens: LensOwned | None) -> None:
    if lens is None:
        return
    if lens.is_zoom:
        raise UserError(
            f"--lens {lens.name!r}: with --distance give the one focal length that the zoom is "
            "set to, such as 35mm"
        )
    _put(values, "lens.focal_length_mm", lens.focal_lengths_mm[0])
    _put(values, "lens.widest_f_number", lens.widest_f_number)
    _put(values, "lens.narrowest_f_number", lens.narrowest_f_number)
    _put(values, "lens.minimum_focus_distance_m", lens.minimum_focus_m)


def plan(
    lens: Annotated[
        list[str] | None,
        typer.Option(help='a lens: 50mm, "50mm f/1.8", "24-70mm f/2.8 from 0.38m"'),
    ] = None,
    aperture: Annotated[str | None, typer.Option(help="5.6 or f/5.6")] = None,
    distance: Annotated[
        str | None, typer.Option(help="focus distance from the sensor plane mark: 3m, 10ft, 10'6\"")
    ] = None,
    sensor: Annotated[
        str | None, typer.Option(help="full-frame, aps-c-1.5, four-thirds ..., or 23.6x15.7")
    ] = None,
    set_up: Annotated[
        Path | None, typer.Option("--set-up", help="start from this set-up file")
    ] = None,
    name: Annotated[str | None, typer.Option(help="a name for the set-up")] = None,
    criterion: Annotated[
        str | None,
        typer.Option(help="what counts as sharp: diagonal/1500, 0.02mm, 2px, print 30cm from 40cm"),
    ] = None,
    picture_width: Annotated[str | None, typer.Option(help="picture width in pixels")] = None,
    orientation: Annotated[str | None, typer.Option(help="landscape or portrait")] = None,
    camera_height: Annotated[
        str | None, typer.Option(help="height of the lens; left out: level at mid frame")
    ] = None,
    tilt: Annotated[str | None, typer.Option(help="tilt in degrees, downwards positive")] = None,
    stature: Annotated[str | None, typer.Option(help="body height: 1.75m, 5'9\"")] = None,
    framing: Annotated[
        str | None,
        typer.Option(help="full-body, knees-up, waist-up, chest-up or head-and-shoulders"),
    ] = None,
    headroom: Annotated[str | None, typer.Option(help="share above the head: 8%")] = None,
    movement: Annotated[str | None, typer.Option(help="standing, gesture or walking")] = None,
    background: Annotated[
        str | None, typer.Option(help="distance of the background: 8m, or inf")
    ] = None,
    ev: Annotated[str | None, typer.Option("--ev", help="light: exposure value at ISO 100")] = None,
    shutter: Annotated[str | None, typer.Option(help="shutter time: 1/60")] = None,
    iso: Annotated[str | None, typer.Option(help="ISO speed")] = None,
    timer: Annotated[str | None, typer.Option(help="delay of the self-timer: 10s")] = None,
    units: Annotated[str, typer.Option(help="metres or feet")] = "metres",
    json: Annotated[bool, typer.Option("--json", help="write JSON, in metres")] = False,
    brief: Annotated[bool, typer.Option("--brief", help="only focus zone and framing")] = False,
    save: Annotated[Path | None, typer.Option(help="write the set-up to this file")] = None,
) -> None:
    """Near and far limit, framing, softness, exposure, walking time: before walking in."""
    show = Shown(_units(units))
    values: dict[str, Any] = set_up_file.read_values(set_up) if set_up else {}
    lenses = [lens_owned(text) for text in lens or []]
    if len(lenses) > 1:
        raise UserError("--lens: with --distance give one lens, the one that is focused there")
    _lens_values(values, lenses[0] if lenses else None)
    for place, value in (
        ("lens.f_number", aperture),
        ("lens.focus_distance_m", distance),
        ("camera.sensor", sensor),
        ("camera.picture_width_px", picture_width),
        ("camera.orientation", orientation),
        ("camera.height_m", camera_height),
        ("camera.tilt_deg", tilt),
        ("sharpness.criterion", criterion),
        ("person.stature_m", stature),
        ("person.movement", movement),
        ("framing.shot_size", framing),
        ("framing.headroom", headroom),
        ("exposure.light_ev100", ev),
        ("exposure.shutter_s", shutter),
        ("exposure.iso", iso),
        ("place.background_distance_m", background),
        ("timer.delay_s", timer),
        ("name", name),
    ):
        _put(values, place, value)
    _require(values)
    made = set_up_file.from_values(values, f"set-up file {set_up}" if set_up else "plan", _PLACES)
    _show(made, show, as_json=json, brief=brief)
    if save is not None:
        set_up_file.save(made, save)
        if not json:
            print(f"\nSaved {save}")


def _units(text: str) -> Units:
    wanted = text.strip().lower()
    if wanted in ("metres", "meters", "m"):
        return "metres"
    if wanted in ("feet", "ft"):
        return "feet"
    raise UserError(f"--units: use metres or feet, not {text!r}")


def _require(values: dict[str, Any]) -> None:
    """Say which of the three numbers that every plan needs are missing, all at once."""
    part = values.get("lens", {})
    examples = {
        "focal_length_mm": "--lens 50mm",
        "f_number": "--aperture f/5.6",
        "focus_distance_m": "--distance 3m",
    }
    missing = [example for field, example in examples.items() if field not in part]
    if missing:
        raise UserError(f"plan: missing {', '.join(missing)} (for example), or a --set-up file")


def _show(made: SetUp, show: Shown, *, as_json: bool, brief: bool) -> None:
    result = plan_of(made)
    if as_json:
        print(to_json(result))
    else:
        table.print_plan(result, show, Console(highlight=False), brief=brief)
