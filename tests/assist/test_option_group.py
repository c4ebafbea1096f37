from dataclasses import dataclass
from typing import Annotated, Literal

import pytest
import typer
from pydantic import BaseModel, Field
from typer.testing import CliRunner

from assist.cli.options.group import spread
from assist.cli.options.of_model import Of, OneOf, names, stated


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


class Wall(BaseModel):
    height_m: float | None = Field(None, description="height of the wall, m", examples=["2.4m"])
    finish: Literal["matt", "gloss"] = Field("matt", description="matt, or gloss for kitchens")


class House(BaseModel):
    wall: Wall = Wall()
    name: str = Field("", description="what it is called; leave out if unknown")


@dataclass(frozen=True)
class HouseOptions:
    height: Annotated[str | None, Of(House, "wall.height_m", more="From the floor.")] = None
    finish: Annotated[str | None, Of(House, "wall.finish", "Paint")] = None
    name: Annotated[str | None, Of(House, "name", names=("--called",))] = None
    shade: Annotated[str, OneOf(("light", "dark"), "How bright.")] = "light"


def test_an_option_of_a_model_has_its_help_and_choices_from_the_field():
    got = []

    @spread
    def command(*, house: HouseOptions) -> None:
        """Build."""
        got.append(house)

    parameters = {p.name: p for p in typer_command(command).params}
    assert parameters["height"].help == "Height of the wall: 2.4m. From the floor."
    assert parameters["finish"].help == "matt, or gloss for kitchens."
    assert parameters["finish"].rich_help_panel == "Paint"
    assert parameters["name"].opts == ["--called"]
    assert parameters["name"].help == "What it is called; leave out if unknown."
    assert invoke(command, "--finish", "gloss", "--called", "ours").exit_code == 0
    assert stated(got[0]) == {"wall.finish": "gloss", "name": "ours"}
    for option, wrong in (("--finish", "wet"), ("--shade", "blue")):
        refused = invoke(command, option, wrong)
        assert refused.exit_code == 2
        assert "is not one of" in refused.output


def test_errors_about_a_place_name_the_option_that_states_it():
    assert names(HouseOptions) == {
        "wall.height_m": "--height", "wall.finish": "--finish", "name": "--called",
    }  # fmt: skip
    with pytest.raises(KeyError):
        Of(House, "wall.colour").help_text()


def typer_command(command):
    app = typer.Typer(add_completion=False)
    app.command()(command)
    return typer.main.get_command(app)
