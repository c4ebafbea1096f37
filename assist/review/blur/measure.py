"""How wide the blur is in a part of a picture, from the edges that are in it.

The width is given as the diameter of the uniform disc that spreads as much (four standard
deviations along an axis): the measure that a circle of confusion is stated in. It is that of all
that blurred the scene before the pixels counted the light; the pixel's own box is left out. An edge
in the scene may be soft by itself, so no single edge is believed. Works in linear light. Fine blur
is measured at full size (`fine_blur`), wide blur on a pyramid (`wide_blur`), and between the two
the one passes into the other.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from assist.review.blur import blur_in_noise, directions, fine_blur, wide_blur
from assist.review.blur.compression import Compression
from assist.review.blur.directions import Directions
from assist.review.blur.edge_models import BOX_LENGTHS, DISC_DIAMETERS
from assist.review.blur.estimate import Estimate, NotMeasured
from assist.review.blur.luminance import GrayImage
from assist.review.blur.region import MOST_EDGES, MeasuredRegion

__all__ = ["Blur", "NotMeasured", "measure"]

_FINE_SIGMA_PX, _WIDE_SIGMA_PX = 0.78, 1.1
"""Standard deviations up to which the fine estimate counts alone, and from which the wide one."""
_SHAPE_SIGMA_PX = 1.25
"""The same up to which full size tells the shape better, where no compression is known."""
_SEEN_WHOLE = 0.85
"""Part of the clear edges that must be narrow enough for full size, if it is to tell the shape."""
_PLAINLY_SOFT = 1.3
_ENOUGH_EDGES = 40
"""With fewer, the fine estimate is not believed alone: they may be the untypical ones."""
_WAYS_WIDTH_PX = 8.0
_CONFIRMS, _CLEAR_RATIO = 2.0, 2.6
_SAME_DIRECTION = math.radians(25)
_VAGUE = 0.18
"""Relative spread from which the width of a smear is not believed for both estimates finding it."""
_SURE_SPREAD = 0.06
"""The same below which it is believed on the wide estimate's word alone: many edges agree."""
_SURE_ROUND = 0.02
"""The same of a blur without direction, below which the sharpest few edges of each way do not make
it a smear."""
_LEAST_SMEAR_PX = 4.0
_OVAL_SPREAD = 0.15
_FEW_PX, _BOUND = 5.0, 1.35
_SYSTEMATIC, _SYSTEMATIC_WIDE = 0.08, 0.25
"""Relative error that no number of edges removes, up to the first and from the second of these
widths on; from the charts and eyes that the estimator was made on. At the size of a standing
person's eyes, a blur as wide as the iris leaves nothing in them that is an edge."""
_UNSEEN = 0.4
"""The same where the edges say nothing of some way."""
_GROWS_FROM_PX, _GROWS_TO_PX = 8.0, 11.0
_SMALLEST_SD_PX = 0.4
"""What the softness of the things themselves leaves open in a picture that is perfectly sharp."""


@dataclass(frozen=True, slots=True)
class Blur:
    """A measured blur.

    width_px: diameter of the disc that spreads as much along the direction of most blur; the
        pixel's own box is left out, so that a perfect picture reads near 0.
    sd_px: standard deviation of that.
    across_px: the same along the direction of least blur; equal to width_px where no direction
        stands out.
    direction_deg: direction of most blur, 0 along the rows, 90 down the columns; None where none
        stands out.
    shapes: share of belief in each of `edge_models.SHAPES`.
    edges: how many edges it rests on.
    softest_px: the largest width that the blur may have along any way, as of
        `directions.Directions`; infinite where a smear along some way would not be seen.
    """

    width_px: float
    sd_px: float
    across_px: float
    direction_deg: float | None
    shapes: dict[str, float]
    edges: int
    softest_px: float = 0.0

    def scaled(self, factor: float) -> Blur:
        """The same blur in pixels that are smaller by `factor`."""
        return replace(
            self,
            width_px=self.width_px * factor,
            sd_px=self.sd_px * factor,
            across_px=self.across_px * factor,
            softest_px=self.softest_px * factor,
        )

    @property
    def smear_px(self) -> float:
        """Length of the steady motion that makes the difference between the two directions."""
        if self.direction_deg is None:
            return 0.0
        extra = max(self.width_px**2 - self.across_px**2, 0.0)
        return BOX_LENGTHS / DISC_DIAMETERS * math.sqrt(extra)


def measure(
    image: GrayImage,
    within: NDArray[np.bool_] | None = None,
    most: int = MOST_EDGES,
    fine: bool = True,
    compression: Compression | None = None,
) -> Blur | NotMeasured:
    """Blur at the edges of a picture or a part of it.

    image, within, most, compression: as of `MeasuredRegion`.   fine: whether to finish with all
    models; without them it is quicker and a few per cent less certain.
    """
    region = MeasuredRegion(image, within, most, compression)
    if fine and blur_in_noise.is_so(region):
        found, ways = blur_in_noise.together(blur_in_noise.look(region))
        return found if isinstance(found, NotMeasured) else _blur(found, ways)
    far: Estimate | NotMeasured | None = None
    if not fine:
        # A quick look at a place that is plainly soft needs no more than its width.
        far = wide_blur.estimate(region, fine)
        if isinstance(far, NotMeasured):
            return far
        if far.angle is None and far.sigma_px > _PLAINLY_SOFT * _WIDE_SIGMA_PX:
            return _blur(far, None)
    full = _full_size(region, fine)
    alone = full.alone
    if alone is not None and full.whole:
        return _blur(alone, full.ways)
    far = far or wide_blur.estimate(region, fine, full.shapes)
    if isinstance(far, NotMeasured):
        return far if alone is None else _blur(alone, full.ways)

    def ways_for(found: Estimate) -> Directions | None:
        scale = 1
        while DISC_DIAMETERS * found.pooled_px / scale > _WAYS_WIDTH_PX:
            scale *= 2
        if scale == 1:
            return full.ways
        coarse = region.reduced(scale)
        clear = NotMeasured("") if coarse is None else fine_blur.fitted(coarse)
        return None if isinstance(clear, NotMeasured) else directions.look(clear, scale)

    return _joined(full, far, ways_for)


@dataclass(frozen=True, slots=True)
class _FullSize:
    """What full size tells.

    whole: whether it measures nearly all of the clear edges: under a long smear, only those that
        are left sharp.   shapes: belief in each shape of blur, where it tells them well.
    """

    near: Estimate | NotMeasured
    ways: Directions | None
    whole: bool = False
    shapes: dict[str, float] | None = None

    @property
    def told(self) -> bool:
        """Whether enough edges are measured to believe it alone."""
        return isinstance(self.near, Estimate) and self.near.edges >= _ENOUGH_EDGES

    @property
    def alone(self) -> Estimate | None:
        """The blur, where it is fine enough to ask for nothing else."""
        if isinstance(self.near, NotMeasured) or self.near.sigma_px > _FINE_SIGMA_PX:
            return None
        return _smeared(self.near, self.ways) if self.told else None


def _full_size(region: MeasuredRegion, fine: bool) -> _FullSize:
    clear = fine_blur.fitted(region)
    if isinstance(clear, NotMeasured):
        return _FullSize(clear, None)
    ways = directions.look(clear, 1)
    near = fine_blur.estimate(region, clear, fine)
    if isinstance(near, NotMeasured):
        return _FullSize(near, ways)
    whole = near.edges > _SEEN_WHOLE * len(clear.edges)
    # Judged without what the compression does to it; otherwise, a wider blur's is told by profiles.
    better = region.compression is not None or near.sigma_px < _SHAPE_SIGMA_PX
    sure = whole and near.shape_seen and near.edges >= _ENOUGH_EDGES
    return _FullSize(near, ways, whole, near.shapes if sure and better else None)


def _joined(
    full: _FullSize, far: Estimate, ways_for: Callable[[Estimate], Directions | None]
) -> Blur:
    """The blur by both estimates.

    ways_for: looks at the ways at a size where an estimate's width is seen.
    """
    near = full.near
    if isinstance(near, NotMeasured) or near.sigma_px >= _WIDE_SIGMA_PX:
        return _settled(far, ways_for(far), twice=False)
    seen = _smeared(near, full.ways).angle
    twice = _same_way(seen, far.angle) and far.spread < _VAGUE
    if not (twice or full.whole) and far.angle is not None and far.spread < _SURE_SPREAD:
        # Full size sees little of the edges that a smear softens most, and may miss its way.
        twice = _shown(far, ways_for(far))
    if full.alone is not None and not twice:
        return _blur(full.alone, full.ways)
    sigma = far.sigma_px if twice else near.sigma_px
    share = (sigma - _FINE_SIGMA_PX) / (_WIDE_SIGMA_PX - _FINE_SIGMA_PX)
    found = _between(near, far, min(max(share, 0.0 if full.told else 0.5), 1.0))
    if found.angle is not None and found.angle == near.angle:
        # As where full size is believed alone: its direction has stood a test of its own.
        return _blur(found, ways_for(found))
    return _settled(found, ways_for(found), twice)


def _settled(found: Estimate, ways: Directions | None, twice: bool) -> Blur:
    return _blur(_smeared(_confirmed(found, ways, twice), ways), ways)


def _same_way(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return False
    return abs((one - other + math.pi / 2) % math.pi - math.pi / 2) < _SAME_DIRECTION


def _shown(found: Estimate, ways: Directions | None) -> bool:
    """Whether the sharpest edges of each way show the direction of an estimate too."""
    oval = None if ways is None else ways.oval
    return oval is not None and oval.ratio > _CONFIRMS and _same_way(oval.angle, found.angle)


def _confirmed(found: Estimate, ways: Directions | None, twice: bool) -> Estimate:
    """Without its direction, where the sharpest edges of each way do not show it too.

    twice: whether both estimates found it, the fine one and, surely enough, the wide one.
    """
    if found.angle is None:
        return found
    oval = None if ways is None else ways.oval
    if oval is not None and _shown(found, ways):
        surely = found.spread < _SURE_SPREAD
        if twice or surely or DISC_DIAMETERS * found.pooled_px > _FEW_PX:
            return found
        # On so little blur otherwise, edges as sharp as these bound the smear.
        sigma = min(found.sigma_px, _BOUND * oval.most_px)
        grown = _OVAL_SPREAD if sigma < found.sigma_px else 0.0
        return replace(found, sigma_px=sigma, spread=math.hypot(found.spread, grown))
    return replace(found, sigma_px=found.pooled_px, across_px=found.pooled_px, angle=None)


def _smeared(found: Estimate, ways: Directions | None) -> Estimate:
    """With the direction that the sharpest edges of each way show, where that is clear."""
    oval = None if ways is None else ways.oval
    if found.angle is not None or oval is None or found.spread < _SURE_ROUND:
        return found
    if min(oval.ratio, oval.ratio_apart) < _CLEAR_RATIO:
        return found
    if DISC_DIAMETERS * oval.most_px < max(_LEAST_SMEAR_PX, 3.2 * found.sigma_px):
        return found
    return replace(
        found,
        sigma_px=oval.most_px,
        across_px=oval.least_px,
        angle=oval.angle,
        spread=max(found.spread, _OVAL_SPREAD),
    )


def _between(near: Estimate, far: Estimate, share: float) -> Estimate:
    """Part of the one and `share` of the other."""

    def mixed(one: float, other: float) -> float:
        return (1 - share) * one + share * other

    lead = far if share >= 0.5 else near
    apart = math.log(max(far.sigma_px, 1e-3) / max(near.sigma_px, 1e-3))
    return replace(
        lead,
        sigma_px=mixed(near.sigma_px, far.sigma_px),
        across_px=mixed(near.across_px, far.across_px),
        pooled_px=mixed(near.pooled_px, far.pooled_px),
        spread=math.hypot(mixed(near.spread, far.spread), apart * math.sqrt(share * (1 - share))),
    )


def _blur(found: Estimate, ways: Directions | None) -> Blur:
    width = DISC_DIAMETERS * found.sigma_px
    across = DISC_DIAMETERS * found.across_px if found.angle is not None else width
    direction = None if found.angle is None else math.degrees(found.angle) % 180.0
    grown = (width - _GROWS_FROM_PX) / (_GROWS_TO_PX - _GROWS_FROM_PX)
    systematic = _SYSTEMATIC + (_SYSTEMATIC_WIDE - _SYSTEMATIC) * min(max(grown, 0.0), 1.0)
    softest = math.inf if ways is None else ways.softest_px
    unseen = _UNSEEN if math.isinf(softest) else 0.0
    sd = math.hypot(width * math.hypot(found.spread, systematic, unseen), _SMALLEST_SD_PX)
    return Blur(width, sd, across, direction, found.shapes, found.edges, softest)
