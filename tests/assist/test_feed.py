import functools
import http.server
import struct
import threading
import time

import cv2
import numpy as np
import pytest
from PIL import Image

from assist.base.errors import UserError
from assist.base.system import System
from assist.feed import Frame, camera, open_source, stream_kinds
from assist.feed.image_folder import ImageFolderSource
from assist.feed.reader import FeedReader
from assist.feed.video_file import VideoFileSource


def picture(shade, size=(64, 48)):
    return np.full((size[1], size[0], 3), shade, np.uint8)


@pytest.fixture
def video(tmp_path):
    path = tmp_path / "ramp.mp4"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (64, 48))
    for index in range(20):
        writer.write(picture(10 * index))
    writer.release()
    return path


def everything(source):
    frames = []
    while (frame := source.read()) is not None:
        frames.append(frame)
    return frames


def test_video_gives_every_frame_with_rising_times(video):
    source = VideoFileSource(video)
    frames = everything(source)
    assert [f.index for f in frames] == list(range(20))
    assert source.frames_expected == 20
    times = np.array([f.time_s for f in frames])
    assert np.allclose(np.diff(times), 0.04, atol=0.002)
    assert abs(int(frames[10].picture.mean()) - 100) < 6


@pytest.mark.parametrize(
    ("degrees", "shape"), [(0, (48, 64)), (90, (64, 48)), (180, (48, 64)), (270, (64, 48))]
)
def test_rotation(video, degrees, shape):
    assert VideoFileSource(video, degrees).read().picture.shape[:2] == shape


def held_on_its_side(path):
    """Writes the turn by 90 degrees clockwise into the track's matrix, as a telephone does."""
    content = bytearray(path.read_bytes())
    matrix = content.index(b"tkhd") + 44  # ISO 14496-12, track header of version 0; from memory
    turn = (0, 0x10000, 0, -0x10000, 0, 0, 48 << 16, 0, 0x40000000)
    content[matrix : matrix + 36] = struct.pack(">9i", *turn)
    path.write_bytes(content)


def lit_corner():
    corner = picture(20)
    corner[:16, :16] = 230  # upper left
    return corner


def test_a_video_is_put_upright_by_its_own_tag(tmp_path):
    path = tmp_path / "upright.mp4"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), 25.0, (64, 48))
    for _ in range(5):
        writer.write(lit_corner())
    writer.release()
    assert VideoFileSource(path).read().picture.shape[:2] == (48, 64)
    held_on_its_side(path)
    seen = VideoFileSource(path).read().picture
    assert seen.shape[:2] == (64, 48)
    assert seen[:12, -12:].mean() > seen[:12, :12].mean() + 100  # now upper right


def test_a_picture_is_put_upright_by_its_own_tag(tmp_path):
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned clockwise by 90 degrees
    Image.fromarray(lit_corner()).save(tmp_path / "a.jpg", exif=exif, quality=95)
    seen = open_source(str(tmp_path)).read().picture
    assert seen.shape[:2] == (64, 48)
    assert seen[:12, -12:].mean() > seen[:12, :12].mean() + 100


def test_rotation_by_anything_else_is_refused(video):
    with pytest.raises(UserError, match="45"):
        VideoFileSource(video, 45)


@pytest.mark.parametrize("content", [b"", b"not a video at all" * 100, b"\x00\x00\x00\x20ftypisom"])
def test_unreadable_video(tmp_path, content):
    path = tmp_path / "broken.mp4"
    path.write_bytes(content)
    with pytest.raises(UserError, match=r"broken\.mp4"):
        everything(open_source(str(path)))


def test_truncated_video_is_an_error_or_a_shorter_run(tmp_path, video):
    whole = video.read_bytes()
    path = tmp_path / "cut.mp4"
    for part in (0.2, 0.5, 0.9):
        path.write_bytes(whole[: int(part * len(whole))])
        try:
            frames = everything(open_source(str(path)))
        except UserError as error:
            assert "cut.mp4" in str(error)
        else:
            assert len(frames) < 20


def test_missing_feed_says_what_would_do():
    with pytest.raises(UserError, match=r"nowhere\.mp4.*does not exist"):
        open_source("nowhere.mp4")


def test_camera_that_does_not_open_says_what_to_check():
    with pytest.raises(UserError, match="camera 99 does not open"):
        open_source("99")


def test_folder_in_the_order_of_numbers_not_of_letters(tmp_path):
    for number in (10, 9, 1):
        cv2.imwrite(str(tmp_path / f"shot{number}.png"), picture(number * 10))
    (tmp_path / "notes.txt").write_text("not a picture")
    frames = everything(open_source(str(tmp_path)))
    assert [int(f.picture.mean()) for f in frames] == [10, 90, 100]


def test_folder_passes_over_a_damaged_picture(tmp_path):
    cv2.imwrite(str(tmp_path / "a.png"), picture(50))
    (tmp_path / "b.png").write_bytes(b"damaged")
    (tmp_path / "c.png").write_bytes(b"")
    source = ImageFolderSource(tmp_path)
    assert len(everything(source)) == 1
    assert [p.name for p in source.unreadable] == ["b.png", "c.png"]


def test_folder_without_any_good_picture(tmp_path):
    with pytest.raises(UserError, match="no pictures"):
        open_source(str(tmp_path))
    (tmp_path / "b.png").write_bytes(b"damaged")
    with pytest.raises(UserError, match="none of its pictures"):
        everything(open_source(str(tmp_path)))


class Scripted:
    """A source that hands out numbered frames, waiting before each as told."""

    live = False
    frames_expected = None
    rate_hz = 25.0

    def __init__(self, count, wait_s=0.0, step_s=0.04, error=None):
        self._left = list(range(count))
        self._wait_s, self._step_s, self._error = wait_s, step_s, error
        self.closed = False

    def read(self):
        time.sleep(self._wait_s)
        if not self._left:
            if self._error:
                raise self._error
            return None
        index = self._left.pop(0)
        return Frame(picture(index), index * self._step_s, index)

    def close(self):
        self.closed = True


def drain(reader, pause_s=0.0):
    seen = []
    while not reader.ended:
        frame = reader.read(0.5)
        if frame is not None:
            seen.append(frame.index)
            time.sleep(pause_s)
    return seen


def test_a_file_loses_no_frame_however_slow_the_taker():
    source = Scripted(30)
    with FeedReader(source) as reader:
        assert drain(reader, pause_s=0.005) == list(range(30))
    assert source.closed


def test_a_camera_gives_the_newest_frame():
    source = Scripted(40, wait_s=0.005)
    source.live = True
    with FeedReader(source) as reader:
        seen = drain(reader, pause_s=0.04)
    assert len(seen) < 20
    assert seen == sorted(seen)
    assert seen[-1] == 39


def test_a_file_in_its_own_time_takes_its_own_time():
    with FeedReader(Scripted(10, step_s=0.05), "real") as reader:
        began = time.monotonic()
        drain(reader)
        assert 0.4 <= time.monotonic() - began < 2.0


def test_the_sources_error_reaches_the_reader():
    with FeedReader(Scripted(2, error=UserError("gone"))) as reader:
        assert reader.read(1.0).index == 0
        assert reader.read(1.0).index == 1
        with pytest.raises(UserError, match="gone"):
            reader.read(1.0)


def test_leaving_early_frees_the_source():
    source = Scripted(1000)
    with FeedReader(source) as reader:
        reader.read(1.0)
    assert source.closed


class FlakyCapture:
    """Stands for cv2.VideoCapture: opens, gives two pictures, dies, and opens again."""

    opened = 0

    def __init__(self):
        FlakyCapture.opened += 1
        self._left = 2

    def set(self, *_):
        return True

    def get(self, *_):
        return 0.0

    def read(self):
        self._left -= 1
        return (True, picture(7)) if self._left >= 0 else (False, None)

    def release(self):
        pass


def test_camera_unplugged_and_back(monkeypatch):
    monkeypatch.setattr(camera, "open_capture", lambda *a, **k: FlakyCapture())
    monkeypatch.setattr(camera, "_RETRY_EVERY_S", 0.01)
    FlakyCapture.opened = 0
    source = camera.CameraSource(0)
    assert source.rate_hz == 30.0  # a driver that says 0 pictures a second is not believed
    assert [source.read().index for _ in range(5)] == [0, 1, 2, 3, 4]
    assert FlakyCapture.opened == 3
    source.close()
    assert source.read() is None


@pytest.mark.parametrize("scheme", ["http", "HTTP"])
def test_stream_by_its_address(scheme, video, tmp_path):
    """Schemes are written in capitals too (RFC 3986, 3.1, from memory); the library minds."""
    handler = functools.partial(http.server.SimpleHTTPRequestHandler, directory=str(tmp_path))
    handler.log_message = lambda *_: None
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        source = open_source(f"{scheme}://127.0.0.1:{server.server_port}/{video.name}")
        assert source.live
        assert [source.read().index for _ in range(3)] == [0, 1, 2]
        source.close()
    finally:
        server.shutdown()


def test_stream_that_is_not_there():
    with pytest.raises(UserError, match=r"stream http://127\.0\.0\.1:9/.* does not open"):
        open_source("http://127.0.0.1:9/nothing.mp4")


def test_srt_is_listed_only_where_the_video_library_opens_it(monkeypatch):
    built_in = stream_kinds._built_in()
    assert {"http", "https", "rtmp", "rtp", "tcp", "udp"} <= built_in  # as every build has them
    for has in (False, True):
        monkeypatch.setattr(stream_kinds, "_built_in", lambda has=has: {"srt"} if has else set())
        stream_kinds.stream_kinds.cache_clear()
        assert ("srt" in stream_kinds.stream_kinds()) is has
        if not has:
            with pytest.raises(UserError, match=r"srt is not .* use rtsp, [a-z, ]*tcp$"):
                open_source("srt://127.0.0.1:9")
    stream_kinds.stream_kinds.cache_clear()


@pytest.mark.parametrize(
    ("kind", "numbers"),
    [
        ("linux", (cv2.CAP_V4L2,)),
        ("macos", (cv2.CAP_AVFOUNDATION,)),
        ("windows", (cv2.CAP_DSHOW, cv2.CAP_MSMF)),
        ("other", (cv2.CAP_ANY,)),
    ],
)
def test_native_backends(kind, numbers):
    assert camera.native_backends(System(kind)) == numbers


def test_the_next_interface_is_tried_when_the_first_does_not_open(monkeypatch):
    tried = []

    class Capture:
        def set(self, *_):
            return True

        def get(self, _):
            return 30.0

        def release(self):
            pass

    def open_capture(device, backend):
        tried.append((device, backend))
        return Capture() if backend == cv2.CAP_MSMF else None

    monkeypatch.setattr(camera, "native_backends", lambda: (cv2.CAP_DSHOW, cv2.CAP_MSMF))
    monkeypatch.setattr(camera, "open_capture", open_capture)
    camera.CameraSource(1).close()
    assert tried == [(1, cv2.CAP_DSHOW), (1, cv2.CAP_MSMF)]
