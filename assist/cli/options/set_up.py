"""The set-up on the command line: a file, and an option for every value that goes over it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, cast

import typer

from assist import feed as feeds
from assist.base.errors import UserError
from assist.base.system import display, here
from assist.base.validation import validated
from assist.base.words import Units, Words, language_of_locale
from assist.cli.options.telling import note
from assist.cli.options.values import remark_far
from assist.distance.person_tracker import Choice
from assist.feed import Source
from assist.feed.cropped import CroppedSource
from assist.guidance.assistant import Known
from assist.pose.gesture import OrderBy
from assist.setup import feed_profile as feed_profile_files
from assist.setup import personal_profile as personal
from assist.setup import set_up
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.feed_profile import FeedProfile
from assist.setup.set_up import FeedPart, PersonPart, SetUp

_PANEL = "Set-up (each goes over the file's value)"

SetUpFile = Annotated[
    Path | None, typer.Option("--set-up", metavar="FILE", help="Set-up file (TOML).")
]
Sensor = Annotated[
    str | None,
    typer.Option(
        "--sensor",
        rich_help_panel=_PANEL,
        help="full-frame, aps-c-1.5, aps-c-1.6, four-thirds, one-inch, or a size: 23.6x15.7.",
    ),
]
FocalLength = Annotated[
    str | None, typer.Option("--lens", rich_help_panel=_PANEL, help="Focal length: 35mm.")
]
Aperture = Annotated[
    str | None, typer.Option("--aperture", rich_help_panel=_PANEL, help="f/2.8 or 2.8.")
]
Focus = Annotated[
    str | None,
    typer.Option(
        "--focus",
        rich_help_panel=_PANEL,
        help="Focus distance from the sensor plane mark on the camera: 4m, 13ft, 10'6\".",
    ),
]
Criterion = Annotated[
    str | None,
    typer.Option(
        "--criterion",
        rich_help_panel=_PANEL,
        help="What counts as sharp: diagonal/1500, 0.02mm, 2px, print 30cm from 40cm.",
    ),
]
Stature = Annotated[
    str | None,
    typer.Option("--stature", rich_help_panel=_PANEL, help="Your height without shoes: 1.70m."),
]
Through = Annotated[
    str | None,
    typer.Option(
        "--through",
        rich_help_panel=_PANEL,
        help="taking-lens (the camera's own video output) or own-lens (a webcam or phone).",
    ),
]
Crop = Annotated[
    float | None,
    typer.Option(
        "--crop", rich_help_panel=_PANEL, help="Sensor width over the width that the feed shows."
    ),
]
HorizontalView = Annotated[
    str | None,
    typer.Option(
        "--field-of-view",
        rich_help_panel=_PANEL,
        help="Horizontal angle of view of a feed through its own lens: 70deg.",
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
Posture = Annotated[
    str | None,
    typer.Option(
        "--posture",
        rich_help_panel=_PANEL,
        help="standing, seated (in a seat or wheelchair: nothing is told in steps), or auto: from "
        "the picture.",
    ),
]
OrdersBy = Annotated[
    str | None,
    typer.Option(
        "--orders-by",
        rich_help_panel=_PANEL,
        help="How you start or pause the timer from afar. hand: one held above your head for a "
        "second, both for two to end. arm: one upper arm held out sideways for two seconds, both "
        "for three to end. head: laid towards a shoulder for two seconds. none: keys alone.",
    ),
]
People = Annotated[
    int,
    typer.Option(
        "--people",
        help="How many people to look for, 1 to 4. With more than one it keeps to the one it "
        "followed first, and says when it is no longer sure who is who; it is slower.",
    ),
]
Follow = Annotated[
    str, typer.Option("--follow", help="Whom to follow of several: first or largest.")
]

ForwardOnly = Annotated[
    bool,
    typer.Option(
        "--forward-only", help="Never send me backwards: I start behind the zone and come forward."
    ),
]
Language = Annotated[
    str | None,
    typer.Option("--language", help="en or de; that of this computer if left out."),
]
LengthUnits = Annotated[str, typer.Option("--units", help="Lengths on screen in metres or feet.")]
Rotate = Annotated[
    int, typer.Option("--rotate", help="Turn the feed clockwise: 0, 90, 180 or 270 degrees.")
]
PoseModel = Annotated[
    Path | None, typer.Option("--pose-model", metavar="FILE", help="A pose landmarker bundle.")
]


_NAMES = {
    "sensor": "--sensor",
    "focal_length_mm": "--lens",
    "f_number": "--aperture",
    "focus_distance_m": "--focus",
    "criterion": "--criterion",
    "stature_m": "--stature",
    "posture": "--posture",
    "orders_by": "--orders-by",
    "through": "--through",
    "crop": "--crop",
    "horizontal_field_of_view_deg": "--field-of-view",
    "profile": "--feed-profile",
}
"""How an error about a typed value names its field."""


@dataclass(frozen=True)
class SetUpOptions:
    """The options of the set-up, and the profiles that go with it."""

    set_up: SetUpFile = None
    sensor: Sensor = None
    lens: FocalLength = None
    aperture: Aperture = None
    focus: Focus = None
    criterion: Criterion = None
    stature: Stature = None
    through: Through = None
    crop: Crop = None
    field_of_view: HorizontalView = None
    profile: Profile = None
    feed_profile: FeedProfileFile = None
    posture: Posture = None
    orders_by: OrdersBy = None

    def chosen(self) -> SetUp:
        """The set-up from file and options. Raises UserError naming what is wrong or missing."""
        return gather(
            self.set_up,
            sensor=self.sensor,
            focal_length=self.lens,
            aperture=self.aperture,
            focus=self.focus,
            criterion=self.criterion,
            stature=self.stature,
            through=self.through,
            crop=self.crop,
            field_of_view=self.field_of_view,
            feed_profile=self.feed_profile,
            posture=self.posture,
            orders_by=self.orders_by,
        )


_ANY_APERTURE = "8"
"""For a lens whose aperture nobody stated: what a feed shows does not depend on it."""


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
    feed_profile: FeedProfileFile = None

    def told(self) -> tuple[FeedGeometry, float | None]:
        """How the feed sees, and the stature in metres, None where it is not stated.

        Raises UserError naming what is wrong, or what would do nothing.
        """
        if self.set_up is None and self.lens is None:
            return self._without_lens()
        chosen = gather(
            self.set_up,
            sensor=self.sensor,
            focal_length=self.lens,
            aperture=_ANY_APERTURE if self.set_up is None else None,
            focus=self.focus,
            stature=self.stature,
            through=self.through,
            crop=self.crop,
            field_of_view=self.field_of_view,
            feed_profile=self.feed_profile,
        )
        path = profile_path(self.feed_profile, chosen.feed.profile, self.set_up)
        profile = None if path is None else feed_profile_files.load(path)
        return _told_of(FeedGeometry.of(chosen, profile)), chosen.person.stature_m

    def _without_lens(self) -> tuple[FeedGeometry, float | None]:
        for option, value in {
            "--sensor": self.sensor,
            "--focus": self.focus,
            "--crop": self.crop,
        }.items():
            if value is not None:
                raise UserError(
                    f"{option} says nothing without the lens it goes with: give --lens, or a file "
                    "with --set-up"
                )
        if self.through == "taking-lens" and self.feed_profile is None:
            raise UserError("--through taking-lens: say through which, --lens and --focus")
        values: dict[str, Any] = {} if self.through is None else {"through": self.through}
        profile = None
        if self.feed_profile is not None:
            profile = feed_profile_files.load(self.feed_profile)
            values["profile"] = str(self.feed_profile)
            _prefer_profile(values, profile, self.through)
        elif self.field_of_view is not None:
            _prefer_view(values, self.field_of_view, self.through)
        stated = validated(FeedPart, values, "the feed", _NAMES)
        person = validated(PersonPart, {"stature_m": self.stature}, "set-up", _NAMES)
        return FeedGeometry(stated, profile=profile), person.stature_m


@dataclass(frozen=True)
class WatchOptions:
    """How the feed is watched and the person spoken to."""

    people: People = 1
    follow: Follow = "first"
    forward_only: ForwardOnly = False
    language: Language = None
    units: LengthUnits = "metres"
    rotate: Rotate = 0
    pose_model: PoseModel = None

    def words(self) -> Words:
        """The words in the language and units asked for; UserError for unknown ones."""
        return Words(language_code(self.language), units_name(self.units))


def language_code(given: str | None) -> str:
    """The language asked for, else the computer's."""
    return language_of_locale() if given is None else given


def units_name(given: str) -> Units:
    """Metres or feet; UserError for anything else."""
    wanted = given.strip().lower()
    if wanted in ("metres", "meters", "m"):
        return "metres"
    if wanted in ("feet", "ft"):
        return "feet"
    raise UserError(f"--units is metres or feet, not {given!r}")


def window_wanted(given: bool | None) -> bool:
    """Whether to show a window. UserError when one is asked for and there is no display."""
    problem = display.problem(here())
    if given and problem:
        raise UserError(f"no window can be opened ({problem}): use --no-window")
    return not problem if given is None else given


def gather(
    file: Path | None,
    *,
    sensor: str | None = None,
    focal_length: str | None = None,
    aperture: str | None = None,
    focus: str | None = None,
    criterion: str | None = None,
    stature: str | None = None,
    through: str | None = None,
    crop: float | None = None,
    field_of_view: str | None = None,
    feed_profile: Path | None = None,
    posture: str | None = None,
    orders_by: str | None = None,
) -> SetUp:
    """The set-up from file and options. Raises UserError naming what is wrong or missing."""
    remark_far("--focus", focus)
    values: dict[str, Any] = {} if file is None else set_up.read_values(file)
    given = {
        ("camera", "sensor"): sensor,
        ("lens", "focal_length_mm"): focal_length,
        ("lens", "f_number"): aperture,
        ("lens", "focus_distance_m"): focus,
        ("sharpness", "criterion"): criterion,
        ("person", "stature_m"): stature,
        ("person", "posture"): posture,
        ("person", "orders_by"): orders_by,
        ("feed", "through"): through,
        ("feed", "crop"): crop,
        ("feed", "horizontal_field_of_view_deg"): field_of_view,
        ("feed", "profile"): None if feed_profile is None else str(feed_profile),
    }
    stated = values.get("feed")
    if isinstance(stated, dict) and "profile" in stated and feed_profile is not None:
        # Another profile of the same feed, as where a session is repeated: through the same lens.
        through = through or stated.get("through")
    for (part, field), value in given.items():
        if value is not None:
            table = values.setdefault(part, {})
            if not isinstance(table, dict):
                raise UserError(f"set-up file {file}: {part} must be a table of values")
            table[field] = value
    if feed_profile is not None:
        _prefer_profile(values["feed"], feed_profile_files.load(feed_profile), through)
    elif field_of_view is not None:
        _prefer_view(values["feed"], field_of_view, through)
    lens = values.get("lens", {})
    if not isinstance(lens, dict):
        raise UserError(f"set-up file {file}: lens must be a table of values")
    needed = ("focal_length_mm", "f_number", "focus_distance_m")
    missing = [_NAMES[field] for field in needed if field not in lens]
    if missing:
        raise UserError(f"the set-up lacks {', '.join(missing)}: give it, or a file with --set-up")
    typed = {
        ".".join(place): _NAMES[place[1]] for place, value in given.items() if value is not None
    }
    return set_up.from_values(values, "set-up" if file is None else f"set-up file {file}", typed)


def _prefer_view(feed: dict[str, Any], angle: str, through: str | None) -> None:
    """A typed angle of view goes over whatever tells it in the file."""
    for other in ("profile", *(f"{along}_field_of_view_deg" for along in set_up.VIEWS)):
        feed.pop(other, None)
    feed["horizontal_field_of_view_deg"] = angle
    if through is None:
        feed["through"] = "own-lens"


def _prefer_profile(feed: dict[str, Any], profile: FeedProfile, through: str | None) -> None:
    """A profile goes before a stated view; one of the taking lens leaves the feed through it."""
    for along in set_up.VIEWS:
        feed.pop(f"{along}_field_of_view_deg", None)
    if through is None and profile.method != "lens":
        feed["through"] = "own-lens"


def open_feed(text: str, rotation_deg: int, profile: FeedProfile | None) -> Source:
    """The feed that a user named, without the black bars that its profile knows of."""
    source = feeds.open_source(text, rotation_deg)
    if profile is None or not profile.has_bars:
        return source
    return CroppedSource(source, profile.picture_in)


def feed_of(chosen: SetUp, file: Path | None) -> str | None:
    """The set-up's own feed; a file's name is looked for beside the set-up file first."""
    source = chosen.feed.source
    if source is None or file is None:
        return source
    beside = file.parent / source
    return str(beside) if beside.exists() else source


def profile_path(given: Path | None, named: str | None, file: Path | None) -> Path | None:
    """The profile given, else the one that the set-up names, first looked for beside its file."""
    if given is not None or named is None:
        return given
    beside = Path(named) if file is None else file.parent / named
    return beside if beside.exists() else Path(named)


def known(chosen: SetUp, given: SetUpOptions, follow: str = "first") -> Known:
    """What calibrations taught: the files given, else those that the set-up names.

    Raises UserError when one cannot be used; says so where the feed's may be of another lens.
    """
    if follow not in ("first", "largest"):
        raise UserError(f"--follow is first or largest, not {follow!r}")

    person = profile_path(given.profile, chosen.person.profile, given.set_up)
    feed = profile_path(given.feed_profile, chosen.feed.profile, given.set_up)
    learned = Known(
        None if person is None else personal.load(person),
        None if feed is None else feed_profile_files.load(feed),
        cast("Choice", follow),
    )
    _told_of(FeedGeometry.of(chosen, learned.feed, learned.person))
    return learned


def _told_of(geometry: FeedGeometry) -> FeedGeometry:
    """The geometry, with a line for the user where its profile and its lens are rather unlike."""
    if geometry.off_in_words:
        note(geometry.off_in_words)
    return geometry


def orders_by(chosen: SetUp) -> OrderBy | None:
    """The gesture that gives orders, None for none."""
    by = chosen.person.orders_by
    return None if by == "none" else by


def people_count(given: int) -> int:
    """How many people to look for; UserError outside 1 to 4."""
    if not 1 <= given <= 4:
        raise UserError(f"--people must be from 1 to 4, not {given}")
    return given
