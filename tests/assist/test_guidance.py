import pytest

from assist.distance import TrackedDistance
from assist.guidance import Action, Guide
from assist.phrases import Phrases, languages
from assist.verdict import Assessment, Judge
from optics.lens import DepthOfField

ZONE = DepthOfField(3.5, 4.7, 0.5, 0.7)
GUIDE = Guide(ZONE, 4.0, 0.05)
CAUTION = Phrases.load().text("caution.stepping_back")


def guidance(z, sd=0.1, **facing):
    return GUIDE.guide(Judge(ZONE).judge(TrackedDistance(0.0, z, sd, 0.0, 0.0)), **facing)


def test_too_far_steps_forward_by_what_is_missing_to_the_sharpest_place():
    said = guidance(5.5)
    assert said.action is Action.FORWARD
    assert said.to_mark_m == pytest.approx(1.5)
    assert said.sentence == "step forward 1.5 m"
    assert said.caution == ""


def test_too_near_steps_back_and_is_warned():
    said = guidance(2.5)
    assert said.action is Action.BACK
    assert said.sentence == "step back 1.5 m"
    assert said.caution == CAUTION


def test_distances_are_told_from_the_sensor_plane():
    assert "eyes at 4.05 m" in guidance(4.0).why


def test_with_the_back_turned_forward_would_be_the_wrong_word():
    assert guidance(2.5, faces_camera=False).sentence == "1.5 m further from the camera"
    assert guidance(5.5, faces_camera=False).sentence == "1.5 m towards the camera"


def test_not_sure_still_helps_and_warns():
    said = guidance(3.5)
    assert said.action is Action.NOT_SURE
    assert "step back 0.5 m" in said.sentence
    assert said.caution == CAUTION


def test_every_order_to_go_back_carries_the_warning():
    for z in (1.0, 2.0, 3.0, 3.4, 3.5, 3.6, 3.9, 4.1, 4.7, 5.0):
        said = guidance(z)
        if "back" in said.sentence:
            assert said.caution == CAUTION


def test_no_one():
    said = GUIDE.guide(Assessment(Judge(ZONE).judge(None).verdict))
    assert said.action is Action.NO_ONE
    assert said.to_mark_m is None


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("facing", [True, False])
def test_no_one_is_sent_backwards_without_the_warning_aloud_in_any_language(language, facing):
    say = Phrases.load(language)
    guide = Guide(ZONE, 4.0, 0.05, say)
    beware = {
        say.text(f"spoken.{key}", length="").split(".")[0] for key in ("back", "away")
    }  # their first sentence is the warning
    for z in (1.0, 2.0, 3.0, 3.4, 3.6, 3.9, 4.1, 4.7, 5.5):
        said = guide.guide(Judge(ZONE).judge(TrackedDistance(0.0, z, 0.3, 0.0, 0.0)), facing)
        sent_back = z < 4.0 and said.action is not Action.HOLD
        assert any(warning in said.spoken for warning in beware) is sent_back, said.spoken


def test_german_words_and_commas():
    guide = Guide(ZONE, 4.0, 0.05, Phrases.load("de"))
    said = guide.guide(Judge(ZONE).judge(TrackedDistance(0.0, 2.5, 0.1, 0.0, 0.0)))
    assert said.sentence == "1,5 m zurück"
    assert said.why == "Augen bei 2,55 m, scharf ab 3,55 m"
    assert said.spoken == "Nach hinten schauen. Zurück, eineinhalb Meter."
