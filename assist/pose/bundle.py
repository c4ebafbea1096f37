"""The pose network's file: given by the user, or the one that comes with the program.

MediaPipe's Tasks interface wants one `.task` file, a zip of the person detector and the landmark
network with their image normalisation written into their metadata. Nothing is downloaded.
"""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path

from assist.base.errors import UserError
from assist.base.reading import read_bytes, size_of
from assist.base.words import _
from assist.pose import networks
from assist.pose.network import LANDMARKER

DETECTOR = "pose_detector.tflite"
_MOST_BYTES = 200_000_000


def is_bundle(path: Path) -> bool:
    """Whether the file is a whole zip that holds both networks."""
    try:
        with zipfile.ZipFile(path) as archive:
            names = set(archive.namelist())
            if sum(entry.file_size for entry in archive.infolist()) > _MOST_BYTES:
                return False  # unpacking it to look for damage would take for ever
            return {DETECTOR, LANDMARKER} <= names and archive.testzip() is None
    except (OSError, ValueError, zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError):
        return False  # damaged, encrypted, or packed in a way that Python cannot undo


def load_bundle(given: Path | None = None) -> bytes:
    """The bundle to use: the user's, else the one that comes with the program.

    Raises UserError when the user's file is not a bundle, or ours is missing or damaged.
    """
    if given is None:
        return networks.load(networks.POSE)
    size_of(given, _("pose model {path}", path=given), _MOST_BYTES)
    if not is_bundle(given):
        raise UserError(
            _(
                "pose model {path} is not a pose landmarker bundle (a .task file holding "
                "{one} and {other})",
                path=given,
                one=DETECTOR,
                other=LANDMARKER,
            )
        )
    return read_bytes(given, _("pose model {path}", path=given), _MOST_BYTES)
