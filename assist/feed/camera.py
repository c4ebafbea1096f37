"""Cameras and streams: pictures that arrive by themselves."""

from __future__ import annotations

import time

import cv2

from assist.errors import UserError
from assist.feed import Frame
from assist.feed.capture import check_rotation, open_capture, turned, usable_rate
from assist.system import System, here
from assist.system.cameras import interfaces

_RETRY_EVERY_S = 1.0
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
        self._capture = self._open()
        if self._capture is None:
            raise UserError(
                f"camera {device} does not open: check that it is plugged in, that no other "
                "program uses it and that this one may (0 is the first camera)"
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
                found, picture = self._capture.read()
                if found and picture is not None and picture.size:
                    self._index += 1
                    return Frame(
                        turned(picture, self._rotation_deg),  # type: ignore[arg-type]
                        time.monotonic(),
                        self._index,
                    )
                self._capture.release()
                self._capture = None
            time.sleep(_RETRY_EVERY_S)
            if not self._closed:
                self._capture = self._open()
        return None

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
                f"stream {address} does not open within {_OPEN_TIMEOUT_MS // 1000} s: check the "
                "address and that the sender is running"
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
