"""Pixels that are not square: what a file says of them is read, and the picture put right."""

import struct

import cv2
import numpy as np
import pytest

from assist.feed.square_pixels import pixel_aspect, squared
from assist.feed.video_file import VideoFileSource

PARENTS = (b"moov", b"trak", b"mdia", b"minf", b"stbl", b"stsd")


def with_pixels(path, across, down):
    """Write into an MP4 file how wide and high its pixels are, as recorders do."""
    data = bytearray(path.read_bytes())
    entry = data.rindex(b"mp4v") - 4
    size = struct.unpack(">I", data[entry : entry + 4])[0]
    added = struct.pack(">I4sII", 16, b"pasp", across, down)
    at = data.find(b"pasp", entry, entry + size)
    if at >= 0:
        data[at + 4 : at + 12] = struct.pack(">II", across, down)
    else:
        data[entry + size : entry + size] = added
        for name in (*PARENTS, b"mp4v"):
            box = data.rindex(name, 0, entry + 8) - 4
            old = struct.unpack(">I", data[box : box + 4])[0]
            data[box : box + 4] = struct.pack(">I", old + len(added))
    path.write_bytes(data)


@pytest.fixture
def squeezed(tmp_path):
    """A circle in 16:9 sent as 4:3, 240x180 for 320x180."""
    path = tmp_path / "squeezed.mp4"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (240, 180))
    picture = np.zeros((180, 320, 3), np.uint8)
    cv2.circle(picture, (160, 90), 60, (255, 255, 255), -1)
    for _ in range(5):
        writer.write(cv2.resize(picture, (240, 180), interpolation=cv2.INTER_AREA))
    writer.release()
    return path


def extent(picture):
    lit = picture[..., 0] > 128
    return int(lit.any(axis=0).sum()), int(lit.any(axis=1).sum())


def test_a_squeezed_file_is_spread_out_again(squeezed):
    with_pixels(squeezed, 4, 3)
    source = VideoFileSource(squeezed)
    picture = source.read().picture
    source.close()
    assert picture.shape == (180, 320, 3)
    across, down = extent(picture)
    assert across == pytest.approx(down, abs=3)


@pytest.mark.parametrize("said", [None, (1, 1), (0, 1), (100, 1)])
def test_where_nothing_sensible_is_said_it_is_left_as_it_is(squeezed, said):
    if said is not None:
        with_pixels(squeezed, *said)
    source = VideoFileSource(squeezed)
    assert source.read().picture.shape == (180, 240, 3)
    source.close()


def test_a_picture_turned_by_the_file_has_its_pixels_turned_too():
    class Turned:
        def get(self, what):
            return {
                cv2.CAP_PROP_SAR_NUM: 4, cv2.CAP_PROP_SAR_DEN: 3,
                cv2.CAP_PROP_ORIENTATION_AUTO: 1, cv2.CAP_PROP_ORIENTATION_META: 270,
            }[what]  # fmt: skip

    assert pixel_aspect(Turned()) == pytest.approx(0.75)
    assert squared(np.zeros((320, 180, 3), np.uint8), 0.75).shape == (320, 135, 3)
