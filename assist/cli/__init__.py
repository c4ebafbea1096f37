"""The command line: `assist`, one module a command.

Only `check` is loaded before it is known that OpenCV loads: it has to tell when that fails.
"""

from __future__ import annotations

import io
import signal
import sys
from typing import Annotated

import typer
from typer.exceptions import TyperException

from assist import __version__
from assist.base.errors import BAD_INPUT, INTERRUPTED, UserError
from assist.base.files import plain
from assist.base.system import heaps, here
from assist.check.findings import mend_import
from assist.cli import check
from assist.cli.examples import examples, let_flow
from optics.checks import ImpossibleValueError

_DOES_WITHOUT = ("check", "--version")
"""What works without the libraries that the other commands need."""


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"self-portrait-assist {__version__}")
        raise typer.Exit


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


def bare_app() -> typer.Typer:
    """The command line with nothing but what needs no further library."""
    app = typer.Typer(
        name="assist",
        help="Helps a photographer alone with a camera on a tripod to stand in focus.",
        epilog=examples("assist check", "assist demo", "assist plan --help"),
        add_completion=False,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback(invoke_without_command=True)(_root)
    app.command("check", epilog=check.EXAMPLES)(check.check)
    return app


def whole_app() -> typer.Typer:
    """The command line. Raises ImportError where a library of the other commands does not load."""
    from assist.cli import commands  # noqa: PLC0415

    app = bare_app()
    commands.add_to(app)
    let_flow(app)
    return app


def main() -> None:
    """Load the command line, run it, and end the process."""
    sys.exit(run(load()))


def load() -> typer.Typer | ImportError:
    """The command line, or why the libraries of the command that is wanted do not load."""
    heaps.hold_few(here())
    try:
        return whole_app()
    except ImportError as error:
        return bare_app() if set(sys.argv[1:2]) & set(_DOES_WITHOUT) else error


def run(app: typer.Typer | ImportError) -> int:
    """Run what `load` gave; the exit code.

    A user's mistake is one line and exit code 2, never a traceback.
    """
    signal.signal(signal.SIGTERM, _interrupt)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A name that the terminal cannot show must not end a run that went well.
            stream.reconfigure(errors="backslashreplace")
    if isinstance(app, ImportError):
        return _complain(_told(app))
    try:
        returned = app(prog_name="assist", standalone_mode=False)
        code = returned if isinstance(returned, int) else 0
    except TyperException as error:
        code = _complain(error.format_message())
    except (UserError, ImpossibleValueError) as error:
        code = _complain(str(error))
    except (KeyboardInterrupt, typer.Abort):
        code = INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()  # the reader of a pipe has gone; there is no one left to tell
        code = 1
    except OSError as error:  # a folder that may not be read, a full disk
        where = "" if error.filename is None else f" {error.filename}"
        code = _complain(f"cannot use{where}: {error.strerror or error}")
    except MemoryError:
        code = _complain("there is not enough memory for this")
    return code


def _told(error: ImportError) -> str:
    mend = mend_import(here(), str(error))
    return "; ".join(
        part for part in (f"a library does not load: {error}", mend, "assist check tells more")
        if part
    )  # fmt: skip


def _interrupt(number: int, frame: object) -> None:
    """Being terminated ends a run as an interrupt does: records and video are finished."""
    raise KeyboardInterrupt


def _complain(message: str) -> int:
    typer.echo(f"assist: {plain(' '.join(message.split()))}", err=True)
    return BAD_INPUT
