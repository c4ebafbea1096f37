import numpy as np
import pytest

from assist.distance import BodyDistance
from assist.distance.tracking import DistanceTracker

NOWHERE = np.full((33, 3), np.nan)


def measured(eyes_m, sd_m=0.15):
    return BodyDistance(eyes_m, sd_m, eyes_m + 0.1, sd_m, NOWHERE, ())


def walk(tracker, places_m, start_s=0.0, dt=1 / 25):
    return [tracker.update(start_s + i * dt, measured(z)) for i, z in enumerate(places_m)]


def test_follows_a_walk_without_lagging_behind():
    z = 2.0 + 1.2 * np.arange(75) / 25
    rng = np.random.default_rng(1)
    tracks = walk(DistanceTracker(), z * (1 + 0.01 * rng.standard_normal(75)))
    error = np.array([t.eyes_m for t in tracks[25:]]) - z[25:]
    assert abs(error.mean()) < 0.01
    assert error.std() < 0.03
    assert tracks[-1].speed_m_s == pytest.approx(1.2, abs=0.15)


def test_looking_longer_does_not_remove_the_lasting_error():
    tracks = walk(DistanceTracker(), [4.0] * 250)
    lasting_m = (0.15**2 - (0.012 * 4.0) ** 2) ** 0.5
    assert all(t.sd_m >= lasting_m for t in tracks[2:])
    assert tracks[-1].sd_m < 0.15


def test_one_jump_is_rejected_and_a_lasting_one_is_believed():
    tracker = DistanceTracker()
    walk(tracker, [4.0] * 25)
    assert tracker.update(1.0, measured(6.0)).eyes_m == pytest.approx(4.0, abs=0.05)
    tracks = walk(tracker, [6.0] * 10, start_s=1.04)
    assert tracks[-1].eyes_m == pytest.approx(6.0, abs=0.01)


def test_short_loss_is_bridged_with_growing_doubt_and_a_long_one_ends_the_track():
    tracker = DistanceTracker()
    last = walk(tracker, [4.0] * 25)[-1]
    bridged = tracker.update(1.2, None)
    assert bridged.age_s == pytest.approx(0.24)
    assert bridged.sd_m > last.sd_m
    assert tracker.update(1.6, None) is None
    assert tracker.update(1.7, None) is None


def test_a_single_first_guess_is_not_told():
    """As when someone comes in at the picture's edge: a wild picture, then nothing, then truth."""
    tracker = DistanceTracker()
    assert tracker.update(0.0, measured(8.4)) is None
    assert [tracker.update(i / 25, None) for i in range(1, 12)] == [None] * 11
    tracks = walk(tracker, [3.3] * 5, start_s=0.5)
    assert tracks[:2] == [None, None]
    assert tracks[2].eyes_m == pytest.approx(3.3, abs=0.01)


def test_guesses_that_disagree_are_not_told():
    tracker = DistanceTracker()
    tracks = walk(tracker, [8.4, 3.3, 6.0, 2.0, 9.0])
    assert tracks == [None] * 5
