"""What a way of measuring blur answers, before it is put into words."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Estimate:
    """A blur as measured; standard deviations in pixels, the pixel's own box left out.

    sigma_px, across_px: of the blur along the direction of most and of least of it.
    angle: of the direction of most blur, radians; None where none stands out.
    pooled_px: of the blur if it has no direction.
    spread: relative standard deviation of sigma_px, from how the edges disagree.
    shapes: share of belief in each of `edge_models.SHAPES`.
    edges: how many it rests on.
    shape_seen: whether the shape was looked for and is large enough to be seen.
    """

    sigma_px: float
    across_px: float
    angle: float | None
    pooled_px: float
    spread: float
    shapes: dict[str, float]
    edges: int
    shape_seen: bool = True


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """Why there is no answer: words for a person, to be translated where they are told."""

    why: str
