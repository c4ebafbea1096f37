"""Where the body is, as the taking camera sees it, in a feed whose pictures may change size."""

from __future__ import annotations

from assist.base.errors import UserError
from assist.distance import BodyDistance, CueAbsent
from assist.distance.engine import DistanceEngine
from assist.distance.offset import seen_from_taking
from assist.distance.reference import ReferenceView
from assist.feed import Frame, Unfit
from assist.pose import Pose
from assist.setup.body import Person
from assist.setup.feed_geometry import FeedGeometry
from optics.camera import PinholeCamera


class BodyMeter:
    """Keeps a distance engine for the size that the feed's pictures have now.

    Ask `fits` of every picture, and `refit` where it does not, before anything is measured.
    """

    def __init__(self, geometry: FeedGeometry, person: Person) -> None:
        self._geometry = geometry
        self._person = person
        self._engine: DistanceEngine | None = None
        self._camera: PinholeCamera | None = None
        self._reference: ReferenceView | None = None
        self._size_px = (0, 0)

    def fits(self, frame: Frame) -> bool:
        """Whether the picture has the size of the one before."""
        height, width = frame.picture.shape[:2]
        return frame.unfit is not Unfit.SHAPE and self._size_px == (width, height)

    def refit(self, frame: Frame) -> bool:
        """Make ready for pictures of this size; whether they can be measured in.

        Raises UserError where the very first one has another shape than the feed's profile.
        """
        height, width = frame.picture.shape[:2]
        first = self._engine is None
        self._size_px = (0, 0)
        if frame.unfit is Unfit.SHAPE:
            return False
        try:
            self._camera = self._geometry.camera(width, height)
        except UserError:
            if first:
                raise
            return False
        self._size_px = (width, height)
        self._engine = DistanceEngine(
            self._camera, self._person, focal_sd=self._geometry.distance_sd
        )
        self._engine.refer(self._reference)
        return True

    @property
    def camera(self) -> PinholeCamera:
        """The feed's camera, for pictures of the size of now."""
        assert self._camera is not None, "nothing fits before the first picture"
        return self._camera

    @property
    def seems_small(self) -> bool:
        """See `DistanceEngine.seems_small`."""
        return self._engine is not None and self._engine.seems_small

    @property
    def may_be_small(self) -> bool:
        """See `DistanceEngine.may_be_small`."""
        return self._engine is not None and self._engine.may_be_small

    def refer(self, reference: ReferenceView | None) -> None:
        """Measure against a view of the person from now on; see `DistanceEngine.refer`."""
        self._reference = reference
        if self._engine is not None:
            self._engine.refer(reference)

    def forget(self) -> None:
        """Begin anew with another person."""
        if self._engine is not None:
            self._engine.forget()

    def measure(self, pose: Pose, time_s: float) -> BodyDistance | CueAbsent:
        """Where the body is, or why that cannot be told."""
        assert self._engine is not None, "nothing fits before the first picture"
        measured = self._engine.measure(pose, time_s)
        offset = self._geometry.offset
        if offset is None or isinstance(measured, CueAbsent):
            return measured
        return seen_from_taking(measured, pose, self.camera, offset)
