from dataclasses import dataclass
from typing import Annotated

import pytest
import typer
from typer.testing import CliRunner

from assist.cli.options.group import spread


@dataclass(frozen=True)
class Paint:
    colour: Annotated[str, typer.Option("--colour")] = "white"
    coats: Annotated[int, typer.Option("--coats", min=1)] = 2


def invoke(command, *arguments):
    app = typer.Typer()
    app.command()(command)
    return CliRunner().invoke(app, arguments)


def test_a_group_becomes_options_and_comes_back_whole():
    got = []

    @spread
    def command(what: Annotated[str, typer.Argument()], *, paint: Paint) -> None:
        """Paint something."""
        got.append((what, paint))

    assert invoke(command, "door", "--coats", "3").exit_code == 0
    assert got == [("door", Paint("white", 3))]
    assert "--colour" in invoke(command, "--help").output
    assert invoke(command, "door", "--coats", "0").exit_code == 2


def test_two_options_of_one_name_are_refused():
    def command(colour: str = "red", *, paint: Paint) -> None: ...

    with pytest.raises(TypeError, match="one name"):
        spread(command)


def test_a_field_without_default_is_refused():
    @dataclass
    class Bare:
        colour: str

    def command(*, paint: Paint) -> None: ...

    command.__annotations__["paint"] = Bare
    with pytest.raises(TypeError, match="default"):
        spread(command)
