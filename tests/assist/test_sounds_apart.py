"""A listener tells the sounds apart in wind as loud as they are: a short run of the benchmark."""

import numpy as np
import pytest

from tests.benchmarks import sounds_apart


def test_the_sounds_are_told_apart_in_wind():
    found = sounds_apart.trial("wind", 3, seed=11)
    right = sum(taken[name] for name, taken in found.items())
    assert right >= 0.95 * 3 * len(found), found


def test_the_listener_is_no_oracle():
    """Of noise alone it knows nothing: what it takes it for has nothing to do with what sounded."""
    rng, known = np.random.default_rng(2), sounds_apart.examples()
    taken = {
        sounds_apart.recognised(sounds_apart.in_noise(name, "wind", rng, -40.0), known)
        for name in ("back", "left", "stop", "cut off", "go round", "right")
    }
    assert len(taken) < 6


@pytest.mark.parametrize("name", sounds_apart.SAYS)
def test_the_sounds_lie_where_old_ears_hear(name):
    """Nine tenths of the power of each from 300 to 1400 Hz, none to speak of above 3 kHz."""
    samples = sounds_apart.sound(name, 0.7, 4.0)
    power = np.abs(np.fft.rfft(samples)) ** 2
    hz = np.fft.rfftfreq(len(samples), 1 / sounds_apart.RATE_HZ)
    assert power[(hz > 280) & (hz < 1400)].sum() > 0.9 * power.sum()
    assert power[hz > 3600].sum() < 1e-3 * power.sum()
