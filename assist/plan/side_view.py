"""The place from the side, to scale: camera, frame, focus zone, person, background."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Polygon, Rectangle

from assist.base.words import _
from assist.plan.figure_files import FIELD, INK, MARK, SOFT_INK, ZONE, ZONE_EDGE
from assist.plan.figure_outline import arm, outline, seat
from assist.plan.formats import LengthFormat
from assist.plan.plan import Plan
from assist.plan.sentences import headline, set_up_line
from optics import framing, lens
from optics.checks import FloatArray

_BODY = "#3b4868"
_TRIPOD_M = 0.55  # from under the sensor mark to the left edge
_CAMERA_M = 0.12  # above the axis of the lens, tilted
_LEAST_ASPECT = 2.3  # of the drawing, lest a near mark makes it too tall for its words
_SMALL = 8.5
# On paper, in inches, whatever the scale: margins, lines of dimensions under the ground, letters.
_LEFT_INCHES, _ABOVE_INCHES, _BELOW_INCHES = 0.65, 0.3, 0.68
_ROOM_INCHES, _TAPE_INCHES, _MARK_INCHES = 0.20, 0.41, 0.57
_INCHES_PER_CHARACTER = 0.085


@dataclass(frozen=True)
class _Side:
    """The plan in metres along the ground from under the sensor mark, and above the ground."""

    plan: Plan
    lens_x: float
    half_angle_rad: float

    @classmethod
    def of(cls, plan: Plan) -> _Side:
        set_up = plan.set_up
        v = float(lens.image_distance_m(set_up.focal_length_m, set_up.focus_lens_distance_m))
        side = framing.frame_sides_m(set_up.sensor, set_up.camera.orientation)[1]
        return cls(
            plan,
            v * math.cos(plan.framing.aim.tilt_rad),
            float(framing.angle_of_view_rad(side, v)) / 2,
        )

    @property
    def person_x(self) -> float:
        return self.lens_x + self.plan.framing.aim.upright_distance_m

    def along(self, at: str) -> float:
        """Where a limit or the mark is at the height of the eyes."""
        return next(x.along_ground_m for x in self.plan.ground_marks if x.at == at)

    @property
    def background_x(self) -> float | None:
        return self.plan.set_up.place.background_distance_m

    @property
    def right(self) -> float:
        """How far the drawing goes: a little beyond the zone and a background that is near."""
        ends = [self.person_x * 1.2 + 0.3]
        if math.isfinite(self.along("far limit")):
            ends.append(min(self.along("far limit") + 0.3, self.person_x * 2.2))
        else:
            ends.append(self.person_x * 1.6)
        if self.background_x is not None and self.background_x <= self.person_x * 3:
            ends.append(self.background_x + 0.25)
        return max(ends)

    def corner(self, axial_m: float, edge: float) -> tuple[float, float]:
        """Point at that depth along the axis, on the frame's upper (1) or lower (-1) edge."""
        tilt = self.plan.framing.aim.tilt_rad
        off = edge * axial_m * math.tan(self.half_angle_rad)
        return (
            self.lens_x + axial_m * math.cos(tilt) + off * math.sin(tilt),
            self.plan.framing.aim.camera_height_m - axial_m * math.sin(tilt) + off * math.cos(tilt),
        )


def side_view(plan: Plan, show: LengthFormat) -> Figure:
    """The drawing with the plan in two lines over it."""
    figure = drawing_only(plan, show, (11.0, 6.5), heading_inches=0.8)
    top = 0.8 / figure.get_figheight()
    figure.text(0.02, 1 - 0.25 * top, set_up_line(plan, show), fontsize=11, va="top")
    figure.text(0.02, 1 - 0.62 * top, headline(plan, show), fontsize=11, weight="bold", va="top")
    return figure


def drawing_only(
    plan: Plan, show: LengthFormat, most_inches: tuple[float, float], heading_inches: float = 0.0
) -> Figure:
    """The drawing, as large as fits the width and height, with room over it for a heading."""
    side = _Side.of(plan)
    aim = plan.framing.aim
    top = max(plan.person.crown_m, aim.top_m, aim.camera_height_m + _CAMERA_M)
    most_width, most_height = most_inches
    margins = _ABOVE_INCHES + _BELOW_INCHES
    inches_per_m = min(
        (most_width - _LEFT_INCHES) / side.right,
        most_width / (side.right + _TRIPOD_M),
        (most_height - margins) / top,
    )
    left = -max(_LEFT_INCHES / inches_per_m, _TRIPOD_M)
    height = top * inches_per_m + margins
    width = max((side.right - left) * inches_per_m, min(_LEAST_ASPECT * height, most_width))
    figure = Figure(figsize=(width, height + heading_inches))
    axes = figure.add_axes((0.0, 0.0, 1.0, height / (height + heading_inches)))
    axes.set_xlim(left, left + width / inches_per_m)
    axes.set_ylim(-_BELOW_INCHES / inches_per_m, top + _ABOVE_INCHES / inches_per_m)
    axes.set_aspect("equal")
    axes.axis("off")
    _ground(axes)
    _zone(axes, side)
    _frame(axes, side, show)
    _background(axes, side, show)
    _person(axes, side)
    _camera(axes, side, show)
    _dimensions(axes, side, show)
    return figure


def _on_paper(axes: Axes, inches: float) -> float:
    """So many inches of paper, in metres of the place."""
    left, right = axes.get_xlim()
    return inches * (right - left) * axes.figure.dpi / axes.bbox.width


def _ground(axes: Axes) -> None:
    left, right = axes.get_xlim()
    axes.plot([left, right], [0, 0], color=SOFT_INK, lw=1.2, zorder=2.6)
    deep = _on_paper(axes, 0.1)
    axes.add_patch(
        Rectangle(
            (left, -deep), right - left, deep, fc="none", ec="#c5cad3", hatch="////", lw=0,
            zorder=2.6,
        )
    )  # fmt: skip


def _zone(axes: Axes, side: _Side) -> None:
    set_up = side.plan.set_up
    zone = set_up.focus_zone
    beyond = 3 * axes.get_xlim()[1]
    near, far = zone.near_m, min(zone.far_m, beyond)
    corners = [
        side.corner(near, 1),
        side.corner(far, 1),
        side.corner(far, -1),
        side.corner(near, -1),
    ]
    axes.add_patch(Polygon(corners, fc=ZONE, ec="#9fcdb4", hatch="..", lw=0, zorder=0.5))
    for axial in (near, far):
        (x0, y0), (x1, y1) = side.corner(axial, -1), side.corner(axial, 1)
        axes.plot([x0, x1], [y0, y1], color=ZONE_EDGE, lw=1.2, zorder=2)
    (x0, y0), (x1, y1) = (side.corner(zone.best_m, edge) for edge in (-1, 1))
    axes.plot([x0, x1], [y0, y1], color=MARK, lw=1.2, ls=(0, (5, 3)), zorder=2)
    # What lies under the ground is not there.
    axes.add_patch(Rectangle((-10, -10), 10 + beyond, 10, fc="white", ec="none", zorder=2.5))


def _frame(axes: Axes, side: _Side, show: LengthFormat) -> None:
    aim = side.plan.framing.aim
    reach = axes.get_xlim()[1] * 1.2
    for edge in (1, -1):
        x, y = side.corner(reach, edge)
        axes.plot(
            [side.lens_x, x],
            [aim.camera_height_m, y],
            color=FIELD,
            lw=0.9,
            ls=(0, (2, 2)),
            zorder=1.5,
        )
    x = side.person_x
    axes.text(
        x, aim.top_m + _on_paper(axes, 0.12),
        _("frame up to {height}", height=show.length(aim.top_m)),
        color=FIELD, ha="right", va="bottom", fontsize=_SMALL, zorder=4,
    )  # fmt: skip
    if aim.bottom_m > _on_paper(axes, 0.3):
        axes.text(
            x - 0.12 * side.plan.person.stature_m, aim.bottom_m - _on_paper(axes, 0.12),
            _("from {height}", height=show.length(aim.bottom_m)),
            color=FIELD, ha="right", va="top", fontsize=_SMALL, zorder=4,
        )  # fmt: skip


def _background(axes: Axes, side: _Side, show: LengthFormat) -> None:
    x = side.background_x
    if x is None:
        return
    top, right = axes.get_ylim()[1], axes.get_xlim()[1]
    if x < right - 0.1:
        rest = right - x
        thick = rest if rest < _on_paper(axes, 0.6) else _on_paper(axes, 0.35)
        axes.add_patch(
            Rectangle((x, 0), thick, top, fc="#e7e9ee", ec="#b6bcc8", hatch="\\\\", zorder=2)
        )
        words = _("background {distance}", distance=show.length(x))
        free = x - side.along("far limit")
        crowded = free < _on_paper(axes, _INCHES_PER_CHARACTER * len(words))
        axes.text(
            x - _on_paper(axes, 0.08),
            top - _on_paper(axes, 0.15),
            words,
            ha="right",
            va="top",
            rotation=90 if crowded else 0,
            fontsize=_SMALL,
            bbox={"fc": "white", "ec": "none", "pad": 1.5},
        )
        return
    axes.annotate(
        _("background: {distance}", distance=show.length(x)),
        (right - _on_paper(axes, 0.1), top - _on_paper(axes, 0.2)),
        (right - _on_paper(axes, 0.6), top - _on_paper(axes, 0.2)),
        ha="right",
        va="center",
        fontsize=_SMALL,
        arrowprops={"arrowstyle": "->", "color": SOFT_INK},
        bbox={"fc": "white", "ec": "none", "pad": 1.5, "alpha": 0.8},
    )


def _person(axes: Axes, side: _Side) -> None:
    figure = side.plan.set_up.person.figure
    at_mark = np.array([side.person_x, 0.0])
    for part in seat(figure):
        axes.add_patch(Polygon(part + at_mark, fc="#b6bcc8", ec="#8f98ad", lw=0.6, zorder=2.9))
    for part in outline(figure):
        axes.add_patch(Polygon(part + at_mark, fc=_BODY, ec=_BODY, lw=0.6, zorder=3))
    for part in arm(figure):
        axes.add_patch(Polygon(part + at_mark, fc=_BODY, ec="#8390b3", lw=0.8, zorder=3.2))
    size = 0.022 * figure.stature_m
    eye = (side.person_x, figure.eyes_m)
    axes.add_patch(Ellipse(eye, size, size, fc="white", ec=MARK, lw=1.0, zorder=3.5))


def _turned(points: list[tuple[float, float]], side: _Side) -> FloatArray:
    """Points in the camera's own directions (forwards, up) put in place and tilted."""
    aim = side.plan.framing.aim
    cos, sin = math.cos(aim.tilt_rad), math.sin(aim.tilt_rad)
    own = np.asarray(points)
    return np.column_stack(
        [
            side.lens_x + own[:, 0] * cos + own[:, 1] * sin,
            aim.camera_height_m - own[:, 0] * sin + own[:, 1] * cos,
        ]
    )


def _camera(axes: Axes, side: _Side, show: LengthFormat) -> None:
    height = side.plan.framing.aim.camera_height_m
    x = axes.get_xlim()[0] + _on_paper(axes, 0.25)
    foot = min(0.42, 0.4 * max(height, 0.3))
    top = (side.lens_x - 0.06, height - 0.05)
    for reach in (-foot, 0.05 * foot, foot):
        axes.plot([top[0], top[0] + reach], [top[1], 0], color=INK, lw=1.6, zorder=2.8)
    body = [(-0.13, -0.05), (-0.03, -0.05), (-0.03, 0.05), (-0.13, 0.05)]
    barrel = [(-0.03, -0.035), (0.03, -0.04), (0.03, 0.04), (-0.03, 0.035)]
    for shape in (body, barrel):
        axes.add_patch(Polygon(_turned(shape, side), fc=INK, ec=INK, zorder=3))
    axes.annotate(
        "",
        (x, height),
        (x, 0),
        arrowprops={"arrowstyle": "<->", "color": SOFT_INK, "lw": 0.9},
        zorder=3,
    )
    axes.text(
        x - _on_paper(axes, 0.04),
        height / 2,
        show.length(height),
        rotation=90,
        ha="right",
        va="center",
        fontsize=_SMALL,
    )


def _dimensions(axes: Axes, side: _Side, show: LengthFormat) -> None:
    """Tape distances under the ground, and the room on both sides of the mark."""
    near, mark, far = (side.along(at) for at in ("near limit", "mark", "far limit"))
    right = axes.get_xlim()[1]
    room_y, tape_y, mark_y = (
        -_on_paper(axes, inches) for inches in (_ROOM_INCHES, _TAPE_INCHES, _MARK_INCHES)
    )
    for x, colour in ((near, ZONE_EDGE), (mark, MARK), (far, ZONE_EDGE)):
        if x <= right:
            axes.plot([x, x], [0, tape_y], color=colour, lw=0.8, ls=(0, (1, 1.5)), zorder=3)
    axes.annotate(
        "",
        (near, room_y),
        (min(far, right - _on_paper(axes, 0.03)), room_y),
        arrowprops={"arrowstyle": "<->" if far <= right else "<-", "color": ZONE_EDGE, "lw": 1.1},
        zorder=3,
    )
    zone = side.plan.zone
    before = _("{room} before", room=show.length(zone.in_front_m))
    behind = (
        _("and on")
        if math.isinf(zone.behind_m)
        else _("{room} behind", room=show.length(zone.behind_m))
    )
    _beside(axes, near, room_y, before, "left", ZONE_EDGE)
    _beside(axes, near, tape_y, _("near {distance}", distance=show.length(near)), "left", INK)
    _beside(axes, far, room_y, behind, "right", ZONE_EDGE)
    if far <= right:
        _beside(axes, far, tape_y, _("far {distance}", distance=show.length(far)), "right", INK)
    small: dict[str, Any] = {"fontsize": _SMALL, "va": "center", "zorder": 4}
    words = _("mark {distance}", distance=show.length(mark))
    axes.text(mark, mark_y, words, ha="center", color=MARK, weight="bold", **small)
    axes.text(
        right - _on_paper(axes, 0.1), mark_y, _("to scale"), ha="right", color=SOFT_INK, **small
    )


def _beside(
    axes: Axes, x: float, y: float, text: str, side: Literal["left", "right"], colour: str
) -> None:
    """Words on that side of x; where the drawing ends too soon, on the other side over y."""
    left, right = axes.get_xlim()
    needed = _on_paper(axes, _INCHES_PER_CHARACTER * len(text))
    if (x - left if side == "left" else right - x) < needed:
        x, y = min(max(x, left), right), y + _on_paper(axes, 0.12)
        side = "right" if side == "left" else "left"
    gap = _on_paper(axes, 0.06)
    axes.text(
        x - gap if side == "left" else x + gap, y, text,
        ha="right" if side == "left" else "left", va="center", color=colour, fontsize=_SMALL,
        zorder=4,
    )  # fmt: skip
