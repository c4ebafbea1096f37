"""The panels for eyes that see colours otherwise.

Simulated by the package colorspacious, which follows Machado, Oliveira and Fernandes, "A
physiologically-based model for simulation of color vision deficiency", IEEE TVCG 15(6), 2009.
"""

import numpy as np
import pytest
import wcag_contrast_ratio as wcag
from colorspacious import cspace_convert

from assist.output.screen import palette

DEFICIENCIES = ("protanomaly", "deuteranomaly", "tritanomaly")


def seen_as(colour, deficiency):
    """A colour, blue green red of 255, as red green blue of 1 by somebody who lacks a receptor."""
    space = {"name": "sRGB1+CVD", "cvd_type": deficiency, "severity": 100}
    rgb = np.array(colour[::-1]) / 255
    return tuple(np.clip(cspace_convert(rgb, space, "sRGB1"), 0, 1))


def grey(colour):
    """What is left of it without colours, relative luminance."""
    rgb = np.array(colour[::-1]) / 255
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


@pytest.mark.parametrize("theme", palette.THEMES.values(), ids=lambda theme: theme.name)
@pytest.mark.parametrize("deficiency", DEFICIENCIES)
def test_words_keep_their_contrast(theme, deficiency):
    for pair in theme.pairs:
        seen = (seen_as(pair.text, deficiency), seen_as(pair.ground, deficiency))
        assert wcag.rgb(*seen) >= 4.5, pair


@pytest.mark.parametrize("theme", palette.THEMES.values(), ids=lambda theme: theme.name)
@pytest.mark.parametrize("deficiency", DEFICIENCIES)
def test_forward_and_back_are_told_apart_by_more_than_their_arrows(theme, deficiency):
    """By colour for whoever sees fewer of them: the panels are ten just noticeable steps apart, one
    of which is about 2.3 in CIELAB (Mahy and others, 1994; from memory)."""
    grounds = []
    for pair in (theme.move, theme.away):
        lit = pair.ground if grey(pair.ground) > 0.01 else pair.text  # at night the words are lit
        grounds.append(cspace_convert(seen_as(lit, deficiency), "sRGB1", "CIELab"))
    assert np.linalg.norm(grounds[0] - grounds[1]) > 10 * 2.3


@pytest.mark.parametrize("name", ["plain", "sun", "contrast"])
def test_forward_and_back_differ_without_any_colour(name):
    theme = palette.THEMES[name]
    assert abs(grey(theme.move.ground) - grey(theme.away.ground)) > 0.2
