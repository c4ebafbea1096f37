"""A live run as the page's controls ask for it, as arguments of the command line."""

from __future__ import annotations

import re
from typing import Literal, get_args

from assist.base.errors import UserError
from assist.base.units import parse_angle_deg, parse_length_m
from assist.base.words import _, current
from assist.output.screen.palette import THEMES
from assist.page.kept import checked_name, session_folder, set_up_file

SAMPLE = "sample"
"""The feed that comes with the program."""
_CAMERA = re.compile(r"\d{1,2}")
_ADDRESS = re.compile(r"(?:rtsps?|rtmp|https?|srt|udp|rtp|tcp)://[^\s\"'<>]{1,500}", re.IGNORECASE)
Shown = Literal["page", "window"]

Given = dict[str, object]


def feed_arguments(given: Given) -> list[str]:
    """The feed and how it sees. Raises UserError naming what is missing or cannot be."""
    feed = str(given.get("feed", "")).strip()
    if feed == SAMPLE:
        from assist.run import demo  # noqa: PLC0415  (it loads much, and few want it)

        return [str(demo.sample(demo.CLIP)), "--real-time", "--through", "taking-lens"]
    if not (_CAMERA.fullmatch(feed) or _ADDRESS.fullmatch(feed)):
        raise UserError(_("choose a feed: a camera of the list, or an address such as rtsp://..."))
    if given.get("through") == "taking-lens":
        return [feed, "--through", "taking-lens"]
    if given.get("through") != "own-lens":
        raise UserError(_("say where the feed comes from: the camera itself, or one beside it"))
    angle = _number(given, "view", parse_angle_deg, 1.0, 170.0, _("angle of view"))
    return [feed, "--through", "own-lens", "--field-of-view", f"{angle:g}deg"]


def run_arguments(given: Given) -> list[str]:
    """`assist live` with all that the controls hold. Raises UserError naming a wrong one."""
    practise = given.get("timer_kind") == "practise"
    feed = feed_arguments(given)
    if practise:  # a rehearsal plays a file in its own way
        feed = [word for word in feed if word != "--real-time"]
    arguments = ["rehearse" if practise else "live", *feed]
    if given.get("repeat") and not practise:
        arguments += ["--repeat", str(session_folder(given["repeat"]))]
    else:
        arguments += ["--set-up", str(set_up_file(given.get("set_up")))]
    if str(given.get("stature", "")).strip():
        height_m = _number(given, "stature", parse_length_m, 0.5, 2.6, _("height"))
        arguments += ["--stature", f"{height_m:.3f}m"]
    arguments += _timer(given)
    theme = str(given.get("theme", "plain"))
    if theme not in THEMES:
        raise UserError(_("there is no theme {name}", name=repr(theme[:40])))
    volume = _number(given, "volume", float, 0.0, 100.0, _("volume"), default="50")
    arguments += ["--theme", theme, "--volume", f"{volume:.0f}"]
    arguments += ["--language", current().language, "--units", current().units]
    arguments += ["--sound" if given.get("sound") else "--no-sound"]
    arguments += ["--speech"] if given.get("speech") else []
    arguments += ["--forward-only"] if given.get("forward_only") else []
    arguments += ["--teach-mark"] if given.get("teach_mark") else []
    shown = given.get("shown", "page")
    if shown not in get_args(Shown):
        raise UserError(_("the guidance is shown on the page or in a window of its own"))
    arguments += ["--window" if shown == "window" else "--no-window"]
    return [*arguments, "--share", "--share-video", "--share-devices", "2", *_phone(given)]


def _phone(given: Given) -> list[str]:
    """The guidance for a telephone too: the one case in which other machines can reach it."""
    if not given.get("phone"):
        return []
    from assist.output.phone.addresses import outward_address  # noqa: PLC0415

    address = outward_address()
    if address is None:
        raise UserError(_("this computer is in no network that a telephone could be in"))
    return ["--share-address", address]


def _timer(given: Given) -> list[str]:
    kind = given.get("timer_kind", "none")
    if kind == "none":
        return ["--timer", "none"]
    seconds = _number(given, "seconds", float, 0.5, 600.0, _("seconds"), default="10")
    if kind == "practise":
        runs = _number(given, "burst", float, 1.0, 20.0, _("runs"), default="1")
        return ["--timer", f"{seconds:g}s", "--runs", f"{runs:.0f}", *_session(given)]
    arguments = [{"timer": "--timer", "ready": "--when-ready"}.get(str(kind), ""), f"{seconds:g}s"]
    if not arguments[0]:
        raise UserError(_("the picture is taken by the timer, when you are ready, or not at all"))
    burst = _number(given, "burst", float, 1.0, 20.0, _("pictures"), default="1")
    if burst >= 2:
        arguments += ["--burst", f"{burst:.0f}"]
    trigger = given.get("trigger", "frame")
    if trigger not in ("frame", "none", "tether"):
        raise UserError(_("the picture is taken from the feed, by the camera, or over a cable"))
    return [*arguments, "--trigger", str(trigger), *_session(given)]


def _session(given: Given) -> list[str]:
    named = str(given.get("session", "")).strip()
    return ["--session", checked_name(named)] if named else []


def _number(
    given: Given, control: str, parse: object, least: float, most: float, what: str,
    default: str = "",
) -> float:  # fmt: skip
    text = str(given.get(control, "")).strip() or default
    try:
        assert callable(parse)
        number = float(parse(text))
    except (ValueError, ArithmeticError) as error:
        shown = repr(text[:40])
        raise UserError(_("{what}: {text} is no number", what=what, text=shown)) from error
    if not least <= number <= most:
        raise UserError(
            _("{what} must be from {least:g} to {most:g}", what=what, least=least, most=most)
        )
    return number
