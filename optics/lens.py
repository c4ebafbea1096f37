"""Thin lens with symmetrical pupils: where things are sharp, how blurred the rest is, and back.

Formulas: the thin-lens equation 1/f = 1/s + 1/v and similar triangles through the aperture; the
derivations stand in any optics text (for example Hecht, Optics; from memory). Symbols used in the
docstrings: f focal length, N f-number, c circle of confusion, s focus distance from the lens,
v image distance, D distance from the sensor plane, b blur diameter on the sensor.

They are written so that nothing cancels, and infinity is exact. The one difference that must cancel
is f^2 - N c (s - f), zero at the hyperfocal distance: it is formed in double length
(`optics.error_free`). Against 50-digit arithmetic every result keeps 12 digits, macro included.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from optics.checks import FloatArray, above, positive, quantity, scalar_back
from optics.error_free import exact_product, exact_sum, negative, pair_product, pair_sum
from optics.errors import ImpossibleValueError


@dataclass(frozen=True)
class DepthOfField:
    """Limits of acceptable sharpness, metres from the lens; floats or arrays of one shape.

    near_m: nearest sharp distance.   far_m: farthest, infinite from the hyperfocal distance on.
    in_front_m, behind_m: room on each side of the focus distance.
    """

    near_m: Any
    far_m: Any
    in_front_m: Any
    behind_m: Any

    @property
    def total_m(self) -> Any:
        """Far limit less near limit, metres."""
        return self.in_front_m + self.behind_m


def image_distance_m(focal_length_m: ArrayLike, focus_distance_m: ArrayLike) -> Any:
    """Distance from lens to sensor when focused at s: v = f s / (s - f); f at infinity.

    Raises ImpossibleValueError unless s > f.
    """
    f = positive("focal length", focal_length_m)
    s = above("focus distance", focus_distance_m, f, quantity("the focal length"), infinity=True)
    at_infinity = np.isinf(s)
    finite_s = np.where(at_infinity, 2 * f, s)
    return scalar_back(np.where(at_infinity, f, f * (finite_s / (finite_s - f))))


def magnification(focal_length_m: ArrayLike, focus_distance_m: ArrayLike) -> Any:
    """Size on the sensor over size in front of the lens, at the focus distance: m = f / (s - f)."""
    f = positive("focal length", focal_length_m)
    s = above("focus distance", focus_distance_m, f, quantity("the focal length"), infinity=True)
    return scalar_back(f / (s - f))


def sensor_to_lens_distance_m(focal_length_m: ArrayLike, sensor_distance_m: ArrayLike) -> Any:
    """Lens distance s of the object in focus that a tape measures at D from the sensor plane.

    s = (D + sqrt(D^2 - 4 f D)) / 2, the farther of the two solutions of D = s + v.
    Raises ImpossibleValueError when D < 4 f, nearer than a thin lens can focus at all (m = 1).
    """
    f = positive("focal length", focal_length_m)
    d = positive("distance from the sensor", sensor_distance_m, infinity=True)
    short = np.broadcast_to(d < 4 * f, np.broadcast(d, f).shape)
    if short.any():
        near = float(np.broadcast_to(d, short.shape)[short].flat[0])
        raise ImpossibleValueError(
            "distance from the sensor must be at least four focal lengths, not {distance_m:.6g} m",
            distance_m=near,
        )
    at_infinity = np.isinf(d)
    finite_d = np.where(at_infinity, 4 * f, d)
    root = np.sqrt(finite_d) * np.sqrt(finite_d - 4 * f)
    return scalar_back(np.where(at_infinity, np.inf, (finite_d + root) / 2))


def lens_to_sensor_distance_m(focal_length_m: ArrayLike, focus_distance_m: ArrayLike) -> Any:
    """Distance D = s + v from the sensor plane of the object in focus at s from the lens."""
    s = positive("focus distance", focus_distance_m, infinity=True)
    return scalar_back(s + np.asarray(image_distance_m(focal_length_m, s)))


def depth_parameter_m(
    focal_length_m: ArrayLike, f_number: ArrayLike, circle_of_confusion_m: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """(f, f^2 / (N c)), metres, checked: the one combination that all limits depend on."""
    f = positive("focal length", focal_length_m)
    n = positive("f-number", f_number)
    c = positive("circle of confusion", circle_of_confusion_m)
    return f, f * f / (n * c)


def hyperfocal_m(
    focal_length_m: ArrayLike, f_number: ArrayLike, circle_of_confusion_m: ArrayLike
) -> Any:
    """Nearest focus distance with the far limit at infinity: H = f^2 / (N c) + f."""
    f, h = depth_parameter_m(focal_length_m, f_number, circle_of_confusion_m)
    return scalar_back(h + f)


def depth_of_field(
    focal_length_m: ArrayLike,
    f_number: ArrayLike,
    focus_distance_m: ArrayLike,
    circle_of_confusion_m: ArrayLike,
) -> DepthOfField:
    """Near and far limit, with k = N c (s - f).

    near = s f^2 / (f^2 + k), far = s f^2 / (f^2 - k) or infinite when f^2 <= k,
    in front = s k / (f^2 + k), behind = s k / (f^2 - k); focused at infinity: near = f^2 / (N c).
    Dividing by N c gives the textbook forms with the hyperfocal distance H = f^2 / (N c) + f.
    """
    f, h = depth_parameter_m(focal_length_m, f_number, circle_of_confusion_m)
    n, c = np.asarray(f_number, float), np.asarray(circle_of_confusion_m, float)
    s = above("focus distance", focus_distance_m, f, quantity("the focal length"), infinity=True)
    at_infinity = np.isinf(s)
    finite_s = np.where(at_infinity, 2 * f, s)
    f_squared = exact_product(f, f)
    k = pair_product(exact_product(n, c), exact_sum(finite_s, -f))
    left = pair_sum(f_squared, negative(k))[0]
    reaches_infinity = at_infinity | (left <= 0)
    safe_left = np.where(reaches_infinity, 1.0, left)
    total = f_squared[0] + k[0]
    near = np.where(at_infinity, h, finite_s * (f_squared[0] / total))
    far = np.where(reaches_infinity, np.inf, finite_s * (f_squared[0] / safe_left))
    in_front = np.where(at_infinity, np.inf, finite_s * (k[0] / total))
    behind = np.where(reaches_infinity, np.inf, finite_s * (k[0] / safe_left))
    return DepthOfField(*(scalar_back(x) for x in (near, far, in_front, behind)))


def blur_diameter_m(
    focal_length_m: ArrayLike,
    f_number: ArrayLike,
    focus_distance_m: ArrayLike,
    distance_m: ArrayLike,
) -> Any:
    """Diameter on the sensor of the disc made by a point at z: b = f^2 |z - s| / (N z (s - f)).

    z and s may be infinite. Zero where z = s.
    """
    f = positive("focal length", focal_length_m)
    n = positive("f-number", f_number)
    s = above("focus distance", focus_distance_m, f, quantity("the focal length"), infinity=True)
    z = positive("distance", distance_m, infinity=True)
    s_inf, z_inf = np.isinf(s), np.isinf(z)
    s_safe, z_safe = np.where(s_inf, 1.0, s), np.where(z_inf, 1.0, z)
    both = np.abs(z_safe - s_safe) / z_safe / np.where(s_inf, 1.0, s - f)
    point_at_infinity = 1.0 / np.where(s_inf, 1.0, s - f)
    relative = np.where(
        s_inf & z_inf,
        0.0,
        np.where(s_inf, 1.0 / z_safe, np.where(z_inf, point_at_infinity, both)),
    )
    return scalar_back(f * f / n * relative)


def f_number_for_blur(
    focal_length_m: ArrayLike,
    focus_distance_m: ArrayLike,
    distance_m: ArrayLike,
    blur_m: ArrayLike,
) -> Any:
    """Widest aperture at which a point at z is blurred no more than b; the inverse of the blur.

    N = f^2 |z - s| / (b z (s - f)). Zero where z = s: any aperture will do.
    """
    b = positive("blur diameter", blur_m)
    at_one = np.asarray(blur_diameter_m(focal_length_m, 1.0, focus_distance_m, distance_m))
    return scalar_back(at_one / b)


def focus_distance_for_limits_m(near_m: ArrayLike, far_m: ArrayLike) -> Any:
    """Focus distance whose limits are near n and far F, whatever lens: s = 2 n F / (n + F).

    The blur at both limits is equal, so 1/s is the mean of 1/n and 1/F; s = 2 n for F infinite.
    """
    near = positive("near limit", near_m)
    far = above("far limit", far_m, near, quantity("the near limit"), infinity=True)
    return scalar_back(2.0 * near / (1.0 + near / far))


def f_number_for_limits(
    focal_length_m: ArrayLike,
    near_m: ArrayLike,
    far_m: ArrayLike,
    circle_of_confusion_m: ArrayLike,
) -> Any:
    """Widest aperture that keeps everything from near n to far F sharp, focused between them.

    N = f^2 (F - n) / (c (2 n F - f (n + F))), the blur at either limit set equal to c.
    Raises ImpossibleValueError unless the focus distance between them is above f.
    """
    f = positive("focal length", focal_length_m)
    c = positive("circle of confusion", circle_of_confusion_m)
    near = positive("near limit", near_m)
    far = above("far limit", far_m, near, quantity("the near limit"), infinity=True)
    above("focus distance", focus_distance_for_limits_m(near, far), f, quantity("the focal length"))
    open_ended = np.isinf(far)
    finite_far = np.where(open_ended, 2 * near, far)
    # n (F - f) + F (n - f): the two parts cancel only where the near limit is inside f.
    far_part = pair_product((near, np.zeros_like(near)), exact_sum(finite_far, -f))
    near_part = pair_product((finite_far, np.zeros_like(finite_far)), exact_sum(near, -f))
    finite = (finite_far - near) / pair_sum(far_part, near_part)[0]
    to_infinity = 1.0 / (2 * near - f)
    return scalar_back(f * f / c * np.where(open_ended, to_infinity, finite))
