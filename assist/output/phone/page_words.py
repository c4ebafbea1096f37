"""The page's own words: what it says before it is paired, without news, and of its switches."""

from __future__ import annotations

from assist.base.words import Words


def page_words(say: Words) -> dict[str, str]:
    """The words by the names under which the page and its script look for them."""
    _, _p = say.gettext, say.pgettext
    return {
        "language": say.language,
        "title": _("Self-portrait assistant"),
        "pair": _("Pair this screen"),
        "code": _("Code shown beside the camera"),
        "pair_button": _("Pair"),
        "wrong_code": _("That code is not right."),
        "closed": _("Pairing is closed. Start again with --share for a new code."),
        "full": _("Too many screens are open. Close one."),
        "connecting": _("CONNECTING"),
        "connecting_why": _("looking for the assistant"),
        "first": _p("page", "WAITING"),
        "first_why": _("for the first picture"),
        "waiting": _("NO NEWS"),
        "waiting_why": _("nothing new from the assistant"),
        "lost": _("NO LINK"),
        "lost_why": _("trying again"),
        "ended": _("ENDED"),
        "ended_why": _("the run has ended"),
        "sound_on": _("Sound: on"),
        "sound_off": _("Sound: off"),
        "vibration_on": _("Vibration: on"),
        "vibration_off": _("Vibration: off"),
        "mark": _("I'm on the mark"),
        "who": _("Not me: next person"),
        "theme_plain": _("Colours: plain"),
        "theme_sun": _("Colours: sun"),
        "theme_night": _("Colours: night"),
        "theme_contrast": _("Colours: contrast"),
        "awake": _("Set this screen not to sleep."),
        "care": _("Never step back without looking behind you. Local rules override this page."),
        "tap": _("Tap once, or it cannot vibrate."),
    }
