"""Which profiles a run uses, where their files are, and what a feed's profile goes before."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from assist.setup import feed_profile as feed_profiles
from assist.setup import personal_profile as personal_profiles
from assist.setup.feed_profile import FeedProfile
from assist.setup.personal_profile import PersonalProfile
from assist.setup.set_up import VIEWS, SetUp, Through


@dataclass(frozen=True)
class Profiles:
    """What calibrations taught about the person and about the feed; None where nothing."""

    personal: PersonalProfile | None = None
    feed: FeedProfile | None = None


@dataclass(frozen=True)
class ProfileFiles:
    """Where the two profiles are kept; None for none."""

    personal: Path | None = None
    feed: Path | None = None

    @classmethod
    def of(
        cls,
        set_up: SetUp,
        file: Path | None = None,
        *,
        personal: Path | None = None,
        feed: Path | None = None,
    ) -> ProfileFiles:
        """The files given, else those that the set-up names, looked for beside its `file` first."""
        return cls(
            personal or beside(set_up.person.profile, file),
            feed or beside(set_up.feed.profile, file),
        )

    def load(self) -> Profiles:
        """Read both. Raises UserError naming the one that cannot be used."""
        return Profiles(
            None if self.personal is None else personal_profiles.load(self.personal),
            None if self.feed is None else feed_profiles.load(self.feed),
        )


def beside(named: str | None, file: Path | None) -> Path | None:
    """The file that a set-up names: beside the set-up's own `file`, else by its name alone."""
    if named is None:
        return None
    near = Path(named) if file is None else file.parent / named
    return near if near.exists() else Path(named)


def feed_of(set_up: SetUp, file: Path | None) -> str | None:
    """The set-up's own feed, where it names one; a recording is looked for beside `file` first."""
    source = set_up.feed.source
    if source is None or file is None:
        return source
    near = file.parent / source
    return str(near) if near.exists() else source


def prefer_view(feed: dict[str, Any], angle: object, through: Through | None) -> None:
    """Put a stated horizontal angle of view over whatever else tells it in a feed's values.

    through: what the user said of it, None where nothing: then the feed has a lens of its own.
    """
    for other in ("profile", *(f"{along}_field_of_view_deg" for along in VIEWS)):
        feed.pop(other, None)
    feed["horizontal_field_of_view_deg"] = angle
    if through is None:
        feed["through"] = "own-lens"


def prefer_profile(feed: dict[str, Any], profile: FeedProfile, through: Through | None) -> None:
    """Put a profile before a stated view in a feed's values.

    One that was worked out from the taking lens leaves the feed through it; any other is of a lens
    of the feed's own, unless the user said `through`.
    """
    for along in VIEWS:
        feed.pop(f"{along}_field_of_view_deg", None)
    if through is None and profile.method != "lens":
        feed["through"] = "own-lens"
