"""What a person is told of a moment, or of guidance alone, as the narrator words it."""

from dataclasses import replace
from functools import lru_cache

import numpy as np

from assist.base.words import Words
from assist.feed import Frame
from assist.guidance.assistant import Moment
from assist.guidance.guide import Guidance, Reason, Why
from assist.guidance.narrator import Narrator
from assist.guidance.troubles_shown import NO_TROUBLES
from assist.guidance.verdict import Assessment, Verdict
from optics.focus_zone import FocusZone
from tests.assist.footage import SET_UP

ENGLISH = Words()
ZONE = FocusZone(3.5, 4.0, 4.7, 0.05)
BLACK = np.zeros((360, 640, 3), np.uint8)
NOBODY = Assessment(Verdict.NO_ONE)


@lru_cache
def narrator(zone=ZONE, language="en", units="metres"):
    """One that tells of a zone."""
    return Narrator(zone, Words(language, units))


def told(moment, set_up=SET_UP, language="en"):
    """The message of a moment of a run with that set-up."""
    return narrator(set_up.focus_zone, language).tell(moment)


def message_of(
    guidance, assessment=NOBODY, countdown=None, *, troubles=NO_TROUBLES, zone=ZONE, language="en",
    picture=BLACK, **changed,
):  # fmt: skip
    """The message of that guidance; `changed` are words put in place of the narrator's."""
    moment = Moment(Frame(picture, 0.0, 0), None, None, assessment, guidance, None)
    return replace(narrator(zone, language).tell(moment, countdown, troubles), **changed)


def guidance_of(action, to_mark_m=None, **facts):
    """Guidance of that action; its reason does not matter."""
    return Guidance(action, to_mark_m, Why(Reason.NOT_SURE), **facts)
