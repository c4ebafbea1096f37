"""All commands, in the order in which the help lists them. None is loaded before it is wanted."""

from __future__ import annotations

from assist.base.words import N_
from assist.cli.lazy import Entry

ENTRIES = (
    Entry(
        "page",
        "assist.cli.page",
        N_(
            "Open the program as a page in the browser: plan, connect, take, check, without "
            "options."
        ),
    ),
    Entry(
        "check",
        "assist.cli.check",
        N_("Tell what works on this machine, and how to fix what does not."),
    ),
    Entry("plan", "assist.cli.plan", N_("Decide everything before walking into the picture.")),
    Entry(
        "live",
        "assist.cli.live",
        N_("Watch a feed and tell the person in it to step forward, step back or hold."),
    ),
    Entry(
        "rehearse",
        "assist.cli.rehearse",
        N_("Rehearse the walk to the mark: the live run without a picture, scored run by run."),
    ),
    Entry(
        "sounds",
        "assist.cli.sounds",
        N_(
            "Play all the sounds one after another, each with its name, to learn them before a run."
        ),
    ),
    Entry(
        "demo",
        "assist.cli.demo",
        N_(
            "Run the assistant on the clip that comes with it. Needs no camera, network, sound or "
            "display."
        ),
    ),
    Entry(
        "review",
        "assist.cli.review",
        N_(
            "Check the pictures themselves: are the eyes sharp, and if not, why and what to change."
        ),
    ),
    Entry(
        "report",
        "assist.cli.report",
        N_("Write one page about a session: set-up, plan, attempts, rehearsals, what to keep."),
    ),
    Entry(
        "calibrate",
        "assist.cli.calibrate",
        N_("Learn your body, and the feed's geometry, for better distances."),
    ),
    Entry("sessions", "assist.cli.sessions", N_("List, show and export sessions.")),
    Entry("guide", "assist.cli.guide", N_("Answer a question on a page of the guide.")),
)
