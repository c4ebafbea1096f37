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
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from assist.base import units as quantities
from assist.base.errors import UserError
from assist.base.files import refuse_existing
from assist.base.validation import validated
from assist.calibrate.mark import Learned, Mark
from assist.calibrate.mark import learn as learn_marks
from assist.calibrate.measured import Attitude, Measured, Tape
from assist.calibrate.visits import Holding, Visit, contradict
from assist.cli.examples import examples
from assist.cli.options import set_up as so
from assist.cli.options import telling
from assist.cli.options.calibrate import Replace, check_name, frames
from assist.cli.options.group import spread
from assist.cli.options.values import remark_far, stated
from assist.cli.remarks import lies
from assist.feed.screening import is_picture
from assist.output.sound.level import DEFAULT_VOLUME, check_volume
from assist.output.sound.signals import Signals
from assist.pose import Pose
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.pose.picture_rotation import PictureRotationWatch
from assist.setup import feed_profile
from assist.setup import personal_profile as personal
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.feed_profile import FeedProfile
from assist.setup.set_up import CameraPart, LengthM
from optics.camera import PinholeCamera

MARK_EXAMPLE = "assist calibrate mark 0 --at 3m --field-of-view 65 --stature 1.72m --out me.toml"
MARK_EXAMPLES = examples(
    MARK_EXAMPLE,
    "assist calibrate mark 0 --at 3m --at 5m,0.8m --out me.toml --feed-out webcam.toml",
)
_MOST_ROLL_DEG = 45
_NEAREST_M = 0.3
"""Nearer to the lens nobody is seen who could be measured."""
AcrossM = Annotated[float, BeforeValidator(quantities.parse_length_m), Field(ge=-100, le=100)]


@spread
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
    *,
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
    seconds: Annotated[
        float, typer.Option("--seconds", min=1, max=120, help="How long to watch each mark.")
    ] = 8.0,
    wait: Annotated[
        float, typer.Option("--wait", min=0, max=120, help="Seconds to walk to each mark.")
    ] = 10.0,
    given: so.FeedOptions,
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
        if feed_out.resolve() == out.resolve():
            raise UserError(f"--out and --feed-out are both {out}: two files are written")
    check_name(name)
    if len(feed) not in {1, len(at)}:
        raise UserError(f"{len(feed)} feeds for {len(at)} marks: give one feed, or one for each")
    if measured not in ("floor", "face", "axis"):
        raise UserError(f"--measured is floor, face or axis, not {measured!r}")
    check_volume(volume)
    geometry, stature_m = given.told()
    places = [_place(text, geometry) for text in at]
    holding = _holding(geometry, tilt, roll, camera_height)
    # One that does not open, or that the profile is not of, is told before anybody walks.
    live = {source: _is_live(source, rotate, geometry) for source in feed}
    if sound and not any(live.values()):
        raise UserError("--sound needs a camera")
    visits, without = [], 0
    with contextlib.ExitStack() as stack:
        signals = None
        if any(live.values()) and sound is not False:
            signals = stack.enter_context(Signals(telling.note, volume))
        for k, place in enumerate(places):
            source = feed[k] if len(feed) > 1 else feed[0]
            told = None
            if live[source]:
                typer.echo(f"go to the mark at {place.length_m:g} m: {wait:.0f} s")
                time.sleep(wait)
                told = _Watching(seconds, signals)
            pictures, camera, empty = _watch(source, rotate, seconds, geometry, told)
            without += empty
            ahead = place.across_m is not None
            tape = Tape(place.length_m, cast(Measured, measured), ahead, geometry.behind_m)
            visits.append(Visit(tape, camera, pictures, place.across_m, at[k]))
    attitude = _attitude(holding, visits, geometry.focal_sd)
    marks = [visit.mark(attitude) for visit in visits]
    learned = learn_marks(marks, stature_m=stature_m, focal_prior_sd=geometry.focal_sd, name=name)
    if feed_out is None and not learned.separation.separated:
        # Without the feed's part the size is no better known than by itself.
        alone = min(learned.separation.size_sd, 0.99)
        profile = learned.profile.model_copy(update={"scale_sd": alone})
        learned = replace(learned, profile=profile)
    personal.save(learned.profile, out, replace=replace_file)
    if feed_out is not None:
        _save_feed(visits[0].camera, learned, feed_out, replace_file, geometry.profile)
    typer.echo(_told(cast(Measured, measured), marks, attitude, holding, geometry.focal_sd))
    _tell(learned, without, out, feed_out)


_MEASURED = {
    "floor": "along the floor from below the camera",
    "face": "from the camera to the eyes",
    "axis": "along the camera's axis",
}


def _told(
    measured: Measured,
    marks: list[Mark],
    attitude: Attitude,
    holding: Holding,
    focal_sd: float | None,
) -> str:
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
    mend = "give --tilt, or --camera-height with your feet in view"
    if holding.height_m is not None:
        why = (
            "without a lens, angle of view or feed profile the camera's height does not tell it"
            if focal_sd is None
            else "your feet were hardly in view, or not where any tilt would put them"
        )
        mend = f"{why}; give --tilt"
    return (
        f"{text}; the camera was assumed to be level: if it is tilted by 5 degrees this is wrong "
        f"by {worst:.1%}; {mend}"
    )


def _holding(geometry: FeedGeometry, tilt: str | None, roll: str, height: str | None) -> Holding:
    """Options go over the set-up's values."""
    tilt_rad, height_m = geometry.tilt_rad, geometry.height_m
    typed = {"tilt_deg": tilt, "height_m": height}
    given = validated(
        CameraPart,
        {field: text for field, text in typed.items() if text is not None},
        "the feed's camera",
        {"tilt_deg": "--tilt", "height_m": "--camera-height"},
    )
    if given.tilt_deg is not None:
        tilt_rad = math.radians(given.tilt_deg)
    return Holding(tilt_rad, _roll_rad(roll), given.height_m or height_m)


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


def _roll_rad(text: str) -> float:
    degrees = stated("--roll", quantities.parse_angle_deg, text)
    if abs(degrees) > _MOST_ROLL_DEG:
        raise UserError(f"--roll must be within {_MOST_ROLL_DEG} degrees of level, not {text}")
    return math.radians(degrees)


class _Place(BaseModel):
    """Where a mark lies: how far off, and how far to the right of the first one, metres."""

    model_config = ConfigDict(frozen=True, allow_inf_nan=False)

    length_m: LengthM
    across_m: AcrossM | None = None


def _place(text: str, geometry: FeedGeometry) -> _Place:
    """What `--at` says. UserError where nobody can stand there."""
    length, _, across = text.partition(",")
    remark_far("--at", length)
    values = {"length_m": length} | ({"across_m": across} if across.strip() else {})
    place = validated(_Place, values, f"--at {text[:40]}", {"length_m": "", "across_m": ""})
    before_m = place.length_m - geometry.behind_m
    if before_m < _NEAREST_M:
        raise UserError(
            f"--at {text}: a mark lies at least {_NEAREST_M:g} m before the feed's lens, and this "
            f"one at {before_m:.2g} m; it is measured from the sensor plane"
        )
    return place


def _is_live(source: str, rotate: int, geometry: FeedGeometry) -> bool:
    """Whether a feed is a camera; UserError when it does not open or its profile is not of it."""
    with contextlib.closing(so.open_feed(source, rotate, geometry.profile)) as opened:
        frame = opened.read()
        if frame is None:
            raise UserError(f"feed {source} gave no picture")
        if is_picture(frame.picture):
            height, width = frame.picture.shape[:2]
            geometry.camera(width, height)
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
    source: str, rotate: int, seconds: float, geometry: FeedGeometry, told: _Watching | None
) -> tuple[list[tuple[float, Pose]], PinholeCamera, int]:
    """Poses of the one person in view with their times, the camera, and pictures without anyone."""
    poses: list[tuple[float, Pose]] = []
    camera, empty, turned = None, 0, PictureRotationWatch()
    with MediaPipePoseDetector() as detector:
        for frame in frames(source, rotate, seconds, geometry.profile):
            if camera is None:
                height, width = frame.picture.shape[:2]
                camera = geometry.camera(width, height)
                if told is not None:
                    told.begin()
            if frame.picture.shape[:2] != (camera.height_px, camera.width_px):
                continue
            found = detector.detect(frame.picture, frame.time_s) or []
            if found:
                poses.append((frame.time_s, found[0]))
                turned.update(frame.time_s, found[0])
            else:
                empty += 1
        if told is not None:
            told.end()
    if turned.turn_deg is not None:
        telling.note(lies((rotate + turned.turn_deg) % 360))
    if camera is None:
        raise UserError(f"feed {source} gave no picture")
    if not poses:
        raise UserError(f"no one was seen in {source}: stand wholly in view, well lit")
    return poses, camera, empty


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


_MANY = 0.2
"""Share of the pictures from which on it is worth saying why they were left out."""


def _tell(learned: Learned, without: int, out: Path, feed_out: Path | None) -> None:
    profile, found = learned.profile, learned.separation
    reasons = {**learned.left_out, "no one was seen": without}
    left_out = sum(reasons.values())
    if left_out > _MANY * (learned.fit + left_out):
        why = ", ".join(f"in {number} {reason}" for reason, number in reasons.items() if number)
        typer.echo(f"{left_out} of {learned.fit + left_out} pictures were left out: {why}")
    taken = "" if learned.used == learned.fit else f", evenly taken of {learned.fit}"
    typer.echo(
        f"learned from {learned.used} pictures{taken} ({left_out} left out): a body "
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
