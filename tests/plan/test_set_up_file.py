"""The set-up file: lossless, commented, versioned, and clear about what is wrong."""

from __future__ import annotations

import math

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from assist.base.errors import UserError
from assist.run import demo
from assist.setup import set_up as files
from assist.setup.set_up import SetUp
from optics import framing

lengths = st.floats(0.01, 1e3)


def or_none(strategy):
    return st.one_of(st.none(), strategy)


@st.composite
def set_ups(draw):
    focal_mm = draw(st.floats(4, 800))
    focus_m = draw(st.floats(4.01 * focal_mm / 1e3, 1e3))
    f_number = draw(st.floats(0.7, 64))
    feeds = st.one_of(
        st.fixed_dictionaries({"crop": st.floats(1, 20), "source": or_none(st.text(max_size=20))}),
        st.fixed_dictionaries(
            {
                "through": st.just("own-lens"),
                "horizontal_field_of_view_deg": st.floats(1, 179),
            }
        ),
    )
    width = draw(or_none(st.integers(1, 20000)))
    # Two of a handful of pixels would be no sharpness at all, and are refused.
    pixels = ["2 px"] if width and width >= 100 else []
    criteria = ["diagonal/1500", "0.02 mm", "print 30 cm from 40 cm", *pixels]
    values = {
        "name": draw(st.text(max_size=50)),
        "camera": {
            "sensor": draw(st.sampled_from(["full-frame", "aps-c-1.5", "23.6x15.7"])),
            "picture_width_px": width,
            "orientation": draw(st.sampled_from(["landscape", "portrait"])),
            "height_m": draw(or_none(st.floats(0.01, 20))),
            "tilt_deg": draw(or_none(st.floats(-60, 60))),
        },
        "lens": {
            "focal_length_mm": focal_mm,
            "f_number": f_number,
            "focus_distance_m": focus_m,
            "minimum_focus_distance_m": draw(or_none(st.floats(1e-3, focus_m))),
            "widest_f_number": draw(or_none(st.floats(0.5, f_number))),
            "narrowest_f_number": draw(or_none(st.floats(f_number, 90))),
        },
        "sharpness": {"criterion": draw(st.sampled_from(criteria))},
        "person": {
            "stature_m": draw(or_none(st.floats(0.5, 2.5))),
            "movement": draw(st.sampled_from(["standing", "gesture", "walking"])),
        },
        "framing": {
            "shot_size": draw(or_none(st.sampled_from([x.name for x in framing.SHOT_SIZES]))),
            "headroom": draw(st.floats(0, 0.5)),
            "across": draw(st.floats(0, 0.99)),
        },
        "exposure": {
            "light_ev100": draw(or_none(st.floats(-20, 30))),
            "shutter_s": draw(or_none(st.floats(1e-5, 3600))),
            "iso": draw(or_none(st.floats(1, 1e6))),
        },
        "place": {
            "background_distance_m": draw(
                or_none(st.one_of(st.just(math.inf), st.floats(focus_m * 1.01, 2e3)))
            )
        },
        "timer": {"delay_s": draw(or_none(st.floats(0, 3600)))},
        "feed": draw(feeds),
    }
    return SetUp.model_validate(values)


@given(set_ups())
def test_written_and_read_it_is_the_same(set_up):
    text = files.to_toml(set_up)
    assert files.from_values(tomlkit.parse(text).unwrap()) == set_up
    assert files.to_toml(files.from_values(tomlkit.parse(text).unwrap())) == text


@given(set_ups())
def test_every_value_has_a_comment(set_up):
    for line in files.to_toml(set_up).split("\n"):
        if "=" in line.split("#")[0] and not line.startswith("#"):
            assert "# " in line, line


def test_through_a_file(tmp_path):
    made = files.from_values(
        {"lens": {"focal_length_mm": "50mm", "f_number": "f/5.6", "focus_distance_m": "10'6\""}}
    )
    files.save(made, tmp_path / "a.toml")
    assert files.load(tmp_path / "a.toml") == made
    assert [x.name for x in tmp_path.iterdir()] == ["a.toml"]  # nothing half-written is left


LENS = {"focal_length_mm": 50, "f_number": 5.6, "focus_distance_m": 3}


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"version": 2, "lens": LENS}, "version 2 is newer than this program reads"),
        ({"version": 0, "lens": LENS}, "version"),
        ({"lens": LENS, "lense": {}}, "lense: no such field"),
        ({"lens": LENS | {"aperture": 4}}, "lens.aperture: no such field"),
        ({"lens": LENS | {"f_number": "wide"}}, "lens.f_number: write it as 5.6 or f/5.6"),
        ({"lens": LENS | {"widest_f_number": 8}}, "f/5.6 is wider than the lens opens"),
        ({"lens": LENS | {"narrowest_f_number": 4}}, "narrower than the lens closes"),
        (
            {"lens": LENS | {"widest_f_number": 8, "narrowest_f_number": 4}},
            "run the wrong way",
        ),
        ({"lens": LENS | {"focus_distance_m": 0.1}}, "four focal lengths"),
        ({"lens": LENS, "framing": {"shot_size": "close"}}, "not a shot size"),
        ({"lens": LENS, "place": {"background_distance_m": 2}}, "farther than the focus distance"),
        ({"lens": LENS, "exposure": {"shutter_s": 0}}, "exposure.shutter_s: must be greater"),
        ({"lens": LENS, "camera": {"tilt_deg": 75}}, "camera.tilt_deg: must be less"),
        ({}, "lens: Field required"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(values, says):
    with pytest.raises(UserError, match=says) as error:
        files.from_values(values)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize(("seated", "posture"), [(True, "seated"), (False, "auto")])
def test_a_file_of_before_that_says_seated_is_still_read(seated, posture):
    values = files.load(demo.sample_folder() / demo.SET_UP).model_dump(exclude_none=True)
    del values["person"]["posture"]
    values["person"]["seated"] = seated
    assert files.from_values(values).person.posture == posture
