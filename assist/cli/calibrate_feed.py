"""`assist calibrate lens | view`: the feed's geometry from what is written on lens and box."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from assist.base import units as quantities
from assist.base.errors import UserError
from assist.base.files import refuse_existing
from assist.base.images import ColourImage
from assist.base.validation import validated
from assist.cli.examples import examples
from assist.cli.options.calibrate import Replace, check_name, frames
from assist.cli.options.set_up import Rotate
from assist.cli.options.values import remark_far, stated
from assist.feed.black_bars import PictureArea, UnsureArea, find_picture
from assist.feed.capture import check_rotation, turned
from assist.feed.image_folder import read_picture
from assist.setup import feed_profile
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.feed_profile import MARKED_LENS_SD, STATED_VIEW_SD, FeedProfile
from assist.setup.set_up import FARTHEST_M, CameraPart, FeedPart, LensPart
from optics.camera import PinholeCamera
from optics.sensor import sensor_from_name

_MOST_PICTURES = 40
_EVERY_S = 0.1
_NAMED_SHAPES = {(3, 2), (4, 3), (16, 9), (5, 4), (1, 1), (17, 9), (2, 1), (16, 10)}
_SIZE = re.compile(r"^\s*(\d+)\s*[x×]\s*(\d+)\s*$", re.IGNORECASE)

LENS_EXAMPLES = examples(
    "assist calibrate lens 0 --lens 35mm --focus 4m --sensor full-frame --out camera.toml"
)
VIEW_EXAMPLES = examples("assist calibrate view 0 --diagonal 78deg --out webcam.toml")

Feed = Annotated[
    str | None,
    typer.Argument(help="Feed, video file, picture or folder of pictures to find black bars in."),
]
Out = Annotated[Path, typer.Option("--out", metavar="FILE", help="Feed profile to write.")]
Name = Annotated[str, typer.Option("--name", help="Which feed this is.")]
Size = Annotated[
    str | None,
    typer.Option("--size", metavar="WxH", help="Size of the feed's picture, without a feed."),
]
Area = Annotated[
    str | None,
    typer.Option(
        "--area",
        metavar="WxH",
        help="Size in pixels of the picture between the black bars, in the middle of the feed's, "
        "or none for no bars; found by itself if left out.",
    ),
]
Seconds = Annotated[
    float, typer.Option("--seconds", min=0.1, max=60, help="How long to look for black bars.")
]


def lens(
    out: Out,
    focal_length: Annotated[
        str, typer.Option("--lens", help="Focal length of the taking lens: 35mm.")
    ],
    focus: Annotated[
        str,
        typer.Option("--focus", help="Focus distance from the sensor plane mark, or inf: 4m."),
    ],
    feed: Feed = None,
    sensor: Annotated[
        str,
        typer.Option(
            "--sensor",
            help="full-frame, aps-c-1.5, aps-c-1.6, four-thirds, one-inch, or a size: 23.6x15.7.",
        ),
    ] = "full-frame",
    crop: Annotated[
        float, typer.Option("--crop", help="Sensor width over the width that the video shows.")
    ] = 1.0,
    size: Size = None,
    area: Area = None,
    seconds: Seconds = 4.0,
    name: Name = "",
    rotate: Rotate = 0,
    replace_file: Replace = False,
) -> None:
    """Work out the geometry of the camera's own video output from its lens and sensor.

    Black bars around the picture are found by themselves: show the feed something lit up to its
    borders. The profile holds for that lens, focus distance and video mode.
    """
    refuse_existing(out, replace_file)
    check_name(name)
    remark_far("--focus", focus)
    focus_m = stated("--focus", lambda t: quantities.parse_length_m(t, infinity=True), focus)
    far_m = FARTHEST_M if math.isinf(focus_m) else focus_m
    taking = validated(CameraPart, {"sensor": sensor}, "the camera", {"": "--sensor"})
    glass = validated(
        LensPart,
        # What a feed shows does not depend on the aperture.
        {"focal_length_mm": focal_length, "f_number": 8, "focus_distance_m": far_m},
        "the lens",
        {"focal_length_mm": "--lens", "focus_distance_m": "--focus"},
    )
    shown = validated(FeedPart, {"crop": crop}, "the feed", {"crop": "--crop"})
    geometry = FeedGeometry(shown, taking, glass)
    framed = _framed(feed, size, area, seconds, rotate)
    area_px = (framed.area.width_px, framed.area.height_px)
    camera = geometry.camera(*area_px)
    chip = sensor_from_name(sensor)
    side, length_m = chip.shown_side(*area_px)
    at = "infinity" if math.isinf(focus_m) else f"{focus_m:g} m"
    basis = (
        f"{glass.focal_length_mm:g} mm focused at {at}, sensor {1000 * chip.width_m:g}x"
        f"{1000 * chip.height_m:g} mm, crop {crop:g}"
    )
    profile = FeedProfile.of_camera(
        camera, "lens", MARKED_LENS_SD, name=name, basis=basis, bars_px=framed.bars_px
    )
    feed_profile.save(profile, out, replace=replace_file)
    part = f" divided by {crop:g}" if crop != 1 else ""
    typer.echo(framed.in_words())
    typer.echo(f"its {side} shows the sensor's {1000 * length_m:g} mm{part}")
    typer.echo(
        f"focused there, a lens of {glass.focal_length_mm:g} mm stands "
        f"{1000 * glass.sensor_offset_m:.2f} mm before the sensor"
    )
    _tell(camera, profile, out, "engraved focal lengths are rounded and change with focus")


def view(
    out: Out,
    feed: Feed = None,
    horizontal: Annotated[
        str | None, typer.Option("--horizontal", help="Angle of view across the picture: 70deg.")
    ] = None,
    vertical: Annotated[
        str | None, typer.Option("--vertical", help="Angle of view up and down.")
    ] = None,
    diagonal: Annotated[
        str | None, typer.Option("--diagonal", help="Angle of view from corner to corner.")
    ] = None,
    size: Size = None,
    area: Area = None,
    seconds: Seconds = 4.0,
    name: Name = "",
    rotate: Rotate = 0,
    replace_file: Replace = False,
) -> None:
    """Work out a feed's geometry from the angle of view stated for it.

    The angle is that of the picture between black bars, where the feed has any. Makers often state
    the diagonal, and that of the whole sensor where video shows a part of it.
    """
    refuse_existing(out, replace_file)
    angles = {"horizontal": horizontal, "vertical": vertical, "diagonal": diagonal}
    given = {along: text for along, text in angles.items() if text is not None}
    if len(given) != 1:
        raise UserError(
            "give exactly one of --horizontal, --vertical and --diagonal, not "
            + (" and ".join(f"--{along}" for along in given) or "none")
        )
    [(along, text)] = given.items()
    check_name(name)
    field = f"{along}_field_of_view_deg"
    values = {"through": "own-lens", field: text}
    shown = validated(FeedPart, values, "the feed", {field: f"--{along}"})
    framed = _framed(feed, size, area, seconds, rotate)
    camera = FeedGeometry(shown).camera(framed.area.width_px, framed.area.height_px)
    profile = FeedProfile.of_camera(
        camera,
        "field of view",
        STATED_VIEW_SD,
        name=name,
        basis=f"{along} view {getattr(shown, field):g} degrees",
        bars_px=framed.bars_px,
    )
    feed_profile.save(profile, out, replace=replace_file)
    typer.echo(framed.in_words())
    _tell(camera, profile, out, "angles are stated rounded, often for another mode than video")


# -- the feed's picture ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Framed:
    """The feed's size and the picture within its bars; `stated`: by the user."""

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
        left, top, right, bottom = self.bars_px
        a = self.area
        feed = f"the feed delivers {self.width_px}x{self.height_px}"
        if not any(self.bars_px):
            return f"{feed}, {'stated to be ' if self.stated else ''}without black bars"
        bars = [
            f"{pair[0]} and {pair[1]} px {where}"
            for pair, where in (((left, right), "left and right"), ((top, bottom), "top and below"))
            if any(pair)
        ]
        return (
            f"{feed} with black bars{' as stated' if self.stated else ''} of {', '.join(bars)}: "
            f"the picture is {a.width_px}x{a.height_px}{_shape(a)}"
        )


def _shape(area: PictureArea) -> str:
    for across, down in _NAMED_SHAPES:
        for named in ((across, down), (down, across)):
            if abs(area.width_px / area.height_px / (named[0] / named[1]) - 1) < 0.008:
                return f" ({named[0]}:{named[1]})"
    return ""


def _framed(
    feed: str | None, size: str | None, area: str | None, seconds: float, rotate: int
) -> _Framed:
    if (feed is None) == (size is None):
        raise UserError("give a feed to look at, or the size of its picture with --size, one only")
    pictures: Sequence[ColourImage] = ()
    if feed is not None:
        pictures = _pictures(feed, rotate, seconds)
        height, width = pictures[0].shape[:2]
    else:
        width, height = _pair("--size", size or "")
    if area is not None and area.strip().lower() != "none":
        chosen = PictureArea.centred(*_pair("--area", area), width, height)
        return _Framed(width, height, chosen, True)
    if area is not None or feed is None:
        return _Framed(width, height, PictureArea(0, 0, width, height), True)
    found = find_picture(pictures)
    if isinstance(found, UnsureArea):
        raise UserError(
            f"not sure whether the feed has black bars: {found.why}; show it something lit up to "
            "its borders, or say --area none, or --area WxH for the picture between the bars"
        )
    return _Framed(width, height, found, False)


def _pictures(feed: str, rotate: int, seconds: float) -> list[ColourImage]:
    """Pictures of the feed some time apart; those of another size than the first are left out."""
    path = Path(feed)
    if path.is_file() and (still := read_picture(path)) is not None:
        return [turned(still, check_rotation(rotate))]
    kept: list[ColourImage] = []
    last_s = -math.inf
    for frame in frames(feed, rotate, seconds):
        if frame.time_s - last_s >= _EVERY_S and len(kept) < _MOST_PICTURES:
            last_s = frame.time_s
            if not kept or frame.picture.shape == kept[0].shape:
                kept.append(frame.picture.copy())
    if not kept:
        raise UserError(f"feed {feed} gave no picture")
    return kept


def _pair(option: str, text: str) -> tuple[int, int]:
    match = _SIZE.match(text)
    if match is None:
        raise UserError(f"{option}: write it as 1920x1080, not {text!r}")
    width, height = int(match[1]), int(match[2])
    if not (16 <= width <= 20000 and 16 <= height <= 20000):
        raise UserError(f"{option}: sides from 16 to 20000 pixels, not {text}")
    return width, height


# -- the profile ----------------------------------------------------------------------------------


def _tell(camera: PinholeCamera, profile: FeedProfile, out: Path, why: str) -> None:
    typer.echo(
        f"focal length {camera.fx_px:.1f} px, view "
        f"{math.degrees(camera.horizontal_field_of_view_rad):.1f} x "
        f"{math.degrees(camera.vertical_field_of_view_rad):.1f} degrees, taken to be right to "
        f"{profile.focal_sd:.0%}: {why}"
    )
    typer.echo(
        "distances are wrong by as much as the focal length is; assist calibrate mark or board "
        f"knows it better. The profile is in {out}"
    )
