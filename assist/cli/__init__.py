"""The command line: `assist`, one module a command."""

from __future__ import annotations

import io
import signal
import sys
from typing import Annotated

import typer
from typer.exceptions import TyperException

from assist import __version__
from assist.cli import calibrate, demo, live, plan, rehearse, report, review, sessions, sounds
from assist.errors import UserError
from assist.files import plain
from optics.checks import ImpossibleValueError

BAD_INPUT = 2
INTERRUPTED = 130

app = typer.Typer(
    name="assist",
    help="Helps a photographer alone with a camera on a tripod to stand in focus.",
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("plan")(plan.plan)
app.command("live")(live.live)
app.command("rehearse")(rehearse.rehearse)
app.command("sounds")(sounds.sounds)
app.command("demo")(demo.demo)
app.command("review")(review.review)
app.command("report")(report.report)
app.add_typer(calibrate.app, name="calibrate")
app.add_typer(sessions.app, name="sessions")


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"self-portrait-assist {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def _root(
    context: typer.Context,
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_version, is_eager=True, help="Print the version and end."
        ),
    ] = False,
) -> None:
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


def main() -> None:
    """Run the command line; a user's mistake is one line and exit code 2, never a traceback."""
    signal.signal(signal.SIGTERM, _interrupt)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A name that the terminal cannot show must not end a run that went well.
            stream.reconfigure(errors="backslashreplace")
    try:
        code = app(prog_name="assist", standalone_mode=False)
    except TyperException as error:
        sys.exit(_complain(error.format_message()))
    except (UserError, ImpossibleValueError) as error:
        sys.exit(_complain(str(error)))
    except (KeyboardInterrupt, typer.Abort):
        sys.exit(INTERRUPTED)
    except BrokenPipeError:
        sys.stderr.close()  # the reader of a pipe has gone; there is no one left to tell
        sys.exit(1)
    except OSError as error:  # a folder that may not be read, a full disk
        where = "" if error.filename is None else f" {error.filename}"
        sys.exit(_complain(f"cannot use{where}: {error.strerror or error}"))
    except MemoryError:
        sys.exit(_complain("there is not enough memory for this"))
    sys.exit(code if isinstance(code, int) else 0)


def _interrupt(number: int, frame: object) -> None:
    """Being terminated ends a run as an interrupt does: records and video are finished."""
    raise KeyboardInterrupt


def _complain(message: str) -> int:
    typer.echo(f"assist: {plain(' '.join(message.split()))}", err=True)
    return BAD_INPUT
