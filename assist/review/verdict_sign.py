"""How a verdict looks on a page."""

from __future__ import annotations

from markupsafe import Markup

from assist.base import terms
from assist.review.checked import Sharpness

_SIGNS = {
    Sharpness.SHARP.value: '<rect x="2" y="2" width="16" height="16" fill="currentColor"/>',
    Sharpness.ACCEPTABLE.value: (
        '<rect x="2" y="2" width="16" height="16" fill="none" stroke="currentColor" '
        'stroke-width="2.4"/><rect x="2" y="10" width="16" height="8" fill="currentColor"/>'
    ),
    Sharpness.SOFT.value: (
        '<circle cx="10" cy="10" r="8" fill="none" stroke="currentColor" stroke-width="2.4" '
        'stroke-dasharray="3 3"/>'
    ),
    Sharpness.NOT_SURE.value: (
        '<path d="M10 1 L19 10 L10 19 L1 10 Z" fill="none" stroke="currentColor" '
        'stroke-width="2.4"/>'
    ),
}
INKS = {
    Sharpness.SHARP.value: "#0b5d43",
    Sharpness.ACCEPTABLE.value: "#5b4a00",
    Sharpness.SOFT.value: "#8a2b0e",
    Sharpness.NOT_SURE.value: "#3f4754",
}
"""Ink of each verdict's word: at least 7:1 on white (WCAG 2.2, 1.4.6); the sign says it too."""


_WORD = Markup(
    '<span class="word" style="color:{ink}"><svg width="20" height="20" viewBox="0 0 20 20" '
    'aria-hidden="true">{sign}</svg>{word}</span>'
)


def verdict_word(verdict: str) -> Markup:
    """A verdict as sign and word: told apart by shape before colour."""
    ink = INKS.get(verdict, "#1b1e23")
    sign = Markup(_SIGNS.get(verdict, ""))
    return _WORD.format(ink=ink, sign=sign, word=terms.told(verdict))
