"""A line on the terminal that says how far a run is, and what it says right now."""

from __future__ import annotations

from types import TracebackType

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bar

from assist.assistant import Moment
from assist.feed import Source


class Progress:
    """Shown on the standard error output, and only where that is a terminal. A context manager."""

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
            self._bar.update(self._task, advance=1, description=moment.guidance.sentence[:40])

    def __enter__(self) -> Progress:
        if not self._quiet:
            self._bar.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if not self._quiet:
            self._bar.stop()
