"""The networks that come with the program: from mediapipe 0.10.21, Apache-2.0, see `NOTICE`.

`tests/networks.py` makes these files again, byte for byte, from the wheel that they are in.
"""

from __future__ import annotations

import hashlib
from importlib import resources

from assist.base.errors import UserError
from assist.base.words import _

POSE, FACE_DETECTOR, FACE_MESH = "pose.task", "face_detector.tflite", "face_mesh.tflite"
SHA_256 = {
    POSE: "563b0638542257af9ea190a4965843ea135cce1c0a6129438fde6a85444573ad",
    FACE_DETECTOR: "bbff11cebd1eb27a1e004cae0b0e63ec8c551cbf34a4451148b4908b8db3eca8",
    FACE_MESH: "87224e84eb8147a1058b8f26a93170627ee4a78b2a199d2927ed715e4a20699a",
}


def digest(content: bytes) -> str:
    """SHA-256, as it stands in SHA_256."""
    return hashlib.sha256(content).hexdigest()


def load(name: str) -> bytes:
    """A network's file.

    Raises UserError where it is missing or damaged.
    """
    try:
        content = (resources.files(__name__) / name).read_bytes()
    except OSError as error:
        raise UserError(
            _("the network {name} is missing: install the program anew", name=name)
        ) from error
    if digest(content) != SHA_256[name]:
        raise UserError(_("the network {name} is damaged: install the program anew", name=name))
    return content
