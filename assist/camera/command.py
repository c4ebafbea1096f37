"""The picture is taken by a command of the user's: a remote release, a script, another program."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from assist.base.errors import UserError
from assist.base.files import printable
from assist.base.images import ColourImage
from assist.base.system import here, processes
from assist.base.trouble import Trouble
from assist.base.words import _
from assist.camera.trigger import Fired, Trigger

NAME = "command"
_LAST_WORDS = 160
_SAID_BYTES = 4096
_ENDING = re.compile(r"^\.[A-Za-z0-9]{1,8}$")


def split(text: str) -> tuple[str, ...]:
    """The arguments in a line, quoted as on a command line. No shell ever sees them.

    Raises UserError when a quote is left open or nothing is there.
    """
    try:
        arguments = processes.split(here(), text)
    except ValueError as error:
        raise UserError(
            _("--on-fire {command}: {error}", command=repr(text), error=error)
        ) from error
    if not arguments:
        raise UserError(_("--on-fire needs a command, such as --on-fire 'release-shutter --now'"))
    return arguments


def check_there(arguments: tuple[str, ...]) -> None:
    """UserError where there is no such program: said now, not once the person is in the picture."""
    program = arguments[0]
    if "{" not in program and shutil.which(program) is None:
        raise UserError(
            _(
                "--on-fire: there is no program {program} here that can be run; give its whole "
                "path, or make it executable",
                program=repr(printable(program)),
            )
        )


class CommandTrigger(Trigger):
    """Runs a command; its exit code and last words go into the record.

    `{attempt}` and `{folder}` in the arguments stand for the attempt's number and the session's
    folder. A command that leaves `picture-0001.jpg` (or any ending) in the folder has made the
    picture of attempt 1. Broken off, the command and all that it started are ended.
    """

    name = NAME
    last_word_s = 3.0

    def __init__(self, arguments: tuple[str, ...], folder: Path, limit_s: float = 30.0) -> None:
        self._arguments = arguments
        self._folder = folder
        self.limit_s = limit_s
        self._running: tuple[int, subprocess.Popen[bytes]] | None = None
        self._broken_off: tuple[int, str] = (-1, "")

    def fire(self, picture: ColourImage, attempt: int) -> Fired:
        """Run it and wait for its end."""
        arguments = [
            a.replace("{attempt}", str(attempt)).replace("{folder}", str(self._folder.resolve()))
            for a in self._arguments
        ]
        # A file takes the output: a pipe would stay open as long as any grandchild lives.
        with tempfile.TemporaryFile() as output:
            try:
                process = subprocess.Popen(
                    arguments,
                    stdin=subprocess.DEVNULL,
                    stdout=output,
                    stderr=subprocess.STDOUT,
                    **processes.group_of_its_own(here()),
                )
            except (OSError, ValueError) as error:
                reason = getattr(error, "strerror", None) or str(error)
                problem = _(
                    "{program} cannot be run: {reason}", program=arguments[0], reason=reason
                )
                return Fired(NAME, None, problem, trouble=Trouble.COMMAND)
            self._running = attempt, process
            if self._broken_off[0] == attempt:  # while it was being started: nothing to end yet
                processes.end(here(), process)
            code = process.wait()
            self._running = None
            broken_off, why = self._broken_off
            if broken_off == attempt:
                return Fired(
                    NAME,
                    self._made(attempt),
                    _("{program} was ended {why}", program=arguments[0], why=why),
                    process.returncode,
                    trouble=Trouble.HANGS,
                )
            output.seek(max(0, output.seek(0, os.SEEK_END) - _SAID_BYTES))
            said = output.read(_SAID_BYTES).decode(errors="replace").split("\n")
        if code != 0:
            last = next((line.strip() for line in reversed(said) if line.strip()), "")
            problem = _("{program} ended with code {code}", program=arguments[0], code=code)
            if last:
                problem = f"{problem}: {last[:_LAST_WORDS]}"
            made = self._made(attempt)
            return Fired(NAME, made, problem, code, trouble=Trouble.COMMAND)
        return Fired(NAME, self._made(attempt), "", code)

    def _made(self, attempt: int) -> Path | None:
        found = self._folder.glob(f"picture-{attempt:04d}.*")
        return next((path for path in sorted(found) if _ENDING.match(path.suffix)), None)

    def abort(self, attempt: int, why: str) -> None:
        """End the command of that attempt, with all that it started."""
        self._broken_off = attempt, why
        running = self._running
        if running is not None and running[0] == attempt:
            processes.end(here(), running[1])

    def close(self) -> None:
        """Nothing is held."""
