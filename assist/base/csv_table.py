"""Tables as CSV that spreadsheets read and do not run."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from typing import Any

from assist.base.files import printable

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def cell(value: Any) -> str:
    """A value as a cell of CSV that no spreadsheet runs as a formula.

    Text that begins like a formula gets an apostrophe before it, as OWASP's page on CSV injection
    advises (from memory); numbers stay numbers.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, (tuple, list)):
        value = "; ".join(cell(item) for item in value)
    text = value.isoformat() if isinstance(value, datetime) else str(value)
    text = printable(text).replace("\x00", "")
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def to_csv(rows: list[dict[str, Any]], columns: list[str]) -> bytes:
    """Rows as CSV with a header; with a byte order mark, so that spreadsheets read UTF-8."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([cell(column) for column in columns])
    for row in rows:
        writer.writerow([cell(row.get(column)) for column in columns])
    return text.getvalue().encode("utf-8-sig")
