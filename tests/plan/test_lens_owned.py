"""Lenses as their owners describe them."""

from __future__ import annotations

import pytest

from assist.base.errors import UserError
from assist.plan.lens_owned import lens_owned
from assist.plan.search_request import ASSUMED_NARROWEST, ASSUMED_WIDEST, lens_choices


@pytest.mark.parametrize(
    ("text", "focal_lengths", "widest", "narrowest", "nearest"),
    [
        ("50", (50,), None, None, None),
        ("50mm", (50,), None, None, None),
        ("50 mm f/1.8", (50,), 1.8, None, None),
        ("50mm:f/1.8", (50,), 1.8, None, None),
        ("35mm f1.4-f/16", (35,), 1.4, 16, None),
        ("35mm f/1.4-16 from 0.3m", (35,), 1.4, 16, 0.3),
        ("85mm from 80cm", (85,), None, None, 0.8),
        ("24-70mm f/2.8", (24, 28, 35, 40, 50, 60, 70), 2.8, None, None),
        ("24mm - 35mm", (24, 28, 35), None, None, None),
    ],
)
def test_accepted(text, focal_lengths, widest, narrowest, nearest):
    found = lens_owned(text)
    assert found.focal_lengths_mm == focal_lengths
    assert (found.widest_f_number, found.narrowest_f_number) == (widest, narrowest)
    assert found.minimum_focus_m == nearest
    assert found.is_zoom == (len(focal_lengths) > 1)


@pytest.mark.parametrize(
    "text",
    ["", "fifty", "50 f", "f/1.8", "0mm", "-50mm", "70-24mm", "50mm f/0", "50mm f/8-f/4",
     "50mm from afar", "50mm from 0m", "50mm f/1.8 and more", "..mm"],
)  # fmt: skip
def test_refused_in_one_line_with_the_accepted_forms(text):
    with pytest.raises(UserError, match="--lens") as error:
        lens_owned(text)
    assert "\n" not in str(error.value)


def test_what_is_not_said_is_assumed():
    bare, fast, slow = lens_choices(
        [lens_owned("50mm"), lens_owned("50mm f/1.2"), lens_owned("500mm f/22")]
    )
    assert (bare.widest_f_number, bare.narrowest_f_number) == (ASSUMED_WIDEST, ASSUMED_NARROWEST)
    assert (fast.widest_f_number, fast.narrowest_f_number) == (1.2, ASSUMED_NARROWEST)
    assert (slow.widest_f_number, slow.narrowest_f_number) == (22, 22)
    assert [x.name for x in lens_choices([lens_owned("24-35mm")])] == ["24 mm", "28 mm", "35 mm"]
