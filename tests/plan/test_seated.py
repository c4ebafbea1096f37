"""A plan for somebody who sits."""

from __future__ import annotations

import json

import pytest

from assist.plan import procedure, sheet
from assist.plan.figure_outline import arm, outline, seat
from assist.plan.formats import LengthFormat
from assist.plan.planning import plan_of
from assist.setup import set_up as files
from optics import framing, walking
from optics.figure import Figure

METRES = LengthFormat("metres")
LENS = ("--lens", "50mm", "--aperture", "f/4", "--focus", "4m", "--stature", "1.70m")
SEATED = ("--posture", "seated")


def plan_seated(**person):
    return plan_of(
        files.from_values(
            {
                "lens": {"focal_length_mm": 50, "f_number": 4, "focus_distance_m": 4},
                "person": {"stature_m": 1.70, "posture": "seated"} | person,
                "framing": {"shot_size": "full-body"},
            }
        )
    )


def test_heights_camera_and_time_are_those_of_who_sits(plan):
    read = {
        posture: json.loads(plan(*LENS, "--posture", posture, "--json")[1])
        for posture in ("standing", "seated")
    }
    person = read["seated"]["person"]
    assert person["posture"] == "seated"
    assert person["seat_height_m"] == 0.5
    assert person["seat_height_is_assumed"] is True
    assert person["eyes_m"] == pytest.approx(0.5 + 0.461 * 1.70)
    assert person["crown_m"] == pytest.approx(0.5 + 0.525 * 1.70)
    heights = {name: x["framing"]["aim"]["camera_height_m"] for name, x in read.items()}
    assert heights["seated"] < heights["standing"]
    aim = read["seated"]["framing"]["aim"]
    assert aim["top_m"] > person["crown_m"]
    walk = read["seated"]["walk"]
    assert walk["speed_m_s"] == walking.SEATED_SPEED_M_S
    needed = 1.0 + walk["path_m"] / 0.43 + 4.0 + 2.0
    assert walk["needed_s"] == pytest.approx(needed)
    assert walk["needed_s"] > read["standing"]["walk"]["needed_s"] + 5


def test_auto_is_planned_as_standing_and_says_so(plan):
    _, auto, _ = plan(*LENS)
    assert "standing (assumed): --posture seated if you sit" in auto
    _, stated, _ = plan(*LENS, "--posture", "standing")
    assert "(assumed)" not in stated
    first, second = (
        json.loads(plan(*LENS, "--posture", posture, "--json")[1])
        for posture in ("auto", "standing")
    )
    assert first["person"].pop("posture_is_assumed") is True
    assert second["person"].pop("posture_is_assumed") is False
    assert first["framing"] == second["framing"]


def test_a_set_up_that_says_seated_is_planned_so(plan, tmp_path):
    path = tmp_path / "s.toml"
    code, _, _ = plan(*LENS, *SEATED, "--seat-height", "0.45m", "--save", path)
    assert code == 0
    read = json.loads(plan("--set-up", path, "--json")[1])
    assert read["person"]["seat_height_m"] == 0.45
    assert read["person"]["seat_height_is_assumed"] is False
    assert read["person"]["eyes_m"] == pytest.approx(0.45 + 0.461 * 1.70)


def test_a_higher_seat_moves_everything_up():
    low, high = plan_seated(seat_height_m=0.45), plan_seated(seat_height_m=0.55)
    assert high.person.eyes_m - low.person.eyes_m == pytest.approx(0.10)
    assert high.framing.aim.camera_height_m > low.framing.aim.camera_height_m


def test_nobody_seated_is_told_to_stand_or_walk(plan):
    """Neither in the terminal, nor on the sheet, nor in the steps; and the feet are mentioned."""
    _, out, _ = plan(*LENS, *SEATED, "--framing", "full-body", "--ev", "9", "--full")
    made = plan_seated()
    steps = " ".join(f"{step.title}. {step.text}" for step in procedure.steps(made, METRES))
    for text in (out, steps, sheet.page(made, METRES).decode()):
        words = text.replace("light stand", "").replace("stand-in", "").lower()
        for wrong in (" stand ", "standing", "stood", "walk", "toes"):
            assert wrong not in words
    assert "not your knees or feet" in " ".join(out.split())
    assert "full body, feet and seat or wheels" in out
    assert "knees-up, knees in the picture" in out
    assert "about 0.63 m nearer to the camera than the eyes" in out
    assert "1.28 m" in steps


def test_a_search_frames_who_sits(plan):
    wanted = ("--room-before", "0.3m", "--framing", "full-body", "--stature", "1.70m",
              "--lens", "50mm f/1.8-f/22")  # fmt: skip
    found = {
        posture: json.loads(plan(*wanted, "--posture", posture, "--json")[1])
        for posture in ("standing", "seated")
    }
    nearest = {
        name: min(choice["focus_distance_m"] for choice in read["choices"])
        for name, read in found.items()
    }
    assert nearest["seated"] < nearest["standing"]
    framed = found["seated"]["plan"]["framing"]
    assert framed["named"] == "full body"
    assert framed["looser_by"] >= -1e-9


def test_a_short_frame_says_where_to_sit(plan):
    _, out, _ = plan(*LENS[:4], "--focus", "2m", *SEATED, "--framing", "full-body")
    assert "Sit at " in out.split("In focus from")[0]


@pytest.mark.parametrize("seat_m", [0.25, 0.45, 0.6])
def test_the_figure_drawn_sits_where_the_plan_has_it(seat_m):
    """Crown, toes and thighs of the drawing are those of the numbers, nothing under the ground."""
    one = Figure(1.70, seat_m)
    points = [point for part in [*outline(one), *arm(one)] for point in part]
    assert max(y for _, y in points) == pytest.approx(one.crown_m, abs=1e-3)
    assert min(x for x, _ in points) == pytest.approx(-one.before_eyes_m, abs=0.02)
    assert min(y for _, y in points) >= -0.01
    full = framing.lower_edge(framing.SHOT_SIZES[0], one)
    assert full.before_eyes_m == one.before_eyes_m
    board = seat(one)[0]
    assert board[:, 1].max() == seat_m
    assert not seat(Figure(1.70))
