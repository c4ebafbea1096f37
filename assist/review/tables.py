"""The review as CSV and JSON."""

from __future__ import annotations

import csv
import io
import json
from datetime import datetime
from typing import Any

from assist.files import printable
from assist.review.checked import CheckedPicture

VERSION = 1
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


def pictures_csv(pictures: list[CheckedPicture]) -> bytes:
    """One line a picture."""
    hidden = {"thumbnail", "eyes_crop"}
    columns = [name for name in CheckedPicture.model_fields if name not in hidden]
    return to_csv([picture.model_dump() for picture in pictures], columns)


def pictures_json(pictures: list[CheckedPicture]) -> bytes:
    """The whole review."""
    content = {"version": VERSION, "pictures": [p.model_dump(mode="json") for p in pictures]}
    return (json.dumps(content, indent=1, ensure_ascii=False) + "\n").encode()
