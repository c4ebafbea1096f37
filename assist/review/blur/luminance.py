"""Luminance in linear light, which blur is measured in."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assist.base.images import ColourImage

GrayImage = NDArray[np.float32]
"""(height, width) of float32: luminance in linear light, 0 to 1."""

_V = np.arange(256) / 255.0
LINEAR = np.where(_V <= 0.04045, _V / 12.92, ((_V + 0.055) / 1.055) ** 2.4).astype(np.float32)
"""Linear light of an 8-bit value. Source: IEC 61966-2-1 (sRGB)."""
_LUMINANCE = np.array([0.0722, 0.7152, 0.2126], np.float32)
"""Weights of blue, green and red. Source: ITU-R BT.709."""


def linear_luminance(picture: ColourImage) -> GrayImage:
    """Luminance in linear light, 0 to 1, of a part of a picture."""
    return np.asarray(LINEAR[picture] @ _LUMINANCE, dtype=np.float32)
