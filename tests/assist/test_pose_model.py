import io
import zipfile

import cv2
import pytest

from assist.base.errors import UserError
from assist.pose import bundle


def test_one_cv2_and_it_is_the_pinned_release():
    """Two distributions write the `cv2` package; held at one release they write the same files."""
    from importlib import metadata

    versions = {metadata.version(n) for n in ("opencv-python", "opencv-contrib-python")}
    assert len(versions) == 1
    assert versions.pop().startswith(cv2.__version__)
    assert hasattr(cv2, "aruco")


def test_bundle_is_the_same_each_time_and_whole():
    content = bundle.build_bundle()
    assert content == bundle.build_bundle()
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert archive.testzip() is None
        for info in archive.infolist():
            assert info.compress_type == zipfile.ZIP_STORED  # mapped into memory as it is
            assert b"NORM" in archive.read(info) or b"META" in archive.read(info)


def test_a_damaged_cached_bundle_is_built_again(tmp_path, monkeypatch):
    cached = tmp_path / "cache" / "pose.task"
    monkeypatch.setattr(bundle, "_cached_path", lambda: cached)
    whole = bundle.load_bundle()
    assert cached.read_bytes() == whole
    cached.write_bytes(whole[:1000])
    assert bundle.load_bundle() == whole
    assert cached.read_bytes() == whole


def test_an_installed_library_without_models_is_told_plainly(tmp_path, monkeypatch):
    monkeypatch.setattr(bundle, "_cached_path", lambda: tmp_path / "pose.task")
    monkeypatch.setattr(bundle, "_IN_THE_WHEEL", {"a": ("modules/gone.tflite", 0.0, 1.0)})
    with pytest.raises(UserError, match="--pose-model"):
        bundle.load_bundle()
