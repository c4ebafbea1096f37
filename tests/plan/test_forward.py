"""The plan's own arithmetic: from formulas of optics to tape and clock."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assist.plan.planning import plan_of
from assist.setup import set_up as files
from optics import exposure, framing, lens


def plan(**parts):
    values = {"lens": {"focal_length_mm": 50, "f_number": 5.6, "focus_distance_m": 3}}
    for name, part in parts.items():
        values[name] = values.get(name, {}) | part
    return plan_of(files.from_values(values))


@given(st.floats(14, 200), st.floats(1.4, 22), st.floats(1, 12))
def test_distances_start_at_the_sensor_plane(focal_mm, f_number, focus_m):
    """Near and far by the formulas from the lens, moved by the image distance v: D = z + v."""
    found = plan(
        lens={"focal_length_mm": focal_mm, "f_number": f_number, "focus_distance_m": focus_m}
    )
    s = focus_m - lens.image_distance_m(focal_mm / 1e3, found.set_up.focus_lens_distance_m)
    v = focus_m - s
    assert 1 / (focal_mm / 1e3) == pytest.approx(1 / s + 1 / v, rel=1e-9)
    near, far = found.zone.near_from_sensor_m, found.zone.far_from_sensor_m
    assert found.zone.best_from_sensor_m - near == pytest.approx(found.zone.in_front_m, rel=1e-9)
    if math.isfinite(far):
        assert far - found.zone.best_from_sensor_m == pytest.approx(found.zone.behind_m, rel=1e-9)
    at_limits = [x.seen.diameter_m for x in found.blurs if x.at.endswith("limit")]
    assert at_limits == pytest.approx(
        [found.set_up.criterion.circle_of_confusion_m] * len(at_limits)
    )


def test_the_background_as_it_is_seen():
    """By similar triangles in the long way: the cone behind the lens, cut at the sensor."""
    found = plan(place={"background_distance_m": 8}, camera={"picture_width_px": 6000})
    blur = next(x for x in found.blurs if x.at == "background")
    s = found.set_up.focus_lens_distance_m
    z = 8 - (3 - s)
    v, v_background = (lens.image_distance_m(0.05, x) for x in (s, z))
    cut_m = (0.05 / 5.6) * (v - v_background) / v_background
    assert blur.seen.diameter_m == pytest.approx(cut_m, rel=1e-9)
    assert blur.seen.share_of_width == pytest.approx(cut_m / 0.036, rel=1e-9)
    assert blur.seen.pixels == pytest.approx(cut_m / 0.036 * 6000, rel=1e-9)


def test_held_upright_the_picture_is_narrower():
    upright = plan(
        place={"background_distance_m": 8},
        camera={"picture_width_px": 6000, "orientation": "portrait"},
    )
    blur = next(x for x in upright.blurs if x.at == "background")
    assert blur.seen.share_of_width == pytest.approx(blur.seen.diameter_m / 0.024)
    assert blur.seen.pixels == pytest.approx(blur.seen.diameter_m / 0.024 * 4000)
    mark = next(x for x in upright.fields if x.at == "mark")
    assert mark.height_m == pytest.approx(1.5 * mark.width_m)


def test_framing_names_the_loosest_size_that_fits():
    found = plan(person={"stature_m": 1.75}).framing
    assert found.named == "knees-up"
    fits = {size.name: size.fits for size in found.sizes}
    assert fits == {
        "full body": False, "knees-up": True, "waist-up": True, "chest-up": True,
        "head and shoulders": True,
    }  # fmt: skip
    wanted = plan(person={"stature_m": 1.75}, framing={"shot_size": "full-body"}).framing
    assert wanted.named == "full body"
    assert wanted.looser_by < 0


@pytest.mark.parametrize("size", framing.SHOT_SIZES, ids=lambda size: size.name)
def test_a_size_fits_from_just_where_it_says(size):
    start = next(x for x in plan().framing.sizes if x.name == size.name).fits_from_m
    for distance_m, fits in ((start * 1.0001, True), (start * 0.9999, False)):
        there = plan(lens={"focus_distance_m": distance_m}).framing
        assert next(x for x in there.sizes if x.name == size.name).fits is fits


def test_restored_exposures_are_right():
    found = plan(exposure={"light_ev100": 9, "iso": 400}).exposure
    assert found.shutter_s == pytest.approx(1 / 64)  # Ev 11 at ISO 400, Av 5: Tv 6
    dials = {x.label: x.exact for x in exposure.SHUTTER_TIMES}
    speeds = {x.label: x.exact for x in exposure.SPEEDS}
    stops = {x.label: x.exact for x in exposure.APERTURES}
    for change in found.apertures:
        if change.shutter is not None:
            ev = exposure.exposure_value_100(stops[change.aperture], dials[change.shutter], 400)
            assert ev == pytest.approx(9, abs=1e-9)
        if change.iso is not None:
            ev = exposure.exposure_value_100(stops[change.aperture], 1 / 64, speeds[change.iso])
            assert ev == pytest.approx(9, abs=1e-9)
    assert [x.stops for x in found.apertures if x.f_number == 5.6] == [0]
    assert {pair.iso: pair.shutter for pair in found.pairs}["400"] == "1/60"


def test_a_third_between_full_stops_is_listed_too():
    found = plan(lens={"f_number": 6.3}).exposure.apertures
    assert [x.stops for x in found if x.f_number == 6.3] == [0]
    assert next(x.stops for x in found if x.f_number == 8) == pytest.approx(2 / 3)


def test_movement_sets_the_longest_time():
    found = plan()
    for limit in found.motion:
        streak = (
            limit.speed_m_s
            * limit.longest_s
            * lens.magnification(0.05, found.set_up.focus_lens_distance_m)
        )
        assert streak == pytest.approx(found.set_up.criterion.circle_of_confusion_m, rel=1e-9)
        dial = next(x for x in exposure.SHUTTER_TIMES if x.label == limit.shutter)
        assert dial.exact <= limit.longest_s < dial.exact * 2 ** (1 / 3) * 1.001


def test_recomposing_grows_off_the_axis():
    middle = plan(person={"stature_m": 1.75})
    aside = plan(person={"stature_m": 1.75}, framing={"across": 0.2})
    assert aside.recomposing.angle_rad > middle.recomposing.angle_rad
    turn, s = aside.recomposing, aside.set_up.focus_lens_distance_m
    # Range to the eyes less their depth: the plane lands so far behind them.
    assert turn.shift_m == pytest.approx(s / math.cos(turn.angle_rad) - s, rel=1e-9)
    v = 3 - s
    across = 0.3 * 0.036 / v
    down = math.tan(aside.framing.aim.eyes_off_axis_rad)
    assert math.tan(turn.angle_rad) == pytest.approx(math.hypot(across, down), rel=1e-9)


@pytest.mark.parametrize("tilt_deg", [-8.0, 0.0, 12.0])
def test_marks_on_the_ground_lie_in_the_planes_of_the_zone(tilt_deg):
    """Eyes over the near mark are on the near plane: the depth along the axis is the near limit."""
    found = plan(person={"stature_m": 1.75}, camera={"height_m": 1.4, "tilt_deg": tilt_deg})
    tilt, v = math.radians(tilt_deg), 3 - found.set_up.focus_lens_distance_m
    limits = found.set_up.depth_of_field
    expected = {"near limit": limits.near_m, "mark": 3 - v, "far limit": limits.far_m}
    for mark in found.ground_marks:
        x = mark.along_ground_m - v * math.cos(tilt)
        depth = x * math.cos(tilt) + (1.4 - 0.936 * 1.75) * math.sin(tilt)
        assert depth == pytest.approx(expected[mark.at], rel=1e-9)
        assert mark.stretched_m == pytest.approx(math.hypot(mark.along_ground_m, 1.4), rel=1e-12)


def test_the_walk_against_the_timer():
    found = plan(lens={"focus_distance_m": 8}).walk
    assert found.shortest_timer_s == min(
        x.delay_s for x in found.timers if x.delay_s >= found.needed_s
    )
    far = plan(lens={"focus_distance_m": 60}).walk
    assert far.shortest_timer_s is None
