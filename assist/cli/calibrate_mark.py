"""`assist calibrate mark`: the size of your body from standing at measured marks."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.files import refuse_existing
from assist.base.words import _, current
from assist.calibrate import marks_told
from assist.calibrate.at_marks import (
    MarkEvents,
    MarkPlace,
    MarksRequest,
    holding_of,
    learn_at_marks,
    mark_place,
)
from assist.calibrate.tape import Measured
from assist.cli.examples import examples
from assist.cli.options import set_up as so
from assist.cli.options import telling
from assist.cli.options.calibrate import Replace, check_name
from assist.cli.options.common import Rotate
from assist.cli.options.group import spread
from assist.cli.options.values import note, remark_far
from assist.output.sound.level import DEFAULT_VOLUME, check_volume
from assist.output.sound.signals import Signals
from assist.run.feed_remarks import lies_across
from assist.setup import feed_profile
from assist.setup import personal_profile as personal

MARK_EXAMPLE = "assist calibrate mark 0 --at 3m --field-of-view 65 --stature 1.72m --out me.toml"
MARK_EXAMPLES = examples(
    MARK_EXAMPLE,
    "assist calibrate mark 0 --at 3m --at 5m,0.8m --out me.toml --feed-out webcam.toml",
)


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
        Measured,
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
        str, typer.Option("--roll", help="Camera roll, clockwise seen from behind: 2deg.")
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
    rotate: Rotate = 0,
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
            raise UserError(
                _("--out and --feed-out are both {file}: two files are written", file=out)
            )
    check_name(name)
    check_volume(volume)
    geometry, stature_m = given.told()
    for text in at:
        remark_far("--at", text.partition(",")[0])
    request = MarksRequest(
        feed,
        [mark_place(text) for text in at],
        geometry,
        measured,
        holding_of(geometry, tilt, roll, camera_height),
        stature_m,
        name,
        seconds,
        wait,
        rotate,
    )
    done = learn_at_marks(
        request,
        _events(seconds, wait),
        None if sound is False else lambda: Signals(note, volume),
        must_sound=bool(sound),
    )
    personal.save(done.profile(with_feed=feed_out is not None), out, replace=replace_file)
    if feed_out is not None:
        feed_profile.save(done.feed_profile(), feed_out, replace=replace_file)
        typer.echo(_("the feed's profile is in {file}", file=feed_out))
    for line in marks_told.lines(done, out, feed_out):
        typer.echo(line)


def _events(seconds: float, wait_s: float) -> MarkEvents:
    """What happens at the marks, told on the terminal."""

    def walk(place: MarkPlace) -> None:
        length = current().decimal(f"{place.length_m:g}")
        typer.echo(
            _("go to the mark at {length} m: {seconds} s", length=length, seconds=f"{wait_s:.0f}")
        )

    def watching() -> None:
        typer.echo(
            _(
                "watching for {seconds} s: face the camera, turn, step in place",
                seconds=f"{seconds:.0f}",
            )
        )

    return MarkEvents(
        walk,
        watching,
        lambda rotate_deg: note(lies_across(rotate_deg)),
        lambda tilts, taken: typer.echo(marks_told.contradiction(tilts, taken), err=True),
    )
