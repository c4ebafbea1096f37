"""Blur where there is little to go by: eyes that are small in the picture, or noise.

Across a small eye, one edge lies within the reach of another's profile, and noise has edges of its
own. So noise is taken down first by a median of three by three pixels, which leaves a straight edge
as it is; edges must stand out from what noise there was; and they are fitted to the pixels
(`fine_blur`) at full size and at half size. The one is true up to about six pixels and the other
from there on; which of the two to follow is told by the half size and the wide estimate together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from assist.base.words import N_
from assist.review.blur import directions, fine_blur, noise, wide_blur
from assist.review.blur.directions import Directions
from assist.review.blur.edge_models import DISC_DIAMETERS
from assist.review.blur.estimate import Estimate, NotMeasured
from assist.review.blur.region import MeasuredRegion

_NOISE_PER_PIXEL = 0.007 / 40_000
"""Noise as a part of the range of brightness, for each pixel there is: more is hard to see in."""
_NOISY = 0.007
"""Noise as a part of the range of brightness from which it is taken down."""
_FULL_PX, _HALF_PX = 6.5, 9.5
"""Widths up to which full size is followed alone, and from which half size."""
_HALF_IN_GATE, _HALF_IN_WIDE = 0.7, 0.8
"""Weights of the half size against the wide estimate."""
_REACH_PX = 9.5
"""Width that half size measures well; at twice as much, the wide estimate is followed."""
_WIDE_DISAGREES = 0.2
"""How much of their disagreement counts as spread."""
_SOFT_TIMES_SIDE = 215.0
"""Softness of what is in a face, pixels, times the side of the square that the eyes' boxes would
fill: in a small face, an edge's window holds something else beside it."""
_SOFTEST_PX = 1.7
"""The most that is taken for that: of faces smaller than a hundred pixels between the eyes, nothing
is known."""
_LEAST_LEFT = 0.2
_LEAST_SIGMA_PX = 0.05
_ENOUGH_EDGES = 40
"""With fewer, full size is not believed alone: they may be the untypical ones."""
_SMEARED_SPREAD = 0.15
"""Relative error of full size under a smear."""
_CLEAR_RATIO, _CLEAR_APART = 1.5, 1.3
"""How much longer than wide a smear is, as fitted and between witnesses that stand apart."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What full size, half size and the wide estimate say; full and half size with their ways.

    soft_px: width that the softness of the things themselves adds, in squares.
    """

    full: Estimate | NotMeasured
    half: Estimate | NotMeasured
    wide: Estimate | NotMeasured
    full_ways: Directions | None
    half_ways: Directions | None
    soft_px: float


def is_so(region: MeasuredRegion) -> bool:
    """Whether there are too few pixels for the noise that is in them.

    Without a mask it is a whole picture, where the other estimates do better even in noise.
    """
    pixels = 0 if region.within is None else int(region.within.sum())
    if pixels == 0:
        return False
    return noise.of(region.image) > _NOISE_PER_PIXEL * pixels * noise.span(region)


def look(region: MeasuredRegion) -> Seen:
    """Measure in every way."""
    image, within = region.image, region.within
    if noise.of(image) > _NOISY * noise.span(region):
        calm = np.asarray(cv2.medianBlur(image, 3), dtype=np.float32)
        region = MeasuredRegion(calm, within, region.most, None, noise.local(image))
    full, full_ways = _fine(region, 1)
    wide = wide_blur.estimate(region, fine=False)
    half: Estimate | NotMeasured = NotMeasured(N_("too small to measure on"))
    half_ways = None
    reduced = region.reduced(2)
    if reduced is not None:
        half, half_ways = _fine(reduced, 2)
    pixels = image.size if within is None else max(int(within.sum()), 1)
    soft_px = min(_SOFT_TIMES_SIDE / math.sqrt(pixels), _SOFTEST_PX)
    return Seen(full, half, wide, full_ways, half_ways, soft_px)


def _fine(region: MeasuredRegion, scale: int) -> tuple[Estimate | NotMeasured, Directions | None]:
    """The fine estimate of a region reduced by `scale`, in full-size pixels, and its ways."""
    clear = fine_blur.fitted(region)
    if isinstance(clear, NotMeasured):
        return clear, None
    found = fine_blur.estimate(region, clear, scale == 1)
    if isinstance(found, Estimate):
        found = _times(replace(found, sigma_px=max(found.sigma_px, _LEAST_SIGMA_PX)), scale)
    return found, directions.look(clear, scale)


def together(seen: Seen) -> tuple[Estimate | NotMeasured, Directions | None]:
    """One estimate of all, and the ways that go with it."""
    found, ways = _followed(seen)
    if isinstance(found, NotMeasured):
        return found, ways
    soft = seen.soft_px / (DISC_DIAMETERS * found.sigma_px)
    left = math.sqrt(max(1 - soft * soft, _LEAST_LEFT**2))
    return _times(_directed(found, ways), left), ways


def _directed(found: Estimate, ways: Directions | None) -> Estimate:
    """Without its direction where that is not clear: lids alone make a small face look smeared."""
    oval = None if ways is None else ways.oval
    if found.angle is None or (
        oval is not None
        and oval.ratio_apart > _CLEAR_APART
        and found.sigma_px > _CLEAR_RATIO * found.across_px
    ):
        return found
    return replace(found, across_px=found.sigma_px, angle=None)


def _times(found: Estimate, factor: float) -> Estimate:
    return replace(
        found,
        sigma_px=found.sigma_px * factor,
        across_px=found.across_px * factor,
        pooled_px=found.pooled_px * factor,
    )


def _followed(seen: Seen) -> tuple[Estimate | NotMeasured, Directions | None]:
    if isinstance(seen.half, NotMeasured) and isinstance(seen.wide, NotMeasured):
        if isinstance(seen.full, Estimate) and seen.full.edges < _ENOUGH_EDGES:
            return NotMeasured(N_("too few clear edges to measure on")), None
        return seen.full, seen.full_ways
    far = _far(seen.half, seen.wide)
    if isinstance(seen.full, NotMeasured):
        return far, seen.half_ways or seen.full_ways
    near = _near(seen.full, seen.full_ways)
    width = DISC_DIAMETERS * _mixed(seen.half, seen.wide, _HALF_IN_GATE)
    share = math.log(width / _FULL_PX) / math.log(_HALF_PX / _FULL_PX)
    share = min(max(share, 0.0), 1.0)
    apart = math.log(far.sigma_px / near.sigma_px)
    lead, ways = (near, seen.full_ways) if share < 0.5 else (far, seen.half_ways)
    size = near.sigma_px * math.exp(share * apart)
    spread = math.hypot(
        (1 - share) * near.spread + share * far.spread, apart * math.sqrt(share * (1 - share))
    )
    shapes = seen.full.shapes if isinstance(seen.wide, NotMeasured) else seen.wide.shapes
    return replace(_times(lead, size / lead.sigma_px), spread=spread, shapes=shapes), ways


def _near(full: Estimate, ways: Directions | None) -> Estimate:
    """Full size, drawn towards the sharpest edges of each way where these are sharper.

    Not under a smear, of whose edges full size finds the sharper ones too easily by itself.
    """
    if full.angle is not None and full.sigma_px > _CLEAR_RATIO * full.across_px:
        return replace(full, spread=math.hypot(full.spread, _SMEARED_SPREAD))
    if ways is None or not math.isfinite(ways.softest_px) or ways.softest_px <= 0:
        return full
    part = math.sqrt(min(ways.softest_px / (DISC_DIAMETERS * full.sigma_px), 1.0))
    return replace(full, sigma_px=full.sigma_px * part, across_px=full.across_px * part)


def _mixed(half: Estimate | NotMeasured, wide: Estimate | NotMeasured, share: float) -> float:
    """Standard deviation by `share` of the half size's and the rest of the wide estimate's."""
    if isinstance(half, NotMeasured):
        assert isinstance(wide, Estimate)
        return wide.pooled_px
    if isinstance(wide, NotMeasured):
        return half.sigma_px
    logs = share * math.log(half.sigma_px) + (1 - share) * math.log(wide.pooled_px)
    return math.exp(logs)


def _far(half: Estimate | NotMeasured, wide: Estimate | NotMeasured) -> Estimate:
    if isinstance(half, NotMeasured):
        assert isinstance(wide, Estimate)
        return wide
    if isinstance(wide, NotMeasured):
        return half
    # Beyond its reach, half size says too little.
    over = (DISC_DIAMETERS * half.sigma_px - _REACH_PX) / _REACH_PX
    over = min(max(over, 0.0), 1.0) if wide.pooled_px > half.sigma_px else 0.0
    size = _mixed(half, wide, _HALF_IN_WIDE * (1 - over))
    apart = math.log(wide.pooled_px / half.sigma_px)
    spread = math.hypot(half.spread, _WIDE_DISAGREES * apart)
    return replace(_times(half, size / half.sigma_px), spread=spread)
