"""Size of the body or focal length of the feed? What marks can tell apart, and what they cannot.

A body of size S at depth D spans f S / D pixels. Marks at known depths therefore show the product
f S and never the two by themselves, however many there are. Three things separate them: knowing one
of the two (a stated field of view, the lens and sensor, a board; or a stature), marks a known
distance to the side of one another, which span f X / D whatever the body's size, or both. The
estimate is a least-squares one over log f and log S with all that is known as observations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assist.base.errors import UserError
from assist.base.words import _, current

_SIDE_SD_M = 0.03
"""How exactly a body's axis stands over a mark to the side. Common practice, no source."""
_UNKNOWN = 2.0
"""Standard deviation of log f when nothing is known of it: a factor of seven either way."""
_SEPARATED_SD = 0.03
_CONTRADICTION_SDS = 4.0
"""Beyond so many standard deviations a mark is not averaged: something else is wrong."""
_LASTING_SD = 0.02
"""Relative error that all pictures of a mark have in common, however varied the postures: where
the feet stood, and how the pose network draws a body of that size. Rendered bodies are 1 to 4 %
larger or smaller at one of three marks, 3 to 5 m off, than at another."""


@dataclass(frozen=True, slots=True)
class MarkSummary:
    """What one mark showed through a camera of assumed focal length and a body of assumed size.

    ratio: known depth over the depth measured under those assumptions.   ratio_sd: relative.
    depth_m: known depth.   across_m: known place to the right of the first mark, None if unknown.
    ray_x: x / z of the body's axis under the assumed focal length.
    stated: the mark as the person calls it.
    """

    ratio: float
    ratio_sd: float
    depth_m: float
    across_m: float | None = None
    ray_x: float = 0.0
    stated: str = ""


@dataclass(frozen=True, slots=True)
class Separation:
    """Factors to apply to the assumed focal length and size, with relative standard deviations.

    product_sd: of focal length times size, which is what this person's distances rest on.
    """

    focal: float
    focal_sd: float
    size: float
    size_sd: float
    product_sd: float

    @property
    def separated(self) -> bool:
        """Whether both are known by themselves to three parts in a hundred."""
        return max(self.focal_sd, self.size_sd) <= _SEPARATED_SD

    def in_words(self) -> str:
        """What could and what could not be separated, for the person at the keyboard."""
        say = current()
        product = say.decimal(f"{self.product_sd:.1%}")
        if self.separated:
            return _(
                "focal length known to {focal}, size of the body to {size}; their product is known "
                "to {product}",
                focal=say.decimal(f"{self.focal_sd:.1%}"),
                size=say.decimal(f"{self.size_sd:.1%}"),
                product=product,
            )
        return _(
            "focal length ({focal}) and size of the body ({size}) could not be told apart; their "
            "product is known to {product}, so this person's distances in this feed do not suffer "
            "as long as both are used. To tell them apart add a mark a measured step to the side, "
            "a height, a field of view or a board",
            focal=f"{self.focal_sd:.0%}",
            size=f"{self.size_sd:.0%}",
            product=product,
        )


def refuse_contradictions(
    marks: Sequence[MarkSummary],
    *,
    focal_prior_sd: float | None,
    size_prior_sd: float,
    size_stated: bool,
) -> None:
    """UserError where a mark contradicts what was known before, or another mark.

    focal_prior_sd, size_prior_sd: as of `separate`.   size_stated: whether the assumed size is that
    of a stated stature, or an adult's.
    """
    sds = [math.hypot(m.ratio_sd, _LASTING_SD) for m in marks]
    if focal_prior_sd is not None:
        for mark, sd in zip(marks, sds, strict=True):
            if abs(math.log(mark.ratio)) > _CONTRADICTION_SDS * math.hypot(
                sd, focal_prior_sd, size_prior_sd
            ):
                raise UserError(_of_another_size(mark, size_stated))
    for k, (one, sd) in enumerate(zip(marks, sds, strict=True)):
        for other, other_sd in zip(marks[:k], sds[:k], strict=True):
            unlike = one.ratio / other.ratio
            if abs(math.log(unlike)) > _CONTRADICTION_SDS * math.hypot(sd, other_sd):
                raise UserError(
                    _(
                        "the marks at {first} and {second} contradict each other: at the second "
                        "you would be {unlike} times as large as at the first; check --at, and "
                        "that you stood over the marks in that order",
                        first=other.stated,
                        second=one.stated,
                        unlike=current().decimal(f"{unlike:.2f}"),
                    )
                )


def _of_another_size(mark: MarkSummary, size_stated: bool) -> str:
    ratio = current().figure(mark.ratio, 2)
    if size_stated:
        return _(
            "the mark at {mark} would make you {ratio} times as large as you stated: check --at, "
            "--stature and what was said of the feed's lens or view",
            mark=mark.stated,
            ratio=ratio,
        )
    return _(
        "the mark at {mark} would make you {ratio} times as large as an adult is: check --at and "
        "what was said of the feed's lens or view, and give --stature",
        mark=mark.stated,
        ratio=ratio,
    )


def separate(
    marks: Sequence[MarkSummary], *, focal_prior_sd: float | None, size_prior_sd: float
) -> Separation:
    """Combine marks with what was known before.

    focal_prior_sd: relative uncertainty of the assumed focal length, None when it was a guess.
    size_prior_sd: relative uncertainty of the assumed size of the body.
    Raises ValueError without a mark.
    """
    if not marks:
        raise ValueError("no mark")
    rows: list[tuple[float, float, float, float]] = []  # of log f, of log S, observed, sd
    prior = _UNKNOWN if focal_prior_sd is None else focal_prior_sd
    rows.append((1.0, 0.0, 0.0, prior))
    rows.append((0.0, 1.0, 0.0, size_prior_sd))
    rows.extend((1.0, 1.0, math.log(m.ratio), m.ratio_sd) for m in marks)
    sideways = _sideways(marks)
    if sideways is not None:
        rows.append((1.0, 0.0, *sideways))
    table = np.array(rows)
    weighted = table[:, :2] / table[:, 3:]
    covariance = np.linalg.inv(weighted.T @ weighted)
    log_f, log_s = covariance @ (weighted.T @ (table[:, 2] / table[:, 3]))
    product = float(covariance.sum())
    return Separation(
        math.exp(log_f),
        math.sqrt(covariance[0, 0]),
        math.exp(log_s),
        math.sqrt(covariance[1, 1]),
        math.sqrt(product),
    )


def _sideways(marks: Sequence[MarkSummary]) -> tuple[float, float] | None:
    """(log of true over assumed focal length, sd) from marks to the side of one another.

    x / z measured with an assumed f is (f_true / f) X / D, plus a constant for where the axis
    points: the slope of a straight line.
    """
    placed = [m for m in marks if m.across_m is not None]
    if len(placed) < 2:
        return None
    true = np.array([m.across_m / m.depth_m for m in placed if m.across_m is not None])
    seen = np.array([m.ray_x for m in placed])
    centred = true - true.mean()
    strength = float(centred @ centred)
    if strength < 1e-6:
        return None
    slope = float(centred @ seen) / strength
    if slope <= 0.1:
        return None
    depth = float(np.mean([m.depth_m for m in placed]))
    sd = _SIDE_SD_M / depth / math.sqrt(strength)
    return (math.log(slope), sd / slope) if sd < slope else None
