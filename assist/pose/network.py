"""Which pose network a bundle holds, told by its weights.

What a network draws as a shoulder, and how it misjudges a posture, is its own: the constants that
turn landmarks into distances were measured with one network and are wrong for every other. Another
one that draws a body three per cent larger would put it three per cent nearer, and surely so.
"""

from __future__ import annotations

import hashlib
import io
import struct
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass

LANDMARKER = "pose_landmarks_detector.tflite"
"""A bundle's file that holds the landmark network."""


@dataclass(frozen=True, slots=True)
class Network:
    """A pose network as far as it is known here.

    measured: whether the constants of `assist.setup.body` and `assist.distance` hold for it.
    """

    name: str
    measured: bool


FULL = Network("full", measured=True)
"""The one that comes with the program, with which all was measured."""
HEAVY = Network("heavy", measured=False)
LITE = Network("lite", measured=False)
UNKNOWN = Network("unknown", measured=False)

_BY_WEIGHTS = {
    "849db4054ac9dc419b44704d8e007133cedc8450761ffec951190fdc60dfd79e": FULL,
    "0c007f6dc14867d88a27af00ea3099852f35292d34aecaa70efd5cf600b304dd": HEAVY,
    "c6780e9db2f3cdce2c4eecb5634bd50503c0a8df59fb20e18c9c6d6c9be75084": LITE,
}
_LEAST_BYTES = 1024
_METADATA = b"M001"


def network_of(bundle: bytes) -> Network:
    """The network in a pose landmarker bundle, UNKNOWN where it is none that was ever tried."""
    try:
        with zipfile.ZipFile(io.BytesIO(bundle)) as archive:
            return _BY_WEIGHTS.get(weights_digest(archive.read(LANDMARKER)), UNKNOWN)
    except (KeyError, OSError, ValueError, struct.error, zipfile.BadZipFile):
        return UNKNOWN


def weights_digest(network: bytes) -> str:
    """SHA-256 of a TFLite network's weights; what is written about it beside them does not count.

    Raises struct.error or ValueError where the bytes are no such network.
    """
    digest = hashlib.sha256()
    for weights in sorted(_buffers(network)):
        digest.update(weights)
    return digest.hexdigest()


def _buffers(network: bytes) -> Iterator[bytes]:
    """The large buffers of a TFLite file: a flatbuffer whose root table's fifth field they are."""
    vector = _vector(network, _number(network, 0), 4)
    if vector is None:
        raise ValueError("no buffers")
    for k in range(_number(network, vector)):
        place = vector + 4 + 4 * k
        data = _vector(network, place + _number(network, place), 0)
        if data is None:
            continue
        size = _number(network, data)
        content = network[data + 4 : data + 4 + size]
        if len(content) != size:
            raise ValueError("a buffer goes beyond the end")
        if size >= _LEAST_BYTES and content[4:8] != _METADATA:
            yield content


def _number(data: bytes, place: int) -> int:
    return int(struct.unpack_from("<I", data, place)[0])


def _vector(data: bytes, table: int, field: int) -> int | None:
    """Where the vector in a table's field begins; None where the table lacks it."""
    (back,) = struct.unpack_from("<i", data, table)
    fields = table - back
    if fields < 0:
        raise ValueError("a table without fields")
    (size,) = struct.unpack_from("<H", data, fields)
    entry = 4 + 2 * field
    if entry + 2 > size:
        return None
    (offset,) = struct.unpack_from("<H", data, fields + entry)
    if offset == 0:
        return None
    place = table + int(offset)
    return place + _number(data, place)
