"""The set-up on the command line: a file, and an option for every value that goes over it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from assist.base.errors import UserError
from assist.base.words import _
from assist.cli.options import of_model
from assist.cli.options.common import Language, LengthUnits, PoseModel, Rotate
from assist.cli.options.of_model import Of
from assist.cli.options.values import note, remark_far
from assist.distance import Choice
from assist.setup import stated
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.profiles import ProfileFiles
from assist.setup.set_up import SetUp

_PANEL = "Set-up (each overrides the file's value)"
_CRITERION = "What counts as sharp: diagonal/1500, 0.02mm, 2px, print 30cm from 40cm."

SetUpFile = Annotated[
    Path | None, typer.Option("--set-up", metavar="FILE", help="Set-up file (TOML).")
]
Sensor = Annotated[str | None, Of(SetUp, "camera.sensor", _PANEL)]
FocalLength = Annotated[str | None, Of(SetUp, "lens.focal_length_mm", _PANEL)]
Aperture = Annotated[str | None, Of(SetUp, "lens.f_number", _PANEL)]
Focus = Annotated[str | None, Of(SetUp, "lens.focus_distance_m", _PANEL)]
FocusedBy = Annotated[str | None, Of(SetUp, "lens.focused_by", _PANEL)]
Criterion = Annotated[str | None, Of(SetUp, "sharpness.criterion", _PANEL, help=_CRITERION)]
Stature = Annotated[str | None, Of(SetUp, "person.stature_m", _PANEL)]
Through = Annotated[str | None, Of(SetUp, "feed.through", _PANEL)]
Crop = Annotated[float | None, Of(SetUp, "feed.crop", _PANEL)]
HorizontalView = Annotated[str | None, Of(SetUp, "feed.horizontal_field_of_view_deg", _PANEL)]
Delay = Annotated[str | None, Of(SetUp, "feed.delay_s", _PANEL, names=("--feed-delay",))]
FeedMirrored = Annotated[
    bool | None,
    Of(
        SetUp,
        "feed.mirrored",
        _PANEL,
        names=("--feed-mirrored/--feed-not-mirrored",),
        help="The feed mirrors its own picture, as many webcams do: left and right are put right.",
    ),
]
Profile = Annotated[
    Path | None,
    typer.Option(
        "--profile",
        metavar="FILE",
        rich_help_panel=_PANEL,
        help="Your personal profile, made by assist calibrate mark.",
    ),
]
FeedProfileFile = Annotated[
    Path | None,
    typer.Option(
        "--feed-profile",
        metavar="FILE",
        rich_help_panel=_PANEL,
        help="The feed's profile, made by assist calibrate.",
    ),
]
Posture = Annotated[str | None, Of(SetUp, "person.posture", _PANEL)]
OrdersBy = Annotated[
    str | None,
    Of(
        SetUp,
        "person.orders_by",
        _PANEL,
        help="How you start or pause the timer from afar. hand: one held above your head for a "
        "second, both for two to end. arm: one upper arm held out sideways for two seconds, both "
        "for three to end. head: laid towards a shoulder for two seconds. none: keys alone.",
    ),
]
Together = Annotated[
    int | None,
    Of(
        SetUp,
        "together.people",
        _PANEL,
        names=("--together",),
        help="How many of you stand together, 2 to 6: in focus only when all are, telling who has "
        "to move where. Numbers at your heads say who is left and right on the mirrored screen.",
    ),
]
Statures = Annotated[
    str | None,
    Of(
        SetUp,
        "together.statures_m",
        _PANEL,
        names=("--statures",),
        help="Of all who stand together, from left to right on the mirrored screen: 1.70m,1.82m. "
        "Stand in that order, apart from one another, when you are first seen, and again whenever "
        "it is not sure who is who.",
    ),
]


@dataclass(frozen=True)
class FeedOptions:
    """Of the set-up's options those that tell how a feed sees, and how tall the person is."""

    set_up: SetUpFile = None
    sensor: Sensor = None
    lens: FocalLength = None
    focus: Focus = None
    stature: Stature = None
    through: Through = None
    crop: Crop = None
    field_of_view: HorizontalView = None
    feed_mirrored: FeedMirrored = None
    feed_profile: FeedProfileFile = None

    def told(self) -> tuple[FeedGeometry, float | None]:
        """How the feed sees, and the stature in metres, None where it is not stated.

        Raises UserError naming what is wrong, or what would do nothing.
        """
        remark_far("--focus", self.focus)
        geometry, stature_m = stated.feed_from(
            self.set_up, of_model.stated(self), feed_profile=self.feed_profile, names=NAMES
        )
        remark_unlike(geometry)
        return geometry, stature_m


@dataclass(frozen=True)
class SetUpOptions:
    """The options of the set-up, and the profiles that go with it."""

    set_up: SetUpFile = None
    sensor: Sensor = None
    lens: FocalLength = None
    aperture: Aperture = None
    focus: Focus = None
    focused_by: FocusedBy = None
    criterion: Criterion = None
    stature: Stature = None
    through: Through = None
    crop: Crop = None
    field_of_view: HorizontalView = None
    feed_delay: Delay = None
    feed_mirrored: FeedMirrored = None
    profile: Profile = None
    feed_profile: FeedProfileFile = None
    posture: Posture = None
    orders_by: OrdersBy = None
    together: Together = None
    statures: Statures = None

    def chosen(self) -> SetUp:
        """The set-up from file and options. Raises UserError naming what is wrong or missing."""
        remark_far("--focus", self.focus)
        return stated.set_up_from(
            self.set_up, of_model.stated(self), feed_profile=self.feed_profile, names=NAMES
        )

    def profile_files(self, chosen: SetUp) -> ProfileFiles:
        """Where the profiles are: those given, else those that the set-up names."""
        return ProfileFiles.of(chosen, self.set_up, personal=self.profile, feed=self.feed_profile)


NAMES = {**of_model.names(SetUpOptions), "feed.profile": "--feed-profile"}
"""What an error calls a value that was typed."""


def remark_unlike(geometry: FeedGeometry) -> None:
    """Say so where a feed's profile and its lens are rather unlike."""
    if geometry.off_in_words:
        note(geometry.off_in_words)


# -- how the feed is watched ----------------------------------------------------------------------

Follow = Annotated[
    Choice,
    typer.Option(
        "--follow",
        help="Whom to follow of several. first: who is seen first; of several from the start, who "
        "raises a hand or is chosen by N. largest: whoever is largest when the run "
        "starts. nearest: whoever is then nearest to the mark.",
    ),
]
ForwardOnly = Annotated[
    bool,
    typer.Option(
        "--forward-only", help="Never send me backwards: I start behind the zone and come forward."
    ),
]


TeachMark = Annotated[
    bool,
    typer.Option(
        "--teach-mark",
        help="Before the timer: stand where the focus was set, hold up a hand (or press H), and "
        "look at the camera for two seconds. Narrow zones need it.",
    ),
]
TeachAfter = Annotated[
    str | None,
    typer.Option(
        "--teach-after",
        metavar="SECONDS",
        help="The same without a gesture: be on the mark so long after the start, 20s.",
    ),
]


def check_together(chosen: SetUp, given: SetUpOptions, watch: WatchOptions) -> None:
    """See that nothing is stated of one person where several stand together.

    Raises UserError naming the option; what only the set-up's file says is remarked.
    """
    if chosen.together.people is None:
        return
    for option, used, instead in (
        ("--follow", watch.follow != "first", _("leave it out: all are followed")),
        ("--stature", given.stature is not None, _("give --statures, one for each")),
        ("--profile", given.profile is not None, _("give --statures")),
        ("--teach-mark", watch.teach_mark or watch.teach_after is not None, _("leave it out")),
    ):
        if used:
            raise UserError(
                _(
                    "{option} is of one person, and --together of several: {instead}",
                    option=option,
                    instead=instead,
                )
            )
    person = chosen.person
    if chosen.together.statures_m is None and (person.stature_m or person.profile):
        note(_("the set-up's height and profile are one person's: give --statures for all"))


@dataclass(frozen=True)
class WatchOptions:
    """How the feed is watched and the person spoken to."""

    follow: Follow = "first"
    forward_only: ForwardOnly = False
    teach_mark: TeachMark = False
    teach_after: TeachAfter = None
    language: Language = None
    units: LengthUnits = "metres"
    rotate: Rotate = 0
    pose_model: PoseModel = None
