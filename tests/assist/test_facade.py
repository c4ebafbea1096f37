"""What a notebook has of `import assist`: quick, without a trace in the process, and it works."""

import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

import assist
from assist.base.errors import UserError
from assist.base.system.libraries import WANTED, prepare_process
from tests.assist.footage import SET_UP, SIZE_PX, PlacedDetector

ROOT = Path(__file__).parents[2]


def python(code):
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_example_in_the_docstring_is_true():
    code = "import doctest, assist; print(doctest.testmod(assist))"
    assert "failed=0, attempted=1" in python(code)


def test_importing_it_changes_nothing_and_loads_nothing():
    code = """
import os, signal, sys, threading, warnings
before = dict(os.environ), list(warnings.filters), signal.getsignal(signal.SIGINT)
loaded = set(sys.modules)
import assist
assert (dict(os.environ), list(warnings.filters), signal.getsignal(signal.SIGINT)) == before
heavy = {"numpy", "cv2", "mediapipe", "matplotlib", "pydantic", "typer"}
print(heavy & (set(sys.modules) - loaded), threading.active_count())
"""
    assert python(code) == "set() 1\n"


def test_all_that_is_named_is_there_and_nothing_hides_a_room():
    rooms = {path.name for path in (ROOT / "assist").iterdir() if path.is_dir()}
    assert not rooms & set(assist.__all__)
    assert set(assist.__all__) <= set(dir(assist))
    for name in assist.__all__:
        assert getattr(assist, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = assist.nonsense


def test_a_process_is_prepared_by_whoever_owns_it_and_a_users_choice_stays():
    environment = {"OPENBLAS_NUM_THREADS": "4"}
    prepare_process(environment)
    assert environment == {**WANTED, "OPENBLAS_NUM_THREADS": "4"}


def test_a_set_up_is_stated_as_people_write_it():
    set_up = assist.set_up_of("35mm", 2.8, "4m", stature="5ft 7in", field_of_view=70)
    assert set_up.lens.focal_length_mm == 35
    assert set_up.person.stature_m == pytest.approx(1.7018)
    assert set_up.feed.stated_view == ("horizontal", 70)
    with pytest.raises(UserError, match="criterion"):
        assist.set_up_of("35mm", 2.8, "4m", criterion="sharp")
    with pytest.raises(TypeError, match="not colour"):
        assist.set_up_of("35mm", 2.8, "4m", colour="red")


@pytest.fixture
def detector():
    """Somebody of known stature at 4 m, whatever the picture."""
    return PlacedDetector(lambda _: 4.0, SET_UP)


def test_a_picture_is_measured_from_a_file_and_from_memory(tmp_path, detector):
    picture = np.full((SIZE_PX[1], SIZE_PX[0], 3), 90, np.uint8)
    file = tmp_path / "picture.png"
    cv2.imwrite(str(file), picture)
    for given in (picture, file, str(file)):
        body = assist.measure(given, SET_UP, detector=detector)
        assert body.hips_m == pytest.approx(4.0, rel=0.03)
    nobody = PlacedDetector(lambda _: None, SET_UP)
    assert assist.measure(picture, SET_UP, detector=nobody) is None
    with pytest.raises(UserError, match=r"nothing\.png"):
        assist.measure(tmp_path / "nothing.png", SET_UP, detector=detector)


def test_the_moments_of_a_feed_come_in_order_and_it_is_closed(tmp_path, detector, monkeypatch):
    for k in range(4):
        cv2.imwrite(str(tmp_path / f"{k}.png"), np.full((360, 640, 3), 60 + k, np.uint8))
    seen = list(assist.moments(tmp_path, SET_UP, detector=detector))
    assert [moment.frame.index for moment in seen] == [0, 1, 2, 3]
    assert seen[-1].body.hips_m == pytest.approx(4.0, rel=0.03)
    with pytest.raises(UserError, match="does not exist"):
        next(assist.moments(tmp_path / "gone.mp4", SET_UP, detector=detector))
    closed = []

    def close(source):
        closed.append(source)

    monkeypatch.setattr("assist.feed.image_folder.ImageFolderSource.close", close)
    some = assist.moments(tmp_path, SET_UP, detector=detector)
    next(some)
    some.close()
    assert closed
