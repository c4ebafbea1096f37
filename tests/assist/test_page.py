"""The program as a page: its services, its server's guard, a newcomer's whole story in Chromium.

axe-core (by the package axe-core-python) finds nothing to mend in any of its views.
"""

from __future__ import annotations

import asyncio
import http.client
import json
import shutil
import threading
import time
from pathlib import Path

import pytest

from assist import cli
from assist.base.errors import UserError
from assist.base.words import Words, speaking
from assist.page import kept, planning, taking
from assist.page.server import PageServer
from assist.session.folder import Session
from assist.setup import set_up as set_ups
from assist.setup.set_up import load
from tests.assist.footage import SET_UP

GIVEN = {"lens": "50mm", "aperture": "f/5.6", "focus": "3m", "criterion": "0.02mm"}


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


# -- plan ------------------------------------------------------------------------------------------


def test_a_plan_has_the_numbers_of_the_command_line():
    """50 mm, f/5.6, 3 m, c = 0.02 mm: 0.34 m in front, 0.44 m behind; common practice."""
    shown = planning.plan(GIVEN).shown
    assert "0.34 m in front of the mark, 0.44 m behind it" in shown["headline"]
    drawing = shown["drawing"]
    assert drawing["labels"] == ["2.66 m", "3.00 m", "3.44 m"]
    assert drawing["near_m"] == pytest.approx(2.66, abs=0.005)
    crown_m = max(y for part in drawing["figure"] for _x, y in part)
    assert crown_m == pytest.approx(1.69, abs=0.03)
    assert any("look" in line.lower() for line in shown["cautions"])
    json.dumps(shown, allow_nan=False)


def test_a_zone_without_an_end_is_drawn_too():
    shown = planning.plan({"lens": "24mm", "aperture": "f/11", "focus": "4m"}).shown
    assert shown["drawing"]["far_m"] is None
    json.dumps(shown, allow_nan=False)


def test_without_a_distance_the_framing_tells_one():
    given = {"lens": "85mm", "aperture": "f/2", "framing": "full-body", "stature": "1.70m"}
    assert planning.plan(given).shown["focus"] == "6.98m"


@pytest.mark.parametrize(
    ("change", "told"),
    [({"lens": "wide"}, "lens"), ({"aperture": ""}, "aperture"), ({"focus": "-3m"}, "distance"),
     ({"stature": "tall"}, "height"), ({"lens": "5" * 3000}, "too long")],
)  # fmt: skip
def test_a_wrong_control_is_named(change, told):
    with pytest.raises(UserError, match=told):
        planning.plan({**GIVEN, **change})


def test_the_other_direction_lists_set_ups_that_fill_the_controls():
    wanted = {"framing": "knees-up", "stature": "1.7m", "light": "9", "room_before": "0.6m",
              "room_behind": "0.4m", "farthest": "6m", "iso_max": "3200",
              "lenses": "35mm f/1.8\n50mm f/1.8"}  # fmt: skip
    found = planning.search(wanted)
    best = found["choices"][0]
    again = planning.plan({**{name: best[name] for name in ("lens", "aperture", "focus")}})
    assert again.plan.zone.in_front_m >= 0.6 - 1e-9
    none = planning.search({**wanted, "room_before": "9m"})
    assert not none["choices"]
    assert none["why_none"]
    with pytest.raises(UserError, match="name the lenses"):
        planning.search({**wanted, "lenses": " "})


# -- what is kept ----------------------------------------------------------------------------------


def test_a_set_up_is_kept_and_comes_back(here):
    made = planning.plan({**GIVEN, "stature": "1.8m", "framing": "chest-up", "name": "Hall"})
    assert kept.keep_set_up("Hall", made.plan.set_up) == "Hall"
    assert kept.set_up_names() == ["Hall"]
    assert load(kept.set_up_file("Hall")) == made.plan.set_up
    controls = kept.set_up_controls("Hall")
    assert planning.plan({**controls, "criterion": "0.02mm"}).shown == made.shown
    assert "through" not in (here / "set-ups" / "Hall.toml").read_text()


@pytest.mark.parametrize(
    "name", ["", "..", "../x", "a/b", "a\\b", "x\0", ".hidden", "-o", "a" * 99, None, 7]
)
def test_no_name_leads_anywhere_else(name, here):
    (here / "x.toml").write_text("")
    for use in (kept.checked_name, kept.set_up_file, kept.session_folder):
        with pytest.raises(UserError, match="cannot be a name"):
            use(name)


def test_a_session_is_listed_and_shown(here):
    with Session(here / "sessions" / "saturday", SET_UP):
        pass
    assert [one["name"] for one in kept.sessions()] == ["saturday"]
    assert kept.session("saturday").values["attempts"] == 0
    with pytest.raises(UserError, match="there is no session 'sunday'"):
        kept.session("sunday")


# -- a run's arguments -----------------------------------------------------------------------------

RUN = {"feed": "0", "through": "taking-lens", "set_up": "Hall", "timer_kind": "timer",
       "seconds": "10", "shown": "page", "volume": "30"}  # fmt: skip


@pytest.fixture
def hall():
    kept.keep_set_up("Hall", set_ups.from_values({"lens": {"focal_length_mm": 35, "f_number": 2,
                                                           "focus_distance_m": 4}}))  # fmt: skip


@pytest.mark.parametrize(
    "change",
    [{}, {"feed": "sample"}, {"feed": "rtsp://192.0.2.1/a"}, {"stature": "5ft7", "burst": "3"},
     {"timer_kind": "ready", "sound": True, "speech": True, "forward_only": True},
     {"timer_kind": "none"}, {"through": "own-lens", "view": "70"}, {"shown": "window"},
     {"session": "first day", "trigger": "none", "teach_mark": True, "theme": "sun"},
     {"timer_kind": "practise", "burst": "3", "session": "walks"}],
)  # fmt: skip
def test_what_the_controls_ask_is_a_command_line_that_the_program_takes(hall, change):
    """Read by the real command line, without being run."""
    from tests.assist.command_lines import ROOT

    arguments = taking.run_arguments({**RUN, **change})
    context = ROOT.make_context("assist", list(arguments))
    name, command, rest = ROOT.resolve_command(context, [*context._protected_args, *context.args])
    assert name == ("rehearse" if change.get("timer_kind") == "practise" else "live")
    command.make_context(name, rest, parent=context)


def test_a_telephone_is_reached_only_when_it_is_asked_for(hall, monkeypatch):
    assert "--share-address" not in taking.run_arguments(RUN)
    monkeypatch.setattr("assist.output.phone.addresses.outward_address", lambda: "192.0.2.7")
    assert taking.run_arguments({**RUN, "phone": True})[-2:] == ["--share-address", "192.0.2.7"]
    monkeypatch.setattr("assist.output.phone.addresses.outward_address", lambda: None)
    with pytest.raises(UserError, match="in no network"):
        taking.run_arguments({**RUN, "phone": True})


@pytest.mark.parametrize(
    ("change", "told"),
    [({"feed": "/etc/passwd"}, "choose a feed"), ({"feed": "0; rm"}, "choose a feed"),
     ({"feed": "file:///etc/passwd"}, "choose a feed"), ({"through": ""}, "where the feed"),
     ({"through": "own-lens", "view": "no"}, "angle of view"), ({"set_up": "../x"}, "be a name"),
     ({"seconds": "soon"}, "seconds"), ({"seconds": "9999"}, "seconds"),
     ({"trigger": "--on-fire"}, "taken from the feed"), ({"theme": "--x"}, "no theme"),
     ({"session": "../up"}, "be a name"), ({"repeat": "gone"}, "no session"),
     ({"shown": "phone"}, "on the page"), ({"volume": "loud"}, "volume"),
     ({"timer_kind": "later"}, "by the timer"), ({"stature": "9m"}, "height")],
)  # fmt: skip
def test_what_cannot_be_is_refused_before_anything_runs(hall, change, told):
    with pytest.raises(UserError, match=told):
        taking.run_arguments({**RUN, **change})


# -- the server ------------------------------------------------------------------------------------


class Served:
    """A server on a thread of its own."""

    def __init__(self):
        self.server, self.link, started = PageServer("en"), "", threading.Event()

        def told(link):
            self.link = link
            started.set()

        def run():
            self.loop = asyncio.new_event_loop()
            self.loop.run_until_complete(self.server.serve(told))

        self.thread = threading.Thread(target=run)
        self.thread.start()
        assert started.wait(20)
        self.host = self.link.split("/")[2]
        self.token = self.link.partition("#")[2]
        self.cookie = ""

    def ask(self, path, body=None, host=None, **headers):
        line = http.client.HTTPConnection(self.host, timeout=120)
        headers = {"Host": host or self.host, "Cookie": self.cookie, **headers}
        if body is not None:
            headers = {"Origin": f"http://{self.host}", "Content-Type": "application/json",
                       **headers}  # fmt: skip
        content = None if body is None else json.dumps(body).encode()
        line.request("GET" if body is None else "POST", path, content, headers)
        answer = line.getresponse()
        read = answer.read()
        line.close()
        return answer.status, read, answer.headers

    def enter(self):
        status, _read, headers = self.ask("/enter", {"token": self.token})
        assert status == 204
        self.cookie = headers["Set-Cookie"].split(";")[0]
        return headers["Set-Cookie"]

    def close(self):
        self.loop.call_soon_threadsafe(self.server.quit)
        self.thread.join(20)
        assert not self.thread.is_alive()


@pytest.fixture
def served():
    one = Served()
    yield one
    one.close()


def test_only_who_has_the_link_is_answered(served):
    assert served.link.startswith("http://127.0.0.1:")
    assert served.ask("/")[0] == 200
    assert served.ask("/set-ups")[0] == 401
    assert served.ask("/plan", GIVEN)[0] == 401
    assert served.ask("/enter", {"token": "guessed"})[0] == 403
    cookie = served.enter()
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert served.ask("/set-ups")[0] == 200
    assert served.token.encode() not in served.ask("/")[1]


def test_foreign_pages_and_names_are_refused(served):
    served.enter()
    assert served.ask("/", host="evil.example")[0] == 403
    assert served.ask("/plan", GIVEN, Origin="http://evil.example")[0] == 403
    assert served.ask("/plan", GIVEN, **{"Sec-Fetch-Site": "cross-site"})[0] == 403
    assert served.ask("/plan", GIVEN, **{"Content-Type": "text/plain"})[0] == 415
    assert served.ask("/plan", {"lens": "x" * 20_000})[0] == 413


def test_no_path_leads_out(served, here):
    served.enter()
    (here / "secret").write_text("secret")
    for path in ("/sessions/..", "/sessions/..%2f..", "/sessions/%2e%2e/report", "/files/page.js",
                 "/set-ups/..%2fsecret", "/../secret", "/sessions/x/picture/1"):  # fmt: skip
        status, read, _headers = served.ask(path)
        assert status in (404, 422), path
        assert b"secret" not in read.replace(b"..%2fsecret", b"").replace(b"../secret", b"")


def test_mistakes_are_answers_in_the_pages_language(served):
    served.enter()
    status, read, _headers = served.ask("/plan?language=de", {**GIVEN, "aperture": ""})
    assert status == 422
    assert "Blende" in json.loads(read)["error"]
    status, read, headers = served.ask("/plan?units=feet", GIVEN)
    assert status == 200
    assert "'" in json.loads(read)["headline"]
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert json.loads(served.ask("/guide/connect?language=de")[1])["html"].startswith("<h1>Wie")
    assert served.ask("/guide/passwd")[0] == 404
    assert served.ask("/run/code.svg")[0] == 404


def test_the_running_guidance_has_a_code_for_the_telephone(served):
    class Running:
        link, code, lines = "http://192.0.2.7:5/#ABCD-EFGH", None, ()

        def ask_to_end(self):
            self.code = 0

        def wait(self, seconds):
            pass

        def close(self):
            pass

    served.enter()
    served.server._run = Running()
    status, read, headers = served.ask("/run/code.svg")
    assert status == 200
    assert headers["Content-Type"].startswith("image/svg+xml")
    assert b"<svg" in read


def test_what_works_here_is_told_by_the_same_check(served):
    served.enter()
    status, read, _headers = served.ask("/machine/check?language=de", {})
    told = json.loads(read)
    assert status == 200
    assert any("Python" in line for line in told["lines"])
    assert served.ask("/machine/demo", {})[0] == 404


def test_a_plan_is_answered_while_something_slow_goes_on(served, monkeypatch):
    served.enter()
    began, over = threading.Event(), threading.Event()

    def slow(_feed):
        began.set()
        over.wait(10)
        return {"problem": "late"}

    monkeypatch.setattr("assist.page.looking.looked_at", slow)
    thread = threading.Thread(target=served.ask, args=("/look", {"feed": "0"}))
    thread.start()
    assert began.wait(5)
    assert served.ask("/plan", GIVEN)[0] == 200
    over.set()
    thread.join()


def test_assist_alone_opens_the_page_at_a_terminal_and_shows_help_elsewhere(monkeypatch, capsys):
    from assist.cli import page

    calls = []
    monkeypatch.setattr(page, "page", lambda: calls.append("page"))
    monkeypatch.setattr("sys.argv", ["assist"])
    assert cli.run(cli.load()) == 0
    assert not calls
    assert "Usage" in capsys.readouterr().out
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    assert cli.run(cli.load()) == 0
    assert calls == ["page"]


# -- in the browser --------------------------------------------------------------------------------

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DRIVER = shutil.which("chromedriver")


@pytest.fixture
def browser():
    if not (CHROMIUM and DRIVER):
        pytest.skip("needs Chromium and its driver")
    webdriver = pytest.importorskip("selenium.webdriver")
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--window-size=1200,1500"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    yield driver
    driver.quit()


def until(what, seconds=60):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if what():
            return
        time.sleep(0.1)
    raise AssertionError("it did not come about")


def findings(browser):
    """What axe-core finds, by rule, in the view that is open."""
    package = pytest.importorskip("axe_core_python")
    script = Path(package.__file__).with_name("axe.min.js").read_text(encoding="utf-8")
    browser.execute_script(script)
    found = browser.execute_async_script(
        "const done = arguments[0]; axe.run(document).then(r => done(r.violations))"
    )
    return [(one["id"], [node["html"][:120] for node in one["nodes"]]) for one in found]


def test_a_newcomer_plans_takes_a_picture_and_checks_it(served, browser):
    """With the sample clip as the feed; every view without a finding of axe-core, in German too."""

    def the(name):
        return browser.find_element("id", name)

    def go(name):
        browser.execute_script(f"location.hash = '#{name}'")
        until(lambda: the(f"{name}-title").is_displayed())

    def severe():
        return [entry["message"] for entry in browser.get_log("browser")
                if entry["level"] == "SEVERE"]  # fmt: skip

    browser.get(served.link)
    until(lambda: "In focus from 3.40 m to 4.87 m" in the("plan-headline").text)
    assert served.token not in browser.current_url
    assert findings(browser) == []
    browser.execute_script(
        "const r = document.querySelector('[data-for=focus]'); r.value = 6;"
        "r.dispatchEvent(new Event('input', {bubbles: true}))"
    )
    until(lambda: "6.00 m" in the("side-drawing").get_attribute("textContent"))
    browser.execute_script(
        "const f = at('plan-form').elements; f.lens.value = '35mm'; f.aperture.value = 'f/2';"
        "f.focus.value = '4m'; f.stature.value = '1.70m';"
        "f.lens.dispatchEvent(new Event('input', {bubbles: true}))"
    )
    until(lambda: "3.38 m" in the("plan-headline").text)
    browser.find_element("css selector", "#keep-form button").click()
    until(lambda: "my set-up" in the("kept-word").text)
    assert kept.set_up_names() == ["my set-up"]

    go("connect")
    the("look").click()
    until(lambda: "1280 x 720" in the("look-word").text)
    assert findings(browser) == []

    go("take")
    browser.find_element("name", "session").send_keys("first")
    assert findings(browser) == []
    the("start").click()
    until(lambda: the("open-guidance").is_displayed())
    the("open-guidance").click()  # a link to another port: the second screen's own server
    until(lambda: len(browser.window_handles) == 2)
    browser.switch_to.window(browser.window_handles[1])
    until(lambda: the("word").text.strip() != "")
    browser.close()
    browser.switch_to.window(browser.window_handles[0])
    until(lambda: "over" in the("run-word").text, 120)
    assert "session: sessions/first" in the("run-lines").text
    severe()

    go("check")
    until(lambda: "first" in the("sessions").text)
    browser.find_element("css selector", "#sessions button").click()
    until(lambda: "attempt 1" in the("shots").text)
    the("report").click()
    until(lambda: the("open-report").is_displayed())
    assert findings(browser) == []

    go("guide")
    until(lambda: "install" in the("page").text)
    browser.get(browser.current_url.split("#")[0] + "?language=de#guide/connect")
    until(lambda: "Wie schließe ich eine Kamera an?" in the("page").text)
    assert findings(browser) == []
    assert severe() == []
    the("quit").click()
    until(lambda: not served.thread.is_alive())


@pytest.mark.parametrize("size", [(320, 568), (768, 1024)])
def test_nothing_is_cut_off_on_a_small_screen(served, browser, size):
    browser.set_window_size(500, 700)
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": size[0], "height": size[1], "deviceScaleFactor": 1, "mobile": True},
    )
    browser.get(served.link)
    until(lambda: browser.find_element("id", "plan-headline").text)
    for name in ("plan", "connect", "take", "check", "guide"):
        browser.execute_script(f"location.hash = '#{name}'")
        until(lambda name=name: browser.find_element("id", name).is_displayed())
        wide = browser.execute_script("return document.documentElement.scrollWidth")
        assert wide <= size[0], name


def test_a_control_that_is_typed_says_so_in_feet():
    with speaking(Words("en", "feet")):
        assert planning.plan(GIVEN).shown["drawing"]["labels"][1].startswith("9' 10")
