import pytest

from assist.guidance.debounce import CONTRADICTION_S, SteadyWord, contradict
from assist.guidance.guide import Action
from assist.pose.facing import FacingWatch

A = Action


def shown(script, rate_hz=25):
    """Words shown over a script of (seconds, right word), each with the time it appeared."""
    word, seen, time_s = SteadyWord(), [], 0.0
    for seconds, right in script:
        for _ in range(round(seconds * rate_hz)):
            now = word.update(time_s, right)
            if not seen or seen[-1][1] is not now:
                seen.append((time_s, now))
            time_s += 1 / rate_hz
    return seen


def words(script):
    return [word for _, word in shown(script)]


def test_a_word_that_lasts_is_shown_after_a_quarter_of_a_second():
    seen = shown([(1, A.FORWARD)])
    assert seen[-1][1] is A.FORWARD
    assert 0.2 <= seen[-1][0] <= 0.3


def test_a_flicker_is_not_shown():
    assert words([(2, A.FORWARD), (0.1, A.BACK), (2, A.FORWARD)]) == [A.NO_ONE, A.FORWARD]


def test_stop_comes_at_once():
    seen = dict((w, t) for t, w in shown([(2, A.FORWARD), (1, A.STOP)]))  # noqa: C402
    assert seen[A.STOP] == pytest.approx(2.0)


def test_hold_never_outlives_its_reason():
    """The costly word is withdrawn in the very picture in which it is no longer right."""
    for other in (A.FORWARD, A.BACK, A.NOT_SURE, A.NO_ONE, A.NO_FEED):
        word = SteadyWord()
        for index in range(60):
            word.update(index / 25, A.HOLD)
        assert word.update(60 / 25, A.HOLD) is A.HOLD
        assert word.update(61 / 25, other) is not A.HOLD


@pytest.mark.parametrize("first", [A.FORWARD, A.BACK, A.HOLD, A.STOP])
@pytest.mark.parametrize("second", [A.FORWARD, A.BACK, A.HOLD, A.STOP])
def test_no_contrary_words_within_a_second(first, second):
    seen = shown([(2, first), (3, second)])
    orders = [(t, w) for t, w in seen if w not in (A.NOT_SURE, A.NO_ONE)]
    time_of = {w: t for t, w in orders}
    assert time_of[second] >= time_of[first]
    if contradict(first, second):
        # The first was shown until the second began, at 2 s.
        assert time_of[second] >= 2.0 + CONTRADICTION_S - 0.05


def test_doubt_between_contraries():
    assert words([(2, A.HOLD), (3, A.FORWARD)])[1:] == [A.HOLD, A.NOT_SURE, A.FORWARD]


def test_forward_then_stop_then_hold_is_how_a_walk_ends():
    assert words([(2, A.FORWARD), (0.5, A.STOP), (2, A.HOLD)])[1:] == [A.FORWARD, A.STOP, A.HOLD]


def test_sides_are_known_once_somebody_has_faced_one_way_for_a_second():
    facing = FacingWatch()
    assert not facing.update(0.0, None)
    assert not facing.update(0.1, True)
    assert facing.update(1.1, True)
    assert not facing.update(1.2, False), "turned round: left would be right"
    assert not facing.update(1.3, True)
    assert facing.update(2.4, True)
    assert not facing.update(2.5, None)
