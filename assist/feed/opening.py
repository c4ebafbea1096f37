"""Opening a feed that a profile may be known of."""

from __future__ import annotations

from collections.abc import Iterator

from assist import feed as feeds
from assist.feed import Frame, Source
from assist.feed.cropped import CroppedSource
from assist.feed.delayed import DelayedSource
from assist.feed.screening import is_picture
from assist.feed.unmirrored import UnmirroredSource
from assist.setup.feed_profile import FeedProfile


def open_feed(
    text: str,
    rotation_deg: int = 0,
    profile: FeedProfile | None = None,
    delay_s: float | None = None,
    *,
    mirrored: bool = False,
) -> Source:
    """The feed that a user named, without the black bars that its profile knows of.

    delay_s: by how much its pictures are always late, None for what the profile knows of that.
    mirrored: whether it mirrors its pictures, which are then put right.

    Raises UserError when there is no such feed or it does not open.
    """
    source = feeds.open_source(text, rotation_deg)
    if delay_s is None and profile is not None:
        delay_s = profile.delay_s
    unknown = delay_s is None and getattr(source, "looks_ahead", False)
    if source.live and (delay_s or unknown):
        source = DelayedSource(source, delay_s)
    if profile is not None and profile.has_bars:
        source = CroppedSource(source, profile.picture_in)
    return UnmirroredSource(source) if mirrored else source


def frames_of(
    feed: str,
    rotation_deg: int,
    seconds: float,
    profile: FeedProfile | None = None,
    *,
    mirrored: bool = False,
) -> Iterator[Frame]:
    """The frames of so many seconds of a feed, without the bars that its profile knows of.

    What is no picture, or not one of the profile's shape any more, is left out. The feed is closed
    at the end, or when whoever reads stops. Raises UserError as `open_feed` does.
    """
    source = open_feed(feed, rotation_deg, profile, mirrored=mirrored)
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
