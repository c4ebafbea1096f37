"""The guidance screen: the mirrored picture, and round it what must be read from afar."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from assist.base.images import ColourImage
from assist.base.words import Words
from assist.guidance.group import Group, farthest
from assist.guidance.guide import Action, Reason
from assist.guidance.message import Message
from assist.guidance.verdict import Assessment
from assist.guidance.wording import big_words
from assist.output.screen import signs, text
from assist.output.screen.layout import (
    DEFAULT_DIAGONAL_M,
    LETTER_STEP,
    USUAL_DISTANCE_M,
    Area,
    lay_out,
    letter_step,
    word_part,
    word_step,
)
from assist.output.screen.miniature import Miniatures
from assist.output.screen.number import beside, numbered, over_head
from assist.output.screen.palette import PLAIN, Theme
from assist.output.screen.strip import PlanStrip
from assist.pose import Pose
from assist.pose.landmarks import BONES, Landmark
from optics.focus_zone import FocusZone

_FINE = 3
_LEAST_VISIBILITY = 0.5
_EYE = (60, 178, 255)
_CROWN = 0.6
"""From the brow up to above the hair, over the way from the brow down to the shoulders."""
_INSTRUCTING = (
    Reason.WHO,
    Reason.SMALL_BODY,
    Reason.MAYBE_SMALL,
    Reason.STATURE_UNSEEN,
    Reason.ON_ITS_SIDE,
)
"""Reasons whose words say what to do about them."""
_KEYS = 0.032
"""Height of the line that explains the keys, over the layout's measure."""
_NOTHING: ColourImage = np.empty((0, 0, 3), np.uint8)


LEAST_SIDE_PX = 120


@dataclass(frozen=True, slots=True)
class ScreenOptions:
    """How the screen is set up.

    size_px: width and height of the canvas.   keys: the line that explains the keys, or nothing.
    diagonal_m: of the real screen, from which the height of the words follows.
    """

    size_px: tuple[int, int] = (1280, 720)
    mirrored: bool = True
    keys: str = ""
    theme: Theme = PLAIN
    diagonal_m: float = DEFAULT_DIAGONAL_M


@dataclass(frozen=True, slots=True)
class _Side:
    """Words at the side: how far, the countdown, and what to know besides."""

    length: str
    count: str
    facts: tuple[str, ...]
    keys: str


class GuidanceScreen:
    """Lays messages out on one canvas that is used again for every picture.

    The picture is mirrored, so that the person moves as before a mirror; text never is. Nothing
    is drawn over the picture but the figure, so the words keep their contrast on any footage.
    """

    def __init__(
        self,
        zone: FocusZone,
        options: ScreenOptions | None = None,
        say: Words | None = None,
    ) -> None:
        self._options = options or ScreenOptions()
        self._size_px = self._options.size_px
        self.mirrored = self._options.mirrored
        self._theme = self._options.theme
        self._say = say or Words()
        self._big_words = big_words(self._say)
        self._zone = zone
        self._letter = self._letter_at(USUAL_DISTANCE_M)
        self._word = word_step(self._letter)
        self._aspect = 16 / 9
        self._canvas = _NOTHING
        self._miniatures = Miniatures()
        self._arrange(self._options.size_px)

    def _letter_at(self, distance_m: float) -> float:
        """Height of what reads with ease from a distance, over the layout's measure."""
        width, height = self._size_px
        upright = max(1.0, height / (width * 9 / 16))  # words count from a 16:9 screen's height
        return word_part(self._options.diagonal_m, width / height, distance_m) * upright

    def _arrange(self, size_px: tuple[int, int]) -> None:
        """Lay the screen out anew."""
        width, height = self._size_px = size_px
        self._base_px = min(height, width * 9 / 16)
        self._layout = lay_out(width, height, self._word, self._letter, self._aspect)
        if self._canvas.shape != (height, width, 3):
            self._canvas = np.empty((height, width, 3), np.uint8)
        Area(0, 0, width, height).fill(self._canvas, self._theme.side.ground)
        self._strip = (
            PlanStrip(self._layout.strip, self._zone, self._say, self._theme, self._layout.small_px)
            if self._layout.strip.height
            else None
        )
        self._shown_action: tuple[Action, int, tuple[str, ...]] | None = None
        self._shown_picture = (0, 0)
        self._shown_side: _Side | None = None
        self._undrawn = list(Action)

    def resize(self, size_px: tuple[int, int]) -> None:
        """Fit the screen to a window of that size, so that the words stay sharp and undistorted."""
        if size_px != self._size_px and min(size_px) >= LEAST_SIDE_PX:
            self._arrange(size_px)

    def _suit_distance(self, assessment: Assessment) -> None:
        """Make the words as high as they must be for a person so far away, and not much higher.

        The screen is taken to stand at the camera. It is laid out anew only when words have
        become too small, or much larger than they need to be.
        """
        if assessment.distance is None:
            return
        needed = self._letter_at(assessment.distance.eyes_m)
        word, letter = word_step(1.1 * needed), letter_step(1.05 * needed)
        word_off = (needed > self._word and word > self._word) or word < 0.75 * self._word
        letter_off = needed > self._letter or letter < self._letter / LETTER_STEP**1.5
        if word_off or letter_off:
            self._word = word if word_off else self._word
            self._letter = letter if letter_off else self._letter
            self._arrange(self._size_px)

    def prepare(self, picture: ColourImage) -> None:
        """Do ahead what can be done with a picture before it has been looked at; on any thread."""
        self._miniatures.make(picture)

    def look_ahead(self) -> None:
        """Draw one of the big words that may come next; to be called when nothing is urgent."""
        _, room = self._parts_of_action()
        if self._undrawn and text.has_room(self._layout.word_px, room.width):
            self._big_word(self._undrawn.pop())

    def draw(
        self, message: Message, over_picture: Callable[[ColourImage], None] | None = None
    ) -> ColourImage:
        """The canvas with the message on it; valid until the next call.

        over_picture: draws over the picture in the size in which it is shown, before it is
        mirrored.
        """
        moment = message.moment
        self._suit_distance(
            moment.assessment if moment.group is None else farthest(moment.group, moment.assessment)
        )
        height, width = moment.frame.picture.shape[:2]
        if (width < height) != (self._aspect < 1):
            self._aspect = width / height
            self._arrange(self._size_px)
        self._draw_picture(message, over_picture)
        self._draw_side(message)
        if self._strip is not None:
            if moment.group is None:
                self._strip.draw(self._canvas, moment.assessment)
            else:
                self._strip.draw_group(self._canvas, moment.group)
        self._draw_action(message)
        return self._canvas

    # -- the picture --------------------------------------------------------------------------

    def _draw_picture(
        self, message: Message, over_picture: Callable[[ColourImage], None] | None
    ) -> None:
        box, picture, pose = self._layout.picture, message.moment.frame.picture, message.moment.pose
        height, width = picture.shape[:2]
        scale = min(box.width / width, box.height / height)
        size = (max(1, round(width * scale)), max(1, round(height * scale)))
        if size != self._shown_picture:
            box.fill(self._canvas, self._theme.side.ground)
            self._shown_picture = size
        x, y = box.x + (box.width - size[0]) // 2, box.y + (box.height - size[1]) // 2
        view = self._canvas[y : y + size[1], x : x + size[0]]
        small = self._miniatures.of(picture, size)
        if over_picture is not None:
            over_picture(small)
        if self._theme.picture_gain != 1.0:
            cv2.convertScaleAbs(small, dst=small, alpha=self._theme.picture_gain)
        if self.mirrored:
            cv2.flip(small, 1, dst=view)
        else:
            np.copyto(view, small)
        if (group := message.moment.group) is not None:
            self._draw_group(view, group, size[0] / width)
        elif pose is not None:
            self._draw_figure(view, pose, size[0] / width)
            if message.moment.guidance.others:
                self._mark(view, pose, size[0] / width)
        if message.gesture_progress > 0:
            high = max(4, size[1] // 40)
            done = round(size[0] * message.gesture_progress)
            Area(0, 0, size[0], high).fill(view, self._theme.ink)
            Area(0, 1, done, high - 2).fill(view, self._theme.paper)

    def _draw_figure(self, view: ColourImage, pose: Pose, scale: float) -> None:
        points = pose.image_px * scale
        if self.mirrored:
            points[:, 0] = view.shape[1] - points[:, 0]
        fine = np.clip(np.round(points * (1 << _FINE)), -(2**20), 2**20).astype(np.int32)
        seen = pose.visibility >= _LEAST_VISIBILITY
        lines = [fine[[a, b]] for a, b in BONES if seen[a] and seen[b]]
        thin = max(1, view.shape[0] // 300)
        for colour, more in ((self._theme.ink, 2), (self._theme.paper, 0)):
            cv2.polylines(view, lines, False, colour, thin + more, cv2.LINE_AA, _FINE)
        for eye in (Landmark.LEFT_EYE, Landmark.RIGHT_EYE):
            if seen[eye]:
                centre = (int(fine[eye, 0]), int(fine[eye, 1]))
                radius = (2 * thin) << _FINE
                cv2.circle(
                    view, centre, radius + (1 << _FINE), self._theme.ink, -1, cv2.LINE_AA, _FINE
                )
                cv2.circle(view, centre, radius, _EYE, -1, cv2.LINE_AA, _FINE)

    def _draw_group(self, view: ColourImage, group: Group, scale: float) -> None:
        """Everybody's figure, and their numbers over their heads."""
        shown = [(one, one.pose) for one in group.members if one.pose is not None]
        for _, pose in shown:
            self._draw_figure(view, pose, scale)
        radius = max(6, view.shape[0] // 24)
        if not group.numbered:
            return
        for member, pose in shown:
            x, y = over_head(pose, scale)
            x = view.shape[1] - x if self.mirrored else x
            x = min(max(x, radius), view.shape[1] - 1 - radius)
            told = member.place == group.told
            pair = self._theme.action(member.guidance.action) if told else self._theme.side
            middle = (x, max(y - radius, radius))
            numbered(view, middle, radius, str(member.place), pair)
            if group.sure and group.statures_differ and member.stature_m is not None:
                # Whoever stands in another order than was stated can see it.
                beside(
                    view, middle, radius, self._say.length(member.stature_m, 2), self._theme.side
                )

    def _mark(self, view: ColourImage, pose: Pose, scale: float) -> None:
        """An arrow that points at the head of the one of several who is followed."""
        head = pose.image_px[: Landmark.LEFT_SHOULDER] * scale
        shoulders = pose.image_px[[Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER], 1] * scale
        x, brow = float(head[:, 0].mean()), float(head[:, 1].min())
        crown = brow - _CROWN * max(0.0, float(shoulders.mean()) - brow)
        if self.mirrored:
            x = view.shape[1] - x
        half = max(6.0, view.shape[0] / 30)
        tip = max(crown, 2.5 * half)  # a head at the upper edge has the arrow over it
        if not np.isfinite([x, tip]).all():
            return
        arrow = [(x, tip), (x + half, tip - 1.5 * half), (x - half, tip - 1.5 * half)]
        fine = np.clip(np.round(np.array(arrow) * (1 << _FINE)), -(2**20), 2**20).astype(np.int32)
        cv2.fillPoly(view, [fine], self._theme.paper, cv2.LINE_AA, _FINE)
        thin = max(2, view.shape[0] // 200)
        cv2.polylines(view, [fine], True, self._theme.ink, thin, cv2.LINE_AA, _FINE)

    # -- the words ----------------------------------------------------------------------------

    def _draw_side(self, message: Message) -> None:
        """How far and the countdown side by side, under them what to know, where it has room."""
        words = self._side_words(message)
        if words == self._shown_side:
            return
        self._shown_side = words
        box, layout = self._layout.side, self._layout
        box.fill(self._canvas, self._theme.side.ground)
        gap = max(4, layout.line_px // 6)
        top, bottom = box.y + gap, box.y + box.height - gap
        if words.keys:  # for whoever is at the computer
            made = text.patch(
                words.keys, round(_KEYS * self._base_px), box.width - 2 * gap, self._theme.faint
            )
            if bottom - top > 2 * made.shape[0]:
                bottom -= made.shape[0]
                self._place(made, box, bottom)
                bottom -= gap
        row = [one for one in (words.length, words.count) if one]
        if row:
            room = bottom - top if not words.facts else bottom - top - 2 * layout.small_px
            cap_px = max(layout.line_px, min(round(0.9 * room), 2 * layout.line_px))
            top += self._row(row, Area(box.x + gap, top, box.width - 2 * gap, bottom - top), cap_px)
            top += gap
        pitch = round(1.35 * layout.small_px)
        for fact in words.facts:
            most = (bottom - top + pitch - layout.small_px) // pitch
            for line in text.fitted(fact, layout.small_px, box.width - 2 * gap, most) or ():
                made = text.patch(line, layout.small_px, box.width - 2 * gap, self._theme.faint)
                self._place(made, box, top)
                top += pitch

    def _row(self, row: list[str], box: Area, cap_px: int) -> int:
        """Words side by side, as high as there is room for; returns the row's height."""
        cap_px = min(cap_px, box.height)
        share = box.width // len(row)
        if len(row) > 1:  # the longer one gets more
            lengths = [max(2, len(one)) for one in row]
            shares = [box.width * length // sum(lengths) for length in lengths]
        else:
            shares = [share]
        x, tallest = box.x, 0
        for words, width in zip(row, shares, strict=True):
            made = text.patch(words, cap_px, round(0.92 * width), self._theme.side)
            tallest = max(tallest, made.shape[0])
            self._place(made, Area(x, box.y, width, box.height), box.y)
            x += width
        return tallest

    def _place(self, made: ColourImage, within: Area, y: int) -> None:
        """Copy a patch onto the canvas, in the middle of a box's width."""
        height, width = made.shape[:2]
        x = within.x + (within.width - width) // 2
        self._canvas[y : y + height, x : x + width] = made

    def _side_words(self, message: Message) -> _Side:
        """What stands at the side."""
        nobody = message.moment.assessment.distance is None and message.moment.pose is None
        count = "" if message.countdown is None else message.count
        keys = self._options.keys if nobody else ""
        told = not message.why or self._instructs(message)
        return _Side(message.length, count, () if told else (message.why,), keys)

    def told(self, message: Message) -> tuple[str, ...]:
        """What moves or warns the person besides the big word, the most important first.

        What word, sign and length say already comes last.
        """
        order, plain = message.sentence, message.said_by_word
        candidates = (
            *(trouble.upper() for trouble in message.troubles),
            message.news if message.news_moves else "",
            message.caution.upper(),
            message.why if self._instructs(message) else "",
            "" if plain else order,
            message.warning,
            "" if message.news_moves else message.news,
            *message.also,
            order if plain else "",
        )
        return tuple(one for one in candidates if one)

    @staticmethod
    def _instructs(message: Message) -> bool:
        """Whether the reason says what to do."""
        return message.moment.guidance.why.reason in _INSTRUCTING

    def _message_lines(self, message: Message) -> tuple[str, ...]:
        """As much of that as has room in its full height."""
        layout = self._layout
        width, left = self._message_width, layout.lines
        lines: list[str] = []
        for words in self.told(message):
            fitted = text.fitted(words, layout.line_px, width, left)
            if fitted is None and not lines:  # better smaller than not at all
                lines = _broken(words, left)
                break
            if fitted is not None:
                lines += fitted
                left -= len(fitted)
            if left == 0:
                break
        return tuple(lines)

    @property
    def _message_width(self) -> int:
        return round(0.96 * self._layout.message.width)

    def _draw_action(self, message: Message) -> None:
        """The panel: sign, big word, and under them what else moves or warns the person."""
        guidance = message.moment.guidance
        lean, lines = guidance.lean, self._message_lines(message)
        shown, self._shown_action = self._shown_action, (guidance.action, lean, lines)
        if shown == self._shown_action:
            return
        pair = self._theme.action(guidance.action)
        if shown is None or shown[:2] != (guidance.action, lean):
            self._layout.word.fill(self._canvas, pair.ground)
            sign, room = self._parts_of_action()
            signs.draw(self._canvas, guidance.action, sign.x, sign.y, sign.width, pair.text, lean)
            made = self._big_word(guidance.action)
            self._place(made, room, room.y + (room.height - made.shape[0]) // 2)
        layout, box = self._layout, self._layout.message
        box.fill(self._canvas, pair.ground)
        pitch = box.height // max(layout.lines, len(lines))
        for number, line in enumerate(lines):
            made = text.patch(line, layout.line_px, self._message_width, pair)
            height = min(made.shape[0], box.height)
            y = box.y + number * pitch + max(0, (pitch - height) // 2)
            self._place(made[:height], box, min(y, box.y + box.height - height))

    def _parts_of_action(self) -> tuple[Area, Area]:
        """Where the sign goes, and the room for the word: beside it, or under it."""
        box = self._layout.word
        if self._size_px[0] < self._size_px[1]:
            size, gap = round(0.42 * box.height), round(0.06 * box.height)
            sign = Area(box.x + (box.width - size) // 2, box.y + gap, size, size)
            high = box.height - size - gap
            return sign, Area(box.x + gap, box.y + size + gap, box.width - 2 * gap, high)
        size = round(0.66 * box.height)
        gap = (box.height - size) // 2
        taken = size + 2 * gap
        room = Area(box.x + taken, box.y, box.width - taken - gap, box.height)
        return Area(box.x + gap, box.y + gap, size, size), room

    def _big_word(self, action: Action) -> ColourImage:
        _, room = self._parts_of_action()
        word, cap_px, pair = (
            self._big_words[action],
            self._layout.word_px,
            self._theme.action(action),
        )
        made = text.patch(word, cap_px, room.width, pair)
        if made.shape[0] > room.height:  # accents stand above capitals, and hooks hang below them
            cap_px = cap_px * room.height // made.shape[0]
            made = text.patch(word, cap_px, room.width, pair)
        return made


def _broken(words: str, lines: int) -> list[str]:
    """The words in that many lines of about the same length."""
    rest, made = words.split(), []
    for left in range(lines, 0, -1):
        wanted = len(" ".join(rest)) / left
        take = 1
        while take < len(rest) and len(" ".join(rest[: take + 1])) <= 1.1 * wanted:
            take += 1
        made.append(" ".join(rest[: take if left > 1 else len(rest)]))
        rest = rest[take:] if left > 1 else []
        if not rest:
            break
    return made
