"""Sums and products whose rounding error is kept: pairs of floats that act as one longer number.

A pair (high, low) stands for the unrounded sum high + low, about 32 digits. It is needed where two
nearly equal numbers are subtracted, as h and s - f are near the hyperfocal distance.
Sources (from memory): Knuth, The Art of Computer Programming, volume 2, 4.2.2 (exact sum); Dekker,
A floating-point technique for extending the available precision, Numerische Mathematik 18, 1971
(splitting and exact product).
"""

from __future__ import annotations

from optics.checks import FloatArray

Pair = tuple[FloatArray, FloatArray]

_SPLITTER = 2.0**27 + 1.0  # halves of 26 bits, whose products are exact in 53


def exact_sum(a: FloatArray, b: FloatArray) -> Pair:
    """Sum a + b without loss; any order of sizes."""
    total = a + b
    b_kept = total - a
    return total, (a - (total - b_kept)) + (b - b_kept)


def _halves(a: FloatArray) -> Pair:
    scaled = _SPLITTER * a
    high = scaled - (scaled - a)
    return high, a - high


def exact_product(a: FloatArray, b: FloatArray) -> Pair:
    """Product a b without loss, while the product of the lowest digits is not too small to hold."""
    product = a * b
    a_high, a_low = _halves(a)
    b_high, b_low = _halves(b)
    error = ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low
    return product, error


def pair_sum(a: Pair, b: Pair) -> Pair:
    """Sum of two pairs, to about 31 digits of the larger of them."""
    high, low = exact_sum(a[0], b[0])
    rest_high, rest_low = exact_sum(a[1], b[1])
    high, low = exact_sum(high, low + rest_high)
    return exact_sum(high, low + rest_low)


def pair_product(a: Pair, b: Pair) -> Pair:
    """Product of two pairs, to about 31 digits."""
    high, low = exact_product(a[0], b[0])
    return exact_sum(high, low + (a[0] * b[1] + a[1] * b[0]))


def negative(a: Pair) -> Pair:
    """The pair with its sign changed."""
    return -a[0], -a[1]
