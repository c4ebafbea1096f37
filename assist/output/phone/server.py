"""The server of the second screen: an event loop on a thread of its own.

It serves three fixed files, a way to pair, the newest guidance as server-sent events (WHATWG HTML,
9.2), and the newest picture where that was asked for. Nothing else: no path is ever looked up on
the disk, and the page has no way to tell the program anything but a
pairing code, and that the next person in view is the one that is meant.
"""

from __future__ import annotations

import asyncio
import contextlib
import errno
import ipaddress
import json
import logging
import secrets
import socket
import string
import threading
import time
from collections.abc import Awaitable, Callable, Mapping
from importlib import resources
from typing import Any

import cv2
from aiohttp import web
from markupsafe import escape

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.words import _, current
from assist.output.phone.addresses import outward_address
from assist.output.phone.guard import HEADERS, own_hosts, refusal
from assist.output.phone.pairing import Pairing, PairingOutcome
from assist.output.phone.theme_css import theme_rules

MOST_SCREENS = 8
"""Screens that can be open at a time."""
MOST_CONNECTIONS = 64
LONGEST_BODY = 256
"""Bytes that a request may carry: a code fits in easily."""
PATIENCE_S = 10.0
"""How long a connection may stay without a whole request: it would keep another device out."""
_QUIET_S = 2.0
_START_S = 10.0
_PICTURE_WIDTH_PX = 640
_FILES = {
    "/": ("index.html", "text/html"),
    "/page.js": ("page.js", "text/javascript"),
    "/page.css": ("page.css", "text/css"),
}

_log = logging.getLogger(__name__)
_log.addHandler(logging.NullHandler())
_log.propagate = False  # whatever strangers send, it must not fill the photographer's terminal

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class ShareServer:
    """Serves the page at `address`, which must be one of this machine's own IP addresses.

    `next_person`: called, on the server's thread, when a paired page asks for the next person in
    view to be followed.   `texts`: the page's own words.   `settings`: values that its script
    reads.   `port` 0 takes any that is free.   `video`: serve the pictures too.   `ended`: called
    with one line, on the server's thread, when it ends though nobody closed it. Raises UserError
    when it cannot listen there, or does not start.
    """

    def __init__(
        self,
        pairing: Pairing,
        texts: Mapping[str, str],
        settings: Mapping[str, object],
        address: str = "127.0.0.1",
        port: int = 0,
        video: bool = False,
        ended: Callable[[str], None] = lambda _: None,
        next_person: Callable[[], None] = lambda: None,
    ) -> None:
        self._pairing = pairing
        self._next_person = next_person
        self._video = video
        self._socket = _listen(address, port)
        self.address, self.port = self._socket.getsockname()[:2]
        self._cookie = f"assist-{self.port}"
        self._files = {
            path: (_page_file(name, texts, settings), kind) for path, (name, kind) in _FILES.items()
        }
        self._run = secrets.token_hex(4)
        self._version = 0
        self._latest: dict[str, Any] | None = None
        self._encoded = b""
        self._picture: ColourImage | None = None
        self._screens: set[asyncio.Event] = set()
        self._silent: set[web.RequestHandler] = set()  # connections that have asked nothing yet
        self._closing = False
        self._over: asyncio.Event | None = None
        self._loop = asyncio.new_event_loop()
        self._ended = ended
        self._failure: Exception | None = None
        self._serving = False
        self._ready = threading.Event()  # to serve, or not to be waited for any longer
        self._thread = threading.Thread(target=self._serve, name="share", daemon=True)
        self._thread.start()
        self._wait_until_serving()

    def _wait_until_serving(self) -> None:
        if not self._ready.wait(_START_S):
            self.close()
            raise UserError(
                _(
                    "the second screen did not start within {seconds} s: try again, or leave "
                    "--share out",
                    seconds=current().decimal(f"{_START_S:g}"),
                )
            )
        if self._failure is not None:
            self.close()
            raise UserError(
                _(
                    "the second screen cannot be started: {error}; leave --share out to go on "
                    "without it",
                    error=repr(self._failure),
                )
            ) from self._failure

    @property
    def loopback(self) -> bool:
        """Whether only this machine can reach it."""
        return ipaddress.ip_address(self.address).is_loopback

    @property
    def host(self) -> str:
        """Address and port, as they stand in a link."""
        ip = ipaddress.ip_address(self.address)
        if ip.is_unspecified:
            ip = ipaddress.ip_address(outward_address() or "127.0.0.1")
        return f"[{ip}]:{self.port}" if ip.version == 6 else f"{ip}:{self.port}"

    @property
    def link(self) -> str:
        """The page's address with the pairing code, which a browser never sends along with it."""
        return f"http://{self.host}/#{self._pairing.code}"

    # -- the thread that knows ----------------------------------------------------------------

    def post(self, values: dict[str, Any], picture: ColourImage | None = None) -> None:
        """Send this to every screen; what a slow one has not been sent yet is dropped."""
        if self._closing:
            return
        values["at"] = time.monotonic() * 1000.0
        with contextlib.suppress(RuntimeError):  # the loop has just been closed
            self._loop.call_soon_threadsafe(self._publish, values, picture)

    def close(self) -> None:
        """Say goodbye to the screens and stop; safe to call twice."""
        if self._closing:
            return
        self._closing = True
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(self._wake)
        self._thread.join(timeout=5.0)

    # -- the server's thread ------------------------------------------------------------------

    def _serve(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._loop.run_until_complete(self._main())
        except Exception as error:  # told by whoever waits for the start, or below
            self._failure = error
        try:
            # A connection that ends in the very moment of closing leaves its task behind.
            left = asyncio.all_tasks(self._loop)
            for task in left:
                task.cancel()
            if left:
                self._loop.run_until_complete(asyncio.wait(left, timeout=1.0))
        finally:
            self._socket.close()
            self._loop.close()
            self._ready.set()
        if self._serving and not self._closing:
            line = _("the second screen has ended")
            self._ended(line if self._failure is None else f"{line}: {self._failure!r}")

    async def _main(self) -> None:
        self._over = asyncio.Event()
        if self._closing:
            return
        runner = web.AppRunner(
            self._application(),
            handle_signals=False,
            access_log=None,
            logger=_log,
            keepalive_timeout=15.0,
            # Who is refused before their body has come gets no time to send it: each would hold one
            # of the few connections for seconds, even when they have long gone.
            lingering_time=0.0,
            shutdown_timeout=1.0,
        )
        await runner.setup()
        make = runner.server
        assert make is not None  # set by setup()

        def protocol() -> asyncio.Protocol:
            if len(make.connections) >= MOST_CONNECTIONS:
                return _Refusal()
            connection = make()
            self._silent.add(connection)
            self._loop.call_later(PATIENCE_S, self._end_silent, connection)
            return connection

        # As many as `backlog` are taken before any is counted: a few, or the limit is none.
        server = await self._loop.create_server(protocol, sock=self._socket, backlog=8)
        self._serving = True
        self._ready.set()
        try:
            await self._over.wait()
        finally:
            server.close()
            await runner.cleanup()

    def _end_silent(self, connection: web.RequestHandler) -> None:
        if connection in self._silent:
            self._silent.discard(connection)
            connection.force_close()

    def _application(self) -> web.Application:
        app = web.Application(
            client_max_size=LONGEST_BODY, middlewares=[self._only_own_page, self._only_paired]
        )
        app.on_response_prepare.append(_set_headers)
        for path in self._files:
            app.router.add_get(path, self._file)
        app.router.add_post("/pair", self._pair)
        app.router.add_get("/session", self._session)
        app.router.add_post("/next", self._next)
        app.router.add_get("/events", self._events)
        if self._video:
            app.router.add_get("/picture", self._jpeg)
        return app

    @web.middleware
    async def _only_own_page(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        self._silent.discard(request.protocol)
        # The address that the connection came in at, also where the server listens at all of them.
        local = request.transport and request.transport.get_extra_info("sockname")
        hosts = own_hosts(*local[:2]) if local else frozenset()
        why = refusal(request.method, request.headers, hosts)
        if why is not None:
            raise web.HTTPForbidden(text=why)
        return await handler(request)

    @web.middleware
    async def _only_paired(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        free = request.path in self._files or request.path == "/pair"
        if not free and not self._pairing.knows(request.cookies.get(self._cookie)):
            raise web.HTTPUnauthorized(text="not paired")
        return await handler(request)

    async def _file(self, request: web.Request) -> web.Response:
        content, kind = self._files[request.path]
        return web.Response(body=content, content_type=kind, charset="utf-8")

    async def _session(self, _request: web.Request) -> web.Response:
        if len(self._screens) >= MOST_SCREENS:
            raise web.HTTPServiceUnavailable(text="too many screens")
        return web.Response(status=204)

    async def _pair(self, request: web.Request) -> web.Response:
        if request.content_type != "application/json":
            raise web.HTTPUnsupportedMediaType
        try:
            body = await asyncio.wait_for(request.text(), PATIENCE_S)
            code = json.loads(body)["code"]
        except asyncio.TimeoutError as error:
            raise web.HTTPRequestTimeout from error
        except (ConnectionError, web.RequestPayloadError) as error:  # it broke off half-way
            raise web.HTTPBadRequest from error
        except (ValueError, LookupError, TypeError, RecursionError) as error:
            raise web.HTTPBadRequest from error
        outcome, secret = self._pairing.pair(str(code))
        if outcome is PairingOutcome.CLOSED:
            raise web.HTTPGone(text="pairing is closed")
        if outcome is PairingOutcome.WRONG:
            raise web.HTTPForbidden(text="wrong code")
        response = web.Response(status=204)
        response.set_cookie(self._cookie, secret, httponly=True, samesite="Strict", path="/")
        return response

    async def _next(self, _request: web.Request) -> web.Response:
        self._next_person()
        return web.Response(status=204)

    async def _events(self, request: web.Request) -> web.StreamResponse:
        if len(self._screens) >= MOST_SCREENS:
            raise web.HTTPServiceUnavailable(text="too many screens")
        news = asyncio.Event()
        self._screens.add(news)
        response = web.StreamResponse(headers={"Content-Type": "text/event-stream"})
        try:
            await response.prepare(request)
            await response.write(b"retry: 500\n\n")  # ms after which a page tries again
            sent = -1
            while not self._closing and request.transport is not None:
                if sent == self._version:
                    with contextlib.suppress(asyncio.TimeoutError):
                        await asyncio.wait_for(news.wait(), _QUIET_S)
                news.clear()
                # A screen that has not taken the last message is not sent another: it would only
                # come late. It gets the newest one once there is room.
                if request.transport is None or request.transport.get_write_buffer_size() > 0:
                    await asyncio.sleep(0.02)
                    continue
                await response.write(b":\n\n" if sent == self._version else self._event())
                sent = self._version
            if self._closing:
                await response.write(b"event: bye\ndata: {}\n\n")
        except ConnectionError:
            pass  # the screen has gone; it comes back by itself if it wants to
        finally:
            self._screens.discard(news)
        return response

    async def _jpeg(self, _request: web.Request) -> web.Response:
        picture = self._picture
        if picture is None:
            return web.Response(status=204)
        content = await self._loop.run_in_executor(None, _small_jpeg, picture)
        return web.Response(body=content, content_type="image/jpeg")

    def _publish(self, values: dict[str, Any], picture: ColourImage | None) -> None:
        self._version += 1
        self._latest = values
        self._encoded = b""
        if self._video:
            self._picture = picture
        self._wake()

    def _wake(self) -> None:
        for news in self._screens:
            news.set()
        if self._closing and self._over is not None:
            self._over.set()

    def _event(self) -> bytes:
        """The newest guidance as one event, encoded once for all screens."""
        if not self._encoded and self._latest is not None:
            values = {**self._latest, "run": self._run, "n": self._version}
            event = json.dumps(values, ensure_ascii=False, separators=(",", ":"))
            self._encoded = f"data: {event}\n\n".encode()
        return self._encoded or b":\n\n"


class _Refusal(asyncio.Protocol):
    """Takes a connection that is one too many, and ends it."""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        transport.close()


async def _set_headers(_request: web.Request, response: web.StreamResponse) -> None:
    for name, value in HEADERS.items():
        response.headers[name] = value


def _listen(address: str, port: int) -> socket.socket:
    try:
        ip = ipaddress.ip_address("127.0.0.1" if address == "localhost" else address)
    except ValueError as error:
        raise UserError(
            _(
                "--share-address {address}: give an IP address of this machine",
                address=repr(address),
            )
        ) from error
    family = socket.AF_INET6 if ip.version == 6 else socket.AF_INET
    try:
        return socket.create_server((str(ip), port), family=family)
    except (OSError, OverflowError) as error:
        why = str(error.strerror) if isinstance(error, OSError) else _("no such port")
        why = why.partition(" (while")[0]  # the address is told in the line already
        raise UserError(
            _(
                "cannot listen at {address}, port {port}: {why}; {mend}",
                address=ip,
                port=port,
                why=why,
                mend=_mend(error),
            )
        ) from error


def _mend(error: OSError | OverflowError) -> str:
    """What to give instead of an address or port that cannot be listened at."""
    if getattr(error, "errno", None) != errno.EADDRNOTAVAIL:
        return _("give another --share-port, or 0 for any free one")
    own = outward_address()
    if not own:
        return _("give an address of this machine")
    return _("give an address of this machine, such as {address}", address=own)


def _page_file(name: str, texts: Mapping[str, str], settings: Mapping[str, object]) -> bytes:
    """A file of the page; words and settings are filled into the HTML, colours into the CSS."""
    content = (resources.files("assist.output.phone") / "page" / name).read_text(encoding="utf-8")
    if name.endswith(".html"):
        values = {key: escape(value) for key, value in texts.items()}
        values["theme"] = escape(str(settings.get("theme", "plain")))
        values["settings"] = escape(json.dumps({"texts": dict(texts), **settings}))
        content = string.Template(content).substitute(values)
    elif name.endswith(".css"):
        content += theme_rules()
    return content.encode()


def _small_jpeg(picture: ColourImage) -> bytes:
    height, width = picture.shape[:2]
    scale = min(1.0, _PICTURE_WIDTH_PX / width)
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return bytes(cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 70])[1].tobytes())
