"""A session repeated: its earlier picture shown over the feed, and how the camera differs."""

from __future__ import annotations

from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.review.kept_picture import Kept
from assist.run.opening import RunRequest
from assist.run.repeat import earlier
from assist.run.repeat.guide import RepeatGuide
from assist.setup.feed_geometry import FeedGeometry


def guide_to(kept: Kept, request: RunRequest, strength: float) -> RepeatGuide:
    """The guide to an earlier picture, which `kept` names, for a run of that request.

    strength: of the ghost, 0 to 1. Raises `earlier.NothingToShowError` where the picture cannot be
    used. The caller closes the guide.
    """
    with MediaPipePoseDetector(request.pose_model, stills=True) as detector:
        shown = earlier.load(kept, request.set_up, detector)
    geometry = FeedGeometry.of(request.set_up, request.known.feed)

    def focal_px(width: int, height: int) -> float:
        return geometry.camera(width, height).fx_px

    return RepeatGuide(shown, focal_px, strength)
