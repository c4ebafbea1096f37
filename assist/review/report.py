"""The review as a page: contact sheet, then each picture with its eyes at 100 % and its place."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from assist.base import html as page
from assist.base.html import facts, link, text
from assist.guidance.verdict import NINETY_PERCENT
from assist.review import zone_plot
from assist.review.checked import Cause, CheckedPicture, Sharpness
from assist.review.matching import Match
from assist.review.session_attempts import Without
from assist.review.verdict_sign import verdict_word
from assist.review.zone_plot import Place

_STYLE = """
.counts { display: flex; flex-wrap: wrap; gap: 10px 28px; margin: 14px 0 6px; font-size: 18px; }
.counts > span { display: inline-flex; align-items: center; gap: 8px; }
.sheet { display: grid; grid-template-columns: repeat(auto-fill, minmax(180px, 1fr)); gap: 14px; }
.sheet a { text-decoration: none; background: var(--card); border: 1px solid var(--line);
  border-radius: 5px; padding: 8px; display: block; }
.sheet .frame { height: 150px; display: flex; align-items: center; justify-content: center;
  background: #e9e9e6; border-radius: 3px; overflow: hidden; }
.sheet img { max-height: 150px; width: auto; }
.sheet .word { font-size: 14px; margin-top: 6px; }
.sheet .name { font-size: 13px; color: var(--soft); overflow-wrap: anywhere; overflow: hidden;
  display: -webkit-box; -webkit-box-orient: vertical; -webkit-line-clamp: 3; }
.one { display: grid; grid-template-columns: 250px minmax(0, 1fr); gap: 22px; }
.one .word { font-size: 21px; }
.eyes img { width: 100%; object-fit: none; object-position: center; }
@media screen and (max-width: 800px) {
  .sheet { grid-template-columns: repeat(auto-fill, minmax(140px, 1fr)); }
  .one { grid-template-columns: minmax(0, 1fr); }
  .one > :first-child { order: 2; }
}
@media print {
  .sheet { grid-template-columns: repeat(5, 1fr); gap: 8px; }
  .sheet a { padding: 5px; break-inside: avoid; }
  .sheet .frame, .sheet img { height: auto; max-height: 100px; }
  .one { grid-template-columns: 200px minmax(0, 1fr); gap: 14px; font-size: 13px; }
  .one .facts { font-size: 12px; gap: 1px 10px; }
  .eyes img { max-height: 230px; }
}
"""


def page_of(
    pictures: list[CheckedPicture],
    found: Match | None,
    session: str | None = None,
    without: Sequence[Without] = (),
) -> bytes:
    """The whole report. `without`: the pictures that belong to no attempt of the session."""
    strange = {id(p) for group in without if group.strange for p in group.pictures}
    counts = Counter(p.verdict for p in pictures)
    words = "".join(
        f"<span>{counts[v.value]} {verdict_word(v.value)}</span>"
        for v in Sharpness
        if counts[v.value]
    )
    lead = f"{len(pictures)} pictures" if len(pictures) != 1 else "1 picture"
    judged = next((p for p in pictures if p.limit_px is not None), None)
    if judged is not None and judged.limit_px is not None:
        lead += f", sharp to a blur of {judged.limit_px:.1f} px at the eyes ({judged.criterion})"
        if judged.print_limit_px is not None and judged.print_size:
            lead += f", acceptable to {_print(judged)}"
    sheet = "".join(_on_sheet(n, p, id(p) in strange) for n, p in enumerate(pictures, start=1))
    details = "".join(_detail(n, p, id(p) in strange) for n, p in enumerate(pictures, start=1))
    body = (
        f'<h1>The pictures, checked</h1><p class="lead">{text(lead)}</p>'
        f'<div class="counts">{words}</div>{_clock(found, session)}'
        f"{_told(without, pictures)}"
        f'<h2>Contact sheet</h2><div class="sheet">{sheet}</div>'
        f"<h2>One by one</h2>{details}"
    )
    return page.page("The pictures, checked", body, _STYLE)


def _clock(found: Match | None, session: str | None) -> str:
    if found is None:
        return ""
    matched = sum(a is not None for a in found.attempts)
    ahead = "ahead of" if found.offset_s >= 0 else "behind"
    how = "found from the set" if found.certain else "assumed: too few pictures to find it from"
    where = f" of {text(session)}" if session else ""
    return (
        f"<p>{matched} matched with the record{where} by time. The camera's clock is "
        f"{_span(abs(found.offset_s))} {ahead} the record's ({how}).</p>"
    )


def _told(without: Sequence[Without], pictures: list[CheckedPicture]) -> str:
    """Which pictures belong to no attempt of the session."""
    numbers = {id(p): number for number, p in enumerate(pictures, start=1)}
    paragraphs = []
    for group in without:
        named = ", ".join(
            f'<a href="#p{numbers[id(p)]}">{text(Path(p.file).name)}</a>' for p in group.pictures
        )
        words = text(group.words[:1].upper() + group.words[1:])
        paragraphs.append(f"<p>{words}{': ' if named else ''}{named}.</p>")
    return "".join(paragraphs)


def _span(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.1f} s"
    hours, rest = divmod(round(seconds), 3600)
    return (f"{hours} h " if hours else "") + f"{rest // 60} min {rest % 60} s"


def _image(p: CheckedPicture) -> str:
    """The small picture, told to who does not see it."""
    if not p.thumbnail:
        return ""
    shows = f", {p.framing}" if p.framing else ", no one found in it"
    alt = text(f"{Path(p.file).name}, small{shows}")
    return f'<img src="{link(p.thumbnail)}" alt="{alt}" loading="lazy">'


def _on_sheet(number: int, p: CheckedPicture, strange: bool) -> str:
    image = _image(p) or "<span>no picture</span>"
    told = " &middot; no attempt" if strange else ""
    if p.attempt is not None:
        told = f" &middot; attempt {p.attempt}"
    if p.rank:
        told += f" &middot; {p.rank} of {p.of}"
    name = text(Path(p.file).name)
    return (
        f'<a href="#p{number}"><div class="frame">{image}</div>{verdict_word(p.verdict)}'
        f'<div class="name" title="{name}">{name}{told}</div></a>'
    )


def _detail(number: int, p: CheckedPicture, strange: bool) -> str:
    thumb = _image(p)
    change = f'<p class="change">{text(_sentence(p.change))}</p>' if p.change else ""
    problem = f"<p>{text(p.problem)}</p>" if p.problem else ""
    notes = "".join(f"<p>Note: {text(note)}.</p>" for note in p.notes)
    eyes = (
        f'<figure class="eyes"><img src="{link(p.eyes_crop)}" alt="the eyes at full size" '
        'loading="lazy"><figcaption>The eyes at 100 %: one pixel of the picture is one pixel '
        "here.</figcaption></figure>"
        if p.eyes_crop
        else ""
    )
    return (
        f'<section class="card" id="p{number}"><div class="one"><div>{thumb}'
        f"{facts(_facts(p, strange))}</div><div><h3>{text(Path(p.file).name)}</h3>"
        f"{verdict_word(p.verdict)}<p>{text(_sentence(p.why))}</p>{problem}{change}{notes}{eyes}{_plot(p)}</div></div></section>"
    )


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:] + ("." if words and not words.endswith(".") else "")


def _print(p: CheckedPicture) -> str:
    """The blur that the print asked for still bears."""
    return f"{p.print_limit_px or 0:.1f} px (a print {p.print_size})"


def _facts(p: CheckedPicture, strange: bool) -> list[tuple[str, str]]:
    def number(value: float | None, form: str) -> str:
        return "" if value is None else text(form.format(value))

    blur = ""
    if p.blur_px is not None and p.blur_sd_px is not None:
        blur = f"{p.blur_px:.1f} px, give or take {NINETY_PERCENT * p.blur_sd_px:.1f}"
    shutter = ""
    if p.exposure_s is not None:
        shutter = f"1/{1 / p.exposure_s:.0f} s" if p.exposure_s < 0.4 else f"{p.exposure_s:g} s"
    return [
        ("blur", text(blur)),
        ("on the sensor", number(p.blur_mm, "{:.3f} mm")),
        ("limit", number(p.limit_px, "{:.1f} px")),
        ("acceptable to", text(_print(p)) if p.print_limit_px and p.print_size else ""),
        ("sharp with", number(None if p.p_sharp is None else 100 * p.p_sharp, "{:.0f} % belief")),
        ("print up to", number(p.largest_print_cm, "{:.0f} cm wide, seen from 40 cm")),
        ("cause", text("" if p.cause == Cause.NONE.value else p.cause)),
        ("lens", number(p.focal_length_mm, "{:g} mm")),
        ("aperture", number(p.f_number, "f/{:g}")),
        ("shutter", text(shutter)),
        ("ISO", text(p.iso)),
        ("framing", text(p.framing)),
        ("cut off", text(", ".join(p.cut))),
        ("in its burst", f"{p.rank} of {p.of}" if p.rank else ""),
        ("attempt", "none of the session's" if strange else text(p.attempt)),
        ("live verdict", text(p.live_verdict)),
        ("taken", text("" if p.taken_at is None else f"{p.taken_at:%Y-%m-%d %H:%M:%S}")),
    ]


def _plot(p: CheckedPicture) -> str:
    if p.near_m is None or p.focus_m is None:
        return ""
    marks = []
    if p.distance_m is not None:
        marks.append(Place("eyes, from the picture", p.distance_m, p.distance_sd_m))
    if p.live_distance_m is not None:
        marks.append(Place("eyes, from the feed", p.live_distance_m, p.live_distance_sd_m))
    if p.distance_from_blur_m is not None:
        marks.append(Place("eyes, from the blur", p.distance_from_blur_m))
    if not marks:
        return ""
    far_m = math.inf if p.far_m is None else p.far_m
    return zone_plot.draw(p.near_m, far_m, p.focus_m, marks)
