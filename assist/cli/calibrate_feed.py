"""`assist calibrate lens | view`: the feed's geometry from what is written on lens and box."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.files import refuse_existing
from assist.base.words import _
from assist.calibrate.feed_stated import (
    Along,
    FeedStated,
    StatedLens,
    framed_feed,
    from_lens,
    from_view,
    stated_view,
)
from assist.cli.examples import examples
from assist.cli.options.calibrate import Replace, check_name
from assist.cli.options.common import Rotate
from assist.cli.options.values import remark_far
from assist.setup import feed_profile

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
    stated = StatedLens(focal_length, focus, sensor, crop)
    framed = framed_feed(feed, size=size, area=area, seconds=seconds, rotation_deg=rotate)
    _keep(from_lens(stated, framed, name), out, replace_file)


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
    angles: dict[Along, str | None] = {
        "horizontal": horizontal, "vertical": vertical, "diagonal": diagonal,
    }  # fmt: skip
    given = [(along, text) for along, text in angles.items() if text is not None]
    if len(given) != 1:
        named = [f"--{along}" for along, _text in given]
        raise UserError(
            _(
                "give exactly one of --horizontal, --vertical and --diagonal, not {given}",
                given=_(" and ").join(named) or _("none"),
            )
        )
    [(along, angle)] = given
    check_name(name)
    stated = stated_view(along, angle)
    framed = framed_feed(feed, size=size, area=area, seconds=seconds, rotation_deg=rotate)
    _keep(from_view(stated, framed, name), out, replace_file)


def _keep(made: FeedStated, out: Path, replace_file: bool) -> None:
    feed_profile.save(made.profile, out, replace=replace_file)
    for line in made.in_words():
        typer.echo(line)
    typer.echo(
        _(
            "distances are wrong by as much as the focal length is; assist calibrate mark or board "
            "knows it better. The profile is in {file}",
            file=out,
        )
    )
