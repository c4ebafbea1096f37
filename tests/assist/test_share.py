"""The second screen's server, spoken to as a browser, a stranger and a brute would."""

import asyncio
import contextlib
import http.client
import json
import socket
import threading
import time

import cv2
import numpy as np
import pytest

pytest.importorskip("aiohttp")
pytest.importorskip("segno")

from assist.base.errors import UserError
from assist.base.trouble import Notices, Trouble
from assist.base.words import Words
from assist.cli.options.share import ShareOptions, gather
from assist.feed import Frame
from assist.guidance.assistant import Assistant
from assist.guidance.countdown import CountdownState
from assist.guidance.guide import withdrawn
from assist.guidance.wording import big_words
from assist.output.phone import qr
from assist.output.phone import server as share_server
from assist.output.phone.guard import own_hosts, refusal
from assist.output.phone.page_message import page_message
from assist.output.phone.page_words import page_words
from assist.output.phone.pairing import ALPHABET, MOST_ATTEMPTS, Pairing, PairingOutcome
from assist.output.phone.server import LONGEST_BODY, MOST_CONNECTIONS, MOST_SCREENS, ShareServer
from assist.output.screen.plan_view import PlanView
from assist.output.screen.screen import ScreenOptions
from assist.output.sound.cues import CueMaker
from assist.run.second_screen import Sharing, open_second_screen
from tests.assist.footage import SET_UP, SIZE_PX, PlacedDetector
from tests.assist.telling import message_of, narrator, told

ENGLISH = Words()
VIEW = PlanView(SET_UP.focus_zone)
TEXTS = page_words(ENGLISH)


class Visitor:
    """Plain HTTP, with the headers that a page of the server's own would send."""

    def __init__(self, server):
        self.host = server.host
        self.cookie = None
        self._at = (server.address, server.port)

    def ask(self, method, path, body=None, **headers):
        connection = http.client.HTTPConnection(*self._at, timeout=5)
        sent = {"Host": self.host, **{k.replace("_", "-"): v for k, v in headers.items()}}
        if method == "POST":
            sent = {"Origin": f"http://{self.host}", "Content-Type": "application/json"} | sent
        if self.cookie:
            sent["Cookie"] = self.cookie
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        content = b"" if body is None else body
        for name, value in sent.items():
            if value is not None:
                connection.putheader(name, value)
        connection.putheader("Content-Length", str(len(content)))
        connection.endheaders(content)
        return connection.getresponse()

    def status(self, method, path, body=None, **headers):
        answer = self.ask(method, path, body, **headers)
        answer.read()
        return answer.status

    def pair(self, code):
        answer = self.ask("POST", "/pair", json.dumps({"code": code}).encode())
        if answer.status == 204:
            self.cookie = answer.headers["Set-Cookie"].split(";")[0]
        return answer

    def listen(self):
        """The open stream of events, its header read."""
        answer = self.ask("GET", "/events")
        assert answer.status == 200
        return answer


def next_event(answer):
    while True:
        line = answer.readline()
        if line.startswith(b"data: "):
            return json.loads(line[6:])
        if not line:
            raise EOFError


@pytest.fixture
def pairing():
    return Pairing()


@pytest.fixture
def server(pairing):
    running = ShareServer(pairing, TEXTS, {"peak": 0.1, "video": False})
    yield running
    running.close()


@pytest.fixture
def visitor(server):
    return Visitor(server)


@pytest.fixture
def guest(visitor, pairing):
    assert visitor.pair(pairing.code).status == 204
    return visitor


# -- pairing -------------------------------------------------------------------------------------


def test_a_code_has_no_letters_that_are_taken_for_digits_and_is_never_the_same():
    codes = {Pairing().code for _ in range(200)}
    assert len(codes) == 200
    assert all(set(code) <= set(ALPHABET) and len(code) == 8 for code in codes)
    assert len(ALPHABET) == 32
    assert not set("01IO") & set(ALPHABET)


def test_a_code_is_good_for_one_device():
    pairing = Pairing()
    outcome, secret = pairing.pair(f" {pairing.spaced_code.lower()} ")
    assert outcome is PairingOutcome.PAIRED
    assert len(secret) >= 43
    assert pairing.pair(pairing.code) == (PairingOutcome.CLOSED, "")
    assert pairing.knows(secret)
    assert not pairing.knows(secret[:-1])
    assert not pairing.knows("")
    assert not pairing.knows(None)


def test_more_devices_where_asked_each_with_its_own_secret():
    pairing = Pairing(devices=2)
    first, second = pairing.pair(pairing.code), pairing.pair(pairing.code)
    assert first[0] is second[0] is PairingOutcome.PAIRED
    assert first[1] != second[1]
    assert pairing.pair(pairing.code)[0] is PairingOutcome.CLOSED


def test_guessing_closes_pairing_for_good():
    pairing = Pairing()
    for _ in range(MOST_ATTEMPTS):
        assert pairing.pair("ABCDEFGH")[0] is PairingOutcome.WRONG
    assert pairing.pair(pairing.code)[0] is PairingOutcome.CLOSED


# -- who is answered -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("address", "port", "hosts"),
    [
        ("127.0.0.1", 8000, {"127.0.0.1:8000", "localhost:8000"}),
        ("192.0.2.7", 8000, {"192.0.2.7:8000"}),
        ("::1", 8000, {"[::1]:8000", "localhost:8000"}),
        ("192.0.2.7", 80, {"192.0.2.7:80", "192.0.2.7"}),
    ],
)
def test_own_names(address, port, hosts):
    assert own_hosts(address, port) == hosts


HOSTS = frozenset({"127.0.0.1:8000"})
OWN = {"Host": "127.0.0.1:8000"}


@pytest.mark.parametrize(
    ("method", "headers", "answered"),
    [
        ("GET", OWN, True),
        ("GET", {}, False),
        ("GET", {"Host": "evil.example:8000"}, False),
        ("GET", {"Host": "127.0.0.1:8001"}, False),
        ("GET", {**OWN, "Origin": "http://evil.example"}, False),
        ("GET", {**OWN, "Origin": "null"}, False),
        ("GET", {**OWN, "Origin": "https://127.0.0.1:8000"}, False),
        ("GET", {**OWN, "Sec-Fetch-Site": "cross-site"}, False),
        ("GET", {**OWN, "Sec-Fetch-Site": "same-site"}, False),
        ("GET", {**OWN, "Sec-Fetch-Site": "none"}, True),
        (
            "GET",
            {
                **OWN,
                "Sec-Fetch-Site": "cross-site",
                "Sec-Fetch-Mode": "navigate",
                "Sec-Fetch-Dest": "document",
            },
            True,
        ),
        (
            "GET",
            {
                **OWN,
                "Sec-Fetch-Site": "cross-site",
                "Sec-Fetch-Mode": "navigate",
                "Sec-Fetch-Dest": "iframe",
            },
            False,
        ),
        (
            "POST",
            {
                **OWN,
                "Origin": "http://192.168.1.5:81",
                "Sec-Fetch-Site": "cross-site",
                "Sec-Fetch-Mode": "navigate",
                "Sec-Fetch-Dest": "document",
            },
            False,
        ),
        ("POST", OWN, False),
        ("POST", {**OWN, "Origin": "http://127.0.0.1:8000"}, True),
        ("POST", {**OWN, "Origin": "http://127.0.0.1:8001"}, False),
    ],
)
def test_only_the_own_page_is_answered(method, headers, answered):
    assert (refusal(method, headers, HOSTS) is None) is answered


def test_a_name_that_points_here_is_refused(visitor):
    for path in ("/", "/events", "/page.js"):
        assert visitor.status("GET", path, Host="evil.example") == 403


def test_another_origin_cannot_pair_even_with_the_code(visitor, pairing):
    body = json.dumps({"code": pairing.code}).encode()
    assert visitor.status("POST", "/pair", body, Origin="http://evil.example") == 403
    assert visitor.status("POST", "/pair", body, Origin=None) == 403
    assert visitor.status("POST", "/pair", body, Content_Type="text/plain") == 415
    assert pairing.open
    assert visitor.pair(pairing.code).status == 204


def test_it_listens_on_loopback_alone_unless_told(server):
    assert server.address == "127.0.0.1"
    assert server.loopback


def test_nothing_but_the_page_without_pairing(visitor):
    assert visitor.status("GET", "/") == 200
    for path in ("/events", "/session", "/picture", "/nothing"):
        assert visitor.status("GET", path) == 401


def test_a_wrong_code_is_refused_and_after_ten_the_right_one_too(visitor, pairing):
    for _ in range(MOST_ATTEMPTS):
        assert visitor.pair("WRONG234").status == 403
    assert visitor.pair(pairing.code).status == 410
    assert visitor.status("GET", "/session") == 401


def test_a_used_code_does_not_pair_a_second_device(guest, server, pairing):
    assert Visitor(server).pair(pairing.code).status == 410
    assert guest.status("GET", "/session") == 204


def test_the_secret_is_out_of_reach_of_scripts_and_other_sites(visitor, pairing):
    cookie = visitor.pair(pairing.code).headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


@pytest.mark.parametrize(
    "path",
    ["/../pyproject.toml", "/..%2fserver.py", "/%2e%2e/server.py", "/page/page.js", "//etc/passwd",
     "/page.js/../../server.py", "/page.css%00.py", "/.git/config", "/picture"],
)  # fmt: skip
def test_no_path_leads_anywhere_else(guest, path):
    answer = guest.ask("GET", path)
    body = answer.read()
    assert answer.status in (400, 404)
    assert b"import" not in body
    assert b"root:" not in body


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_no_other_method_does_anything(guest, method):
    for path in ("/", "/events"):
        origin = {"Origin": f"http://{guest.host}"}
        assert guest.status(method, path, **origin) in (400, 404, 405)


@pytest.mark.parametrize("path", ["/", "/page.js", "/page.css", "/events", "/nothing", "/pair"])
def test_every_answer_has_the_strict_headers(visitor, path):
    headers = visitor.ask("GET", path).headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cache-Control"] == "no-store"
    assert headers["Server"] == "assist"
    assert "Access-Control-Allow-Origin" not in headers


@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"{}", b'"x"', b"\xff\xfe", b'{"code": null}', b"{" * 200, b'{"code": {"a": 1}}'],
)
def test_rubbish_instead_of_a_code(visitor, body):
    assert visitor.status("POST", "/pair", body) in (400, 403)


@pytest.mark.parametrize(
    ("body", "status", "taken"),
    [
        (b'{"order": "mark"}', 204, ["mark"]),
        (b'{"order": "who"}', 204, ["who"]),
        (b'{"order": "delete"}', 400, []),
        (b'{"order": ["mark"]}', 400, []),
        (b"{", 400, []),
    ],
)
def test_two_orders_are_taken_and_no_others(server, guest, body, status, taken):
    assert guest.status("POST", "/order", body) == status
    assert server.take_orders() == taken
    assert server.take_orders() == []


def test_nobody_orders_unpaired_or_from_elsewhere(server, guest):
    assert Visitor(server).status("POST", "/order", b'{"order": "mark"}') == 401
    foreign = {"Origin": "http://example.org"}
    assert guest.status("POST", "/order", b'{"order": "mark"}', **foreign) == 403
    assert server.take_orders() == []


def test_orders_that_nobody_takes_do_not_pile_up(server, guest):
    for _ in range(20):
        guest.status("POST", "/order", b'{"order": "mark"}')
    assert len(server.take_orders()) <= 8


def test_a_body_that_is_too_long_is_not_read(visitor):
    long = json.dumps({"code": "A" * LONGEST_BODY}).encode()
    assert visitor.status("POST", "/pair", long) == 413


def test_rubbish_on_the_wire_does_not_stop_it(server, guest):
    for rubbish in (b"\x16\x03\x01\x02\x00", b"GET / HTTP/9\r\n\r\n", b"\r\n" * 50, b"A" * 70000):
        with socket.create_connection((server.address, server.port), timeout=5) as line:
            line.sendall(rubbish)
    assert guest.status("GET", "/session") == 204


def test_connections_are_limited_and_free_ones_come_back(server, guest):
    idle = [
        socket.create_connection((server.address, server.port), timeout=5)
        for _ in range(MOST_CONNECTIONS + 20)
    ]
    time.sleep(0.2)
    idle[-1].settimeout(2)
    assert idle[-1].recv(1) == b""
    for line in idle:
        line.close()
    time.sleep(0.2)
    assert guest.status("GET", "/session") == 204


def test_who_is_refused_and_gone_keeps_no_one_out(server, guest):
    """Refused before their body has come, and more of them than there is room for."""
    request = (
        f"POST /pair HTTP/1.1\r\nHost: {server.host}\r\nOrigin: http://elsewhere.example\r\n"
        'Content-Type: application/json\r\nContent-Length: 90\r\n\r\n{"code":'
    ).encode()
    for _ in range(MOST_CONNECTIONS + 20):
        with socket.create_connection((server.address, server.port), timeout=5) as line:
            line.sendall(request)
            assert line.recv(100).startswith(b"HTTP/1.1 403")
    assert guest.status("GET", "/session") == 204


def test_one_who_says_nothing_is_shown_out(pairing, monkeypatch):
    """Idle connections must not keep a device out for ever; one that has asked may stay."""
    monkeypatch.setattr(share_server, "PATIENCE_S", 1.5)
    server = ShareServer(pairing, TEXTS, {"peak": 0.1, "video": False})
    try:
        guest = Visitor(server)
        assert guest.pair(pairing.code).status == 204
        stream = guest.listen()
        idle = [
            socket.create_connection((server.address, server.port), timeout=5)
            for _ in range(MOST_CONNECTIONS + 5)
        ]
        half = socket.create_connection((server.address, server.port), timeout=5)
        half.sendall(b"GET / HTTP/1.1\r\nHost:")
        time.sleep(2.0)
        assert Visitor(server).status("GET", "/") == 200
        server.post({"word": "still there"})
        assert next_event(stream)["word"] == "still there"
        for line in (*idle, half):
            line.close()
    finally:
        server.close()


def test_a_body_that_never_comes_is_not_waited_for(pairing, monkeypatch):
    monkeypatch.setattr(share_server, "PATIENCE_S", 0.3)
    server = ShareServer(pairing, TEXTS, {"peak": 0.1, "video": False})
    try:
        with socket.create_connection((server.address, server.port), timeout=5) as line:
            line.sendall(
                f"POST /pair HTTP/1.1\r\nHost: {server.host}\r\nOrigin: http://{server.host}\r\n"
                "Content-Type: application/json\r\nContent-Length: 30\r\n\r\n".encode()
            )
            assert line.recv(4096).startswith(b"HTTP/1.1 408")
    finally:
        server.close()


def test_bytes_that_are_no_text_are_no_secret_and_no_trouble(server, capfd):
    """Neither in the cookie nor in the code; and nothing is printed for anything that is sent."""
    head = f"Host: {server.host}\r\nOrigin: http://{server.host}\r\n".encode()
    cookie = f"Cookie: assist-{server.port}=".encode() + b"\xff\xfe\r\n"
    body = b'{"code": "\\ud800"}'
    post = b"Content-Type: application/json\r\nContent-Length: %d\r\n\r\n" % len(body)
    for request, status in (
        (b"GET /session HTTP/1.1\r\n" + head + cookie + b"\r\n", b"401"),
        (b"POST /pair HTTP/1.1\r\n" + head + post + body, b"403"),
        (b"GET /\xff HTTP/1.1\r\n" + head + b"\r\n", b"4"),
        (b"no HTTP at all\r\n\r\n", b"400"),
    ):
        with socket.create_connection((server.address, server.port), timeout=5) as line:
            line.sendall(request)
            assert line.recv(4096).split()[1].startswith(status), request
    assert capfd.readouterr() == ("", "")


def test_pairing_guessed_by_many_at_once_still_closes(server, pairing):
    """Ten wrong codes in all, however many ask at a time; the right one comes too late."""
    got = []

    def guess():
        for _ in range(100):
            with contextlib.suppress(ConnectionError):  # as many as that are refused: ask again
                got.append(Visitor(server).pair("WRONGONE").status)
                return
            time.sleep(0.05)

    guessers = [threading.Thread(target=guess) for _ in range(30)]
    for one in guessers:
        one.start()
    for one in guessers:
        one.join(20)
    assert (got.count(403), got.count(410)) == (MOST_ATTEMPTS, 30 - MOST_ATTEMPTS)
    assert Visitor(server).pair(pairing.code).status == 410


# -- what is sent --------------------------------------------------------------------------------


def test_the_newest_news_comes_at_once_and_then_each_new_one(server, guest):
    server.post({"word": "FORWARD"})
    stream = guest.listen()
    assert next_event(stream)["word"] == "FORWARD"
    server.post({"word": "HOLD"})
    assert next_event(stream)["word"] == "HOLD"


def test_news_arrives_within_the_limit(server, guest):
    """From `post` to the client's socket, 200 times at 100 a second; the page adds its own."""
    server.post({"word": "0"})
    stream = guest.listen()
    next_event(stream)
    late_ms = []
    for n in range(200):
        server.post({"word": str(n)})
        event = next_event(stream)
        late_ms.append(time.monotonic() * 1000 - event["at"])
        time.sleep(0.01)
    assert np.percentile(late_ms, 95) < 100


def test_a_screen_that_does_not_read_gets_the_newest_once_it_reads_and_no_backlog(server, guest):
    server.post({"word": "first"})
    stream = guest.listen()
    next_event(stream)
    for n in range(3000):
        server.post({"word": "x" * 2000, "number": n})
        if n % 100 == 0:
            time.sleep(0.005)
    time.sleep(0.1)
    received = [next_event(stream)["number"]]
    while received[-1] != 2999:
        received.append(next_event(stream)["number"])
    assert received == sorted(received)
    assert len(received) < 3000


def test_screens_are_limited(server, guest):
    server.post({"word": "HOLD"})
    streams = [guest.listen() for _ in range(MOST_SCREENS)]
    assert guest.status("GET", "/events") == 503
    assert guest.status("GET", "/session") == 503
    streams[0].close()
    for _ in range(100):
        server.post({"word": "HOLD"})
        time.sleep(0.02)
        answer = guest.ask("GET", "/events")
        if answer.status == 200:
            break
    assert answer.status == 200


def test_posting_never_waits_for_anyone(server, guest):
    guest.listen()
    took = []
    for _ in range(500):
        began = time.perf_counter()
        server.post({"word": "HOLD"})
        took.append(time.perf_counter() - began)
    assert np.percentile(took, 95) < 0.002


def test_closing_says_goodbye_and_frees_the_port(pairing):
    server = ShareServer(pairing, TEXTS, {})
    guest = Visitor(server)
    guest.pair(pairing.code)
    server.post({"word": "HOLD"})
    stream = guest.listen()
    next_event(stream)
    began = time.monotonic()
    server.close()
    server.close()
    server.post({"word": "HOLD"})
    assert time.monotonic() - began < 3
    assert b"event: bye" in stream.read()
    assert not server._thread.is_alive()
    ShareServer(Pairing(), TEXTS, {}, port=server.port).close()


PICTURE = np.full((720, 1280, 3), 128, np.uint8)


def test_no_picture_unless_asked_for(server, guest):
    server.post({"word": "HOLD"}, PICTURE)
    assert guest.status("GET", "/picture") == 404


def test_the_picture_where_asked_for_and_only_for_the_paired(pairing):
    server = ShareServer(pairing, TEXTS, {}, video=True)
    try:
        visitor = Visitor(server)
        assert visitor.status("GET", "/picture") == 401
        visitor.pair(pairing.code)
        assert visitor.status("GET", "/picture") == 204
        server.post({"word": "HOLD"}, PICTURE)
        time.sleep(0.2)
        answer = visitor.ask("GET", "/picture")
        assert answer.headers["Content-Type"].startswith("image/jpeg")
        decoded = cv2.imdecode(np.frombuffer(answer.read(), np.uint8), cv2.IMREAD_COLOR)
        assert decoded.shape == (360, 640, 3)
        assert abs(float(decoded.mean()) - 128) < 2
    finally:
        server.close()


# -- the message ---------------------------------------------------------------------------------


def moment_at(hips_m):
    assistant = Assistant(SET_UP, PlacedDetector(lambda _: hips_m))
    picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
    for n in range(30):
        made = assistant.see(Frame(picture, n / 30, n))
    return made


@pytest.mark.parametrize(
    ("hips_m", "sign", "sound"),
    [
        (4.1, "hold", "steady"),
        (7.5, "forward", "single"),
        (2.0, "back", "double"),
        (None, "no_one", "alone"),
    ],
)
def test_the_message_says_what_the_guidance_says(hips_m, sign, sound):
    moment = moment_at(hips_m)
    cues = CueMaker(SET_UP.focus_zone)
    said = told(moment)
    made = page_message(said, cues, VIEW)
    assert made["sign"] == sign
    assert made["word"] == big_words(ENGLISH)[moment.guidance.action]
    assert made["caution"] == said.caution
    assert (made["caution"] != "") is (sign == "back")
    assert made["cue"]["kind"] == sound
    assert len(json.dumps(made)) < 1500
    if sign == "back":
        assert made["length"] == ENGLISH.length(abs(moment.guidance.to_mark_m))


@pytest.mark.parametrize(
    ("state", "text"),
    [
        (None, ""),
        (CountdownState(6.2, 7, False), "7"),
        (CountdownState(0.0, 0, True), "TAKEN"),
        (CountdownState(0.0, 0, False, paused=True), "PAUSED"),
        (CountdownState(9.0, 9, False, holding=True), "WAITING"),
        (CountdownState(0.0, 0, False, gave_up=True), "NOT TAKEN"),
    ],
)
def test_the_countdown_in_a_word(state, text):
    assert message_of(withdrawn(), countdown=state).count == text


@pytest.mark.parametrize(
    ("state", "fired", "warning"),
    [
        (None, "", ""),
        (CountdownState(2.0, 2, False, warning=True), "", "NOT IN FOCUS YET"),
        (CountdownState(0.0, 0, True), "taken", ""),
        (CountdownState(0.0, 0, True, unheard=True), "now", ""),
        (CountdownState(0.0, 0, True, trouble=True), "", ""),
        (CountdownState(5.0, 5, False, paused=True), "", ""),
        (
            CountdownState(5.0, 5, False, paused=True, unheard=True),
            "",
            "the camera's own timer runs on",
        ),
    ],
)
def test_what_the_countdown_signals_and_warns_of(state, fired, warning):
    said = narrator(SET_UP.focus_zone).tell(moment_at(4.1), state)
    made = page_message(said, CueMaker(SET_UP.focus_zone), VIEW)
    assert (made["fired"], made["warning"]) == (fired, warning)


# -- starting it ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "named"),
    [
        ({"share_address": "192.0.2.1"}, "--share-address"),
        ({"share_port": 8000}, "--share-port"),
        ({"share_devices": 2}, "--share-devices"),
        ({"share_video": True}, "--share-video"),
    ],
)
def test_nothing_listens_by_half_an_order(options, named):
    with pytest.raises(UserError, match=f"{named} needs --share"):
        gather(ShareOptions(**options))


@pytest.mark.parametrize("address", ["everywhere", "203.0.113.9", "1.2.3"])
def test_an_address_that_is_not_ours(address):
    with pytest.raises(UserError, match=r"address|listen"):
        ShareServer(Pairing(), TEXTS, {}, address=address)


def test_an_address_of_another_machine_says_what_to_give():
    with pytest.raises(
        UserError, match=r"^cannot listen at 203\.0\.113\.9, port 0: [^(;]+; give an"
    ):
        ShareServer(Pairing(), TEXTS, {}, address="203.0.113.9")


def test_a_port_that_is_taken(server):
    with pytest.raises(UserError, match=f"port {server.port}: .*give another --share-port"):
        ShareServer(Pairing(), TEXTS, {}, port=server.port)


def test_the_link_the_code_and_the_qr_code_are_told(capsys, tmp_path):
    """The QR code is read back by OpenCV's decoder, which is not by the same hand."""
    file = tmp_path / "link.png"
    sharing = gather(ShareOptions(share=True, share_qr=file))
    told = []
    screen = open_second_screen(
        sharing, SET_UP, ENGLISH, 70, ScreenOptions(), tell=told.append, draw_code=True
    )
    try:
        assert "\u2588" in told.pop(0)
        out = "\n".join(told)
        assert capsys.readouterr().out == ""
        link = out.split()[2]
        assert link.startswith("http://127.0.0.1:")
        assert "only on this machine" in out
        read, *_ = cv2.QRCodeDetector().detectAndDecode(cv2.imread(str(file)))
        assert read == link
    finally:
        screen.close()


def test_a_qr_file_of_no_known_kind_stops_the_server_too(tmp_path):
    before = threading.active_count()
    sharing = gather(ShareOptions(share=True, share_qr=tmp_path / "link.bmp"))
    with pytest.raises(UserError, match=r"\.png or \.svg"):
        open_second_screen(sharing, SET_UP, ENGLISH, 70, ScreenOptions())
    assert threading.active_count() == before


# -- a server that does not serve ----------------------------------------------------------------


def test_a_server_that_cannot_start_is_one_line_and_no_link_is_told(capsys, monkeypatch):
    async def fail(self):
        raise RuntimeError("no loop today")

    monkeypatch.setattr(ShareServer, "_main", fail)
    before = threading.active_count()
    with pytest.raises(
        UserError, match=r"cannot be started: .*no loop today.*leave --share"
    ) as told:
        open_second_screen(Sharing(), SET_UP, ENGLISH, 70, ScreenOptions(), tell=print)
    assert isinstance(told.value.__cause__, RuntimeError)
    assert capsys.readouterr().out == ""
    assert threading.active_count() == before


def test_a_server_that_does_not_come_up_in_time_is_not_told_either(capsys, monkeypatch):
    async def dawdle(self):
        while not self._closing:
            await asyncio.sleep(0.01)

    monkeypatch.setattr(ShareServer, "_main", dawdle)
    monkeypatch.setattr(share_server, "_START_S", 0.2)
    with pytest.raises(UserError, match=r"did not start within 0\.2 s"):
        open_second_screen(Sharing(), SET_UP, ENGLISH, 70, ScreenOptions(), tell=print)
    assert capsys.readouterr().out == ""


def test_a_server_that_dies_later_is_told_once_and_stops_nobody():
    notices = Notices()
    screen = open_second_screen(
        Sharing(), SET_UP, ENGLISH, 70, ScreenOptions(),
        notices.telling(Trouble.NO_SHARE),
    )  # fmt: skip
    server = screen._server
    server._loop.call_soon_threadsafe(server._loop.stop)
    server._thread.join(20)
    [notice] = notices.take()
    assert notice.trouble is Trouble.NO_SHARE
    assert "the second screen has ended" in notice.detail
    server.post({"word": "nobody hears it"})
    screen.close()
    assert notices.take() == []


def test_a_server_that_is_closed_is_no_trouble():
    ended = []
    ShareServer(Pairing(), TEXTS, {}, ended=ended.append).close()
    assert ended == []


def test_the_code_for_a_terminal_is_a_block_of_lines():
    lines = qr.for_terminal("http://192.0.2.1:8000/#ABCDEFGH").splitlines()
    assert len(lines) > 12
