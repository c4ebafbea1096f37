"""`assist plan`: decide lens, aperture and place before walking into the picture."""

from __future__ import annotations

import io
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer
from rich.console import Console
from rich.text import Text

from assist.base.errors import UserError
from assist.base.files import refuse_existing
from assist.cli.examples import examples
from assist.cli.options import plan as po
from assist.cli.options import set_up as so
from assist.cli.options.set_up import units_name
from assist.cli.options.values import remark_far
from assist.plan import criteria, figure_files, procedure, search_table, sheet, tables
from assist.plan.as_json import in_english, to_json
from assist.plan.blur_curves import curves
from assist.plan.focus_for_framing import focus_for
from assist.plan.formats import LengthFormat
from assist.plan.lens_owned import LensOwned, lens_owned
from assist.plan.plan import Plan
from assist.plan.planning import plan_of
from assist.plan.search import search_set_ups
from assist.plan.search_request import exposure_value_of, lens_choices, request_from_values
from assist.plan.side_view import side_view
from assist.plan.text_drawing import drawing
from assist.setup import set_up as set_up_file

NOTHING_FOUND = 1
"""Exit code when the wishes exclude each other: no mistake, but nothing to go on with either."""

_ONLY_FORWARD = ("aperture", "focus", "tilt", "shutter", "iso")
_ONLY_SEARCH = (
    "room_before",
    "room_behind",
    "pose_depth",
    "max_distance",
    "iso_max",
    "looser_by",
    "choose",
)


EXAMPLES = examples(
    "assist plan --lens 50mm --aperture f/5.6 --focus 3m --stature 1.75m --ev 9",
    'assist plan --room-before 0.6m --room-behind 0.4m --framing knees-up --lens "35mm f/1.8" '
    '--lens "50mm f/1.8" --max-distance 6m --ev 9 --iso-max 3200',
    "assist plan --lens 35mm --aperture f/2 --focus 4m --save set-up.toml --sheet plan.html",
    "assist plan --lens 85mm --aperture f/2 --framing full-body --stature 1.70m",
    "assist plan --set-up set-up.toml --posture seated --brief",
)


def plan(
    lens: po.Lenses = None,
    aperture: po.Aperture = None,
    focus: po.Focus = None,
    set_up: so.SetUpFile = None,
    name: po.Name = None,
    sensor: so.Sensor = None,
    criterion: so.Criterion = None,
    stature: so.Stature = None,
    picture_width: po.PictureWidth = None,
    orientation: po.Orientation = None,
    framing: po.Framing = None,
    headroom: po.Headroom = None,
    across: po.Across = None,
    camera_height: po.CameraHeight = None,
    tilt: po.Tilt = None,
    background: po.Background = None,
    posture: po.Posture = None,
    seat_height: po.SeatHeight = None,
    movement: po.Movement = None,
    ev: po.Ev = None,
    metered: po.Metered = None,
    shutter: po.Shutter = None,
    iso: po.Iso = None,
    timer: po.Timer = None,
    room_before: po.RoomBefore = None,
    room_behind: po.RoomBehind = None,
    pose_depth: po.PoseDepth = None,
    max_distance: po.MaxDistance = None,
    iso_max: po.IsoMax = None,
    looser_by: po.LooserBy = None,
    choose: po.Choose = None,
    units: po.Units = "metres",
    json: po.Json = False,
    brief: po.Brief = False,
    compare_criteria: po.CompareCriteria = False,
    save: po.Save = None,
    replace_file: po.Replace = False,
    sheet_file: po.Sheet = None,
    side_view_file: po.SideView = None,
    curves_file: po.Curves = None,
) -> None:
    """Decide everything before walking into the picture.

    With lens, aperture and focus distance: what follows from them; with a framing instead of the
    distance, where it fits. With the room you want and the lenses you own: which lens, distance and
    aperture to take.
    """
    typed = {
        "aperture": aperture, "focus": focus, "name": name, "sensor": sensor,
        "criterion": criterion, "stature": stature, "picture_width": picture_width,
        "orientation": orientation, "framing": framing, "headroom": headroom, "across": across,
        "camera_height": camera_height, "tilt": tilt, "background": background,
        "posture": posture, "seat_height": seat_height, "movement": movement,
        "ev": ev, "shutter": shutter, "iso": iso, "timer": timer,
        "room_before": room_before, "room_behind": room_behind, "pose_depth": pose_depth,
        "max_distance": max_distance, "iso_max": iso_max, "looser_by": looser_by,
    }  # fmt: skip
    texts = {option: text for option, text in typed.items() if text is not None}
    if save is not None:
        refuse_existing(save, replace_file)
    output = _Output(
        LengthFormat(units_name(units)),
        json,
        brief,
        compare_criteria,
        save,
        sheet_file,
        side_view_file,
        curves_file,
    )
    values: dict[str, Any] = set_up_file.read_values(set_up) if set_up else {}
    if metered is not None:
        if ev is not None:
            raise UserError("give the light once: --ev or --metered")
        po.put(values, "exposure.light_ev100", exposure_value_of(metered))
    lenses = [lens_owned(text) for text in lens or []]
    if {"room_before", "room_behind", "pose_depth"} & texts.keys():
        _refuse(texts, _ONLY_FORWARD, "is for a plan, not for a search: leave it out")
        _search(values, texts, lenses, 1 if choose is None else choose, output)
    else:
        given = texts if choose is None else {**texts, "choose": str(choose)}
        _refuse(
            given, _ONLY_SEARCH, "is for a search: say --room-before, --room-behind or --pose-depth"
        )
        _forward(values, texts, lenses, f"set-up file {set_up}" if set_up else "plan", output)


@dataclass(frozen=True)
class _Output:
    """How and where to write the result."""

    show: LengthFormat
    as_json: bool
    brief: bool
    compare: bool
    save: Path | None
    sheet: Path | None
    side_view: Path | None
    curves: Path | None

    def __post_init__(self) -> None:
        for path in (self.side_view, self.curves):
            if path is not None:
                figure_files.checked_name(path)
        if self.sheet is not None and self.sheet.suffix.lower() not in (".html", ".htm"):
            raise UserError(
                f"{self.sheet}: the name of a sheet ends in .html; print it from a browser"
            )

    def say(self, text: str) -> None:
        """A line for a person, kept out of what a program reads."""
        if not self.as_json:
            print(text)

    def files(self, plan: Plan) -> None:
        """Every file asked for."""
        made: list[Path] = []
        if self.save is not None:
            set_up_file.save(plan.set_up, self.save)
            made.append(self.save)
        if self.sheet is not None:
            sheet.write(plan, self.show, self.sheet)
            made.append(self.sheet)
        if self.side_view is not None:
            figure_files.write(side_view, plan, self.show, self.side_view)
            made.append(self.side_view)
        if self.curves is not None:
            figure_files.write(curves, plan, self.show, self.curves)
            made.append(self.curves)
        if made:
            self.say("\nWritten: " + ", ".join(str(path) for path in made))


def _forward(
    values: dict[str, Any],
    texts: dict[str, str],
    lenses: list[LensOwned],
    what: str,
    output: _Output,
) -> None:
    if len(lenses) > 1:
        raise UserError("--lens: give one lens for a plan, or the room you want to have one chosen")
    for owned in lenses:
        _put_lens(values, owned)
    _put_all(values, texts)
    _require(values)
    _refuse_seat(values, texts)
    found = None
    if "focus_distance_m" not in values["lens"]:
        with in_english(output.as_json):
            found = focus_for(values, what, po.NAMES, output.show)
        po.put(values, "lens.focus_distance_m", found.focus_distance_m)
        what += f" (focused at {found.focus_distance_m:g} m, {found.reason})"
    set_up = set_up_file.from_values(values, what, po.NAMES)
    made = plan_of(set_up, None if found is None else found.reason)
    if output.as_json:
        print(to_json(made))
    else:
        _print_plan(made, output, _console())
    output.files(made)


def _search(
    values: dict[str, Any],
    texts: dict[str, str],
    lenses: list[LensOwned],
    choose: int,
    output: _Output,
) -> None:
    known = values.pop("lens", {})
    values.pop("version", None)
    values.pop("feed", None)  # a search says nothing of the feed
    if not lenses and isinstance(known, dict) and "focal_length_mm" in known:
        lenses = [lens_owned(f"{known['focal_length_mm']} mm")]
    if not lenses:
        raise UserError('--lens: name the lenses you own, such as --lens "50mm f/1.8"')
    _put_all(values, texts)
    _refuse_seat(values, texts)
    request = request_from_values(values, po.NAMES)
    try:
        with in_english(output.as_json):
            outcome = search_set_ups(request, lens_choices(lenses), output.show, choose)
    except IndexError as error:
        raise UserError(f"--choose: there is no set-up number {choose}") from error
    console = _console()
    if output.as_json:
        print(to_json(outcome))
    else:
        search_table.print_outcome(outcome, output.show, console)
    if outcome.plan is None:
        raise typer.Exit(NOTHING_FOUND)
    if not output.as_json:
        _print_plan(outcome.plan, output, console)
    output.files(outcome.plan)


def _print_plan(plan: Plan, output: _Output, console: Console) -> None:
    tables.print_head(plan, output.show, console)
    console.print(Text("\n" + drawing(plan, output.show), no_wrap=True, overflow="crop"))
    tables.print_sections(plan, output.show, console, brief=output.brief)
    if output.compare:
        criteria.print_compared(plan.set_up, output.show, console)
    if not output.brief:
        procedure.print_steps(plan, output.show, console)


def _console() -> Console:
    # A terminal without some letter of a set-up's name shows a question mark, not a traceback.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")
    return Console(highlight=False, soft_wrap=False)


def _put_all(values: dict[str, Any], texts: dict[str, str]) -> None:
    for option, text in texts.items():
        place = po.PLACES[option]
        if place.endswith("_m"):
            remark_far(f"--{option.replace('_', '-')}", text)
        po.put(values, place, text)


def _put_lens(values: dict[str, Any], owned: LensOwned) -> None:
    if owned.is_zoom:
        raise UserError(
            f"--lens {owned.name!r}: for a plan give the one focal length that the zoom is set "
            "to, such as 35mm"
        )
    po.put(values, "lens.focal_length_mm", owned.focal_lengths_mm[0])
    po.put(values, "lens.widest_f_number", owned.widest_f_number)
    po.put(values, "lens.narrowest_f_number", owned.narrowest_f_number)
    po.put(values, "lens.minimum_focus_distance_m", owned.minimum_focus_m)


def _refuse(texts: dict[str, str], options: tuple[str, ...], why: str) -> None:
    """Refuse an option of the other way round, rather than ignore it."""
    for option in options:
        if option in texts:
            raise UserError(f"--{option.replace('_', '-')} {why}")


def _refuse_seat(values: dict[str, Any], texts: dict[str, str]) -> None:
    """Refuse a seat's height for somebody who is planned for as standing."""
    if "seat_height" in texts and values["person"].get("posture") != "seated":
        raise UserError("--seat-height is for who sits: say --posture seated with it")


def _require(values: dict[str, Any]) -> None:
    """Say which of the three numbers that every plan needs are missing, all at once."""
    part = values.get("lens", {})
    needed = {"focal_length_mm": "--lens 50mm", "f_number": "--aperture f/5.6"}
    if "shot_size" not in values.get("framing", {}):
        needed["focus_distance_m"] = "--focus 3m (or --framing full-body, to have it worked out)"
    missing = [example for field, example in needed.items() if field not in part]
    if missing:
        raise UserError(
            f"plan: missing {', '.join(missing)} (for example), or a --set-up file; or say the "
            "room you want, --room-before and --room-behind, to have them found"
        )
