"""The command line as a user meets it: good news on standard output, bad news in one line."""

import os
import signal
import sys
import threading

import cv2
import numpy as np
import pytest
from scipy.io import wavfile

from assist import __version__, cli
from assist.base.errors import UserError
from assist.feed.video_file import VideoFileSource
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import opening
from assist.session.folder import Session, read_record
from assist.session.rehearsal import read_scores
from tests.assist.footage import SET_UP

LENS = ("--lens", "35mm", "--aperture", "f/2", "--focus", "4m", "--no-window")


def run(capsys, monkeypatch, *arguments):
    monkeypatch.setattr(sys, "argv", ["assist", *map(str, arguments)])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    out, err = capsys.readouterr()
    return ended.value.code, out, err


@pytest.fixture
def assist(capsys, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: run(capsys, monkeypatch, *arguments)


@pytest.fixture
def empty_room(tmp_path):
    """A clip with no person in it."""
    path = tmp_path / "room.mp4"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (320, 180))
    ramp = np.tile(np.linspace(60, 200, 320, dtype=np.uint8)[None, :, None], (180, 1, 3))
    for _ in range(30):
        writer.write(ramp)
    writer.release()
    return path


def test_help_and_version(assist):
    code, out, _ = assist()
    assert code == 0
    assert "live" in out
    assert "demo" in out
    assert assist("--version")[:2] == (0, f"self-portrait-assist {__version__}\n")


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ((), "sensor full-frame, assumed; height not stated; the feed comes through the lens"),
        (("--sensor", "aps-c-1.5", "--crop", "1.2"), "sensor aps-c-1.5; height not stated"),
        (("--stature", "5ft7", "--field-of-view", "65"), "height 1.70 m; the feed shows 65 deg"),
    ],
)
def test_a_run_begins_by_saying_what_it_goes_by(assist, empty_room, given, told):
    code, out, _ = assist("live", empty_room, *LENS, *given)
    assert code == 0
    first = out.splitlines()[0]
    assert first.startswith("35 mm at f/2 focused at 4.00 m: sharp from 3.")
    assert told in first


BAD = {
    "volume": (("live", "room.mp4", *LENS, "--volume", "101"), "from 0 to 100"),
    "sound without time": (("live", "room.mp4", *LENS, "--sound"), "--real-time"),
    "speech without time": (("live", "room.mp4", *LENS, "--speech"), "--real-time"),
    "speech in a rehearsal of a file": (
        ("rehearse", "room.mp4", *LENS, "--speech"),
        "assist live plays one with --real-time",
    ),
    "unknown language": (
        ("live", "room.mp4", *LENS, "--language", "xx"),
        "one of de, en, not 'xx'",
    ),
    "unknown units": (("live", "room.mp4", *LENS, "--units", "ells"), "metres or feet"),
    "missing file": (("live", "gone.mp4", *LENS), "gone.mp4"),
    "unreadable video": (("live", "broken.mp4", *LENS), "broken.mp4"),
    "camera that does not open": (("live", "97", *LENS), "camera 97"),
    "no feed": (("live", *LENS), "no feed"),
    "no lens": (("live", "broken.mp4"), "--lens"),
    "aperture zero": (("live", "broken.mp4", *LENS, "--aperture", "0"), "--aperture: must"),
    "aperture of words": (("live", "broken.mp4", *LENS, "--aperture", "wide"), "'wide'"),
    "negative focus": (("live", "broken.mp4", *LENS, "--focus", "-3m"), "--focus: must"),
    "focus too near": (("live", "broken.mp4", *LENS, "--focus", "10cm"), "0.14 m"),
    "focus nan": (("live", "broken.mp4", *LENS, "--focus", "nan"), "--focus: "),
    "unknown sensor": (("live", "broken.mp4", *LENS, "--sensor", "huge"), "full-frame"),
    "criterion": (("live", "broken.mp4", *LENS, "--criterion", "crisp"), "crisp"),
    "stature": (("live", "broken.mp4", *LENS, "--stature", "17m"), "(given '17m')"),
    "stature in centimetres": (
        ("live", "broken.mp4", *LENS, "--stature", "170"),
        "must be less than or equal to 2.5 m (given '170'; write 170cm for centimetres)",
    ),
    "stature of nobody": (("live", "broken.mp4", *LENS, "--stature", "5"), "(given '5')"),
    "timer": (("live", "broken.mp4", *LENS, "--timer", "soon"), "--timer"),
    "burst without a timer": (("live", "broken.mp4", *LENS, "--burst", "3"), "--burst needs a"),
    "trigger without a timer": (("live", "broken.mp4", *LENS, "--trigger", "none"), "needs a ti"),
    "ghost without a session": (("live", "broken.mp4", *LENS, "--ghost", "0.4"), "--repeat SESS"),
    "choice without a search": (("plan", *LENS[:-1], "--choose", "2"), "--choose is for a search"),
    "a square that is none": (("calibrate", "print-board", "b.pdf", "--square", "x"), "--square: "),
    "a view that is none": (
        ("calibrate", "mark", "broken.mp4", "--at", "3m", "--field-of-view", "400", "--out", "m"),
        "--field-of-view: must be less than or equal to 179",
    ),
    "timer under zero": (("live", "broken.mp4", *LENS, "--timer", "-3"), "--timer"),
    "set-up file missing": (("live", "broken.mp4", "--set-up", "no.toml"), "no.toml"),
    "set-up file not TOML": (("live", "broken.mp4", "--set-up", "broken.mp4"), "broken.mp4"),
    "set-up file with a wrong value": (("live", "broken.mp4", "--set-up", "bad.toml"), "f_number"),
    "option with a wrong value beside a file": (
        ("live", "x", "--set-up", "good.toml", "--posture", "sitting"),
        "'--posture': ",
    ),
    "window's place": (("live", "room.mp4", *LENS, "--window-at", "1920"), "as 1920,0"),
    "set-up file with a strange field": (("live", "x", "--set-up", "odd.toml"), "lens.colour"),
    "set-up file of the wrong shape": (
        ("live", "x", "--set-up", "flat.toml", "--lens", "35mm"),
        "lens must be a table",
    ),
    "pose model missing": (("live", "room.mp4", *LENS, "--pose-model", "no.task"), "no.task"),
    "pose model corrupt": (("live", "room.mp4", *LENS, "--pose-model", "bad.toml"), "bad.toml"),
    "output of the wrong kind": (("live", "room.mp4", *LENS, "--output", "a.avi"), ".mp4"),
    "output nowhere": (("live", "room.mp4", *LENS, "--output", "no/a.mp4"), "no"),
    "rotation": (("live", "room.mp4", *LENS, "--rotate", "45"), "45"),
    "unknown command": (("dance",), "dance"),
    "unknown option": (("live", "--dance"), "--dance"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_one_line_and_exit_code_2(assist, tmp_path, empty_room, case):
    arguments, hint = BAD[case]
    (tmp_path / "broken.mp4").write_bytes(b"\x00not a video")
    (tmp_path / "bad.toml").write_text(
        "[lens]\nfocal_length_mm = 35\nf_number = 0\nfocus_distance_m = 4\n"
    )
    (tmp_path / "good.toml").write_text(
        "[lens]\nfocal_length_mm = 35\nf_number = 2\nfocus_distance_m = 4\n"
    )
    (tmp_path / "odd.toml").write_text(
        '[lens]\nfocal_length_mm = 35\nf_number = 2\nfocus_distance_m = 4\ncolour = "red"\n'
    )
    (tmp_path / "flat.toml").write_text("lens = 35\n")
    code, out, err = assist(*arguments)
    assert code == 2
    assert out == ""
    assert err.startswith("assist: ")
    assert err.count("\n") == 1
    assert hint in err


def test_no_person_is_an_honest_no_one_in_view(assist, tmp_path, empty_room):
    code, out, err = assist("live", empty_room, *LENS, "--timer", "1s", "--session", "kept")
    assert code == 0
    assert err.startswith("assist: nobody in the picture gets guidance")
    assert "no one in view" in out
    [attempt] = read_record(tmp_path / "kept")
    assert attempt.verdict == "no one in view"
    assert attempt.distance_m is None
    assert (tmp_path / "kept" / attempt.picture).exists()


def test_nothing_is_stored_unless_asked(assist, tmp_path, empty_room):
    code, out, _ = assist("live", empty_room, *LENS)
    assert code == 0
    assert "30 pictures" in out
    assert sorted(p.name for p in tmp_path.iterdir()) == ["room.mp4"]


def test_output_video_has_every_picture(assist, tmp_path, empty_room):
    assert assist("live", empty_room, *LENS, "--output", "out.mp4")[0] == 0
    capture = cv2.VideoCapture(str(tmp_path / "out.mp4"))
    assert capture.get(cv2.CAP_PROP_FRAME_COUNT) == 30
    assert capture.get(cv2.CAP_PROP_FRAME_WIDTH) == 1280
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out.mp4", "room.mp4"]


def test_options_go_over_the_file(tmp_path):
    from assist.cli.options.set_up import SetUpOptions

    path = tmp_path / "a.toml"
    path.write_text("[lens]\nfocal_length_mm = 35\nf_number = 2\nfocus_distance_m = 4\n")
    given = SetUpOptions(path, aperture="f/4", stature="5ft 7in", field_of_view="70")
    chosen = given.chosen()
    assert chosen.lens.f_number == 4
    assert chosen.lens.focal_length_mm == 35
    assert chosen.person.stature_m == pytest.approx(1.7018)
    assert chosen.feed.through == "own-lens"


@pytest.mark.parametrize(("volume", "dbfs"), [("100", -6.0), ("50", -18.04)])
def test_the_sounds_in_a_file_reach_the_level_that_the_volume_means(assist, tmp_path, volume, dbfs):
    code, out, err = assist(
        "sounds", "--output", "tones.wav", "--language", "en", "--volume", volume
    )
    assert (code, err) == (0, "")
    assert "too far" in out
    rate_hz, samples = wavfile.read(tmp_path / "tones.wav")
    assert len(samples) / rate_hz > 20
    peak_dbfs = 20 * np.log10(np.abs(samples.astype(float)).max() / 32767)
    assert peak_dbfs == pytest.approx(dbfs, abs=0.1)


@pytest.mark.parametrize("name", ["tones.mp3", "tones", "tones.wav.txt"])
def test_sounds_are_written_as_wav_and_as_nothing_else(assist, tmp_path, name):
    code, out, err = assist("sounds", "--output", name)
    assert (code, out) == (2, "")
    assert err == f"assist: --output {name}: the file must end in .wav\n"
    assert list(tmp_path.iterdir()) == []


SET_UP_WITH_TIMER = (
    "[lens]\nfocal_length_mm = 35\nf_number = 2\nfocus_distance_m = 4\n[timer]\ndelay_s = 1.0\n"
)


def test_the_timer_of_a_set_up_counts_but_keeps_nothing_unasked(assist, tmp_path, empty_room):
    (tmp_path / "a.toml").write_text(SET_UP_WITH_TIMER)
    code, out, err = assist("live", empty_room, "--set-up", "a.toml", "--no-window")
    assert code == 0
    assert err.startswith("assist: nobody in the picture gets guidance")
    assert "attempt 1: no one in view" in out
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.toml", "room.mp4"]


def test_the_timer_of_a_set_up_with_a_session_is_recorded(assist, tmp_path, empty_room):
    (tmp_path / "a.toml").write_text(SET_UP_WITH_TIMER)
    given = ("--set-up", "a.toml", "--no-window", "--session", "kept")
    assert assist("live", empty_room, *given)[0] == 0
    assert [a.feed_time_s for a in read_record(tmp_path / "kept")] == [pytest.approx(1.0, abs=0.05)]


@pytest.mark.parametrize(
    ("options", "seconds", "ready_s"),
    [
        ({}, 12.0, 1.5),
        ({"timer": "5s"}, 5.0, 1.5),
        ({"when_ready": "2s"}, None, 2.0),
        ({"timer": "none"}, "no timer", None),
    ],
)
def test_an_option_goes_over_the_timer_of_the_set_up(options, seconds, ready_s):
    from assist.cli.options.timer import TimedOptions, gather

    timer = gather(TimedOptions(**options), 12.0)
    if timer is None:
        assert seconds == "no timer"
    else:
        assert (timer.seconds, timer.ready_for_s) == (seconds, ready_s)


def test_a_rehearsal_shares_its_screen_too(assist, empty_room):
    pytest.importorskip("aiohttp")
    code, out, err = assist("rehearse", empty_room, *LENS, "--timer", "1s", "--share")
    assert (code, err) == (0, "")
    assert "second screen: http://127.0.0.1:" in out
    assert "in focus at zero: 0 of 1" in out


def test_a_rehearsal_that_breaks_off_keeps_and_tells_the_runs_before(assist, empty_room, tmp_path):
    (tmp_path / "damaged").mkdir()
    (tmp_path / "damaged" / "a.png").write_bytes(b"no picture")
    code, out, err = assist(
        "rehearse", empty_room, "damaged", *LENS, "--timer", "1s", "--session", "kept"
    )
    assert code == 2
    assert "damaged" in err
    assert [s.run for s in read_scores(tmp_path / "kept")] == [1]
    assert "in focus at zero: 0 of 1" in out


@pytest.mark.parametrize("command", ["live", "rehearse"])
def test_what_was_opened_is_closed_though_the_rest_cannot_be(
    assist, empty_room, tmp_path, monkeypatch, command
):
    """The feed, the session and the second screen, when the pose network cannot be loaded."""
    pytest.importorskip("aiohttp")
    closed = []
    close = VideoFileSource.close

    def told(self):
        closed.append(self)
        close(self)

    monkeypatch.setattr(VideoFileSource, "close", told)
    before = threading.active_count()
    given = ("--timer", "1s", "--session", "kept", "--share", "--pose-model", "none.task")
    code, _, err = assist(command, empty_room, *LENS, *given)
    assert (code, err.count("\n")) == (2, 1)
    assert "none.task" in err
    assert closed
    assert threading.active_count() == before
    with Session(tmp_path / "kept", SET_UP):  # nobody else has it
        pass


def test_a_session_is_free_again_after_every_command_that_had_it(assist, empty_room, tmp_path):
    for command in ("live", "rehearse", "live"):
        code, _, _ = assist(command, empty_room, *LENS, "--timer", "1s", "--session", "kept")
        assert code == 0, command
    assert [a.attempt for a in read_record(tmp_path / "kept")] == [1, 2]
    assert [s.run for s in read_scores(tmp_path / "kept")] == [1]


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.parametrize(("at_run", "scored"), [(1, []), (2, [1])])
def test_an_interrupt_ends_the_whole_rehearsal_and_keeps_what_was_scored(
    assist, empty_room, tmp_path, monkeypatch, request, at_run, scored
):
    made = []

    class Interrupting(MediaPipePoseDetector):
        def __init__(self, *given, **more):
            super().__init__(*given, **more)
            made.append(self)

        def detect(self, picture, time_s):
            if len(made) == at_run and 0.3 < time_s < 0.5:
                os.kill(os.getpid(), signal.SIGINT)
            return super().detect(picture, time_s)

    monkeypatch.setattr(opening, "MediaPipePoseDetector", Interrupting)
    # Whoever runs the tests in the background may have interrupts ignored.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    request.addfinalizer(lambda: signal.signal(signal.SIGINT, before))
    feeds = (empty_room,) * 3
    code, out, err = assist("rehearse", *feeds, *LENS, "--timer", "1s", "--session", "kept")
    assert (code, len(made)) == (0, at_run), err
    assert [s.run for s in read_scores(tmp_path / "kept")] == scored
    told = "in focus at zero: 0 of 1" if scored else "no run got as far as zero"
    assert told in out


@pytest.mark.parametrize(
    ("command", "option", "text", "noted"),
    [
        ("plan", "--focus", "400", "taken as 400 m; write 400cm for centimetres"),
        ("plan", "--background", "250 ", "taken as 250 m; write 250cm for centimetres"),
        ("plan", "--focus", "400m", ""),
        ("plan", "--focus", "13 ", ""),
        ("calibrate lens", "--focus", "400", "taken as 400 m; write 400cm for centimetres"),
    ],
)
def test_a_very_long_way_without_a_unit_is_remarked(assist, command, option, text, noted):
    given = {"--lens": "35mm", "--focus": "4m", option: text}
    if command == "plan":
        given["--aperture"] = "f/2"
    else:
        given |= {"--out": "camera.toml", "--size": "1920x1080"}
    code, _, err = assist(*command.split(), *(part for pair in given.items() for part in pair))
    assert code == 0, err
    assert err == (f"assist: {option}: {noted}\n" if noted else "")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"when_ready": "2s", "if_not_ready": "go"}, "say with --at-limit take"),
        ({"timer": "5s", "at_limit": "take"}, "--at-limit goes with"),
        ({"timer": "5s", "if_not_ready": "go", "at_limit": "skip"}, "--at-limit goes with"),
        ({"at_limit": "take"}, "needs a timer"),
    ],
)
def test_what_comes_at_the_limit_is_said_of_timers_that_wait(options, words):
    from assist.cli.options.timer import TimedOptions, gather

    with pytest.raises(UserError, match=words):
        gather(TimedOptions(**options))


@pytest.mark.parametrize(
    ("options", "at_limit"),
    [
        ({"when_ready": "2s"}, "skip"),
        ({"when_ready": "2s", "at_limit": "take"}, "take"),
        ({"timer": "5s", "if_not_ready": "hold", "at_limit": "take"}, "take"),
    ],
)
def test_a_timer_that_waits_takes_no_picture_at_its_limit_unless_told(options, at_limit):
    from assist.cli.options.timer import TimedOptions, gather

    assert gather(TimedOptions(**options)).at_limit == at_limit
