"""What every calibration on the command line shares."""

from __future__ import annotations

from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.words import _
from assist.setup.personal_profile import NAME_LETTERS

Replace = Annotated[bool, typer.Option("--replace", help="Write over an existing profile.")]


def check_name(name: str) -> None:
    """UserError for a name that no profile takes, before anything is opened."""
    if len(name) > NAME_LETTERS:
        raise UserError(
            _("--name may have {most} letters, not {n}", most=NAME_LETTERS, n=len(name))
        )
