"""What can hurt whoever photographs themselves alone, and when it does: the owner of all cautions.

The plan and its sheet, the start of a run, the phone's page and the sounds take their lines from
here. Common practice, no source, but where one is named.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from assist.base.words import N_, Words
from assist.setup.body import Posture
from assist.setup.set_up import SetUp

DARK_EV100 = 5.0
"""Below this people stumble: a room by a few lamps has about 5. Common practice, no source."""
CHILD_M = 1.45
"""Who is stated to be smaller may well be a child; that is no measurement."""


@dataclass(frozen=True, slots=True)
class Hazard:
    """One thing to take care of.

    line: a message, for `gettext`.   holds: for which set-ups it is told.
    first: whether it is told at the start of a run too, because the set-up itself calls for it.
    """

    line: str
    holds: Callable[[SetUp], bool] = lambda _: True
    first: Callable[[SetUp], bool] = lambda _: False


def _sits(set_up: SetUp) -> bool:
    return set_up.person.stated_posture is Posture.SEATED


def _dark(set_up: SetUp) -> bool:
    light = set_up.exposure.light_ev100
    return light is not None and light < DARK_EV100


def _child(set_up: SetUp) -> bool:
    statures_m = (set_up.person.stature_m, *(set_up.together.statures_m or ()))
    return any(stature_m is not None and stature_m < CHILD_M for stature_m in statures_m)


HAZARDS = (
    Hazard(
        N_(
            "Go the way to the mark once beforehand, facing forwards. Never move back without "
            "looking behind you."
        ),
        first=lambda _: True,
    ),
    Hazard(N_("Keep well away from edges, water, stairs, traffic and tracks.")),
    Hazard(N_("By the sea look up the tide, and never turn your back on the waves.")),
    Hazard(
        N_("Set the brakes before the timer starts, stay off slopes, and keep the way clear."),
        _sits,
        _sits,
    ),
    Hazard(
        N_(
            "In the dark light the way, wear a lamp, and use --forward-only: it never sends you "
            "backwards."
        ),
        first=_dark,
    ),
    Hazard(
        N_("Never leave a child alone in front of the camera or beside the tripod."),
        first=_child,
    ),
    Hazard(N_("Tape cables and marks down flat; go round the tripod's legs, not over them.")),
    Hazard(
        N_(
            "In wind, on slopes and on sand weigh the tripod down and keep it low; do not leave it "
            "alone."
        )
    ),
    Hazard(
        N_("Never look at the sun through finder or lens, and never leave a lens pointing at it.")
    ),
    # WCAG 2.2, 2.3.1 draws the line at three flashes a second.
    Hazard(
        N_(
            "Flash, strobe and flicker can set off seizures: ask first, and never more than three "
            "flashes a second."
        )
    ),
    Hazard(N_("Start sound at a low volume, above all with headphones.")),
    Hazard(N_("Local rules override this plan, and so does whoever is licensed for the place.")),
)


def cautions(set_up: SetUp, say: Words) -> list[str]:
    """All that may matter with this set-up, the most usual first."""
    return [say.gettext(hazard.line) for hazard in HAZARDS if hazard.holds(set_up)]


def cautions_at_start(set_up: SetUp, say: Words, *, forward_only: bool, by_ear: bool) -> list[str]:
    """What is told before a run: the way, and what the set-up itself calls for.

    forward_only: whether nobody is sent backwards anyway.   by_ear: whether there is no screen to
    read.
    """
    lines = [say.gettext(hazard.line) for hazard in HAZARDS if hazard.first(set_up)]
    if by_ear and not forward_only and not _dark(set_up):
        lines.append(
            say.gettext(
                "By ear alone --forward-only is safer: start behind the zone and come forward."
            )
        )
    return lines


def aloud_at_start(say: Words, *, forward_only: bool) -> str:
    """What is said aloud before a run."""
    if forward_only:
        return say.gettext("Look where you go. You are only sent forward.")
    return say.gettext("Look behind you whenever you are sent back.")
