"""Diffraction against Bessel's function and a library of physical optics (prysm, from PyPI)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from scipy.special import jn_zeros

from optics import diffraction, lens
from optics.errors import ImpossibleValueError

f_numbers = st.floats(0.7, 64)


def test_the_factor_is_the_first_zero_of_bessels_function():
    """Dark ring where J1 vanishes: Born and Wolf, Principles of Optics, 8.5.2 (from memory)."""
    assert pytest.approx(2 * jn_zeros(1, 1)[0] / np.pi, rel=1e-15) == diffraction.AIRY_FACTOR
    assert pytest.approx(2.44, abs=0.001) == diffraction.AIRY_FACTOR


@pytest.mark.parametrize("f_number", [1.4, 5.6, 22])
def test_airy_disc_is_dark_where_prysm_has_its_first_zero(f_number):
    from prysm.psf import airydisk  # micrometres

    wavelength_um = diffraction.GREEN_M * 1e6
    radius_um = diffraction.airy_diameter_m(f_number) / 2 * 1e6
    r = np.linspace(0.9, 1.1, 2001) * radius_um
    intensity = airydisk(r, f_number, wavelength_um)
    assert r[np.argmin(intensity)] == pytest.approx(radius_um, rel=2e-4)
    assert airydisk(np.array([1e-9]), f_number, wavelength_um)[0] == pytest.approx(1, abs=1e-6)


def test_defocus_disc_holds_the_energy_of_a_propagated_wave():
    """A wave with ten wavelengths of defocus, propagated by prysm, against the geometric disc.

    An even disc of diameter b has half its energy within b / sqrt(8); at so much defocus the
    ripples of diffraction change that little.
    """
    from prysm.coordinates import cart_to_polar, make_xy_grid
    from prysm.propagation import Wavefront

    f_m, n, s_m, waves = 0.05, 4.0, 3.0, 10.0
    wavelength_m = diffraction.GREEN_M
    pupil_m = f_m / n
    v_m = lens.image_distance_m(f_m, s_m)
    # The wave is curved towards v' with 1/v' = 1/v + 2 W / a^2, a the radius of the pupil.
    vergence = 1 / v_m + 2 * waves * wavelength_m / (pupil_m / 2) ** 2
    z_m = 1 / (1 / f_m - vergence)
    assert z_m > s_m
    expected_m = lens.blur_diameter_m(f_m, n, s_m, z_m)

    x, y = make_xy_grid(256, diameter=pupil_m * 1e3)
    r, _ = cart_to_polar(x, y)
    rho = r / (pupil_m * 1e3 / 2)
    wave = Wavefront.from_amp_and_phase(
        rho <= 1, waves * wavelength_m * 1e9 * rho**2, wavelength_m * 1e6, x[0, 1] - x[0, 0]
    )
    psf = wave.focus(v_m * 1e3, Q=4).intensity  # spaced in micrometres
    energy = psf.data / psf.data.sum()
    size = energy.shape[0]
    at_um = (np.arange(size) - size // 2) * psf.dx
    radius_um = np.hypot(*np.meshgrid(at_um, at_um))
    order = np.argsort(radius_um, axis=None)
    half = np.searchsorted(np.cumsum(energy.flat[order]), 0.5)
    measured_m = radius_um.flat[order][half] * np.sqrt(8) / 1e6
    assert measured_m == pytest.approx(expected_m, rel=0.03)


@given(f_numbers, st.floats(0, 2), st.floats(1e-6, 1e-4))
def test_aperture_for_a_disc_inverts_the_disc(f_number, magnification, diameter):
    n = diffraction.f_number_for_airy_diameter(diameter, magnification)
    assert diffraction.airy_diameter_m(n, magnification) == pytest.approx(diameter, rel=1e-14)
    wide = diffraction.airy_diameter_m(f_number, magnification)
    assert diffraction.airy_diameter_m(f_number * 2, magnification) == pytest.approx(2 * wide)
    assert wide >= diffraction.airy_diameter_m(f_number)


@given(st.floats(1e-6, 1e-2), st.floats(0, 1))
def test_sharpest_aperture_is_the_least_of_the_total(defocus_at_f1, magnification):
    """Against SciPy's minimiser."""
    best = diffraction.sharpest_f_number(defocus_at_f1, magnification)

    def total(log_n):
        n = np.exp(log_n)
        airy = diffraction.airy_diameter_m(n, magnification)
        return np.log(diffraction.total_blur_m(defocus_at_f1 / n, airy))

    found = minimize_scalar(total, bracket=(np.log(best) - 1, np.log(best) + 0.7))
    assert np.exp(found.x) == pytest.approx(best, rel=1e-5)


def test_total_blur_is_at_least_each_of_its_parts():
    defocus = np.array([0.0, 1e-5, 3e-5])
    total = diffraction.total_blur_m(defocus, 4e-5)
    assert total == pytest.approx([4e-5, np.sqrt(17) * 1e-5, 5e-5])


@pytest.mark.parametrize("bad", [0, -1, np.nan, np.inf])
def test_impossible_numbers_are_refused(bad):
    for call in (
        lambda: diffraction.airy_diameter_m(bad),
        lambda: diffraction.f_number_for_airy_diameter(bad),
        lambda: diffraction.sharpest_f_number(bad),
        lambda: diffraction.airy_diameter_m(4, wavelength_m=bad),
    ):
        with pytest.raises(ImpossibleValueError):
            call()
