"""What decides how a feed sees, in the order in which it does."""

import math
import re

import pytest

from assist.base.errors import UserError
from assist.cli.options import set_up as so
from assist.setup import feed_profile
from assist.setup.feed_geometry import UNKNOWN_CROP_SD, FeedGeometry, breathing_sd
from assist.setup.feed_profile import FeedProfile
from assist.setup.personal_profile import PersonalProfile, now
from assist.setup.set_up import from_values
from optics.camera import PinholeCamera

SIZE_PX = (1280, 720)
LENS = {"focal_length_mm": 85, "f_number": 2, "focus_distance_m": 4.0}


def set_up(lens_mm=85, camera=None, **feed):
    lens = LENS | {"focal_length_mm": lens_mm}
    return from_values({"lens": lens, "feed": feed, "camera": camera or {}})


def profile_of(fx_px, method="board", focal_sd=0.003, **more):
    camera = PinholeCamera.from_focal_length_px(fx_px, *SIZE_PX)
    return FeedProfile.of_camera(camera, method, focal_sd, **more)


def fx_of(geometry):
    return geometry.camera(*SIZE_PX).fx_px


def test_a_profile_goes_before_the_view_and_the_view_before_the_lens():
    through = fx_of(FeedGeometry.of(set_up()))
    assert through == pytest.approx(85 / 36 * 1280 * 1.022, rel=1e-3)
    own = set_up(through="own-lens", horizontal_field_of_view_deg=60)
    assert fx_of(FeedGeometry.of(own)) == pytest.approx(640 / math.tan(math.radians(30)))
    assert fx_of(FeedGeometry.of(own, profile_of(914.0))) == pytest.approx(914.0)


def test_a_profile_that_is_named_and_not_given_is_missed():
    """Without it, the feed would be taken to see as the taking lens does."""
    named = set_up(through="own-lens", profile="webcam.toml")
    with pytest.raises(UserError, match=r"'webcam.toml', which is not there"):
        FeedGeometry.of(named)
    assert fx_of(FeedGeometry.of(named, profile_of(914.0))) == pytest.approx(914.0)


def test_how_well_the_focal_length_is_known():
    view = set_up(through="own-lens", horizontal_field_of_view_deg=60)
    profile = profile_of(914.0, focal_sd=0.011)
    person = PersonalProfile(learned_at=now(), scale=1.0, scale_sd=0.01)
    assert FeedGeometry.of(set_up()).focal_sd == feed_profile.MARKED_LENS_SD
    assert FeedGeometry.of(view).focal_sd == feed_profile.STATED_VIEW_SD
    assert FeedGeometry.of(view, profile).focal_sd == 0.011
    assert FeedGeometry(set_up().feed).focal_sd is None
    assert FeedGeometry.of(view, profile).distance_sd == 0.011
    # What is merely stated is not exact, and a crop that nobody stated less so.
    assert FeedGeometry.of(view).distance_sd == feed_profile.STATED_VIEW_SD
    lens = set_up().lens
    breathing = breathing_sd(lens.focal_length_m, lens.focus_lens_distance_m)
    known_crop = math.hypot(feed_profile.MARKED_LENS_SD, breathing)
    assert FeedGeometry.of(set_up(crop=1.0)).distance_sd == pytest.approx(known_crop)
    unknown = math.hypot(known_crop, UNKNOWN_CROP_SD)
    assert FeedGeometry.of(set_up()).distance_sd == pytest.approx(unknown)
    assert FeedGeometry.of(view, profile, person).distance_sd == 0.0


def test_a_lens_may_or_may_not_see_less_as_it_is_focused_nearer():
    """50 mm focused at 2.55 m moves out by 2 %, or not at all; without end it is all the same."""
    assert breathing_sd(0.050, 2.55) == pytest.approx(0.02 / math.sqrt(2))
    assert breathing_sd(0.050, math.inf) == 0.0
    assert breathing_sd(0.100, 0.200) <= 1.0


def test_where_a_feed_stands_counts_for_tape_tilt_and_height():
    held = {"tilt_deg": 15, "height_m": 1.4}
    beside = {"along_m": -0.2, "up_m": 0.1, "pitch_deg": 3}
    geometry = FeedGeometry.of(
        set_up(camera=held, through="own-lens", horizontal_field_of_view_deg=60, **beside)
    )
    assert math.degrees(geometry.tilt_rad) == pytest.approx(12)
    assert geometry.height_m == pytest.approx(1.5)
    # The lens stands 86.9 mm before the sensor, the webcam 200 mm behind the lens.
    assert geometry.behind_m == pytest.approx(0.0869 - 0.2, abs=1e-4)
    assert FeedGeometry(set_up().feed).behind_m == 0.0


# -- a profile of another lens --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("made_with_mm", "method", "told"),
    [
        (35, "lens", "refused"),
        (35, "board", "refused"),
        (50, "board", "refused"),
        (70, "lens", "refused"),
        (70, "board", "noted"),  # lenses change their focal length as they are focused nearer
        (79, "lens", "noted"),
        (83, "lens", ""),
        (85, "board", ""),
        (95, "lens", "noted"),
        (135, "board", "refused"),
    ],
)
def test_a_profile_of_another_lens_is_refused_and_one_that_is_rather_unlike_told_of(
    made_with_mm, method, told
):
    fx_px = fx_of(FeedGeometry.of(set_up(made_with_mm)))
    focal_sd = feed_profile.MARKED_LENS_SD if method == "lens" else 0.003
    profile = profile_of(fx_px, method, focal_sd, basis=f"{made_with_mm} mm focused at 4 m")
    if told == "refused":
        with pytest.raises(UserError) as error:
            FeedGeometry.of(set_up(), profile)
        assert f"({made_with_mm} mm focused at 4 m)" in str(error.value)
        [about] = re.findall(r"about (\d+) mm, and the set-up's has 85 mm", str(error.value))
        assert int(about) == pytest.approx(made_with_mm, rel=0.02)
        return
    assert bool(FeedGeometry.of(set_up(), profile).off_in_words) == bool(told)


def test_of_a_feed_with_a_lens_of_its_own_the_taking_lens_says_nothing():
    own = set_up(through="own-lens", profile="webcam.toml")
    assert FeedGeometry.of(own, profile_of(914.0)).off_in_words == ""


def test_sensor_and_crop_count_when_lens_and_profile_are_compared():
    part = from_values({"lens": LENS, "camera": {"sensor": "aps-c-1.5"}, "feed": {"crop": 1.2}})
    profile = profile_of(fx_of(FeedGeometry.of(part)), "lens", 0.02)
    assert fx_of(FeedGeometry.of(part, profile)) == pytest.approx(fx_of(FeedGeometry.of(part)))
    with pytest.raises(UserError, match="about 156 mm"):
        FeedGeometry.of(set_up(), profile)


# -- on the command line --------------------------------------------------------------------------


def saved(path, profile):
    feed_profile.save(profile, path)
    return path


def used(given):
    """The profiles of a run with those options, as a command settles them."""
    profiles = given.profile_files(given.chosen()).load()
    so.remark_unlike(FeedGeometry.of(given.chosen(), profiles.feed, profiles.personal))
    return profiles


def test_a_run_refuses_the_profile_of_another_lens_and_tells_of_an_unlike_one(tmp_path, capsys):
    for lens_mm in (35, 79):
        fx_px = fx_of(FeedGeometry.of(set_up(lens_mm)))
        saved(tmp_path / f"{lens_mm}.toml", profile_of(fx_px, "lens", 0.02))
    given = {"lens": "85mm", "aperture": "2", "focus": "4m"}
    other = so.SetUpOptions(**given, feed_profile=tmp_path / "35.toml")
    with pytest.raises(UserError, match="has 85 mm"):
        used(other)
    unlike = so.SetUpOptions(**given, feed_profile=tmp_path / "79.toml")
    assert used(unlike).feed is not None
    assert "7% shorter than lens, sensor and crop give" in capsys.readouterr().err


def test_a_typed_view_goes_over_the_files_profile(tmp_path):
    saved(tmp_path / "webcam.toml", profile_of(914.0))
    path = tmp_path / "set-up.toml"
    path.write_text(
        "[lens]\nfocal_length_mm = 85\nf_number = 2\nfocus_distance_m = 4\n"
        '[feed]\nthrough = "own-lens"\nprofile = "webcam.toml"\n'
    )
    for view, fx_px in ((None, 914.0), ("60", 640 / math.tan(math.radians(30)))):
        geometry, _ = so.FeedOptions(set_up=path, field_of_view=view).told()
        assert fx_of(geometry) == pytest.approx(fx_px)
        chosen = so.SetUpOptions(set_up=path, field_of_view=view)
        feed = used(chosen).feed
        assert fx_of(FeedGeometry.of(chosen.chosen(), feed)) == pytest.approx(fx_px)


def test_another_profile_of_the_same_feed_leaves_it_through_the_same_lens(tmp_path):
    """As where a session is repeated with the copy of its profile."""
    fx_px = fx_of(FeedGeometry.of(set_up()))
    copy = saved(tmp_path / "copy.toml", profile_of(fx_px))
    lens = "[lens]\nfocal_length_mm = 85\nf_number = 2\nfocus_distance_m = 4\n"
    path = tmp_path / "set-up.toml"
    for feed, through in (
        ('through = "taking-lens"\nprofile = "board.toml"\n', "taking-lens"),
        ('through = "taking-lens"\n', "own-lens"),
    ):
        path.write_text(f"{lens}[feed]\n{feed}")
        given = so.SetUpOptions(set_up=path, feed_profile=copy)
        assert given.chosen().feed.through == through
