"""Pose detection by MediaPipe's PoseLandmarker."""

from __future__ import annotations

import contextlib
import functools
import math
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from assist.base.closing import Closing
from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.signals import held
from assist.base.system import cores
from assist.base.words import _
from assist.pose import Glance, Pose, PoseDetector, networks
from assist.pose.bundle import load_bundle
from assist.pose.face import Face, FaceFinder
from assist.pose.landmarks import COUNT, Landmark
from assist.pose.litert_face import LiteRtFaceFinder
from assist.pose.lookout import Lookout, covered
from assist.pose.network import network_of
from optics.checks import FloatArray

FACE_EVERY_S = 1 / 15
"""The face tells the size of the picture's errors, which change slowly; less often would do, more
often would only cost."""
_EARLY_S = 0.005
"""Pictures do not come quite evenly; one that is early by less than this is due all the same."""
_HEAD_HALF_M = 0.2
_SHIFT = 0.04
"""How far the square round a head is shifted and resized from look to look, over its half-side: in
rendered visits to a mark, the mean of twenty looks differs by 0.8 % from visit to visit with 3 to 5
per cent, by 1.1 % with none, and by 1.0 % with 10."""
_SPREAD_EVENLY = (0.8191725134, 0.6710436067, 0.5497004779)
"""1 / g, 1 / g^2, 1 / g^3 with g^4 = g + 1: fractions of their multiples fill a cube evenly, in any
number (a Kronecker sequence). Common practice, no source."""
_UPPER_BODY = slice(0, Landmark.LEFT_ELBOW)
_TRUNK = [
    Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER, Landmark.LEFT_HIP, Landmark.RIGHT_HIP,
]  # fmt: skip
_OTHERS = 2
"""How many others are told apart in one look; that there is one is what matters."""


class MediaPipePoseDetector(PoseDetector, Closing):
    """`PoseDetector` on MediaPipe's Tasks interface, in its video mode, or for stills.

    The network follows a person from frame to frame and searches the whole picture only when it
    has lost them. With `people` above one it goes on searching for the missing ones, which costs
    about as much again per frame. With `stills` every picture is searched for itself, as is right
    for pictures that have nothing to do with each other.

    With `faces` the face of one person is looked for too, where the installed library can: of the
    one to whom `attend` pointed last, else of the largest. In a feed that happens beside the pose
    network, on another core, where the head was a picture ago; in stills after it.

    With `lookout` others are looked for beside the network, a few times a second: see `glance`.
    """

    @held()
    def __init__(
        self,
        model: Path | None = None,
        *,
        people: int = 1,
        confidence: float = 0.5,
        stills: bool = False,
        faces: bool = True,
        lookout: bool = False,
    ) -> None:
        content = load_bundle(model)
        self.network = network_of(content)
        with _quiet_native_log():
            import mediapipe  # noqa: PLC0415  (half a second; only where it is needed)
            from mediapipe.tasks.python import BaseOptions, vision  # noqa: PLC0415

            # The file is read here and not by path, which the library takes relative to itself on
            # some systems and cannot open when it has other than ASCII letters on others.
            self._options = vision.PoseLandmarkerOptions(
                base_options=BaseOptions(model_asset_buffer=content),
                running_mode=vision.RunningMode.IMAGE if stills else vision.RunningMode.VIDEO,
                num_poses=people,
                min_pose_detection_confidence=confidence,
                min_pose_presence_confidence=confidence,
                min_tracking_confidence=confidence,
            )
            _warn_at_once()
            self._make = vision.PoseLandmarker.create_from_options
        try:
            self._landmarker: Any = self._load()
        except (RuntimeError, ValueError) as error:
            named = _("the installed mediapipe's") if model is None else str(model)
            raise UserError(
                _(
                    "pose model {path} cannot be loaded, it is damaged or of another kind: {error}",
                    path=named,
                    error=str(error).splitlines()[0][:120],
                )
            ) from error
        self._image_class = mediapipe.Image
        self._srgb = mediapipe.ImageFormat.SRGB
        self._stills = stills
        self._last_ms = -1
        self._rgb: ColourImage | None = None
        if not hasattr(mediapipe, "CalculatorGraph"):
            self._warn_by_picture()
        self._faces: FaceFinder | None = None
        if faces and LiteRtFaceFinder.available():
            with _quiet_native_log():
                self._faces = LiteRtFaceFinder(stills=stills)
        self._beside = ThreadPoolExecutor(1, "face") if self._faces is not None else None
        self._head: _Head | None = None
        self._looks = 0
        self._face_due_s = -math.inf
        self._attended_px: FloatArray | None = None
        self._not_these: tuple[Pose, ...] = ()
        self._others: Any = self._load_for_stills(_OTHERS) if lookout else None
        self._lookout = Lookout(self._search) if lookout else None

    def _warn_by_picture(self) -> None:
        """As `_warn_at_once`, for releases that have no graphs to run: by a picture of somebody."""
        content = (resources.files(networks) / "person.jpg").read_bytes()
        person = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)
        with _quiet_native_log(), contextlib.suppress(RuntimeError, ValueError):
            self._run(np.asarray(person, np.uint8), 0.0)
            self._run(np.zeros_like(person), 0.0)  # and nobody, so that nobody is followed

    def _load(self) -> Any:
        """The pose network. Raises RuntimeError or ValueError when the library cannot load it."""
        with _quiet_native_log():
            before = cores.own_threads()
            network = self._make(self._options)
            self.threads = cores.own_threads() - before
        return network

    def _load_for_stills(self, people: int) -> Any:
        """Another of the kind, which searches each picture by itself. Raises as loading does."""
        options = replace(
            self._options, running_mode=type(self._options.running_mode).IMAGE, num_poses=people
        )
        with _quiet_native_log():
            return self._make(options)

    def _search(self, picture: ColourImage) -> list[Pose]:
        """People in a picture, by the lookout's network. Raises RuntimeError or ValueError."""
        rgb = cv2.cvtColor(picture, cv2.COLOR_BGR2RGB)
        assert self._others is not None  # whoever closes it has no lookout any more
        found = self._others.detect(self._image_class(image_format=self._srgb, data=rgb))
        return _to_poses(found, picture)

    def glance(self, *, wait: bool) -> Glance | None:
        """See `PoseDetector`."""
        return None if self._lookout is None else self._lookout.glance(wait=wait)

    def attend(self, pose: Pose) -> None:
        """See `PoseDetector`; may be called from any thread."""
        self._attended_px = pose.image_px[_TRUNK].mean(axis=0)

    def search_again(self, not_these: Sequence[Pose]) -> None:
        """See `PoseDetector`; may be called from any thread."""
        self._not_these = tuple(not_these)

    def detect(self, picture: ColourImage, time_s: float) -> list[Pose] | None:
        """People in the picture; time that stands still or goes back is nudged forward.

        None when the network failed.
        """
        face = self._look_beside(picture, time_s)
        try:
            if self._landmarker is None:
                self._landmarker = self._load()
            not_these, self._not_these = self._not_these, ()
            if not_these:
                # What it followed is nowhere in a black picture, so that it searches the next one.
                self._run(np.zeros_like(picture), time_s)
                self._run(covered(picture, not_these), time_s)
            poses = _to_poses(self._run(picture, time_s), picture)
        except (RuntimeError, ValueError):
            # What has failed once is in an unknown state: the next picture gets a new network.
            self._free_landmarker()
            return None
        if self._lookout is not None:
            self._lookout.show(picture, time_s, poses)
        return poses if self._faces is None else self._with_face(poses, picture, face)

    def _run(self, picture: ColourImage, time_s: float) -> Any:
        """The network's answer to the next picture. Raises RuntimeError or ValueError."""
        self._last_ms = max(self._last_ms + 1, round(time_s * 1000))
        if self._rgb is None or self._rgb.shape != picture.shape:
            self._rgb = np.empty_like(picture)
        cv2.cvtColor(picture, cv2.COLOR_BGR2RGB, dst=self._rgb)
        image = self._image_class(image_format=self._srgb, data=self._rgb)
        if self._stills:
            return self._landmarker.detect(image)
        return self._landmarker.detect_for_video(image, self._last_ms)

    def _look_beside(self, picture: ColourImage, time_s: float) -> Future[Face | None] | None:
        """Start looking for the face where the head was, while the pose network works."""
        if self._faces is None or self._beside is None or self._stills or self._head is None:
            return None
        if 0 <= self._face_due_s - time_s <= FACE_EVERY_S:
            return None
        self._face_due_s = time_s + FACE_EVERY_S - _EARLY_S
        middle_px, half_px = self._head.shifted(self._looks)
        self._looks += 1
        return self._beside.submit(self._faces.find, picture, middle_px, half_px)

    def _with_face(
        self, poses: list[Pose], picture: ColourImage, beside: Future[Face | None] | None
    ) -> list[Pose]:
        """The poses, one of them with its face if that was found."""
        face = None if beside is None else _if_any(beside.result)
        heads = [_head(pose) for pose in poses]
        sizes = [0.0 if head is None else head.half_px for head in heads]
        if not poses or max(sizes) == 0:
            self._head = None
            return poses
        chosen = self._whose_face(poses, heads)
        head = self._head = heads[chosen]
        assert head is not None
        assert self._faces is not None
        if self._stills:
            faces = self._faces
            face = _if_any(lambda: faces.find(picture, head.middle_px, head.half_px))
        # Somebody else's face, or a picture on the wall, can lie in the square too.
        if face is not None and head.holds(face):
            poses[chosen] = replace(poses[chosen], face=face)
        return poses

    def _whose_face(self, poses: Sequence[Pose], heads: Sequence[_Head | None]) -> int:
        """Index of the pose whose face is wanted: that nearest to the one attended to."""
        at_px = self._attended_px
        if at_px is None:
            return int(np.argmax([0.0 if head is None else head.half_px for head in heads]))
        gaps = [
            math.inf
            if head is None
            else float(np.hypot(*(pose.image_px[_TRUNK].mean(axis=0) - at_px)))
            for pose, head in zip(poses, heads, strict=True)
        ]
        return int(np.argmin(gaps))

    def close(self) -> None:
        """Free the networks; safe to call twice."""
        if self._lookout is not None:
            self._lookout.close()
        others, self._others = self._others, None
        if others is not None:
            with contextlib.suppress(RuntimeError, ValueError), _quiet_native_log():
                others.close()
        if self._beside is not None:
            self._beside.shutdown()
            self._beside = None
        if self._faces is not None:
            with _quiet_native_log():
                self._faces.close()
            self._faces = None
        self._free_landmarker()

    def _free_landmarker(self) -> None:
        landmarker, self._landmarker = self._landmarker, None
        if landmarker is not None:
            with contextlib.suppress(RuntimeError, ValueError), _quiet_native_log():
                landmarker.close()


def _if_any(find: Callable[[], Face | None]) -> Face | None:
    """The face, or none when the network fails at it: the pose is worth having without."""
    try:
        return find()
    except (RuntimeError, ValueError, cv2.error):
        return None


@dataclass(frozen=True, slots=True)
class _Head:
    """Where a head is in a picture: a square round it, of about 0.2 m half-side."""

    middle_px: FloatArray
    half_px: float

    def shifted(self, number: int) -> tuple[FloatArray, float]:
        """Middle and half-side of the square for one look of many, each a little elsewhere.

        The mesh's size depends by a per cent or so on how the face lies in the square. Of somebody
        who stands still it would lie the same in every picture, and no number of them would help.
        """
        size, across, down = (2 * (number * step % 1.0) - 1 for step in _SPREAD_EVENLY)
        middle = self.middle_px + _SHIFT * self.half_px * np.array([across, down])
        return middle, self.half_px * (1 + _SHIFT * size)

    def holds(self, face: Face) -> bool:
        """Whether a face is that of this head."""
        away = face.points_px[:, :2].mean(axis=0) - self.middle_px
        return float(np.hypot(*away)) < self.half_px / 2


def _head(pose: Pose) -> _Head | None:
    """The square round the head of a pose; None where the landmarks coincide.

    Pixels to a metre by the spread of head and shoulders in the picture and in metres, the latter
    seen from the front as the picture is.
    """
    seen, metric = pose.image_px[_UPPER_BODY], pose.world_m[_UPPER_BODY, :2]
    spread_m = float(np.linalg.norm(metric - metric.mean(axis=0)))
    if not spread_m > 1e-3 or not np.isfinite(seen).all():
        return None
    per_metre = float(np.linalg.norm(seen - seen.mean(axis=0))) / spread_m
    middle = seen[: Landmark.LEFT_SHOULDER].mean(axis=0)
    return _Head(middle, _HEAD_HALF_M * per_metre)


def _to_poses(found: Any, picture: ColourImage) -> list[Pose]:
    """The library's answer in our own types."""
    height, width = picture.shape[:2]
    return [
        _to_pose(flat, world, width, height)
        for flat, world in zip(found.pose_landmarks, found.pose_world_landmarks, strict=True)
    ]


def _to_pose(flat: list[Any], world: list[Any], width: int, height: int) -> Pose:
    """Our own type from the library's two lists of landmarks."""
    image = np.fromiter(
        (value for mark in flat for value in (mark.x, mark.y, mark.visibility)),
        np.float64,
        3 * COUNT,
    ).reshape(COUNT, 3)
    metres = np.fromiter(
        (value for mark in world for value in (mark.x, mark.y, mark.z)), np.float64, 3 * COUNT
    ).reshape(COUNT, 3)
    return Pose(image[:, :2] * (width, height), metres, image[:, 2].copy(), width, height)


@functools.cache
def _warn_at_once() -> None:
    """Have the library give, here and now, the warning that comes with the first person it finds.

    It is of no use to anyone and given once a process. Later it could only be kept off the terminal
    together with all that other threads have to say meanwhile.
    """
    # Only a warning would be shown where a release of the library has these parts no longer.
    with contextlib.suppress(ImportError, AttributeError, RuntimeError, TypeError, ValueError):
        import mediapipe  # noqa: PLC0415
        from mediapipe.framework.formats import landmark_pb2, rect_pb2  # noqa: PLC0415

        graph = mediapipe.CalculatorGraph(graph_config=_PROJECTION)
        graph.start_run()
        marks = landmark_pb2.NormalizedLandmarkList(
            landmark=[landmark_pb2.NormalizedLandmark(x=0.5, y=0.5)]
        )
        oblong = rect_pb2.NormalizedRect(x_center=0.5, y_center=0.5, width=0.5, height=0.4)
        for stream, message in (("marks", marks), ("rect", oblong)):
            packet = mediapipe.packet_creator.create_proto(message).at(0)
            graph.add_packet_to_input_stream(stream, packet)
        graph.close_all_packet_sources()
        graph.wait_until_done()


_PROJECTION = """
input_stream: "marks"
input_stream: "rect"
output_stream: "projected"
node {
  calculator: "LandmarkProjectionCalculator"
  input_stream: "NORM_LANDMARKS:marks"
  input_stream: "NORM_RECT:rect"
  output_stream: "NORM_LANDMARKS:projected"
}
"""


@contextlib.contextmanager
def _quiet_native_log() -> Iterator[None]:
    """Keep the native library's start-up chatter off the terminal; our own errors still show."""
    try:
        sys.stderr.flush()
        saved = os.dup(2)
    except (OSError, ValueError):  # no terminal at all, as under a windowed launcher
        yield
        return
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(saved, 2)
        os.close(saved)
