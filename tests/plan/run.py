"""Run the command line in this process, as the console script does."""

from __future__ import annotations

import sys

import pytest

from assist import cli


def assist(monkeypatch, capsys, *arguments):
    """Exit code, standard output and standard error of `assist plan ...`."""
    monkeypatch.setattr(sys, "argv", ["assist", "plan", *map(str, arguments)])
    monkeypatch.setenv("COLUMNS", "100")
    code = 0
    try:
        cli.main()
    except SystemExit as end:
        code = end.code or 0
    out, err = capsys.readouterr()
    return code, out, err


@pytest.fixture
def plan(monkeypatch, capsys):
    """`plan("--lens", "50mm", ...)` -> (exit code, output, errors)."""
    return lambda *arguments: assist(monkeypatch, capsys, *arguments)
