"""`optics` must stay free of pictures, files and of `assist`."""

import ast
from pathlib import Path

import optics

ALLOWED = {"__future__", "collections", "dataclasses", "enum", "functools", "importlib",
           "itertools", "math", "numpy", "optics", "pydantic", "re", "typing"}  # fmt: skip


def test_optics_imports_nothing_that_touches_the_outside():
    files = list(Path(optics.__file__).parent.rglob("*.py"))
    assert len(files) > 5
    for file in files:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            for name in names:
                assert name.split(".")[0] in ALLOWED, f"{file.name} imports {name}"
