"""The review as a page: contact sheet, then each picture with its eyes at 100 % and its place."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from assist.base import terms
from assist.base.html import rendered
from assist.base.words import _, _n, current
from assist.guidance.verdict import NINETY_PERCENT
from assist.review import zone_plot
from assist.review.checked import Cause, CheckedPicture, Sharpness
from assist.review.figures import f_number, pixels, shutter_speed
from assist.review.matching import Match
from assist.review.sentence import told
from assist.review.session_attempts import Without
from assist.review.verdict_sign import verdict_word
from assist.review.zone_plot import Place


def page_of(
    pictures: list[CheckedPicture],
    found: Match | None,
    session: str | None = None,
    without: Sequence[Without] = (),
) -> bytes:
    """The whole report. `without`: the pictures that belong to no attempt of the session."""
    strange = {id(p) for group in without if group.strange for p in group.pictures}
    shown = [_Shown(n, p, id(p) in strange) for n, p in enumerate(pictures, start=1)]
    by_picture = {id(s.picture): s for s in shown}
    counts = Counter(p.verdict for p in pictures)
    return rendered(
        "assist.review",
        "review.html",
        lead=_lead(pictures),
        counts=[(counts[v.value], v.value) for v in Sharpness if counts[v.value]],
        clock="" if found is None else _clock(found, session),
        without=[
            (_capital(group.words), [by_picture[id(p)] for p in group.pictures])
            for group in without
        ],
        pictures=shown,
        verdict_word=verdict_word,
    )


def _lead(pictures: list[CheckedPicture]) -> str:
    """How many there are, and what they are judged by."""
    lead = _n("{n} picture", "{n} pictures", len(pictures))
    judged = next((p for p in pictures if p.limit_px is not None), None)
    if judged is None or judged.limit_px is None:
        return lead
    lead = _(
        "{count}, sharp to a blur of {limit} at the eyes ({criterion})",
        count=lead,
        limit=pixels(judged.limit_px),
        criterion=terms.criterion(judged.criterion),
    )
    if judged.print_limit_px is None or not judged.print_size:
        return lead
    return _("{sharp}, acceptable to {print}", sharp=lead, print=_print(judged))


def _clock(found: Match, session: str | None) -> str:
    """How many pictures were matched with the record, and how far the clocks differ."""
    matched = sum(a is not None for a in found.attempts)
    count = (
        _("{n} matched with the record of {session} by time.", n=matched, session=session)
        if session
        else _("{n} matched with the record by time.", n=matched)
    )
    how = (
        _("found from the set") if found.certain else _("assumed: too few pictures to find it from")
    )
    span = _span(abs(found.offset_s))
    clock = (
        _("The camera's clock is {span} ahead of the record's ({how}).", span=span, how=how)
        if found.offset_s >= 0
        else _("The camera's clock is {span} behind the record's ({how}).", span=span, how=how)
    )
    return f"{count} {clock}"


def _span(seconds: float) -> str:
    if seconds < 120:
        return current().decimal(f"{seconds:.1f} s")
    hours, rest = divmod(round(seconds), 3600)
    return (f"{hours} h " if hours else "") + f"{rest // 60} min {rest % 60} s"


@dataclass(frozen=True)
class _Shown:
    """One picture in words. strange: whether it is known to belong to no attempt."""

    number: int
    picture: CheckedPicture
    strange: bool

    @property
    def name(self) -> str:
        return Path(self.picture.file).name

    @property
    def described(self) -> str:
        """The small picture, told to who does not see it."""
        if not self.picture.framing:
            return _("{file}, small, no one found in it", file=self.name)
        framing = terms.told(self.picture.framing)
        return _("{file}, small, {framing}", file=self.name, framing=framing)

    @property
    def place(self) -> list[str]:
        """Where it belongs: its attempt, its place in its burst."""
        p = self.picture
        words = []
        if p.attempt is not None:
            words.append(_("attempt {number}", number=p.attempt))
        elif self.strange:
            words.append(_("no attempt"))
        if p.rank:
            words.append(_("{rank} of {of}", rank=p.rank, of=p.of))
        return words

    @property
    def why(self) -> str:
        return _sentence(told(self.picture.why))

    @property
    def change(self) -> str:
        return _sentence(told(self.picture.change))

    @property
    def problem(self) -> str:
        return told(self.picture.problem)

    @property
    def notes(self) -> list[str]:
        return [told(note) for note in self.picture.notes]

    @property
    def facts(self) -> list[tuple[str, str]]:
        """Names and values; those that are not known are empty."""
        p, decimal = self.picture, current().decimal
        blur = on_sensor = belief = print_up_to = attempt = ""
        if p.blur_px is not None and p.blur_sd_px is not None:
            blur = _(
                "{width}, give or take {error}",
                width=pixels(p.blur_px),
                error=current().figure(NINETY_PERCENT * p.blur_sd_px),
            )
        if p.blur_mm is not None:
            on_sensor = decimal(f"{p.blur_mm:.3f} mm")
        if p.p_sharp is not None:
            belief = _("chance of being sharp: {percent} %", percent=f"{100 * p.p_sharp:.0f}")
        if p.largest_print_cm is not None:
            width = f"{p.largest_print_cm:.0f}"
            print_up_to = _("{width} cm wide, seen from 40 cm", width=width)
        if self.strange:
            attempt = _("none of the session's")
        elif p.attempt is not None:
            attempt = str(p.attempt)
        focal = "" if p.focal_length_mm is None else decimal(f"{p.focal_length_mm:g} mm")
        return [
            (_("blur"), blur),
            (_("on the sensor"), on_sensor),
            (_("limit"), "" if p.limit_px is None else pixels(p.limit_px)),
            (_("acceptable to"), _print(p) if p.print_limit_px and p.print_size else ""),
            (_("sharp with"), belief),
            (_("print up to"), print_up_to),
            (_("cause"), "" if p.cause == Cause.NONE.value else terms.told(p.cause)),
            (_("lens"), focal),
            (_("aperture"), "" if p.f_number is None else f_number(p.f_number)),
            (_("shutter"), "" if p.exposure_s is None else shutter_speed(p.exposure_s)),
            (_("ISO"), "" if p.iso is None else str(p.iso)),
            (_("framing"), terms.told(p.framing or "")),
            (_("cut off"), ", ".join(terms.body_part(part) for part in p.cut)),
            (_("in its burst"), _("{rank} of {of}", rank=p.rank, of=p.of) if p.rank else ""),
            (_("attempt"), attempt),
            (_("live verdict"), terms.told(p.live_verdict or "")),
            (_("taken"), "" if p.taken_at is None else f"{p.taken_at:%Y-%m-%d %H:%M:%S}"),
        ]

    @property
    def plot(self) -> Markup:
        """Where the eyes were in the focus zone."""
        p = self.picture
        if p.near_m is None or p.focus_m is None:
            return Markup()
        marks = []
        if p.distance_m is not None:
            marks.append(Place(_("eyes, from the picture"), p.distance_m, p.distance_sd_m))
        if p.live_distance_m is not None:
            feed_m, feed_sd_m = p.live_distance_m, p.live_distance_sd_m
            marks.append(Place(_("eyes, from the feed"), feed_m, feed_sd_m))
        if p.distance_from_blur_m is not None:
            marks.append(Place(_("eyes, from the blur"), p.distance_from_blur_m))
        if not marks:
            return Markup()
        far_m = math.inf if p.far_m is None else p.far_m
        return zone_plot.draw(p.near_m, far_m, p.focus_m, marks)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _sentence(words: str) -> str:
    return _capital(words) + ("." if words and not words.endswith(".") else "")


def _print(p: CheckedPicture) -> str:
    """The blur that the print asked for still bears."""
    return _(
        "{limit} (a print {size})",
        limit=pixels(p.print_limit_px or 0),
        size=terms.print_size(p.print_size),
    )
