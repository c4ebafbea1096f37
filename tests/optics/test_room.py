"""Focus distance for a wanted room: inverse of the depth of field, and 50-digit arithmetic."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from mpmath import mp, mpf

from optics import lens, room
from optics.errors import ImpossibleValueError

mp.dps = 50
focal_lengths = st.floats(0.008, 0.6)
f_numbers = st.floats(0.9, 45)
circles = st.floats(2e-6, 1e-4)
rooms = st.floats(1e-3, 50)


def exact_roots(f, n, r, c):
    """The three quadratics, solved by the school formula in 50 digits."""
    f, n, r, c = (mpf(x) for x in (f, n, r, c))
    h = f * f / (n * c)

    def root(a, b, k):
        return f + (-b + mp.sqrt(b * b - 4 * a * k)) / (2 * a)

    return (
        root(1, f - r, -r * h),
        root(1, f + r, -r * h),
        root(2 * h + r, 2 * h * f, -r * h * h),
    )


WAYS = (
    room.focus_distance_for_room_in_front_m,
    room.focus_distance_for_room_behind_m,
    room.focus_distance_for_room_in_all_m,
)


@given(focal_lengths, f_numbers, rooms, circles)
def test_twelve_digits(f, n, r, c):
    for way, exact in zip(WAYS, exact_roots(f, n, r, c), strict=True):
        assert float(abs(mpf(way(f, n, r, c)) / exact - 1)) < 1e-12


@given(focal_lengths, f_numbers, rooms, circles)
def test_there_is_just_so_much_room(f, n, r, c):
    assume(f * f / (n * c) > 1.2 * f)
    in_front, behind, in_all = (lens.depth_of_field(f, n, way(f, n, r, c), c) for way in WAYS)
    # Rounding of s alone moves a thin room by eps s / room, and one at the far end by far / s more.
    loose = 1e-9
    assert in_front.in_front_m == pytest.approx(r, rel=loose)
    if math.isfinite(behind.far_m):
        assert behind.behind_m == pytest.approx(r, rel=loose * max(1, behind.far_m / behind.near_m))
    if math.isfinite(in_all.far_m):
        assert in_all.total_m == pytest.approx(r, rel=loose * max(1, in_all.far_m / in_all.near_m))


@given(focal_lengths, f_numbers, rooms, circles, st.floats(1.01, 3))
def test_farther_there_is_more(f, n, r, c, more):
    for way in WAYS:
        s = way(f, n, r, c)
        assert s > f
        assert way(f, n, r * more, c) > s
        assert way(f, n * more, r, c) < s  # stopped down, nearer will do


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("bad", [0, -1, math.inf, math.nan])
def test_impossible_rooms_are_refused(way, bad):
    with pytest.raises(ImpossibleValueError, match="room"):
        way(0.05, 4, bad, 2e-5)
