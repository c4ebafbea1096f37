"""Several people together: one word for all, who has to move, and hold only if all may."""

from pathlib import Path

import numpy as np
import pytest

from assist.base.words import Words, languages
from assist.feed import Frame, Silence
from assist.guidance.countdown import TimerOptions
from assist.guidance.group import Spokesman
from assist.guidance.group_narrator import GroupNarrator, group_place
from assist.guidance.guide import Action, Reason
from assist.guidance.together import TogetherAssistant
from assist.guidance.verdict import Verdict
from assist.output.phone.page_message import page_message
from assist.output.screen.plan_view import PlanView
from assist.output.screen.screen import GuidanceScreen, ScreenOptions
from assist.output.sound.cues import CueMaker
from assist.output.speech.talk import Talk
from assist.pose import Glance, PoseDetector, Someone
from assist.run.live import LiveOptions, LiveRun
from assist.session.folder import Attempt, Session, read_record
from assist.session.rehearsal import score
from assist.session.told import attempts_csv, lines_of
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import SetUp, from_values, load, to_toml
from tests.assist.footage import SIZE_PX, BlankSource
from tests.assist.synthetic import EYES_BEFORE_HIPS_M, standing_pose
from tests.assist.test_cli import run as cli_run

RATE_HZ = 30.0
MARK_M = 4.0 + EYES_BEFORE_HIPS_M
"""Hips of somebody whose eyes are on the mark."""


def set_up_for(people=2, statures_m=None, **more):
    together = {"people": people}
    if statures_m is not None:
        together["statures_m"] = statures_m
    return from_values(
        {
            "lens": {"focal_length_mm": 35, "f_number": 2.8, "focus_distance_m": 4.0},
            "feed": {"through": "own-lens", "horizontal_field_of_view_deg": 60},
            "together": together,
            **more,
        }
    )


SET_UP = set_up_for(statures_m=[1.69, 1.69])


class Placed(PoseDetector):
    """Sees people at `places(time_s)`: (across, hips' depth) each, and their statures."""

    def __init__(self, places, set_up=SET_UP, statures_m=(1.69,) * 6):
        self._places, self._statures_m = places, statures_m
        self._camera = FeedGeometry.of(set_up).camera(*SIZE_PX)

    def detect(self, picture, time_s):
        return [
            standing_pose(self._camera, z, across_m=x, stature_m=stature_m)
            for (x, z), stature_m in zip(self._places(time_s), self._statures_m, strict=False)
        ]

    def close(self):
        pass


def moments(places, set_up=SET_UP, seconds=2.0, statures_m=(1.69,) * 6):
    """`places`: as of `Placed`, or one list of them for all time."""
    of_time = places if callable(places) else lambda _: places
    assistant = TogetherAssistant(set_up, Placed(of_time, set_up, statures_m))
    picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
    return [assistant.see(Frame(picture, k / RATE_HZ, k)) for k in range(round(seconds * RATE_HZ))]


def told(moment, language="en", set_up=SET_UP):
    return GroupNarrator(set_up.focus_zone, Words(language)).tell(moment)


def test_hold_only_if_all_are_in_focus():
    both = moments([(-0.6, MARK_M), (0.6, MARK_M)])[-1]
    assert both.guidance.action is Action.HOLD
    assert both.assessment.verdict is Verdict.IN_FOCUS
    assert both.readiness.ready
    for places in ([(-0.6, MARK_M), (0.6, 6.5)], [(-0.6, 2.2), (0.6, MARK_M)]):
        one = moments(places)[-1]
        assert one.guidance.action in (Action.FORWARD, Action.BACK)
        assert one.assessment.verdict is not Verdict.IN_FOCUS
        assert not one.readiness.ready


def test_the_probability_of_all_is_never_above_that_of_one():
    last = moments([(-0.6, MARK_M), (0.6, MARK_M + 0.5)])[-1]
    each = [member.assessment.p_in_focus for member in last.group.members]
    assessed = last.assessment
    assert assessed.p_in_focus == pytest.approx(each[0] * each[1])
    total = assessed.p_in_focus + assessed.p_too_near + assessed.p_too_far
    assert total == pytest.approx(1.0)


def test_whoever_has_most_to_do_is_told_and_named():
    # What is on the right of the picture is on the left of a mirrored screen.
    said = told(moments([(-0.6, 6.0), (0.6, 6.8)])[-1])
    assert said.action is Action.FORWARD
    assert said.who == "left"
    assert said.sentence.startswith("left: step forward 2.")
    assert said.length.startswith("left 2.")
    assert said.also[0].startswith("right: step forward ")
    assert said.spoken.startswith("Left: Forward, ")


def test_the_next_is_told_once_the_first_is_there():
    def places(time_s):
        return [(-0.6, 6.0), (0.6, max(MARK_M, 6.8 - max(0.0, time_s - 1.0)))]

    names = [told(m).who for m in moments(places, seconds=6.0)]
    assert names[29] == "left"
    assert names[-1] == "right"


def test_whoever_walks_into_the_zone_is_stopped_though_the_other_has_farther_to_go():
    def places(time_s):
        return [(-0.6, 7.5), (0.6, max(MARK_M, 6.4 - max(0.0, time_s - 0.8)))]

    said = [told(m) for m in moments(places, seconds=4.5)]
    stops = [s for s in said if s.action is Action.STOP]
    assert stops
    assert {s.who for s in stops} == {"left"}
    assert said[-1].who == "right"


def test_one_missing_is_told_and_never_hold():
    def places(time_s):
        here = [(-0.6, MARK_M), (0.6, MARK_M)]
        return here if time_s < 2.0 else here[:1]

    found = moments(places, seconds=4.0)
    assert found[58].guidance.action is Action.HOLD
    last = found[-1]
    assert last.guidance.action is Action.NOT_SURE
    assert last.guidance.why.reason is Reason.MISSING
    said = told(last)
    assert (said.length, said.why) == ("1 of 2", "only 1 of 2 seen")
    assert said.spoken == "Not sure. Only 1 of 2 in view."
    assert not last.readiness.ready
    gone = next(k for k, m in enumerate(found) if k > 60 and m.guidance.action is not Action.HOLD)
    assert found[gone].frame.time_s < 2.0 + 0.6


def test_nobody_in_view_is_no_one():
    last = moments([])[-1]
    assert last.guidance.action is Action.NO_ONE
    assert told(last).big_word == "NO ONE"
    assert not last.readiness.in_focus


def test_never_hold_before_it_is_sure_who_is_who():
    crowded = moments([(-0.1, MARK_M), (0.1, MARK_M)], seconds=3.0)
    assert {m.guidance.action for m in crowded} <= {Action.NOT_SURE, Action.NO_ONE}
    said = told(crowded[-1])
    assert (said.sentence, said.why) == ("stand apart for a moment", "not sure who is who")
    assert said.also == ()


def test_each_is_measured_by_their_own_stature_from_left_to_right_on_the_screen():
    set_up = set_up_for(statures_m=[1.85, 1.50])
    places = [(-0.6, 4.2), (0.6, 4.2)]  # left in the picture is right on the screen
    right = moments(places, set_up, statures_m=(1.50, 1.85))[-1]
    wrong = moments(places, set_up, statures_m=(1.85, 1.50))[-1]
    eyes = [[m.assessment.distance.eyes_m for m in last.group.members] for last in (right, wrong)]
    assert eyes[0] == pytest.approx([4.2 - EYES_BEFORE_HIPS_M] * 2, rel=0.03)
    assert abs(eyes[1][0] / eyes[1][1] - 1) > 0.2
    assert [m.stature_m for m in right.group.members] == [1.85, 1.50]


def test_people_may_stand_beside_the_middle_but_not_at_the_edge():
    through = set_up_for(statures_m=[1.69, 1.69], feed={})
    assert moments([(-1.0, MARK_M), (1.0, MARK_M)], through)[-1].guidance.action is Action.HOLD
    at_the_edge = moments([(-1.75, MARK_M), (0.0, MARK_M)], through)[-1]
    assert at_the_edge.guidance.action is Action.REFRAME
    assert not at_the_edge.readiness.framed
    assert told(at_the_edge).sentence.startswith("right: 0.")


def test_no_news_withdraws_the_word_of_all():
    detector = Placed(lambda _: [(-0.6, MARK_M), (0.6, MARK_M)])
    assistant = TogetherAssistant(SET_UP, detector)
    assert assistant.nothing_yet(0.0).guidance.action is Action.NO_FEED
    picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
    for k in range(40):
        last = assistant.see(Frame(picture, k / RATE_HZ, k))
    assert last.guidance.action is Action.HOLD
    blind = assistant.think(Frame(picture, 2.0, 60), None)
    assert (blind.guidance.action, blind.guidance.silence) == (Action.NO_FEED, Silence.UNSEEN)
    gone = assistant.withdraw(last, 2.5)
    assert gone.guidance.action is Action.NO_FEED
    assert not gone.readiness.in_focus


def test_what_is_doubted_from_outside_is_doubted_of_each():
    assistant = TogetherAssistant(SET_UP, Placed(lambda _: [(-0.6, MARK_M), (0.6, MARK_M)]))
    assistant.focal_doubted = True
    picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
    for k in range(60):
        last = assistant.see(Frame(picture, k / RATE_HZ, k))
    assert last.guidance.action is Action.NOT_SURE
    assert last.guidance.why.reason is Reason.ZOOMED


def test_the_one_who_is_told_does_not_change_with_every_picture():
    first = moments([(-0.6, 6.0), (0.6, 6.1)])[-1].group.members
    second = moments([(-0.6, 6.1), (0.6, 6.0)])[-1].group.members
    spokesman = Spokesman()
    chosen = [spokesman.choose((first, second)[k % 2], k / RATE_HZ).number for k in range(90)]
    assert set(chosen) == {0}


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("people", range(2, 7))
def test_everybody_has_a_name_of_their_own(language, people):
    names = [group_place(place, people, Words(language)) for place in range(1, people + 1)]
    assert len(set(names)) == people


def test_another_person_is_spoken_to_though_the_order_is_the_same():
    def places(time_s):
        return [(-0.6, 6.4), (0.6, 7.0 if time_s < 1.5 else MARK_M)]

    talk, said = Talk(), []
    for moment in moments(places, seconds=4.0):
        if utterance := talk.next(moment.frame.time_s, told(moment), False):
            said.append(utterance.text)
    assert any(text.startswith("Left: Forward") for text in said)
    assert any(text.startswith("Right: Forward") for text in said)


def run(places, set_up=SET_UP, seconds=4.0, timer=None, session=None, raised=()):
    class Waving(Placed):
        def detect(self, picture, time_s):
            poses = super().detect(picture, time_s)
            for k in raised:
                if 1.0 <= time_s < 2.3:
                    pose = poses[k]
                    pose.image_px[13, 1] = pose.image_px[11, 1] - 40
                    pose.image_px[15, 1] = pose.image_px[11, 1] - 110
            return poses

    of_time = places if callable(places) else lambda _: places
    options = LiveOptions(
        window=False, timer=timer or TimerOptions(None, ready_for_s=1.0, limit_s=3.0),
        timer_at_once=not raised,
    )  # fmt: skip
    live = LiveRun(set_up, BlankSource(seconds), Waving(of_time, set_up), options, session=session)
    return live.run()


def test_when_ready_waits_for_all():
    there = [(-0.6, MARK_M), (0.6, MARK_M)]
    assert len(run(there).attempts) == 1
    assert not run([there[0], (0.6, 6.0)]).attempts
    assert not run(there[:1]).attempts


@pytest.mark.parametrize("raised", [(0,), (1,), (0, 1)])
def test_anybody_may_start_the_timer_and_two_at_once_do_it_once(raised):
    outcome = run(
        [(-0.6, MARK_M), (0.6, MARK_M)], timer=TimerOptions(1.0), raised=raised, seconds=5.0
    )
    assert len(outcome.attempts) == 1


def test_the_record_keeps_each_of_them(tmp_path):
    set_up = set_up_for(statures_m=[1.69, 1.70])
    with Session(tmp_path / "s", set_up) as session:
        run([(-0.6, MARK_M), (0.6, 6.0)], set_up, timer=TimerOptions(2.0), session=session)
    [attempt] = read_record(tmp_path / "s")
    left, right = attempt.people
    assert (left.place, left.stature_m, left.verdict) == (1, 1.69, "too far")
    assert (right.place, right.verdict) == (2, "in focus")
    assert left.distance_m == pytest.approx(6.0 - EYES_BEFORE_HIPS_M, abs=0.3)
    assert attempt.verdict == "too far"
    assert attempt.guidance.startswith("left: step forward")
    assert "person 1 too far at 5." in lines_of([attempt])[0]
    header, row = attempts_csv([attempt]).decode("utf-8-sig").splitlines()
    assert "person_2.verdict" in header
    assert "in focus" in row


def test_a_record_without_people_is_read():
    line = {
        "attempt": 1, "taken_at": "2024-05-01T10:00:00+00:00", "feed": "0", "feed_time_s": 1.0,
        "verdict": "in focus", "distance_m": 4.0, "standard_deviation_m": 0.1, "p_in_focus": 0.9,
        "to_mark_m": 0.0, "guidance": "hold still", "framing": None, "trigger": "frame",
        "picture": None, "set_up": {},
    }  # fmt: skip
    assert Attempt.model_validate(line).people == ()


def test_a_rehearsal_is_reached_when_the_last_is_there():
    def places(time_s):
        return [(-0.6, MARK_M), (0.6, max(MARK_M, 7.0 - max(0.0, time_s - 0.5)))]

    scored = score(
        moments(places, seconds=8.0), 0.0, 6.0, SET_UP.focus_zone, 1, "2024-05-01T10:00:00+00:00"
    )
    assert scored.in_focus
    assert scored.reached_s > 2.0
    assert [one.verdict for one in scored.people] == ["in focus", "in focus"]


def test_the_second_screen_is_told_where_each_of_them_is():
    last = moments([(-0.6, MARK_M), (0.6, 6.0)])[-1]
    view, cues = PlanView(SET_UP.focus_zone), CueMaker(SET_UP.focus_zone)
    values = page_message(told(last), cues, view)
    assert values["word"] == "FORWARD"
    assert values["length"].startswith("left ")
    [other] = values["others"]
    assert other < values["place"][1]
    assert other == pytest.approx(view.part(view.best_m), abs=0.02)


@pytest.mark.parametrize("people", [2, 3, 6])
@pytest.mark.parametrize("size_px", [(1280, 720), (720, 1280), (640, 360)])
def test_the_screen_shows_everybody(people, size_px):
    set_up = set_up_for(people)
    across = np.linspace(-1.2, 1.2, people) if people < 6 else np.linspace(-1.9, 1.9, 6)
    last = moments([(x, MARK_M + 0.1 * x) for x in across], set_up)[-1]
    screen = GuidanceScreen(set_up.focus_zone, ScreenOptions(size_px=size_px))
    shown = screen.draw(told(last, set_up=set_up)).copy()
    nobody = screen.draw(told(moments([], set_up, 0.2)[-1], set_up=set_up))
    assert (shown != nobody).any()


# -- the command line ---------------------------------------------------------------------------

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
LENS = ["--lens", "35mm", "--aperture", "f/2", "--focus", "4m"]


@pytest.mark.parametrize("command", ["live", "rehearse"])
@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--together", "1"], "--together"),
        (["--together", "7"], "--together"),
        (["--together", "2", "--statures", "1.70m"], "1 height for 2 people"),
        (["--together", "2", "--statures", "1.7m,1.8m,1.9m"], "3 heights for 2 people"),
        (["--together", "2", "--statures", "1.70m,tall"], "tall"),
        (["--together", "2", "--statures", "1.70m,18m"], "18 m is no height"),
        (["--together", "2", "--statures", ""], "--statures"),
        (["--statures", "1.70m,1.80m"], "--together"),
        (["--together", "2", "--people", "2"], "--people"),
        (["--together", "2", "--follow", "largest"], "--follow"),
        (["--together", "2", "--stature", "1.70m"], "--stature"),
        (["--together", "2", "--profile", "mine.toml"], "--profile"),
    ],
)
def test_what_cannot_be_is_one_line(capsys, monkeypatch, command, options, said):
    code, _, err = cli_run(capsys, monkeypatch, command, SAMPLES / "walk.mp4", *LENS, *options)
    assert code == 2
    assert len(err.strip().splitlines()) == 1
    assert said in err


def test_statures_may_be_written_as_people_write_them():
    for text in ("1.70m,1.82m", "1,70m; 1,82m", "170cm, 182 cm", "1,70;1,82"):
        set_up = set_up_for(statures_m=text)
        assert set_up.together.statures_m == (1.70, 1.82)
    assert set_up_for(statures_m="5'7\", 6 ft").together.statures_m == pytest.approx(
        (1.702, 1.829), abs=1e-3
    )


def test_a_set_up_file_keeps_who_stands_together(tmp_path):
    file = tmp_path / "set-up.toml"
    file.write_text(to_toml(SET_UP))
    assert load(file).together == SET_UP.together
    assert SetUp.model_validate(SET_UP.model_dump()).together == SET_UP.together


def test_the_report_shows_each_of_them(capsys, monkeypatch, tmp_path):
    set_up = set_up_for(statures_m=[1.69, 1.69])
    with Session(tmp_path / "s", set_up) as session:
        run([(-0.6, MARK_M), (0.6, 6.0)], set_up, timer=TimerOptions(2.0), session=session)
    assert cli_run(capsys, monkeypatch, "report", tmp_path / "s")[0] == 0
    page = (tmp_path / "s" / "report.html").read_text(encoding="utf-8")
    assert page.index("person 1") < page.index("person 2")


def test_the_faces_of_all_are_looked_for_in_turn():
    class Attentive(Placed):
        places_px = ()

        def attend(self, pose):
            self.places_px = (*self.places_px, round(float(pose.image_px[0, 0]), -1))

    detector = Attentive(lambda _: [(-0.6, MARK_M), (0.6, MARK_M)])
    assistant = TogetherAssistant(SET_UP, detector)
    picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
    for k in range(60):
        assistant.see(Frame(picture, k / RATE_HZ, k))
    shares = [detector.places_px.count(place) for place in set(detector.places_px)]
    assert len(shares) == 2
    assert min(shares) >= 20


def test_somebody_else_in_view_is_told_once_all_are_seen():
    there = [(-0.6, MARK_M), (0.6, MARK_M)]
    detector = Placed(lambda _: there)
    stranger = Placed(lambda _: [(1.5, 6.0)]).detect(None, 0.0)[0]
    assistant = TogetherAssistant(SET_UP, detector)
    picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
    for k in range(60):
        glance = Glance(k / RATE_HZ, (Someone(stranger, None),))
        last = assistant.think(
            Frame(picture, k / RATE_HZ, k), detector.detect(picture, k / RATE_HZ), glance
        )
    assert last.guidance.action is Action.HOLD
    assert "someone else is in view" in told(last).also


def test_the_key_for_the_next_numbers_them_anew():
    assistant = TogetherAssistant(SET_UP, Placed(lambda _: [(-0.6, MARK_M), (0.6, MARK_M)]))
    picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
    for k in range(40):
        last = assistant.see(Frame(picture, k / RATE_HZ, k))
    assert last.group.sure
    assistant.choose_next()
    assert not assistant.see(Frame(picture, 40 / RATE_HZ, 40)).group.sure
