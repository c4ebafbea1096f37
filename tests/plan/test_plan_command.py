"""`assist plan` as a user runs it."""

from __future__ import annotations

import json
import math

import pytest

from assist.plan.planning import plan_of
from assist.setup import set_up as set_up_file
from optics import lens

FIFTY = ("--lens", "50mm", "--aperture", "f/5.6", "--focus", "3m")
BAG = (
    "--lens", "24mm f/1.4", "--lens", "35mm f/1.8", "--lens", "50mm f/1.8 from 0.45m",
    "--lens", "70-200mm f/2.8-f/22 from 0.95m",
)  # fmt: skip
FRAMED = ("--lens", "85mm", "--aperture", "f/2", "--framing", "full-body", "--stature", "1.70m")
WANTED = (
    "--room-before", "0.6m", "--room-behind", "0.4m", "--framing", "knees-up",
    "--max-distance", "6m", "--stature", "1.7m", "--ev", "9", "--iso-max", "3200",
)  # fmt: skip


def test_the_zone_in_words_and_numbers(plan):
    """50 mm, f/5.6, 3 m from the sensor plane, c = 0.02 mm: about 0.8 m in all, common practice."""
    code, out, err = plan(*FIFTY, "--criterion", "0.02mm", "--full")
    assert code == 0
    assert not err
    assert "In focus from 2.66 m to 3.44 m: 0.34 m in front of the mark, 0.44 m behind it." in out
    assert "0.020 mm on the sensor (given 0.02 mm)" in out
    assert "Distances start at the sensor plane mark." in " ".join(out.split())
    for heading in ("Focus zone", "Framing, landscape", "Softness", "Shutter time",
                    "What another aperture gives and costs", "On the place", "Step by step",
                    "Take care"):  # fmt: skip
        assert heading in out
    assert "Never move back without" in out


def test_the_default_answer_fits_a_screen(plan):
    """What a photographer asks first: where, how framed, step by step, and what to beware of."""
    code, out, _ = plan(*FIFTY, "--ev", "9", "--timer", "10s")
    assert code == 0
    assert len(out.splitlines()) <= 50
    for heading in ("Picture", "Step by step", "Take care"):
        assert f"\n{heading}\n" in out
    assert "Never move back without looking behind you." in " ".join(out.split())
    assert "--full" in out.splitlines()[-1]


def test_json_carries_the_same_numbers_in_metres_whatever_the_units(plan):
    _, metres, _ = plan(*FIFTY, "--json")
    _, feet, _ = plan(*FIFTY, "--json", "--units", "feet")
    assert metres == feet
    read = json.loads(metres)
    f, s = 0.05, lens.sensor_to_lens_distance_m(0.05, 3.0)
    zone = lens.depth_of_field(f, 5.6, s, read["zone"]["circle_of_confusion_m"])
    assert read["zone"]["in_front_m"] == zone.in_front_m
    assert read["zone"]["near_m"] == pytest.approx(zone.near_m + 3.0 - s, rel=1e-12)
    assert read["zone"]["hyperfocal_m"] == pytest.approx(15.58, abs=0.01)
    assert read["blurs"][-1]["distance_m"] == "infinity"
    mark = next(x for x in read["fields"] if x["at"] == "mark")
    # 36 mm / m, m = f / (s - f) = 1 / 57.98: similar triangles.
    assert mark["width_m"] == pytest.approx(0.036 * (s - f) / f, rel=1e-12)


def test_feet_and_inches(plan):
    code, out, _ = plan("--lens", "50mm", "--aperture", "4", "--focus", "10ft", "--units", "feet")
    assert code == 0
    assert "focused at 10' 0\"" in out
    assert " m " not in out.split("Softness")[0]


def test_beyond_the_hyperfocal_distance_it_reaches_to_infinity(plan):
    code, out, _ = plan("--lens", "24mm", "--aperture", "11", "--focus", "5m")
    assert code == 0
    assert "to infinity" in out
    read = json.loads(plan("--lens", "24mm", "--aperture", "11", "--focus", "5m", "--json")[1])
    assert read["zone"]["far_m"] == read["zone"]["behind_m"] == "infinity"
    assert read["diffraction"]["sharpest_for_zone_f_number"] is None


def test_saved_and_loaded_it_is_the_same_plan(plan, tmp_path):
    path = tmp_path / "s.toml"
    options = (
        *FIFTY, "--name", "Fenster – »Licht«", "--ev", "9", "--shutter", "1/30",
        "--background", "inf", "--camera-height", "1.4m", "--across", "33%",
        "--orientation", "portrait", "--timer", "10s", "--picture-width", "6000",
    )  # fmt: skip
    _, first, _ = plan(*options, "--json", "--save", path)
    code, second, _ = plan("--set-up", path, "--json")
    assert code == 0
    assert second == first
    _, other, _ = plan("--set-up", path, "--aperture", "8", "--json")
    assert json.loads(other)["set_up"]["lens"]["f_number"] == 8


def test_a_saved_set_up_is_written_over_only_when_asked(plan, tmp_path):
    path = tmp_path / "s.toml"
    assert plan(*FIFTY, "--save", path)[0] == 0
    path.write_text(path.read_text() + "# edited since\n")
    code, _, err = plan(*FIFTY, "--save", path)
    assert code == 2
    assert "--replace" in err
    assert "# edited since" in path.read_text()
    assert plan(*FIFTY, "--save", path, "--replace")[0] == 0
    assert "# edited since" not in path.read_text()


def test_search_ranks_and_its_best_is_a_plan_that_does_it(plan, tmp_path):
    path = tmp_path / "best.toml"
    code, out, _ = plan(*WANTED, *BAG, "--json", "--save", path)
    assert code == 0
    read = json.loads(out)
    costs = [choice["cost_in_stops"] for choice in read["choices"]]
    assert costs == sorted(costs)
    assert all(choice["in_front_m"] >= 0.6 for choice in read["choices"])
    assert all(float(choice["behind_m"]) >= 0.4 for choice in read["choices"])
    assert all(choice["focus_distance_m"] <= 6 for choice in read["choices"])
    assert all(choice["reason"] for choice in read["choices"])
    again = plan_of(set_up_file.load(path))
    assert again.zone.in_front_m == pytest.approx(read["choices"][0]["in_front_m"], rel=1e-6)
    assert again.framing.named == "knees-up"
    assert again.framing.looser_by >= -1e-9
    movement = next(x for x in again.motion if x.movement == "standing")
    assert again.set_up.exposure.shutter_s <= movement.longest_s * (1 + 1e-9)


def test_search_in_words(plan):
    code, out, _ = plan(*WANTED, *BAG)
    assert code == 0
    assert "set-ups do all that is wanted" in out
    assert "the room wanted sets the distance" in out
    assert "Ranked by what it costs in stops" in out
    assert "Plan of number 1:" in out
    _, other, _ = plan(*WANTED, *BAG, "--choose", "3")
    assert "Plan of number 3:" in other


def test_a_pose_of_a_depth(plan):
    _, out, _ = plan("--pose-depth", "0.8m", "--framing", "full-body", *BAG, "--json")
    for choice in json.loads(out)["choices"]:
        assert choice["in_front_m"] + float(choice["behind_m"]) >= 0.8


def test_what_cannot_be_done_is_explained_with_advice(plan, tmp_path):
    wanted = (*WANTED[:-4], "--ev", "4", "--iso-max", "200")
    code, out, err = plan(*wanted, *BAG, "--save", tmp_path / "none.toml")
    assert code == 1
    assert not err
    assert "Nothing does it all." in out
    assert "wants" in out
    assert "short" in out
    assert "let the ISO speed go up to" in out
    assert "of light, to EV" in out
    assert not (tmp_path / "none.toml").exists()
    read = json.loads(plan(*wanted, *BAG, "--json")[1])
    assert not read["choices"]
    advice = {x["what"]: x["value"] for x in read["suggestions"]}
    code, _, _ = plan(*wanted, "--iso-max", advice["higher ISO"], *BAG)
    assert code == 0
    code, _, _ = plan(*wanted, "--ev", advice["more light"] + 1e-6, *BAG)
    assert code == 0


def test_a_small_place_is_told_which_framing_fits(plan):
    wanted = ("--room-before", "0.1m", "--framing", "full-body", "--max-distance", "1.5m")
    code, out, _ = plan(*wanted, "--lens", "50mm f/1.8", "--stature", "1.7m")
    assert code == 1
    assert "frame tighter: chest-up fits" in out
    assert "stand 4.1" in out
    tighter = ("--room-before", "0.1m", "--framing", "chest-up", "--max-distance", "1.5m")
    code, _, _ = plan(*tighter, "--lens", "50mm f/1.8-f/22", "--stature", "1.7m")
    assert code == 0


def test_without_a_focus_distance_the_framing_asks_for_one(plan):
    """Full body of 1.70 m: (1 + 0.04) 1.70 m / 0.92 of frame, in 36 or 24 mm, s = f (1 + H / h)."""
    for orientation, side_mm in (("landscape", 24), ("portrait", 36)):
        options = (*FRAMED, "--orientation", orientation)
        read = json.loads(plan(*options, "--json")[1])
        s = 0.085 * (1 + 1.04 * 1.70 / 0.92 / (side_mm / 1000))
        least = lens.lens_to_sensor_distance_m(0.085, s)
        found = read["set_up"]["lens"]["focus_distance_m"]
        assert least <= found < least + 0.01
        assert read["focus_set_by"] == "the one that full body asks for"
        assert 0 <= read["framing"]["looser_by"] < 0.01
        assert read["framing"]["aim"]["top_m"] - 1.70 >= 0.08 * 1.92 * 0.99
        code, out, _ = plan(*options)
        assert code == 0
        assert f"The focus distance is the one that full body asks for: {found:.2f} m." in out


def test_a_worked_out_distance_keeps_to_the_camera_height_and_the_lens(plan, tmp_path):
    high = json.loads(plan(*FRAMED, "--camera-height", "2.2m", "--json")[1])
    assert high["framing"]["aim"]["camera_height_m"] == 2.2
    assert high["framing"]["aim"]["top_m"] > 1.70
    assert high["framing"]["aim"]["bottom_m"] < 0
    assert 0 <= high["framing"]["looser_by"] < 0.01
    tight = ("--lens", "50mm f/1.8 from 1.2m", "--aperture", "2", "--framing", "head-and-shoulders")
    code, out, _ = plan(*tight)
    assert code == 0
    assert "the lens's nearest (head and shoulders would fit nearer): 1.20 m." in out
    path = tmp_path / "s.toml"
    plan(*FRAMED, "--camera-height", "2.2m", "--save", path)
    assert set_up_file.load(path).lens.focus_distance_m == high["zone"]["focus_m"]


def test_a_tilt_that_is_stated_moves_the_camera_or_the_distance(plan):
    """The head stays in with its headroom: alone, the camera is raised, else it goes back."""
    level = json.loads(plan(*FRAMED, "--json")[1])
    tilted = json.loads(plan(*FRAMED, "--tilt", "3deg", "--json")[1])
    fixed = json.loads(plan(*FRAMED, "--tilt", "3deg", "--camera-height", "0.9m", "--json")[1])
    for read in (level, tilted, fixed):
        aim = read["framing"]["aim"]
        assert aim["top_m"] - 1.70 >= 0.08 * (aim["top_m"] - aim["bottom_m"]) * (1 - 1e-6)
        assert aim["bottom_m"] <= -0.04 * 1.70 + 1e-6
        assert 0 <= read["framing"]["looser_by"] < 0.01
    heights = [read["framing"]["aim"]["camera_height_m"] for read in (level, tilted, fixed)]
    assert heights[1] == pytest.approx(heights[0] + 6.9 * math.tan(math.radians(3)), abs=0.03)
    assert heights[2] == 0.9
    focus = [read["zone"]["focus_m"] for read in (level, tilted, fixed)]
    assert focus[1] == pytest.approx(focus[0], abs=0.1)
    assert focus[2] > 1.2 * focus[0]


def test_a_frame_that_is_short_says_first_where_to_be(plan):
    _, out, _ = plan(*FIFTY, "--framing", "full-body", "--stature", "1.70m")
    assert "Stand at 4.11 m, and focus there." in out.split("In focus from")[0]
    _, there, _ = plan(
        *FIFTY[:4], "--focus", "4.11m", "--framing", "full-body", "--stature", "1.7m"
    )
    assert "does not fit" not in there
    assert "NOT fit" not in there
    _, walled, _ = plan(*FIFTY, "--framing", "full-body", "--background", "4m")
    assert "beyond the background" in walled.split("In focus from")[0]
    _, unasked, _ = plan(*FIFTY)
    assert "does not fit" not in unasked


def test_criteria_compared(plan):
    _, out, _ = plan(*FIFTY, "--compare-criteria", "--picture-width", "6000")
    assert "Criteria of sharpness compared" in out
    assert "print 30 cm from 40 cm" in out
    assert "2 px" in out
    assert "diagonal/1500 (chosen)" in out


def test_a_speed_that_no_dial_has_is_a_dash_where_the_present_one_is_known(plan):
    """Four stops below ISO 400 is ISO 25; without light or ISO only the factor is known."""
    _, known, _ = plan(*FIFTY, "--ev", "9", "--iso", "400", "--full")
    wide = next(line.split() for line in known.splitlines() if line.split()[:1] == ["f/1.4"])
    assert wide[-1] == "-"
    _, unknown, _ = plan(*FIFTY, "--full")
    wide = next(line.split() for line in unknown.splitlines() if line.split()[:1] == ["f/1.4"])
    assert wide[-2:] == ["/", "16"]


def test_metered_light_is_light(plan):
    """f/4 and 1/30 at ISO 100 is exposure value 9 (table of exposure values, from memory)."""
    _, given, _ = plan(*FIFTY, "--ev", "9", "--json")
    _, metered, _ = plan(*FIFTY, "--metered", "f/4 1/30 ISO 100", "--json")
    assert json.loads(metered)["exposure"] == json.loads(given)["exposure"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "missing --lens 50mm, --aperture f/5.6, --focus 3m (or --framing full-body"),
        (("--lens", "50mm"), "missing --aperture f/5.6, --focus 3m"),
        (("--lens", "50mm", "--framing", "full-body"), "missing --aperture f/5.6 (for example)"),
        ((*FRAMED, "--camera-height", "15m"), "full body fits from nowhere"),
        ((*FRAMED, "--background", "4m"), "focused at 6.98 m, the one that full body asks for"),
        ((*FRAMED, "--framing", "near"), "not a shot size: use full-body"),
        ((*FRAMED, "--max-distance", "3m"), "--max-distance is for a search"),
        ((*FIFTY, "--posture", "lying"), "'lying' is not one of 'auto', 'standing', 'seated'"),
        ((*FIFTY, "--seat-height", "0.5m"), "say --posture seated with it"),
        ((*FIFTY, "--posture", "seated", "--seat-height", "50m"), "--seat-height: must be less"),
        ((*FIFTY, "--aperture", "0"), "--aperture: must be greater than or equal to 0.1"),
        ((*FIFTY, "--aperture", "wide"), "--aperture: write it as 5.6 or f/5.6, not 'wide'"),
        (("--lens", "fifty", *FIFTY[2:]), "--lens: write it as 50mm"),
        (("--lens", "24-70mm", *FIFTY[2:]), "the one focal length that the zoom is set to"),
        ((*FIFTY, "--lens", "35mm"), "give one lens for a plan"),
        ((*FIFTY, "--focus", "3x"), "--focus: write it as 3 m"),
        ((*FIFTY, "--focus", "10cm"), "four focal lengths"),
        ((*FIFTY, "--sheet", "plan.pdf"), "the name of a sheet ends in .html"),
        ((*FIFTY, "--sensor", "big"), "sensor 'big' is not known: use full-frame"),
        ((*FIFTY, "--criterion", "2px"), "picture width in pixels"),
        ((*FIFTY, "--framing", "near"), "not a shot size: use full-body"),
        ((*FIFTY, "--stature", "9m"), "--stature: must be less than or equal to 2.5 m"),
        ((*FIFTY, "--camera-height", "19m"), "camera height 19 m"),
        ((*FIFTY, "--movement", "run"), "'run' is not one of 'standing', 'gesture', 'walking'"),
        ((*FIFTY, "--ev", "9", "--metered", "f/4 1/30 ISO 100"), "give the light once"),
        ((*FIFTY, "--metered", "f/4"), '--metered: write it as "f/5.6 1/60 ISO 400"'),
        ((*FIFTY, "--units", "yards"), "'--units': metres or feet, not 'yards'"),
        ((*FIFTY, "--max-distance", "3m"), "--max-distance is for a search"),
        ((*FIFTY, "--room-before", "1m"), "--aperture is for a plan, not for a search"),
        ((*FIFTY, "--background", "2m"), "farther than the focus distance"),
        ((*FIFTY, "--side-view", "x.jpg"), "ends in .png or .svg"),
        ((*FIFTY, "--save", "/no/such/folder/x.toml"), "there is no folder /no/such/folder"),
        ((*FIFTY, "--set-up", "nowhere.toml"), "nowhere.toml does not exist"),
        (("--room-before", "1m"), "name the lenses you own"),
        (("--room-before", "1m", *BAG), "--framing knees-up"),
        (("--room-before", "1m", "--pose-depth", "1m", "--framing", "full-body", *BAG), "not both"),
        (("--room-before", "0", "--framing", "full-body", *BAG), "--room-before: must be greater"),
        ((*WANTED, *BAG, "--choose", "9999"), "--choose: there is no set-up number 9999"),
        ((*WANTED, "--iso-max", "20", *BAG), "ISO speed starts at 50"),
    ],
)
def test_bad_input_is_one_line_and_exit_code_2(plan, arguments, says):
    code, _, err = plan(*arguments)
    assert code == 2
    assert says in err
    assert len(err.strip().splitlines()) == 1


def test_set_up_with_a_value_where_a_table_belongs(plan, tmp_path):
    (tmp_path / "bad.toml").write_text('camera = "mine"\n', encoding="utf-8")
    code, _, err = plan(*FIFTY, "--set-up", tmp_path / "bad.toml", "--sensor", "36x24")
    assert code == 2
    assert "camera must be a table" in err


def test_infinity_is_spelled_so_that_the_program_reads_it_again():
    from assist.base.units import parse_length_m

    assert math.isinf(parse_length_m("infinity", infinity=True))
