"""Exposure against the additive system's table and the standards' series of values."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optics import exposure
from optics.errors import ImpossibleValueError

f_numbers = st.floats(0.7, 64)
times = st.floats(1e-4, 60)
speeds = st.floats(25, 204800)


@pytest.mark.parametrize(
    ("call", "value", "expected"),
    [
        *[(exposure.aperture_value, math.sqrt(2) ** k, k) for k in range(11)],
        *[(exposure.time_value, 2.0**-k, k) for k in range(-5, 12)],
        (exposure.speed_value, 3.125, 0),
        (exposure.speed_value, 100, 5),
        (exposure.speed_value, 200, 6),
        (exposure.speed_value, 400, 7),
        (exposure.speed_value, 3200, 10),
    ],
)
def test_apex_table(call, value, expected):
    """Table of the additive system: Exif, CIPA DC-008, annex C (from memory)."""
    assert call(value) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("f_number", "time_s", "ev"),
    [("1", "1", 0), ("1.4", "1", 1), ("1", "1/2", 1), ("16", "1/125", 15), ("8", "1/500", 15),
     ("5.6", "1/15", 9), ("2.8", "1/60", 9), ("4", "1/30", 9), ("11", "1/1000", 17)],
)  # fmt: skip
def test_exposure_pairs_of_the_usual_table(f_number, time_s, ev):
    """The table of exposure values by f-number and time (ISO 2721 and ISO 2720, from memory)."""
    aperture = next(x for x in exposure.APERTURES if x.label == f_number)
    time = next(x for x in exposure.SHUTTER_TIMES if x.label == time_s)
    found = exposure.exposure_value_100(aperture.exact, time.exact, 100)
    assert found == pytest.approx(ev, abs=1e-12)


def test_full_stops_of_aperture():
    """ISO 517 (from memory): 1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32, 45."""
    labels = [x.label for x in exposure.APERTURES.full_stops]
    assert " ".join(labels) == "1 1.4 2 2.8 4 5.6 8 11 16 22 32 45"


def test_full_stops_of_time():
    """ISO 516 (from memory)."""
    labels = [x.label for x in exposure.SHUTTER_TIMES.full_stops]
    stops = "1 1/2 1/4 1/8 1/15 1/30 1/60 1/125 1/250 1/500 1/1000 1/2000 1/4000 1/8000"
    assert " ".join(labels[5:]) == stops


def test_thirds_of_speed():
    """ISO 12232 (from memory)."""
    labels = [x.label for x in exposure.SPEEDS]
    thirds = "100 125 160 200 250 320 400 500 640 800 1000 1250 1600"
    assert " ".join(labels[3:16]) == thirds
    assert [x.label for x in exposure.SPEEDS.full_stops][-3:] == ["25600", "51200", "102400"]


@pytest.mark.parametrize("series", [exposure.APERTURES, exposure.SHUTTER_TIMES, exposure.SPEEDS])
def test_names_are_near_what_they_stand_for(series):
    """A nominal value is a rounding: within a sixth of a stop it cannot name another third."""
    stops_per_octave = 2 if series is exposure.APERTURES else 1
    for setting in series:
        off = stops_per_octave * abs(math.log2(setting.nominal / setting.exact))
        assert off < 1 / 6, setting
        assert series.nearest(setting.nominal) == setting
        assert series.at(setting.thirds) == setting


@given(f_numbers, times, speeds)
def test_time_and_speed_are_inverses_of_the_light(f_number, time_s, iso):
    ev = exposure.exposure_value_100(f_number, time_s, iso)
    assert exposure.shutter_s(ev, f_number, iso) == pytest.approx(time_s, rel=1e-12)
    assert exposure.iso_speed(ev, f_number, time_s) == pytest.approx(iso, rel=1e-12)


@given(f_numbers, f_numbers, times, speeds)
def test_a_change_of_aperture_costs_what_time_and_speed_restore(n, other, time_s, iso):
    ev = exposure.exposure_value_100(n, time_s, iso)
    stops = exposure.stops_between(n, other)
    restored = exposure.exposure_value_100(other, time_s * 2**stops, iso)
    assert restored == pytest.approx(ev, abs=1e-9)
    restored = exposure.exposure_value_100(other, time_s, iso * 2**stops)
    assert restored == pytest.approx(ev, abs=1e-9)


@given(st.integers(-15, 54), st.sampled_from(list(exposure.APERTURES)))
def test_pairs_all_expose_alike(thirds, aperture):
    ev = thirds / 3
    pairs = exposure.pairs(ev, aperture.nominal)
    for pair in pairs:
        found = exposure.exposure_value_100(
            pair.aperture.exact, pair.shutter.exact, pair.speed.exact
        )
        assert found == pytest.approx(ev, abs=1e-9)
    speeds_found = [pair.speed.thirds for pair in pairs]
    assert speeds_found == sorted(speeds_found)
    # None is missing: each other speed would need a time off the dial.
    for speed in exposure.SPEEDS:
        time_thirds = thirds + speed.thirds - aperture.thirds
        on_dial = -15 <= time_thirds <= 39
        assert on_dial == (speed.thirds in speeds_found)


def test_light_between_thirds_is_taken_as_the_darker():
    assert exposure.thirds_of_stops(9.0) == 27
    assert exposure.thirds_of_stops(9.32) == 27
    assert exposure.thirds_of_stops(9.34) == 28
    assert exposure.thirds_of_stops(-0.1) == -1


def test_dials_end():
    with pytest.raises(ImpossibleValueError, match="from 30 to 1/8000"):
        exposure.SHUTTER_TIMES.at(40)
    with pytest.raises(ImpossibleValueError, match="starts at 50"):
        exposure.SPEEDS.at_most(32)
    assert exposure.SPEEDS.at_most(3000).label == "2500"
    assert exposure.SPEEDS.at_most(3200).label == "3200"
    assert exposure.SHUTTER_TIMES.largest_within(0.018).label == "1/60"
    assert exposure.SHUTTER_TIMES.largest_within(1e-5) is None
    assert exposure.SHUTTER_TIMES.label_of(1e-4) == "1/8000"
    assert exposure.SHUTTER_TIMES.label_of(1e-5) is None
