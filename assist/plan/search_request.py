"""What a photographer wants, when lens, aperture and distance are still to be found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from assist.base import units as quantities
from assist.base.errors import UserError
from assist.base.validation import validated
from assist.base.words import _
from assist.plan.lens_owned import LensOwned
from assist.setup.set_up import (
    VERSION,
    CameraPart,
    ExposurePart,
    FramingPart,
    IsoSpeed,
    LengthM,
    LensPart,
    PersonPart,
    PlacePart,
    SetUp,
    SharpnessPart,
    TimerPart,
    criterion_from_text,
)
from optics import exposure, framing, lens, motion
from optics.planner import Candidate, LensChoice, Light, Room, Wishes
from optics.sensor import Sensor, sensor_from_name
from optics.sharpness_criterion import SharpnessCriterion

ASSUMED_WIDEST = 2.8
ASSUMED_NARROWEST = 16.0
"""Apertures that about any lens has, when its owner does not say. Common practice, no source."""

_CLEAR_OF_WALL_M = 0.3
"""Eyes to the background at least: a back of the head. Common practice, no source."""

_Times = Annotated[float, BeforeValidator(quantities.parse_share), Field(ge=0, le=4)]


class SearchRequest(BaseModel):
    """Wishes and what there is, in the parts of a set-up plus what only a search needs."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    name: str = ""
    camera: CameraPart = CameraPart()  # type: ignore[call-arg]
    sharpness: SharpnessPart = SharpnessPart()  # type: ignore[call-arg]
    person: PersonPart = PersonPart()  # type: ignore[call-arg]
    framing: FramingPart = FramingPart()  # type: ignore[call-arg]
    exposure: ExposurePart = ExposurePart()  # type: ignore[call-arg]
    place: PlacePart = PlacePart()  # type: ignore[call-arg]
    timer: TimerPart = TimerPart()  # type: ignore[call-arg]
    room_before_m: LengthM | None = Field(
        None, description="room wanted before you, m", examples=["0.6m"]
    )
    room_behind_m: LengthM | None = Field(
        None, description="room wanted behind you, m", examples=["0.4m"]
    )
    pose_depth_m: LengthM | None = Field(
        None,
        description="instead of room: depth of the whole pose, all of it sharp, m",
        examples=["0.8m"],
    )
    farthest_m: LengthM | None = Field(
        None, description="the place: camera to you at most, m", examples=["6m"]
    )
    highest_iso: IsoSpeed = Field(6400.0, description="highest ISO speed", examples=["3200"])
    looser_by: _Times = Field(
        0.25,
        description="how much more than the framing the picture may show",
        examples=["25%"],
    )

    @model_validator(mode="after")
    def _is_complete(self) -> SearchRequest:
        criterion_from_text(self.sharpness.criterion, self.sensor, self.camera)
        if self.framing.shot_size is None:
            raise ValueError(_("say the framing, for example --framing knees-up"))
        sides = self.room_before_m is not None or self.room_behind_m is not None
        if sides and self.pose_depth_m is not None:
            raise ValueError(
                _("ask for room before and behind, or for a depth of the pose, not both")
            )
        return self

    @property
    def sensor(self) -> Sensor:
        """The taking camera's sensor."""
        return sensor_from_name(self.camera.sensor)

    @property
    def criterion(self) -> SharpnessCriterion:
        """The circle of confusion and where it comes from."""
        return criterion_from_text(self.sharpness.criterion, self.sensor, self.camera)

    @property
    def wishes(self) -> Wishes:
        """The same in the planner's terms."""
        movements = {movement.name: movement for movement in motion.MOVEMENTS}
        moving = movements[self.person.movement]
        light = self.exposure.light_ev100
        return Wishes(
            sensor=self.sensor,
            orientation=self.camera.orientation,
            circle_of_confusion_m=self.criterion.circle_of_confusion_m,
            shot_size=framing.shot_size(self.framing.shot_size or ""),
            figure=self.person.figure,
            room=Room(
                self.room_before_m or 0.0, self.room_behind_m or 0.0, self.pose_depth_m or 0.0
            ),
            speed_m_s=moving.speed_m_s,
            usual_shutter_s=moving.usual_s,
            farthest_m=min(self._places_m()),
            light=None if light is None else Light(light, self.highest_iso),
            headroom=self.framing.headroom,
            loosest=1.0 + self.looser_by,
            camera_height_m=self.camera.height_m,
            tilt_rad=self.camera.tilt_rad,
        )

    def _places_m(self) -> list[float]:
        """Distances from the camera that the place does not let one exceed."""
        ends = [float("inf")]
        if self.farthest_m is not None:
            ends.append(self.farthest_m)
        if self.place.background_distance_m is not None:
            ends.append(max(self.place.background_distance_m - _CLEAR_OF_WALL_M, 1e-3))
        return ends

    def set_up(self, chosen: Candidate) -> SetUp:
        """The set-up of one answer."""
        focal_length_m = chosen.lens.focal_length_m
        distance_m = float(lens.lens_to_sensor_distance_m(focal_length_m, chosen.focus_distance_m))
        return SetUp(
            version=VERSION,
            name=self.name,
            camera=self.camera,
            lens=LensPart(
                focal_length_mm=focal_length_m * 1000,
                f_number=chosen.aperture.nominal,
                focus_distance_m=_tidy(distance_m),
                focused_by="stand-in",
                minimum_focus_distance_m=chosen.lens.minimum_focus_m,
                widest_f_number=min(chosen.lens.widest_f_number, chosen.aperture.nominal),
                narrowest_f_number=max(chosen.lens.narrowest_f_number, chosen.aperture.nominal),
            ),
            sharpness=self.sharpness,
            person=self.person,
            framing=self.framing,
            exposure=ExposurePart(
                light_ev100=self.exposure.light_ev100,
                shutter_s=chosen.shutter.exact if chosen.shutter else None,
                iso=chosen.speed.nominal if chosen.speed else None,
            ),
            place=self.place,
            timer=self.timer,
        )


def _tidy(distance_m: float) -> float:
    """A distance without the last binary digits: 3.35, not 3.3500000000000005."""
    return float(f"{distance_m:.9g}")


def request_from_values(values: dict[str, Any], names: Mapping[str, str]) -> SearchRequest:
    """A checked request; UserError in one line if something is wrong."""
    return validated(SearchRequest, values, _("plan"), names)


def lens_choices(owned: Sequence[LensOwned]) -> list[LensChoice]:
    """Every focal length of every lens, with assumed apertures where they are not known."""
    choices = []
    for item in owned:
        widest = item.widest_f_number or min(
            ASSUMED_WIDEST, item.narrowest_f_number or ASSUMED_WIDEST
        )
        narrowest = item.narrowest_f_number or max(ASSUMED_NARROWEST, widest)
        for focal_length_mm in item.focal_lengths_mm:
            choices.append(
                LensChoice(
                    f"{focal_length_mm:g} mm",
                    focal_length_mm / 1000,
                    widest,
                    narrowest,
                    item.minimum_focus_m,
                )
            )
    return choices


def exposure_value_of(metered: str) -> float:
    """Exposure value at ISO 100 of an exposure read off a meter or camera."""
    try:
        f_number, shutter_s, iso = quantities.parse_metered_exposure(metered)
        # What the dials set, not what they say: 1/60 and f/5.6 are 2^-6 s and 2^2.5.
        aperture = exposure.APERTURES.nearest(f_number).exact
        shutter = exposure.SHUTTER_TIMES.nearest(shutter_s).exact
        return float(exposure.exposure_value_100(aperture, shutter, iso))
    except ValueError as error:
        raise UserError(_("--metered: {problem}", problem=error)) from error
