"""What is fuzzed: plain functions from bytes to None.

Each gives the bytes to the program as one kind of input. A `UserError` of one bearable line, or a
correct result, is right; anything else - another exception, a wrong result - is a finding. The
Hypothesis tests and the coverage-guided run by hand use the same functions.
"""

from __future__ import annotations

import atexit
import contextlib
import csv
import html.parser
import io
import json
import logging
import math
import shutil
import socket
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, cast

import numpy as np
import tomlkit
from aiohttp.http_exceptions import HttpProcessingError
from markupsafe import Markup

from assist.base import units as quantities
from assist.base.csv_table import to_csv
from assist.base.errors import UserError
from assist.base.files import printable
from assist.base.image_files import MOST_FRAME_PIXELS, MOST_PIXELS
from assist.base.words import Words
from assist.camera import command
from assist.distance import BodyDistance, CueAbsent
from assist.distance.engine import DistanceEngine
from assist.feed import motion_jpeg
from assist.feed.h264_order import held_back
from assist.feed.image_folder import natural_order, read_picture
from assist.feed.video_file import VideoFileSource
from assist.output.phone.guard import own_hosts, refusal
from assist.output.phone.page_words import page_words
from assist.output.phone.pairing import Pairing, PairingOutcome
from assist.output.phone.server import ShareServer
from assist.report import as_page, as_pdf, summary
from assist.review import batch, export, picture, zone_plot
from assist.review import report as review_report
from assist.review.best_attempt import read_review
from assist.review.checked import CheckedPicture
from assist.review.examiner import facts_of
from assist.review.taking_lens import taken_with
from assist.run import true_distances
from assist.run.repeat import earlier
from assist.session import folder as session
from assist.session import rehearsal
from assist.session import told as sessions_told
from assist.setup import feed_profile, stated
from assist.setup import personal_profile as profile
from assist.setup import set_up as set_ups
from assist.setup.body import Person
from assist.setup.feed_geometry import FeedGeometry
from optics.camera import PinholeCamera
from tests.assist.synthetic import standing_pose
from tests.fuzz import seeds
from tests.fuzz.draw import Draw, mutated

LONGEST_MESSAGE = 700
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


@lru_cache
def folder() -> Path:
    """A folder for the files of this process; gone when it ends."""
    shared_memory = Path("/dev/shm")
    made = tempfile.mkdtemp(prefix="fuzz-", dir=shared_memory if shared_memory.is_dir() else None)
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    return Path(made)


def _written(name: str, content: bytes) -> Path:
    path = folder() / name
    path.write_bytes(content)
    return path


def _bearable(error: Exception) -> None:
    """An error for the user: some words, not a page."""
    message = str(error)
    assert message.strip()
    assert len(message) <= LONGEST_MESSAGE, message


def _toml(values: dict[str, Any]) -> bytes:
    return tomlkit.dumps(values).encode("utf-8", "surrogatepass")


def _json(values: Any) -> bytes:
    return json.dumps(values).encode()


# -- set-up and profiles ----------------------------------------------------------------------


def set_up_text(data: bytes) -> None:
    """A set-up file, byte by byte."""
    path = _written("set-up.toml", data)
    try:
        chosen = stated.set_up_from(path, {})
    except UserError as error:
        return _bearable(error)
    return _use_set_up(chosen, data)


def set_up_values(data: bytes) -> None:
    """A set-up whose fields hold anything."""
    values = mutated(seeds.SET_UP, Draw(data))
    if not isinstance(values, dict):
        return None
    try:
        chosen = set_ups.from_values(values)
    except UserError as error:
        return _bearable(error)
    return _use_set_up(chosen, data)


def _use_set_up(chosen: set_ups.SetUp, data: bytes) -> None:
    """All that a run asks of it; and it survives being saved."""
    zone = chosen.focus_zone
    near_m, far_m = float(zone.near_m), float(zone.far_m)
    assert 0 < near_m <= chosen.focus_lens_distance_m * (1 + 1e-9), (near_m, chosen)
    assert far_m >= chosen.focus_lens_distance_m * (1 - 1e-9), (far_m, chosen)
    assert math.isfinite(chosen.sensor_offset_m)
    stated = chosen.feed.model_copy(update={"profile": None})
    camera = FeedGeometry(stated, chosen.camera, chosen.lens).camera(1280, 720)
    assert math.isfinite(camera.fx_px) and camera.fx_px > 0
    assert chosen.feed.offset is None or math.isfinite(chosen.feed.offset.along_m)
    assert chosen.person.step_m is None or chosen.person.step_m > 0
    zone_plot.draw(near_m, far_m, chosen.focus_lens_distance_m, [zone_plot.Place("you", 3.0, 0.1)])
    summary.plan_facts(chosen, chosen.focus_zone)
    if sum(data) % 8:  # reading and writing TOML takes ten times as long as all the rest
        return
    again = set_ups.from_values(tomlkit.parse(set_ups.to_toml(chosen)).unwrap())
    assert again == chosen


def profile_text(data: bytes) -> None:
    """A personal profile, byte by byte."""
    path = _written("profile.toml", data)
    try:
        known = profile.load(path)
    except UserError as error:
        return _bearable(error)
    return _measure(known, None)


def profile_values(data: bytes) -> None:
    """A personal profile whose fields hold anything."""
    return profile_text(_toml(mutated(seeds.PROFILE, Draw(data))))


def feed_profile_text(data: bytes) -> None:
    """A feed's profile, byte by byte."""
    path = _written("feed.toml", data)
    try:
        camera = feed_profile.load(path).camera(1280, 720)
    except UserError as error:
        return _bearable(error)
    return _measure(None, camera)


def feed_profile_values(data: bytes) -> None:
    """A feed's profile whose fields hold anything."""
    return feed_profile_text(_toml(mutated(seeds.FEED_PROFILE, Draw(data))))


def _measure(known: profile.PersonalProfile | None, camera: PinholeCamera | None) -> None:
    """A distance by such a profile: finite, or none."""
    usual = PinholeCamera.from_field_of_view(1.2, 1280, 720)
    engine = DistanceEngine(camera or usual, Person(1.7, known))
    measured = engine.measure(standing_pose(usual, 4.0))
    assert isinstance(measured, (BodyDistance, CueAbsent))
    if isinstance(measured, BodyDistance):
        assert measured.eyes_m > 0, measured
        assert measured.eyes_sd_m >= 0, measured


# -- sessions ---------------------------------------------------------------------------------


def _session_folder() -> Path:
    made = folder() / "session"
    shutil.rmtree(made, ignore_errors=True)
    made.mkdir()
    (made / session.SET_UP_FILE).write_bytes(_toml(seeds.SET_UP))
    return made


def record_text(data: bytes) -> None:
    """A session's record, byte by byte."""
    _record(data)


def record_values(data: bytes) -> None:
    """A session's record whose fields hold anything."""
    draw = Draw(data)
    lines = [_json(mutated(seeds.ATTEMPT, draw)), _json(seeds.ATTEMPT)]
    _record(b"\n".join(lines if draw.byte() % 4 else lines[::-1]) + b"\n")


def _record(content: bytes) -> None:
    kept = _session_folder()
    (kept / session.RECORD_FILE).write_bytes(content)
    try:
        attempts = session.read_record(kept)
    except UserError as error:
        return _bearable(error)
    sessions_told.lines_of(attempts)
    _no_formula(sessions_told.attempts_csv(attempts))
    batch.with_record([CheckedPicture.model_validate(seeds.CHECKED)], attempts)
    with contextlib.suppress(UserError):
        assert earlier.choose(kept, None, own_lens=False).path.parent == kept
    try:
        with session.Session(kept, set_ups.from_values(seeds.SET_UP)) as opened:
            opened.append(session.Attempt.model_validate(seeds.ATTEMPT))
    except UserError as error:
        return _bearable(error)
    whole = session.read_record(kept)
    assert len(whole) == len(attempts) + 1, "what could be read is lost, or what is new"
    return None


def rehearsals_text(data: bytes) -> None:
    """The scores of rehearsals: bytes, or fields that hold anything."""
    kept = _session_folder()
    draw = Draw(data)
    content = (
        draw.rest()
        if draw.byte() % 4 == 0
        else seeds.json_lines(mutated(seeds.RUN_SCORE, draw), seeds.RUN_SCORE)
    )
    (kept / rehearsal.RECORD_FILE).write_bytes(content)
    try:
        scores = rehearsal.read_scores(kept)
    except UserError as error:
        return _bearable(error)
    zone = set_ups.from_values(seeds.SET_UP).focus_zone
    assert all(rehearsal.advise(scores[:n], zone) for n in range(1, len(scores) + 1))
    return None


def report(data: bytes) -> None:
    """A session's report as page and PDF, whatever its files hold."""
    kept = _session_folder()
    draw = Draw(data)
    attempts = [mutated(seeds.ATTEMPT, draw) if draw.byte() % 2 else seeds.ATTEMPT for _ in "ab"]
    (kept / session.RECORD_FILE).write_bytes(seeds.json_lines(*attempts, seeds.ATTEMPT))
    scores = [mutated(seeds.RUN_SCORE, draw) if draw.byte() % 2 else seeds.RUN_SCORE]
    (kept / rehearsal.RECORD_FILE).write_bytes(seeds.json_lines(*scores, seeds.RUN_SCORE))
    if draw.byte() % 2:
        values = mutated(seeds.SET_UP, draw)
        with contextlib.suppress(UserError):
            set_ups.save(set_ups.from_values(values), kept / session.SET_UP_FILE)
    checked = {"version": 1, "pictures": [mutated(seeds.CHECKED, draw), seeds.CHECKED]}
    (kept / "review").mkdir()
    (kept / "review" / "review.json").write_bytes(_json(checked))
    try:
        told = summary.gather(kept)
    except UserError as error:
        return _bearable(error)
    _safe_page(as_page.page_of(told))
    assert as_pdf.pdf_of(told).startswith(b"%PDF")
    return None


def review_json(data: bytes) -> None:
    """A kept review's values in its page and tables."""
    kept = _session_folder()
    (kept / "review").mkdir()
    draw = Draw(data)
    content = (
        draw.rest()
        if draw.byte() % 8 == 0
        else _json({"version": 1, "pictures": [mutated(seeds.CHECKED, draw), seeds.CHECKED]})
    )
    (kept / "review" / "review.json").write_bytes(content)
    try:
        pictures = read_review(kept).pictures
    except UserError as error:
        return _bearable(error)
    finished, found = batch.finish(pictures, [session.Attempt.model_validate(seeds.ATTEMPT)])
    _safe_page(review_report.page_of(finished, found, "a session"))
    _no_formula(export.pictures_csv(finished))
    json.loads(export.pictures_json(finished))
    return None


class _Elements(html.parser.HTMLParser):
    """Elements and attributes of a page that could do something."""

    def __init__(self) -> None:
        super().__init__()
        self.active: list[str] = []

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "iframe", "object", "embed", "form", "base", "link"):
            self.active.append(tag)
        for name, value in attributes:
            inside = value or ""
            outward = name in ("src", "href") and (
                ":" in inside.split("/")[0] and not inside.startswith("data:image/svg+xml;base64,")
            )
            if name.startswith("on") or outward or "/" in (inside if name == "href" else ""):
                self.active.append(f"{tag} {name}={inside[:80]}")


def _safe_page(content: bytes) -> None:
    looked = _Elements()
    looked.feed(content.decode())
    assert not looked.active, looked.active


def _no_formula(content: bytes) -> None:
    """Every cell of text, the heads included, is no formula to a spreadsheet."""
    for row in csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")):
        for cell in row:
            try:
                float(cell)
            except ValueError:
                assert not cell.startswith(_FORMULA), cell


# -- pictures and videos ----------------------------------------------------------------------


def tags(data: bytes) -> None:
    """A good picture with any block of tags: always read, and what follows from tags is sane."""
    jpeg = seeds.pictures()[1]
    block = b"Exif\0\0" + data[:65000] if not data.startswith(b"Exif\0\0") else data[:65500]
    content = jpeg[:2] + b"\xff\xe1" + (len(block) + 2).to_bytes(2, "big") + block + jpeg[2:]
    opened = picture.open_picture(_written("a.jpg", content))
    assert {opened.width_px, opened.height_px} == {64, 48}
    for chosen in (None, set_ups.from_values(seeds.SET_UP)):
        lens = taken_with(opened.tags, opened.width_px, opened.height_px, chosen)
        assert lens.limit_px > 0
        checked = facts_of(opened, lens)
        _no_formula(export.pictures_csv([checked]))
        _safe_page(review_report.page_of([checked], None))


_SUFFIXES = (".jpg", ".png", ".tif")


def pictures(data: bytes) -> None:
    """A picture file of any content."""
    path = _written(f"any{_SUFFIXES[len(data) % 3]}", data)
    try:
        opened = picture.open_picture(path)
    except picture.UnreadableError as error:
        _bearable(error)
    else:
        assert opened.whole.dtype == np.uint8 and opened.whole.ndim == 3
        assert 0 < opened.width_px * opened.height_px <= MOST_PIXELS
        assert max(opened.small.shape[:2]) <= 2 * picture.SMALL_SIDE_PX
    read = read_picture(path)
    assert read is None or read.size <= 3 * MOST_PIXELS


def videos(data: bytes) -> None:
    """A video file of any content."""
    path = _written("any.mp4", data)
    source = None
    try:
        source = VideoFileSource(path)
        last_s = -1.0
        for _ in range(12):
            frame = source.read()
            if frame is None:
                break
            assert frame.time_s > last_s
            assert 0 < frame.picture.size <= 3 * MOST_FRAME_PIXELS
            last_s = frame.time_s
    except UserError as error:
        _bearable(error)
    finally:
        if source is not None:
            source.close()


class _Answer:
    """An answer over HTTP that brings so many bytes at a time."""

    def __init__(self, data: bytes, at_once: int) -> None:
        self._left, self._at_once = io.BytesIO(data), at_once

    def read1(self, most: int) -> bytes:
        """Some more."""
        return self._left.read(min(most, self._at_once))


def motion_jpeg_parts(data: bytes) -> None:
    """Whatever a sender of motion JPEG sends, in pieces of any size."""
    whole = bytes(data)
    for at_once in (len(whole) % 7 + 1, 65_536):
        with socket.socket() as unused:
            link = motion_jpeg.Link(unused, cast("Any", _Answer(whole, at_once)), 0.0)
            taken = 0
            with contextlib.suppress(ValueError):
                while (part := link.part()) is not None:
                    taken += len(part.jpeg)
                    assert part.jpeg[:2] == b"\xff\xd8" and part.jpeg in whole
                    assert part.fresh_s <= part.began_s <= part.arrived_s
            assert taken <= len(whole)


def _motion_jpeg() -> list[bytes]:
    jpeg = seeds.pictures()[1]
    head = b"--b\r\nContent-Type: image/jpeg\r\nX-Timestamp: %d.5\r\nContent-Length: %d\r\n\r\n"
    return [
        b"".join(head % (n, len(jpeg)) + jpeg + b"\r\n" for n in range(3)),
        b"--b\n\n" + jpeg + b"\n--b\n\n" + jpeg + b"\n",
        b"Content-Length: 99999999\r\n\r\n\xff\xd8\xff\xd9",
    ]


def h264_configuration(data: bytes) -> None:
    """Whatever a stream says of its decoder."""
    for content in (data, b"\0\0\1\x67" + data):
        count = held_back(content)
        assert count is None or count >= 0


def _h264_configuration() -> list[bytes]:
    usual = "0000016764001eacd940a02ff961000003000100000300320f162d960000000168ebe3cb22c0"
    return [bytes.fromhex(usual), b"\x01\x64\0\x1e\xff\xe1\0\4\x67\x64\0\x1e"]


# -- words ------------------------------------------------------------------------------------


def typed(data: bytes) -> None:
    """Anything typed where a quantity is asked for, or a command, or a table of truth read."""
    words = data.decode("utf-8", "surrogateescape")
    for parse in (
        quantities.parse_length_m,
        quantities.parse_focal_length_mm,
        quantities.parse_f_number,
        quantities.parse_seconds,
        quantities.parse_angle_deg,
        quantities.parse_iso,
        quantities.parse_exposure_value,
        quantities.parse_share,
        quantities.parse_metered_exposure,
    ):
        try:
            value: Any = parse(words)
        except ValueError as error:
            _bearable(error)
        else:
            assert np.isfinite(value).all(), (parse, words)
    with contextlib.suppress(UserError):
        assert all(isinstance(argument, str) for argument in command.split(words))
    with contextlib.suppress(UserError):
        true_distances.load(_written("truth.csv", b"time_s,eye_mid_z_m\n" + data))


def names(data: bytes) -> None:
    """A name from a disk or a file, shown: on a page, in a table, in a message, in order."""
    name = data.decode("utf-8", "surrogateescape").replace("\0", "")
    shown = printable(name)
    shown.encode()
    _safe_page(Markup('<p title="{0}">{0}</p>').format(shown).encode())
    _no_formula(to_csv([{shown or "a": shown, "b": [shown, shown]}], [shown or "a", "b"]))
    sorted([Path(name or "a"), Path("10"), Path("9"), Path("a1")], key=natural_order)


# -- the shared page --------------------------------------------------------------------------


def requests(data: bytes) -> None:
    """Heads, codes and secrets that are not the right ones."""
    draw = Draw(data)
    given = draw.rest().decode("utf-8", "surrogateescape")
    pairing = Pairing()
    assert pairing.pair(given)[0] is PairingOutcome.WRONG
    assert not pairing.knows(given)
    hosts = own_hosts("192.0.2.7", 8000)
    for name in ("Host", "Origin", "Sec-Fetch-Site"):
        heads = {"Host": "192.0.2.7:8000", "Origin": "http://192.0.2.7:8000", name: given}
        why = refusal("POST", heads, hosts)
        right = {"Host": "192.0.2.7:8000", "Origin": "http://192.0.2.7:8000",
                 "Sec-Fetch-Site": "same-origin"}  # fmt: skip
        assert why is not None or given.lower() in (right[name], "none")


@dataclass
class _Wire:
    server: ShareServer
    trouble: list[str]


class _Listen(logging.Handler):
    def __init__(self, trouble: list[str]) -> None:
        super().__init__(logging.WARNING)
        self._trouble = trouble

    def emit(self, record: logging.LogRecord) -> None:
        # A request that is no HTTP is logged too; only what our own handlers raise is a fault.
        error = record.exc_info[1] if record.exc_info else None
        if not isinstance(error, HttpProcessingError):
            self._trouble.append(self.format(record))


@lru_cache
def _wire() -> _Wire:
    texts = page_words(Words())
    trouble: list[str] = []
    for name in ("assist.output.phone.server", "aiohttp", "asyncio"):
        logging.getLogger(name).addHandler(_Listen(trouble))
    server = ShareServer(Pairing(), texts, {})
    atexit.register(server.close)
    return _Wire(server, trouble)


def wire(data: bytes) -> None:
    """Any bytes on the wire: an answer that gives nothing away, or none; and no trouble inside."""
    ready = _wire()
    host = ready.server.host.encode()
    content = data.replace(b"HOST", host)
    answer = _asked(ready.server.port, content, 0.02)
    if answer:
        status = answer.split(b" ", 2)[1:2]
        assert answer.startswith(b"HTTP/"), answer[:200]
        assert status[0][:1] in (b"2", b"4"), answer[:300]
    request = b"GET / HTTP/1.1\r\nHost: %b\r\nConnection: close\r\n\r\n" % host
    good = b""
    # A process that was kept waiting finds its connection ended, or as many of its own closed ones
    # not yet looked at as the server takes at once.
    for pause_s in (0.0, 0.1, 0.5, 2.0):
        if not good:
            time.sleep(pause_s)
            good = _asked(ready.server.port, request, 10.0)
    assert good.startswith(b"HTTP/1.1 200"), good[:200]
    assert not ready.trouble, ready.trouble.pop()


def _asked(port: int, content: bytes, patience_s: float) -> bytes:
    """What comes back until the other side ends it or is silent for so long."""
    with socket.create_connection(("127.0.0.1", port), timeout=patience_s) as line:
        got = b""
        with contextlib.suppress(ConnectionError, TimeoutError):
            line.sendall(content)
            while chunk := line.recv(65536):
                got += chunk
        return got


# -- all of them ------------------------------------------------------------------------------

Seeds = Callable[[], list[bytes]]


@dataclass(frozen=True)
class Target:
    """A target with its seeds.

    most: longest input worth trying, bytes.   slow: whether a case takes far over a millisecond.
    """

    run: Callable[[bytes], None]
    seeds: Seeds
    most: int = 4000
    slow: bool = False


def _choices() -> list[bytes]:
    """For targets that read choices: a few arbitrary ones."""
    return [bytes((k * step + k) % 256 for k in range(24)) for step in (1, 7, 31, 77, 141, 203)]


def _toml_seeds(values: dict[str, Any]) -> Seeds:
    odd = [b"", b"\xff\xfe", b"a = [[[[", b"[lens]\n[lens]", b"\xef\xbb\xbf"]
    return lambda: [_toml(values), *odd]


def _requests() -> list[bytes]:
    heads = b"Host: HOST\r\nOrigin: http://HOST\r\n"
    body = b'{"code": "ABCD-EFGH"}'
    post = (
        b"POST /pair HTTP/1.1\r\n%bContent-Type: application/json\r\nContent-Length: %d\r\n\r\n%b"
    )
    return [
        post % (heads, len(body), body),
        b"GET /events HTTP/1.1\r\n" + heads + b"Cookie: assist=\xff\xfe\r\n\r\n",
        b"GET /../../etc/passwd HTTP/1.1\r\n" + heads + b"\r\n",
        b"GET /%2e%2e/%00 HTTP/1.1\r\n" + heads + b"\r\n",
        post % (heads + b"Transfer-Encoding: chunked\r\n", 4, b"4\r\nabcd\r\n0\r\n\r\n"),
        b"\x16\x03\x01\x02\x00",
    ]


TARGETS: dict[str, Target] = {
    "set_up_text": Target(set_up_text, _toml_seeds(seeds.SET_UP)),
    "set_up_values": Target(set_up_values, _choices, 60),
    "profile_text": Target(profile_text, _toml_seeds(seeds.PROFILE)),
    "profile_values": Target(profile_values, _choices, 60),
    "feed_profile_text": Target(feed_profile_text, _toml_seeds(seeds.FEED_PROFILE)),
    "feed_profile_values": Target(feed_profile_values, _choices, 60),
    "record_text": Target(
        record_text, lambda: [seeds.json_lines(seeds.ATTEMPT, seeds.ATTEMPT), b"{}\n", b"[[[["]
    ),
    "record_values": Target(record_values, _choices, 60),
    "rehearsals_text": Target(rehearsals_text, _choices, 200),
    "report": Target(report, _choices, 80, slow=True),
    "review_json": Target(review_json, _choices, 60),
    "tags": Target(tags, lambda: [seeds.exif_block(), b"", b"Exif\0\0II*\0\x08\0\0\0"]),
    "pictures": Target(pictures, lambda: list(seeds.pictures()), 20_000),
    "h264_configuration": Target(h264_configuration, _h264_configuration, 300),
    "motion_jpeg_parts": Target(motion_jpeg_parts, _motion_jpeg, 20_000),
    "videos": Target(videos, lambda: list(seeds.videos()), 40_000, slow=True),
    "typed": Target(
        typed,
        lambda: [b"50mm", b"f/5.6 1/60 ISO 400", b"10'6\"", b"1,5 m", b"0.1,4.0", b"a 'b c' \\"],
        200,
    ),
    "names": Target(names, lambda: [b"a.jpg", b"=1+1", b"<b>", b"\xff", b"\xc2\xb21.png"], 200),
    "requests": Target(requests, lambda: [b"ABCDEFGH", b"192.0.2.7:8000", b"\xff", b"none"], 200),
    "wire": Target(wire, _requests, 2000),
}
