"""Motion JPEG over HTTP: one picture after another in an answer that never ends.

Such a stream has no clock. What tells the age of its pictures is the link: when it falls silent
between two pictures, all that was sent has arrived, and the next picture is a new one. A link that
never does so is too slow for the stream, and its pictures wait somewhere on their way. Some senders
put the time into each picture's header; that is better still.
"""

from __future__ import annotations

import base64
import contextlib
import http.client
import math
import re
import socket
import ssl
import threading
import time
from collections import deque
from dataclasses import dataclass
from urllib.parse import unquote, urljoin, urlsplit

import numpy as np

from assist.base import image_files
from assist.base.errors import UserError
from assist.base.handover import Supplier
from assist.base.images import ColourImage
from assist.base.words import _
from assist.feed import Frame
from assist.feed.ageing import DelayLine
from assist.feed.capture import check_rotation, turned

OPEN_TIMEOUT_S = 5.0
RETRY_EVERY_S = 1.0
_NOMINAL_HZ = 25.0
_MOST_REDIRECTIONS = 5
_MOVED = (301, 302, 303, 307, 308)
_MOST_BYTES = 32_000_000
"""Of one picture."""
_MOST_HEAD_BYTES = 16_384
_AT_ONCE_BYTES = 65_536
_ROOM_BYTES = 131_072
"""What may be under way at most, as far as this end decides it: on a slow link more of it only
makes the pictures older."""
_TICK_S = 0.2
_PUT_BY_S, _FOLLOWS_S = 1.0, 0.03
"""For so long after a connection was made a picture counts only if no other follows so soon."""
_LEAVING_S = 1.0

_REMEMBERED = 15
_USUAL = 0.8
"""Share of the pictures within which the link pauses for no longer than it usually does."""
_LEAST_SILENCE_S = 0.003
_SILENCE_OF_USUAL = 1.5
_SILENCE_OF_INTERVAL = 0.05

_START, _END = b"\xff\xd8", b"\xff\xd9"
_LENGTH = re.compile(rb"^content-length:[ \t]*([0-9]{1,9})[ \t]*\r?$", re.IGNORECASE | re.MULTILINE)
_STAMP = re.compile(
    rb"^x-time-?stamp:[ \t]*([0-9]{1,12}(?:\.[0-9]{1,9})?)[ \t]*\r?$", re.IGNORECASE | re.MULTILINE
)


def is_web(address: str) -> bool:
    """Whether the address is one of HTTP."""
    return urlsplit(address).scheme.lower() in ("http", "https")


def not_opened(address: str) -> UserError:
    """What to say of a stream that does not open."""
    return UserError(
        _(
            "stream {address} does not open within {seconds} s: check the address "
            "and that the sender is running",
            address=address,
            seconds=f"{OPEN_TIMEOUT_S:.0f}",
        )
    )


@dataclass(frozen=True, slots=True)
class Part:
    """One picture as it was sent.

    began_s, arrived_s: when its first byte came, and its last.   fresh_s: since when all that was
    sent before had come, so that it was taken no earlier.   behind_s: by how much it is late by
    the sender's own clock; None where the sender tells no times.   open_s: how long after the
    first one of its connection it came.
    """

    jpeg: bytes
    began_s: float
    arrived_s: float
    fresh_s: float
    behind_s: float | None
    open_s: float


class Link:
    """A connection to a sender that gives one part after another."""

    def __init__(
        self, sock: socket.socket, answer: http.client.HTTPResponse, sent_s: float
    ) -> None:
        self._sock = sock
        self._answer = answer
        self._waiting = bytearray()
        self._silence = _Silence(sent_s)
        self._line = DelayLine()
        self._stamp_s: float | None = None
        self._first_s = math.inf

    @classmethod
    def open(cls, address: str) -> Link | None:
        """Connect; None where the answer is no motion JPEG.

        Raises OSError or ValueError where nobody answers, or nothing that can be understood.
        """
        for _n in range(_MOST_REDIRECTIONS):
            connection, target, headers = _connection_to(address)
            with contextlib.ExitStack() as stack:
                opened = stack.enter_context(contextlib.ExitStack())
                opened.callback(connection.close)
                try:
                    connection.connect()
                    sock = connection.sock
                    # Each read has its limit; a sender of one byte a second keeps to that for ever.
                    watch = threading.Timer(OPEN_TIMEOUT_S, _wake, (sock,))
                    stack.callback(watch.cancel)
                    watch.daemon = True
                    watch.start()
                    sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, _ROOM_BYTES)
                    sent_s = time.monotonic()
                    connection.request("GET", target, headers=headers)
                    answer = connection.getresponse()
                except http.client.HTTPException as error:
                    raise ValueError(str(error)) from error
                kind = answer.headers.get_content_type()
                if answer.status == http.client.OK and kind == "multipart/x-mixed-replace":
                    opened.pop_all()
                    return cls(sock, answer, sent_s)
            moved = answer.headers.get("Location")
            if answer.status not in _MOVED or moved is None:
                return None  # the video library may know what to make of it
            address = urljoin(address, moved)
            if not is_web(address):
                return None
        return None

    def close(self) -> None:
        """Let go of the connection; whoever waits in `part` is woken."""
        _wake(self._sock)
        with contextlib.suppress(OSError):
            self._sock.close()

    def part(self) -> Part | None:
        """The next picture; None when the sender has ended.

        Raises OSError, ValueError or HTTPException where the link breaks or sends something else.
        """
        head = self._up_to_start()
        if head is None:
            return None
        length = _LENGTH.search(head)
        jpeg = self._of_length(int(length[1])) if length else self._up_to_end()
        if jpeg is None:
            return None
        arrived_s = time.monotonic()
        began_s, fresh_s = self._silence.picture_ends()
        self._first_s = min(self._first_s, began_s)
        behind_s, open_s = self._behind_s(head, began_s), arrived_s - self._first_s
        return Part(jpeg, began_s, arrived_s, fresh_s, behind_s, open_s)

    def _behind_s(self, head: bytes, began_s: float) -> float | None:
        stamp = _STAMP.search(head)
        last_s, self._stamp_s = self._stamp_s, None if stamp is None else float(stamp[1])
        # Some put the same nought into every header.
        if last_s is None or self._stamp_s is None or self._stamp_s == last_s:
            return None
        return self._line.excess_s(self._stamp_s, began_s)

    def _more(self, within: bool) -> bool:
        """Wait for more; False at the end. `within`: whether a picture is under way."""
        asked_s = time.monotonic()
        more = self._answer.read1(_AT_ONCE_BYTES)
        self._silence.waited(time.monotonic() - asked_s, within=within)
        self._waiting += more
        return bool(more)

    def _up_to_start(self) -> bytes | None:
        """What stands before the next picture, which is then the first of what waits."""
        while (at := self._waiting.find(_START)) < 0:
            if len(self._waiting) > _MOST_HEAD_BYTES:
                raise ValueError("no picture")
            if not self._more(within=False):
                return None
        head = bytes(self._waiting[:at])
        del self._waiting[:at]
        self._silence.picture_begins(time.monotonic())
        return head

    def _of_length(self, length: int) -> bytes | None:
        if not 2 <= length <= _MOST_BYTES:
            raise ValueError("a picture of impossible length")
        while len(self._waiting) < length:
            if not self._more(within=True):
                return None
        return self._taken(length)

    def _up_to_end(self) -> bytes | None:
        """A picture whose length nobody tells: it ends where nothing of it follows its end mark."""
        looked = 2
        while True:
            while (at := self._waiting.find(_END, looked)) >= 0:
                after = bytes(self._waiting[at + 2 : at + 6]).lstrip(b"\r\n")
                if not after or after.startswith(b"-"):
                    return self._taken(at + 2)
                looked = at + 2
            looked = max(2, len(self._waiting) - 1)
            if len(self._waiting) > _MOST_BYTES:
                raise ValueError("a picture without end")
            if not self._more(within=True):
                return None

    def _taken(self, length: int) -> bytes:
        taken = bytes(self._waiting[:length])
        del self._waiting[:length]
        return taken


def _wake(sock: socket.socket) -> None:
    """End a connection for whoever waits for something from it."""
    with contextlib.suppress(OSError):
        sock.shutdown(socket.SHUT_RDWR)


class _Silence:
    """Tells when the link was silent between two pictures, and so had nothing left to bring.

    A link pauses within pictures too, as its packets come in bursts. On a link that is too slow
    such a pause falls between two pictures only by chance, and is then no longer than others.
    """

    def __init__(self, opened_s: float) -> None:
        self._fresh_s = self._began_s = opened_s
        self._between_s = self._within_s = 0.0
        self._interval_s = 0.0
        self._usual_s: deque[float] = deque(maxlen=_REMEMBERED)

    def waited(self, seconds: float, *, within: bool) -> None:
        """Nothing came for so long."""
        if within:
            self._within_s = max(self._within_s, seconds)
        else:
            self._between_s = max(self._between_s, seconds)

    def picture_begins(self, now_s: float) -> None:
        """The first of the next picture is here."""
        self._interval_s, self._began_s = now_s - self._began_s, now_s
        usual_s = _share_of(self._usual_s, _USUAL)
        least_s = max(
            _LEAST_SILENCE_S, _SILENCE_OF_USUAL * usual_s, _SILENCE_OF_INTERVAL * self._interval_s
        )
        if self._between_s >= least_s:
            self._fresh_s = now_s
        self._between_s = self._within_s = 0.0

    def picture_ends(self) -> tuple[float, float]:
        """When it began to come, and since when nothing older could."""
        self._usual_s.append(self._within_s)
        return self._began_s, self._fresh_s


def _share_of(values: deque[float], share: float) -> float:
    """The value that this share of them does not exceed; 0 of none."""
    if not values:
        return 0.0
    return sorted(values)[min(len(values) - 1, math.ceil(share * len(values)) - 1)]


class _Parts(Supplier[Part]):
    """Reads parts on a thread of its own, so that what is older is passed over undecoded."""

    def __init__(self, address: str, link: Link) -> None:
        super().__init__("link", None, _LEAVING_S)
        self._address = address
        self._link: Link | None = link

    def take(self, timeout_s: float) -> Part | None:
        """The newest one, None when none came in time."""
        return self._made.take(timeout_s)

    def _next(self) -> Part | None:
        while not self._made.closed:
            link, part = self._link, None
            if link is None:
                with contextlib.suppress(OSError, ValueError, http.client.HTTPException):
                    link = self._link = Link.open(self._address)
            if link is not None:
                with contextlib.suppress(OSError, ValueError, http.client.HTTPException):
                    part = link.part()
            if part is not None:
                return part
            if link is not None:
                link.close()
                self._link = None
            self._made.pause(RETRY_EVERY_S)
        return None

    def close(self) -> None:
        """End the thread, which may be waiting for the sender."""
        self._made.close()
        if self._link is not None:
            self._link.close()
        super().close()


class MotionJpegSource:
    """`Source` over motion JPEG; connects again by itself. `link` is open already."""

    live = True
    frames_expected: int | None = None
    rate_hz = _NOMINAL_HZ

    def __init__(self, address: str, link: Link, rotation_deg: int = 0) -> None:
        self._rotation_deg = check_rotation(rotation_deg)
        self._index = -1
        self._taken_s = -math.inf
        self._closed = False
        self._parts = _Parts(address, link)
        self._parts.__enter__()

    def read(self) -> Frame | None:
        """The newest picture, once there is another; None once closed."""
        while not self._closed:
            part = self._parts.take(_TICK_S)
            # A sender that has put some by writes one after another: the last of them is wanted.
            while part is not None and part.open_s < _PUT_BY_S:
                newer = self._parts.take(_FOLLOWS_S)
                if newer is None:
                    break
                part = newer
            if part is not None:
                return self._frame(part)
        return None

    def _frame(self, part: Part) -> Frame:
        self._index += 1
        # It was taken before it was sent; how much of its coming fell before that is unknown.
        taken_s = part.began_s - (part.behind_s or 0.0)
        # The newest that it can be; what the link leaves open is doubt.
        self._taken_s = min(max(self._taken_s, taken_s), part.arrived_s)
        doubt_s = max(0.0, part.began_s - part.fresh_s) if part.behind_s is None else 0.0
        return Frame(
            turned(_picture(part.jpeg), self._rotation_deg),
            self._taken_s,
            self._index,
            age_s=part.arrived_s - self._taken_s,
            doubt_s=doubt_s,
        )

    def close(self) -> None:
        """Let go of the connection."""
        self._closed = True
        self._parts.close()


def _picture(jpeg: bytes) -> ColourImage:
    """The picture; an empty one, which is told as such, where it cannot or may not be decoded."""
    picture: ColourImage | None = None
    try:
        with image_files.opened(jpeg) as image:
            bearable = image.width * image.height <= image_files.MOST_FRAME_PIXELS
        if bearable:
            picture = image_files.decoded(jpeg)
    except (OSError, ValueError, SyntaxError):
        picture = None
    return np.empty((0, 0, 3), np.uint8) if picture is None else picture


def _connection_to(
    address: str,
) -> tuple[http.client.HTTPConnection, str, dict[str, str]]:
    """A connection yet to be made, what to ask for, and the headers; ValueError for nonsense."""
    parts = urlsplit(address)
    if not parts.hostname:
        raise ValueError("no host")
    if parts.scheme.lower() == "https":
        # Cameras sign their certificates themselves, and the video library asks no more of them.
        context = ssl.create_default_context()
        context.check_hostname = False
        context.verify_mode = ssl.CERT_NONE
        connection: http.client.HTTPConnection = http.client.HTTPSConnection(
            parts.hostname, parts.port, timeout=OPEN_TIMEOUT_S, context=context
        )
    else:
        connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=OPEN_TIMEOUT_S)
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    headers = {"Accept": "*/*"}
    if parts.username is not None:
        user = f"{unquote(parts.username)}:{unquote(parts.password or '')}"
        headers["Authorization"] = "Basic " + base64.b64encode(user.encode()).decode()
    return connection, target, headers
