"""The set-up: everything about lens, person and feed that a run needs, kept as a TOML file.

Distances are asked for and answered from the sensor plane, where a tape and a lens scale start.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

import tomlkit
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from assist.base import units as quantities
from assist.base.errors import shown
from assist.base.files import write_whole
from assist.base.reading import read_toml
from assist.base.secret import without_secrets
from assist.base.validation import validated
from assist.base.words import _, _n, current, of_error
from assist.setup.body import ADULT_STATURE_M, LIMBS, STEP_OF_STATURE, Limb, Posture
from optics import framing, sharpness_criterion
from optics import lens as thin_lens
from optics.figure import SEAT_HEIGHT_M, Figure
from optics.focus_zone import FocusZone
from optics.rigid import RigidOffset
from optics.sensor import FORMATS, Sensor, sensor_from_name
from optics.sharpness_criterion import SharpnessCriterion

VERSION: Literal[1] = 1
FARTHEST_M = 100_000.0
VIEWS = ("horizontal", "vertical", "diagonal")
"""Along what an angle of view may be stated."""
LONGEST_DELAY_S = 20.0
"""Of a feed. One that is older is no live feed any more."""
SHORTEST_M, TALLEST_M = 0.5, 2.5
"""Statures that a person may state."""
_SMALLEST_SENSOR_M, _LARGEST_SENSOR_M = 0.5e-3, 1.0
_SMALLEST_BLUR_M, _LARGEST_BLUR_M = 1e-8, 1e-2


def _near_or_infinite(value: float) -> float:
    if FARTHEST_M < value < math.inf:
        raise ValueError(_("must be at most {farthest} m, or inf", farthest=f"{FARTHEST_M:,.0f}"))
    return value


# The limits are far outside what a photographer has: they keep the optics inside what
# floating-point numbers can do, and find the mistyped unit.
FocalLengthMm = Annotated[
    float, BeforeValidator(quantities.parse_focal_length_mm), Field(ge=0.1, le=5000)
]
FNumber = Annotated[float, BeforeValidator(quantities.parse_f_number), Field(ge=0.1, le=1000)]
LengthM = Annotated[float, BeforeValidator(quantities.parse_length_m), Field(gt=0, le=FARTHEST_M)]
LengthOrInfinityM = Annotated[
    float,
    BeforeValidator(lambda value: quantities.parse_length_m(value, infinity=True)),
    AfterValidator(_near_or_infinite),
    Field(gt=0),
]
AngleDeg = Annotated[float, BeforeValidator(quantities.parse_angle_deg), Field(ge=0.1, le=179)]
Seconds = Annotated[float, BeforeValidator(quantities.parse_seconds), Field(ge=0, le=3600)]
FeedDelay = Annotated[
    float, BeforeValidator(quantities.parse_seconds), Field(ge=0, le=LONGEST_DELAY_S)
]
ShutterSeconds = Annotated[
    float, BeforeValidator(quantities.parse_seconds), Field(ge=1e-7, le=3600)
]
Offset = Annotated[float, BeforeValidator(quantities.parse_length_m), Field(ge=-5, le=5)]
TurnDeg = Annotated[float, BeforeValidator(quantities.parse_angle_deg), Field(ge=-60, le=60)]
TiltDeg = Annotated[float, BeforeValidator(quantities.parse_angle_deg), Field(ge=-60, le=60)]
IsoSpeed = Annotated[float, BeforeValidator(quantities.parse_iso), Field(ge=0.1, le=10_000_000)]
ExposureValue = Annotated[
    float, BeforeValidator(quantities.parse_exposure_value), Field(ge=-20, le=30)
]
Share = Annotated[float, BeforeValidator(quantities.parse_share), Field(ge=0, lt=1)]


Movement = Literal["standing", "gesture", "walking"]
StatedPosture = Literal["auto", "standing", "seated"]
OrdersBy = Literal["hand", "arm", "head", "none"]
Through = Literal["taking-lens", "own-lens"]
FocusedBy = Literal["stand-in", "eyes", "scale"]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class CameraPart(_Part):
    """The taking camera."""

    sensor: str = Field(
        "full-frame",
        max_length=60,
        description="sensor format by name, or its size such as 23.6x15.7 (mm)",
        examples=[*FORMATS],
    )
    picture_width_px: int | None = Field(
        None,
        gt=0,
        le=1_000_000,
        description="width of the camera's pictures in pixels, for the pixel criterion",
        examples=["6000"],
    )
    orientation: framing.Orientation = Field(
        "landscape", description="how the camera is held: landscape or portrait"
    )
    height_m: LengthM | None = Field(
        None,
        le=20,
        description="height of the lens above the ground where the person stands, m",
        examples=["1.4m"],
    )
    tilt_deg: TiltDeg | None = Field(
        None, description="tilt of the camera, downwards positive, degrees", examples=["5deg"]
    )

    @property
    def tilt_rad(self) -> float | None:
        """Tilt of the camera, downwards positive, radians; None where it is not settled."""
        return None if self.tilt_deg is None else math.radians(self.tilt_deg)

    @model_validator(mode="after")
    def _sensor_is_known(self) -> CameraPart:
        sensor = sensor_from_name(self.sensor)
        sides = (sensor.width_m, sensor.height_m)
        if min(sides) < _SMALLEST_SENSOR_M or max(sides) > _LARGEST_SENSOR_M:
            raise ValueError(
                _(
                    "sensor {sensor} cannot be: each side is from 0.5 to 1000 mm",
                    sensor=shown(self.sensor),
                )
            )
        return self


class LensPart(_Part):
    """The taking lens, as it is set."""

    focal_length_mm: FocalLengthMm = Field(description="focal length, mm", examples=["35mm"])
    f_number: FNumber = Field(description="aperture", examples=["f/2.8", "2.8"])
    focus_distance_m: LengthM = Field(
        description="focus distance from the sensor plane mark on the camera, m",
        examples=["4m", "13ft", "10'6\""],
    )
    focused_by: FocusedBy = Field(
        "stand-in",
        description="how the focus was set: stand-in, on a thing that stood where you will stand; "
        "eyes, on your own eyes; scale, by the scale of the lens",
    )
    minimum_focus_distance_m: LengthM | None = Field(
        None, description="nearest distance the lens can focus at, from the sensor plane, m"
    )
    widest_f_number: FNumber | None = Field(
        None, description="the lens's widest aperture, its smallest f-number"
    )
    narrowest_f_number: FNumber | None = Field(
        None, description="the lens's narrowest aperture, its largest f-number"
    )

    @property
    def focal_length_m(self) -> float:
        """Focal length, metres."""
        return self.focal_length_mm / 1000

    @property
    def focus_lens_distance_m(self) -> float:
        """Focus distance from the lens, metres."""
        return float(
            thin_lens.sensor_to_lens_distance_m(self.focal_length_m, self.focus_distance_m)
        )

    @property
    def sensor_offset_m(self) -> float:
        """What to add to a distance from the lens to have it from the sensor plane, metres.

        The lens stays where it was focused, so the offset is the same for every distance.
        """
        return self.focus_distance_m - self.focus_lens_distance_m

    @model_validator(mode="after")
    def _can_focus_there(self) -> LensPart:
        nearest = 4 * self.focal_length_mm / 1000
        source = _("four focal lengths, the nearest a lens can be focused at")
        if self.minimum_focus_distance_m is not None and self.minimum_focus_distance_m > nearest:
            nearest, source = self.minimum_focus_distance_m, _("the lens's minimum focus distance")
        if self.focus_distance_m < nearest:
            raise ValueError(
                _(
                    "focus distance {focus_distance} m is under {nearest} m ({source})",
                    focus_distance=current().decimal(f"{self.focus_distance_m:g}"),
                    nearest=current().decimal(f"{nearest:g}"),
                    source=source,
                )
            )
        return self

    @model_validator(mode="after")
    def _has_that_aperture(self) -> LensPart:
        widest, narrowest = self.widest_f_number, self.narrowest_f_number
        if widest is not None and narrowest is not None and narrowest < widest:
            raise ValueError(
                _(
                    "apertures from f/{widest} to f/{narrowest} run the wrong way",
                    widest=current().decimal(f"{widest:g}"),
                    narrowest=current().decimal(f"{narrowest:g}"),
                )
            )
        if widest is not None and self.f_number < widest:
            raise ValueError(
                _(
                    "f/{f_number} is wider than the lens opens (f/{widest})",
                    f_number=current().decimal(f"{self.f_number:g}"),
                    widest=current().decimal(f"{widest:g}"),
                )
            )
        if narrowest is not None and self.f_number > narrowest:
            raise ValueError(
                _(
                    "f/{f_number} is narrower than the lens closes (f/{narrowest})",
                    f_number=current().decimal(f"{self.f_number:g}"),
                    narrowest=current().decimal(f"{narrowest:g}"),
                )
            )
        return self


class SharpnessPart(_Part):
    """What counts as sharp."""

    criterion: str = Field(
        "diagonal/1500",
        max_length=100,
        description="diagonal/1500, a size such as 0.02 mm, 2 px, or print 30 cm from 40 cm",
    )


class PersonPart(_Part):
    """The person in the picture."""

    stature_m: LengthM | None = Field(
        None,
        ge=SHORTEST_M,
        le=TALLEST_M,
        description="body height without shoes, m; leave out if unknown",
        examples=["1.70m"],
    )
    stature_measured: bool = Field(
        False,
        description="true where that was measured at a wall; what people merely state is a "
        "centimetre too much on average, give or take 2.5",
    )
    profile: str | None = Field(
        None,
        max_length=4096,
        description="file of your personal profile, made by assist calibrate mark",
    )
    movement: Movement = Field(
        "standing", description="what the person does in the picture: standing, gesture, walking"
    )
    step_length_m: LengthM | None = Field(
        None, le=2, description="your step, m; from the height if left out"
    )
    posture: StatedPosture = Field(
        "auto",
        description="standing, seated (in a seat or wheelchair: no steps are told) or auto (seen)",
    )
    seat_height_m: LengthM | None = Field(
        None,
        ge=0.1,
        le=1.5,
        description="height of your seat with you on it, m, for assist plan",
        examples=["0.50m"],
    )
    without: tuple[Limb, ...] = Field(
        (), description=f"limbs that are not there, of {', '.join(LIMBS)}"
    )
    orders_by: OrdersBy = Field(
        "hand", description="what gives orders from afar: hand (up), arm (out), head (tilted), none"
    )

    @property
    def stated_posture(self) -> Posture | None:
        """The posture that is stated, None where it is to be seen."""
        return None if self.posture == "auto" else Posture(self.posture)

    @property
    def figure(self) -> Figure:
        """The person's heights as far as they are known: an adult's, standing, unless stated."""
        seat_m = self.seat_height_m or SEAT_HEIGHT_M if self.posture == "seated" else None
        return Figure(self.stature_m or ADULT_STATURE_M, seat_m)

    @property
    def step_m(self) -> float | None:
        """The person's step, metres; None for someone who does not walk, or of unknown size."""
        if self.posture == "seated":
            return None
        if self.step_length_m is None and self.stature_m is not None:
            return STEP_OF_STATURE * self.stature_m
        return self.step_length_m


def _statures(values: tuple[float, ...]) -> tuple[float, ...]:
    for stature_m in values:
        if not SHORTEST_M <= stature_m <= TALLEST_M:
            raise ValueError(
                _(
                    "{stature} m is no height: each is from {least} to {most} m",
                    stature=current().decimal(f"{stature_m:g}"),
                    least=current().decimal(f"{SHORTEST_M:g}"),
                    most=current().decimal(f"{TALLEST_M:g}"),
                )
            )
    return values


class TogetherPart(_Part):
    """Several people in one picture."""

    people: int | None = Field(
        None,
        ge=2,
        le=6,
        description="how many stand together, 2 to 6, all of whom are to be in focus",
    )
    statures_m: (
        Annotated[
            tuple[float, ...],
            BeforeValidator(quantities.parse_lengths_m),
            AfterValidator(_statures),
        ]
        | None
    ) = Field(
        None,
        description="their heights, m, from left to right on the mirrored screen",
        examples=["1.70m,1.82m"],
    )

    @model_validator(mode="after")
    def _one_stature_each(self) -> TogetherPart:
        statures, people = self.statures_m, self.people
        if statures is None:
            return self
        if people is None:
            raise ValueError(_("heights of several people need their number: --together 2"))
        if len(statures) != people:
            raise ValueError(
                _n(
                    "{n} height for {people} people: give one for each, from left to right",
                    "{n} heights for {people} people: give one for each, from left to right",
                    len(statures),
                    people=people,
                )
            )
        return self


def _known_shot_size(name: str | None) -> str | None:
    """The name as the live run compares it, however it was typed."""
    return None if name is None else framing.shot_size(name).name.replace(" ", "-")


class FramingPart(_Part):
    """How much of the person the picture shows."""

    shot_size: Annotated[str | None, AfterValidator(_known_shot_size)] = Field(
        None,
        max_length=60,
        description="full-body, knees-up, waist-up, chest-up or head-and-shoulders",
    )
    headroom: Share = Field(
        framing.HEADROOM,
        le=0.5,
        description="share of the frame's height left above the head",
        examples=["8%"],
    )
    across: Annotated[float, BeforeValidator(quantities.parse_share)] = Field(
        0.5,
        ge=0,
        le=1,
        description="where you stand across the picture, 0 left to 1 right",
        examples=["50%", "33%"],
    )


class ExposurePart(_Part):
    """The light, and how it is exposed for."""

    light_ev100: ExposureValue | None = Field(
        None,
        description="brightness of the light, as the exposure value at ISO 100",
        examples=["9"],
    )
    shutter_s: ShutterSeconds | None = Field(None, description="shutter time, s", examples=["1/60"])
    iso: IsoSpeed | None = Field(None, description="ISO speed", examples=["400"])


class PlacePart(_Part):
    """What lies around the mark."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=True)

    background_distance_m: LengthOrInfinityM | None = Field(
        None,
        description="distance of the background from the sensor plane, m, or inf",
        examples=["8m"],
    )


class TimerPart(_Part):
    """The camera's self-timer."""

    delay_s: Seconds | None = Field(
        None, description="delay of the camera's self-timer, s", examples=["10s"]
    )


class FeedPart(_Part):
    """The camera that watches, and how its picture is related to the world."""

    source: str | None = Field(
        None,
        max_length=4096,
        description="camera number, device path, address, video file or folder of pictures",
    )
    through: Through = Field(
        "taking-lens",
        description="taking-lens: the camera's own video output; own-lens: a webcam or phone",
    )
    crop: float = Field(
        1.0, ge=1, le=20, description="sensor width over the width that the feed shows (1 = all)"
    )
    horizontal_field_of_view_deg: AngleDeg | None = Field(
        None,
        description="angle of view across the feed's picture, for own-lens",
        examples=["70deg"],
    )
    vertical_field_of_view_deg: AngleDeg | None = Field(
        None, description="angle of view up and down, instead of the horizontal one"
    )
    diagonal_field_of_view_deg: AngleDeg | None = Field(
        None, description="angle of view corner to corner, instead of the horizontal one"
    )

    profile: str | None = Field(
        None, max_length=4096, description="file of the feed's profile, made by assist calibrate"
    )
    delay_s: FeedDelay | None = Field(
        None,
        description="how late the feed's pictures come, s; assist calibrate delay tells",
        examples=["0.25s"],
    )
    mirrored: bool = Field(
        False, description="whether the feed mirrors its own picture, as many webcams do"
    )
    along_m: Offset = Field(
        0.0, description="how far the feed's lens stands before the camera's, m"
    )
    across_m: Offset = Field(0.0, description="how far to the right of it, seen from behind, m")
    up_m: Offset = Field(0.0, description="how far above it, m")
    yaw_deg: TurnDeg = Field(0.0, description="how far it is turned to the right, degrees")
    pitch_deg: TurnDeg = Field(0.0, description="how far it is turned upwards, degrees")

    @property
    def stated_view(self) -> tuple[str, float] | None:
        """Along what the angle of view is stated, and the angle in degrees; None for none."""
        for along in VIEWS:
            angle_deg = getattr(self, f"{along}_field_of_view_deg")
            if angle_deg is not None:
                return along, float(angle_deg)
        return None

    @property
    def offset(self) -> RigidOffset | None:
        """Where the feed's camera stands against the taking camera; None where it is the same."""
        offset = RigidOffset(
            self.along_m,
            self.across_m,
            self.up_m,
            math.radians(self.yaw_deg),
            math.radians(self.pitch_deg),
        )
        return None if offset == RigidOffset() else offset

    @model_validator(mode="after")
    def _geometry_is_known(self) -> FeedPart:
        given = [name for name in VIEWS if getattr(self, f"{name}_field_of_view_deg") is not None]
        if self.through == "own-lens" and len(given) + (self.profile is not None) != 1:
            raise ValueError(
                _(
                    "a feed through its own lens needs exactly one field of view (horizontal, "
                    "vertical or diagonal; --field-of-view 70deg is the horizontal one) or a "
                    "profile, not {n}",
                    n=len(given) + (self.profile is not None),
                )
            )
        if self.through == "taking-lens" and self.offset is not None:
            raise ValueError(_("an offset is for a feed through its own lens"))
        if self.through == "taking-lens" and given:
            raise ValueError(_("a field of view is for a feed through its own lens"))
        return self


class SetUp(_Part):
    """One repeatable set-up."""

    version: Literal[1] = Field(VERSION, description="version of this file's layout")
    name: str = Field("", max_length=200, description="a name of your own")
    camera: CameraPart = CameraPart()  # type: ignore[call-arg]
    lens: LensPart
    sharpness: SharpnessPart = SharpnessPart()  # type: ignore[call-arg]
    person: PersonPart = PersonPart()  # type: ignore[call-arg]
    together: TogetherPart = TogetherPart()  # type: ignore[call-arg]
    framing: FramingPart = FramingPart()  # type: ignore[call-arg]
    exposure: ExposurePart = ExposurePart()  # type: ignore[call-arg]
    place: PlacePart = PlacePart()  # type: ignore[call-arg]
    timer: TimerPart = TimerPart()  # type: ignore[call-arg]
    feed: FeedPart = FeedPart()  # type: ignore[call-arg]

    @model_validator(mode="after")
    def _background_is_behind(self) -> SetUp:
        background_m = self.place.background_distance_m
        if background_m is not None and background_m <= self.lens.focus_distance_m:
            raise ValueError(
                _(
                    "background at {background} m must be farther than the focus distance "
                    "({focus_distance} m)",
                    background=current().decimal(f"{background_m:g}"),
                    focus_distance=current().decimal(f"{self.lens.focus_distance_m:g}"),
                )
            )
        return self

    @model_validator(mode="after")
    def _criterion_is_known(self) -> SetUp:
        criterion_from_text(
            self.sharpness.criterion, sensor_from_name(self.camera.sensor), self.camera
        )
        return self

    # -- what the optics makes of it ----------------------------------------------------------

    @property
    def sensor(self) -> Sensor:
        """The taking camera's sensor."""
        return sensor_from_name(self.camera.sensor)

    @property
    def criterion(self) -> SharpnessCriterion:
        """The circle of confusion and where it comes from."""
        return criterion_from_text(self.sharpness.criterion, self.sensor, self.camera)

    @property
    def focal_length_m(self) -> float:
        """Focal length of the taking lens, metres."""
        return self.lens.focal_length_m

    @property
    def focus_lens_distance_m(self) -> float:
        """Focus distance from the lens, metres."""
        return self.lens.focus_lens_distance_m

    @property
    def sensor_offset_m(self) -> float:
        """What to add to a distance from the lens to have it from the sensor plane, metres."""
        return self.lens.sensor_offset_m

    @property
    def without_secrets(self) -> SetUp:
        """The same as it may be kept and sent on: no password in the feed's address."""
        source = self.feed.source
        if source is None or without_secrets(source) == source:
            return self
        feed = self.feed.model_copy(update={"source": without_secrets(source)})
        return self.model_copy(update={"feed": feed})

    @property
    def focus_zone(self) -> FocusZone:
        """The focus zone, which knows where distances start."""
        return FocusZone.of(
            self.focal_length_m,
            self.lens.f_number,
            self.lens.focus_distance_m,
            self.criterion.circle_of_confusion_m,
        )

    @property
    def depth_of_field(self) -> thin_lens.DepthOfField:
        """The focus zone, distances from the lens."""
        return thin_lens.depth_of_field(
            self.focal_length_m,
            self.lens.f_number,
            self.focus_lens_distance_m,
            self.criterion.circle_of_confusion_m,
        )


_DIAGONAL = re.compile(r"^diagonal\s*/\s*([\d.]+)$", re.IGNORECASE)
_PIXELS = re.compile(r"^([\d.]+)\s*(?:px|pixels?)$", re.IGNORECASE)
_PRINT = re.compile(r"^print\s+(.+?)\s+from\s+(.+)$", re.IGNORECASE)


def criterion_from_text(text: str, sensor: Sensor, camera: CameraPart) -> SharpnessCriterion:
    """The sharpness criterion that a user wrote; ValueError names the accepted forms."""
    text = text.strip()
    try:
        criterion = _criterion(text, sensor, camera)
        blur_m = criterion.circle_of_confusion_m
        if not _SMALLEST_BLUR_M <= blur_m <= _LARGEST_BLUR_M:
            raise ValueError(
                _(
                    "a blur disc of {blur} mm on the sensor cannot be meant",
                    blur=current().decimal(f"{blur_m * 1000:.3g}"),
                )
            )
    except ValueError as error:
        raise ValueError(
            _(
                "criterion {text}: use diagonal/1500, 0.02 mm, 2 px or print 30 cm from 40 cm "
                "({error})",
                text=shown(text),
                error=of_error(error),
            )
        ) from error
    return criterion


def _criterion(text: str, sensor: Sensor, camera: CameraPart) -> SharpnessCriterion:
    if match := _DIAGONAL.match(text):
        return sharpness_criterion.from_diagonal(sensor, float(match[1]))
    if match := _PIXELS.match(text):
        if camera.picture_width_px is None:
            raise ValueError(_("a criterion in pixels needs the camera's picture width in pixels"))
        return sharpness_criterion.from_pixels(sensor, camera.picture_width_px, float(match[1]))
    if match := _PRINT.match(text):
        return sharpness_criterion.from_print(
            sensor,
            quantities.parse_length_m(match[1]),
            quantities.parse_length_m(match[2]),
        )
    return sharpness_criterion.given(quantities.parse_length_m(text, "mm"))


# -- files ------------------------------------------------------------------------------------


def from_values(
    values: dict[str, Any], what: str = "", names: Mapping[str, str] | None = None
) -> SetUp:
    """A set-up from nested values; UserError in one line if one is wrong.

    `what` names the file in that line, where there is one.
    """
    return validated(SetUp, _of_today(values), what or _("set-up"), names, newest=VERSION)


def _of_today(values: dict[str, Any]) -> dict[str, Any]:
    """Values with the fields of today: `person.seated` has become `person.posture`."""
    person = values.get("person")
    if not isinstance(person, dict) or not isinstance(person.get("seated"), bool):
        return values
    rest = {name: value for name, value in person.items() if name != "seated"}
    if person["seated"]:
        rest.setdefault("posture", "seated")
    return {**values, "person": rest}


def read_values(path: Path) -> dict[str, Any]:
    """The nested values of a set-up file, not yet validated."""
    return read_toml(path, _("set-up file {path}", path=path))


def load(path: Path) -> SetUp:
    """Read and check a set-up file."""
    return from_values(read_values(path), _("set-up file {path}", path=path))


def to_toml(set_up: SetUp) -> str:
    """The file's text, each field with a comment saying what it means."""
    document = tomlkit.document()
    document.add(tomlkit.comment("A set-up of the self-portrait assistant. Distances are measured"))
    document.add(tomlkit.comment("from the sensor plane mark on the camera body."))
    _add_fields(document, set_up)
    return str(tomlkit.dumps(document))


_UNSTATED = frozenset({"crop", "through"})
"""Fields that count for more when they are stated, and are left out of the file when they are not:
a crop that nobody stated is less sure, and through which lens a feed sees is asked."""


def _add_fields(table: Any, part: BaseModel) -> None:
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        if isinstance(value, BaseModel):
            inner = tomlkit.table()
            _add_fields(inner, value)
            if len(inner):
                table.add(tomlkit.nl())
                table.add(name, inner)
        elif value is not None and (name in part.model_fields_set or name not in _UNSTATED):
            item = tomlkit.item(value)
            if field.description:
                item.comment(field.description)
            table.add(name, item)


def save(set_up: SetUp, path: Path) -> None:
    """Write the file whole or not at all."""
    write_whole(path, to_toml(set_up).encode())
