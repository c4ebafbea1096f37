"""Markdown tables of measurements, printed and kept; and a document's copy of one."""

from __future__ import annotations

import platform
from collections.abc import Sequence
from pathlib import Path

RESULTS = Path(__file__).resolve().parent / "results"
ROOT = Path(__file__).resolve().parents[2]
GUIDE = ROOT / "assist" / "guide"


def table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A markdown table."""
    lines = ["| " + " | ".join(header) + " |", "|" + " --- |" * len(header)]
    lines += ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def keep(name: str, text: str) -> None:
    """Print the result and keep it as results/NAME.md."""
    print(text)
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / f"{name}.md").write_text(text, encoding="utf-8")


def put_between(document: Path, mark: str, text: str) -> None:
    """Replace what stands between <!-- MARK:begin --> and <!-- MARK:end --> of a document."""
    whole = document.read_text(encoding="utf-8")
    begin, end = f"<!-- {mark}:begin -->", f"<!-- {mark}:end -->"
    before, rest = whole.split(begin)
    after = rest.split(end)[1]
    document.write_text(f"{before}{begin}\n{text.strip()}\n{end}{after}", encoding="utf-8")


def machine() -> str:
    """What the figures were measured on, in words that fit any machine."""
    import os

    return f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
