"""Figures of a review with their units, with the language's decimal mark."""

from __future__ import annotations

from assist.base.words import _, current


def metres(value: float) -> str:
    """A distance, metres."""
    return current().decimal(f"{value:.2f} m")


def pixels(value: float, decimals: int = 1) -> str:
    """A width in the picture."""
    return _("{n} px", n=current().figure(value, decimals))


def f_number(value: float) -> str:
    """An aperture."""
    return current().decimal(f"f/{value:g}")


def shutter_speed(exposure_s: float) -> str:
    """An exposure time as cameras write it."""
    if exposure_s < 0.4:
        return f"1/{1 / exposure_s:.0f} s"
    return current().decimal(f"{exposure_s:g} s")
