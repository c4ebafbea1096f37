"""The shipped clip's truth is consistent with itself and with the thin-lens formulas."""

from __future__ import annotations

import csv
import json
import math
from itertools import pairwise
from pathlib import Path

import pytest

SAMPLES = Path(__file__).resolve().parents[2] / "samples"


@pytest.fixture(scope="module")
def camera() -> dict[str, float]:
    """The clip's camera record."""
    return json.loads((SAMPLES / "walk.camera.json").read_text())


@pytest.fixture(scope="module")
def rows() -> list[dict[str, str]]:
    """The clip's truth, a row per frame."""
    with (SAMPLES / "walk.truth.csv").open(newline="") as stream:
        return list(csv.DictReader(stream))


def test_focal_length_in_pixels_is_that_of_the_focused_lens(camera: dict[str, float]) -> None:
    focal_m = camera["focal_length_mm"] / 1000.0
    lens_m = camera["focus_distance_from_lens_m"]
    image_m = camera["focus_distance_from_sensor_m"] - lens_m
    assert 1.0 / lens_m + 1.0 / image_m == pytest.approx(1.0 / focal_m, rel=1e-3)
    pixels = image_m * 1000.0 / camera["sensor_width_mm"] * camera["image_width_px"]
    assert camera["fx_px"] == pytest.approx(pixels, rel=1e-3)
    assert camera["cx_px"] == camera["image_width_px"] / 2.0


def test_one_row_per_frame_at_a_steady_rate(
    camera: dict[str, float], rows: list[dict[str, str]]
) -> None:
    assert len(rows) == camera["frames"]
    assert [int(r["frame"]) for r in rows] == list(range(len(rows)))
    step = 1.0 / camera["frames_per_second"]
    times = [float(r["time_s"]) for r in rows]
    assert all(b - a == pytest.approx(step, abs=1e-3) for a, b in pairwise(times))


def test_nobody_moves_faster_than_a_person_walks(rows: list[dict[str, str]]) -> None:
    places = [[float(r[f"hip_mid_{axis}_m"]) for axis in "xyz"] for r in rows]
    speeds = [math.dist(a, b) * 25.0 for a, b in pairwise(places)]
    assert max(speeds) < 1.6


def test_the_walk_ends_standing_in_the_zone(rows: list[dict[str, str]]) -> None:
    end = [float(r["eye_mid_z_m"]) for r in rows if r["phase"] == "standing_in_zone"]
    assert len(end) >= 100
    assert all(depth == pytest.approx(4.05, abs=0.03) for depth in end)
    assert max(float(r["eye_mid_z_m"]) for r in rows) > 5.2
