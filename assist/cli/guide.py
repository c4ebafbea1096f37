"""`assist guide`."""

from __future__ import annotations

import difflib
import re
from typing import Annotated

import typer
from rich.console import Console
from rich.markdown import Markdown
from rich.table import Table

from assist import guide as handbook
from assist.base.errors import UserError
from assist.base.words import Words, _, current, language_of_locale, use
from assist.cli.examples import examples
from assist.cli.options import common

EXAMPLES = examples("assist guide", "assist guide connect", "assist guide narrow")
_WIDEST = 100
_COMMENT = re.compile(r"<!--.*?-->\n?", re.DOTALL)


def guide(
    topic: Annotated[
        str | None,
        typer.Argument(help="The page to read; left out, all are listed.", show_default=False),
    ] = None,
    language: common.Language = None,
) -> None:
    """Answer a question on a page of the guide.

    How to connect a camera, how to work by ear, how to get sharp eyes wide open, and so on.
    """
    use(Words(language or language_of_locale()))
    console = Console(highlight=False)
    console.width = min(console.width, _WIDEST)
    if topic is None:
        table = Table.grid(padding=(0, 2))
        for page in handbook.pages(current().language):
            table.add_row(f"[bold]{page.topic}[/bold]", page.question)
        console.print(table)
        typer.echo(_("Read one with assist guide TOPIC."))
        return
    if topic not in handbook.TOPICS:
        near = difflib.get_close_matches(topic, handbook.TOPICS, n=1)
        raise UserError(
            _("{topic}: there is no such page; did you mean {near}?", topic=topic, near=near[0])
            if near
            else _("{topic}: there is no such page; assist guide lists them", topic=topic)
        )
    text = handbook.page(topic, current().language).text
    console.print(Markdown(_COMMENT.sub("", text)))
