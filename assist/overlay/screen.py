"""The guidance screen: the mirrored picture, and round it what must be read from afar."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from assist.countdown import CountdownState
from assist.framing_check import Framing
from assist.guidance import Action, Guidance
from assist.overlay import palette, signs, text
from assist.overlay.layout import WORD_OF_LANDSCAPE_HEIGHT, Box, lay_out
from assist.overlay.palette import Pair
from assist.overlay.strip import PlanStrip
from assist.phrases import Phrases
from assist.pose import ColourImage, Pose
from assist.pose.landmarks import BONES, Landmark
from assist.verdict import Assessment
from optics.lens import DepthOfField

_FINE = 3
_LEAST_VISIBILITY = 0.5


@dataclass(frozen=True, slots=True)
class Scene:
    """All that one screen shows."""

    picture: ColourImage
    pose: Pose | None
    assessment: Assessment
    guidance: Guidance
    framing: Framing | None
    countdown: CountdownState | None
    gesture_progress: float = 0.0


@dataclass(frozen=True, slots=True)
class _Line:
    """Words at the side; `size` is the height of their capitals as a part of the side's height."""

    words: str
    size: float
    pair: Pair = palette.SIDE
    from_below: bool = False


class GuidanceScreen:
    """Draws scenes onto one canvas that is used again for every picture.

    The picture is mirrored, so that the person moves as in a looking-glass; text never is. Nothing
    is drawn over the picture but the figure, so the words keep their contrast on any footage.
    """

    def __init__(
        self,
        zone: DepthOfField,
        focus_m: float,
        sensor_offset_m: float,
        size_px: tuple[int, int] = (1280, 720),
        keys: str = "",
        mirrored: bool = True,
        phrases: Phrases | None = None,
    ) -> None:
        width, height = size_px
        self.mirrored = mirrored
        self._phrases = phrases or Phrases.load()
        self._keys = keys
        self._layout = lay_out(width, height)
        self._offset_m = sensor_offset_m
        self._canvas: ColourImage = np.empty((height, width, 3), np.uint8)
        self._canvas[:] = palette.GROUND
        self._strip = PlanStrip(self._layout.strip, zone, focus_m, sensor_offset_m, self._phrases)
        self._shown_action: tuple[Action, int] | None = None
        self._shown_picture = (0, 0)
        self._shown_side: tuple[_Line, ...] | None = None
        self._word_px = round(WORD_OF_LANDSCAPE_HEIGHT * min(height, width * 9 / 16))

    def draw(self, scene: Scene) -> ColourImage:
        """The canvas with the scene on it; valid until the next call."""
        self._draw_picture(scene)
        self._draw_side(scene)
        self._strip.draw(self._canvas, scene.assessment)
        self._draw_action(scene.guidance)
        return self._canvas

    # -- the picture --------------------------------------------------------------------------

    def _draw_picture(self, scene: Scene) -> None:
        box = self._layout.picture
        height, width = scene.picture.shape[:2]
        scale = min(box.width / width, box.height / height)
        size = (max(1, round(width * scale)), max(1, round(height * scale)))
        if size != self._shown_picture:
            self._canvas[box.rows, box.columns] = palette.GROUND
            self._shown_picture = size
        x, y = box.x + (box.width - size[0]) // 2, box.y + (box.height - size[1]) // 2
        view = self._canvas[y : y + size[1], x : x + size[0]]
        small: ColourImage = np.empty((size[1], size[0], 3), np.uint8)
        cv2.resize(scene.picture, size, dst=small, interpolation=cv2.INTER_LINEAR)
        if self.mirrored:
            cv2.flip(small, 1, dst=small)
        if scene.pose is not None:
            self._draw_figure(small, scene.pose, size[0] / width)
        if scene.gesture_progress > 0:
            high = max(4, size[1] // 40)
            small[:high] = palette.INK
            small[1 : high - 1, : round(size[0] * scene.gesture_progress)] = palette.PAPER
        view[:] = small

    def _draw_figure(self, view: ColourImage, pose: Pose, scale: float) -> None:
        points = pose.image_px * scale
        if self.mirrored:
            points[:, 0] = view.shape[1] - points[:, 0]
        fine = np.clip(np.round(points * (1 << _FINE)), -(2**20), 2**20).astype(np.int32)
        seen = pose.visibility >= _LEAST_VISIBILITY
        lines = [fine[[a, b]] for a, b in BONES if seen[a] and seen[b]]
        thin = max(1, view.shape[0] // 300)
        for colour, more in ((palette.INK, 2), (palette.PAPER, 0)):
            cv2.polylines(view, lines, False, colour, thin + more, cv2.LINE_AA, _FINE)
        for eye in (Landmark.LEFT_EYE, Landmark.RIGHT_EYE):
            if seen[eye]:
                centre = (int(fine[eye, 0]), int(fine[eye, 1]))
                radius = (2 * thin) << _FINE
                cv2.circle(view, centre, radius + (1 << _FINE), palette.INK, -1, cv2.LINE_AA, _FINE)
                cv2.circle(view, centre, radius, palette.MOVE, -1, cv2.LINE_AA, _FINE)

    # -- the words ----------------------------------------------------------------------------

    def _draw_side(self, scene: Scene) -> None:
        words = self._side_words(scene)
        if words == self._shown_side:
            return
        self._shown_side = words
        box = self._layout.side
        view = self._canvas[box.rows, box.columns]
        view[:] = palette.GROUND
        gap = box.height // 24
        inner = box.width - 2 * gap
        top, bottom = gap, box.height - gap
        for line in words:
            made = text.patch(line.words, round(line.size * box.height), inner, line.pair)
            height, width = made.shape[:2]
            if bottom - top < height:
                continue
            y = bottom - height if line.from_below else top
            x = (box.width - width) // 2
            view[y : y + height, x : x + width] = made
            if line.from_below:
                bottom = y - gap
            else:
                top = y + height + gap

    def _side_words(self, scene: Scene) -> tuple[_Line, ...]:
        """The lines of the side, the more important ones first: what has no room is left out."""
        guidance, distance, say = scene.guidance, scene.assessment.distance, self._phrases
        lines: list[_Line] = []
        if guidance.action is not Action.HOLD and guidance.to_mark_m is not None:
            lines.append(_Line(say.length(abs(guidance.to_mark_m)), 0.2))
        elif distance is not None:
            lines.append(_Line(say.length(distance.eyes_m + self._offset_m, 2), 0.2))
        if self._keys:
            lines.append(_Line(self._keys, 0.032, palette.SIDE_FAINT, from_below=True))
        if scene.countdown is not None:
            lines.append(_Line(self._timer_words(scene.countdown), 0.27, from_below=True))
            if scene.countdown.warning:
                lines.append(_Line(say.text("screen.warning"), 0.07, from_below=True))
        if guidance.caution:
            lines.append(_Line(guidance.caution.upper(), 0.05))
        lines.append(_Line(guidance.sentence, 0.055))
        lines.append(_Line(guidance.why, 0.045, palette.SIDE_FAINT))
        lines += [_Line(advice, 0.045, palette.SIDE_FAINT) for advice in guidance.also]
        return tuple(lines)

    def _draw_action(self, guidance: Guidance) -> None:
        lean = 0
        if guidance.action is Action.NOT_SURE and guidance.to_mark_m:
            lean = 1 if guidance.to_mark_m > 0 else -1
        if self._shown_action == (guidance.action, lean):
            return
        self._shown_action = (guidance.action, lean)
        box = self._layout.action
        pair = palette.ACTION[guidance.action]
        self._canvas[box.rows, box.columns] = pair.ground
        size = round(0.66 * box.height)
        gap = (box.height - size) // 2
        signs.draw(self._canvas, guidance.action, box.x + gap, box.y + gap, size, pair.text, lean)
        room = Box(box.x + size + 2 * gap, box.y, box.width - size - 3 * gap, box.height)
        word = self._phrases.text(f"action.{guidance.action.value}")
        made = text.patch(word, self._word_px, room.width, pair)
        height, width = made.shape[:2]
        x, y = room.x + (room.width - width) // 2, box.y + (box.height - height) // 2
        self._canvas[y : y + height, x : x + width] = made

    def _timer_words(self, state: CountdownState) -> str:
        for shown, key in (
            (state.fired, "taken"),
            (state.paused, "paused"),
            (state.gave_up, "not_taken"),
            (state.holding, "waiting"),
        ):
            if shown:
                return self._phrases.text(f"screen.{key}")
        return str(state.shown)
