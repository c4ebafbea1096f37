"""Learning a body, and the feed, from somebody who stands at marks: watched, told, worked out.

learned = learn_at_marks(MarksRequest(["0"], [MarkPlace(3.0)], geometry))
personal_profile.save(learned.profile, Path("me.toml"))
"""

from __future__ import annotations

import contextlib
import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated

import numpy as np
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from assist.base import units as quantities
from assist.base.errors import UserError
from assist.base.validation import validated
from assist.base.words import _, current
from assist.calibrate.mark import Learned, Mark, learn
from assist.calibrate.tape import Attitude, Measured, Tape
from assist.calibrate.visits import Holding, Visit, contradict
from assist.feed.opening import frames_of, open_feed
from assist.feed.screening import is_picture
from assist.output.sound.signals import Signals
from assist.pose import Pose
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.pose.picture_rotation import PictureRotationWatch
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.feed_profile import FeedProfile
from assist.setup.personal_profile import PersonalProfile
from assist.setup.set_up import CameraPart, LengthM
from optics.camera import PinholeCamera

_MOST_ROLL_DEG = 45
_NEAREST_M = 0.3
"""Nearer to the lens nobody is seen who could be measured."""
AcrossM = Annotated[float, BeforeValidator(quantities.parse_length_m), Field(ge=-100, le=100)]


class MarkPlace(BaseModel):
    """Where a mark lies: how far off, and how far to the right of the first one, metres.

    stated: the mark as the person calls it.
    """

    model_config = ConfigDict(frozen=True, allow_inf_nan=False)

    length_m: LengthM
    across_m: AcrossM | None = None
    stated: str = ""


@dataclass(frozen=True)
class MarksRequest:
    """Who is to be watched where.

    feeds: one for all marks, or one for each.   geometry: how the feed sees.   measured: what the
    lengths are along.   holding: how the feed's camera is held; level where nobody said.
    stature_m: None where it is not known.   name: whose profile it becomes.
    seconds: how long each mark is watched.   wait_s: time to walk to each, of a camera.
    rotation_deg: what the feed is turned by, clockwise.
    """

    feeds: Sequence[str]
    places: Sequence[MarkPlace]
    geometry: FeedGeometry
    measured: Measured = "floor"
    holding: Holding = field(default_factory=lambda: Holding(None, 0.0, None))
    stature_m: float | None = None
    name: str = ""
    seconds: float = 8.0
    wait_s: float = 10.0
    rotation_deg: int = 0

    def __post_init__(self) -> None:
        if len(self.feeds) not in {1, len(self.places)}:
            raise UserError(
                _(
                    "{feeds} feeds for {marks} marks: give one feed, or one for each",
                    feeds=len(self.feeds),
                    marks=len(self.places),
                )
            )
        for place in self.places:
            _refuse_too_near(place, self.geometry)

    def feed(self, mark: int) -> str:
        """The feed that the mark of that number, from 0, is watched in."""
        return self.feeds[mark] if len(self.feeds) > 1 else self.feeds[0]


def _nothing(*_: object) -> None:
    pass


@dataclass(frozen=True)
class MarkEvents:
    """What is called as the work goes on.

    walk: with the place that the person is to go to, before a camera's wait.   watching: when a
    camera's mark begins to be watched.   lies: with the `--rotate` that would set the picture up,
    where the person seems to lie in it.   contradicted: with the tilts in radians that the feet
    would have, and the one that is taken.
    """

    walk: Callable[[MarkPlace], None] = _nothing
    watching: Callable[[], None] = _nothing
    lies: Callable[[int], None] = _nothing
    contradicted: Callable[[Sequence[float], float], None] = _nothing


@dataclass(frozen=True)
class LearnedAtMarks:
    """What the marks taught.

    learned: the profile as it stands when the feed's focal length is kept too.   marks: what was
    seen, at which depth.   attitude: how the camera was taken to look.   camera: the feed's camera
    as it was assumed.   without: pictures in which no one was seen.
    """

    request: MarksRequest
    learned: Learned
    marks: Sequence[Mark]
    attitude: Attitude
    camera: PinholeCamera
    without: int

    def profile(self, *, with_feed: bool) -> PersonalProfile:
        """The personal profile; `with_feed`: to be used with the feed's profile of now.

        Without the feed's part the size is no better known than by itself.
        """
        found = self.learned.separation
        if with_feed or found.separated:
            return self.learned.profile
        return self.learned.profile.model_copy(update={"scale_sd": min(found.size_sd, 0.99)})

    def feed_profile(self) -> FeedProfile:
        """The feed with the focal length learned; its bars are those of the profile before."""
        found, camera = self.learned.separation, self.camera
        scaled = replace(camera, fx_px=camera.fx_px * found.focal, fy_px=camera.fy_px * found.focal)
        bars_px = (0, 0, 0, 0)
        before = self.request.geometry.profile
        if before is not None:
            size = camera.width_px / before.width_px
            left, top, right, bottom = (round(width * size) for width in before.bars_px)
            bars_px = (left, top, right, bottom)
        focal_sd = min(max(found.focal_sd, 1e-4), 0.99)
        return FeedProfile.of_camera(scaled, "mark", focal_sd, bars_px=bars_px)


def learn_at_marks(
    request: MarksRequest,
    events: MarkEvents | None = None,
    open_signals: Callable[[], Signals] | None = None,
    *,
    must_sound: bool = False,
) -> LearnedAtMarks:
    """Watch each mark in turn, and work out the body and the feed.

    open_signals: opens the sounds that begin and end the watching of a camera; None for none.
    must_sound: whether it is a mistake when no feed is a camera, so that nothing sounds. An
    interrupt (KeyboardInterrupt) ends it, the feed and the sounds closed, with nothing learned.

    Raises UserError when a feed does not open or shows nobody, before anybody walks where it can be
    known by then, and when what was seen makes no profile (`assist.calibrate.mark.learn`).
    """
    events = events or MarkEvents()
    # One that does not open, or that the profile is not of, is told before anybody walks.
    live = {feed: is_camera(feed, request) for feed in request.feeds}
    if must_sound and not any(live.values()):
        raise UserError(_("--sound needs a camera"))
    visits, without = [], 0
    with contextlib.ExitStack() as stack:
        signals = None
        if open_signals is not None and any(live.values()):
            signals = stack.enter_context(open_signals())
        for k, place in enumerate(request.places):
            feed = request.feed(k)
            if live[feed]:
                events.walk(place)
                time.sleep(request.wait_s)
            told = (events, signals) if live[feed] else None
            pictures, camera, empty = watch(feed, request, events, told)
            without += empty
            tape = Tape(
                place.length_m,
                request.measured,
                place.across_m is not None,
                request.geometry.behind_m,
            )
            visits.append(Visit(tape, camera, pictures, place.across_m, place.stated))
    attitude = _attitude(request, visits, events)
    marks = [visit.mark(attitude) for visit in visits]
    learned = learn(
        marks,
        stature_m=request.stature_m,
        focal_prior_sd=request.geometry.focal_sd,
        name=request.name,
    )
    return LearnedAtMarks(request, learned, marks, attitude, visits[0].camera, without)


def is_camera(feed: str, request: MarksRequest) -> bool:
    """Whether a feed is a camera; UserError when it does not open or its profile is not of it."""
    geometry = request.geometry
    with contextlib.closing(open_feed(feed, request.rotation_deg, geometry.profile)) as opened:
        frame = opened.read()
        if frame is None:
            raise UserError(_("feed {feed} gave no picture", feed=feed))
        if is_picture(frame.picture):
            height, width = frame.picture.shape[:2]
            geometry.camera(width, height)
        return opened.live


def watch(
    feed: str,
    request: MarksRequest,
    events: MarkEvents,
    told: tuple[MarkEvents, Signals | None] | None = None,
) -> tuple[list[tuple[float, Pose]], PinholeCamera, int]:
    """Poses of the one person in view with their times, the camera, and pictures without anyone.

    told: what tells the person at the mark that they are watched; None where nobody stands there.
    """
    poses: list[tuple[float, Pose]] = []
    camera, empty, turned = None, 0, PictureRotationWatch()
    geometry, signals = request.geometry, None if told is None else told[1]
    with MediaPipePoseDetector() as detector:
        for frame in frames_of(
            feed,
            request.rotation_deg,
            request.seconds,
            geometry.profile,
            mirrored=geometry.mirrored,
        ):
            if camera is None:
                height, width = frame.picture.shape[:2]
                camera = geometry.camera(width, height)
                if told is not None:
                    told[0].watching()
                if signals is not None:
                    signals.begin()
            if frame.picture.shape[:2] != (camera.height_px, camera.width_px):
                continue
            found = detector.detect(frame.picture, frame.time_s) or []
            if found:
                poses.append((frame.time_s, found[0]))
                turned.update(frame.time_s, found[0])
            else:
                empty += 1
        if signals is not None:
            signals.end()
    if turned.turn_deg is not None:
        events.lies((request.rotation_deg + turned.turn_deg) % 360)
    if camera is None:
        raise UserError(_("feed {feed} gave no picture", feed=feed))
    if not poses:
        raise UserError(_("no one was seen in {feed}: stand wholly in view, well lit", feed=feed))
    return poses, camera, empty


def _attitude(request: MarksRequest, visits: list[Visit], events: MarkEvents) -> Attitude:
    """How the camera is held; says so where the feet contradict what was given."""
    focal_sd, holding = request.geometry.focal_sd, request.holding
    by_feet = [] if focal_sd is None else holding.by_the_feet(visits, focal_sd)
    attitude = holding.attitude(by_feet)
    if contradict(by_feet, attitude):
        events.contradicted([found.tilt_rad for found in by_feet], attitude.tilt_rad)
    return attitude


# -- what people type -----------------------------------------------------------------------------


def mark_place(text: str) -> MarkPlace:
    """A mark as people write it: "3m", or "3m,1.2m" for that and then so far to the right.

    UserError where it cannot be read.
    """
    length, _comma, across = text.partition(",")
    values = {"length_m": length, "stated": text}
    if across.strip():
        values["across_m"] = across
    return validated(MarkPlace, values, f"--at {text[:40]}", {"length_m": "", "across_m": ""})


def _refuse_too_near(place: MarkPlace, geometry: FeedGeometry) -> None:
    before_m = place.length_m - geometry.behind_m
    if before_m < _NEAREST_M:
        raise UserError(
            _(
                "--at {place}: a mark lies at least {least} m before the feed's lens, and this one "
                "at {before} m; it is measured from the sensor plane",
                place=place.stated or f"{place.length_m:g}m",
                least=current().decimal(f"{_NEAREST_M:g}"),
                before=current().decimal(f"{before_m:.2g}"),
            )
        )


def holding_of(
    geometry: FeedGeometry,
    tilt: str | None = None,
    roll: str = "0",
    height: str | None = None,
) -> Holding:
    """How the feed's camera is held: what is stated here goes over the set-up's values.

    tilt, roll: angles as people write them, downwards and clockwise seen from behind.   height: of
    the lens above the ground. UserError naming the option that is wrong.
    """
    typed = {"tilt_deg": tilt, "height_m": height}
    given = validated(
        CameraPart,
        {name: text for name, text in typed.items() if text is not None},
        _("the feed's camera"),
        {"tilt_deg": "--tilt", "height_m": "--camera-height"},
    )
    tilt_rad = geometry.tilt_rad if given.tilt_rad is None else given.tilt_rad
    return Holding(tilt_rad, _roll_rad(roll), given.height_m or geometry.height_m)


def _roll_rad(text: str) -> float:
    try:
        degrees = quantities.parse_angle_deg(text)
    except ValueError as error:
        raise UserError(_("{option}: {error}", option="--roll", error=error)) from error
    if abs(degrees) > _MOST_ROLL_DEG:
        raise UserError(
            _(
                "--roll must be within {most} degrees of level, not {given}",
                most=_MOST_ROLL_DEG,
                given=text,
            )
        )
    return math.radians(degrees)


def depths_m(marks: Sequence[Mark]) -> list[float]:
    """The median depth of the body at each mark, metres from the lens."""
    return [float(np.median([picture.axis_m for picture in mark.pictures])) for mark in marks]
