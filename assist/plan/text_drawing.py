"""The place from the side in a few lines of plain characters."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assist.base.words import _
from assist.plan.formats import LengthFormat
from assist.plan.plan import Plan

LEFT = 4  # columns of the camera


@dataclass(frozen=True)
class _Scale:
    """Distances from the sensor plane to columns."""

    columns: int
    farthest_m: float

    def column(self, distance_m: float) -> int:
        share = min(distance_m / self.farthest_m, 1.0)
        return LEFT + round(share * (self.columns - LEFT - 1))


def drawing(plan: Plan, show: LengthFormat, columns: int = 72) -> str:
    """Camera, zone, mark and background to scale along one line, distances beneath.

    `=` in focus, `O` the mark, `#` the background, `>` where the line runs on beyond the drawing.
    """
    zone = plan.zone
    background = plan.set_up.place.background_distance_m
    ends = [zone.best_from_sensor_m * 1.3]
    if math.isfinite(zone.far_from_sensor_m):
        ends.append(min(zone.far_from_sensor_m * 1.1, zone.best_from_sensor_m * 3))
    if background is not None and math.isfinite(background):
        ends.append(min(background * 1.02, zone.best_from_sensor_m * 4))
    scale = _Scale(columns, max(ends))
    line = ["[", "o", "]", ">"] + ["-"] * (columns - LEFT)
    far_column = (
        scale.column(zone.far_from_sensor_m)
        if math.isfinite(zone.far_from_sensor_m)
        else columns - 1
    )
    for column in range(scale.column(zone.near_from_sensor_m), far_column + 1):
        line[column] = "="
    labels = [(scale.column(zone.near_from_sensor_m), show.length(zone.near_from_sensor_m))]
    if zone.far_from_sensor_m <= scale.farthest_m:
        labels.append((far_column, show.length(zone.far_from_sensor_m)))
    else:
        line[-1] = ">"
    if background is not None and background <= scale.farthest_m:
        line[scale.column(background)] = "#"
        words = _("background {distance}", distance=show.length(background))
        labels.append((scale.column(background), words))
    mark = scale.column(zone.best_from_sensor_m)
    line[mark] = "O"
    above = _placed(
        [(mark, _("mark {distance}", distance=show.length(zone.best_from_sensor_m)))], columns
    )
    return "\n".join([above, "".join(line), *_rows(labels, columns)])


def _start(column: int, text: str, columns: int) -> int:
    """Where a label starts, centred under its column and inside the drawing."""
    return max(0, min(column - len(text) // 2, columns - len(text)))


def _placed(labels: list[tuple[int, str]], columns: int) -> str:
    line = ""
    for column, text in labels:
        line = line.ljust(_start(column, text, columns)) + text
    return line


def _rows(labels: list[tuple[int, str]], columns: int) -> list[str]:
    """Labels on as few lines as keep them apart."""
    rows: list[list[tuple[int, str]]] = []
    for label in sorted(labels):
        start = _start(*label, columns)
        for row in rows:
            last_column, last_text = row[-1]
            if _start(last_column, last_text, columns) + len(last_text) + 2 <= start:
                row.append(label)
                break
        else:
            rows.append([label])
    return [_placed(row, columns) for row in rows]
