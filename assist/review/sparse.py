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
from numpy.typing import NDArray

from assist.review import directions, fine_blur, noise, wide_blur
from assist.review.compression import Compression
from assist.review.directions import Directions
from assist.review.edge_models import DISC_DIAMETERS
from assist.review.edges import GrayImage
from assist.review.estimate import Estimate, NotMeasured

_NOISE_PER_PIXEL = 0.007 / 40_000
"""Noise as a part of the range of brightness, for each pixel there is: more is hard to see in."""
_NOISY = 0.007
"""Noise as a part of the range of brightness from which it is taken down."""
_FULL_PX, _HALF_PX = 6.5, 9.5
"""Widths up to which full size is followed alone, and from which half size."""
_HALF_IN_GATE, _HALF_IN_WIDE = 0.7, 0.8
"""Weights of the half size against the wide estimate."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What full size, half size and the wide estimate say; full and half size with their ways."""

    full: Estimate | NotMeasured
    half: Estimate | NotMeasured
    wide: Estimate | NotMeasured
    full_ways: Directions | None
    half_ways: Directions | None


def is_so(image: GrayImage, within: NDArray[np.bool_] | None) -> bool:
    """Whether there are too few pixels for the noise that is in them."""
    pixels = image.size if within is None else int(within.sum())
    if pixels == 0:
        return False
    return noise.of(image) > _NOISE_PER_PIXEL * pixels * noise.span(image, within)


def look(
    image: GrayImage,
    within: NDArray[np.bool_] | None,
    most: int,
    compression: Compression | None,
) -> Seen:
    """Measure in every way. compression: as of `fine_blur.fitted`."""
    floor = None
    if noise.of(image) > _NOISY * noise.span(image, within):
        floor = noise.local(image)
        image = np.asarray(cv2.medianBlur(image, 3), dtype=np.float32)
        compression = None
    full, full_ways = _fine(image, within, most, compression, floor, 1)
    wide = wide_blur.estimate(image, within, most, WIDE_FINE, None, floor)
    half: Estimate | NotMeasured = NotMeasured("too small to measure on")
    half_ways = None
    reduced = wide_blur.reduced(image, within, 2)
    if reduced is not None:
        floor = None if floor is None else noise.shrunk(floor, reduced[0])
        half, half_ways = _fine(*reduced, most, None, floor, 2)
    return Seen(full, half, wide, full_ways, half_ways)
WIDE_FINE = True


def _fine(
    image: GrayImage,
    within: NDArray[np.bool_] | None,
    most: int,
    compression: Compression | None,
    floor: GrayImage | None,
    scale: int,
) -> tuple[Estimate | NotMeasured, Directions | None]:
    """The fine estimate of an image smaller by `scale`, in full-size pixels, and its ways."""
    clear = fine_blur.fitted(image, within, most, compression, floor)
    if isinstance(clear, NotMeasured):
        return clear, None
    found = fine_blur.estimate(image, clear, scale == 1, compression)
    if isinstance(found, Estimate) and scale > 1:
        found = replace(
            found,
            sigma_px=found.sigma_px * scale,
            across_px=found.across_px * scale,
            pooled_px=found.pooled_px * scale,
        )
    return found, directions.look(clear, scale)


def together(seen: Seen) -> tuple[Estimate | NotMeasured, Directions | None]:
    """One estimate of all, and the ways that go with it."""
    if isinstance(seen.half, NotMeasured) and isinstance(seen.wide, NotMeasured):
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
    shrink = size / lead.sigma_px
    mixed = replace(
        lead,
        sigma_px=size,
        across_px=lead.across_px * shrink,
        pooled_px=lead.pooled_px * shrink,
        spread=spread,
        shapes=seen.full.shapes if isinstance(seen.wide, NotMeasured) else seen.wide.shapes,
    )
    return mixed, ways


def _near(full: Estimate, ways: Directions | None) -> Estimate:
    """Full size, drawn towards the sharpest edges of each way where these are sharper."""
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
    return half.sigma_px**share * wide.pooled_px ** (1 - share)


def _far(half: Estimate | NotMeasured, wide: Estimate | NotMeasured) -> Estimate:
    if isinstance(half, NotMeasured):
        assert isinstance(wide, Estimate)
        return wide
    if isinstance(wide, NotMeasured):
        return half
    size = _mixed(half, wide, _HALF_IN_WIDE)
    apart = math.log(wide.pooled_px / half.sigma_px)
    return replace(
        half,
        sigma_px=size,
        across_px=half.across_px * size / half.sigma_px,
        spread=math.hypot(half.spread, APART*apart),
    )
APART=.2
