"""The feed's profile: its geometry as a calibration found it, kept as a file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import tomlkit
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from assist.base.errors import UserError
from assist.base.files import refuse_existing, write_whole
from assist.base.reading import read_toml
from assist.base.validation import validated
from assist.base.words import _
from assist.setup.personal_profile import NAME_LETTERS, now
from assist.setup.set_up import LONGEST_DELAY_S
from optics.camera import PinholeCamera

VERSION: Literal[1] = 1
Width = Annotated[int, Field(ge=0)]
Method = Literal["board", "mark", "lens", "field of view"]

MARKED_LENS_SD = 0.025
"""Focal lengths are engraved rounded: standards allow five per cent, makers mostly keep to half of
that (from memory). How the view changes with the focus comes besides (`feed_geometry`)."""
STATED_VIEW_SD = 0.03
"""Makers round angles of view, and video modes crop them. Common practice, no source."""


class FeedProfile(BaseModel):
    """Intrinsics of one feed, in pixels of its picture from the outer edge of the first one.

    The picture is what lies between the feed's black bars, where it has any.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    version: Literal[1] = Field(default=VERSION, description="version of this file's layout")
    name: str = Field("", max_length=NAME_LETTERS, description="which feed this is")
    learned_at: AwareDatetime = Field(description="when it was learned")
    method: Method = Field(description="how")
    basis: str = Field(default="", max_length=200, description="what was given")
    width_px: int = Field(gt=0, description="width of the feed's picture")
    height_px: int = Field(gt=0, description="height of the feed's picture")
    fx_px: float = Field(gt=0, description="focal length across, pixels")
    fy_px: float = Field(gt=0, description="focal length up and down, pixels")
    cx_px: float = Field(description="where the axis meets the picture, across")
    cy_px: float = Field(description="where the axis meets the picture, down")
    distortion: tuple[float, float, float, float, float] = Field(
        default=(0.0, 0.0, 0.0, 0.0, 0.0), description="k1, k2, p1, p2, k3"
    )
    focal_sd: float = Field(
        gt=0, lt=1, description="relative standard deviation of the focal length"
    )
    mirrored: bool = Field(
        default=False, description="whether the feed mirrors its picture; the rest is as delivered"
    )
    error_px: float | None = Field(default=None, ge=0, description="reprojection error, pixels")
    bars_px: tuple[Width, Width, Width, Width] = Field(
        default=(0, 0, 0, 0), description="black bars around the picture: left, top, right, bottom"
    )
    delay_s: float | None = Field(
        default=None,
        ge=0,
        le=LONGEST_DELAY_S,
        description="how late its pictures come, s, by assist calibrate delay",
    )
    delay_spread_s: float | None = Field(
        default=None, ge=0, le=LONGEST_DELAY_S, description="half of the middle 90 % of that, s"
    )

    @classmethod
    def of_camera(
        cls,
        camera: PinholeCamera,
        method: Method,
        focal_sd: float,
        *,
        name: str = "",
        basis: str = "",
        error_px: float | None = None,
        bars_px: tuple[int, int, int, int] = (0, 0, 0, 0),
    ) -> FeedProfile:
        """What has just been learned: the camera of the picture between the bars.

        Raises UserError where that cannot be kept.
        """
        values = {
            "name": name,
            "learned_at": now(),
            "method": method,
            "basis": basis,
            "width_px": camera.width_px,
            "height_px": camera.height_px,
            "fx_px": camera.fx_px,
            "fy_px": camera.fy_px,
            "cx_px": camera.cx_px,
            "cy_px": camera.cy_px,
            "distortion": camera.distortion,
            "focal_sd": focal_sd,
            "error_px": error_px,
            "bars_px": bars_px,
        }
        return validated(cls, values, _("what was learned is no feed profile"))

    @property
    def has_bars(self) -> bool:
        """Whether the feed's picture is only a part of what the feed delivers."""
        return any(self.bars_px)

    def picture_in(self, feed_width_px: int, feed_height_px: int) -> tuple[int, int, int, int]:
        """Left, top, width and height of the picture in a feed of that size.

        UserError if the feed's shape is not the one that was learned.
        """
        left, top, right, bottom = self.bars_px
        width, height = self.width_px + left + right, self.height_px + top + bottom
        self._check_shape(feed_width_px, feed_height_px, width, height)
        across, down = feed_width_px / width, feed_height_px / height
        return (
            round(left * across),
            round(top * down),
            round(self.width_px * across),
            round(self.height_px * down),
        )

    def camera(self, width_px: int, height_px: int) -> PinholeCamera:
        """The camera of the feed's picture in that size; UserError if its shape is another."""
        self._check_shape(width_px, height_px, self.width_px, self.height_px)
        learned = PinholeCamera(
            self.width_px,
            self.height_px,
            self.fx_px,
            self.fy_px,
            self.cx_px,
            self.cy_px,
            self.distortion,
        )
        return learned.scaled(width_px, height_px)

    def _check_shape(self, width_px: int, height_px: int, learned_w: int, learned_h: int) -> None:
        if abs(width_px * learned_h - height_px * learned_w) > 0.01 * learned_w * height_px:
            raise UserError(
                _(
                    "the feed's picture is {width}x{height} and its profile was learned at "
                    "{learned_w}x{learned_h}, another shape: calibrate anew",
                    width=width_px,
                    height=height_px,
                    learned_w=learned_w,
                    learned_h=learned_h,
                )
            )


def to_toml(profile: FeedProfile) -> str:
    """The file's text, each field with a comment saying what it means."""
    document = tomlkit.document()
    document.add(tomlkit.comment("A feed's geometry, of the self-portrait assistant."))
    for name, field in FeedProfile.model_fields.items():
        value = getattr(profile, name)
        if value is None:
            continue
        kept = list(value) if isinstance(value, tuple) else value
        document.add(name, tomlkit.item(kept).comment(str(field.description)))
    return str(tomlkit.dumps(document))


def load(path: Path) -> FeedProfile:
    """Read and check a profile; UserError in one line if it cannot be used."""
    what = _("feed profile {path}", path=path)
    return validated(FeedProfile, read_toml(path, what), what, newest=VERSION)


def save(profile: FeedProfile, path: Path, *, replace: bool = False) -> None:
    """Write the file whole or not at all; an existing one only when told to replace it."""
    refuse_existing(path, replace)
    write_whole(path, to_toml(profile).encode())
