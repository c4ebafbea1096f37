"""Pinhole camera with lens distortion: from points in metres to pixels and back.

The model is OpenCV's (Brown-Conrady, five coefficients k1 k2 p1 p2 k3; OpenCV documentation,
"Camera Calibration and 3D Reconstruction"), except for where pixel coordinates start: here at the
outer edge of the first pixel, in OpenCV at its centre. `opencv_matrix` and `from_opencv` convert.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from optics import lens
from optics.checks import FloatArray, positive
from optics.errors import ImpossibleValueError
from optics.sensor import Sensor

NO_DISTORTION = (0.0, 0.0, 0.0, 0.0, 0.0)
_UNDISTORT_STEPS = 20


@dataclass(frozen=True)
class PinholeCamera:
    """Intrinsics of one picture stream, in pixels of a picture of that very size."""

    width_px: int
    height_px: int
    fx_px: float
    fy_px: float
    cx_px: float
    cy_px: float
    distortion: tuple[float, float, float, float, float] = NO_DISTORTION

    def __post_init__(self) -> None:
        for name in ("width_px", "height_px", "fx_px", "fy_px"):
            positive(name, getattr(self, name))

    # -- making one ---------------------------------------------------------------------------

    @classmethod
    def from_focal_length_px(cls, focal_px: float, width_px: int, height_px: int) -> PinholeCamera:
        """Square pixels, the axis through the centre of the picture."""
        return cls(width_px, height_px, focal_px, focal_px, width_px / 2, height_px / 2)

    @classmethod
    def from_lens(
        cls,
        sensor: Sensor,
        focal_length_m: float,
        focus_distance_m: float,
        width_px: int,
        height_px: int,
        crop: float = 1.0,
    ) -> PinholeCamera:
        """Camera of a feed that comes through the taking lens itself.

        The picture shows the sensor's whole width, or its whole height where it is narrower than
        the sensor (`Sensor.shown_side`), divided by `crop` (1: all of it; 1.5: a video area of two
        thirds); the other side follows from square pixels. The focal length in pixels is v / pixel
        pitch, v = f s / (s - f): a focused lens stands further out.
        """
        positive("crop", crop)
        if crop < 1:
            raise ImpossibleValueError(
                "crop must be at least 1 (the whole width), not {crop:g}", crop=crop
            )
        v = lens.image_distance_m(focal_length_m, focus_distance_m)
        focal_px = v * crop / sensor.pixel_pitch_m(width_px, height_px)
        return cls.from_focal_length_px(focal_px, width_px, height_px)

    @classmethod
    def from_field_of_view(
        cls, angle_rad: float, width_px: int, height_px: int, along: str = "horizontal"
    ) -> PinholeCamera:
        """Camera of a stated angle of view along the picture's width, height or diagonal."""
        sides = {
            "horizontal": float(width_px),
            "vertical": float(height_px),
            "diagonal": math.hypot(width_px, height_px),
        }
        if along not in sides:
            raise ImpossibleValueError(
                "field of view is along {sides}, not {along!r}", sides=", ".join(sides), along=along
            )
        positive("field of view", angle_rad)
        if angle_rad >= math.pi:
            raise ImpossibleValueError(
                "field of view must be under 180 degrees, not {angle_deg:.6g}",
                angle_deg=math.degrees(angle_rad),
            )
        return cls.from_focal_length_px(
            sides[along] / 2 / math.tan(angle_rad / 2), width_px, height_px
        )

    @classmethod
    def from_opencv(
        cls,
        matrix: ArrayLike,
        width_px: int,
        height_px: int,
        distortion: ArrayLike = NO_DISTORTION,
    ) -> PinholeCamera:
        """Camera from OpenCV's 3 x 3 matrix (pixel centres at whole numbers) and coefficients."""
        k = np.asarray(matrix, dtype=np.float64)
        d = np.zeros(5)
        given = np.asarray(distortion, dtype=np.float64).ravel()
        if given.size > d.size and np.any(given[5:]):
            raise ImpossibleValueError("only five distortion coefficients are supported")
        d[: min(5, given.size)] = given[:5]
        k1, k2, p1, p2, k3 = (float(x) for x in d)
        return cls(
            width_px,
            height_px,
            float(k[0, 0]),
            float(k[1, 1]),
            float(k[0, 2]) + 0.5,
            float(k[1, 2]) + 0.5,
            (k1, k2, p1, p2, k3),
        )

    # -- reading it ---------------------------------------------------------------------------

    @property
    def opencv_matrix(self) -> FloatArray:
        """3 x 3 matrix with pixel centres at whole numbers, as OpenCV's functions expect."""
        return np.array(
            [[self.fx_px, 0, self.cx_px - 0.5], [0, self.fy_px, self.cy_px - 0.5], [0, 0, 1]]
        )

    @property
    def horizontal_field_of_view_rad(self) -> float:
        """Angle between the left and the right edge of the picture at mid height, undistorted."""
        return math.atan(self.cx_px / self.fx_px) + math.atan(
            (self.width_px - self.cx_px) / self.fx_px
        )

    @property
    def vertical_field_of_view_rad(self) -> float:
        """Angle between the top and the bottom edge of the picture at mid width, undistorted."""
        return math.atan(self.cy_px / self.fy_px) + math.atan(
            (self.height_px - self.cy_px) / self.fy_px
        )

    # -- using it -----------------------------------------------------------------------------

    def _distort(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        k1, k2, p1, p2, k3 = self.distortion
        # Far outside the picture the polynomial may leave what a number can hold: infinity or nan.
        with np.errstate(over="ignore", invalid="ignore"):
            r2 = x * x + y * y
            radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
            return (
                x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x),
                y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y,
            )

    def project(self, points_m: ArrayLike) -> FloatArray:
        """Pixels (..., 2) of points (..., 3) in the camera frame; nan for points not in front."""
        p = np.asarray(points_m, dtype=np.float64)
        z = np.where(p[..., 2] > 0, p[..., 2], np.nan)
        x, y = p[..., 0] / z, p[..., 1] / z
        if self.distortion != NO_DISTORTION:
            x, y = self._distort(x, y)
        return np.stack([self.fx_px * x + self.cx_px, self.fy_px * y + self.cy_px], axis=-1)

    def normalised(self, pixels: ArrayLike) -> FloatArray:
        """Undistorted x / z, y / z (..., 2) of pixels (..., 2)."""
        uv = np.asarray(pixels, dtype=np.float64)
        xd = (uv[..., 0] - self.cx_px) / self.fx_px
        yd = (uv[..., 1] - self.cy_px) / self.fy_px
        if self.distortion == NO_DISTORTION:
            return np.stack([xd, yd], axis=-1)
        x, y = xd.copy(), yd.copy()
        for _ in range(_UNDISTORT_STEPS):  # fixed point, as OpenCV's undistortPoints
            ex, ey = self._distort(x, y)
            x, y = x + (xd - ex), y + (yd - ey)
        return np.stack([x, y], axis=-1)

    def back_project(self, pixels: ArrayLike, depth_m: ArrayLike) -> FloatArray:
        """Points (..., 3) in the camera frame that lie at axial depth z behind the given pixels."""
        xy = self.normalised(pixels)
        z = np.broadcast_to(np.asarray(depth_m, dtype=np.float64), xy.shape[:-1])
        return np.stack([xy[..., 0] * z, xy[..., 1] * z, z], axis=-1)

    # -- the same camera after a change of picture --------------------------------------------

    def scaled(self, width_px: int, height_px: int) -> PinholeCamera:
        """The camera of the same picture resized."""
        sx, sy = width_px / self.width_px, height_px / self.height_px
        return replace(
            self,
            width_px=width_px,
            height_px=height_px,
            fx_px=self.fx_px * sx,
            fy_px=self.fy_px * sy,
            cx_px=self.cx_px * sx,
            cy_px=self.cy_px * sy,
        )

    def cropped(self, left_px: int, top_px: int, width_px: int, height_px: int) -> PinholeCamera:
        """The camera of a rectangle cut from the picture."""
        if (
            min(left_px, top_px) < 0
            or left_px + width_px > self.width_px
            or top_px + height_px > self.height_px
        ):
            raise ImpossibleValueError(
                "crop {width}x{height} at ({left}, {top}) leaves the picture of {all_width}x"
                "{all_height}",
                width=width_px,
                height=height_px,
                left=left_px,
                top=top_px,
                all_width=self.width_px,
                all_height=self.height_px,
            )
        return replace(
            self,
            width_px=width_px,
            height_px=height_px,
            cx_px=self.cx_px - left_px,
            cy_px=self.cy_px - top_px,
        )

    def mirrored(self) -> PinholeCamera:
        """The camera of the picture flipped left to right."""
        k1, k2, p1, p2, k3 = self.distortion
        return replace(self, cx_px=self.width_px - self.cx_px, distortion=(k1, k2, p1, -p2, k3))

    def rotated(self, quarter_turns_clockwise: int) -> PinholeCamera:
        """The camera of the picture turned clockwise by so many times 90 degrees."""
        camera = self
        for _ in range(quarter_turns_clockwise % 4):
            k1, k2, p1, p2, k3 = camera.distortion
            camera = replace(
                camera,
                width_px=camera.height_px,
                height_px=camera.width_px,
                fx_px=camera.fy_px,
                fy_px=camera.fx_px,
                cx_px=camera.height_px - camera.cy_px,
                cy_px=camera.cx_px,
                # The new x is the old -y, the new y the old x: the tangential pair turns along.
                distortion=(k1, k2, p2, -p1, k3),
            )
        return camera
