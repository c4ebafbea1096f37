"""The pairing link as a QR code (ISO/IEC 18004), for a terminal or a file."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

from assist.base.errors import UserError
from assist.base.files import write_whole
from assist.base.words import _


def _code(link: str) -> Any:
    try:
        import segno  # noqa: PLC0415
    except ImportError as error:
        raise UserError(_("--share needs: pip install 'self-portrait-assist[share]'")) from error
    return segno.make(link, error="m", micro=False)


def for_terminal(link: str) -> str:
    """The code as lines of half-block characters, dark on light whatever the terminal's colours."""
    out = io.StringIO()
    _code(link).terminal(out, compact=True)
    return out.getvalue()


def save(link: str, path: Path) -> None:
    """Write it as PNG or SVG, by the file's ending; UserError for any other."""
    kind = path.suffix.lower().removeprefix(".")
    if kind not in ("png", "svg"):
        raise UserError(_("--share-qr {path}: the file must end in .png or .svg", path=path))
    write_whole(path, _drawn(link, kind))


def as_svg(link: str) -> bytes:
    """The code as a picture for a page."""
    return _drawn(link, "svg")


def _drawn(link: str, kind: str) -> bytes:
    memory = io.BytesIO()
    _code(link).save(memory, kind=kind, scale=10, border=4)
    return memory.getvalue()
