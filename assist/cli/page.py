"""`assist page`, and `assist` alone at a terminal: the program as a page in the browser."""

from __future__ import annotations

import webbrowser
from typing import Annotated

import typer

from assist.base.words import _, language_of_locale
from assist.cli.examples import examples
from assist.cli.options.common import Language
from assist.cli.options.values import note

EXAMPLES = examples("assist page", "assist page --no-browser --port 8080")


def page(
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open it in the browser at once.")
    ] = True,
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="0 takes any that is free.")
    ] = 0,
    language: Language = None,
) -> None:
    """Open the program as a page in the browser: plan, connect, take, check, without options.

    Only this computer can reach it. Set-ups and sessions lie in the folder it was started in. It
    ends with the page's own button, or Ctrl+C here.
    """
    from assist.page import server  # noqa: PLC0415  (its library is loaded only here)

    def started(link: str) -> None:
        typer.echo(_("the page: {link}", link=link))
        typer.echo(_("only on this computer; end it with the page's button or Ctrl+C"))
        if browser and not webbrowser.open(link):
            note(_("no browser could be opened: open the link yourself"))

    server.run(language or language_of_locale(), port, started)
