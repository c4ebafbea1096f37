"""The command line: `assist`."""

from __future__ import annotations

import sys

import typer

from assist.cli.plan import plan
from assist.errors import UserError
from optics.checks import ImpossibleValueError

app = typer.Typer(add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False)
app.command("plan")(plan)


@app.callback()
def _root() -> None:
    """Helps a photographer who is alone with a camera on a tripod."""


def main() -> None:
    """Run the command line; a user's error is one line and exit code 2."""
    try:
        app()
    except (UserError, ImpossibleValueError) as error:
        print(f"assist: {error}", file=sys.stderr)
        sys.exit(2)


if __name__ == "__main__":
    main()
