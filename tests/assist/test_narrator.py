"""The narrator: every code has words in every language, and lengths are said as people say them."""

import pytest

from assist.base.errors import UserError
from assist.base.words import Words, language_of_locale, languages
from assist.feed import Silence
from assist.guidance import wording
from assist.guidance.advice import _LOWEST, _PARTS, CutOff, OutOfZone, Sideways, TurnToCamera
from assist.guidance.camera_hints import CameraHint, Hint
from assist.guidance.countdown import CountdownState, Turn
from assist.guidance.guide import Action, Caution, Guidance, Reason, Unmeasured, Way, Why, withdrawn
from tests.assist.telling import guidance_of, message_of


@pytest.mark.parametrize("language", languages())
def test_every_action_has_a_big_word(language):
    words = wording.big_words(Words(language))
    assert set(words) == set(Action)
    for word in words.values():
        assert word == word.upper()
        assert len(word) <= 8


@pytest.mark.parametrize("language", languages())
def test_every_code_has_words(language):
    say = Words(language)
    assert set(wording.cautions(say)) == set(Caution)
    assert {way for way, _ in wording.moves(say)} == set(Way)
    assert set(wording.moves_aloud(say)) == set(wording.doubtful_moves_aloud(say)) == set(Way)
    assert set(wording.to_be_measured(say)) == set(Unmeasured)
    assert set(wording.turns_aloud(say)) == set(Turn)
    for hint in Hint:
        assert wording.camera_hint(CameraHint(hint, 1.0), say)
    cut = {"head", "hand", "feet", *(lowest for lowest, _ in _LOWEST.values())}
    assert set(wording.body_parts(say)) == cut | set(_PARTS)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("action", Action)
@pytest.mark.parametrize("reason", Reason)
def test_every_guidance_has_words_for_eye_and_ear(language, action, reason):
    why = Why(reason, 4.0, 3.5, 0.1, 90)
    if reason in (Reason.WHO, Reason.NO_ONE, Reason.ON_ITS_SIDE, Reason.ZOOMED):
        why = Why(reason, rotate_deg=90)
    said = message_of(Guidance(action, 1.0, why, silence=Silence.LATE), language=language)
    assert said.sentence
    assert said.why
    assert said.spoken.endswith(".")


def test_each_reason_of_doubt_is_told_as_itself():
    whys = {message_of(Guidance(Action.NOT_SURE, 1.0, Why(reason))).why for reason in Reason}
    assert len(whys) >= 6


def test_advice_comes_after_what_to_do_unless_it_is_what_to_do():
    advice = (Sideways(0.52, to_own_left=True), CutOff(("hand", "feet")), TurnToCamera())
    said = message_of(guidance_of(Action.HOLD, 0.0, advice=advice))
    assert said.also == (
        "0.5 m to your left", "out of the picture: hand, feet", "turn to the camera"
    )  # fmt: skip
    assert said.advice_spoken == "half a metre to your left."
    said = message_of(guidance_of(Action.REFRAME, 0.0, advice=advice[1:]))
    assert said.sentence == "out of the picture: hand, feet"
    assert said.also == ("turn to the camera",)
    assert said.advice_spoken == "Turn to the camera."
    part = OutOfZone("foot", 0.31, too_near=False)
    said = message_of(guidance_of(Action.HOLD, 0.0, advice=(part,)))
    assert (said.also, said.advice_spoken) == (
        ("foot 0.3 m too far",),
        "foot too far, 30 centimetres.",
    )


def test_that_it_is_not_in_focus_is_not_said_while_nothing_is_known():
    warning = CountdownState(2.0, 2, fired=False, warning=True)
    assert message_of(guidance_of(Action.FORWARD, 1.0, way=Way.FORWARD), countdown=warning).turn
    assert message_of(withdrawn(), countdown=warning).turn is None


@pytest.mark.parametrize(
    ("language", "metres", "said"),
    [
        ("en", 0.03, "a little"),
        ("en", 0.2, "20 centimetres"),
        ("en", -0.5, "half a metre"),
        ("en", 0.94, "90 centimetres"),
        ("en", 0.96, "one metre"),
        ("en", 1.3, "one and a half metres"),
        ("en", 1.8, "two metres"),
        ("en", 2.4, "two and a half metres"),
        ("en", 14.0, "14 metres"),
        ("de", 0.5, "einen halben Meter"),
        ("de", 1.0, "einen Meter"),
        ("de", 1.5, "eineinhalb Meter"),
        ("de", 2.5, "zweieinhalb Meter"),
        ("de", 3.1, "drei Meter"),
    ],
)
def test_lengths_are_said_as_people_say_them(language, metres, said):
    assert Words(language).spoken_length(metres) == said


@pytest.mark.parametrize(
    ("feet", "said"),
    [(0.4, "half a foot"), (1, "one foot"), (1.5, "one and a half feet"), (3.2, "three feet"),
     (7.6, "seven and a half feet")],
)  # fmt: skip
def test_lengths_in_feet(feet, said):
    assert Words("en", "feet").spoken_length(feet * 0.3048) == said


def test_what_is_said_is_never_more_than_a_quarter_metre_off():
    words = {"half a metre": 0.5, "one metre": 1.0, "one and a half metres": 1.5,
             "two metres": 2.0, "two and a half metres": 2.5, "three metres": 3.0}  # fmt: skip
    english = Words()
    for hundredth in range(8, 320):
        said = english.spoken_length(hundredth / 100)
        metres = words.get(said) or int(said.split()[0]) / 100
        assert abs(metres - hundredth / 100) <= (0.251 if hundredth >= 95 else 0.051), said


def test_figures_for_the_eye():
    assert Words("en").length(0.44) == "0.4 m"
    assert Words("de").length(1.257, 2) == "1,26 m"
    assert Words("en", "feet").length(3.048, 2) == "10.0 ft"
    assert Words("de").number(float("inf")) == "∞"


@pytest.mark.parametrize(
    ("environment", "language"),
    [
        ({"LANG": "de_AT.UTF-8"}, "de"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "en_GB.UTF-8"}, "en"),
        ({"LC_MESSAGES": "de"}, "de"),
        ({"LANG": "C.UTF-8"}, "en"),
        ({"LANG": "xx_XX.UTF-8"}, "en"),
    ],
)
def test_language_of_the_locale(environment, language):
    assert language_of_locale(environment) == language


def test_a_language_without_words_is_the_users_mistake():
    with pytest.raises(UserError, match="'xx': use de or en"):
        Words("xx")
