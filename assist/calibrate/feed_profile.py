"""The feed's profile: its geometry as a calibration found it, kept as a file."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import tomlkit
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError
from tomlkit.exceptions import TOMLKitError

from assist.errors import UserError
from assist.files import write_whole
from optics.camera import PinholeCamera


class FeedProfile(BaseModel):
    """Intrinsics of one feed, in pixels of its picture from the outer edge of the first one."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    version: Literal[1] = Field(default=1, description="version of this file's layout")
    name: str = Field("", max_length=200, description="which feed this is")
    learned_at: AwareDatetime = Field(description="when it was learned")
    method: Literal["board", "mark", "lens", "field of view"] = Field(description="how")
    width_px: int = Field(gt=0, description="width of the feed's picture")
    height_px: int = Field(gt=0, description="height of the feed's picture")
    fx_px: float = Field(gt=0, description="focal length across, pixels")
    fy_px: float = Field(gt=0, description="focal length up and down, pixels")
    cx_px: float = Field(description="where the axis meets the picture, across")
    cy_px: float = Field(description="where the axis meets the picture, down")
    distortion: tuple[float, float, float, float, float] = Field(
        (0.0, 0.0, 0.0, 0.0, 0.0), description="k1, k2, p1, p2, k3"
    )
    focal_sd: float = Field(
        gt=0, lt=1, description="relative standard deviation of the focal length"
    )
    error_px: float | None = Field(None, ge=0, description="reprojection error, pixels")

    def camera(self, width_px: int, height_px: int) -> PinholeCamera:
        """The camera of the feed's picture in that size; UserError if its shape is another."""
        if abs(width_px * self.height_px - height_px * self.width_px) > 0.01 * width_px * height_px:
            raise UserError(
                f"the feed's picture is {width_px}x{height_px} and its profile was learned at "
                f"{self.width_px}x{self.height_px}, another shape: calibrate anew"
            )
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
    try:
        values = dict(tomlkit.parse(path.read_text(encoding="utf-8")).unwrap())
    except FileNotFoundError as error:
        raise UserError(f"feed profile {path} does not exist") from error
    except (OSError, UnicodeDecodeError, TOMLKitError) as error:
        raise UserError(f"feed profile {path} cannot be read: {error}") from error
    try:
        return FeedProfile.model_validate(values)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "file"
        raise UserError(f"feed profile {path}: {where}: {first['msg']}") from error


def save(profile: FeedProfile, path: Path, *, replace: bool = False) -> None:
    """Write the file whole or not at all; an existing one only when told to replace it."""
    if path.exists() and not replace:
        raise UserError(f"profile {path} exists; give another name, or --replace to write over it")
    write_whole(path, to_toml(profile).encode())
