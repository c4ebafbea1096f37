"""Terms that files and `optics` hold in English, and errors of `optics`, in other words."""

import pickle

import pytest

from assist.base import terms
from assist.base.words import Words, of_error, speaking
from assist.guidance.verdict import Verdict
from assist.plan.as_json import in_english, to_json
from assist.plan.formats import LengthFormat
from assist.plan.planning import plan_of
from assist.plan.sentences import headline
from assist.review.checked import Cause, Sharpness
from assist.setup import set_up as set_ups
from optics import framing, lens, motion
from optics.errors import ImpossibleValueError
from optics.sensor import sensor_from_name
from optics.sharpness_criterion import from_diagonal, from_pixels, from_print, given


class _Marked(Words):
    """A language in which each message stands in brackets, and numbers have a comma."""

    def gettext(self, message, **values):
        return f"[{message.format(**values) if values else message}]"

    def pgettext(self, context, message, **values):
        if context == "decimal mark":
            return ","
        return f"[{message.format(**values) if values else message}]"


PLANNED = plan_of(
    set_ups.from_values({"lens": {"focal_length_mm": 50, "f_number": 5.6, "focus_distance_m": 3}})
)


@pytest.mark.parametrize(
    "term",
    [
        *(verdict.value for verdict in Verdict),
        *(verdict.value for verdict in Sharpness),
        *(cause.value for cause in Cause if cause is not Cause.NONE),
        *(size.name for size in framing.SHOT_SIZES),
        *(movement.name for movement in motion.MOVEMENTS),
        *(mark.at for mark in PLANNED.ground_marks),
        *(blur.at for blur in PLANNED.blurs),
        *(field.at for field in PLANNED.fields),
    ],
)
def test_every_term_that_a_file_or_a_plan_holds_can_be_told(term):
    assert terms.told(term) == term
    with speaking(_Marked()):
        assert terms.told(term) == f"[{term}]"


def test_what_is_no_term_is_told_as_it_is():
    with speaking(_Marked()):
        assert terms.told("Am Fluss") == "Am Fluss"


FULL_FRAME = sensor_from_name("full-frame")


@pytest.mark.parametrize(
    "basis",
    [
        from_diagonal(FULL_FRAME, 1442.5).basis,
        from_print(FULL_FRAME, 0.305, 0.4).basis,
        from_pixels(FULL_FRAME, 6000, 1.5).basis,
        given(0.029e-3).basis,
    ],
)
def test_every_basis_of_a_criterion_can_be_told(basis):
    assert terms.criterion(basis) == basis
    with speaking(_Marked()):
        assert terms.criterion(basis) == f"[{basis.replace('.', ',')}]"


def test_the_size_of_a_print_can_be_told():
    size = from_print(FULL_FRAME, 0.305, 0.4).basis.removeprefix("print ")
    assert terms.print_size(size) == size
    with speaking(_Marked()):
        assert terms.print_size(size) == f"[{size.replace('.', ',')}]"


def test_an_error_of_optics_is_told_in_other_words():
    with pytest.raises(ImpossibleValueError) as raised:
        lens.image_distance_m(0.05, 0.0255)
    error = raised.value
    english = "focus distance must be above the focal length (0.05), not 0.0255"
    assert str(error) == of_error(error) == english
    with speaking(_Marked()):
        assert of_error(error) == (
            "[[focus distance] must be above [the focal length] (0,05), not 0,0255]"
        )
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.template, again.values) == (english, error.template, error.values)


def test_an_error_within_an_error_is_told_too():
    with pytest.raises(ImpossibleValueError) as raised:
        sensor_from_name("0x24")
    assert str(raised.value) == "sensor '0x24': sensor width must be above zero, not 0"
    with speaking(_Marked()):
        told = of_error(raised.value)
    assert "[[sensor width] must be above zero, not 0]" in told


def test_other_errors_and_braces_in_them_are_told_as_they_are():
    with speaking(_Marked()):
        assert of_error(ValueError("a {b}")) == "a {b}"
    assert str(ImpossibleValueError("{name!r} is wrong", name="{x}")) == "'{x}' is wrong"


def test_a_plan_for_programs_is_the_same_in_every_language():
    plain = to_json(PLANNED)
    with speaking(_Marked()):
        assert headline(PLANNED, LengthFormat()).startswith("[In focus from 2,53 m")
        with in_english():
            again = plan_of(PLANNED.set_up)
        assert to_json(again) == plain
