"""Which feeds there are, and one picture of each, taken in a process that may hang."""

from __future__ import annotations

from typing import Any

from assist.base.system import cameras, here
from assist.base.words import _
from assist.check import probe_process
from assist.page.taking import SAMPLE, feed_arguments

_LIMIT_S = 10.0


def feeds() -> list[dict[str, str]]:
    """The machine's cameras as it lists them, and the sample clip."""
    listed = cameras.listed(here()) or []
    found = [
        {"feed": str(one.number), "name": one.name or _("camera {n}", n=one.number)}
        for one in listed
        if not one.further
    ]
    return [*found, {"feed": SAMPLE, "name": _("the sample clip (an invented scene, rendered)")}]


def looked_at(feed: object) -> dict[str, Any]:
    """What a feed gives: its size and a small picture (JPEG, base64), or why there is none.

    Raises UserError for a feed that the page may not open.
    """
    [name, *_rest] = feed_arguments({"feed": feed, "through": "taking-lens"})
    seen = probe_process.look(here(), "feed_picture", name, limit_s=_LIMIT_S)
    return {"problem": seen.problem} if seen.problem else dict(seen.values)
