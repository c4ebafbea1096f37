"""From what is wanted to the set-ups that do it, or to what keeps all of them from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assist.plan import reasons
from assist.plan.formats import LengthFormat
from assist.plan.plan import Plan
from assist.plan.planning import plan_of
from assist.plan.search_request import SearchRequest
from optics import lens
from optics.planner import Answer, Candidate, Cost, LensChoice, search
from optics.units import METRES_PER_INCH


@dataclass(frozen=True)
class Choice:
    """One set-up that does all that is wanted. Distances from the sensor plane.

    shutter, iso: as the dials show them, None when the light is not known.
    """

    rank: int
    lens: str
    focal_length_m: float
    aperture: str
    focus_distance_m: float
    in_front_m: float
    behind_m: float
    looser_by: float
    shutter: str | None
    iso: str | None
    cost: Cost
    cost_in_stops: float
    reason: str


@dataclass(frozen=True)
class Suggestion:
    """A change of one wish that would make the rest possible."""

    what: str
    value: float
    text: str


@dataclass(frozen=True)
class SearchOutcome:
    """Choices best first and the plan of the chosen one, or why there is none and what would help.

    best_of_each: ranks of the best choice of each lens.
    """

    choices: tuple[Choice, ...]
    best_of_each: tuple[int, ...]
    chosen: int | None
    plan: Plan | None
    why_none: str | None
    suggestions: tuple[Suggestion, ...]


def search_set_ups(
    request: SearchRequest, lenses: Sequence[LensChoice], show: LengthFormat, choose: int = 1
) -> SearchOutcome:
    """Search, put into words, and plan the chosen set-up forwards.

    Raises IndexError when there are choices but not so many as `choose`.
    """
    wishes = request.wishes
    step_m = 0.05 if show.units == "metres" else METRES_PER_INCH
    answer = search(wishes, lenses, step_m)
    if not answer.candidates:
        return SearchOutcome((), (), None, None, *_nothing(answer, request, show))
    choices = tuple(_choice(k, x, show) for k, x in enumerate(answer.candidates, 1))
    if not 1 <= choose <= len(choices):
        raise IndexError(choose)
    plan = plan_of(request.set_up(answer.candidates[choose - 1]))
    return SearchOutcome(choices, _best_of_each(answer), choose, plan, None, ())


def _nothing(
    answer: Answer, request: SearchRequest, show: LengthFormat
) -> tuple[str, tuple[Suggestion, ...]]:
    wishes = request.wishes
    return reasons.why_none(answer.near_miss, wishes, show), tuple(
        Suggestion(x.what, x.value, reasons.suggestion(x, wishes, show)) for x in answer.relaxations
    )


def _choice(rank: int, found: Candidate, show: LengthFormat) -> Choice:
    f = found.lens.focal_length_m
    return Choice(
        rank,
        found.lens.name,
        f,
        f"f/{found.aperture.label}",
        float(lens.lens_to_sensor_distance_m(f, found.focus_distance_m)),
        found.in_front_m,
        found.behind_m,
        found.looser_by,
        found.shutter.label if found.shutter else None,
        found.speed.label if found.speed else None,
        found.cost,
        found.cost.total,
        reasons.reason(found, show),
    )


def _best_of_each(answer: Answer) -> tuple[int, ...]:
    seen: dict[str, int] = {}
    for rank, found in enumerate(answer.candidates, 1):
        seen.setdefault(found.lens.name, rank)
    return tuple(seen.values())
