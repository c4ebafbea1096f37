"""What every calibration on the command line shares: its options, and pictures of the feed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated

import typer

from assist.calibrate.feed_profile import FeedProfile
from assist.cli.set_up_options import open_feed
from assist.cli.values import stated
from assist.errors import UserError
from assist.feed import Frame
from assist.quantities import parse_angle_deg

Replace = Annotated[bool, typer.Option("--replace", help="Write over an existing profile.")]


def frames(
    feed: str, rotate: int, seconds: float, profile: FeedProfile | None = None
) -> Iterator[Frame]:
    """The frames of so many seconds of a feed, without the bars that its profile knows of."""
    source = open_feed(feed, rotate, profile)
    try:
        first_s = None
        while (frame := source.read()) is not None:
            first_s = frame.time_s if first_s is None else first_s
            if frame.time_s - first_s > seconds:
                return
            yield frame
    finally:
        source.close()


def view_rad(option: str, text: str) -> float:
    """An angle of view as an option gives it; UserError naming the option if there is none such."""
    angle_deg = stated(option, parse_angle_deg, text)
    if not 1 <= angle_deg <= 170:
        raise UserError(f"{option} must be from 1 to 170 degrees, not {angle_deg:g}")
    return math.radians(angle_deg)
