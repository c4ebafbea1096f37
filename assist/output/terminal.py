"""A line on the terminal that says how far a run is, and what it says right now."""

from __future__ import annotations

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bar

from assist.base.closing import Closing
from assist.feed import Source
from assist.guidance.assistant import Moment
from assist.guidance.guide import Action
from assist.guidance.message import Message


class Progress(Closing):
    """Shown on the standard error output, and only where that is a terminal.

    A listener of the run (`assist.output.listeners`) and a context manager.
    """

    def __init__(self, source: Source) -> None:
        self._bar = Bar(
            TextColumn("{task.description}"),
            BarColumn(bar_width=24),
            MofNCompleteColumn(),
            TimeElapsedColumn(),
            console=Console(stderr=True),
            transient=True,
        )
        self._task = self._bar.add_task("looking", total=source.frames_expected)
        self._quiet = not self._bar.console.is_terminal

    def show(self, moment: Moment) -> None:
        """Count one more picture."""
        if not self._quiet:
            self._bar.update(self._task, advance=1)

    def hear(self, message: Message) -> None:
        """Say what the guidance says, also when no picture comes."""
        if not self._quiet:
            words = ", ".join(message.troubles) or message.news or message.sentence
            if message.action is Action.NO_FEED:
                words = message.why
            self._bar.update(self._task, description=words[:40])

    def close(self) -> None:
        """Take the line away; safe to call twice."""
        if not self._quiet:
            self._bar.stop()

    def __enter__(self) -> Progress:
        if not self._quiet:
            self._bar.start()
        return self
