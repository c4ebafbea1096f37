"""The command line: `assist`, one module a command, loaded when it is wanted.

`check` and `--help` work without the libraries that the other commands need.
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
from assist.base.system.libraries import prepare_process
from assist.base.words import Words, _, language_of_locale, of_error, use
from assist.cli import help_text, mistakes
from assist.cli.commands import ENTRIES
from assist.cli.examples import examples
from assist.cli.lazy import LazyGroup
from optics.errors import ImpossibleValueError


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
    if context.invoked_subcommand is not None:
        return
    if sys.stdin.isatty() and sys.stdout.isatty():
        from assist.cli.page import page  # noqa: PLC0415  (loads nothing that other commands need)

        page()
    else:
        typer.echo(context.get_help())


def command_line(*, whole: bool = False) -> LazyGroup:
    """The command line in the language that holds here; `whole`: with every command loaded."""
    app = typer.Typer(
        name="assist",
        cls=LazyGroup,
        help="Helps a photographer alone with a camera on a tripod to stand in focus.",
        epilog=examples("assist check", "assist demo", "assist plan --help"),
        add_completion=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback(invoke_without_command=True)(_root)
    group = typer.main.get_command(app)
    assert isinstance(group, LazyGroup)
    help_text.translate(group)
    for entry in ENTRIES:
        group.add(entry)
    if whole:
        group.load_all()
    return group


def main() -> None:
    """Load the command line, run it, and end the process."""
    sys.exit(run(load()))


def load() -> LazyGroup | ImportError:
    """The command line with the command that is wanted, or why a library of that does not load.

    From here on the process speaks the language of the computer, unless an option says otherwise.
    """
    prepare_process()
    _speak_as_the_computer()
    heaps.hold_few(here())
    group = command_line()
    try:
        for wanted in sys.argv[1:2]:
            group.load(wanted)
    except ImportError as error:
        return error
    return group


def _speak_as_the_computer() -> None:
    use(Words(language_of_locale()))
    help_text.let_library_speak()


def run(group: LazyGroup | ImportError) -> int:
    """Run what `load` gave; the exit code.

    A user's mistake is one line and exit code 2, never a traceback.
    """
    _speak_as_the_computer()
    signal.signal(signal.SIGTERM, _interrupt)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A name that the terminal cannot show must not end a run that went well.
            stream.reconfigure(errors="backslashreplace")
    if isinstance(group, ImportError):
        return _complain(_told(group))
    try:
        returned = group.main(prog_name="assist", standalone_mode=False)
        code = returned if isinstance(returned, int) else 0
    except TyperException as error:
        # Without a message it is a group without a command, whose help has been shown.
        complaint = mistakes.told(error)
        code = _complain(complaint) if complaint else BAD_INPUT
    except (KeyboardInterrupt, typer.Abort):
        code = INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()  # the reader of a pipe has gone; there is no one left to tell
        code = 1
    except OSError as error:  # a folder that may not be read, a full disk
        code = _complain(_cannot_use(error))
    except MemoryError:
        code = _complain(_("there is not enough memory for this"))
    except (UserError, ImpossibleValueError) as error:
        code = _complain(of_error(error))
    return code


def _cannot_use(error: OSError) -> str:
    why = error.strerror or error
    if error.filename is None:
        return _("cannot use: {why}", why=why)
    return _("cannot use {file}: {why}", file=error.filename, why=why)


def _told(error: ImportError) -> str:
    from assist.check.findings import mend_import  # noqa: PLC0415  (where there is time for it)

    mend = mend_import(here(), str(error))
    parts = (
        _("a library does not load: {error}", error=error),
        mend,
        _("assist check tells more"),
    )
    return "; ".join(part for part in parts if part)


def _interrupt(number: int, frame: object) -> None:
    """Being terminated ends a run as an interrupt does: records and video are finished."""
    raise KeyboardInterrupt


def _complain(message: str) -> int:
    typer.echo(f"assist: {plain(' '.join(message.split()))}", err=True)
    return BAD_INPUT
