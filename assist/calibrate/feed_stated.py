"""A feed's geometry from what is written on lens and box, and the black bars found in its picture.

framed = framed_feed("0", rotation_deg=0)
profile = from_lens(StatedLens("35mm", "4m"), framed).profile
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.units import parse_length_m
from assist.base.validation import validated
from assist.base.words import _, current
from assist.feed.bars import find_picture
from assist.feed.black_bars import PictureArea, UnsureArea
from assist.feed.capture import check_rotation, turned
from assist.feed.image_folder import read_picture
from assist.feed.opening import frames_of
from assist.setup.feed_geometry import FeedGeometry, marked_lens_sd
from assist.setup.feed_profile import STATED_VIEW_SD, FeedProfile
from assist.setup.set_up import FARTHEST_M, CameraPart, FeedPart, LensPart
from optics.camera import PinholeCamera
from optics.sensor import sensor_from_name

_MOST_PICTURES = 40
_EVERY_S = 0.1
_NAMED_SHAPES = {(3, 2), (4, 3), (16, 9), (5, 4), (1, 1), (17, 9), (2, 1), (16, 10)}
_SIZE = re.compile(r"^\s*(\d+)\s*[x×]\s*(\d+)\s*$", re.IGNORECASE)

Along = Literal["horizontal", "vertical", "diagonal"]


# -- the feed's picture ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FramedFeed:
    """The feed's size in pixels and the picture within its bars; `stated`: by the user."""

    width_px: int
    height_px: int
    area: PictureArea
    stated: bool

    @property
    def bars_px(self) -> tuple[int, int, int, int]:
        """Left, top, right, bottom."""
        a = self.area
        right = self.width_px - a.left_px - a.width_px
        return a.left_px, a.top_px, right, self.height_px - a.top_px - a.height_px

    def in_words(self) -> str:
        """What was found."""
        size = f"{self.width_px}x{self.height_px}"
        if not any(self.bars_px):
            if self.stated:
                return _("the feed delivers {size}, stated to be without black bars", size=size)
            return _("the feed delivers {size}, without black bars", size=size)
        words = {
            "size": size,
            "bars": self._bars_in_words(),
            "picture": f"{self.area.width_px}x{self.area.height_px}{_shape(self.area)}",
        }
        if self.stated:
            return _(
                "the feed delivers {size} with black bars as stated of {bars}: the picture is "
                "{picture}",
                **words,
            )
        return _(
            "the feed delivers {size} with black bars of {bars}: the picture is {picture}", **words
        )

    def _bars_in_words(self) -> str:
        left, top, right, bottom = self.bars_px
        bars = []
        if left or right:
            bars.append(_("{first} and {second} px left and right", first=left, second=right))
        if top or bottom:
            bars.append(_("{first} and {second} px top and below", first=top, second=bottom))
        return ", ".join(bars)


def _shape(area: PictureArea) -> str:
    for across, down in _NAMED_SHAPES:
        for named in ((across, down), (down, across)):
            if abs(area.width_px / area.height_px / (named[0] / named[1]) - 1) < 0.008:
                return f" ({named[0]}:{named[1]})"
    return ""


def framed_feed(
    feed: str | None,
    *,
    size: str | None = None,
    area: str | None = None,
    seconds: float = 4.0,
    rotation_deg: int = 0,
) -> FramedFeed:
    """The size of a feed and the picture within its black bars, which are looked for in it.

    size: of the feed's picture, as "1920x1080", instead of a feed.   area: of the picture between
    the bars, which lies in the middle, or "none" for no bars; then nothing is looked for.
    seconds: how long to look.   rotation_deg: what the feed is turned by, clockwise.

    Raises UserError when the feed gives no picture, and when there may or may not be bars.
    """
    if (feed is None) == (size is None):
        raise UserError(
            _("give a feed to look at, or the size of its picture with --size, one only")
        )
    pictures: Sequence[ColourImage] = ()
    if feed is not None:
        pictures = _pictures(feed, rotation_deg, seconds)
        height, width = pictures[0].shape[:2]
    else:
        width, height = _pair("--size", size or "")
    if area is not None and area.strip().lower() != "none":
        chosen = PictureArea.centred(*_pair("--area", area), width, height)
        return FramedFeed(width, height, chosen, True)
    if area is not None or feed is None:
        return FramedFeed(width, height, PictureArea(0, 0, width, height), True)
    found = find_picture(pictures)
    if isinstance(found, UnsureArea):
        raise UserError(
            _(
                "not sure whether the feed has black bars: {why}; show it something lit up to its "
                "borders, or say --area none, or --area WxH for the picture between the bars",
                why=found.why,
            )
        )
    return FramedFeed(width, height, found, False)


def _pictures(feed: str, rotation_deg: int, seconds: float) -> list[ColourImage]:
    """Pictures of the feed some time apart; those of another size than the first are left out."""
    path = Path(feed)
    if path.is_file() and (still := read_picture(path)) is not None:
        return [turned(still, check_rotation(rotation_deg))]
    kept: list[ColourImage] = []
    last_s = -math.inf
    for frame in frames_of(feed, rotation_deg, seconds):
        if frame.time_s - last_s >= _EVERY_S and len(kept) < _MOST_PICTURES:
            last_s = frame.time_s
            if not kept or frame.picture.shape == kept[0].shape:
                kept.append(frame.picture.copy())
    if not kept:
        raise UserError(_("feed {feed} gave no picture", feed=feed))
    return kept


def _pair(option: str, text: str) -> tuple[int, int]:
    match = _SIZE.match(text)
    if match is None:
        raise UserError(
            _(
                "{option}: write it as {example}, not {text}",
                option=option,
                example="1920x1080",
                text=repr(text),
            )
        )
    width, height = int(match[1]), int(match[2])
    if not (16 <= width <= 20000 and 16 <= height <= 20000):
        raise UserError(
            _("{option}: sides from 16 to 20000 pixels, not {text}", option=option, text=text)
        )
    return width, height


# -- what is written on lens and box --------------------------------------------------------------


@dataclass(frozen=True)
class FeedStated:
    """A feed's geometry as it follows from what is stated.

    notes: what it was worked out from, for the user.
    """

    profile: FeedProfile
    camera: PinholeCamera
    framed: FramedFeed
    notes: Sequence[str] = ()

    def in_words(self) -> list[str]:
        """The bars, what the geometry was worked out from, and how far it can be trusted."""
        say, camera = current(), self.camera
        figures = {
            "focal": say.figure(camera.fx_px, 1),
            "across": say.figure(math.degrees(camera.horizontal_field_of_view_rad), 1),
            "down": say.figure(math.degrees(camera.vertical_field_of_view_rad), 1),
            "sd": f"{self.profile.focal_sd:.0%}",
        }
        if self.profile.method == "lens":
            trust = _(
                "focal length {focal} px, view {across} x {down} degrees, taken to be right to "
                "{sd}: engraved focal lengths are rounded and change with focus",
                **figures,
            )
        else:
            trust = _(
                "focal length {focal} px, view {across} x {down} degrees, taken to be right to "
                "{sd}: angles are stated rounded, often for another mode than video",
                **figures,
            )
        return [self.framed.in_words(), *self.notes, trust]


class StatedLens:
    """The taking lens and sensor that a feed comes through, as people state them.

    focal_length, focus: such as "35mm" and "4m", or "inf", from the sensor plane.   sensor: by name
    or size.   crop: sensor width over the width that the feed shows. UserError naming the option
    that is wrong.
    """

    def __init__(
        self, focal_length: str, focus: str, sensor: str = "full-frame", crop: float = 1.0
    ) -> None:
        try:
            self.focus_m = parse_length_m(focus, infinity=True)
        except ValueError as error:
            raise UserError(_("{option}: {error}", option="--focus", error=error)) from error
        far_m = FARTHEST_M if math.isinf(self.focus_m) else self.focus_m
        self.taking = validated(CameraPart, {"sensor": sensor}, _("the camera"), {"": "--sensor"})
        self.lens = validated(
            LensPart,
            # What a feed shows does not depend on the aperture.
            {"focal_length_mm": focal_length, "f_number": 8, "focus_distance_m": far_m},
            _("the lens"),
            {"focal_length_mm": "--lens", "focus_distance_m": "--focus"},
        )
        self.feed = validated(FeedPart, {"crop": crop}, _("the feed"), {"crop": "--crop"})
        self.geometry = FeedGeometry(self.feed, self.taking, self.lens)

    @property
    def basis(self) -> str:
        """What was given, as a profile keeps it."""
        chip = sensor_from_name(self.taking.sensor)
        at = "infinity" if math.isinf(self.focus_m) else f"{self.focus_m:g} m"
        return (
            f"{self.lens.focal_length_mm:g} mm focused at {at}, sensor {1000 * chip.width_m:g}x"
            f"{1000 * chip.height_m:g} mm, crop {self.feed.crop:g}"
        )


def from_lens(stated: StatedLens, framed: FramedFeed, name: str = "") -> FeedStated:
    """The geometry of the camera's own video output, by its lens and sensor."""
    area_px = (framed.area.width_px, framed.area.height_px)
    camera = stated.geometry.camera(*area_px)
    profile = FeedProfile.of_camera(
        camera,
        "lens",
        marked_lens_sd(stated.lens),
        name=name,
        basis=stated.basis,
        bars_px=framed.bars_px,
    )
    return FeedStated(profile, camera, framed, _lens_notes(stated, area_px))


def _lens_notes(stated: StatedLens, area_px: tuple[int, int]) -> tuple[str, str]:
    say = current()
    side, length_m = sensor_from_name(stated.taking.sensor).shown_side(*area_px)
    length = say.decimal(f"{1000 * length_m:g}")
    crop = stated.feed.crop
    if crop != 1:
        length = _("{length} mm divided by {crop}", length=length, crop=say.decimal(f"{crop:g}"))
    else:
        length = f"{length} mm"
    shows = {
        "width": lambda: _("its width shows the sensor's {length}", length=length),
        "height": lambda: _("its height shows the sensor's {length}", length=length),
    }[side]()
    stands = _(
        "focused there, a lens of {focal_length} mm stands {offset} mm before the sensor",
        focal_length=say.decimal(f"{stated.lens.focal_length_mm:g}"),
        offset=say.figure(1000 * stated.lens.sensor_offset_m, 2),
    )
    return shows, stands


def stated_view(along: Along, angle: str) -> FeedPart:
    """A feed with a lens of its own and that angle of view; UserError for one that cannot be."""
    field = f"{along}_field_of_view_deg"
    values = {"through": "own-lens", field: angle}
    return validated(FeedPart, values, _("the feed"), {field: f"--{along}"})


def from_view(stated: FeedPart, framed: FramedFeed, name: str = "") -> FeedStated:
    """A feed's geometry by the angle of view stated for it."""
    view = stated.stated_view
    if view is None:
        raise ValueError("no angle of view is stated")
    along, angle_deg = view
    camera = FeedGeometry(stated).camera(framed.area.width_px, framed.area.height_px)
    profile = FeedProfile.of_camera(
        camera,
        "field of view",
        STATED_VIEW_SD,
        name=name,
        basis=f"{along} view {angle_deg:g} degrees",
        bars_px=framed.bars_px,
    )
    return FeedStated(profile, camera, framed)
