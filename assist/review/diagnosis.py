"""From measured blur to a verdict, a cause and what to change. Pure: no pictures, no files."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from assist.base import terms
from assist.base.words import N_, _, current
from assist.review.blur.measure import Blur
from assist.review.checked import MOVEMENT, Cause, Sharpness
from assist.review.figures import f_number, metres, pixels, shutter_speed
from assist.review.sentence import Sentence
from assist.review.taking_lens import TakenWith, depths_for_blur_m
from assist.setup.body import Posture
from optics import lens as thin_lens
from optics.focus_zone import normal_cdf

SURE = 0.70
"""Probability from which sharp, acceptable and soft are said; below it the answer is "not sure"."""
_SEEN_WITHIN = 1.5
"""Edges facing every way must be as sharp as this part of the limit before the word is sharp."""
_CLEARLY_SHARPER = 0.65
_SAME_SMEAR = 0.55
_FULL_STOPS = (1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0)
"""Marked full stops. Source: ISO 517 (from memory)."""
_SIDE_SURE = 0.8
_INSIDE_SURE = 0.9
_HEADROOM = 0.85
"""Advice aims at this part of the limit, so that it need not be followed to the millimetre."""

LOOK_BEHIND = N_("look behind you first")
"""Goes with every word that sends somebody backwards."""


@dataclass(frozen=True, slots=True)
class PlaceBlur:
    """Blur at another place, and how far it is compared with the eyes."""

    name: str
    depth: str
    blur: Blur


@dataclass(frozen=True, slots=True)
class Where:
    """Where the eyes were and how sure that is, metres from the sensor plane."""

    eyes_m: float
    sd_m: float


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """The verdict, its cause and what to change."""

    verdict: Sharpness
    p_sharp: float
    cause: Cause
    why: str
    change: str
    distance_from_blur_m: float | None = None


def p_within(blur: Blur, limit_px: float) -> float:
    """Probability that the true width is within a limit, its error being normal."""
    return normal_cdf((limit_px - blur.width_px) / max(blur.sd_px, 1e-6))


def verdict_of(blur: Blur, limit_px: float, print_limit_px: float) -> tuple[Sharpness, float]:
    """The word for the eyes, and the probability that they are sharp by the criterion."""
    p_sharp = p_within(blur, limit_px)
    p_print = max(p_sharp, p_within(blur, print_limit_px))
    if p_sharp >= SURE:
        # Sharp along one direction is not sharp: a smear leaves the edges that lie along it.
        seen = blur.softest_px <= _SEEN_WITHIN * limit_px
        return (Sharpness.SHARP if seen else Sharpness.NOT_SURE), p_sharp
    if p_print >= SURE and p_sharp <= 1 - SURE:
        return Sharpness.ACCEPTABLE, p_sharp
    # In doubt between the two lesser words, the lesser.
    return (Sharpness.SOFT if p_sharp <= 1 - SURE else Sharpness.NOT_SURE), p_sharp


def cause_of(blur: Blur, places: list[PlaceBlur]) -> Cause:
    """What blurred the eyes, from the eyes and from what else is sharp.

    A blur along one direction is movement. If things that stand still show the same, it was the
    camera; if they do not, the person. A blur of no direction is defocus, and what is clearly
    sharper tells on which side of the eyes the focus lies.
    """
    if blur.direction_deg is not None:
        return _movement_of(blur, places)
    sharper = {p.depth for p in places if p.blur.width_px < _CLEARLY_SHARPER * blur.width_px}
    if ("nearer" in sharper) != ("farther" in sharper):
        return Cause.FRONT_FOCUS if "nearer" in sharper else Cause.BACK_FOCUS
    return Cause.DEFOCUS


def _movement_of(blur: Blur, places: list[PlaceBlur]) -> Cause:
    """Whose movement it was: what stands still shows the camera's and not the person's."""
    still = [p.blur for p in places if p.depth == "farther" or p.name.startswith("ground")]
    alike = any(_same_smear(blur, other) for other in still)
    unlike = any(other.width_px < _SAME_SMEAR * blur.width_px for other in still)
    if alike == unlike:
        return Cause.MOTION_OR_SHAKE
    return Cause.SHAKE if alike else Cause.MOTION


def _same_smear(eyes: Blur, other: Blur) -> bool:
    if other.direction_deg is None or eyes.direction_deg is None:
        return False
    turn = abs((other.direction_deg - eyes.direction_deg + 90) % 180 - 90)
    return turn < 25 and _SAME_SMEAR < other.smear_px / max(eyes.smear_px, 1e-6) < 1 / _SAME_SMEAR


def diagnose(
    blur: Blur,
    places: list[PlaceBlur],
    lens: TakenWith,
    where: Where | None,
    exposure_s: float | None,
    posture: Posture = Posture.NOT_SURE,
) -> Diagnosis:
    """Verdict, cause, reason and advice for one picture.

    posture: who is not known to stand is told to move, not to step.
    """
    verdict, p_sharp = verdict_of(blur, lens.limit_px, lens.print_limit_px)
    if verdict is Sharpness.SHARP:
        why = Sentence(lambda: _width_told(blur, lens, verdict, p_sharp))
        return Diagnosis(verdict, p_sharp, Cause.NONE, why, "")

    def because(reason: Callable[[], str]) -> Sentence:
        return Sentence(
            lambda: _(
                "{blur}; {reason}", blur=_width_told(blur, lens, verdict, p_sharp), reason=reason()
            )
        )

    cause = cause_of(blur, places)
    if verdict is Sharpness.NOT_SURE and p_sharp >= SURE:
        why = Sentence(lambda: _width_told(blur, lens, verdict, p_sharp))
        look = Sentence(lambda: _("look at the eyes at 100 %"))
        return Diagnosis(verdict, p_sharp, Cause.UNKNOWN, why, look)
    if cause in MOVEMENT:
        why = because(lambda: _smear_told(blur, cause))
        change = Sentence(lambda: _against_movement(blur, lens, cause, exposure_s))
        return Diagnosis(verdict, p_sharp, cause, why, change)
    if verdict is not Sharpness.NOT_SURE and where is not None and _surely_inside(where, lens):
        why = because(lambda: _focus_elsewhere(lens, where, cause))
        change = Sentence(lambda: _or_aperture(_focus_on_stand_in(), blur, lens))
        return Diagnosis(verdict, p_sharp, cause, why, change)
    found_m, side = _side(blur, lens, where, cause)
    if side == "behind" and cause is Cause.DEFOCUS:
        cause = Cause.FRONT_FOCUS
    elif side == "in front" and cause is Cause.DEFOCUS:
        cause = Cause.BACK_FOCUS
    stands, settled = posture is Posture.STANDING, cause

    def against_defocus() -> tuple[str, str]:
        return _against_defocus(lens, found_m, side, settled, stands)

    why = because(lambda: against_defocus()[0])
    change = Sentence(lambda: _or_aperture(against_defocus()[1], blur, lens))
    return Diagnosis(verdict, p_sharp, cause, why, change, found_m)


def _width_told(blur: Blur, lens: TakenWith, verdict: Sharpness, p_sharp: float) -> str:
    """How wide the blur is, and how that compares with the limit."""
    size = pixels(blur.width_px)
    if lens.sensor_known:
        on_sensor_mm = blur.width_px * lens.pixel_pitch_m * 1000
        size = _(
            "{pixels}, {width} mm on the sensor",
            pixels=size,
            width=current().figure(on_sensor_mm, 3),
        )
    limit = _(
        "{pixels} ({criterion})",
        pixels=pixels(lens.limit_px),
        criterion=terms.criterion(lens.criterion.basis),
    )
    if verdict is Sharpness.SHARP:
        return _("blur at the eyes {size}, within {limit}", size=size, limit=limit)
    if verdict is not Sharpness.NOT_SURE:
        return _("blur at the eyes {size}, over {limit}", size=size, limit=limit)
    if p_sharp >= SURE:
        return _(
            "blur at the eyes {size}, within {limit}, but sharp edges face one way only",
            size=size,
            limit=limit,
        )
    return _(
        "blur at the eyes {size}, too near the limit of {limit} to say", size=size, limit=limit
    )


def _smear_told(blur: Blur, cause: Cause) -> str:
    length, by = pixels(blur.smear_px, 0), terms.told(cause.value)
    angle_deg = blur.direction_deg or 0.0
    if angle_deg < 20 or angle_deg > 160:
        return _("smeared {length} from side to side: {cause}", length=length, cause=by)
    if 70 < angle_deg < 110:
        return _("smeared {length} up and down: {cause}", length=length, cause=by)
    return _("smeared {length} diagonally: {cause}", length=length, cause=by)


def _against_movement(blur: Blur, lens: TakenWith, cause: Cause, exposure_s: float | None) -> str:
    # The smear alone, brought under the limit.
    factor = blur.width_px / (_HEADROOM * lens.limit_px)
    if exposure_s is None:
        faster = _("a shutter {n} times as fast", n=max(2, math.ceil(factor)))
    else:
        faster = _(
            "1/{speed} s or faster (this was {exposure})",
            speed=_nice(factor / exposure_s),
            exposure=shutter_speed(exposure_s),
        )
    if cause is Cause.SHAKE:
        return _(
            "steady the tripod, switch stabilisation off, use the self-timer; or {faster}",
            faster=faster,
        )
    if cause is Cause.MOTION:
        return _("hold still for the exposure, or {faster}", faster=faster)
    return _("hold still, steady the tripod, or {faster}", faster=faster)


def _nice(per_second: float) -> int:
    """The next marked shutter speed, in parts of a second, at or above."""
    marked = (2, 4, 8, 15, 30, 60, 125, 250, 500, 1000, 2000, 4000, 8000)
    return next((m for m in marked if m >= 0.95 * per_second), 8000)


def _side(
    blur: Blur, lens: TakenWith, where: Where | None, cause: Cause
) -> tuple[float | None, str]:
    """Depth that explains the blur (from the sensor plane), and the side of the zone it is on.

    The blur alone allows a place in front of the plane of focus and one behind it. The picture's
    own evidence decides first, then where the person was measured to stand, if that is clear.
    """
    if lens.focal_length_m is None or lens.f_number is None or lens.focus_m is None:
        return None, ""
    blur_m = blur.width_px * lens.pixel_pitch_m
    near_m, far_m = (
        d + lens.offset_m
        for d in depths_for_blur_m(lens.focal_length_m, lens.f_number, lens.focus_m, blur_m)
    )
    if cause is Cause.DEFOCUS and where is not None:
        focus_m = lens.focus_m + lens.offset_m
        p_behind = normal_cdf((where.eyes_m - focus_m) / max(where.sd_m, 1e-6))
    else:
        p_behind = {Cause.FRONT_FOCUS: 1.0, Cause.BACK_FOCUS: 0.0}.get(cause, 0.5)
    if p_behind >= _SIDE_SURE:
        return far_m, "behind"
    return (near_m, "in front") if p_behind <= 1 - _SIDE_SURE else (None, "")


def _surely_inside(where: Where, lens: TakenWith) -> bool:
    """Whether the eyes were seen to be where they should have been sharp."""
    zone = lens.zone
    if zone is None:
        return False
    sd_m = max(where.sd_m, 1e-6)
    outside = normal_cdf((float(zone.near_m) + lens.offset_m - where.eyes_m) / sd_m)
    if math.isfinite(zone.far_m):
        outside += normal_cdf((where.eyes_m - float(zone.far_m) - lens.offset_m) / sd_m)
    return outside <= 1 - _INSIDE_SURE


def _focus_elsewhere(lens: TakenWith, where: Where, cause: Cause) -> str:
    """Blurred where it should be sharp: no step helps, for the focus is not where it is said."""
    focus, eyes = metres((lens.focus_m or 0.0) + lens.offset_m), metres(where.eyes_m)
    if cause is Cause.FRONT_FOCUS:
        return _(
            "the picture shows the eyes at {eyes}, inside the zone; the focus was nearer, not at "
            "{focus}: what is nearer is sharper",
            eyes=eyes,
            focus=focus,
        )
    if cause is Cause.BACK_FOCUS:
        return _(
            "the picture shows the eyes at {eyes}, inside the zone; the focus was farther, not at "
            "{focus}: what is farther is sharper",
            eyes=eyes,
            focus=focus,
        )
    return _(
        "the picture shows the eyes at {eyes}, inside the zone; a focus at {focus} does not "
        "explain it",
        eyes=eyes,
        focus=focus,
    )


def _against_defocus(
    lens: TakenWith, found_m: float | None, side: str, cause: Cause, stands: bool
) -> tuple[str, str]:
    """Where the eyes or the focus were, and what to do; who does not stand is told to move."""
    zone = lens.zone
    if cause is Cause.UNKNOWN:
        return terms.told(cause.value), _focus_on_stand_in()
    if zone is None or found_m is None or not side:
        return _without_a_place(cause, stands)
    near_m, far_m = float(zone.near_m) + lens.offset_m, float(zone.far_m) + lens.offset_m
    near, far = metres(near_m), metres(far_m)
    if math.isinf(found_m):
        values = {"near": current().figure(near_m, 2), "far": far}
        return _("eyes far behind the far limit of {far}", far=far), (
            _("step forward into {near} to {far}", **values)
            if stands
            else _("move forward into {near} to {far}", **values)
        )
    focus_m = (lens.focus_m or 0.0) + lens.offset_m
    way = metres(abs(found_m - focus_m))
    if side == "behind":
        past_m = found_m - far_m
        reason = (
            _("eyes {past} behind the far limit of {far}", past=metres(past_m), far=far)
            if past_m > 0
            else _("eyes near the far limit of {far}", far=far)
        )
        forward = _("step forward {way}", way=way) if stands else _("move forward {way}", way=way)
        return reason, forward
    past_m = near_m - found_m
    reason = (
        _("eyes {past} in front of the near limit of {near}", past=metres(past_m), near=near)
        if past_m > 0
        else _("eyes near the near limit of {near}", near=near)
    )
    care = _(LOOK_BEHIND)
    return reason, (
        _("step back {way} ({care})", way=way, care=care)
        if stands
        else _("move back {way} ({care})", way=way, care=care)
    )


def _without_a_place(cause: Cause, stands: bool) -> tuple[str, str]:
    """The same where nothing tells how far away the eyes were."""
    if cause is Cause.FRONT_FOCUS:
        return _("what is nearer is sharper: the focus was in front of the eyes"), (
            _("step forward or focus farther away")
            if stands
            else _("move forward or focus farther away")
        )
    if cause is Cause.BACK_FOCUS:
        care = _(LOOK_BEHIND)
        return _("what is farther is sharper: the focus was behind the eyes"), (
            _("step back ({care}) or focus nearer", care=care)
            if stands
            else _("move back ({care}) or focus nearer", care=care)
        )
    return _("out of focus, on which side is not to be told"), _focus_on_stand_in()


def _focus_on_stand_in() -> str:
    return _("focus on a stand-in at the mark and lock the focus")


def _or_aperture(advice: str, blur: Blur, lens: TakenWith) -> str:
    """Advice, or the first full stop that makes the same place sharp, if a lens has it."""
    if lens.f_number is None:
        return advice
    wanted = lens.f_number * blur.width_px / (_HEADROOM * lens.limit_px)
    stop = next((n for n in _FULL_STOPS if n >= 0.97 * wanted and n > lens.f_number), None)
    if stop is None or stop > 22:
        return advice
    return _("{advice}, or {aperture}", advice=advice, aperture=f_number(stop))


def predicted_blur_px(lens: TakenWith, where: Where) -> float | None:
    """Blur that the lens formula gives for where the eyes were measured to be, pixels."""
    if lens.focal_length_m is None or lens.f_number is None or lens.focus_m is None:
        return None
    z_m = where.eyes_m - lens.offset_m
    if z_m <= 0:
        return None
    blur_m = float(thin_lens.blur_diameter_m(lens.focal_length_m, lens.f_number, lens.focus_m, z_m))
    return blur_m / lens.pixel_pitch_m
