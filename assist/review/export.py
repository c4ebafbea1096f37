"""The review as CSV and JSON."""

from __future__ import annotations

import json

from assist.base.csv_table import to_csv
from assist.review.checked import CheckedPicture

VERSION = 1


def pictures_csv(pictures: list[CheckedPicture]) -> bytes:
    """One line a picture."""
    hidden = {"thumbnail", "eyes_crop"}
    columns = [name for name in CheckedPicture.model_fields if name not in hidden]
    return to_csv([picture.model_dump() for picture in pictures], columns)


def pictures_json(pictures: list[CheckedPicture]) -> bytes:
    """The whole review."""
    content = {"version": VERSION, "pictures": [p.model_dump(mode="json") for p in pictures]}
    return (json.dumps(content, indent=1, ensure_ascii=False) + "\n").encode()
