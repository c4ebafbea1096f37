"""A camera's own raw file, and the same picture as another program develops it.

Both come with Debian's package rawtran-doc 1.1 (usr/share/doc/rawtran, GPL-3+) and are no part of
this repository. `CAMERA_RAW` names the folder it was unpacked into; `.ci/run` does that.
"""

import json
import os
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

from assist import cli
from assist.review import picture

FOLDER = Path(os.environ.get("CAMERA_RAW", "")) / "usr" / "share" / "doc" / "rawtran"
RAW, DEVELOPED = FOLDER / "IMG_5952.CR2", FOLDER / "IMG_5952.png"
pytestmark = pytest.mark.skipif(
    not RAW.is_file(), reason="CAMERA_RAW does not name the unpacked package rawtran-doc"
)


@pytest.fixture(scope="module")
def opened():
    pytest.importorskip("rawpy")
    return picture.open_picture(RAW)


def test_its_tags_are_those_of_the_picture_and_not_of_the_small_one_inside(opened):
    assert opened.tags.focal_length_mm == 22
    assert opened.tags.f_number == 22
    assert opened.tags.iso == 640
    assert opened.tags.exposure_s == pytest.approx(1 / 400)
    # A sensor of 1.6 times a full frame's crop, 22.5 by 15.0 mm. Common practice, no source.
    assert opened.tags.sensor.width_m == pytest.approx(0.0225, rel=0.01)
    assert opened.tags.sensor.height_m == pytest.approx(0.0150, rel=0.01)


def test_without_the_tags_of_a_tiff_the_library_tells_them(opened, monkeypatch):
    monkeypatch.setattr(picture.Image, "open", lambda *_, **__: (_ for _ in ()).throw(OSError))
    other = picture.open_picture(RAW).tags
    for name in ("focal_length_mm", "f_number", "iso", "taken_at"):
        assert getattr(other, name) == getattr(opened.tags, name)
    assert other.exposure_s == pytest.approx(opened.tags.exposure_s, rel=1e-4)


def test_it_is_developed_as_another_program_does(opened):
    theirs = cv2.imread(str(DEVELOPED))
    ours = cv2.resize(opened.whole, theirs.shape[1::-1], interpolation=cv2.INTER_AREA)
    for channel in range(3):
        alike = np.corrcoef(ours[..., channel].ravel(), theirs[..., channel].ravel())[0, 1]
        assert alike > 0.95


def test_the_command_says_that_no_one_is_in_it(tmp_path, monkeypatch):
    monkeypatch.setattr(
        sys, "argv", ["assist", "review", str(RAW), "--output", str(tmp_path / "out")]
    )
    with pytest.raises(SystemExit) as ended:
        cli.main()
    assert not ended.value.code
    [checked] = json.loads((tmp_path / "out" / "review.json").read_text())["pictures"]
    assert checked["why"] == "no one found in it"
    assert checked["limit_mm"] == pytest.approx(0.0180, rel=0.01)  # diagonal / 1500
