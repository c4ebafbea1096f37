"""One picture, from file to verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from assist.base.files import printable
from assist.base.images import ColourImage
from assist.base.words import _
from assist.distance import BodyDistance
from assist.distance.engine import DistanceEngine
from assist.pose import Pose, PoseDetector, posture
from assist.pose import framing as framing_check
from assist.review import (
    diagnosis,
    feed_pictures,
    measuring_places,
    other_people,
)
from assist.review.blur.luminance import linear_luminance
from assist.review.blur.measure import Blur, NotMeasured, measure
from assist.review.checked import CheckedPicture, Sharpness
from assist.review.diagnosis import PlaceBlur, Where
from assist.review.feed_pictures import Feed, FeedPictures
from assist.review.figures import metres
from assist.review.measuring_places import Box, EyeRegion
from assist.review.picture import (
    OpenedPicture,
    UnreadableError,
    open_picture,
    room_for,
)
from assist.review.sentence import Sentence
from assist.review.taking_lens import DEFAULT_PRINT, TakenWith, largest_print_m, taken_with
from assist.setup.body import Person, Posture
from assist.setup.feed_geometry import breathing_sd
from assist.setup.feed_profile import MARKED_LENS_SD
from assist.setup.set_up import SetUp
from optics.camera import PinholeCamera
from optics.errors import ImpossibleValueError

_MOST_PLACES_EACH = 2
_THUMBNAIL_PX = 960
"""Long side of the small picture: as much as a repeated session compares with the feed."""
_CROP_WIDTH_PX, _CROP_HEIGHT_PX = 720, 360
_LARGEST_REGION_PX = 1400
"""Eyes so large that their region is wider than this are measured at half size: a blur of a pixel
more or less is beyond any criterion there."""


_AS_GOOD_AS_INFINITE_M = 1e6
_SOME_FOCUS_M = 10.0
"""Without a focus distance the lens is taken as focused there: at most a per cent or two of the
angle of view."""


@dataclass(frozen=True, slots=True)
class Examined:
    """A checked picture, and the two small pictures that a report shows."""

    checked: CheckedPicture
    thumbnail: ColourImage | None = None
    eyes_crop: ColourImage | None = None


class Examiner:
    """Checks pictures one by one with one pose network; one examiner a thread."""

    def __init__(
        self,
        detector: PoseDetector,
        set_up: SetUp | None = None,
        *,
        criterion: str | None = None,
        print_size: str = DEFAULT_PRINT,
        feed: FeedPictures | None = None,
    ) -> None:
        self._feed = feed
        self._detector = detector
        self._set_up = set_up
        self._criterion = criterion
        self._print_size = print_size

    def examine(self, path: Path) -> Examined:
        """Check a picture. A file that cannot be read is told in the result, not raised."""
        with room_for(path):
            try:
                picture = open_picture(path)
            except UnreadableError as error:
                why = Sentence(lambda: _("the file cannot be read"))
                return Examined(CheckedPicture(file=printable(path), problem=str(error), why=why))
            return self.check(picture)

    def check(self, picture: OpenedPicture) -> Examined:
        """Check an opened picture."""
        width, height = picture.width_px, picture.height_px
        feed = None if self._feed is None else self._feed.feed_of(picture.path)
        lens = taken_with(
            picture.tags,
            width,
            height,
            self._set_up if feed is None else feed.set_up,
            self._criterion,
            self._print_size,
            1.0 if feed is None else feed.crop,
        )
        known = facts_of(picture, lens)
        thumbnail = _fitted(picture.small, _THUMBNAIL_PX)
        poses = self._detector.detect(picture.small, 0.0) or []
        if not poses:
            return Examined(
                _not_judged(known, Sentence(lambda: _("no one found in it"))), thumbnail
            )
        pose = poses[0]
        framing = framing_check.check(pose)
        where = self._where(pose, picture, lens, feed)
        found: dict[str, object] = {
            "framing": framing.shows,
            "cut": framing.cut,
            "notes": known.notes + other_people.told(pose, picture.small, self._detector),
        }
        if where is not None:
            found |= {"distance_m": where.eyes_m, "distance_sd_m": where.sd_m}
        known = known.model_copy(update=found)
        if feed is not None and feed.own_lens:
            return Examined(
                _not_judged(known, feed_pictures.OWN_LENS, feed_pictures.LOOK_AT_FILE), thumbnail
            )
        eyes = _eyes(pose, picture)
        if isinstance(eyes.blur, Sentence):
            return Examined(_not_judged(known, eyes.blur), thumbnail, eyes.crop)
        judged = self._judged(known, eyes.blur, pose, picture, lens, where)
        return Examined(judged, thumbnail, eyes.crop)

    def _judged(
        self,
        known: CheckedPicture,
        blur: Blur,
        pose: Pose,
        picture: OpenedPicture,
        lens: TakenWith,
        where: Where | None,
    ) -> CheckedPicture:
        """With the verdict on eyes of that blur, its cause and what to change."""
        verdict, _ = diagnosis.verdict_of(blur, lens.limit_px, lens.print_limit_px)
        others = [] if verdict is Sharpness.SHARP else self._others(pose, picture)
        told = diagnosis.diagnose(
            blur, others, lens, where, picture.tags.exposure_s, self._posture(pose)
        )
        notes = known.notes
        if where is not None and told.verdict is Sharpness.SHARP:
            expected = diagnosis.predicted_blur_px(lens, where)
            if expected is not None and expected > 3 * lens.limit_px:
                notes += (_outside_the_zone(where),)
        from_blur_m = told.distance_from_blur_m
        longer_px = max(picture.width_px, picture.height_px)
        return known.model_copy(
            update={
                "verdict": told.verdict.value,
                "why": told.why,
                "change": told.change,
                "cause": told.cause.value,
                "blur_px": blur.width_px,
                "blur_sd_px": blur.sd_px,
                "blur_mm": (
                    blur.width_px * lens.pixel_pitch_m * 1000 if lens.sensor_known else None
                ),
                "p_sharp": told.p_sharp,
                "smear_px": blur.smear_px if blur.direction_deg is not None else None,
                "smear_deg": blur.direction_deg,
                "edges": blur.edges,
                "largest_print_cm": 100 * largest_print_m(blur.width_px, longer_px),
                "distance_from_blur_m": (
                    from_blur_m if from_blur_m is not None and np.isfinite(from_blur_m) else None
                ),
                "notes": notes,
            }
        )

    def _posture(self, pose: Pose) -> Posture:
        """Whether the person stands: as the set-up states it, else as the picture shows it."""
        stated = None if self._set_up is None else self._set_up.person.stated_posture
        return stated or posture.shown(pose)

    def _where(
        self, pose: Pose, picture: OpenedPicture, lens: TakenWith, feed: Feed | None
    ) -> Where | None:
        """Where the eyes were, from the picture itself and what it was taken with."""
        if not self._detector.network.measured:
            return None
        if feed is not None:
            height, width = picture.small.shape[:2]
            measured: object = feed.measure(pose, width, height)
        else:
            camera = self._camera(picture, lens)
            if camera is None:
                return None
            person = Person()
            if self._set_up is not None:
                said = self._set_up.person
                person = Person(said.stature_m, measured=said.stature_measured)
            measured = DistanceEngine(camera, person, focal_sd=self._focal_sd(lens)).measure(pose)
        if not isinstance(measured, BodyDistance):
            return None
        return Where(measured.eyes_m + lens.offset_m, measured.eyes_sd_m)

    @staticmethod
    def _focal_sd(lens: TakenWith) -> float:
        """How far the lens's engraving may be off what the picture was seen with, relative."""
        if lens.focal_length_m is None:
            return 0.0
        focus_m = lens.focus_m or _SOME_FOCUS_M
        return math.hypot(MARKED_LENS_SD, breathing_sd(lens.focal_length_m, focus_m))

    @staticmethod
    def _camera(picture: OpenedPicture, lens: TakenWith) -> PinholeCamera | None:
        """What the small picture of a camera was seen with; None where that is not known."""
        if lens.focal_length_m is None or not lens.sensor_known:
            return None
        height, width = picture.small.shape[:2]
        focus_m = lens.focus_m or _SOME_FOCUS_M
        try:
            return PinholeCamera.from_lens(lens.sensor, lens.focal_length_m, focus_m, width, height)
        except ImpossibleValueError:
            return None

    def _others(self, pose: Pose, picture: OpenedPicture) -> list[PlaceBlur]:
        found: list[PlaceBlur] = []
        taken: dict[str, int] = {}
        for place in measuring_places.other_places(
            pose, picture.scale, picture.width_px, picture.height_px
        ):
            if taken.get(place.depth, 0) >= _MOST_PLACES_EACH:
                continue
            part = picture.whole[place.box.top : place.box.bottom, place.box.left : place.box.right]
            measured = measure(linear_luminance(part), most=100, fine=False)
            if isinstance(measured, NotMeasured):
                continue
            taken[place.depth] = taken.get(place.depth, 0) + 1
            found.append(PlaceBlur(place.name, place.depth, measured))
        return found


@dataclass(frozen=True, slots=True)
class _Eyes:
    """The blur at the eyes or why there is none, and the eyes at full size where they are."""

    blur: Blur | Sentence
    crop: ColourImage | None = None


def _eyes(pose: Pose, picture: OpenedPicture) -> _Eyes:
    region = measuring_places.eye_region(pose, picture.scale, picture.width_px, picture.height_px)
    if region is None:
        return _Eyes(
            Sentence(lambda: _("the eyes are outside the picture, or too small in it to judge"))
        )
    crop = _crop(picture, region.around)
    if not framing_check.faces_camera(pose):
        return _Eyes(Sentence(lambda: _("the face is turned away from the camera")), crop)
    measured = _blur_within(picture, region)
    if isinstance(measured, NotMeasured):
        why = measured.why
        return _Eyes(Sentence(lambda: _("{why} at the eyes", why=_(why))), crop)
    return _Eyes(measured, crop)


def _blur_within(picture: OpenedPicture, region: EyeRegion) -> Blur | NotMeasured:
    around = region.around
    part = picture.whole[around.top : around.bottom, around.left : around.right]
    gray, mask, factor = linear_luminance(part), region.mask(), 1
    while gray.shape[1] > _LARGEST_REGION_PX * (1 if factor > 1 else 1.5):
        size = (gray.shape[1] // 2, gray.shape[0] // 2)
        gray = np.asarray(cv2.resize(gray, size, interpolation=cv2.INTER_AREA), np.float32)
        mask = cv2.resize(mask.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
        factor *= 2
    packed = None
    if factor == 1 and picture.compression is not None:
        packed = picture.compression.of_part(around.left, around.top)
    measured = measure(gray, mask, compression=packed)
    return measured if isinstance(measured, NotMeasured) else measured.scaled(factor)


def _outside_the_zone(where: Where) -> Sentence:
    return Sentence(
        lambda: _(
            "sharp, although the eyes were estimated at {distance}, outside the zone: check the "
            "focus distance in the set-up",
            distance=metres(where.eyes_m),
        )
    )


def _not_judged(known: CheckedPicture, why: Sentence, change: str = "") -> CheckedPicture:
    return known.model_copy(update={"why": why, "change": change})


def facts_of(picture: OpenedPicture, lens: TakenWith) -> CheckedPicture:
    """What is known without looking at the picture."""
    tags = picture.tags
    zone = lens.zone
    far_m = None if zone is None else float(zone.far_m) + lens.offset_m
    return CheckedPicture(
        file=printable(picture.path),
        width_px=picture.width_px,
        height_px=picture.height_px,
        limit_px=lens.limit_px,
        limit_mm=lens.criterion.circle_of_confusion_m * 1000 if lens.sensor_known else None,
        criterion=lens.criterion.basis,
        print_limit_px=lens.print_limit_px,
        print_size=lens.print_criterion.basis.removeprefix("print "),
        near_m=None if zone is None else float(zone.near_m) + lens.offset_m,
        far_m=far_m if far_m is not None and far_m < _AS_GOOD_AS_INFINITE_M else None,
        focus_m=None if lens.focus_m is None else lens.focus_m + lens.offset_m,
        focal_length_mm=None if lens.focal_length_m is None else lens.focal_length_m * 1000,
        f_number=lens.f_number,
        exposure_s=tags.exposure_s,
        iso=tags.iso,
        taken_at=tags.taken_at,
        notes=lens.notes,
    )


def _fitted(picture: ColourImage, side_px: int) -> ColourImage:
    scale = side_px / max(picture.shape[:2])
    if scale >= 1:
        return np.asarray(picture.copy(), np.uint8)
    size = (max(1, round(picture.shape[1] * scale)), max(1, round(picture.shape[0] * scale)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _crop(picture: OpenedPicture, around: Box) -> ColourImage:
    """The eyes at full size: one pixel of the picture is one of the crop."""
    x, y = (around.left + around.right) // 2, (around.top + around.bottom) // 2
    half_w, half_h = _CROP_WIDTH_PX // 2, _CROP_HEIGHT_PX // 2
    box = Box(x - half_w, y - half_h, x + half_w, y + half_h)
    box = box.within(picture.width_px, picture.height_px)
    part = picture.whole[box.top : box.bottom, box.left : box.right]
    return np.asarray(part.copy(), np.uint8)
