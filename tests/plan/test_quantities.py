"""Numbers with units, as people type them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assist.base import units as q

FEET = 0.3048  # the international foot: NIST SP 811, appendix B


@pytest.mark.parametrize(
    ("parse", "text", "value"),
    [
        (q.parse_length_m, "3m", 3),
        (q.parse_length_m, "3 m", 3),
        (q.parse_length_m, "3", 3),
        (q.parse_length_m, "2,5 m", 2.5),
        (q.parse_length_m, "250cm", 2.5),
        (q.parse_length_m, "10ft", 10 * FEET),
        (q.parse_length_m, "10'6\"", 10.5 * FEET),
        (q.parse_length_m, "10' 6\"", 10.5 * FEET),
        (q.parse_length_m, "10’6”", 10.5 * FEET),
        (q.parse_length_m, "10ft 6in", 10.5 * FEET),
        (q.parse_length_m, "10'-6\"", 10.5 * FEET),
        (q.parse_length_m, "10' - 6\"", 10.5 * FEET),
        (q.parse_length_m, "10 ft. 6 in.", 10.5 * FEET),
        (q.parse_length_m, "5'11.5", (5 + 11.5 / 12) * FEET),
        (q.parse_length_m, "6 in", 0.5 * FEET),
        (q.parse_length_m, "10'–6\"", 10.5 * FEET),
        (q.parse_length_m, "10 feet, 6 inches", 10.5 * FEET),
        (q.parse_length_m, "10 feet and 6 inches", 10.5 * FEET),
        (q.parse_length_m, "5' 7 1/2\"", (5 + 7.5 / 12) * FEET),
        (q.parse_length_m, "5'7¼\"", (5 + 7.25 / 12) * FEET),
        (q.parse_length_m, "7 1/2 in", 7.5 / 12 * FEET),
        (q.parse_length_m, "-5'6\"", -5.5 * FEET),
        (q.parse_length_m, "6'0\"", 6 * FEET),
        (q.parse_length_m, "1m70", 1.7),
        (q.parse_length_m, "1 m 70 cm", 1.7),
        (q.parse_focal_length_mm, "50mm", 50),
        (q.parse_focal_length_mm, "50", 50),
        (q.parse_focal_length_mm, 35, 35),
        (q.parse_f_number, "f/5.6", 5.6),
        (q.parse_f_number, "F5.6", 5.6),
        (q.parse_f_number, "5,6", 5.6),
        (q.parse_f_number, 5.6, 5.6),
        (q.parse_seconds, "1/50", 0.02),
        (q.parse_seconds, "1/50 s", 0.02),
        (q.parse_seconds, "20ms", 0.02),
        (q.parse_seconds, "2s", 2),
        (q.parse_angle_deg, "12°", 12),
        (q.parse_angle_deg, "-3 deg", -3),
        (q.parse_iso, "ISO 400", 400),
        (q.parse_iso, "iso400", 400),
        (q.parse_iso, 400, 400),
        (q.parse_exposure_value, "EV 9", 9),
        (q.parse_exposure_value, "9.3EV", 9.3),
        (q.parse_exposure_value, "-2", -2),
        (q.parse_share, "8%", 0.08),
        (q.parse_share, "0.08", 0.08),
        (q.parse_metered_exposure, "f/5.6 1/50 ISO 400", (5.6, 0.02, 400)),
        (q.parse_metered_exposure, "F 5.6, 2s, iso 100", (5.6, 2, 100)),
    ],
)
def test_accepted(parse, text, value):
    assert parse(text) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("parse", "text", "says"),
    [
        (q.parse_length_m, "three", "3 m, 300 cm"),
        (q.parse_length_m, "3 furlongs", "3 m, 300 cm"),
        (q.parse_length_m, "", "3 m, 300 cm"),
        (q.parse_length_m, "inf", "3 m, 300 cm"),
        (q.parse_length_m, math.nan, "3 m, 300 cm"),
        (q.parse_length_m, "1e999", "finite"),
        (q.parse_length_m, None, "3 m, 300 cm"),
        (q.parse_length_m, "10'13\"", "13 inches, and a foot has 12"),
        (q.parse_length_m, "10 ft 12 in", "12 inches, and a foot has 12"),
        (q.parse_length_m, "5'12 1/2\"", "12 1/2 inches, and a foot has 12"),
        (q.parse_length_m, "10'--6\"", "3 m, 300 cm"),
        (q.parse_length_m, "10.5'6\"", "3 m, 300 cm"),
        (q.parse_length_m, "5'7 3/2\"", "3 m, 300 cm"),
        (q.parse_length_m, "5'7.5 1/2\"", "3 m, 300 cm"),
        (q.parse_length_m, "1m7", "3 m, 300 cm"),
        (q.parse_length_m, True, "3 m, 300 cm"),
        (q.parse_f_number, "f/", "5.6 or f/5.6"),
        (q.parse_seconds, "1/0", "1/50"),
        (q.parse_seconds, "1/", "1/50"),
        (q.parse_iso, "fast", "ISO 400"),
        (q.parse_exposure_value, "bright", "EV 9"),
        (q.parse_share, "8 apples", "8%"),
        (q.parse_metered_exposure, "f/5.6 1/60", "f/5.6 1/60 ISO 400"),
        (q.parse_metered_exposure, "f/5.6 1/0 ISO 400", "f/5.6 1/60 ISO 400"),
    ],
)
def test_refused_with_the_accepted_forms(parse, text, says):
    with pytest.raises(ValueError, match=says):
        parse(text)


@given(st.floats(1e-3, 1e4))
def test_what_is_written_is_read(metres):
    assert q.parse_length_m(f"{metres!r} m") == metres
    assert q.parse_length_m(f"{metres!r}") == metres
    assert q.parse_length_m(metres) == metres
    feet, inches = divmod(metres / FEET, 1)
    assert q.parse_length_m(f"{feet:.0f}'{min(inches * 12, 11.999999):.6f}\"") == pytest.approx(
        metres, abs=1e-6
    )


@given(st.text(max_size=20))
def test_any_text_is_read_or_refused(text):
    for parse in (
        q.parse_length_m, q.parse_focal_length_mm, q.parse_f_number, q.parse_seconds,
        q.parse_angle_deg, q.parse_iso, q.parse_exposure_value, q.parse_share,
    ):  # fmt: skip
        try:
            assert math.isfinite(parse(text))
        except ValueError as error:
            assert str(error)
