"""The strip: a plan view of the ground in front of the camera, seen from above.

The camera stands at the left end. The zone is a hatched block with a line at its sharpest place;
the person is a figure from above, with a bar as long as the 90 % interval of where the eyes are. Of
several people each has a disc with their number and a bar, side by side.
"""

from __future__ import annotations

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.base.words import Words
from assist.guidance.group import Group
from assist.guidance.verdict import Assessment
from assist.output.screen import text
from assist.output.screen.layout import Area
from assist.output.screen.number import numbered
from assist.output.screen.palette import PLAIN, Theme
from assist.output.screen.plan_view import PlanView
from optics.focus_zone import FocusZone


class PlanStrip:
    """Draws the strip; what never changes is drawn once."""

    def __init__(
        self,
        box: Area,
        zone: FocusZone,
        say: Words | None = None,
        theme: Theme = PLAIN,
        label_px: int | None = None,
    ) -> None:
        """label_px: the least height of the figures under it, where they have room."""
        self._box = box
        self._label_px = label_px
        self._theme = theme
        self._say = say or Words()
        self._view = PlanView(zone)
        self._ground = self._draw_ground()

    def _x(self, part: float) -> int:
        """Column of a place on the line."""
        left = round(0.9 * self._box.height)
        room = self._box.width - left - round(0.3 * self._box.height)
        return left + round(part * room)

    def _draw_ground(self) -> ColourImage:
        height, width = self._box.height, self._box.width
        image = np.empty((height, width, 3), np.uint8)
        image[:] = self._theme.side.ground
        line = max(1, height // 40)
        middle = round(0.40 * height)
        # The camera from above: its body and its lens.
        unit = height / 10
        cv2.rectangle(
            image,
            (round(2 * unit), round(middle - 2 * unit)),
            (round(5 * unit), round(middle + 2 * unit)),
            self._theme.side.text,
            -1,
        )
        cv2.rectangle(
            image,
            (round(5 * unit), round(middle - 1 * unit)),
            (round(7 * unit), round(middle + 1 * unit)),
            self._theme.side.text,
            -1,
        )
        cv2.line(image, (self._x(0.0), middle), (width - 1, middle), self._theme.faint.text, line)
        view = self._view
        near, far = self._x(view.part(view.near_m)), self._x(view.part(view.far_m))
        top, bottom = round(0.06 * height), round(0.74 * height)
        for start in range(near - (bottom - top), far, max(5, height // 7)):
            # Hatching, cut to the block by hand: from (start, bottom) up to the right.
            x0, y0, x1, y1 = start, bottom, start + (bottom - top), top
            if x0 < near:
                x0, y0 = near, bottom - (near - start)
            if x1 > far:
                x1, y1 = far, bottom - (far - start)
            if x0 < x1:
                cv2.line(image, (x0, y0), (x1, y1), self._theme.zone, line, cv2.LINE_AA)
        cv2.rectangle(image, (near, top), (far, bottom), self._theme.zone, line + 1)
        focus = self._x(view.part(view.best_m))
        cv2.line(image, (focus, top), (focus, bottom), self._theme.side.text, line + 1)
        cap = round(0.15 * height)
        if self._label_px is not None and cap < self._label_px:
            return image  # too small to be read from where the person stands
        for distance_m, x, pair in (
            (view.near_m, near, self._theme.side),
            (view.best_m, focus, self._theme.faint),
            (view.far_m, far, self._theme.side),
        ):
            made = text.patch(self._say.number(distance_m, 2), cap, width, pair)
            h, w = made.shape[:2]
            left = min(max(0, x - w // 2), width - w)
            y = height - h - round(0.03 * height)
            image[y : y + h, left : left + w] = made
        return image

    def draw_group(self, canvas: ColourImage, group: Group) -> None:
        """Paint the strip with all of a group, as seen from above."""
        view = canvas[self._box.rows, self._box.columns]
        view[:] = self._ground
        height, count = self._box.height, len(group.members)
        radius = max(3, round(min(0.16, 0.36 / count) * height))
        thick, tick = max(2, height // 24), max(2, round(0.7 * radius))
        for member in group.members:
            distance = member.assessment.distance
            if distance is None:
                continue
            # The camera looks to the right. Its left is up, and on the right of a mirrored screen.
            part = (count - member.place) / (count - 1)
            y = round(0.06 * height + radius + part * (0.68 * height - 2 * radius))
            low, here, high = map(self._x, self._view.person(distance))
            for colour, more in ((self._theme.side.ground, 2), (self._theme.side.text, 0)):
                cv2.line(view, (low, y), (high, y), colour, thick + more)
                for x in (low, high):
                    cv2.line(view, (x, y - tick), (x, y + tick), colour, thick + more)
            number = str(member.place) if group.numbered else ""
            numbered(view, (here, y), radius, number, self._theme.side)

    def draw(self, canvas: ColourImage, assessment: Assessment) -> None:
        """Paint the strip into its box of the canvas, in place."""
        view = canvas[self._box.rows, self._box.columns]
        view[:] = self._ground
        distance = assessment.distance
        if distance is None:
            return
        height = self._box.height
        middle = round(0.40 * height)
        low, here, high = map(self._x, self._view.person(distance))
        thick = max(2, height // 16)
        tick = height // 7
        cv2.line(view, (low, middle), (high, middle), self._theme.side.text, thick)
        for x in (low, high):
            cv2.line(view, (x, middle - tick), (x, middle + tick), self._theme.side.text, thick)
        # Shoulders and head from above, outlined so that they show on the hatching too.
        shoulders = (max(2, height // 11), max(4, round(height * 0.27)))
        head = max(3, height // 8)
        for colour, more in (
            (self._theme.side.ground, max(2, height // 24)),
            (self._theme.side.text, 0),
        ):
            axes = (shoulders[0] + more, shoulders[1] + more)
            cv2.ellipse(view, (here, middle), axes, 0, 0, 360, colour, -1, cv2.LINE_AA)
            cv2.circle(view, (here, middle), head + more, colour, -1, cv2.LINE_AA)
        cv2.circle(
            view, (here, middle), max(1, head // 3), self._theme.side.ground, -1, cv2.LINE_AA
        )
