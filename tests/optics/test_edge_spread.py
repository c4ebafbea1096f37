"""Blur diameter against edges rendered by a ray tracer through a thin lens of finite aperture.

The profiles in data/edge_spread.csv come from samples/rendering/edge_spread.py.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from optics import lens

FIXTURE = Path(__file__).parent / "data" / "edge_spread.csv"


def edges():
    found = defaultdict(list)
    with FIXTURE.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            numbers = [float(value) for value in row.values()]
            found[tuple(numbers[:4])].append(numbers[4:])
    return {key: np.array(points).T for key, points in found.items()}


EDGES = edges()


def disc_edge(u):
    """Brightness across an edge blurred by an even disc, u in radii: the disc's area left of u."""
    return 0.5 + (np.arcsin(u) + u * np.sqrt(1 - u * u)) / np.pi


U_90 = brentq(lambda u: disc_edge(u) - 0.9, 0, 1)  # 10 to 90 % spans 2 U_90 radii


def measured_diameter_mm(across_mm, brightness):
    """Diameter of the even disc whose edge rises from 10 to 90 % over the same width."""
    low, high = np.interp([0.1, 0.9], brightness, across_mm)
    return (high - low) / U_90


@pytest.mark.parametrize("key", EDGES, ids=lambda key: "{:g}mm f{:g} {:g}m edge {:g}m".format(*key))
def test_blur_diameter_is_what_a_ray_tracer_shows(key):
    focal_mm, f_number, focus_m, edge_m = key
    across_mm, brightness = EDGES[key]
    expected_mm = lens.blur_diameter_m(focal_mm / 1e3, f_number, focus_m, edge_m) * 1e3
    assert measured_diameter_mm(across_mm, brightness) == pytest.approx(expected_mm, rel=0.05)


@pytest.mark.parametrize("key", EDGES, ids=str)
def test_the_blur_is_an_even_disc(key):
    """The whole curve, not only its width, is the edge of a disc of the computed diameter."""
    focal_mm, f_number, focus_m, edge_m = key
    across_mm, brightness = EDGES[key]
    radius_mm = lens.blur_diameter_m(focal_mm / 1e3, f_number, focus_m, edge_m) * 1e3 / 2
    curve = disc_edge(np.clip(across_mm / radius_mm, -1, 1))
    assert np.abs(curve - brightness).max() < 0.02


def test_the_fixture_covers_both_sides_of_the_focus_and_a_wide_range():
    diameters = [
        lens.blur_diameter_m(focal_mm / 1e3, f_number, focus_m, edge_m)
        for focal_mm, f_number, focus_m, edge_m in EDGES
    ]
    assert len(EDGES) >= 12
    assert max(diameters) > 10 * min(diameters)
    assert {edge_m < focus_m for _, _, focus_m, edge_m in EDGES} == {True, False}
