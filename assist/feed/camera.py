"""Cameras and streams: pictures that arrive by themselves."""

from __future__ import annotations

import time
from typing import cast

import cv2

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.system import System, here
from assist.base.system.cameras import interfaces
from assist.base.words import _
from assist.feed import Frame
from assist.feed.capture import check_rotation, open_capture, turned, usable_rate
from assist.feed.square_pixels import pixel_aspect, squared

_RETRY_EVERY_S = 1.0
_STALL_S = 0.5
_BACKLOG_S = 30.0
"""How much a sender or driver may have put by during a stall, to be passed over as it comes."""
_OPEN_TIMEOUT_MS = 5000


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
        self._arrived_s: float | None = None
        self._gap_s = 0.0
        self._to_skip = 0
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
        while not self._closed:
            if self._capture is not None:
                asked_s = time.monotonic()
                picture = self._grab(self._capture)
                if picture is not None:
                    now_s = time.monotonic()
                    if self._from_before_a_stall(asked_s, now_s):
                        continue
                    self._index += 1
                    return Frame(turned(picture, self._rotation_deg), now_s, self._index)
                self._capture.release()
                self._capture = None
                self._arrived_s, self._to_skip = None, 0
            time.sleep(_RETRY_EVERY_S)
            if not self._closed:
                self._capture = self._open()
        return None

    @staticmethod
    def _grab(capture: cv2.VideoCapture) -> ColourImage | None:
        try:
            found, picture = capture.read()
        except cv2.error:
            return None
        # An empty picture is how some drivers say that the device has gone.
        if not found or picture is None or not picture.size:
            return None
        return squared(cast("ColourImage", picture), pixel_aspect(capture))

    def _from_before_a_stall(self, asked_s: float, now_s: float) -> bool:
        """Whether the picture was put by while the feed stalled: it is older than its arrival.

        After a stall what was put by comes at once; the first picture that has to be waited for is
        a new one.
        """
        usual_s = max(_STALL_S, 2 * self._gap_s)  # in the dark some cameras give two a second
        self._gap_s = 0.0 if self._arrived_s is None else now_s - self._arrived_s
        self._arrived_s = now_s
        if self._gap_s > usual_s:
            self._to_skip = round(_BACKLOG_S * self.rate_hz)
            return True
        if self._to_skip and now_s - asked_s < 0.5 / self.rate_hz:
            self._to_skip -= 1
            return True
        self._to_skip = 0
        return False

    def close(self) -> None:
        """Stop waiting and let go of the camera."""
        self._closed = True
        if self._capture is not None:
            self._capture.release()
            self._capture = None


class StreamSource(CameraSource):
    """`Source` over a network stream by its address."""

    def __init__(self, address: str, rotation_deg: int = 0) -> None:
        try:
            super().__init__(address, rotation_deg)
        except UserError as error:
            raise UserError(
                _(
                    "stream {address} does not open within {seconds} s: check the address "
                    "and that the sender is running",
                    address=address,
                    seconds=_OPEN_TIMEOUT_MS // 1000,
                )
            ) from error

    def _open(self) -> cv2.VideoCapture | None:
        return open_capture(
            str(self._device),
            cv2.CAP_FFMPEG,
            (
                cv2.CAP_PROP_OPEN_TIMEOUT_MSEC,
                _OPEN_TIMEOUT_MS,
                cv2.CAP_PROP_READ_TIMEOUT_MSEC,
                _OPEN_TIMEOUT_MS,
            ),
        )
