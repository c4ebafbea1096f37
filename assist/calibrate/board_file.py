"""Boards as files that print at their true size."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import cv2
import numpy as np

from assist.base.errors import UserError
from assist.base.files import write_whole
from assist.base.words import _
from assist.calibrate.board import Board

DOTS_PER_INCH = 300
_MM_PER_INCH = 25.4


def write_board(board: Board, path: Path) -> tuple[float, float]:
    """Write PNG or PDF by the file's ending; returns the page's width and height in millimetres."""
    page = board.picture(DOTS_PER_INCH)
    height_px, width_px = page.shape[:2]
    width_mm = width_px / DOTS_PER_INCH * _MM_PER_INCH
    height_mm = height_px / DOTS_PER_INCH * _MM_PER_INCH
    ending = path.suffix.lower()
    if ending == ".png":
        coded = cv2.imencode(".png", page)[1].tobytes()
        write_whole(path, _with_resolution(coded))
    elif ending == ".pdf":
        from matplotlib.figure import Figure  # noqa: PLC0415  (slow to load, rarely wanted)

        size = (width_px / DOTS_PER_INCH, height_px / DOTS_PER_INCH)
        figure = Figure(figsize=size, dpi=DOTS_PER_INCH)
        axes = figure.add_axes((0, 0, 1, 1))
        axes.axis("off")
        axes.imshow(np.asarray(page), interpolation="none", aspect="auto")
        buffer = io.BytesIO()
        figure.savefig(buffer, format="pdf", dpi=DOTS_PER_INCH)
        write_whole(path, buffer.getvalue())
    else:
        raise UserError(_("{path}: a board is written as .png or .pdf", path=path))
    return width_mm, height_mm


def _with_resolution(png: bytes) -> bytes:
    """The PNG with a pHYs chunk (W3C PNG, 11.3.4.3), so that it is printed at its true size."""
    per_m = round(DOTS_PER_INCH / _MM_PER_INCH * 1000)
    body = b"pHYs" + struct.pack(">IIB", per_m, per_m, 1)
    chunk = struct.pack(">I", 9) + body + struct.pack(">I", zlib.crc32(body))
    after_header = 8 + 25  # signature, then the IHDR chunk of a fixed 25 bytes
    return png[:after_header] + chunk + png[after_header:]
