"""What a JPEG's file tells of its compression, and what that did to edges."""

import io

import cv2
import numpy as np
import pytest
from PIL import ExifTags, Image

from assist.review.blur import (
    compression,
    drawn_edges,
    fine_blur,
    gaussian_bias,
    kernel_shape,
    pixel_fit,
)
from assist.review.blur.compression import SIDE, Compression
from assist.review.blur.measure import measure
from assist.review.blur.region import MeasuredRegion
from assist.review.picture import open_picture
from tests.assist import blur_truth as bt


def picture_of(width, height):
    """Smooth grey, so that only the compression's steps are left in it."""
    y, x = np.mgrid[:height, :width]
    value = 120 + 60 * np.sin(x / 7.0) * np.cos(y / 5.0)
    return np.clip(value, 0, 255).astype(np.uint8)


def packed(values, quality=75, orientation=None):
    exif = Image.Exif()
    if orientation is not None:
        exif[ExifTags.Base.Orientation] = orientation
    stream = io.BytesIO()
    Image.fromarray(values).save(stream, "JPEG", quality=quality, exif=exif)
    return stream.getvalue()


def away_from_steps(values, how):
    """How far the coefficients of the squares lie from whole steps, in pixel values."""
    part = values[how.top :, how.left :].astype(float) - 128
    part = part[: part.shape[0] // SIDE * SIDE, : part.shape[1] // SIDE * SIDE]
    rows = []
    for top in range(0, part.shape[0], SIDE):
        for left in range(0, part.shape[1], SIDE):
            found = cv2.dct(part[top : top + SIDE, left : left + SIDE])
            rows.append(found - np.rint(found / how.steps) * how.steps)
    return float(np.sqrt(np.mean(np.square(rows))))


@pytest.mark.parametrize("orientation", [None, 1, 2, 3, 4, 5, 6, 7, 8])
def test_steps_and_squares_of_a_picture_turned_for_viewing(orientation):
    data = packed(picture_of(90, 59), orientation=orientation)
    with Image.open(io.BytesIO(data)) as image:
        how = compression.of_file(image)
    upright = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert upright.shape == ((90, 59) if (orientation or 1) >= 5 else (59, 90))
    right = away_from_steps(upright, how)
    assert right < 0.6  # the pixels are rounded
    for shift in ((1, 0), (0, 3), (4, 4)):
        other = Compression(how.steps, (how.left + shift[0]) % SIDE, (how.top + shift[1]) % SIDE)
        assert away_from_steps(upright, other) > 1.5 * right
    if (orientation or 1) >= 5:
        assert away_from_steps(upright, Compression(how.steps.T, how.left, how.top)) > 1.5 * right


def test_squares_of_a_part():
    how = Compression(np.ones((8, 8)), 3, 0).of_part(13, 16)
    assert (how.left, how.top) == (6, 0)


def test_files_that_tell_nothing(tmp_path):
    grey = Image.fromarray(picture_of(32, 32))
    grey.save(tmp_path / "a.png")
    Image.merge("CMYK", [grey] * 4).save(tmp_path / "b.jpg")
    for name in ("a.png", "b.jpg"):
        with Image.open(tmp_path / name) as image:
            assert compression.of_file(image) is None


def test_a_review_reads_it_with_the_picture(tmp_path):
    grey = Image.fromarray(picture_of(60, 44))
    grey.save(tmp_path / "a.jpg", quality=75)
    grey.save(tmp_path / "b.png")
    assert open_picture(tmp_path / "b.png").compression is None
    how = open_picture(tmp_path / "a.jpg").compression
    assert how.steps.max() > 8
    assert (how.left, how.top) == (0, 0)


def test_patches_come_back_as_a_jpeg_brings_them_back():
    values = picture_of(48, 32)
    data = packed(values, 60)
    with Image.open(io.BytesIO(data)) as image:
        how = compression.of_file(image)
        back = np.asarray(image, float)
    ours = how.sent(values[None].astype(float), 0.0)[0]
    assert np.sqrt(np.mean((ours - back) ** 2)) < 0.6


def test_rounding_with_noise_is_the_average_of_rounding():
    rng = np.random.default_rng(0)
    value = np.linspace(-2.2, 2.2, 23)
    for noise in (0.1, 0.4, 0.9):
        drawn = np.rint(value + rng.normal(0, noise, (40_000, 1))).mean(axis=0)
        assert compression._rounded(value, np.array(noise)) == pytest.approx(drawn, abs=0.02)


@pytest.mark.parametrize("quality", [70, 80, 90])
def test_variances_of_edges_through_jpeg_are_those_before_it(quality):
    """Without what the file tells they come out too wide. Some edges are soft by themselves."""
    usual = {True: [], False: []}
    for seed in (3, 4):
        picture = bt.noisy(
            bt.blurred(bt.chart(200, seed), "gauss", 1.5), np.random.default_rng(seed)
        )
        image, how = bt.compressed(picture, quality)
        for told, found in usual.items():
            fits = fine_blur.fitted(MeasuredRegion(image, compression=how if told else None))
            found.append(np.quantile(fits.variance_px2, 0.4))
    assert np.mean(usual[True]) == pytest.approx(0.375**2, abs=0.01)
    assert np.mean(usual[False]) > np.mean(usual[True]) + 0.005


@pytest.mark.parametrize("shape", ["gauss", "disc", "box"])
def test_redrawn_steps_have_the_blur_they_are_given(shape):
    """Uncompressed (steps of nearly nothing), each fitted as a picture's edge would be."""
    angle = np.radians([10.0, 60.0, 200.0, 285.0])
    steps = drawn_edges.Steps(
        np.array([[20.3, 30.1], [40.0, 9.9], [33.3, 12.2], [50.5, 50.5]]),
        angle,
        np.full(4, 0.2),
        np.full(4, 0.4),
        np.array([0.0, 0.0, 3.0, -2.2]),
        np.array([0.0, 0.0, -0.3, -0.1]),
    )
    index = 2
    sigma = np.full(4, np.sqrt(gaussian_bias.TRUE_VARIANCE[index]))
    kept = Compression(np.full((8, 8), 1e-6), 3, 5)
    patches = drawn_edges.Patches(np.full((80, 80), 0.2, np.float32), steps, kept)
    plain = drawn_edges.Patches(np.full((80, 80), 0.2, np.float32), steps, None)
    assert len(patches.places) == 4
    fits = pixel_fit.fit(patches.among(sigma, shape), patches.places)
    again = pixel_fit.fit(plain.among(sigma, shape), plain.places)
    assert fits.variance_px2 == pytest.approx(again.variance_px2, abs=5e-3)
    assert np.mean(fits.variance_px2) == pytest.approx(gaussian_bias.FOUND[shape][index], rel=0.06)
    assert fits.height == pytest.approx(0.4, rel=0.05)
    assert fits.gap_px == pytest.approx(steps.gap_px, abs=0.2)


def shape_told(shape, width, seed, quality, told=True):
    noisy = bt.noisy(bt.blurred(bt.chart(280, seed), shape, width), np.random.default_rng(seed))
    image, how = bt.compressed(noisy, quality)
    region = MeasuredRegion(image, compression=how if told else None)
    clear = fine_blur.fitted(region)
    return kernel_shape.told(region, clear.steps, clear.variance_px2)


@pytest.mark.parametrize("seed", [1, 3])
def test_a_disc_keeps_its_corners_through_jpeg(seed):
    """Three and four pixels: half a bell's share for the other makes 4 % of width."""
    assert shape_told("disc", 4.0, seed, 80)[1:].sum() > 0.7
    assert shape_told("gauss", 4.0, seed, 80)[0] > 0.6
    assert shape_told("gauss", 3.0, seed, 90)[0] > 0.6


def test_a_shape_between_two_is_told_as_that():
    """A disc and a bell one after the other: neither alone, and not a line."""
    square = np.array([[4.0, 0.0, -4.0], [0.0, 4.0, 8.0], [-4.0, 8.0, 20.0]])
    half = kernel_shape._shares(50 * (square + square.T) / 2)
    assert half[0] == pytest.approx(0.5, abs=0.1)
    assert half[2] < 0.05
    assert kernel_shape._shares(np.zeros((3, 3))) == pytest.approx(1 / 3, abs=0.04)


def test_a_resized_picture_is_no_worse_for_the_last_files_steps():
    """Halved after a strong compression and kept at a mild one, whose steps the file tells."""
    wide = bt.noisy(bt.blurred(bt.chart(400, 5), "gauss", 4.0, 8), np.random.default_rng(5))
    half = cv2.resize(bt.through_jpeg(wide, 70), None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    image, how = bt.compressed(half, 95)
    told, untold = measure(image, compression=how), measure(image)
    assert told.width_px == pytest.approx(untold.width_px, rel=0.05)
