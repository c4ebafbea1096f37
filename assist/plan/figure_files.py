"""What the plan's pictures share: looks, and writing them as PNG or SVG."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Literal

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from assist.base.errors import UserError
from assist.base.files import write_whole
from assist.base.words import _
from assist.plan.formats import LengthFormat
from assist.plan.plan import Plan

Kind = Literal["png", "svg"]

INK = "#22262e"
SOFT_INK = "#667085"
ZONE = "#d3ebdd"
ZONE_EDGE = "#2f7d57"
FIELD = "#a8650f"
MARK = "#9b2c3f"

_STYLE = {
    "font.size": 9.5,
    "axes.edgecolor": SOFT_INK,
    "axes.labelcolor": INK,
    "xtick.color": SOFT_INK,
    "ytick.color": SOFT_INK,
    "text.color": INK,
    "hatch.linewidth": 0.5,
    "svg.hashsalt": "plan",  # the same plan gives the same file
}


def rendered(
    draw: Callable[[Plan, LengthFormat], Figure], plan: Plan, show: LengthFormat, kind: Kind
) -> bytes:
    """A figure as a file's content."""
    with mpl.rc_context(_STYLE):
        figure = draw(plan, show)
        FigureCanvasAgg(figure)
        buffer = io.BytesIO()
        metadata = {"Date": None} if kind == "svg" else None
        figure.savefig(buffer, format=kind, dpi=130, metadata=metadata)
        return buffer.getvalue()


def checked_name(path: Path) -> Path:
    """The path, if its ending says a kind of picture; UserError otherwise."""
    if path.suffix.lower() not in (".png", ".svg"):
        raise UserError(_("{path}: the name of a picture ends in .png or .svg", path=path))
    return path


def write(
    draw: Callable[[Plan, LengthFormat], Figure], plan: Plan, show: LengthFormat, path: Path
) -> None:
    """Write a figure, PNG or SVG by the file's name."""
    kind: Kind = "svg" if checked_name(path).suffix.lower() == ".svg" else "png"
    write_whole(path, rendered(draw, plan, show, kind))
