"""Whatever is told at one moment agrees: all that can be reached, in both languages.

The facts that guidance is made of are multiplied out; each message is then held against rules about
what stands together. Which way somebody moves in their own frame is worked out here anew.
"""

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest

from assist.base.trouble import Trouble
from assist.base.words import Words
from assist.distance import TrackedDistance
from assist.feed import Frame, Silence
from assist.guidance.advice import CutOff, Exchanged, OutOfZone, Sideways, TurnToCamera
from assist.guidance.assistant import Moment
from assist.guidance.countdown import CountdownState
from assist.guidance.guide import (
    Action,
    Caution,
    Guide,
    Reason,
    Unmeasured,
    Way,
    Why,
    withdrawn,
)
from assist.guidance.narrator import Narrator
from assist.guidance.picture_news import PictureNews
from assist.guidance.troubles_shown import NO_TROUBLES, TroublesNow
from assist.guidance.verdict import Assessment, Judge, Verdict
from assist.output.phone.page_message import page_message
from assist.output.screen.plan_view import PlanView
from assist.output.screen.screen import GuidanceScreen
from assist.output.sound.cues import KINDS, CueMaker
from assist.pose.person_state import PersonState
from assist.setup.body import Posture
from optics.focus_zone import FocusZone

ZONES = {"deep": FocusZone(3.5, 4.1, 4.9), "narrow": FocusZone(3.95, 4.0, 4.06)}
PLACES_M = (2.0, 3.4, 3.52, 3.97, 4.1, 4.85, 5.2, 8.0)
SPEEDS_M_S = (-1.2, 0.0, 1.2)
SDS_M = (0.005, 0.5)
MOVES = (Sideways(0.8, False), Sideways(-0.8, True))
STAYS = (TurnToCamera(), OutOfZone("hand", 0.3, True), Exchanged(False))
TIMERS = (
    None,
    CountdownState(8.0, 8, False),
    CountdownState(2.0, 2, False, warning=True),
    CountdownState(0.0, 0, True),
    CountdownState(0.0, 0, True, unheard=True),
    CountdownState(0.0, 0, True, trouble=True),
    CountdownState(5.0, 5, False, paused=True, unheard=True),
    CountdownState(9.0, 9, False, holding=True),
)
PICTURE = np.zeros((72, 128, 3), np.uint8)
RNG = np.random.default_rng(7)

# What must not stand together, as words.
IN_FOCUS = {
    "en": r"\bin focus|in the sharp zone",
    "de": r"(?<!nicht )(?<!noch )\bscharf\b(?! (ab|bis))|im Fokus",
}
MOVING = {
    "en": r"\b(step|move) (forward|back)|to your (left|right)|towards the camera|from the camera|"
    r"^Forward|\bBack,|go round",
    "de": r"nach (vorn|hinten|links|rechts)|\bzurück\b|auf die Kamera zu|von der Kamera weg|herum",
}
FORWARD = {"en": r"(?i)\bforward\b", "de": r"\bvor\b|nach vorn"}
BACK = {"en": r"(?i)\bback\b", "de": r"\bzurück\b"}
BEHIND = {"en": "Look behind you", "de": "(?i)hinte[rn]"}


def guidances(zone):
    """Guidance, its assessment, and how the person faces: all that a run can come to."""
    judge = Judge(zone)
    people = [
        PersonState(posture=posture, faces_camera=faces, facing_known=True)
        for posture in (Posture.STANDING, Posture.SEATED, Posture.NOT_SURE)
        for faces in (True, False)
    ]
    for place_m, speed, sd_m, person, forward_only in itertools.product(
        PLACES_M, SPEEDS_M_S, SDS_M, people, (False, True)
    ):
        guide = Guide(zone, step_m=0.7, forward_only=forward_only)
        assessment = judge.judge(TrackedDistance(0.0, place_m, sd_m, speed, 0.1))
        right = guide.action(assessment)
        words = {right, Action.NOT_SURE, Action.STOP}
        if right is Action.HOLD:
            words.add(Action.REFRAME)
        # A word stays on show for a while after it was right; "hold" does not, nor what sends
        # somebody the wrong way.
        moves = {Action.FORWARD, Action.AGAIN if forward_only else Action.BACK}
        words |= moves - guide.wrong_way(assessment)
        for word in words:
            for advice in advices(word, person):
                yield guide.guide(assessment, person, word, advice), assessment, person
        for reason in (Reason.WHO, Reason.SMALL_BODY, Reason.MAYBE_SMALL, Reason.ZOOMED,
                       Reason.NETWORK, Reason.STATURE_UNSEEN):  # fmt: skip
            told = guide.guide(assessment.doubted, person, Action.NOT_SURE, (), Why(reason))
            yield told, assessment.doubted, person
    guide, nothing = Guide(zone), Assessment(Verdict.NOT_SURE)
    for state in Unmeasured:
        yield guide.unmeasured(state), nothing, people[0]
    for reason in (Reason.SQUEEZED, Reason.STATURE):
        yield guide.disbelieved(Why(reason)), nothing, people[0]
    for silence in Silence:
        yield withdrawn(silence, 1.2), judge.judge(None), people[0]
    yield guide.guide(judge.judge(None)), judge.judge(None), people[0]


def advices(word, person):
    """The advice that comes with a word, as the assistant puts it together."""
    if word is Action.REFRAME:
        return [(move,) for move in (*MOVES, CutOff(("head",)))]
    turn = () if person.faces_camera else (TurnToCamera(),)
    stays = [(), *((one, *turn) for one in STAYS if not isinstance(one, TurnToCamera))]
    if word in (Action.HOLD, Action.STOP):
        return stays
    return [*stays, *((move, *turn) for move in MOVES), (CutOff(("feet",)), *turn)]


def messages(zone, language):
    """Every guidance with one of the timers, troubles and news in turn: each with each of them."""
    narrator = Narrator(zone, Words(language), "hand")
    troubles = (NO_TROUBLES, TroublesNow((Trouble.DISK_FULL,), (Trouble.NO_SOUND,)))
    news = (None, PictureNews(3, "sharp"), PictureNews(3, "soft", 0.2))
    beside = itertools.cycle(itertools.product(TIMERS, troubles, news))
    for guidance, assessment, person in guidances(zone):
        timer, trouble, picture = next(beside)
        if timer is not None and timer.warning and assessment.verdict is Verdict.IN_FOCUS:
            timer = replace(timer, warning=False)
        moment = Moment(Frame(PICTURE, 0.0, 0), None, None, assessment, guidance, None,
                        person=person)  # fmt: skip
        yield narrator.tell(moment, timer, trouble, picture=picture), guidance, person


def backwards(guidance, person):
    """Whether the person is sent backwards in their own frame."""
    to_go_m = guidance.to_go_m
    if to_go_m is None or guidance.action is Action.AGAIN or guidance.way is Way.ROUND:
        return False
    return (to_go_m < 0) is person.faces_camera


def matches(pattern, *texts):
    return any(re.search(pattern, text) for text in texts)


def broken_rules(message, guidance, person, language):
    """The rules that a message breaks; the test below shows that each can be broken."""
    order = (message.sentence, message.spoken, message.length)
    further = (*message.also, message.advice_spoken)
    action, broken = guidance.action, []
    if action in (Action.NOT_SURE, Action.NO_ONE, Action.NO_FEED) and matches(
        IN_FOCUS[language], *order, message.why
    ):
        broken.append("in focus without being sure")
    stays = action in (Action.HOLD, Action.STOP)
    if stays and matches(MOVING[language], *order, *further):
        broken.append("sent away while they are to stay")
    if stays and guidance.to_go_m is not None:
        broken.append("a way to go while they are to stay")
    if backwards(guidance, person) is not (guidance.caution is Caution.MOVING_BACK):
        broken.append("the caution does not go by the way they move")
    if backwards(guidance, person) and not (
        message.caution and matches(BEHIND[language], message.spoken)
    ):
        broken.append("sent backwards without a word of it")
    if matches(FORWARD[language], *order) and matches(BACK[language], *order):
        broken.append("two directions at once")
    silent = action in (Action.NO_FEED, Action.NO_ONE)
    if silent and (message.length or message.caution or guidance.advice):
        broken.append("something is told of somebody of whom nothing is known")
    if action is Action.HOLD and message.warning and message.countdown.warning:
        broken.append("hold, and not in focus yet")
    return broken


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("zone", ZONES.values(), ids=ZONES)
def test_nothing_that_is_told_at_once_is_contrary(zone, language):
    count, seen = 0, set()
    for message, guidance, person in messages(zone, language):
        assert broken_rules(message, guidance, person, language) == [], (guidance, message)
        count += 1
        seen.add(guidance.action)
    assert count > 4000
    assert seen == set(Action)


def test_all_who_tell_tell_the_same():
    """Screen, phone and sound have the word of the message, and the screen all its cautions."""
    zone = ZONES["deep"]
    cues, view, screen = CueMaker(zone), PlanView(zone), GuidanceScreen(zone)
    told = list(messages(zone, "en"))
    for index in RNG.choice(len(told), 400, replace=False):
        message, guidance, _ = told[index]
        page = page_message(message, cues, view)
        assert (page["word"], page["sign"]) == (message.big_word, guidance.action.value)
        assert message.caution in page["caution"]
        assert (page["cue"] is None) is (KINDS[guidance.action] is None)
        lines = screen.told(message)
        if message.caution and not message.troubles:
            assert lines[0] == message.caution.upper()


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"why": "eyes at 4.00 m, in focus"}, "in focus without being sure"),
        ({"caution": "", "spoken": "Back, 1 metre."}, "sent backwards without a word of it"),
        ({"sentence": "step forward 1 m", "spoken": "Go back."}, "two directions at once"),
    ],
)
def test_the_rules_can_be_broken(change, rule):
    guide, person = Guide(ZONES["deep"]), PersonState(faces_camera=True, facing_known=True)
    assessment = Judge(ZONES["deep"]).judge(TrackedDistance(0.0, 3.4, 0.5, 0.0, 0.1))
    guidance = guide.guide(assessment, person, Action.NOT_SURE)
    moment = Moment(Frame(PICTURE, 0.0, 0), None, None, assessment, guidance, None)
    message = replace(Narrator(ZONES["deep"]).tell(moment), **change)
    assert rule in broken_rules(message, guidance, person, "en")


def test_a_stay_with_a_way_to_go_breaks_a_rule():
    guide, person = Guide(ZONES["deep"]), PersonState(faces_camera=True, facing_known=True)
    assessment = Judge(ZONES["deep"]).judge(TrackedDistance(0.0, 4.1, 0.02, 0.0, 0.1))
    guidance = guide.guide(assessment, person, Action.HOLD, (MOVES[0],))
    moment = Moment(Frame(PICTURE, 0.0, 0), None, None, assessment, guidance, None)
    message = Narrator(ZONES["deep"]).tell(moment)
    assert broken_rules(message, guidance, person, "en") == ["sent away while they are to stay"]
