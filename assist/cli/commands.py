"""The commands that need OpenCV and the rest, in the order in which the help lists them."""

from __future__ import annotations

import typer

from assist.cli import calibrate, demo, live, plan, rehearse, report, review, sessions, sounds


def add_to(app: typer.Typer) -> None:
    """Register them."""
    app.command("plan", epilog=plan.EXAMPLES)(plan.plan)
    app.command("live", epilog=live.EXAMPLES)(live.live)
    app.command("rehearse", epilog=rehearse.EXAMPLES)(rehearse.rehearse)
    app.command("sounds", epilog=sounds.EXAMPLES)(sounds.sounds)
    app.command("demo", epilog=demo.EXAMPLES)(demo.demo)
    app.command("review", epilog=review.EXAMPLES)(review.review)
    app.command("report", epilog=report.EXAMPLES)(report.report)
    app.add_typer(calibrate.app, name="calibrate")
    app.add_typer(sessions.app, name="sessions")
