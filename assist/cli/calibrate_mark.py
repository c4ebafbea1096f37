"""`assist calibrate mark`: the size of your body from standing at measured marks."""

from __future__ import annotations

import contextlib
import math
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, cast

import numpy as np
import typer

from assist import feed as feeds
from assist import profile as personal
from assist import quantities
from assist.calibrate import feed_profile
from assist.calibrate.feed_profile import STATED_VIEW_SD, FeedProfile
from assist.calibrate.mark import KNOWN_FOCAL_SD, Learned, Mark
from assist.calibrate.mark import learn as learn_marks
from assist.calibrate.measured import Attitude, Measured, Tape
from assist.calibrate.visits import Holding, Visit, contradict
from assist.cli import set_up_options as so
from assist.cli import telling_options as telling
from assist.cli.calibrate_options import Replace, frames, view_rad
from assist.cli.examples import examples
from assist.cli.values import stated
from assist.errors import UserError
from assist.files import refuse_existing
from assist.pose import Pose
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.sound.level import DEFAULT_VOLUME, check_volume
from assist.sound.signals import Signals
from optics.camera import PinholeCamera

MARK_EXAMPLE = "assist calibrate mark 0 --at 3m --field-of-view 65 --stature 1.72m --out me.toml"
MARK_EXAMPLES = examples(
    MARK_EXAMPLE,
    "assist calibrate mark 0 --at 3m --at 5m,0.8m --out me.toml --feed-out webcam.toml",
)
_GUESSED_VIEW_RAD = math.radians(60)


def mark(
    feed: Annotated[
        list[str],
        typer.Argument(help="Feed, or one recording for each mark, in the order of --at."),
    ],
    at: Annotated[
        list[str],
        typer.Option(
            "--at",
            metavar="DISTANCE[,ACROSS]",
            help="Distance of the mark from below the camera's sensor plane, along the floor "
            "(--measured says if otherwise), and if measured how far it lies to the right of the "
            "first mark: 3m, or 3m,1.2m for three metres straight ahead and then to the right. "
            "Give it again for every mark.",
        ),
    ],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="Personal profile to write.")],
    name: Annotated[str, typer.Option("--name", help="Whose profile it is.")] = "",
    measured: Annotated[
        str,
        typer.Option(
            "--measured",
            help="floor: along the floor, from below the camera; face: from the camera to your "
            "eyes, standing there; axis: along the camera's axis.",
        ),
    ] = "floor",
    tilt: Annotated[
        str | None,
        typer.Option("--tilt", help="Tilt of the feed's camera, downwards positive: 12deg."),
    ] = None,
    roll: Annotated[
        str, typer.Option("--roll", help="Roll of it, clockwise seen from behind: 2deg.")
    ] = "0",
    camera_height: Annotated[
        str | None,
        typer.Option(
            "--camera-height",
            help="Height of its lens above the ground, to find the tilt by your feet: 1.4m.",
        ),
    ] = None,
    stature: so.Stature = None,
    seconds: Annotated[
        float, typer.Option("--seconds", min=1, max=120, help="How long to watch each mark.")
    ] = 8.0,
    wait: Annotated[
        float, typer.Option("--wait", min=0, max=120, help="Seconds to walk to each mark.")
    ] = 10.0,
    set_up: so.SetUpFile = None,
    sensor: so.Sensor = None,
    lens: so.FocalLength = None,
    focus: so.Focus = None,
    through: so.Through = None,
    crop: so.Crop = None,
    field_of_view: so.HorizontalView = None,
    feed_in: Annotated[
        Path | None, typer.Option("--feed-profile", metavar="FILE", help="The feed's profile.")
    ] = None,
    feed_out: Annotated[
        Path | None,
        typer.Option(
            "--feed-out", metavar="FILE", help="Write the focal length learned for the feed."
        ),
    ] = None,
    sound: telling.SignalSound = None,
    volume: telling.Volume = DEFAULT_VOLUME,
    rotate: so.Rotate = 0,
    replace_file: Replace = False,
) -> None:
    """Learn your body by standing at one or more measured marks.

    Stand over the mark for several seconds: face the camera, turn half to each side, step in place,
    and sit down if you mean to be photographed so. With a field of view, lens or feed profile
    given, the size of your body is learned; without, its product with the feed's focal length.
    """
    refuse_existing(out, replace_file)
    if feed_out is not None:
        refuse_existing(feed_out, replace_file)
    if len(feed) not in {1, len(at)}:
        raise UserError(f"{len(feed)} feeds for {len(at)} marks: give one feed, or one for each")
    if measured not in ("floor", "face", "axis"):
        raise UserError(f"--measured is floor, face or axis, not {measured!r}")
    check_volume(volume)
    places = [_place(text) for text in at]
    geometry = _Geometry(set_up, sensor, lens, focus, through, crop, field_of_view, feed_in)
    holding = _holding(geometry, tilt, roll, camera_height)
    # One that does not open is told before anybody walks.
    live = {name: _is_live(name, rotate) for name in feed}
    if sound and not any(live.values()):
        raise UserError("--sound needs a camera")
    visits = []
    with contextlib.ExitStack() as stack:
        signals = None
        if any(live.values()) and sound is not False:
            signals = stack.enter_context(Signals(telling.note, volume))
        for k, (length_m, across_m) in enumerate(places):
            source = feed[k] if len(feed) > 1 else feed[0]
            told = None
            if live[source]:
                typer.echo(f"go to the mark at {length_m:g} m: {wait:.0f} s")
                time.sleep(wait)
                told = _Watching(seconds, signals)
            pictures, camera = _watch(source, rotate, seconds, geometry, told)
            offset_m = geometry.sensor_offset_m
            tape = Tape(length_m, cast(Measured, measured), across_m is not None, offset_m)
            visits.append(Visit(tape, camera, pictures, across_m))
    attitude = _attitude(holding, visits, geometry.focal_sd)
    marks = [visit.mark(attitude) for visit in visits]
    stature_m = None if stature is None else _length("--stature", stature)
    learned = learn_marks(marks, stature_m=stature_m, focal_prior_sd=geometry.focal_sd, name=name)
    if feed_out is None and not learned.separation.separated:
        # Without the feed's part the size is no better known than by itself.
        alone = min(learned.separation.size_sd, 0.99)
        profile = learned.profile.model_copy(update={"scale_sd": alone})
        learned = replace(learned, profile=profile)
    personal.save(learned.profile, out, replace=replace_file)
    if feed_out is not None:
        _save_feed(visits[0].camera, learned, feed_out, replace_file, geometry.profile)
    typer.echo(_told(cast(Measured, measured), marks, attitude))
    _tell(learned, out, feed_out)


_MEASURED = {
    "floor": "along the floor from below the camera",
    "face": "from the camera to the eyes",
    "axis": "along the camera's axis",
}


def _told(measured: Measured, marks: list[Mark], attitude: Attitude) -> str:
    """What was taken to be measured, and how the camera was taken to look."""
    depths = ", ".join(f"{np.median([p.axis_m for p in m.pictures]):.2f} m" for m in marks)
    text = f"measured {_MEASURED[measured]}: the body at depth {depths} from the lens"
    if measured == "axis":
        return text
    tilt = f"{math.degrees(attitude.tilt_rad):.1f} degrees"
    worst = max(m.depth_sd for m in marks)
    if attitude.source == "given":
        return f"{text}; tilt {tilt} as given"
    if attitude.source == "estimated":
        return f"{text}; tilt {tilt} by where the feet are, which leaves {worst:.1%}"
    return (
        f"{text}; the camera was assumed to be level: if it is tilted by 5 degrees this is wrong "
        f"by {worst:.1%}; give --tilt, or --camera-height with your feet in view"
    )


def _holding(geometry: _Geometry, tilt: str | None, roll: str, height: str | None) -> Holding:
    """Options go over the set-up's values."""
    tilt_rad, height_m = geometry.tilt_rad, geometry.height_m
    if tilt is not None:
        tilt_rad = _angle("--tilt", tilt, 60)
    if height is not None:
        height_m = _length("--camera-height", height)
        if not 0.05 <= height_m <= 20:
            raise UserError(f"--camera-height must be from 5 cm to 20 m, not {height}")
    return Holding(tilt_rad, _angle("--roll", roll, 45), height_m)


def _attitude(holding: Holding, visits: list[Visit], focal_sd: float | None) -> Attitude:
    """How the camera is held; says so where the feet contradict what was given."""
    by_feet = [] if focal_sd is None else holding.by_the_feet(visits, focal_sd)
    attitude = holding.attitude(by_feet)
    if contradict(by_feet, attitude):
        tilts = ", ".join(f"{math.degrees(found.tilt_rad):.1f}" for found in by_feet)
        typer.echo(
            f"the feet are where tilts of {tilts} degrees would put them, not "
            f"{math.degrees(attitude.tilt_rad):.1f}: check tilt, height and marks",
            err=True,
        )
    return attitude


def _angle(option: str, text: str, most_deg: float) -> float:
    degrees = stated(option, quantities.parse_angle_deg, text)
    if abs(degrees) > most_deg:
        raise UserError(f"{option} must be within {most_deg:g} degrees of level, not {text}")
    return math.radians(degrees)


def _place(text: str) -> tuple[float, float | None]:
    depth, _, across = text.partition(",")
    return _length("--at", depth), _length("--at", across) if across.strip() else None


def _length(option: str, text: str) -> float:
    return stated(option, quantities.parse_length_m, text)


class _Geometry:
    """What the user said about the feed."""

    def __init__(
        self,
        set_up: Path | None,
        sensor: str | None,
        lens: str | None,
        focus: str | None,
        through: str | None,
        crop: float | None,
        field_of_view: str | None,
        profile: Path | None,
    ) -> None:
        self.profile = None if profile is None else feed_profile.load(profile)
        self._chosen = None
        self._view_rad = None
        self.sensor_offset_m = 0.0
        self.tilt_rad: float | None = None
        self.height_m: float | None = None
        self.focal_sd: float | None = None
        if self.profile is not None:
            self.focal_sd = max(self.profile.focal_sd, 0.001)
        elif set_up is not None or lens is not None:
            self._chosen = so.gather(
                set_up,
                sensor=sensor,
                focal_length=lens,
                aperture="8" if set_up is None else None,
                focus=focus,
                criterion=None,
                stature=None,
                through=through,
                crop=crop,
                field_of_view=field_of_view,
            )
            self.sensor_offset_m = self._chosen.sensor_offset_m
            held, stands = self._chosen.camera, self._chosen.feed
            if held.tilt_deg is not None:
                self.tilt_rad = math.radians(held.tilt_deg - stands.pitch_deg)
            if held.height_m is not None:
                self.height_m = held.height_m + stands.up_m
            own = self._chosen.feed.through == "own-lens"
            self.focal_sd = STATED_VIEW_SD if own else KNOWN_FOCAL_SD
        elif field_of_view is not None:
            self._view_rad = view_rad("--field-of-view", field_of_view)
            self.focal_sd = STATED_VIEW_SD

    def camera(self, width_px: int, height_px: int) -> PinholeCamera:
        if self.profile is not None:
            return self.profile.camera(width_px, height_px)
        if self._chosen is not None:
            return self._chosen.feed_camera(width_px, height_px)
        view = self._view_rad or _GUESSED_VIEW_RAD
        return PinholeCamera.from_field_of_view(view, width_px, height_px)


def _is_live(source: str, rotate: int) -> bool:
    """Whether a feed is a camera; UserError when it does not open."""
    with contextlib.closing(feeds.open_source(source, rotate)) as opened:
        return opened.live


@dataclass(frozen=True)
class _Watching:
    """Tells the person at the mark, by words on the terminal and by ear, that they are watched."""

    seconds: float
    signals: Signals | None

    def begin(self) -> None:
        """From now on."""
        typer.echo(f"watching for {self.seconds:.0f} s: face the camera, turn, step in place")
        if self.signals is not None:
            self.signals.begin()

    def end(self) -> None:
        """No longer."""
        if self.signals is not None:
            self.signals.end()


def _watch(
    source: str, rotate: int, seconds: float, geometry: _Geometry, told: _Watching | None
) -> tuple[list[tuple[float, Pose]], PinholeCamera]:
    """Poses of the one person in view, with their times, and the feed's camera."""
    poses: list[tuple[float, Pose]] = []
    camera = None
    with MediaPipePoseDetector() as detector:
        for frame in frames(source, rotate, seconds, geometry.profile):
            if camera is None:
                height, width = frame.picture.shape[:2]
                camera = geometry.camera(width, height)
                if told is not None:
                    told.begin()
            found = detector.detect(frame.picture, frame.time_s) or []
            if found:
                poses.append((frame.time_s, found[0]))
        if told is not None:
            told.end()
    if camera is None:
        raise UserError(f"feed {source} gave no picture")
    if not poses:
        raise UserError(f"no one was seen in {source}: stand wholly in view, well lit")
    return poses, camera


def _save_feed(
    camera: PinholeCamera,
    learned: Learned,
    path: Path,
    replace_file: bool,
    before: FeedProfile | None,
) -> None:
    """Keep the feed's focal length; the bars that were cut off are those of the profile before."""
    found = learned.separation
    scaled = replace(camera, fx_px=camera.fx_px * found.focal, fy_px=camera.fy_px * found.focal)
    bars_px = (0, 0, 0, 0)
    if before is not None:
        size = camera.width_px / before.width_px
        left, top, right, bottom = (round(width * size) for width in before.bars_px)
        bars_px = (left, top, right, bottom)
    focal_sd = min(max(found.focal_sd, 1e-4), 0.99)
    profile = FeedProfile.of_camera(scaled, "mark", focal_sd, bars_px=bars_px)
    feed_profile.save(profile, path, replace=replace_file)
    typer.echo(f"the feed's profile is in {path}")


def _tell(learned: Learned, out: Path, feed_out: Path | None) -> None:
    profile, found = learned.profile, learned.separation
    typer.echo(
        f"learned from {learned.used} pictures ({learned.left_out} left out): a body "
        f"{profile.scale:.3f} times the detector's adult (sure to {found.size_sd:.1%}), a focal "
        f"length {found.focal:.3f} times the assumed one (sure to {found.focal_sd:.1%})"
    )
    typer.echo(found.in_words())
    if not found.separated:
        typer.echo(
            f"the two profiles belong together: use {out} with {feed_out}"
            if feed_out is not None
            else "the focal length was not kept: with --feed-out FILE, and both profiles used, "
            f"distances are known to {found.product_sd:.1%}; without it to {profile.scale_sd:.1%}"
        )
    if learned.varied < 0.5:
        typer.echo(
            "the postures hardly differed: turn half to each side and step in place next time, for "
            "an error of one posture is there in all its pictures"
        )
    typer.echo(f"the profile is in {out}")
