"""WCAG 2.2, 2.3.1: no more than three flashes in any second, here in the smallest place."""

import numpy as np
import pytest

from assist.guidance.guide import Action
from assist.output.screen import palette
from tests.assist.telling import guidance_of, message_of
from tests.benchmarks import flashes


def blinking(rate_hz, colour=(255, 255, 255), seconds=4, pictures_hz=60):
    count = flashes.FlashCount()
    for index in range(seconds * pictures_hz):
        lit = index * 2 * rate_hz // pictures_hz % 2
        count.show(index / pictures_hz, np.full((64, 64, 3), lit, np.uint8) * np.uint8(colour))
    return count.most_in_a_second()


def test_flashes_are_counted():
    assert blinking(2)[0] == pytest.approx(2, abs=0.5)
    assert blinking(5)[0] == pytest.approx(5, abs=0.5)
    _cell, _block, red = blinking(4, (0, 0, 255))
    assert red == pytest.approx(4, abs=0.5)
    assert blinking(4, (0, 255, 0))[2] == 0


@pytest.mark.parametrize("theme", palette.THEMES.values(), ids=lambda theme: theme.name)
def test_words_at_random_never_flash(theme):
    """Worse than anybody can walk: another word is right in every picture."""
    told = flashes.at_random(message_of(guidance_of(Action.FORWARD, 1.0)), 8.0)
    assert len({message.action for message in told}) > 2
    cell, block, red = flashes.flashes(told, theme)
    assert block <= cell <= flashes.MOST
    assert red == 0
