"""The fuzz targets under Hypothesis: a few hundred cases each, the same ones every time.

A run by hand (`tests/fuzz/by_hand.py`) looks for new ones; here nothing may depend on luck.
"""

import copy

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fuzz.draw import NASTY, Draw
from tests.fuzz.targets import TARGETS, Target


@st.composite
def damaged(draw, target: Target):
    """A seed with some bytes changed, taken out or put in; or bytes of no kind at all."""
    content = draw(st.sampled_from([*target.seeds(), b""]))
    edits = draw(
        st.lists(
            st.tuples(
                st.integers(0, len(content)), st.integers(0, 12), st.binary(max_size=12)
            ),
            max_size=8,
        )
    )  # fmt: skip
    for place, removed, added in edits:
        content = content[:place] + added + content[place + removed :]
    return content[: target.most]


@pytest.mark.filterwarnings("ignore::UserWarning")
@pytest.mark.parametrize("name", TARGETS)
def test_no_input_breaks_it(name):
    target = TARGETS[name]
    for seed in target.seeds():
        target.run(seed)

    @settings(
        max_examples=10 if target.slow else 250,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(damaged(target))
    def run(content):
        target.run(content)

    run()


def test_the_targets_can_fail(monkeypatch):
    """A harness that never complains proves nothing: with the limits off, it does."""
    from assist.setup import set_up as set_ups

    def careless(values, what="", names=None):
        return set_ups.SetUp.model_validate(values)

    monkeypatch.setattr(set_ups, "from_values", careless)
    with pytest.raises(Exception, match="validation error"):
        for step in range(256):
            TARGETS["set_up_values"].run(bytes((step * k) % 256 for k in range(30)))


def test_what_is_drawn_once_is_not_changed_by_what_is_done_with_it():
    kinds = [k for k, nasty in enumerate(NASTY) if isinstance(nasty, (list, dict))]
    assert kinds
    for kind in kinds:
        before = copy.deepcopy(NASTY[kind])
        drawn = Draw(bytes([kind])).value()
        drawn.append(drawn) if isinstance(drawn, list) else drawn.update(a=drawn)
        assert NASTY[kind] == before
