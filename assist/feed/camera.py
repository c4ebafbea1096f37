"""Cameras and streams: pictures that arrive by themselves."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from typing import cast

import cv2

from assist.base.errors import UserError
from assist.base.image_files import MOST_FRAME_PIXELS
from assist.base.images import ColourImage
from assist.base.system import System, here
from assist.base.system.cameras import interfaces
from assist.base.words import _
from assist.feed import Frame
from assist.feed.ageing import Age, PictureClock
from assist.feed.capture import check_rotation, open_capture, turned, usable_rate
from assist.feed.h264_order import held_back
from assist.feed.motion_jpeg import (
    OPEN_TIMEOUT_S,
    RETRY_EVERY_S,
    Link,
    MotionJpegSource,
    is_web,
    not_opened,
)
from assist.feed.square_pixels import pixel_aspect, squared

_RETRY_EVERY_S = RETRY_EVERY_S
_MOTION_JPEG = tuple(cv2.VideoWriter.fourcc(*name) for name in ("MJPG", "mjpg"))
_H264 = tuple(cv2.VideoWriter.fourcc(*name) for name in ("h264", "H264", "avc1"))
_OPEN_TIMEOUT_MS = round(1000 * OPEN_TIMEOUT_S)


def native_backends(system: System | None = None) -> tuple[int, ...]:
    """OpenCV's numbers for the capture interfaces of the operating system, the best first."""
    return tuple(int(getattr(cv2, f"CAP_{name}")) for name in interfaces(system or here()))


class CameraSource:
    """`Source` over a local camera or capture card; comes back by itself after a disconnection.

    Asks for 1280x720 at 30 pictures a second in motion JPEG, the form in which USB cameras reach
    that rate; takes what the camera gives.
    """

    live = True
    frames_expected: int | None = None
    _on_this_machine = True

    def __init__(
        self,
        device: int | str,
        rotation_deg: int = 0,
        size_px: tuple[int, int] = (1280, 720),
        rate_hz: float = 30.0,
    ) -> None:
        self._rotation_deg = check_rotation(rotation_deg)
        self._device = device
        self._wish = (*size_px, rate_hz)
        self._index = -1
        self._closed = False
        self._capture = self._open()
        if self._capture is None:
            raise UserError(
                _(
                    "camera {device} does not open: check that it is plugged in, that no other "
                    "program uses it and that this one may (0 is the first camera)",
                    device=device,
                )
            )
        self.rate_hz = usable_rate(self._capture.get(cv2.CAP_PROP_FPS), rate_hz)
        self._clock = PictureClock(self.rate_hz, device=self._on_this_machine)
        self._taken_s = -math.inf

    def _open(self) -> cv2.VideoCapture | None:
        opened = (open_capture(self._device, backend) for backend in native_backends())
        capture = next((each for each in opened if each is not None), None)
        if capture is not None:
            width, height, rate_hz = self._wish
            capture.set(cv2.CAP_PROP_FOURCC, cv2.VideoWriter.fourcc(*"MJPG"))
            capture.set(cv2.CAP_PROP_FRAME_WIDTH, width)
            capture.set(cv2.CAP_PROP_FRAME_HEIGHT, height)
            capture.set(cv2.CAP_PROP_FPS, rate_hz)
            capture.set(cv2.CAP_PROP_BUFFERSIZE, 1)
        return capture

    def read(self) -> Frame | None:
        """The next picture; waits, reopening the device while it is gone. None once closed."""
        passed_over: Frame | None = None
        while not self._closed:
            if self._capture is not None:
                asked_s = time.monotonic()
                picture = self._grab(self._capture)
                if picture is not None:
                    now_s = time.monotonic()
                    age = self._clock.age(asked_s, now_s, self._stamp_s(self._capture))
                    frame = self._frame(picture, now_s, age)
                    if not age.put_by:
                        self._index = frame.index
                        return frame
                    passed_over = frame
                    continue
                self._capture.release()
                self._capture = None
                if passed_over is not None:  # all there was: a recording, not a live feed
                    self._index = passed_over.index
                    return replace(passed_over, doubt_s=math.inf)
            time.sleep(_RETRY_EVERY_S)
            if not self._closed:
                self._capture = self._open()
                self._clock.opened()
        return None

    def _frame(self, picture: ColourImage, arrived_s: float, age: Age) -> Frame:
        # Its clock never goes back, though what is known of it may.
        self._taken_s = min(max(self._taken_s, arrived_s - age.age_s), arrived_s)
        return Frame(
            turned(picture, self._rotation_deg),
            self._taken_s,
            self._index + 1,
            age_s=arrived_s - self._taken_s,
            doubt_s=age.doubt_s,
        )

    @staticmethod
    def _grab(capture: cv2.VideoCapture) -> ColourImage | None:
        try:
            found, picture = capture.read()
        except cv2.error:
            return None
        # An empty picture is how some drivers say that the device has gone.
        if not found or picture is None or not 0 < picture.size <= 3 * MOST_FRAME_PIXELS:
            return None
        return squared(cast("ColourImage", picture), pixel_aspect(capture))

    def _stamp_s(self, capture: cv2.VideoCapture) -> float:
        """What the feed itself says of when the last picture was taken, by a clock of its own."""
        return float(capture.get(cv2.CAP_PROP_POS_MSEC)) / 1000

    def close(self) -> None:
        """Stop waiting and let go of the camera."""
        self._closed = True
        if self._capture is not None:
            self._capture.release()
            self._capture = None


class StreamSource(CameraSource):
    """`Source` over a network stream by its address."""

    _on_this_machine = False

    def __init__(self, address: str, rotation_deg: int = 0) -> None:
        self.looks_ahead = False
        """Whether its encoder waits for later pictures, and so for nobody knows how long."""
        self._without_clock = False
        self._refused: UserError | None = None
        try:
            super().__init__(address, rotation_deg)
        except UserError as error:
            raise self._refused or not_opened(address) from error

    def _open(self) -> cv2.VideoCapture | None:
        capture = open_capture(
            str(self._device),
            cv2.CAP_FFMPEG,
            (
                cv2.CAP_PROP_OPEN_TIMEOUT_MSEC,
                _OPEN_TIMEOUT_MS,
                cv2.CAP_PROP_READ_TIMEOUT_MSEC,
                _OPEN_TIMEOUT_MS,
                # Each further thread keeps one more picture back: 0.28 s on eight cores, measured.
                cv2.CAP_PROP_N_THREADS,
                1,
            ),
        )
        if capture is None:
            return None
        width = int(capture.get(cv2.CAP_PROP_FRAME_WIDTH))
        height = int(capture.get(cv2.CAP_PROP_FRAME_HEIGHT))
        if width * height <= MOST_FRAME_PIXELS:
            self.looks_ahead = _looks_ahead(capture)
            kind = int(capture.get(cv2.CAP_PROP_FOURCC))
            self._without_clock = kind in _MOTION_JPEG and is_web(str(self._device))
            return capture
        capture.release()
        self._refused = UserError(
            _(
                "stream {address} has pictures of {width} x {height} pixels, too many (at most "
                "{most} million)",
                address=self._device,
                width=width,
                height=height,
                most=MOST_FRAME_PIXELS // 1_000_000,
            )
        )
        return None

    def _stamp_s(self, capture: cv2.VideoCapture) -> float:
        """As of any camera; the video library makes stamps up for motion JPEG over HTTP."""
        return math.nan if self._without_clock else super()._stamp_s(capture)


def _looks_ahead(capture: cv2.VideoCapture) -> bool:
    """Whether the stream's pictures are sent in another order than they were taken."""
    if int(capture.get(cv2.CAP_PROP_FOURCC)) not in _H264:
        return False
    index = int(capture.get(cv2.CAP_PROP_CODEC_EXTRADATA_INDEX))
    try:
        found, configuration = capture.retrieve(None, index) if index > 0 else (False, None)
    except cv2.error:
        return False
    return found and configuration is not None and bool(held_back(configuration.tobytes()))


def open_stream(address: str, rotation_deg: int = 0) -> StreamSource | MotionJpegSource:
    """The stream behind an address. Raises UserError where it does not open.

    Motion JPEG is read without the video library: that knows neither when its pictures were sent
    nor whether more of them wait.
    """
    if is_web(address):
        try:
            link = Link.open(address)
        except (OSError, ValueError) as error:
            raise not_opened(address) from error
        if link is not None:
            return MotionJpegSource(address, link, rotation_deg)
    return StreamSource(address, rotation_deg)
