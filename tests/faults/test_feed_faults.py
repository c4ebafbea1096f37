"""Faults of the feed: each is caused, seen and heard within two seconds, and survived.

In all of them an old "in focus" is gone half a second after its picture.
"""

import functools
import http.server
import sys
import threading
import time
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assist.base.errors import UserError
from assist.base.system import cores
from assist.camera.frame import FrameTrigger
from assist.feed import Frame, Silence, camera, video_file
from assist.feed.cropped import CroppedSource
from assist.feed.reader import FeedReader
from assist.feed.screening import Screening
from assist.guidance.assistant import Known
from assist.guidance.countdown import TimerOptions
from assist.guidance.guide import Action
from assist.guidance.verdict import Verdict
from assist.guidance.wording import silences
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run.live import STALE_AFTER_S
from assist.session.folder import Session, read_record
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.feed_profile import FeedProfile
from tests.assist.footage import SET_UP, SIZE_PX, NoisyCamera, PlacedDetector
from tests.assist.synthetic import standing_pose
from tests.assist.telling import ENGLISH
from tests.faults.watching import (
    HOLD,
    IN_FOCUS_HIPS_M,
    LIMIT_S,
    Watch,
    claims_focus,
    lasted,
    shows,
)

TOLD_WITHIN_S = 2.0
SILENCES = silences(ENGLISH)

FAULTS = {
    "it gives nothing more": (Silence.STOPPED, None),
    "it repeats one picture": (Silence.FROZEN, np.zeros_like),
    "it gives empty pictures": (Silence.GARBLED, lambda p: p[:0]),
}
RUBBISH = {
    "empty": np.empty((0, 0, 3), np.uint8),
    "numbers that are no colours": np.zeros((360, 640, 3), np.float64),
    "grey": np.zeros((360, 640), np.uint8),
    "with transparency": np.zeros((360, 640, 4), np.uint8),
    "a speck": np.zeros((2, 3, 3), np.uint8),
    "no array": "no signal",
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_feed_in_trouble_withdraws_in_focus_says_why_and_comes_back(fault):
    why, spoil = FAULTS[fault]
    spoken = SILENCES[why][1]
    watch = Watch(HOLD, lasted(0.9, lambda w: w.said(spoken, 1) < LIMIT_S), HOLD)

    def trouble(_, picture):
        if watch.phase != 1:
            return picture
        if spoil is not None:
            return spoil(picture)
        while watch.phase == 1 and not camera.closed.wait(0.01):
            pass
        return picture

    camera = NoisyCamera(trouble)
    watch.run(camera)
    # Withdrawn in time, on the screen and for whatever waits for the person to be ready.
    silent = [m for t, m, _ in watch.in_phase(1) if t > STALE_AFTER_S + watch.slack_s]
    assert not any(claims_focus(message) for message in silent)
    assert {m.action for m in silent} <= {Action.NO_FEED}
    assert {m.why for m in silent} <= {SILENCES[why][0]}
    assert Action.NO_FEED in watch.actions(1)
    assert watch.said(spoken, 1) < TOLD_WITHIN_S + watch.slack_s


# -- with a profile of the feed, whose bars are cut off -------------------------------------------


def profile_with_bars():
    """Of a feed as `SET_UP`'s, in the middle of bars of 40 pixels at the sides."""
    seen = FeedGeometry.of(SET_UP).camera(SIZE_PX[0] - 80, SIZE_PX[1])
    return FeedProfile.of_camera(seen, "lens", 0.02, bars_px=(40, 0, 40, 0))


class BetweenBars(PlacedDetector):
    """Sees the person through the profile's camera, whatever is shown."""

    def __init__(self, profile):
        self._pose = standing_pose(
            profile.camera(profile.width_px, profile.height_px), IN_FOCUS_HIPS_M
        )

    def detect(self, picture, time_s):
        return [self._pose]


def run_with_profile(watch, camera, profile, **more):
    source = CroppedSource(camera, profile.picture_in) if profile.has_bars else camera
    known = Known(feed=profile)
    return watch.run(source, BetweenBars(profile), known=known, **more)


@pytest.mark.parametrize("rubbish", RUBBISH)
def test_with_a_profile_too_rubbish_withdraws_in_focus_and_the_feed_comes_back(rubbish):
    said = "The picture is damaged."
    watch = Watch(HOLD, lasted(0.9, lambda w: w.said(said, 1) < LIMIT_S), HOLD)
    camera = NoisyCamera(lambda _, picture: RUBBISH[rubbish] if watch.phase == 1 else picture)
    run_with_profile(watch, camera, profile_with_bars())
    silent = [m for t, m, _ in watch.in_phase(1) if t > STALE_AFTER_S + watch.slack_s]
    assert {m.why for m in silent} == {"what comes from the feed is no picture"}
    assert {m.moment.frame.picture.shape for *_, m, _ in watch.told} == {(360, 560, 3)}


@pytest.mark.parametrize("bars", [True, False])
def test_a_camera_that_comes_back_in_another_shape_is_told_of_and_its_picture_is_taken(
    bars, tmp_path
):
    """Even in the shape that the picture between the bars has: it may be another picture."""
    profile = profile_with_bars()
    if not bars:
        profile = profile.model_copy(update={"bars_px": (0, 0, 0, 0), "width_px": SIZE_PX[0]})
    spoken = "The picture has another shape."
    watch = Watch(
        HOLD,
        lambda w: any(c.fired for *_, c in w.in_phase(1) if c) and w.said(spoken, 1) < LIMIT_S,
        HOLD,
        at={1: lambda: watch.live.start_timer(time.monotonic())},
    )
    camera = NoisyCamera(lambda _, picture: picture[:, :560] if watch.phase == 1 else picture)
    with Session(tmp_path, SET_UP) as session:
        run_with_profile(
            watch, camera, profile, session=session, trigger=FrameTrigger(tmp_path),
            timer=TimerOptions(1.5), timer_at_once=False,
        )  # fmt: skip
    told = [m for t, m, _ in watch.in_phase(1) if t > STALE_AFTER_S + watch.slack_s]
    assert not any(claims_focus(message) for message in told)
    assert {m.why for m in told} == {"not its profile's shape: set the feed back"}
    assert watch.said(spoken, 1) < TOLD_WITHIN_S + watch.slack_s
    [attempt] = read_record(tmp_path)
    assert (attempt.picture, attempt.verdict) == ("picture-0001.png", Verdict.NO_ONE.value)


def test_a_profile_that_is_not_the_feeds_from_the_start_ends_the_run_in_a_line():
    profile = profile_with_bars()
    for kept in (profile, profile.model_copy(update={"bars_px": (0, 0, 0, 0)})):
        watch = Watch(HOLD)
        with pytest.raises(UserError, match="another shape: calibrate anew"):
            run_with_profile(watch, NoisyCamera(lambda _, p: p[:, :320]), kept)


# -- and without ---------------------------------------------------------------------------------


@pytest.mark.parametrize("live", [True, False])
@pytest.mark.parametrize("rubbish", RUBBISH)
def test_rubbish_does_not_pass_for_a_picture(rubbish, live):
    screening = Screening(live, 25.0)
    assert screening.passed(Frame(RUBBISH[rubbish], 1.0, 0), 1.0) is None
    assert screening.silence is Silence.GARBLED


def test_a_picture_due_while_none_comes_is_told_as_not_taken_and_never_as_taken(tmp_path):
    spoken = "The picture was not taken."
    watch = Watch(
        HOLD,
        lambda w: w.said(spoken, 1) < LIMIT_S,
        at={1: lambda: watch.live.start_timer(time.monotonic())},
    )
    frozen = NoisyCamera(lambda _, picture: np.zeros_like(picture) if watch.phase else picture)
    with Session(tmp_path, SET_UP) as session:
        watch.run(
            frozen, session=session, trigger=FrameTrigger(tmp_path), timer=TimerOptions(1.0),
            timer_at_once=False,
        )  # fmt: skip
    [attempt] = read_record(tmp_path)
    assert (attempt.picture, attempt.verdict) == (None, Verdict.NO_ONE.value)
    assert "no picture came" in attempt.problem
    assert not any(c.fired and not c.trouble for *_, c in watch.told if c)
    assert "no picture came from the feed" in {t for *_, m, _ in watch.told for t in m.troubles}
    assert watch.said(spoken, 1) < 1.0 + TOLD_WITHIN_S + watch.slack_s


def test_a_camera_that_opens_but_never_gives_a_picture_is_told_of():
    watch = Watch(lasted(2.5))

    def nothing(_, picture):
        while watch.phase == 0 and not camera.closed.wait(0.01):
            pass

    camera = NoisyCamera(nothing)
    outcome = watch.run(camera)
    assert watch.in_phase(0)[0][0] < TOLD_WITHIN_S + watch.slack_s
    assert {m.why for _, m, _ in watch.in_phase(0)} == {"no picture has come from the feed yet"}
    spoken = "No picture yet."
    assert watch.said(spoken, 0) < TOLD_WITHIN_S + watch.slack_s
    assert outcome.pictures == 0


def test_a_camera_that_hangs_in_read_does_not_hold_up_the_end():
    watch = Watch(HOLD, shows(Action.NO_FEED))
    never = threading.Event()

    def hang(_, picture):
        if watch.phase > 0:
            never.wait(60)
        return picture

    watch.run(NoisyCamera(hang))
    assert time.monotonic() - watch.began_s[-1] < 4.0 + watch.slack_s
    never.set()


def test_two_equal_pictures_in_a_row_are_nothing_to_speak_of():
    """A capture card at twice the camera's rate gives each picture twice."""
    kept = []
    watch = Watch(HOLD, lasted(1.0))

    def twice(_, picture):
        kept.append(picture)
        return kept[-1 - (len(kept) + 1) % 2].copy()

    outcome = watch.run(NoisyCamera(twice))
    assert watch.actions(1) == {Action.HOLD}
    assert outcome.pictures < 0.6 * len(kept)  # and looked at only once


def test_equal_pictures_of_a_file_count():
    class Still:
        live, frames_expected, rate_hz = False, 40, 25.0
        index = -1

        def read(self):
            self.index += 1
            picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
            return Frame(picture, self.index / 25, self.index) if self.index < 40 else None

        def close(self):
            pass

    watch = Watch(lambda w: len(w.told) == 40)
    assert watch.run(Still()).pictures == 40
    assert watch.told[-1][2].action is Action.HOLD


def test_no_two_pictures_of_the_shipped_clip_are_equal():
    """Even a rendered clip, compressed, is never taken for a frozen camera."""
    from assist.run import demo

    source = video_file.VideoFileSource(demo.sample_folder() / demo.CLIP)
    screening = Screening(True, source.rate_hz)
    passed = 0
    while (frame := source.read()) is not None:
        passed += screening.passed(frame, frame.time_s) is not None
    assert passed == source.frames_expected


class AnySize(PlacedDetector):
    """Sees the person through the lens of the set-up, whatever the size of the picture."""

    def detect(self, picture, time_s):
        height, width = picture.shape[:2]
        return [standing_pose(FeedGeometry.of(SET_UP).camera(width, height), IN_FOCUS_HIPS_M)]


def test_a_feed_that_changes_its_size_is_measured_by_its_new_size():
    sizes = [(640, 360), (1920, 1080), (320, 240), (64, 36), (1280, 720)]

    seen = lambda w: len([m for _, m, _ in w.in_phase(-1) if m.moment.assessment.distance]) > 3  # noqa: E731
    watch = Watch(HOLD, *([seen] * len(sizes)))

    def resized(_, picture):
        size = sizes[min(watch.phase, len(sizes)) - 1]
        return cv2.resize(picture, size, interpolation=cv2.INTER_NEAREST)

    watch.run(NoisyCamera(resized), AnySize(None))
    moments = [m for *_, m, _ in watch.told]
    assert {m.moment.frame.picture.shape[1] for m in moments} == {w for w, _ in sizes}
    eyes_m = [m.moment.assessment.distance.eyes_m for m in moments if m.moment.assessment.distance]
    assert np.ptp(eyes_m) < 0.15


def test_a_feed_whose_clock_jumps_is_dated_by_ours():
    """A picture from the future would never grow old. Other jumps: see the property below."""

    class Jumping(NoisyCamera):
        def read(self):
            frame = super().read()
            if frame is None or watch.phase == 0:
                return frame
            return Frame(frame.picture, frame.time_s + 3600.0, frame.index)

    def stop(_, picture):
        while watch.phase == 2 and not camera.closed.wait(0.01):
            pass
        return picture

    watch = Watch(HOLD, lasted(0.6, HOLD), lasted(0.9))
    camera = Jumping(stop)
    watch.run(camera)
    late = [m for t, m, _ in watch.in_phase(2) if t > STALE_AFTER_S + watch.slack_s]
    assert not any(claims_focus(message) for message in late)
    assert watch.actions(2, STALE_AFTER_S + watch.slack_s) <= {Action.NO_FEED}


@given(
    stamps=st.lists(st.floats(allow_nan=True, allow_infinity=True), min_size=2, max_size=40),
    live=st.booleans(),
)
@settings(max_examples=200)
def test_whatever_a_feed_says_times_never_go_back_and_never_into_the_future(stamps, live):
    screening = Screening(live, 25.0)
    chance = np.random.default_rng(0)
    times, now_s = [], 1000.0
    for index, stamp_s in enumerate(stamps):
        now_s += 0.04
        picture = chance.integers(0, 255, (20, 20, 3), np.uint8)
        frame = screening.passed(Frame(picture, stamp_s, index), now_s)
        times.append(frame.time_s)
        assert not live or frame.time_s <= now_s
    assert np.isfinite(times).all()
    steps = np.diff(times)
    assert (steps >= 0).all()
    if not live and abs(times[0]) < 1e6:
        assert (steps > 0).all()
        assert (steps <= 5.0 + 1e-6).all()


class Stamped:
    """Stands for cv2.VideoCapture over a file with these time stamps."""

    def __init__(self, stamps_s):
        self._stamps_s, self._index = stamps_s, -1

    def set(self, *_):
        return True

    def get(self, what):
        if what == cv2.CAP_PROP_POS_MSEC:
            return self._stamps_s[self._index] * 1000
        return {
            cv2.CAP_PROP_FPS: 25.0,
            cv2.CAP_PROP_FRAME_COUNT: len(self._stamps_s),
            cv2.CAP_PROP_FRAME_WIDTH: 64,
            cv2.CAP_PROP_FRAME_HEIGHT: 48,
        }.get(what, 0.0)

    def read(self):
        self._index += 1
        there = self._index < len(self._stamps_s)
        return there, np.full((48, 64, 3), self._index, np.uint8) if there else None

    def release(self):
        pass


@pytest.mark.parametrize(
    "damage",
    [{10: 7200.0}, {10: -1.0, 11: -1.0}, {10: float("nan")}, dict.fromkeys(range(10, 30), 0.0)],
)
def test_damaged_time_stamps_of_a_file_neither_stop_nor_rush_its_clock(monkeypatch, damage):
    stamps = [damage.get(n, n / 25) for n in range(40)]
    monkeypatch.setattr(video_file, "open_capture", lambda *_: Stamped(stamps))
    source = video_file.VideoFileSource(Path("damaged.mp4"))
    times = [source.read().time_s for _ in range(40)]
    assert np.diff(times) == pytest.approx(0.04, abs=0.045)
    assert times[-1] == pytest.approx(39 / 25, abs=0.1)


# -- the device ----------------------------------------------------------------------------------


class Device:
    """Stands for the operating system's camera: plugged in or not, busy or not."""

    def __init__(self, monkeypatch):
        self.there, self.opened, self.dies_by_error = True, 0, False
        self._chance = np.random.default_rng(2)
        monkeypatch.setattr(camera, "open_capture", self.open)
        monkeypatch.setattr(camera, "_RETRY_EVERY_S", 0.1)

    def open(self, *_):
        if not self.there:
            return None
        self.opened += 1
        return self

    def set(self, *_):
        return True

    def get(self, *_):
        return 30.0

    def read(self):
        time.sleep(1 / 30)
        if self.there:
            return True, self._chance.integers(0, 8, (SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
        if self.dies_by_error:
            raise cv2.error("the device has gone")
        return False, None

    def release(self):
        pass


def test_camera_unplugged_and_plugged_in_again(monkeypatch):
    device = Device(monkeypatch)
    plug = lambda there: lambda: setattr(device, "there", there)  # noqa: E731
    watch = Watch(HOLD, lasted(1.2), HOLD, at={1: plug(False), 2: plug(True)})
    watch.run(camera.CameraSource(0))
    assert watch.actions(1, STALE_AFTER_S + watch.slack_s) <= {Action.NO_FEED}
    assert Action.NO_FEED in watch.actions(1)
    assert watch.said("The picture has stopped.", 1) < TOLD_WITHIN_S + watch.slack_s
    assert device.opened == 2


def test_camera_that_another_program_holds_is_told_of_at_once_and_when_it_comes_back(monkeypatch):
    device = Device(monkeypatch)
    device.there = False
    with pytest.raises(UserError, match="no other program uses it"):
        camera.CameraSource(0)
    device.there = True
    source = camera.CameraSource(0)
    device.dies_by_error = True
    with FeedReader(source) as reader:
        assert reader.read(2.0) is not None
        device.there = False  # and busy for a while after it was plugged in again
        while reader.read(0.3) is not None:
            pass
        assert reader.silence is Silence.STOPPED
        device.there = True
        assert reader.read(2.0) is not None


def test_pictures_put_by_during_a_stall_are_not_taken_for_new(monkeypatch):
    """A sender that stalls for a second hands over all of that second at once."""

    class Backlog(Device):
        sent = 0

        def read(self):
            self.sent += 1
            if self.sent == 10:
                time.sleep(1.0)
            elif not 10 < self.sent <= 40:
                time.sleep(1 / 30)
            return True, np.full((48, 64, 3), self.sent, np.uint8)

    Backlog(monkeypatch)
    source = camera.CameraSource(0)
    seen = [int(source.read().picture[0, 0, 0]) for _ in range(15)]
    assert seen[:9] == list(range(1, 10))
    assert seen[9] == 41
    assert seen[10:] == list(range(42, 47))


class SlowSender(http.server.BaseHTTPRequestHandler):
    """Motion JPEG over HTTP, as network cameras send it, until told to stop or to hang."""

    stop = hang = False

    def do_GET(self):
        self.send_response(200)
        self.send_header("Content-Type", "multipart/x-mixed-replace; boundary=next")
        self.end_headers()
        chance = np.random.default_rng(3)
        try:
            while not type(self).stop:
                if type(self).hang:
                    time.sleep(0.05)
                    continue
                picture = chance.integers(0, 255, (48, 64, 3), np.uint8)
                jpeg = cv2.imencode(".jpg", picture)[1].tobytes()
                head = f"--next\r\nContent-Type: image/jpeg\r\nContent-Length: {len(jpeg)}\r\n\r\n"
                self.wfile.write(head.encode() + jpeg + b"\r\n")
                time.sleep(0.04)
        except OSError:
            return

    def log_message(self, *_):
        pass


def serve(port=0):
    server = http.server.ThreadingHTTPServer(("127.0.0.1", port), SlowSender)
    server.daemon_threads = True
    threading.Thread(target=functools.partial(server.serve_forever, 0.05), daemon=True).start()
    return server


def read_until(reader, true, seconds):
    end_s = time.monotonic() + seconds
    while time.monotonic() < end_s:
        if true(reader.read(0.2)):
            return True
    return False


def test_a_streams_sender_dies_and_comes_back(monkeypatch):
    monkeypatch.setattr(camera, "_RETRY_EVERY_S", 0.1)
    SlowSender.stop = SlowSender.hang = False
    server = serve()
    port = server.server_port
    with FeedReader(camera.StreamSource(f"http://127.0.0.1:{port}/live.mjpg")) as reader:
        assert read_until(reader, lambda frame: frame is not None, 10)
        SlowSender.stop = True
        server.shutdown()
        server.server_close()
        assert read_until(reader, lambda frame: frame is None, 10)
        assert not reader.ended
        SlowSender.stop = False
        server = serve(port)
        assert read_until(reader, lambda frame: frame is not None, 15)
    SlowSender.stop = True
    server.shutdown()
    server.server_close()


# -- what looks at the pictures ------------------------------------------------------------------


def test_rubbish_that_is_a_picture_is_no_one_and_never_in_focus():
    """The real pose network on noise, stripes, one colour and a picture torn in two."""
    chance = np.random.default_rng(4)
    stripes = np.zeros((360, 640, 3), np.uint8)
    stripes[:, ::8] = 255

    def rubbish(age_s, picture):
        kind = watch.phase
        if kind == 0:
            return chance.integers(0, 255, picture.shape, np.uint8)
        if kind == 1:
            return np.roll(stripes, int(age_s * 300), axis=1)
        if kind == 2:
            return np.full_like(picture, (int(age_s * 1000) % 255, 0, 255))
        return np.where(np.arange(360)[:, None, None] < 180, stripes, picture)

    watch = Watch(*([lambda w: len(w.in_phase(-1)) > 8] * 4))
    with MediaPipePoseDetector() as detector:
        watch.run(NoisyCamera(rubbish), detector)
    assert not any(claims_focus(m) for *_, m, _ in watch.told)


class Failing(PlacedDetector):
    """Fails, or takes its time, in the second phase."""

    def __init__(self, watch, wait_s=0.0, fails=True):
        super().__init__(lambda _: IN_FOCUS_HIPS_M)
        self._watch, self._wait_s, self._fails = watch, wait_s, fails

    def detect(self, picture, time_s):
        if self._watch.phase != 1:
            return super().detect(picture, time_s)
        time.sleep(self._wait_s)
        return None if self._fails else super().detect(picture, time_s)


@pytest.mark.parametrize(
    ("why", "wait_s", "fails"),
    [(Silence.UNSEEN, 0.0, True), (Silence.LATE, STALE_AFTER_S + 0.15, False)],
)
def test_a_pose_network_that_fails_or_lags_is_told_of_and_the_picture_is_taken_all_the_same(
    why, wait_s, fails, tmp_path
):
    spoken = SILENCES[why][1]
    watch = Watch(
        HOLD,
        lambda w: any(c.fired for *_, c in w.in_phase(1) if c) and w.said(spoken, 1) < LIMIT_S,
        HOLD,
        at={1: lambda: watch.live.start_timer(time.monotonic())},
    )
    with Session(tmp_path, SET_UP) as session:
        watch.run(
            NoisyCamera(), Failing(watch, wait_s, fails), session, FrameTrigger(tmp_path),
            timer=TimerOptions(1.8), timer_at_once=False,
        )  # fmt: skip
    for now_s, _, message, _ in watch.told:
        seen_s = message.moment.frame.time_s
        assert now_s - seen_s < STALE_AFTER_S + watch.slack_s or not claims_focus(message)
    blind = [m for t, m, _ in watch.in_phase(1) if t > STALE_AFTER_S + wait_s + watch.slack_s]
    assert SILENCES[why][0] in {m.why for m in blind}
    assert not any(claims_focus(message) for message in blind)
    assert watch.said(spoken, 1) < TOLD_WITHIN_S + watch.slack_s
    [attempt] = read_record(tmp_path)
    assert (attempt.picture, attempt.problem) == ("picture-0001.png", "")
    assert attempt.verdict != Verdict.IN_FOCUS.value


def test_the_network_itself_is_made_anew_when_it_has_failed(capfd):
    """Without a word of the library's on the terminal, and with its new threads known."""
    picture = np.zeros((360, 640, 3), np.uint8)

    class Broken:
        def detect_for_video(self, *_):
            raise RuntimeError("the graph has errors")

        def close(self):
            raise RuntimeError("the graph has errors")

    with MediaPipePoseDetector() as detector:
        assert detector.detect(picture, 0.0) == []
        before = detector.threads
        detector._landmarker.close()
        detector._landmarker = Broken()
        capfd.readouterr()
        assert detector.detect(picture, 0.1) is None
        assert detector.detect(picture, 0.2) == []
        assert capfd.readouterr().err == ""
        if sys.platform == "linux":
            assert detector.threads
            assert not detector.threads & before
            assert detector.threads <= cores.own_threads()
