"""What a session has learned of where the plane of focus lies, kept as a file in its folder."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from assist.base.errors import UserError
from assist.base.files import write_whole
from assist.base.reading import parse_json, read_bytes
from assist.base.validation import validated
from assist.base.words import _
from assist.distance import Size
from assist.distance.reference import ReferenceView
from assist.guidance.focus_plane import FocusPlane, Lesson
from assist.session.folder import now

FOCUS_FILE = "focus.json"
VERSION: Literal[1] = 1
_MOST_BYTES = 1_000_000
_Metres = Annotated[float, Field(gt=0, le=1e5, allow_inf_nan=False)]
_Ratio = Annotated[float, Field(gt=0.2, lt=5, allow_inf_nan=False)]
_RelativeSd = Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)]
_Circles = Annotated[float, Field(ge=0, le=1e4, allow_inf_nan=False)]
_Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
SizeName = Literal["body", "face", "head"]


class _Kept(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")


class KeptView(_Kept):
    """A reference view; see `assist.distance.reference.ReferenceView`."""

    eyes_m: _Metres
    read_m: dict[SizeName, _Metres]
    repeat_sd: dict[SizeName, _RelativeSd]
    common_sd: _RelativeSd
    pictures: int = Field(ge=1, le=1_000_000)

    @classmethod
    def of(cls, view: ReferenceView) -> KeptView:
        """To be kept."""
        return cls(
            eyes_m=view.eyes_m,
            read_m={_NAMES[size]: metres for size, metres in view.read_m.items()},
            repeat_sd={_NAMES[size]: sd for size, sd in view.repeat_sd.items()},
            common_sd=view.common_sd,
            pictures=view.pictures,
        )

    def view(self) -> ReferenceView:
        """To be measured by."""
        return ReferenceView(
            self.eyes_m,
            {_SIZES[name]: metres for name, metres in self.read_m.items()},
            {_SIZES[name]: sd for name, sd in self.repeat_sd.items()},
            self.common_sd,
            self.pictures,
        )


class KeptLesson(_Kept):
    """One lesson; see `assist.guidance.focus_plane.Lesson`."""

    ratio: _Ratio
    own_sd: _RelativeSd
    blur: _Circles | None = None
    blur_sd: _Circles | None = None
    plane_behind: _Share | None = None
    attempt: int | None = Field(None, ge=0, le=1_000_000_000)

    def lesson(self) -> Lesson:
        """To be learned from."""
        return Lesson(
            self.ratio, self.own_sd, self.blur, self.blur_sd, self.plane_behind, self.attempt
        )


_NAMES: dict[Size, SizeName] = {Size.BODY: "body", Size.FACE: "face", Size.HEAD: "head"}
_SIZES = {name: size for size, name in _NAMES.items()}


class FocusLearned(_Kept):
    """All that was learned, and what came of it.

    ratio: of the plane's place, as distances were measured, to the stated focus distance.   sd:
    relative, of that.
    """

    version: Literal[1] = VERSION
    learned_at: datetime
    reference: KeptView
    lessons: tuple[KeptLesson, ...] = Field(min_length=1, max_length=10_000)
    ratio: _Ratio
    sd: _RelativeSd


def save(plane: FocusPlane, folder: Path) -> None:
    """Keep what a run has learned, in place of what was there. Raises OSError or UserError."""
    if plane.reference is None or plane.belief is None:
        (folder / FOCUS_FILE).unlink(missing_ok=True)
        return
    kept = FocusLearned(
        learned_at=now(),
        reference=KeptView.of(plane.reference),
        lessons=tuple(_kept(lesson) for lesson in plane.lessons),
        ratio=plane.belief.ratio,
        sd=plane.belief.sd,
    )
    write_whole(folder / FOCUS_FILE, kept.model_dump_json(indent=1).encode())


def _kept(lesson: Lesson) -> KeptLesson:
    return KeptLesson(
        ratio=lesson.ratio,
        own_sd=lesson.own_sd,
        blur=lesson.blur,
        blur_sd=lesson.blur_sd,
        plane_behind=lesson.plane_behind,
        attempt=lesson.attempt,
    )


def load(folder: Path) -> FocusLearned | None:
    """What a session has learned; None where it has nothing. UserError where it is damaged."""
    file = folder / FOCUS_FILE
    if not file.is_file():
        return None
    what = str(file)
    try:
        values = parse_json(read_bytes(file, what, _MOST_BYTES))
    except ValueError as error:
        raise UserError(f"{what}: {error}") from error
    if not isinstance(values, dict):
        raise UserError(f"{what}: {_('not an object')}")
    return validated(
        FocusLearned, values, what, newest=VERSION, mend=_("delete it, and teach the mark anew")
    )


def lessons_of(kept: FocusLearned) -> tuple[ReferenceView, Sequence[Lesson]]:
    """What a plane of focus learns from again."""
    return kept.reference.view(), [lesson.lesson() for lesson in kept.lessons]
