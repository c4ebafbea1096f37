"""The page's server: on loopback alone, for whoever has the link that the program opened.

Its language and units are those that the page asks for with each request. What takes its time is
done on threads, so that one slow answer holds no other up.
"""

from __future__ import annotations

import asyncio
import base64
import contextlib
import contextvars
import hmac
import json
import logging
import secrets
from collections.abc import Awaitable, Callable
from functools import partial
from importlib import resources
from typing import Any, TypeVar

from aiohttp import web
from markdown_it import MarkdownIt

from assist import guide
from assist.base.errors import UserError
from assist.base.html import rendered
from assist.base.words import Words, _, current, languages, of_error, speaking
from assist.base.words.words import Units
from assist.output.phone.guard import HEADERS, own_hosts, refusal
from assist.output.screen.palette import THEMES
from assist.page import kept, looking, planning, taking
from assist.page.jobs import Job
from assist.plan.plan import Plan
from optics.errors import ImpossibleValueError
from optics.sensor import FORMATS

HOST = "127.0.0.1"
_COOKIE = "assist-page"
_LONGEST_BODY = 16_384
_FILES = {"page.css": "text/css", "page.js": "text/javascript"}
_REPORT_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; sandbox"
_END_WAIT_S = 40.0

_log = logging.getLogger(__name__)
_log.addHandler(logging.NullHandler())
_log.propagate = False

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]
Result = TypeVar("Result")


class PageServer:
    """Serves the page until it is asked to quit.

    language: the page's first.   port 0 takes any that is free.
    """

    def __init__(self, language: str, port: int = 0) -> None:
        self._language = language
        self._port = port
        self._token = secrets.token_urlsafe(24)
        self._secret = secrets.token_urlsafe(24)
        self._hosts: frozenset[str] = frozenset()
        self._plan: Plan | None = None
        self._run: Job | None = None
        self._sessions: dict[str, kept.SessionShown] = {}
        self._picture = b""
        self._over: asyncio.Event | None = None

    async def serve(self, started: Callable[[str], None]) -> None:
        """Serve; `started` is given the link once it can be opened. Returns when asked to quit."""
        self._over = asyncio.Event()
        runner = web.AppRunner(
            self._application(), handle_signals=False, access_log=None, logger=_log,
            shutdown_timeout=1.0,
        )  # fmt: skip
        await runner.setup()
        try:
            site = web.TCPSite(runner, HOST, self._port)
            try:
                await site.start()
            except OSError as error:
                raise UserError(
                    _("port {port} cannot be used: {why}", port=self._port, why=error.strerror)
                ) from error
            port = runner.addresses[0][1]
            self._hosts = own_hosts(HOST, port)
            started(f"http://{HOST}:{port}/#{self._token}")
            await self._over.wait()
        finally:
            if self._run is not None:
                self._run.ask_to_end()
                await asyncio.to_thread(self._run.wait, _END_WAIT_S)
                self._run.close()
            await runner.cleanup()

    def quit(self) -> None:
        """End `serve`; on its own thread."""
        if self._over is not None:
            self._over.set()

    # -- who is answered ----------------------------------------------------------------------

    def _application(self) -> web.Application:
        app = web.Application(
            client_max_size=_LONGEST_BODY, middlewares=[self._guarded, self._told]
        )
        app.on_response_prepare.append(_set_headers)
        add = app.router
        add.add_get("/", self._index)
        for name in _FILES:
            add.add_get(f"/{name}", self._file)
        add.add_get("/favicon.ico", _no_picture)
        add.add_post("/enter", self._enter)
        add.add_post("/plan", self._planned)
        add.add_post("/search", self._searched)
        add.add_get("/sheet", self._sheet)
        add.add_get("/set-ups", self._set_ups)
        add.add_get("/set-ups/{name}", self._set_up)
        add.add_post("/set-ups", self._keep)
        add.add_get("/feeds", self._feeds)
        add.add_post("/look", self._look)
        add.add_get("/look", self._looked)
        add.add_get("/run", self._state)
        add.add_post("/run", self._start)
        add.add_post("/run/end", self._end)
        add.add_get("/run/code.svg", self._code)
        add.add_post("/machine/{what:check|sounds}", self._machine)
        add.add_get("/sessions", self._all_sessions)
        add.add_get("/sessions/{name}", self._one_session)
        add.add_get("/sessions/{name}/{kind:picture|eyes}/{attempt:\\d{1,9}}", self._photograph)
        add.add_post("/sessions/{name}/{what:review|report}", self._work_on)
        add.add_get("/sessions/{name}/report", self._report)
        add.add_get("/guide/{topic}", self._guide)
        add.add_post("/quit", self._quit)
        return app

    @web.middleware
    async def _guarded(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        why = refusal(request.method, request.headers, self._hosts)
        if why is not None:
            raise web.HTTPForbidden(text=why)
        free = request.path in ("/", "/enter", "/favicon.ico", *(f"/{name}" for name in _FILES))
        known = request.cookies.get(_COOKIE, "")
        if not free and not hmac.compare_digest(known, self._secret):
            raise web.HTTPUnauthorized(text="open the link that the terminal shows")
        return await handler(request)

    @web.middleware
    async def _told(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """A user's mistake is an answer, in the language of the page."""
        asked = request.query.get("language", self._language)
        units: Units = "feet" if request.query.get("units") == "feet" else "metres"
        with speaking(Words(asked if asked in languages() else "en", units)):
            try:
                return await handler(request)
            except (UserError, ImpossibleValueError) as error:
                return _answer({"error": of_error(error)}, status=422)
            except OSError as error:
                return _answer({"error": str(error.strerror or error)}, status=422)

    async def _enter(self, request: web.Request) -> web.Response:
        token = str((await _sent(request)).get("token", ""))
        if not hmac.compare_digest(token, self._token):
            raise web.HTTPForbidden(text="open the link that the terminal shows")
        response = web.Response(status=204)
        response.set_cookie(_COOKIE, self._secret, httponly=True, samesite="Strict", path="/")
        return response

    async def _quit(self, _request: web.Request) -> web.Response:
        asyncio.get_running_loop().call_later(0.2, self.quit)
        return web.Response(status=204)

    # -- files --------------------------------------------------------------------------------

    async def _index(self, request: web.Request) -> web.Response:
        page = rendered(
            "assist.page",
            "page.html",
            sensors=list(FORMATS),
            themes=list(THEMES),
            topics=[(one.topic, one.question) for one in guide.pages(_spoken(request, self))],
            languages=sorted(languages()),
        )
        return web.Response(body=page, content_type="text/html", charset="utf-8")

    async def _file(self, request: web.Request) -> web.Response:
        name = request.path[1:]
        content = (resources.files("assist.page") / "files" / name).read_bytes()
        return web.Response(body=content, content_type=_FILES[name], charset="utf-8")

    # -- plan ---------------------------------------------------------------------------------

    async def _planned(self, request: web.Request) -> web.Response:
        made = await _on_thread(planning.plan, await _sent(request))
        self._plan = made.plan
        return _answer(made.shown)

    async def _searched(self, request: web.Request) -> web.Response:
        return _answer(await _on_thread(planning.search, await _sent(request)))

    async def _sheet(self, _request: web.Request) -> web.Response:
        if self._plan is None:
            raise UserError(_("plan something first"))
        return _page(await _on_thread(planning.printed, self._plan))

    async def _set_ups(self, _request: web.Request) -> web.Response:
        return _answer({"names": kept.set_up_names()})

    async def _set_up(self, request: web.Request) -> web.Response:
        return _answer(kept.set_up_controls(request.match_info["name"]))

    async def _keep(self, request: web.Request) -> web.Response:
        given = await _sent(request)
        made = await _on_thread(planning.plan, given)
        self._plan = made.plan
        name = kept.keep_set_up(given.get("name"), made.plan.set_up)
        return _answer({"name": name, "names": kept.set_up_names()})

    # -- connect and take ---------------------------------------------------------------------

    async def _feeds(self, _request: web.Request) -> web.Response:
        return _answer({"feeds": await _on_thread(looking.feeds)})

    async def _look(self, request: web.Request) -> web.Response:
        given = await _sent(request)
        seen = await _on_thread(looking.looked_at, given.get("feed"))
        self._picture = base64.b64decode(seen.pop("picture", ""))
        return _answer({**seen, "picture": bool(self._picture)})

    async def _looked(self, _request: web.Request) -> web.Response:
        return web.Response(body=self._picture, content_type="image/jpeg")

    async def _start(self, request: web.Request) -> web.Response:
        if self._run is not None and self._run.code is None:
            raise UserError(_("a run is going on: end it first"))
        arguments = await _on_thread(taking.run_arguments, await _sent(request))
        if self._run is not None:
            self._run.close()
        self._run = await _on_thread(Job, arguments, current().language)
        return await self._state(request)

    async def _state(self, _request: web.Request) -> web.Response:
        run = self._run
        if run is None:
            return _answer({"state": "none", "lines": [], "link": ""})
        state = "going" if run.code is None else "over"
        return _answer({"state": state, "code": run.code, "lines": run.lines, "link": run.link})

    async def _end(self, request: web.Request) -> web.Response:
        if self._run is not None:
            self._run.ask_to_end()
        return await self._state(request)

    async def _code(self, _request: web.Request) -> web.Response:
        """The running guidance's link as a QR code, for a telephone's camera."""
        if self._run is None or not self._run.link:
            raise web.HTTPNotFound
        from assist.output.phone import qr  # noqa: PLC0415  (its library may not be installed)

        content = await _on_thread(qr.as_svg, self._run.link)
        return web.Response(body=content, content_type="image/svg+xml")

    async def _machine(self, request: web.Request) -> web.Response:
        """What works on this computer, or the sounds, as the commands do it."""
        what = request.match_info["what"]
        return _answer(await self._done_by_job([what]))

    # -- check --------------------------------------------------------------------------------

    async def _all_sessions(self, _request: web.Request) -> web.Response:
        return _answer({"sessions": await _on_thread(kept.sessions)})

    async def _one_session(self, request: web.Request) -> web.Response:
        name = request.match_info["name"]
        self._sessions = {name: await _on_thread(kept.session, name)}  # one at a time is held
        return _answer(self._sessions[name].values)

    async def _photograph(self, request: web.Request) -> web.Response:
        name, attempt = request.match_info["name"], int(request.match_info["attempt"])
        if name not in self._sessions:
            self._sessions = {name: await _on_thread(kept.session, name)}
        for shot in self._sessions[name].photographs:
            content = shot.jpeg if request.match_info["kind"] == "picture" else shot.eyes_jpeg
            if shot.attempt.attempt == attempt and content is not None:
                return web.Response(body=content, content_type="image/jpeg")
        raise web.HTTPNotFound

    async def _work_on(self, request: web.Request) -> web.Response:
        folder = kept.session_folder(request.match_info["name"])
        done = await self._done_by_job([request.match_info["what"], str(folder)])
        self._sessions.clear()
        return _answer(done)

    async def _done_by_job(self, arguments: list[str]) -> dict[str, Any]:
        """What a command that ends by itself said, and how it ended."""
        job = await _on_thread(Job, arguments, current().language)
        try:
            while job.code is None:
                await asyncio.sleep(0.1)
            await _on_thread(job.wait, 1.0)
        finally:
            job.close()
        return {"code": job.code, "lines": job.lines}

    async def _report(self, request: web.Request) -> web.Response:
        file = kept.session_folder(request.match_info["name"]) / "report.html"
        if not file.is_file():
            raise UserError(_("there is no report yet: make one"))
        return _page(file.read_bytes())

    async def _guide(self, request: web.Request) -> web.Response:
        topic = request.match_info["topic"]
        if topic not in guide.TOPICS:
            raise web.HTTPNotFound
        text = guide.page(topic, _spoken(request, self)).text
        html = MarkdownIt("commonmark", {"html": False}).enable("table").render(text)
        return _answer({"html": html})


async def _no_picture(_request: web.Request) -> web.Response:
    """Browsers ask for one by themselves."""
    return web.Response(status=204)


def _spoken(request: web.Request, server: PageServer) -> str:
    asked = request.query.get("language", server._language)
    return asked if asked in languages() else "en"


def _answer(values: Any, status: int = 200) -> web.Response:
    """JSON; a number that it has no word for is a mistake of ours, found here."""
    return web.json_response(values, status=status, dumps=partial(json.dumps, allow_nan=False))


def _page(content: bytes) -> web.Response:
    """A page for reading: it has its own style and pictures inside it, and no script."""
    headers = {"Content-Security-Policy": _REPORT_POLICY}
    return web.Response(body=content, content_type="text/html", charset="utf-8", headers=headers)


async def _set_headers(_request: web.Request, response: web.StreamResponse) -> None:
    for name, value in HEADERS.items():
        if name != "Content-Security-Policy" or name not in response.headers:
            response.headers[name] = value


async def _sent(request: web.Request) -> dict[str, Any]:
    """A request's JSON object."""
    if request.content_type != "application/json":
        raise web.HTTPUnsupportedMediaType
    try:
        body = json.loads(await request.text())
    except (ValueError, RecursionError) as error:
        raise web.HTTPBadRequest from error
    if not isinstance(body, dict):
        raise web.HTTPBadRequest
    return body


async def _on_thread(do: Callable[..., Result], *given: Any) -> Result:
    """What it returns, on a thread, in the language of the request."""
    context = contextvars.copy_context()
    loop = asyncio.get_running_loop()
    return await loop.run_in_executor(None, partial(context.run, do, *given))


def run(language: str, port: int, started: Callable[[str], None]) -> None:
    """Serve until the page, or an interrupt, ends it."""
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(PageServer(language, port).serve(started))
