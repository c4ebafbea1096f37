"""The pose network's file: given by the user, or built once from the installed mediapipe.

MediaPipe's Tasks interface wants one `.task` file, a zip of the person detector and the landmark
network with their image normalisation written into their metadata. Releases up to 0.10.21 carry
both networks without that metadata; later ones carry none. Nothing is downloaded.
"""

from __future__ import annotations

import contextlib
import importlib.metadata
import importlib.util
import io
import zipfile
import zlib
from pathlib import Path

import platformdirs

from assist.base.errors import UserError
from assist.base.files import write_whole
from assist.base.reading import read_bytes, size_of
from assist.base.words import N_, _
from assist.pose.network import LANDMARKER

DETECTOR = "pose_detector.tflite"

# Where the networks lie in the wheel, and the mean and standard deviation that their input picture
# is normalised with: the graphs in the same wheel map the detector's input to -1..1 and that of the
# landmark network to 0..1.
_IN_THE_WHEEL = {
    DETECTOR: ("modules/pose_detection/pose_detection.tflite", 127.5, 127.5),
    LANDMARKER: ("modules/pose_landmark/pose_landmark_full.tflite", 0.0, 255.0),
}
_MOST_BYTES = 200_000_000
_NO_MODEL = N_(
    "no pose model: the installed mediapipe carries none; install mediapipe==0.10.21, "
    "or give a pose landmarker bundle with --pose-model FILE"
)


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
    """The bundle to use: the user's, else the one in the cache, built there if need be.

    A cache that cannot be written to only costs the time to build it anew.
    Raises UserError when the user's file is not a bundle or when there is nothing to build from.
    """
    if given is not None:
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
        return _read(given)
    cached = _cached_path()
    if is_bundle(cached):
        return _read(cached)
    content = build_bundle()
    with contextlib.suppress(OSError, UserError):
        cached.parent.mkdir(parents=True, exist_ok=True)
        write_whole(cached, content)
    return content


def _read(path: Path) -> bytes:
    return read_bytes(path, _("pose model {path}", path=path), _MOST_BYTES)


def _cached_path() -> Path:
    version = importlib.metadata.version("mediapipe")
    return Path(platformdirs.user_cache_dir("self-portrait-assist")) / f"pose-{version}.task"


def build_bundle() -> bytes:
    """The bundle's bytes, made from the networks inside the installed mediapipe.

    Raises UserError when it carries none.
    """
    spec = importlib.util.find_spec("mediapipe")
    if spec is None or not spec.submodule_search_locations:
        raise UserError(_(_NO_MODEL))
    root = Path(spec.submodule_search_locations[0])
    if not all((root / inside).is_file() for inside, _, _ in _IN_THE_WHEEL.values()):
        raise UserError(_(_NO_MODEL))
    try:
        from mediapipe.tasks.python.metadata.metadata_writers.metadata_writer import (  # noqa: PLC0415
            MetadataWriter,
        )
    except ImportError as error:
        raise UserError(_(_NO_MODEL)) from error
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for name, (inside, mean, deviation) in _IN_THE_WHEEL.items():
            writer = MetadataWriter.create(bytearray((root / inside).read_bytes()))
            writer.add_image_input([mean], [deviation])
            # A fixed date makes the bundle the same wherever it is built.
            archive.writestr(zipfile.ZipInfo(name), bytes(writer.populate()[0]))
    return packed.getvalue()
