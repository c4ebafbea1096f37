"""Drawings, curves and the sheet to print."""

from __future__ import annotations

import shutil
import subprocess
from html.parser import HTMLParser
from xml.etree import ElementTree

import cv2
import numpy as np
import pytest

from assist.base.words import Words
from assist.guidance import hazards
from assist.plan import figure_files, procedure, sheet
from assist.plan.blur_curves import curves
from assist.plan.formats import LengthFormat
from assist.plan.planning import plan_of
from assist.plan.side_view import drawing_only, side_view
from assist.plan.text_drawing import LEFT, drawing
from assist.setup import set_up as files
from optics import lens

METRES, FEET = LengthFormat("metres"), LengthFormat("feet")


def plan(name="", **parts):
    values = {
        "name": name,
        "lens": {"focal_length_mm": 50, "f_number": 5.6, "focus_distance_m": 3},
        "person": {"stature_m": 1.75},
        "place": {"background_distance_m": 6},
    }
    for part, fields in parts.items():
        values[part] = values.get(part, {}) | fields
    return plan_of(files.from_values(values))


HARD = {
    "macro": {"lens": {"focal_length_mm": 105, "focus_distance_m": 0.5}},
    "to infinity": {"lens": {"focal_length_mm": 20, "f_number": 16}},
    "far": {"lens": {"focal_length_mm": 200, "focus_distance_m": 40},
            "place": {"background_distance_m": float("inf")}},
    "tilted up": {"camera": {"height_m": 0.2}},
    "tilted down": {"camera": {"height_m": 2.6, "orientation": "portrait"}},
    "seated, short": {"person": {"posture": "seated"}, "framing": {"shot_size": "full-body"}},
}  # fmt: skip


@pytest.mark.parametrize("show", [METRES, FEET], ids=["metres", "feet"])
@pytest.mark.parametrize("parts", HARD.values(), ids=HARD.keys())
@pytest.mark.parametrize("draw", [side_view, curves])
def test_any_plan_can_be_drawn(draw, parts, show):
    image = cv2.imdecode(
        np.frombuffer(figure_files.rendered(draw, plan(**parts), show, "png"), np.uint8),
        cv2.IMREAD_COLOR,
    )
    height, width = image.shape[:2]
    assert width > 1000
    assert 250 < height < 1200
    assert image.std() > 5  # not a blank page


def test_the_side_view_is_to_scale():
    """Zone limits and mark stand in the drawing where the plan has them, in both directions."""
    made = plan()
    (axes,) = drawing_only(made, METRES, (11.0, 6.5)).axes
    corner = axes.transData.transform([(0, 0), (1, 0), (0, 1)])
    across, up = corner[1] - corner[0], corner[2] - corner[0]
    assert across[0] == pytest.approx(up[1])
    lines = [line.get_xdata() for line in axes.lines]
    verticals = {round(float(x[0]), 6) for x in lines if x[0] == x[1]}
    for mark in made.ground_marks:
        assert round(mark.along_ground_m, 6) in verticals


def test_the_curve_crosses_the_criterion_at_the_limits():
    made = plan()
    axes = curves(made, METRES).axes[0]
    own = next(line for line in axes.lines if line.get_label() == "f/5.6, defocus")
    x, blur_mm = own.get_data()
    inside = x[blur_mm <= made.set_up.criterion.circle_of_confusion_m * 1e3]
    step = x[1] - x[0]
    assert inside.min() == pytest.approx(made.zone.near_from_sensor_m, abs=step)
    assert inside.max() == pytest.approx(made.zone.far_from_sensor_m, abs=step)
    at = len(x) // 3
    z = x[at] - made.set_up.sensor_offset_m
    s = made.set_up.focus_lens_distance_m
    assert blur_mm[at] == pytest.approx(lens.blur_diameter_m(0.05, 5.6, s, z) * 1e3)


def test_svg_is_svg_and_the_same_every_time():
    first = figure_files.rendered(side_view, plan(), METRES, "svg")
    assert ElementTree.fromstring(first).tag.endswith("svg")
    assert figure_files.rendered(side_view, plan(), METRES, "svg") == first


@pytest.mark.parametrize("parts", HARD.values(), ids=HARD.keys())
def test_the_drawing_in_the_terminal_is_to_scale_and_fits(parts):
    made = plan(**parts)
    lines = drawing(made, METRES, columns=72).split("\n")
    assert all(len(line) <= 72 for line in lines)
    assert all(ord(character) < 128 for line in lines for character in line)
    assert lines[1].count("O") == 1
    assert f"mark {METRES.length(made.zone.best_from_sensor_m)}" in lines[0]


def test_columns_of_the_drawing_are_distances():
    made = plan()
    line = drawing(made, METRES, columns=104).split("\n")[1]
    metres_per_column = 6 * 1.02 / (104 - LEFT - 1)
    for character, distance_m in (("O", 3.0), ("#", 6.0)):
        column = line.index(character)
        assert (column - LEFT) * metres_per_column == pytest.approx(
            distance_m, abs=metres_per_column
        )
    zone = [k for k, character in enumerate(line) if character in "=O"]
    assert (zone[0] - LEFT) * metres_per_column == pytest.approx(
        made.zone.near_from_sensor_m, abs=metres_per_column
    )
    assert (zone[-1] - LEFT) * metres_per_column == pytest.approx(
        made.zone.far_from_sensor_m, abs=metres_per_column
    )


class Elements(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.text, self.links = [], [], []

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.links += [
            value for name, value in attributes
            if name in ("src", "href", "xlink:href") and not (value or "").startswith("#")
        ]  # fmt: skip

    def handle_data(self, data):
        self.text.append(data)


def read(page):
    found = Elements()
    found.feed(page)
    return found


def test_the_sheet_escapes_what_people_type_and_needs_nothing_else():
    name = '<script>alert("1")</script> & "light"'
    page = sheet.page(plan(name), METRES).decode()
    found = read(page)
    assert "script" not in found.tags
    assert name in "".join(found.text)
    assert not found.links
    assert "://" not in page.split("<svg")[0]
    assert "default-src 'none'" in page


def test_the_sheet_has_every_step_and_caution():
    made = plan()
    text = " ".join("".join(read(sheet.page(made, METRES).decode()).text).split())
    for step in procedure.steps(made, METRES):
        assert f"{step.title}. {step.text}" in text
    for caution in hazards.cautions(made.set_up, Words()):
        assert caution in text


def test_the_procedure_says_when_the_timer_is_too_short():
    short = procedure.steps(plan(timer={"delay_s": 2}), METRES)
    assert any("too short: take 10 s" in step.text for step in short)
    far = procedure.steps(
        plan(lens={"focal_length_mm": 200, "focus_distance_m": 60},
             place={"background_distance_m": 90}), METRES
    )  # fmt: skip
    assert any("use a remote" in step.text for step in far)


BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.mark.skipif(BROWSER is None, reason="no browser to print with")
@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("parts", HARD.values(), ids=HARD.keys())
def test_the_sheet_prints_on_one_page(parts, paper, tmp_path):
    made = plan("A name that is long enough to say what it is for", exposure={"light_ev100": 9,
                "iso": 400}, timer={"delay_s": 2}, **parts)  # fmt: skip
    page = sheet.page(made, FEET).decode().replace("@page {", f"@page {{ size: {paper};")
    (tmp_path / "sheet.html").write_text(page, encoding="utf-8")
    subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={tmp_path / 'sheet.pdf'}",
         (tmp_path / "sheet.html").as_uri()],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    printed = (tmp_path / "sheet.pdf").read_bytes()
    assert printed.count(b"/Type /Page\n") == 1
