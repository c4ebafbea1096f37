"""Who of several is the person: looks round, saying "that's me", and what the person is told."""

import time

import numpy as np
import pytest

from assist.distance.person_tracker import Companion
from assist.feed import Frame
from assist.feed.reader import FeedReader
from assist.guidance.assistant import Moment
from assist.guidance.guide import Action, Reason, Why, withdrawn
from assist.output.screen.layout import lay_out
from assist.output.screen.screen import GuidanceScreen
from assist.pose import Glance, PoseDetector, Someone
from assist.pose.lookout import ALONE_EVERY_S, IN_COMPANY_EVERY_S, Lookout, covered
from assist.pose.reader import PoseReader
from assist.run.live import LiveOptions, LiveRun
from assist.run.orders import Orders
from tests.assist.footage import RATE_HZ, SET_UP, SIZE_PX, BlankSource, PlacedDetector
from tests.assist.synthetic import standing_pose
from tests.assist.telling import BLACK, NOBODY, ZONE, guidance_of, message_of, narrator

CAMERA = PlacedDetector(lambda _: 4.0)._camera


def person(across_m, *, hand_up=False):
    made = standing_pose(CAMERA, 4.0, across_m=across_m)
    if hand_up:
        made.image_px[13, 1] = made.image_px[11, 1] - 40
        made.image_px[15, 1] = made.image_px[11, 1] - 110
    return made


# -- looking round ---------------------------------------------------------------------------------


class Looks:
    """A search that finds `there`, and notes what it was shown."""

    def __init__(self, *there):
        self.there, self.shown = list(there), []

    def __call__(self, picture):
        self.shown.append(picture)
        return list(self.there)


def glances(search, known, seconds, rate_hz=30.0):
    """What comes of pictures in order: (number of the picture at which it came, glance)."""
    lookout, found = Lookout(search), []
    for k in range(round(seconds * rate_hz)):
        lookout.show(BLACK, k / rate_hz, known)
        glance = lookout.glance(wait=True)
        if glance is not None:
            found.append((k, glance))
    lookout.close()
    return found


def test_it_is_looked_a_few_times_a_second_and_oftener_in_company():
    alone = glances(Looks(), [person(0.0)], 3.0)
    assert len(alone) == pytest.approx(3.0 / ALONE_EVERY_S, abs=1)
    company = glances(Looks(person(1.0)), [person(0.0)], 3.0)
    assert len(company) == pytest.approx(3.0 / IN_COMPANY_EVERY_S, abs=4)
    assert all(len(glance.others) == 1 for _, glance in company)


def test_of_a_file_a_look_always_comes_after_as_many_pictures():
    class Slow(Looks):
        def __call__(self, picture):
            time.sleep(0.05)
            return super().__call__(picture)

    fast, slow = (
        [(k, g.time_s) for k, g in glances(search, [person(0.0)], 1.5)]
        for search in (Looks(person(1.0)), Slow(person(1.0)))
    )
    assert fast == slow


def test_of_a_camera_a_look_is_never_waited_for():
    class Slow(Looks):
        def __call__(self, picture):
            time.sleep(0.3)
            return super().__call__(picture)

    lookout = Lookout(Slow())
    began_s = time.perf_counter()
    lookout.show(BLACK, 0.0, [])
    for k in range(10):
        assert lookout.glance(wait=False) is None
        lookout.show(BLACK, (k + 1) / 30, [])
    assert time.perf_counter() - began_s < 0.2
    lookout.close()
    assert lookout.glance(wait=False) is not None


def test_who_is_known_is_covered_and_not_found_again():
    there = person(0.0)
    search = Looks(person(0.02), person(1.0))
    [(_, glance)] = glances(search, [there], 0.1)
    assert len(glance.others) == 1
    noise = np.random.default_rng(1).integers(0, 256, BLACK.shape, np.uint8)
    x, y = there.image_px[[11, 12, 23, 24]].mean(axis=0).astype(int)
    made = covered(noise, [there])
    assert np.ptp(made[y - 5 : y + 5, x - 5 : x + 5].reshape(-1, 3), axis=0).max() == 0
    assert np.array_equal(made[:, :40], noise[:, :40])


def test_a_search_that_fails_is_no_glance():
    def failing(_):
        raise RuntimeError("the graph has errors")

    assert glances(failing, [person(0.0)], 1.0) == []


# -- "that's me" -----------------------------------------------------------------------------------


class TwoDetector(PoseDetector):
    """The network follows the one on the left; looks round find the other, who raises a hand.

    `search_again` brings it to the other one.
    """

    def __init__(self, hand_up_s):
        self._hand_up_s, self._on_other, self._looked, self.attended = hand_up_s, False, None, []

    def _people(self, time_s):
        begin_s, end_s = self._hand_up_s
        return person(-0.8), person(0.8, hand_up=begin_s <= time_s < end_s)

    def detect(self, picture, time_s):
        people = self._people(time_s)
        if self._looked is None or time_s - self._looked > 0.14:
            self._looked = self._news = time_s
        return [people[self._on_other]]

    def glance(self, *, wait):
        time_s, self._news = self._news, None
        if time_s is None:
            return None
        return Glance(time_s, (Someone(self._people(time_s)[not self._on_other], None),))

    def attend(self, pose):
        self.attended.append(float(pose.image_px[0, 0]))

    def search_again(self, not_these):
        self._on_other = not self._on_other

    def close(self):
        pass


@pytest.mark.parametrize("orders_by", ["hand", None])
def test_a_raised_hand_says_who_is_meant(orders_by):
    moments = []
    detector = TwoDetector((1.5, 3.2))
    run = LiveRun(
        SET_UP,
        BlankSource(6.0),
        detector,
        LiveOptions(window=False, orders_by=orders_by),
        on_moment=moments.append,
    )
    run.run()
    before = [m for m in moments if 0.5 < m.frame.time_s < 2.4]
    assert not any(m.sure_who for m in before)
    assert {m.guidance.why.reason for m in before if m.pose is not None} == {Reason.WHO}
    after = [m for m in moments if m.frame.time_s > 4.0]
    right = [m.sure_who and m.pose is not None and m.pose.image_px[0, 0] > 320 for m in after]
    assert all(right) if orders_by else not any(right)
    assert all(m.guidance.others == 1 for m in after)
    if orders_by:
        assert detector.attended[-1] > 320  # the face is looked for on the head of who is followed


def test_the_phone_goes_from_one_to_the_next():
    moments, ordered = [], []

    def seen(moment):
        moments.append(moment)
        if moment.frame.index == 60:
            ordered.append("who")

    def orders():
        taken = ordered.copy()
        ordered.clear()
        return taken

    options = LiveOptions(window=False, orders_by=None)
    run = LiveRun(
        SET_UP, BlankSource(4.0), TwoDetector((9.0, 9.0)), options, on_moment=seen, orders=orders
    )
    run.run()
    assert not moments[60].sure_who
    after = moments[-1]
    assert after.sure_who
    assert after.pose.image_px[0, 0] > 320


class Who:
    """Notes whom it is told to follow."""

    def __init__(self):
        self.told = []

    def choose(self, number=None):
        self.told.append(number)

    def choose_next(self):
        self.told.append("next")

    def ask_who(self):
        self.told.append("ask")


def watched(moments):
    """What orders make of moments of a run at its rate: (what was told of who, timer started)."""
    who, started = Who(), []

    class Timer:
        running = False

        def start(self, time_s):
            started.append(time_s)

    orders = Orders("hand", Timer(), lambda: started.append("end"), who)
    for k, moment in enumerate(moments):
        orders.watch(moment, k / RATE_HZ, k / RATE_HZ)
    return who.told, started


def moment(pose, others=(), *, sure=True):
    frame = Frame(BLACK, 0.0, 0)
    return Moment(
        frame, pose, None, NOBODY, withdrawn(), None, sure_who=sure,
        others=tuple(Companion(k, other) for k, other in enumerate(others)),
    )  # fmt: skip


def test_in_doubt_the_gesture_says_who_it_is_and_does_not_start_the_timer():
    told, started = watched([moment(person(0.0, hand_up=True), sure=False) for _ in range(45)])
    assert told == [None]
    assert not started


def test_the_followed_persons_gesture_starts_the_timer_and_makes_them_the_chosen_one():
    told, started = watched([moment(person(0.0, hand_up=True)) for _ in range(45)])
    assert told == [None]
    assert len(started) == 1


def test_anothers_gesture_makes_it_doubtful_first():
    shown = [moment(person(0.0), [person(1.0, hand_up=True)]) for _ in range(45)]
    told, started = watched(shown)
    assert told == ["ask"]
    assert not started


def test_a_hand_that_was_seen_once_is_not_held():
    still = person(1.0, hand_up=True)
    assert watched([moment(person(0.0), [still], sure=False) for _ in range(60)]) == ([], [])


# -- told ------------------------------------------------------------------------------------------


def test_that_someone_else_is_in_view_is_told_in_a_line_and_marked():
    alone = guidance_of(Action.FORWARD, 1.0)
    company = guidance_of(Action.FORWARD, 1.0, others=1)
    assert message_of(alone).also == ()
    assert message_of(company).also == ("someone else is in view",)
    screens = []
    for guidance in (alone, company):
        screen = GuidanceScreen(ZONE)
        made = Moment(Frame(BLACK, 0.0, 0), person(0.0), None, NOBODY, guidance, None)
        screens.append(screen.draw(narrator().tell(made)).copy())
    box = lay_out(1280, 720, letter=screen._letter).picture
    part = (screens[0] != screens[1]).any(axis=2)[box.rows, box.columns]
    changed = np.argwhere(part)
    first, last = changed.min(axis=0), changed.max(axis=0)
    head = person(0.0).image_px[0]
    assert last[0] < head[1] * box.height / SIZE_PX[1] + 20  # over the head
    assert first[1] < box.width / 2 < last[1]


def test_who_does_not_know_themselves_followed_is_told_what_to_do():
    doubtful = guidance_of(Action.NOT_SURE, 1.0)
    doubtful = type(doubtful)(Action.NOT_SURE, 1.0, Why(Reason.WHO))
    assert "press N" in message_of(doubtful).why


def test_looks_round_reach_the_run_through_the_reader():
    class Looking(PlacedDetector):
        def glance(self, *, wait):
            assert wait  # a file: every picture counts
            return Glance(0.0, ())

    with FeedReader(BlankSource(0.2)) as feed, PoseReader(feed, Looking(lambda _: 4.0)) as reader:
        sighting = reader.read(5.0)
    assert sighting.glance == Glance(0.0, ())
