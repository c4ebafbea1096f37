"""The looks themselves. Each runs in a process of its own, tells what it sees, and lets go.

Told are numbers and the names that makers give to devices; a picture only by the probe that is
asked for one.
"""

from __future__ import annotations

import contextlib
import json
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from assist.base.errors import UserError
from assist.base.words import Words, _, of_error, use
from assist.check.probe_process import MARK, Lacking

_WATCH_S = 1.5
"""How long a feed's pictures are counted."""
_SPEED_S = 4.0
"""How long the whole chain is run for its speed; the first picture is not counted."""
_BLACK = 8.0
"""Mean brightness (0 to 255) under which a picture shows nothing: a lens cap, a shutter."""


def run(name: str, language: str, arguments: list[str]) -> None:
    """Run a probe by its name; what it raises is told as its problem, in that language."""
    use(Words(language))
    try:
        _PROBES[name](*arguments)
    except Exception as error:  # whatever it is, the parent wants one line
        _tell(problem=" ".join(of_error(error).split()) or type(error).__name__)


def _tell(**values: Any) -> None:
    print(f"\n{MARK}{json.dumps(values)}", flush=True)


@contextlib.contextmanager
def _needing(part: Lacking, kind: type[Exception]) -> Iterator[None]:
    """What is raised within, of that kind, means that the part is not there."""
    try:
        yield
    except kind:
        _tell(lacks=part)
        raise


def _libraries() -> None:
    import cv2  # noqa: PLC0415
    import mediapipe  # noqa: PLC0415
    import numpy as np  # noqa: PLC0415

    _tell(opencv=cv2.__version__, mediapipe=mediapipe.__version__, numpy=np.__version__)


def _model(file: str = "") -> None:
    """The pose network and all that follows it, on the clip that comes with the program."""
    from assist.feed.video_file import VideoFileSource  # noqa: PLC0415
    from assist.guidance.assistant import Moment  # noqa: PLC0415
    from assist.pose.mediapipe_backend import MediaPipePoseDetector  # noqa: PLC0415
    from assist.run import demo  # noqa: PLC0415
    from assist.run.live import LiveOptions, LiveRun  # noqa: PLC0415
    from assist.setup.set_up import load  # noqa: PLC0415

    samples = demo.sample_folder()
    with _needing("model", UserError):
        detector = MediaPipePoseDetector(Path(file) if file else None)
    with detector:
        _tell(loaded=True)
        found: list[bool] = []
        times: list[float] = []

        def count(moment: Moment) -> None:
            found.append(moment.pose is not None)
            times.append(time.perf_counter())
            if times[-1] - times[0] > _SPEED_S:
                chain.stop()

        chain = LiveRun(
            load(samples / demo.SET_UP),
            VideoFileSource(samples / demo.CLIP),
            detector,
            LiveOptions(window=False, orders_by=None),
            on_moment=count,
        )
        chain.run()
    rate_hz = (len(times) - 1) / (times[-1] - times[0]) if len(times) > 1 else 0.0
    _tell(pictures=len(found), with_person=sum(found), rate_hz=round(rate_hz, 1))


def _video_files() -> None:
    """A video is read and one is written."""
    from assist.feed.video_file import VideoFileSource  # noqa: PLC0415
    from assist.output.video import VideoOutput  # noqa: PLC0415
    from assist.run import demo  # noqa: PLC0415

    source = VideoFileSource(demo.sample_folder() / demo.CLIP)
    frame = source.read()
    source.close()
    if frame is None:
        raise UserError(_("the sample clip gives no picture"))
    height, width = frame.picture.shape[:2]
    _tell(read=True)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "written.mp4")
        video = VideoOutput(path, (width, height), 25.0)
        for k in range(5):
            video.write(frame.picture, k / 25)
        video.close()
        again = VideoFileSource(path)
        pictures = 0
        while again.read() is not None:
            pictures += 1
        again.close()
    if pictures == 0:
        raise UserError(_("a video that was written cannot be read"))
    _tell(written=True)


def _feed_picture(name: str) -> None:
    """One small picture of a feed, for whoever chooses among several."""
    import base64  # noqa: PLC0415

    import cv2  # noqa: PLC0415

    from assist.feed import open_source  # noqa: PLC0415

    source = open_source(name)
    try:
        frame = source.read()
        began_s = time.perf_counter()
        # A camera's first pictures may be dark: it has yet to expose.
        while source.live and frame is not None and time.perf_counter() - began_s < _WATCH_S / 2:
            frame = source.read() or frame
        if frame is None:
            raise UserError(_("it opens, but gives no picture"))
        height, width = frame.picture.shape[:2]
        small = cv2.resize(frame.picture, (320, max(1, round(320 * height / width))))
        written, jpeg = cv2.imencode(".jpg", small)
        picture = base64.b64encode(jpeg.tobytes()).decode() if written else ""
        _tell(width_px=width, height_px=height, picture=picture)
    finally:
        source.close()


def _feed(name: str) -> None:
    """A camera, or any other feed, as `assist live` opens it."""
    from assist.feed import open_source  # noqa: PLC0415

    source = open_source(name)
    try:
        _tell(opened=True)
        first = source.read()
        if first is None:
            raise UserError(_("it opens, but gives no picture"))
        height, width = first.picture.shape[:2]
        _tell(width_px=width, height_px=height, black=float(first.picture.mean()) < _BLACK)
        began_s = time.perf_counter()
        pictures, last = 0, first
        while time.perf_counter() - began_s < _WATCH_S:
            frame = source.read()
            if frame is None:
                break
            pictures, last = pictures + 1, frame
        took_s = time.perf_counter() - began_s
        # A camera's first pictures may be dark: it has yet to expose.
        _tell(black=float(last.picture.mean()) < _BLACK)
        if source.live and pictures:
            _tell(rate_hz=round(pictures / took_s, 1))
    finally:
        source.close()


def _window() -> None:
    import numpy as np  # noqa: PLC0415

    from assist.output.window import PreviewWindow  # noqa: PLC0415

    window = PreviewWindow((640, 360))
    try:
        for _time in range(10):
            window.show(np.full((360, 640, 3), 32, np.uint8))
            time.sleep(0.03)
        if window.closed:
            raise UserError(_("a window opens, but does not stay open"))
    finally:
        window.close()
    _tell(shown=True)


def _sound() -> None:
    """The loudspeaker is opened and given silence."""
    import numpy as np  # noqa: PLC0415

    from assist.output.sound.output import (  # noqa: PLC0415
        Loudspeaker,
        NoSoundError,
        device_rate_hz,
    )

    try:
        rate_hz = device_rate_hz()
    except NoSoundError as error:
        cause = error.__cause__
        package, library = isinstance(cause, ImportError), isinstance(cause, OSError)
        _tell(lacks="package" if package else "library" if library else "device")
        raise
    loudspeaker = Loudspeaker(lambda count: np.zeros(count, np.float32), rate_hz)
    try:
        time.sleep(0.3)
        if not loudspeaker.alive:
            raise UserError(_("the device opens, but plays nothing"))
        _tell(rate_hz=rate_hz, latency_s=round(loudspeaker.latency_s, 3))
    finally:
        loudspeaker.close()


def _speech(language: str) -> None:
    """The engine is asked for a voice, without a sound."""
    from assist.base.system import here  # noqa: PLC0415
    from assist.output.speech.engines import (  # noqa: PLC0415
        NoSpeechError,
        check_voice,
        find_program,
    )

    with _needing("engine", NoSpeechError):
        name, program = find_program(here())
    _tell(program=name)
    check_voice(name, program, language)


def _tether() -> None:
    """Cameras on a cable are listed, none is taken hold of."""
    from assist.camera.tether import load_binding  # noqa: PLC0415

    with _needing("binding", UserError):
        binding = load_binding()
    found = binding.Camera.autodetect()
    _tell(cameras=len(found), names=[str(name) for name, _port in found])


_PROBES: dict[str, Callable[..., None]] = {
    "libraries": _libraries,
    "model": _model,
    "video": _video_files,
    "feed": _feed,
    "feed_picture": _feed_picture,
    "window": _window,
    "sound": _sound,
    "speech": _speech,
    "tether": _tether,
}
