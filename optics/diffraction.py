"""How much the aperture itself softens the picture, and from where stopping down costs sharpness.

Source of the Airy disc: first dark ring at radius 1.22 lambda N, Born and Wolf, Principles of
Optics, 8.5.2 (from memory); at magnification m the lens works at N (1 + m), the pupils being taken
as symmetrical.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from optics.checks import FloatArray, positive, scalar_back

GREEN_M = 550e-9
"""Middle of the visible band, near the eye's peak of 555 nm (CIE photopic curve, from memory)."""

AIRY_FACTOR = 2 * 1.2196698912665045
"""Diameter of the first dark ring over lambda N: 2 j / pi, j = 3.8317... first zero of J1."""


def _magnification(value: ArrayLike) -> FloatArray:
    """A magnification, which may be zero for a lens focused at infinity."""
    m = np.asarray(value, dtype=np.float64)
    return np.where(m == 0, 0.0, positive("magnification", np.where(m == 0, 1.0, m)))


def airy_diameter_m(
    f_number: ArrayLike, magnification: ArrayLike = 0.0, wavelength_m: float = GREEN_M
) -> Any:
    """Diameter of the first dark ring on the sensor, metres: 2.44 lambda N (1 + m)."""
    n = positive("f-number", f_number)
    positive("wavelength", wavelength_m)
    return scalar_back(AIRY_FACTOR * wavelength_m * n * (1.0 + _magnification(magnification)))


def f_number_for_airy_diameter(
    diameter_m: ArrayLike, magnification: ArrayLike = 0.0, wavelength_m: float = GREEN_M
) -> Any:
    """Aperture at which the Airy disc is so wide; the inverse of `airy_diameter_m`.

    With the circle of confusion as the diameter: the aperture beyond which even the sharpest plane
    is softer than the criterion.
    """
    diameter = positive("diameter", diameter_m)
    positive("wavelength", wavelength_m)
    return scalar_back(
        diameter / (AIRY_FACTOR * wavelength_m * (1.0 + _magnification(magnification)))
    )


def total_blur_m(defocus_m: ArrayLike, airy_m: ArrayLike) -> Any:
    """Defocus with diffraction, sqrt(b^2 + a^2): an engineering estimate, not wave optics."""
    return scalar_back(np.hypot(defocus_m, airy_m))


def sharpest_f_number(
    defocus_at_f1_m: ArrayLike, magnification: ArrayLike = 0.0, wavelength_m: float = GREEN_M
) -> Any:
    """Aperture with the least `total_blur_m` for a point that is out of the plane of focus.

    defocus_at_f1_m: its blur diameter at f/1, on the sensor. Beyond this aperture diffraction grows
    faster than defocus shrinks. From d/dN of (B / N)^2 + (A N)^2 = 0: N = sqrt(B / A).
    """
    defocus = positive("defocus", defocus_at_f1_m)
    airy_at_f1 = airy_diameter_m(1.0, magnification, wavelength_m)
    return scalar_back(np.sqrt(defocus / airy_at_f1))
