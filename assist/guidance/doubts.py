"""What speaks against believing the feed, or what is stated of the person: collected in one place.

A doubt is a `Reason` with something to do about it. While one is open nothing is said to be in
focus, and nobody is sent anywhere: where they are is then not known either. What is wrong with a
feed's frame, its bars, is found where the feed is read (`assist.feed.bars_watch`), and comes with
each picture (`Frame.unfit`); a picture that has stopped is no news at all (`Silence.FROZEN`).
"""

from __future__ import annotations

from assist.distance import BodyDistance, CueAbsent
from assist.distance.stature_check import StatureCheck
from assist.guidance.guide import Reason
from assist.pose import Pose
from assist.pose.squeezed import SqueezeWatch
from assist.setup.body import Person
from assist.setup.feed_profile import FeedProfile

DISBELIEVED = frozenset(
    {
        Reason.SQUEEZED,
        Reason.STATURE,
        Reason.SMALL_BODY,
        Reason.ZOOMED,
        Reason.NETWORK,
    }
)
"""Doubts that leave nothing of the distance."""
TO_BE_MENDED = frozenset({Reason.SQUEEZED, Reason.STATURE})
"""Of these, what the person can do something about is told instead of a way to go."""


class Doubts:
    """Listens to what is seen and measured of one person through one feed.

    profile: what a calibration found of the feed. A board's knows how wide its pixels are.
    """

    def __init__(self, person: Person, profile: FeedProfile | None = None) -> None:
        stated_m = person.stature_m if person.profile is None else None
        self._stature = None if stated_m is None else StatureCheck(stated_m)
        by_board = profile is not None and profile.method == "board"
        self._squeezed = None if by_board else SqueezeWatch()

    def forget(self) -> None:
        """Begin anew with another person; the feed is the same."""
        if self._stature is not None:
            self._stature.forget()

    def hear(
        self, time_s: float, pose: Pose | None, found: BodyDistance | CueAbsent | None
    ) -> None:
        """What the next picture showed and told."""
        if self._stature is not None:
            self._stature.hear(time_s, found)
        if self._squeezed is not None:
            self._squeezed.update(pose)

    @property
    def open(self) -> Reason | None:
        """The weightiest doubt that is open."""
        if self._squeezed is not None and self._squeezed.seems:
            return Reason.SQUEEZED
        if self._stature is not None and self._stature.contradicted:
            return Reason.STATURE
        if self._stature is not None and self._stature.unusual_and_unseen:
            return Reason.STATURE_UNSEEN
        return None
