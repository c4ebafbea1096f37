"""The same set-up under several criteria of sharpness."""

from __future__ import annotations

from dataclasses import dataclass

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from assist.base import terms
from assist.base.words import _
from assist.plan import formats
from assist.plan.formats import LengthFormat
from assist.plan.tables import grid
from assist.setup.set_up import SetUp, criterion_from_text
from optics.focus_zone import FocusZone

USUAL = (
    "diagonal/1500",
    "diagonal/1000",
    "print 30 cm from 40 cm",
    "print 60 cm from 40 cm",
    "2 px",
    "1 px",
)
"""Common practice, no source; the prints by a visual acuity of one minute of arc."""


@dataclass(frozen=True)
class UnderCriterion:
    """The zone that one criterion gives, from the sensor plane; far_m may be infinite."""

    criterion: str
    circle_of_confusion_m: float
    near_m: float
    far_m: float
    in_front_m: float
    behind_m: float
    is_chosen: bool


def compared(set_up: SetUp) -> tuple[UnderCriterion, ...]:
    """The set-up's own criterion and the usual ones; pixels only when their number is known."""
    own = set_up.sharpness.criterion
    texts = [own, *(x for x in USUAL if x != own)]
    rows = []
    for text in texts:
        if text.endswith("px") and set_up.camera.picture_width_px is None:
            continue
        c = criterion_from_text(text, set_up.sensor, set_up.camera).circle_of_confusion_m
        zone = FocusZone.of(
            set_up.focal_length_m, set_up.lens.f_number, set_up.lens.focus_distance_m, c
        )
        rows.append(
            UnderCriterion(
                text,
                c,
                zone.near_from_sensor_m,
                zone.far_from_sensor_m,
                zone.in_front_m,
                zone.behind_m,
                text == own,
            )
        )
    return tuple(rows)


def print_compared(set_up: SetUp, show: LengthFormat, console: Console) -> None:
    """The comparison as a table."""
    table = grid(_("sharp means"), _("blur disc"), _("near"), _("far"), _("before"), _("behind"))
    for row in compared(set_up):
        name = terms.criterion(row.criterion)
        table.add_row(
            _("{criterion} (chosen)", criterion=name) if row.is_chosen else name,
            formats.millimetres(row.circle_of_confusion_m),
            show.length(row.near_m),
            show.length(row.far_m),
            show.length(row.in_front_m),
            show.length(row.behind_m),
            style="bold" if row.is_chosen else None,
        )
    console.print(Text("\n" + _("Criteria of sharpness compared"), style="bold"))
    console.print(Padding(table, (0, 0, 0, 2)))
