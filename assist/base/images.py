"""What a colour picture is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

ColourImage = NDArray[np.uint8]
"""(height, width, 3) of uint8, blue green red, as OpenCV gives pictures."""
