"""`assist plan`: decide lens, aperture and place before walking into the picture."""

from __future__ import annotations

import io
import sys
from typing import Any

import typer
from rich.console import Console
from rich.text import Text

from assist.base.errors import UserError
from assist.base.files import refuse_existing
from assist.base.words import Words, _, language_of_locale, use
from assist.cli.examples import examples
from assist.cli.options import plan as po
from assist.cli.options.group import spread
from assist.plan import criteria, procedure, search_table, tables
from assist.plan.as_json import in_english, to_json
from assist.plan.focus_for_framing import focus_for
from assist.plan.formats import LengthFormat
from assist.plan.lens_owned import LensOwned, lens_owned
from assist.plan.plan import Plan
from assist.plan.planning import plan_of
from assist.plan.search import search_set_ups
from assist.plan.search_request import exposure_value_of, lens_choices, request_from_values
from assist.plan.text_drawing import drawing
from assist.setup import set_up as set_up_file
from assist.setup.stated import put

NOTHING_FOUND = 1
"""Exit code when the wishes exclude each other: no mistake, but nothing to go on with either."""


EXAMPLES = examples(
    "assist plan --lens 50mm --aperture f/5.6 --focus 3m --stature 1.75m --ev 9",
    'assist plan --room-before 0.6m --room-behind 0.4m --framing knees-up --lens "35mm f/1.8" '
    '--lens "50mm f/1.8" --max-distance 6m --ev 9 --iso-max 3200',
    "assist plan --lens 35mm --aperture f/2 --focus 4m --save set-up.toml --sheet plan.html",
    "assist plan --lens 85mm --aperture f/2 --framing full-body --stature 1.70m",
    "assist plan --set-up set-up.toml --posture seated --full",
)


@spread
def plan(
    *,
    lens: po.LensOptions,
    picture: po.PictureOptions,
    light: po.LightOptions,
    search: po.SearchOptions,
    output: po.OutputOptions,
) -> None:
    """Decide everything before walking into the picture.

    With lens, aperture and focus distance: what follows from them; with a framing instead of the
    distance, where it fits. With the room you want and the lenses you own: which lens, distance and
    aperture to take.
    """
    use(Words(language_of_locale(), output.units))
    if output.save is not None:
        refuse_existing(output.save, output.replace_file)
    files = _Files(output)
    values: dict[str, Any] = {} if lens.set_up is None else set_up_file.read_values(lens.set_up)
    if light.metered is not None:
        if light.ev is not None:
            raise UserError(_("give the light once: --ev or --metered"))
        put(values, "exposure.light_ev100", exposure_value_of(light.metered))
    lenses = [lens_owned(text) for text in lens.lens or []]
    if search.wanted:
        po.refuse_in_search(lens, picture, light)
        _put_all(values, lens, picture, light, search)
        choose = 1 if search.choose is None else search.choose
        made = _search(values, lenses, choose, picture, output)
    else:
        po.refuse_in_plan(search)
        for owned in _one(lenses):
            _put_lens(values, owned)
        _put_all(values, lens, picture, light)
        file = lens.set_up
        what = _("plan") if file is None else _("set-up file {file}", file=file)
        made = _forward(values, what, picture, output)
    files.write(made)


class _Files:
    """The files asked for, their names checked before anything is worked out.

    The libraries that draw are loaded only where something is drawn.
    """

    def __init__(self, output: po.OutputOptions) -> None:
        self._output = output
        for path in (output.side_view_file, output.curves_file):
            if path is not None:
                from assist.plan import figure_files  # noqa: PLC0415

                figure_files.checked_name(path)
        sheet = output.sheet_file
        if sheet is not None and sheet.suffix.lower() not in (".html", ".htm"):
            raise UserError(
                _(
                    "{file}: the name of a sheet ends in .html; print it from a browser",
                    file=sheet,
                )
            )

    def write(self, plan: Plan) -> None:
        """Write every file asked for, and say so where no program reads what is said."""
        output, show = self._output, LengthFormat(self._output.units)
        if output.save is not None:
            set_up_file.save(plan.set_up, output.save)
        if output.sheet_file is not None:
            from assist.plan import sheet  # noqa: PLC0415

            sheet.write(plan, show, output.sheet_file)
        if output.side_view_file is not None:
            from assist.plan import figure_files, side_view  # noqa: PLC0415

            figure_files.write(side_view.side_view, plan, show, output.side_view_file)
        if output.curves_file is not None:
            from assist.plan import blur_curves, figure_files  # noqa: PLC0415

            figure_files.write(blur_curves.curves, plan, show, output.curves_file)
        written = (output.save, output.sheet_file, output.side_view_file, output.curves_file)
        made = [str(path) for path in written if path is not None]
        if made and not output.json:
            typer.echo("\n" + _("Written: {files}", files=", ".join(made)))


def _forward(
    values: dict[str, Any], what: str, picture: po.PictureOptions, output: po.OutputOptions
) -> Plan:
    """The plan of one set-up, shown."""
    _require(values)
    _refuse_seat(values, picture)
    found = None
    if "focus_distance_m" not in values["lens"]:
        with in_english(output.json):
            found = focus_for(values, what, po.NAMES, LengthFormat(output.units))
        put(values, "lens.focus_distance_m", found.focus_distance_m)
        what = _(
            "{what} (focused at {distance} m, {reason})",
            what=what,
            distance=f"{found.focus_distance_m:g}",
            reason=found.reason,
        )
    set_up = set_up_file.from_values(values, what, po.NAMES)
    made = plan_of(set_up, None if found is None else found.reason)
    if output.json:
        typer.echo(to_json(made))
    else:
        _print_plan(made, output, _console())
    return made


def _search(
    values: dict[str, Any],
    lenses: list[LensOwned],
    choose: int,
    picture: po.PictureOptions,
    output: po.OutputOptions,
) -> Plan:
    """The plan of the set-up chosen of those found, shown. Ends the command where none is found."""
    known = values.pop("lens", {})
    values.pop("version", None)
    values.pop("feed", None)  # a search says nothing of the feed
    if not lenses and isinstance(known, dict) and "focal_length_mm" in known:
        lenses = [lens_owned(f"{known['focal_length_mm']} mm")]
    if not lenses:
        raise UserError(
            _("--lens: name the lenses you own, such as {example}", example='--lens "50mm f/1.8"')
        )
    _refuse_seat(values, picture)
    request = request_from_values(values, po.NAMES)
    show = LengthFormat(output.units)
    try:
        with in_english(output.json):
            outcome = search_set_ups(request, lens_choices(lenses), show, choose)
    except IndexError as error:
        raise UserError(_("--choose: there is no set-up number {n}", n=choose)) from error
    console = _console()
    if output.json:
        typer.echo(to_json(outcome))
    else:
        search_table.print_outcome(outcome, show, console)
    if outcome.plan is None:
        raise typer.Exit(NOTHING_FOUND)
    if not output.json:
        _print_plan(outcome.plan, output, console)
    return outcome.plan


def _print_plan(plan: Plan, output: po.OutputOptions, console: Console) -> None:
    show = LengthFormat(output.units)
    tables.print_head(plan, show, console)
    console.print(Text("\n" + drawing(plan, show), no_wrap=True, overflow="crop"))
    if output.full:
        tables.print_sections(plan, show, console)
    else:
        tables.print_picture(plan, show, console)
    if output.compare_criteria:
        criteria.print_compared(plan.set_up, show, console)
    procedure.print_steps(plan, show, console, full=output.full)
    if not output.full:
        typer.echo("\n" + _("All the tables: --full. To print: --sheet plan.html"))


def _console() -> Console:
    # A terminal without some letter of a set-up's name shows a question mark, not a traceback.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")
    return Console(highlight=False, soft_wrap=False)


def _put_all(values: dict[str, Any], *groups: Any) -> None:
    for place, value in po.stated(*groups).items():
        put(values, place, value)


def _one(lenses: list[LensOwned]) -> list[LensOwned]:
    """The lens of a plan, if one is named; UserError for several, or for a zoom not set."""
    if len(lenses) > 1:
        raise UserError(
            _("--lens: give one lens for a plan, or the room you want to have one chosen")
        )
    for owned in lenses:
        if owned.is_zoom:
            raise UserError(
                _(
                    "--lens {lens}: for a plan give the one focal length that the zoom is set to, "
                    "such as 35mm",
                    lens=repr(owned.name),
                )
            )
    return lenses


def _put_lens(values: dict[str, Any], owned: LensOwned) -> None:
    put(values, "lens.focal_length_mm", owned.focal_lengths_mm[0])
    put(values, "lens.widest_f_number", owned.widest_f_number)
    put(values, "lens.narrowest_f_number", owned.narrowest_f_number)
    put(values, "lens.minimum_focus_distance_m", owned.minimum_focus_m)


def _refuse_seat(values: dict[str, Any], picture: po.PictureOptions) -> None:
    """Refuse a seat's height for somebody who is planned for as standing."""
    if picture.seat_height is not None and values["person"].get("posture") != "seated":
        raise UserError(_("--seat-height is for who sits: say --posture seated with it"))


def _require(values: dict[str, Any]) -> None:
    """Say which of the three numbers that every plan needs are missing, all at once."""
    part = values.get("lens", {})
    needed = {"focal_length_mm": "--lens 50mm", "f_number": "--aperture f/5.6"}
    if "shot_size" not in values.get("framing", {}):
        needed["focus_distance_m"] = _("--focus 3m (or --framing full-body, to have it worked out)")
    missing = [example for field, example in needed.items() if field not in part]
    if missing:
        raise UserError(
            _(
                "plan: missing {missing} (for example), or a --set-up file; or say the room you "
                "want, --room-before and --room-behind, to have them found",
                missing=", ".join(missing),
            )
        )
