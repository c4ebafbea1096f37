"""Through which lens a feed sees, as it was stated: asked of the user, never assumed."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from assist.setup import set_up as set_ups
from assist.setup.set_up import SetUp, Through


class FeedKind(BaseModel):
    """A user's answer: through the taking lens, or a lens of the feed's own and its view across."""

    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)

    through: Through
    horizontal_field_of_view_deg: float | None = Field(None, gt=0, lt=180)


def is_stated(set_up: SetUp) -> bool:
    """Whether the set-up says through which lens its feed sees; a profile and a view say so too."""
    feed = set_up.feed
    return "through" in feed.model_fields_set or feed.profile is not None


def with_kind(set_up: SetUp, kind: FeedKind) -> SetUp:
    """The same set-up with a feed of that kind. Raises UserError where they exclude each other."""
    values = set_up.model_dump(exclude_unset=True)
    values["feed"] = {**values.get("feed", {}), **kind.model_dump(exclude_none=True)}
    return set_ups.from_values(values)
