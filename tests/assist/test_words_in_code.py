"""No English escapes translation in the code itself: what is told to people goes through words.

The pseudo-language test sees what it runs; this one sees every line, rare errors included.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TELLING = frozenset({"UserError", "NoSoundError", "NoSpeechError", "NotMeasured", "TooLargeError",
                     "UnreadableError", "NewerVersionError", "NothingToShowError", "echo",
                     "secho", "note", "BadParameter", "UsageError"})  # fmt: skip
"""Functions and errors whose first argument a person reads."""
LETTERS = re.compile(r"[^\W\d_]{2,}")
ALLOWED = {
    'f"assist: {': "the program's name, before every complaint",
    "f'assist: {": "the program's name, before every complaint",
    "f'self-portrait-assist {": "the program's name and version",
}
"""How an argument may begin, and why."""


def english(argument: ast.expr) -> bool:
    """Whether an argument holds words that were not handed to a translation."""
    if isinstance(argument, ast.Constant):
        return isinstance(argument.value, str) and bool(LETTERS.search(argument.value))
    parts: list[ast.expr] = []
    if isinstance(argument, (ast.JoinedStr, ast.BoolOp)):
        parts = argument.values
    elif isinstance(argument, ast.FormattedValue):
        parts = [argument.value]
    elif isinstance(argument, ast.BinOp):
        parts = [argument.left, argument.right]
    elif isinstance(argument, ast.IfExp):
        parts = [argument.body, argument.orelse]
    return any(map(english, parts))


def untranslated(source: str) -> list[tuple[int, str]]:
    """Lines and arguments with words of their own."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if name in TELLING and english(node.args[0]):
            argument = ast.unparse(node.args[0])
            if not argument.startswith(tuple(ALLOWED)):
                found.append((node.lineno, argument))
    return found


@pytest.mark.parametrize(
    "line",
    ['raise UserError("no feed")', 'typer.echo(f"session: {x}")', 'note(_("a") + " and")',
     'raise UserError(f"{a} is wrong" if a else _("b"))', 'echo(a or "none")'],
)  # fmt: skip
def test_english_is_found(line):
    assert untranslated(line)


@pytest.mark.parametrize(
    "line", ['typer.echo(_("session: {x}", x=x))', 'typer.echo(f"- {line}")', 'open("a file")']
)
def test_words_are_let_through(line):
    assert not untranslated(line)


def test_what_is_told_goes_through_words():
    files = sorted((ROOT / "assist").rglob("*.py"))
    assert len(files) > 200
    found = {
        f"{path.relative_to(ROOT).as_posix()}:{number}": argument
        for path in files
        for number, argument in untranslated(path.read_text(encoding="utf-8"))
    }
    assert not found
