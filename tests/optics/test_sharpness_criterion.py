"""Where the circle of confusion comes from."""

from __future__ import annotations

import math

import pytest

from optics import sharpness_criterion
from optics.errors import ImpossibleValueError
from optics.sensor import FORMATS, Sensor, sensor_from_name

FULL = FORMATS["full-frame"]


def test_diagonal_over_1500_of_a_full_frame():
    """43.3 mm / 1500 = 0.029 mm: common practice, no source."""
    found = sharpness_criterion.from_diagonal(FULL)
    assert found.circle_of_confusion_m == pytest.approx(0.0288e-3, abs=1e-7)
    assert found.basis == "diagonal/1500"


def test_print_seen_at_one_minute_of_arc():
    """30 cm wide from 40 cm: 0.116 mm on the print (tan 1'), enlarged 8.33 times."""
    found = sharpness_criterion.from_print(FULL, 0.30, 0.40)
    assert found.circle_of_confusion_m == pytest.approx(
        0.4 * math.tan(math.pi / 180 / 60) / (0.30 / 0.036), rel=1e-12
    )
    twice = sharpness_criterion.from_print(FULL, 0.60, 0.80)
    assert twice.circle_of_confusion_m == pytest.approx(found.circle_of_confusion_m, rel=1e-6)


def test_pixels():
    found = sharpness_criterion.from_pixels(FULL, 6000, 2)
    assert found.circle_of_confusion_m == pytest.approx(12e-6)


def test_crop_factors_are_what_the_formats_are_called_by():
    """1.5, 1.6, 2 and 2.7: common practice, no source."""
    factors = {"aps-c-1.5": 1.5, "aps-c-1.6": 1.6, "four-thirds": 2.0, "one-inch": 2.7}
    for name, factor in factors.items():
        assert FORMATS[name].crop_factor == pytest.approx(factor, abs=0.04)


@pytest.mark.parametrize(
    "text", ["full-frame", "Full Frame", "36x24", "36 x 24 mm", "36×24mm", "36mm x 24mm"]
)
def test_sensor_names_and_sizes(text):
    assert sensor_from_name(text) == FULL


@pytest.mark.parametrize("text", ["", "big", "36", "36x", "36x0", "-36x24", "36x24x1", "1..2x3"])
def test_unknown_sensors_are_refused_in_one_line(text):
    with pytest.raises(ImpossibleValueError) as error:
        sensor_from_name(text)
    assert "\n" not in str(error.value)


def test_impossible_criteria_are_refused():
    for call in (
        lambda: sharpness_criterion.given(0),
        lambda: sharpness_criterion.from_diagonal(FULL, -1),
        lambda: sharpness_criterion.from_pixels(FULL, 0),
        lambda: sharpness_criterion.from_print(FULL, 0, 1),
        lambda: Sensor.from_mm(0, 24),
    ):
        with pytest.raises(ImpossibleValueError):
            call()
