"""What every calibration on the command line shares: its options, and pictures of the feed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.cli.options.set_up import open_feed
from assist.feed import Frame
from assist.feed.screening import is_picture
from assist.setup.feed_profile import FeedProfile
from assist.setup.personal_profile import NAME_LETTERS

Replace = Annotated[bool, typer.Option("--replace", help="Write over an existing profile.")]


def frames(
    feed: str, rotate: int, seconds: float, profile: FeedProfile | None = None
) -> Iterator[Frame]:
    """The frames of so many seconds of a feed, without the bars that its profile knows of.

    What is no picture, or not one of the profile's shape any more, is left out.
    """
    source = open_feed(feed, rotate, profile)
    try:
        first_s = None
        while (frame := source.read()) is not None:
            first_s = frame.time_s if first_s is None else first_s
            if frame.time_s - first_s > seconds:
                return
            if is_picture(frame.picture) and frame.unfit is None:
                yield frame
    finally:
        source.close()


def check_name(name: str) -> None:
    """UserError for a name that no profile takes, before anything is opened."""
    if len(name) > NAME_LETTERS:
        raise UserError(f"--name may have {NAME_LETTERS} letters, not {len(name)}")
