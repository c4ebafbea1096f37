"""Bad input that was thought of, one by one; what was not is looked for by `tests/fuzz`."""

import csv
import io
import json
import os
import struct
import sys
import zipfile
import zlib

import cv2
import numpy as np
import pytest
from PIL import Image

from assist import feed
from assist.base import files, journal, reading
from assist.base import image_files as picture_limits
from assist.base.csv_table import to_csv
from assist.base.errors import UserError, shown
from assist.base.trouble import Notices
from assist.calibrate.board import Board
from assist.camera.command import CommandTrigger
from assist.feed.image_folder import ImageFolderSource, natural_order, read_picture
from assist.pose import bundle
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.review import export, picture
from assist.review.examiner import Examiner
from assist.run.repeat import earlier
from assist.session import folder as session
from assist.session import rehearsal
from assist.setup import personal_profile as profile
from assist.setup import set_up as set_ups
from assist.setup.feed_profile import load as load_feed_profile
from tests.assist.test_cli import run
from tests.assist.test_session import SET_UP, attempt
from tests.fuzz import seeds
from tests.memory_of import ran

posix = pytest.mark.skipif(os.name != "posix", reason="links and pipes of POSIX systems")
linux = pytest.mark.skipif(sys.platform != "linux", reason="memory is read from /proc")
LOADERS = {
    "set-up file": set_ups.load,
    "profile": profile.load,
    "feed profile": load_feed_profile,
}

# -- files of the program's own kinds ----------------------------------------------------------


@pytest.mark.parametrize("what", LOADERS)
@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"a = " + b"[" * 3000, "not TOML"),
        (b"a" + b".a" * 3000 + b" = 1", "not TOML"),
        (b"a = '\xff\xfe'", "byte 5 is not UTF-8; save it as UTF-8"),
        ("a = 1".encode("utf-16"), "not UTF-8"),
        (b"a = \x00", "not TOML"),
        (b"#" * (reading.MOST_TOML_BYTES + 1), "larger than 32 kB, the most allowed"),
        (b'nonsense = "' + b"x" * 20_000 + b'"', "nonsense|learned_at|lens|method"),
        (b"version = " + b"9" * 5000, "version|not TOML"),
    ],
)  # fmt: skip
def test_a_file_that_is_none_of_ours_is_one_bearable_line(tmp_path, what, content, words):
    path = tmp_path / "a.toml"
    path.write_bytes(content)
    with pytest.raises(UserError, match=words) as told:
        LOADERS[what](path)
    assert len(str(told.value)) < 500 + len(str(path))


@pytest.mark.parametrize("what", LOADERS)
def test_a_file_of_a_newer_program_is_told_so(tmp_path, what):
    (tmp_path / "a.toml").write_text("version = 2\nof_tomorrow = true\n")
    with pytest.raises(UserError, match="version 2 is newer than this program reads"):
        LOADERS[what](tmp_path / "a.toml")


@pytest.mark.parametrize("what", LOADERS)
def test_a_name_that_cannot_be_is_told(tmp_path, what):
    for name in ("a\0b", "x" * 5000, "."):
        with pytest.raises(UserError, match="cannot be read"):
            LOADERS[what](tmp_path / name)


@posix
@pytest.mark.parametrize("what", LOADERS)
def test_a_pipe_or_a_device_is_not_waited_for(tmp_path, what):
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", "/dev/zero"):
        with pytest.raises(UserError, match="not an ordinary file"):
            LOADERS[what](files.Path(path))
    with pytest.raises(UserError, match="not an ordinary file"):
        feed.open_source(str(tmp_path / "pipe"))


def test_a_byte_order_mark_does_no_harm(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbf" + set_ups.to_toml(SET_UP).encode())
    assert set_ups.load(path) == SET_UP


@pytest.mark.parametrize(
    ("part", "field", "value"),
    [
        ("lens", "focal_length_mm", 1e-300), ("lens", "f_number", 1e-5),
        ("lens", "f_number", "inf"),
        ("lens", "focus_distance_m", 1e300), ("lens", "focus_distance_m", float("nan")),
        ("camera", "sensor", "0.0001x24"), ("camera", "sensor", "9e9x24"),
        ("camera", "picture_width_px", 10**30), ("camera", "sensor", "1.2.3x4"),
        ("sharpness", "criterion", "diagonal/1e-9"), ("sharpness", "criterion", "1 km"),
        ("sharpness", "criterion", "diagonal/1e300"), ("exposure", "shutter_s", 1e-300),
    ],
)  # fmt: skip
def test_numbers_that_no_camera_has_are_refused(part, field, value):
    values = SET_UP.model_dump(exclude_none=True)
    values[part] = {**values[part], field: value}
    with pytest.raises(UserError, match=f"{part}|{field}|criterion"):
        set_ups.from_values(values)


def test_long_values_are_cut_in_messages():
    assert shown("x" * 100_000) == repr("x" * 59)[:56] + " ..."
    with pytest.raises(UserError) as told:
        set_ups.from_values({"lens": {"focal_length_mm": "9" * 100_000}})
    assert len(str(told.value)) < 300


# -- sessions ----------------------------------------------------------------------------------


def record(folder, *lines):
    with session.Session(folder, SET_UP) as kept:
        kept.append(attempt(1))
    with (folder / session.RECORD_FILE).open("ab") as file:
        file.write(b"".join(line + b"\n" for line in lines))
    return folder


@pytest.mark.parametrize(
    "line",
    [
        b"", b"null", b"[1]", b"\xff", b"[" * 60_000, b"1" * 70_000, b'{"version":0}',
        json.dumps({**seeds.ATTEMPT, "distance_m": "nan"}).encode(),
        json.dumps({**seeds.ATTEMPT, "distance_m": float("inf")}).encode(),
        json.dumps({**seeds.ATTEMPT, "to_mark_m": 1e300}).encode(),
        json.dumps({**seeds.ATTEMPT, "attempt": 10**20}).encode(),
        json.dumps({**seeds.ATTEMPT, "feed": "\ud800"}).encode(),
    ],
)  # fmt: skip
def test_a_damaged_last_line_costs_itself_alone(tmp_path, line):
    """Also when its end is whole, and after the next line has followed it."""
    record(tmp_path, line)
    assert [a.attempt for a in session.read_record(tmp_path)] == [1]
    with session.Session(tmp_path, SET_UP) as kept:
        kept.append(attempt(kept.next_attempt))
    assert [a.attempt for a in session.read_record(tmp_path)] == [1, 2]
    if line:
        torn = tmp_path / f"record{journal.TORN_SUFFIX}"
        assert torn.read_bytes() == line + b"\n"


def test_scores_go_on_after_a_power_cut_too(tmp_path):
    kept = rehearsal.RunScore.model_validate(seeds.RUN_SCORE)
    path = tmp_path / rehearsal.RECORD_FILE
    for _ in range(2):
        with session.Session(tmp_path, SET_UP) as folder:
            rehearsal.ScoreBook(folder, Notices()).keep(kept)
        path.write_bytes(path.read_bytes() + path.read_bytes()[:50])
    assert rehearsal.read_scores(tmp_path) == [kept, kept]


def test_a_record_larger_than_any_real_one_is_refused(tmp_path):
    record(tmp_path, *[b"{}"] * (journal.MOST_LINES + 1))
    with pytest.raises(UserError, match="more than 40000 lines"):
        session.read_record(tmp_path)
    (tmp_path / session.RECORD_FILE).write_bytes(b"")
    os.truncate(tmp_path / session.RECORD_FILE, reading.MOST_RECORD_BYTES + 1)
    with pytest.raises(UserError, match="larger than 64 MB"):
        session.read_record(tmp_path)


@pytest.mark.parametrize(
    "name", ["../outside.png", "/etc/outside.png", "..", "a\\b.png", "a\0.png"]
)
def test_a_record_leads_to_no_picture_outside_its_folder(tmp_path, name):
    folder = tmp_path / "kept"
    line = json.dumps({**seeds.ATTEMPT, "picture": name}).encode()
    record(folder, line, json.dumps(seeds.ATTEMPT).encode())
    (tmp_path / "outside.png").write_bytes(seeds.pictures()[2])
    with pytest.raises(UserError, match="no picture to repeat"):
        earlier.choose(folder, None, own_lens=False)


@posix
def test_nothing_is_written_through_a_link_in_a_session(tmp_path, monkeypatch, capsys):
    outside = tmp_path / "outside"
    outside.write_bytes(b"mine\n")
    for name in (session.RECORD_FILE, f"record{journal.TORN_SUFFIX}"):
        folder = tmp_path / f"with-{name}"
        folder.mkdir()
        (folder / name).symlink_to(outside)
        with pytest.raises(UserError, match="is a link"):
            session.Session(folder, SET_UP)
    folder = tmp_path / "kept"
    record(folder)
    for name in (session.SET_UP_FILE, session.PROFILE_FILE, "picture-0001.png", "attempts.csv"):
        (folder / name).unlink(missing_ok=True)
        (folder / name).symlink_to(outside)
        files.write_whole(folder / name, b"new")
        assert not (folder / name).is_symlink()
    with pytest.raises(OSError):
        (folder / "late.jsonl").symlink_to(outside)
        journal.add(folder / "late.jsonl", b"x\n")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (folder / "review").symlink_to(elsewhere, target_is_directory=True)
    Image.fromarray(seeds.picture()).save(tmp_path / "a.jpg")
    set_ups.save(SET_UP, folder / session.SET_UP_FILE)
    code, _, err = run(
        capsys, monkeypatch, "review", tmp_path / "a.jpg", "--session", folder
    )  # fmt: skip
    assert (code, err.count("\n")) == (2, 1)
    assert "is a link" in err
    assert not list(elsewhere.iterdir())
    assert outside.read_bytes() == b"mine\n"


def test_no_cell_of_a_table_is_a_formula_not_even_in_its_head():
    wicked = "=cmd|' /C calc'!A1"
    content = to_csv([{wicked: wicked, "b": ["ok", wicked], "c": "\ud800x"}], [wicked, "b", "c"])
    cells = [c for row in csv.reader(io.StringIO(content.decode("utf-8-sig"))) for c in row]
    assert len(cells) == 6
    assert not [c for c in cells if c.startswith("=") or "; =" in c]


def test_what_files_say_moves_no_cursor(tmp_path, monkeypatch, capsys):
    wicked = "\x1b]0;title\x07\x1b[2Jtext\u202egnp"
    folder = record(tmp_path / "kept", json.dumps({**seeds.ATTEMPT, "problem": wicked}).encode())
    code, out, _ = run(capsys, monkeypatch, "sessions", "show", folder)
    assert code == 0
    assert "\\x1b[2Jtext\\u202egnp" in out
    assert not set(out) & set("\x1b\x07\u202e")
    code, _, err = run(capsys, monkeypatch, "sessions", "show", tmp_path / "a\x1b[2Jb")
    assert code == 2
    assert "\x1b" not in err


# -- pictures ----------------------------------------------------------------------------------


def png(width, height, rows):
    """A PNG that claims a size, with so many rows of zeros in it."""

    def chunk(kind, body):
        checked = kind + body
        return struct.pack(">I", len(body)) + checked + struct.pack(">I", zlib.crc32(checked))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    packer = zlib.compressobj(9)
    row = b"\0" * (1 + 3 * width)
    body = b"".join(packer.compress(row) for _ in range(rows)) + packer.flush()
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@linux
def test_a_picture_that_claims_gigabytes_takes_no_memory(tmp_path):
    (tmp_path / "a.png").write_bytes(png(60_000, 60_000, 10))
    (tmp_path / "b.png").write_bytes(png(9_500, 9_500, 10))
    code = """
from pathlib import Path
from assist.feed.image_folder import read_picture
from assist.review.picture import UnreadableError, open_picture
for name in ("a.png", "b.png"):
    path = Path(sys.argv[1]) / name
    try:
        open_picture(path)
    except UnreadableError as error:
        print(error)
    print(read_picture(path))
"""
    told = ran(code, tmp_path)
    assert told.said.count("too many") + told.said.count("more than") == 2
    assert told.said.count("None") == 2
    assert told.peak_mb < 250


@pytest.mark.parametrize("shape", [(1, 5000), (9000, 2), (1, 1), (3, 60_000)])
@pytest.mark.parametrize("ending", [".png", ".jpg"])
def test_a_picture_of_an_absurd_shape_is_looked_at_all_the_same(tmp_path, shape, ending):
    path = tmp_path / f"a{ending}"
    Image.fromarray(np.zeros((*shape, 3), np.uint8)).save(path)
    opened = picture.open_picture(path)
    assert opened.whole.shape[:2] == shape
    assert max(opened.small.shape[:2]) <= 2 * picture.SMALL_SIDE_PX
    assert Examiner(Nobody(), SET_UP).examine(path).checked.why == "no one found in it"


def test_a_png_whose_chunk_claims_gigabytes_is_told(tmp_path):
    content = seeds.pictures()[2]
    at = content.index(b"IDAT") - 4
    lying = content[:at] + b"\x7f\xff\xff\x00" + content[at + 4 :]
    gigabytes = b"\x7f\xff\xff\x00junkjunk"
    full_end = b"\0\0\0\4IENDmore" + struct.pack(">I", zlib.crc32(b"IENDmore")) + gigabytes
    for bad in (lying, content[:-12] + gigabytes, content[:-12] + full_end, content[:-6]):
        (tmp_path / "a.png").write_bytes(bad)
        assert picture_limits.decoded(bad) is None
        assert read_picture(tmp_path / "a.png") is None
    assert picture_limits.decoded(content) is not None


def test_a_name_does_not_make_a_picture(tmp_path):
    """Pillow knows kinds that start other programs; a file called .jpg may be none of them."""
    path = tmp_path / "a.jpg"
    path.write_bytes(b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n%%EndComments\n")
    with pytest.raises(picture.UnreadableError):
        picture.open_picture(path)
    assert read_picture(path) is None


@posix
def test_a_pipe_called_a_picture_is_told(tmp_path):
    os.mkfifo(tmp_path / "a.jpg")
    os.mkfifo(tmp_path / "b.dng")
    with pytest.raises(picture.UnreadableError, match="not an ordinary file"):
        picture.open_picture(tmp_path / "a.jpg")
    assert read_picture(tmp_path / "a.jpg") is None
    pytest.importorskip("rawpy")
    with pytest.raises(picture.UnreadableError, match="not an ordinary file"):
        picture.open_picture(tmp_path / "b.dng")


@pytest.mark.filterwarnings("ignore::UserWarning")
def test_rubbish_called_raw_is_told(tmp_path):
    pytest.importorskip("rawpy")
    for k, content in enumerate((b"", b"II*\0" + b"\xff" * 200, seeds.pictures()[3])):
        (tmp_path / f"{k}.dng").write_bytes(content)
        with pytest.raises(picture.UnreadableError):
            picture.open_picture(tmp_path / f"{k}.dng")


@pytest.mark.parametrize(
    ("tag", "value"),
    [
        ("SubsecTimeOriginal", "²"), ("SubsecTimeOriginal", "9" * 4000),
        ("OffsetTimeOriginal", "+9999999999999999:00"), ("OffsetTimeOriginal", "+99:00"),
        ("DateTimeOriginal", "9999:12:31 23:59:59"), ("LensModel", "\x1b[2J<script>" * 50),
        ("FNumber", 1e-300), ("FocalLength", 1e-300), ("FocalLengthIn35mmFilm", 65535),
        ("ExposureTime", 1e-300), ("ISOSpeedRatings", 0),
    ],
)  # fmt: skip
def test_a_tag_that_cannot_be_costs_itself_alone(tmp_path, tag, value):
    made = seeds.exif()
    inner = made.get_ifd(0x8769)
    inner[getattr(seeds.TAG, tag)] = value
    path = tmp_path / "a.png"
    Image.fromarray(seeds.picture()).save(path, exif=made)
    opened = picture.open_picture(path)
    assert (opened.width_px, opened.height_px) == (48, 64)
    if tag != "FNumber":
        assert opened.tags.f_number == 2.8
    examined = Examiner(Nobody(), SET_UP).examine(path)
    assert examined.checked.why == "no one found in it"


class Nobody:
    """A detector that finds no one."""

    def detect(self, image, time_s):
        return []

    def close(self):
        pass


@posix
def test_a_name_that_is_no_text_is_reviewed_like_any_other(tmp_path):
    path = os.fsdecode(os.fsencode(str(tmp_path)) + b"/\xff<b>.png")
    Image.fromarray(seeds.picture()).save(path)
    checked = Examiner(Nobody(), SET_UP).examine(files.Path(path)).checked
    assert checked.file.endswith("\\xff<b>.png")
    assert b"\\xff<b>.png" in export.pictures_csv([checked])
    assert sorted([files.Path("²1.jpg"), files.Path("a2.jpg")], key=natural_order)
    assert ImageFolderSource(tmp_path).read() is not None


def test_pictures_of_many_pixels_wait_for_each_other():
    budget = picture_limits.PixelBudget(100)
    import threading

    order = []
    with budget.taking(80):
        other = threading.Thread(target=lambda: _use(budget, 50, order))
        small = threading.Thread(target=lambda: _use(budget, 10, order))
        other.start()
        small.start()
        small.join(5)
        assert order == [10]
    other.join(5)
    assert order == [10, 50]
    with budget.taking(10**9):  # one that is larger than all goes alone
        pass


def _use(budget, pixels, order):
    with budget.taking(pixels):
        order.append(pixels)


@pytest.mark.parametrize("inside", [b"", b"junk" * 100])
def test_a_pose_model_of_rubbish_is_one_line(tmp_path, inside):
    path = tmp_path / "junk.task"
    with zipfile.ZipFile(path, "w") as archive:
        for name in (bundle.DETECTOR, bundle.LANDMARKER):
            archive.writestr(name, inside)
    with pytest.raises(UserError, match="cannot be loaded"):
        MediaPipePoseDetector(path)


def test_a_pose_model_that_unpacks_to_gigabytes_is_not_unpacked(tmp_path, monkeypatch):
    monkeypatch.setattr(bundle, "_MOST_BYTES", 100_000)
    path = tmp_path / "bomb.task"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in (bundle.DETECTOR, bundle.LANDMARKER):
            archive.writestr(name, b"\0" * 60_000)
    assert path.stat().st_size < 1000
    assert not bundle.is_bundle(path)


# -- feeds and commands ------------------------------------------------------------------------


def test_a_video_of_enormous_pictures_is_refused(tmp_path, monkeypatch):
    from assist.feed import video_file

    path = tmp_path / "a.avi"
    path.write_bytes(seeds.videos()[1])
    monkeypatch.setattr(video_file, "MOST_FRAME_PIXELS", 64 * 48 - 1)
    with pytest.raises(UserError, match="64 x 48 pixels, too many"):
        feed.open_source(str(path))


@pytest.mark.parametrize(
    "name", ["file:///etc/passwd", "concat://a", "subfile://a", "x" * 5000, "a\0b", "٣", "9" * 50]
)
def test_a_feed_that_cannot_be_is_told_in_a_line(name):
    with pytest.raises(UserError) as told:
        feed.open_source(name)
    assert len(str(told.value)) < 400


def test_a_video_called_like_an_address_is_a_file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    try:
        (tmp_path / "tcp:192.0.2.1:9").write_bytes(seeds.videos()[0])
    except OSError:
        pytest.skip("this system has no such names")
    source = feed.open_source("tcp:192.0.2.1:9")
    assert source.read() is not None
    source.close()


def test_a_playlist_called_a_video_fetches_nothing(tmp_path):
    """The video library knows playlists; one that lies on a disk must not reach the network."""
    import socket

    with socket.create_server(("127.0.0.1", 0)) as listening:
        port = listening.getsockname()[1]
        path = tmp_path / "a.mp4"
        path.write_text(f"#EXTM3U\n#EXTINF:1,\nhttp://127.0.0.1:{port}/a.ts\n#EXT-X-ENDLIST\n")
        with pytest.raises(UserError):
            source = feed.open_source(str(path))
            source.read()
        listening.settimeout(0.3)
        with pytest.raises(TimeoutError):
            listening.accept()


def test_a_board_larger_than_any_paper_is_refused():
    for columns, rows, side_mm in ((100_000, 100_000, 1.0), (4, 4, 1000.0)):
        with pytest.raises(UserError, match="A0"):
            Board("chessboard", columns, rows, side_mm)


@linux
def test_a_command_that_never_stops_talking_takes_no_memory(tmp_path):
    code = """
from pathlib import Path
from assist.camera.command import CommandTrigger
talk = "import sys; [sys.stdout.write('x' * 10**6) for _ in range(400)]; print('last'); sys.exit(3)"
fired = CommandTrigger((sys.executable, "-c", talk), Path(sys.argv[1])).fire(None, 1)
print(fired.exit_code, fired.problem[-30:])
"""
    told = ran(code, tmp_path)
    assert told.said.startswith("3 ")
    assert told.peak_mb < 250


def test_names_in_a_command_are_arguments_and_nothing_more(tmp_path):
    """A folder of any name comes through as one argument; no shell, no second substitution."""
    folder = tmp_path / "a b; touch c && $(touch d) `touch e` {attempt} '\" %PATH%"
    folder.mkdir()
    out = tmp_path / "got.json"
    code = "import json, sys; json.dump(sys.argv[2:], open(sys.argv[1], 'w'))"
    arguments = (sys.executable, "-c", code, str(out), "{folder}", "{attempt}", "$HOME; ls")
    assert CommandTrigger(arguments, folder).fire(np.zeros((2, 2, 3), np.uint8), 7).problem == ""
    assert json.loads(out.read_text()) == [str(folder.resolve()), "7", "$HOME; ls"]
    assert {p.name for p in tmp_path.iterdir()} == {folder.name, "got.json"}
    assert not list(folder.iterdir())


def test_what_the_system_refuses_is_one_line(monkeypatch, capsys):
    """Whatever a command meets on the disk, the user is told in a line."""

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied", "/somewhere")

    monkeypatch.setattr("assist.session.told.read_record", refuse)
    monkeypatch.setattr("assist.session.told.is_session", lambda folder: True)
    code, _, err = run(capsys, monkeypatch, "sessions", "show", ".")
    assert code == 2
    assert err == "assist: cannot use /somewhere: Permission denied\n"


def test_the_decoder_has_no_picture_of_its_own_idea(tmp_path):
    """What Pillow measured and what OpenCV decodes is one size, for each kind."""
    for k, content in enumerate(seeds.pictures()):
        with picture_limits.opened(content) as image:
            size = {image.width, image.height}
        decoded = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)
        if decoded is not None:
            assert set(decoded.shape[:2]) == size, k
