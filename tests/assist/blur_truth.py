"""Pictures blurred by known kernels, and rendered eyes of known blur, for the estimator.

The kernels are applied by SciPy (`scipy.ndimage`, `scipy.signal`) and drawn by scikit-image
(`skimage.draw`); nothing of the estimator is used. Charts are drawn eight times finer than they are
measured, so that a kernel of a pixel is still known to a few per cent and edges fall between pixels
as they do in a camera. Pixels integrate: eight by eight fine ones are averaged.
"""

import csv
import io
from dataclasses import dataclass
from pathlib import Path

import cv2
import matplotlib
import numpy as np
import skimage
from PIL import Image
from scipy import ndimage, signal
from skimage.draw import disk, polygon

from assist.review.blur import compression
from assist.review.blur.compression import Compression
from assist.review.blur.luminance import linear_luminance

FINE = 8
EYES = Path(__file__).parent / "data" / "eyes"
CAUSES = Path(__file__).parent / "data" / "causes"
THIRD = Path(__file__).parent / "data" / "third"
FOURTH = Path(__file__).parent / "data" / "fourth"
FIFTH = Path(__file__).parent / "data" / "fifth"
WIDTHS_PX = (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0)
LINE_DEG = 30.0
NOISE = 0.01


def chart(size=320, seed=0):
    """Discs, polygons and bars of many greys in linear light, (size * FINE) square, sharp."""
    rng = np.random.default_rng(seed)
    side = size * FINE
    image = np.full((side, side), 0.4, np.float32)
    for _ in range(60):
        grey = float(rng.uniform(0.05, 0.9))
        y, x = rng.uniform(0, side, 2)
        kind = rng.integers(3)
        if kind == 0:
            rows, columns = disk((y, x), rng.uniform(12, 40) * FINE, shape=image.shape)
        elif kind == 1:
            corners = cv2.convexHull(
                (np.array([[x, y]]) + rng.uniform(-45, 45, (4, 2)) * FINE).astype(np.float32)
            )[:, 0]
            rows, columns = polygon(corners[:, 1], corners[:, 0], shape=image.shape)
        else:
            y2, x2 = rng.uniform(0, side, 2)
            across = np.array([y2 - y, x - x2]) / np.hypot(y2 - y, x2 - x)
            half = across * rng.uniform(0.75, 3) * FINE
            ends = np.array([[x, y], [x2, y2]])
            corners = np.concatenate([ends + half, ends[::-1] - half])
            rows, columns = polygon(corners[:, 1], corners[:, 0], shape=image.shape)
        image[rows, columns] = grey
    return image


def kernel(shape, width, fine=FINE):
    """A kernel of that width (disc diameter, or the disc that spreads as much), fine pixels."""
    sigma = width / 4 * fine
    reach = int(np.ceil(2.2 * sigma)) + 2
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1].astype(float)
    if shape == "disc":
        drawn = np.clip(2 * sigma - np.hypot(x, y) + 0.5, 0, 1)
    else:
        length = sigma * np.sqrt(12)
        angle = np.radians(LINE_DEG)
        along = x * np.cos(angle) + y * np.sin(angle)
        aside = y * np.cos(angle) - x * np.sin(angle)
        drawn = np.clip(length / 2 - abs(along) + 0.5, 0, 1) * np.clip(1 - abs(aside), 0, 1)
    return drawn / drawn.sum()


def drawn_width(shape, width, fine=FINE):
    """The width of a kernel as it is drawn, by its second moment (along a line)."""
    if shape == "gauss":
        return width
    drawn = kernel(shape, width, fine)
    reach = drawn.shape[0] // 2
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1] / fine
    along = x * np.cos(np.radians(LINE_DEG)) + y * np.sin(np.radians(LINE_DEG))
    return float(4 * np.sqrt((drawn * along**2).sum()))


def blurred(image, shape, width, fine=FINE):
    """The image under the kernel, then averaged to pixels."""
    if width <= 0:
        smooth = image
    elif shape == "gauss":
        smooth = ndimage.gaussian_filter(image, width / 4 * fine)
    else:
        smooth = signal.fftconvolve(
            np.pad(image, 64 * fine // 8, mode="edge"), kernel(shape, width, fine), mode="same"
        )[64 * fine // 8 : -64 * fine // 8, 64 * fine // 8 : -64 * fine // 8]
    rows, columns = smooth.shape[0] // fine, smooth.shape[1] // fine
    pixels = smooth[: rows * fine, : columns * fine].reshape(rows, fine, columns, fine)
    return pixels.mean(axis=(1, 3)).astype(np.float32)


def noisy(image, rng, noise=NOISE):
    """With noise of that standard deviation in linear light."""
    return (image + rng.normal(0, noise, image.shape)).astype(np.float32)


def _to_values(light):
    """Linear light, 0 to 1, as 8-bit values of the sRGB curve (IEC 61966-2-1)."""
    light = np.clip(light, 0, 1)
    curve = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.round(curve * 255).astype(np.uint8)


def _to_light(values):
    value = values / 255.0
    light = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return light.astype(np.float32)


def _told(data):
    with Image.open(io.BytesIO(data.tobytes())) as file:
        return compression.of_file(file)


def compressed(image, quality=80):
    """Linear light through 8 bits and JPEG and back, and what the file tells of it."""
    _, data = cv2.imencode(".jpg", _to_values(image), [cv2.IMWRITE_JPEG_QUALITY, quality])
    return _to_light(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE)), _told(data)


def through_jpeg(image, quality=80):
    """The same without what the file tells."""
    return compressed(image, quality)[0]


def compressed_in_colour(image, sampling, quality=80):
    """The same of a picture whose greys are tinted by how bright they are, as luminance.

    sampling: of the chroma, "444" or "420".
    """
    light = np.stack([image**1.3, image, image**0.75], axis=-1)
    factor = getattr(cv2, f"IMWRITE_JPEG_SAMPLING_FACTOR_{sampling}")
    _, data = cv2.imencode(
        ".jpg",
        _to_values(light),
        [cv2.IMWRITE_JPEG_QUALITY, quality, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, factor],
    )
    return linear_luminance(cv2.imdecode(data, cv2.IMREAD_COLOR)), _told(data)


PHOTOGRAPHS = ("astronaut", "camera", "coffee", "coins", "portrait")
LATER_PHOTOGRAPHS = ("chelsea", "rocket")
"""Kept aside until all but one of the constants for wide blurs were set."""


def photographs(names=PHOTOGRAPHS):
    """Real photographs that packages carry, in linear light, halved so that they are sharp."""
    folder = Path(skimage.__file__).parent / "data"
    portrait = Path(matplotlib.get_data_path()) / "sample_data" / "grace_hopper.jpg"
    for name in names:
        path = portrait if name == "portrait" else next(folder.glob(f"{name}.*"))
        light = _to_light(cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)).astype(np.float64)
        half = cv2.resize(light, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        yield name, half.astype(np.float32)


@dataclass(frozen=True)
class RenderedEyes:
    """A rendered crop, 36 mm and 6000 pixels wide in full, and the blur that its lens gives.

    picture: (height, width, 3) blue, green, red.   eyes_px: (2, 2).
    width_px: blur diameter at each eye by b = f^2 |z - s| / (N z (s - f)), averaged.
    compression: of the crop's own file.
    """

    name: str
    picture: np.ndarray
    eyes_px: np.ndarray
    width_px: float
    compression: Compression


def rendered_eyes():
    """Every rendered crop with its truth."""
    with (EYES / "truth.csv").open(newline="") as file:
        for row in csv.DictReader(line for line in file if not line.startswith("#")):
            f = float(row["focal_length_mm"]) / 1000
            n, s = float(row["f_number"]), float(row["focus_from_lens_m"])
            z = np.array([float(row["left_eye_z_m"]), float(row["right_eye_z_m"])])
            b = f * f * abs(z - s) / (n * z * (s - f))
            eyes = [[float(row[f"{side}_eye_{axis}_px"]) for axis in "xy"]
                    for side in ("left", "right")]  # fmt: skip
            yield RenderedEyes(
                row["file"].removesuffix(".jpg"),
                cv2.imread(str(EYES / row["file"])),
                np.array(eyes),
                float(b.mean() / 0.036 * 6000),
                _of_file(EYES / row["file"]),
            )


def _of_file(path):
    with Image.open(path) as file:
        return compression.of_file(file)


def rendered_causes(folder=CAUSES):
    """Rendered eyes with focus errors and movement; a smear counts as the disc that spreads as
    much along it, added to the defocus in squares."""
    with (folder / "truth.csv").open(newline="") as file:
        for row in csv.DictReader(line for line in file if not line.startswith("#")):
            smear_px = float(row["smear_px"]) * 4 / np.sqrt(12)
            eyes = [[float(row[f"{side}_eye_{axis}_px"]) for axis in "xy"]
                    for side in ("left", "right")]  # fmt: skip
            yield RenderedEyes(
                row["file"].removesuffix("-eyes.jpg") + f"-{row['cause']}",
                cv2.imread(str(folder / row["file"])),
                np.array(eyes),
                float(np.hypot(float(row["defocus_px"]), smear_px)),
                _of_file(folder / row["file"]),
            )
