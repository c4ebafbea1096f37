import ast
import re
from pathlib import Path
from string import Formatter

import pytest

import assist
from assist.base.errors import UserError
from assist.base.phrases import Phrases, _table, language_of_locale, languages
from assist.guidance.guide import Action

ENGLISH = _table("en")


def placeholders(phrase):
    return {name for _, name, _, _ in Formatter().parse(phrase) if name}


def test_english_and_german_are_there():
    assert {"en", "de"} <= set(languages())


@pytest.mark.parametrize("language", languages())
def test_every_language_has_every_phrase_with_the_same_placeholders(language):
    table = _table(language)
    assert table.keys() == ENGLISH.keys()
    for key, phrase in ENGLISH.items():
        if isinstance(phrase, str):
            assert placeholders(table[key]) == placeholders(phrase), key
            assert table[key].strip(), key
        else:
            assert len(table[key]) == len(phrase), key


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("action", Action)
def test_every_action_has_a_big_word(language, action):
    word = Phrases.load(language).text(f"action.{action.value}")
    assert word == word.upper()
    assert len(word) <= 8


def test_every_key_written_in_the_code_is_in_the_table():
    """Read from the syntax tree: `….text("a.b")` with the key written out."""
    keys = set()
    for file in Path(assist.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and getattr(node.func, "attr", "") == "text"
                and node.args
                and isinstance(node.args[0], ast.Constant)
                and re.fullmatch(r"[a-z_]+\.[a-z_]+", str(node.args[0].value))
            ):
                keys.add(node.args[0].value)
    assert len(keys) > 10
    assert keys <= ENGLISH.keys()


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
    assert Phrases.load(language).spoken_length(metres) == said


@pytest.mark.parametrize(
    ("feet", "said"),
    [(0.4, "half a foot"), (1, "one foot"), (1.5, "one and a half feet"), (3.2, "three feet"),
     (7.6, "seven and a half feet")],
)  # fmt: skip
def test_lengths_in_feet(feet, said):
    assert Phrases.load("en", "feet").spoken_length(feet * 0.3048) == said


def test_what_is_said_is_never_more_than_a_quarter_metre_off():
    words = {"half a metre": 0.5, "one metre": 1.0, "one and a half metres": 1.5,
             "two metres": 2.0, "two and a half metres": 2.5, "three metres": 3.0}  # fmt: skip
    english = Phrases.load()
    for hundredth in range(8, 320):
        said = english.spoken_length(hundredth / 100)
        metres = words.get(said) or int(said.split()[0]) / 100
        assert abs(metres - hundredth / 100) <= (0.251 if hundredth >= 95 else 0.051), said


def test_figures_for_the_eye():
    assert Phrases.load("en").length(0.44) == "0.4 m"
    assert Phrases.load("de").length(1.257, 2) == "1,26 m"
    assert Phrases.load("en", "feet").length(3.048, 2) == "10.0 ft"
    assert Phrases.load("de").number(float("inf")) == "∞"


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


def test_a_language_without_a_table_is_the_users_mistake():
    with pytest.raises(UserError, match="'xx': use de or en"):
        Phrases.load("xx")


def test_a_phrase_that_is_not_there_is_a_mistake_of_ours():
    with pytest.raises(KeyError):
        Phrases.load().text("action.fly")


def test_for_the_ear_lengths_are_words_and_advice_has_its_spoken_form():
    aloud = Phrases.load().aloud
    said = aloud.text("advice.move_left", length=aloud.length(0.52, 2))
    assert said == "half a metre to your left."
    assert aloud.text("action.hold") == "HOLD"


@pytest.mark.parametrize("language", languages())
def test_advice_in_use_has_a_spoken_form(language):
    table = _table(language)
    for key in ("move_left", "move_right", "turn_to_camera", "part_too_near", "part_too_far"):
        assert placeholders(table[f"spoken.{key}"]) == placeholders(table[f"advice.{key}"])
