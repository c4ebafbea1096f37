"""The search against a plain sweep over distances, and its advice by taking it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from optics import exposure, framing, lens, motion
from optics.errors import ImpossibleValueError
from optics.figure import Figure
from optics.planner import LensChoice, Light, Room, Wishes, search
from optics.sensor import FORMATS

FULL = FORMATS["full-frame"]
BAG = [
    LensChoice("24 mm", 0.024, 1.4, 16, 0.25),
    LensChoice("50 mm", 0.050, 1.8, 16, 0.45),
    LensChoice("85 mm", 0.085, 1.8, 22, 0.8),
]


def wishes(**changes):
    usual = {
        "sensor": FULL,
        "orientation": "landscape",
        "circle_of_confusion_m": FULL.diagonal_m / 1500,
        "shot_size": framing.shot_size("knees-up"),
        "figure": Figure(1.7),
        "room": Room(0.6, 0.4),
        "speed_m_s": motion.STANDING.speed_m_s,
        "farthest_m": 6.0,
        "light": Light(9.0, 3200),
    }
    return Wishes(**(usual | changes))


any_wishes = st.builds(
    wishes,
    orientation=st.sampled_from(["landscape", "portrait"]),
    shot_size=st.sampled_from(framing.SHOT_SIZES),
    figure=st.builds(Figure, st.floats(1.4, 2.0), st.one_of(st.none(), st.floats(0.4, 0.6))),
    room=st.one_of(
        st.builds(Room, st.floats(0.05, 2), st.floats(0.05, 2)),
        st.builds(Room, in_all_m=st.floats(0.1, 3)),
    ),
    speed_m_s=st.sampled_from([movement.speed_m_s for movement in motion.MOVEMENTS]),
    farthest_m=st.floats(0.5, 12),
    light=st.one_of(
        st.none(), st.builds(Light, st.floats(-2, 17), st.sampled_from([400.0, 3200.0, 25600.0]))
    ),
    loosest=st.floats(1.001, 2),  # at exactly 1 a single distance would be left to rounding
)


def meets(wish, choice, aperture, s):
    """Where focusing at s does all that is wanted: each wish worked out by itself, forwards."""
    f, n, c = choice.focal_length_m, aperture.nominal, wish.circle_of_confusion_m
    s = np.asarray(s, dtype=float)
    sensor_distance = lens.lens_to_sensor_distance_m(f, s)
    nearest = max(choice.minimum_focus_m or 0, 4 * f)
    zone = lens.depth_of_field(f, n, s, c)
    side = framing.frame_sides_m(wish.sensor, wish.orientation)[1]

    def height_at(s):
        return framing.field_covered_m(side, lens.image_distance_m(f, s), s)

    def needed_at(s):
        region = framing.region_of(wish.shot_size, wish.figure, wish.headroom, s)
        return framing.frame_height_for(region, wish.sensor, wish.orientation)

    height = height_at(s)
    needed = np.reshape([needed_at(one) for one in s.ravel()], s.shape)
    just_fits = brentq(lambda one: height_at(one) - needed_at(one), 1.01 * f, 100.0, xtol=1e-13)
    frozen = np.full(s.shape, True)
    if wish.light is not None:
        ev = math.floor(wish.light.ev100 * 3 + 1e-9) / 3
        times = [
            exposure.shutter_s(ev, aperture.exact, speed.exact)
            for speed in exposure.SPEEDS
            if wish.light.lowest.thirds <= speed.thirds <= wish.light.highest.thirds
        ]
        on_dial = [t for t in times if 0.99 * 2.0**-13 < t < 1.01 * 2.0**5]
        blurs = [motion.motion_blur_m(wish.speed_m_s, t, f, s, s) for t in on_dial]
        frozen = np.min(blurs, axis=0) <= c if blurs else np.full(s.shape, False)
    room = wish.room
    return (
        (zone.in_front_m >= room.in_front_m)
        & (zone.behind_m >= room.behind_m)
        & (zone.total_m >= room.in_all_m)
        & (needed * (1 - 1e-9) <= height)
        & (height <= height_at(just_fits) * wish.loosest)
        & (nearest <= sensor_distance)
        & (sensor_distance <= wish.farthest_m)
        & frozen
    )


def nudged(wish):
    """The same wishes with a hair of slack, for what lies exactly on a limit."""
    hair = 1e-9
    return replace(
        wish,
        room=wish.room.scaled(1 - hair),
        farthest_m=wish.farthest_m * (1 + hair),
        loosest=wish.loosest * (1 + hair),
        speed_m_s=wish.speed_m_s * (1 - hair),
    )


@settings(max_examples=60, deadline=None)
@given(any_wishes)
def test_every_answer_does_all_that_is_wanted(wish):
    for found in search(wish, BAG).candidates:
        assert meets(nudged(wish), found.lens, found.aperture, found.focus_distance_m)
        zone = lens.depth_of_field(
            found.lens.focal_length_m, found.aperture.nominal, found.focus_distance_m,
            wish.circle_of_confusion_m,
        )  # fmt: skip
        assert (found.in_front_m, found.behind_m) == (zone.in_front_m, zone.behind_m)
        if wish.light is None:
            assert found.shutter is found.speed is None
            continue
        ev = exposure.exposure_value_100(
            found.aperture.exact, found.shutter.exact, found.speed.exact
        )
        assert wish.light.ev100 - 1 / 3 - 1e-6 <= ev <= wish.light.ev100 + 1e-6
        assert found.speed.nominal <= wish.light.highest_iso
        blur = motion.motion_blur_m(
            wish.speed_m_s, found.shutter.exact, found.lens.focal_length_m,
            found.focus_distance_m, found.focus_distance_m,
        )  # fmt: skip
        assert blur <= wish.circle_of_confusion_m * (1 + 1e-6)


@settings(max_examples=25, deadline=None)
@given(any_wishes)
def test_nothing_is_missed_by_a_sweep_over_distances(wish):
    """Every lens and aperture that a fine sweep finds a distance for is among the answers."""
    answers = {(x.lens.name, x.aperture.label) for x in search(wish, BAG).candidates}
    for choice in BAG:
        for aperture in exposure.APERTURES.full_stops:
            if not choice.widest_f_number <= aperture.nominal <= choice.narrowest_f_number:
                continue
            swept = np.geomspace(4.01 * choice.focal_length_m, wish.farthest_m + 1e-9, 400)
            if meets(wish, choice, aperture, swept).any():
                assert (choice.name, aperture.label) in answers


@settings(max_examples=60, deadline=None)
@given(any_wishes)
def test_answers_are_ranked_and_failures_explained(wish):
    answer = search(wish, BAG)
    costs = [x.cost.total for x in answer.candidates]
    assert costs == sorted(costs)
    if answer.candidates:
        assert answer.near_miss is None
        assert not answer.relaxations
    elif answer.near_miss is not None:
        assert answer.near_miss.at_least_m > answer.near_miss.at_most_m


def taken(wish, change, share=1.0):
    """The wishes after taking the advice; a share under 1 takes only so much of it."""
    hair = 1e-6 if share == 1.0 else 0.0
    value, light = change.value, wish.light

    def part_way(start, grow):
        return (start + (value - start) * share) * (1 + grow)

    if change.what == "higher ISO":
        third_lower = exposure.SPEEDS.at(exposure.SPEEDS.nearest(value).thirds - 1).nominal
        return replace(wish, light=replace(light, highest_iso=value if hair else third_lower))
    if change.what == "more light":
        return replace(wish, light=replace(light, ev100=part_way(light.ev100, 0) + hair))
    if change.what == "less room":
        return replace(wish, room=wish.room.scaled(part_way(1.0, -hair)))
    field, grow = {
        "farthest distance": ("farthest_m", hair),
        "looser framing": ("loosest", hair),
        "slower movement": ("speed_m_s", -hair),
    }[change.what]
    return replace(wish, **{field: part_way(getattr(wish, field), grow)})


def without(wish, beside):
    """The wishes without the one that is given up altogether."""
    changes = {
        "light": {"light": None},
        "place": {"farthest_m": math.inf},
        "loosest framing": {"loosest": 1e3},
    }
    return wish if beside is None else replace(wish, **changes[beside])


@settings(max_examples=60, deadline=None)
@given(any_wishes)
def test_advice_works_when_taken_and_less_of_it_does_not(wish):
    answer = search(wish, BAG)
    assume(answer.relaxations)
    for change in answer.relaxations:
        fewer = without(wish, change.beside)
        if change.what == "another lens":
            assert search(fewer, [*BAG, change.lens]).candidates
            continue
        if change.what == "tighter framing":
            continue  # another shot size, told in words: see the tests of the plan
        assert search(taken(fewer, change), BAG).candidates, change
        if change.what == "more light" and change.value - wish.light.ev100 < 0.34:
            continue  # the dial's thirds: less than one third is none
        assert not search(taken(fewer, change, share=0.6), BAG).candidates, change


def test_light_asked_for_may_be_below_zero():
    """From EV -2 to EV -1 is all that f/1.4 needs: an exposure value has a sign."""
    dim = wishes(
        shot_size=framing.shot_size("waist-up"), figure=Figure(2.0), room=Room(2.0, 1.0),
        speed_m_s=0.5, farthest_m=7.0, light=Light(-2.0, 25600.0), loosest=1e3,
    )  # fmt: skip
    advice = next(x for x in search(dim, BAG).relaxations if x.what == "more light")
    assert advice.value == pytest.approx(-1.0)
    assert advice.aperture.nominal == 1.4


def test_two_wishes_are_given_up_when_one_is_not_enough():
    """Too dark and too small a place at once: no single change helps."""
    answer = search(wishes(room=Room(3, 3), light=Light(-2, 100), farthest_m=1.0), BAG[1:])
    assert not answer.candidates
    assert answer.near_miss is not None
    assert all(change.beside is not None for change in answer.relaxations)


def test_a_worked_example():
    """Knees-up of 1.7 m on 50 mm: frame 1.2565 m high, so s = f (1 + 1.2565 / 0.024) = 2.668 m.

    At f/8 the zone there is 0.50 m before and 0.79 m behind (formulas of the trade): too little
    before, so the room sets a distance that is farther, rounded up to 5 cm from the sensor plane.
    """
    only = [LensChoice("50 mm", 0.05, 8, 8)]
    (found,) = search(wishes(), only).candidates
    taped = lens.lens_to_sensor_distance_m(0.05, found.focus_distance_m)
    assert taped == pytest.approx(2.95)
    assert found.set_by == "room"
    assert found.in_front_m == pytest.approx(0.6, abs=0.03)
    assert found.in_front_m >= 0.6
    easier = search(wishes(room=Room(0.4, 0.4)), only).candidates[0]
    assert easier.set_by == "framing"
    assert lens.lens_to_sensor_distance_m(0.05, easier.focus_distance_m) == pytest.approx(2.75)


def test_bright_light_rules_wide_apertures_out():
    bright = search(wishes(light=Light(18.0, 6400), room=Room(0.01, 0.01)), BAG)
    widest = min(x.aperture.nominal for x in bright.candidates)
    # Ev 18 at ISO 100 with 1/8000 s (Tv 13) leaves Av 5: f/5.6.
    assert widest == 5.6
    assert (
        next(x for x in bright.candidates if x.aperture.nominal == 5.6).wider_fails == "brightness"
    )


@pytest.mark.parametrize("camera_m", [0.6, 1.2, 1.6])
def test_a_camera_at_another_height_still_frames(camera_m):
    """The distance found for a tilted camera, aimed forwards, holds head and lower edge just so."""
    wish = wishes(camera_height_m=camera_m, light=None, room=Room(0.01, 0.01), loosest=1.0 + 1e-9)
    region = framing.region_of(wish.shot_size, wish.figure)
    found = search(wish, BAG).candidates
    assert {x.lens.name for x in found} == {x.name for x in BAG}
    for one in found:
        s, f = one.focus_distance_m, one.lens.focal_length_m
        angle = framing.angle_of_view_rad(0.024, lens.image_distance_m(f, s))
        aim = framing.aim_for(wish.framed, angle, s)
        assert aim.top_m == pytest.approx(region.top_m, abs=1e-6)
        assert aim.bottom_m == pytest.approx(region.bottom_m, abs=1e-6)


def test_a_camera_far_too_high_finds_nothing_rather_than_failing():
    answer = search(wishes(camera_height_m=15.0), BAG)
    assert not answer.candidates


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: search(wishes(), []), "at least one lens"),
        (lambda: search(wishes(), BAG, 0), "rounding step"),
        (Room, "above zero"),
        (lambda: Room(-1, 1), "must not be negative"),
        (lambda: Light(9, 50), "must not be below the lowest"),
        (lambda: Light(9, 20), "starts at 50"),
        (lambda: wishes(loosest=0.9), "loosest framing must be 1 or more"),
        (lambda: wishes(speed_m_s=0), "speed must be above zero"),
        (lambda: LensChoice("x", 0.05, 8, 4), "wider than its widest"),
    ],
)
def test_impossible_wishes_are_named(call, says):
    with pytest.raises(ImpossibleValueError, match=says):
        call()
