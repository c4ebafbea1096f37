"""Two people together: how often HOLD is said to both when it is right, and when it is not.

Two pieces of footage, each with the truth of where both stand. The shipped clip with its person in
it twice, the second two seconds later. And `Demo_MultiPerson` in the wheel of the PyPI package
pose2sim (BSD-3-Clause): four calibrated cameras, a man and a woman, 100 frames, played to and fro;
the truth of one camera comes from the other three. Zones are laid so that both, one or none of the
two stand inside.

    python -m tests.benchmarks.together --data FOLDER
"""

from __future__ import annotations

import argparse
import itertools
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from assist.distance import BodyDistance, CueAbsent
from assist.distance.body_meter import BodyMeter
from assist.feed import Frame
from assist.guidance.assistant import Known, Moment
from assist.guidance.guide import Action, Reason
from assist.guidance.together import TogetherAssistant
from assist.guidance.verdict import Verdict
from assist.pose import Pose
from assist.pose.landmarks import Landmark
from assist.run import demo, true_distances
from assist.setup.body import SEGMENTS_PER_STATURE
from assist.setup.feed_profile import FeedProfile
from assist.setup.set_up import SetUp, from_values, load
from optics.camera import PinholeCamera
from optics.focus_zone import FocusZone
from tests.benchmarks import detections, four_cameras
from tests.benchmarks.tables import keep, table
from tests.benchmarks.two_copies import TwoCopies

L = Landmark
TRUNK = [L.LEFT_SHOULDER, L.RIGHT_SHOULDER, L.LEFT_HIP, L.RIGHT_HIP]
HALF_DEPTHS = (0.20, 0.12)
CENTRES = np.linspace(0.70, 1.40, 11)
"""Where the zones lie, over the mean distance of the two."""
_SETTLED_S = 1.0
_STOOD_S, _SWAY_M = 0.75, 0.05
"""Who has not moved by more for so long stands."""
_BORDER = 0.005
"""Relative: what the truth itself is not sure of at a zone's limit."""
_BLUR_M = 2.5e-5
_CLIP_HZ = 25.0


@dataclass(frozen=True)
class Scene:
    """Poses picture by picture, and the depth of everybody's eyes: (people, pictures), metres.

    statures_m: of each.   camera: the feed's.   left_first: numbers of the people from left to
    right on the mirrored screen.
    """

    name: str
    poses: list[list[Pose]]
    eyes_m: np.ndarray
    rate_hz: float
    camera: PinholeCamera
    statures_m: tuple[float, ...]
    left_first: tuple[int, ...]


def set_up_for(centre_m: float, half: float, statures_m: tuple[float, ...] | None) -> SetUp:
    """A set-up whose zone reaches about so far to each side of a distance, relative."""
    f_m = 0.05
    f_number = half * f_m**2 / (_BLUR_M * centre_m)
    together: dict[str, object] = {"people": 2}
    if statures_m is not None:
        together["statures_m"] = list(statures_m)
    return from_values(
        {
            "lens": {
                "focal_length_mm": f_m * 1000,
                "f_number": f_number,
                "focus_distance_m": centre_m,
            },
            "sharpness": {"criterion": f"{_BLUR_M * 1000} mm"},
            "together": together,
            "feed": {"through": "own-lens", "horizontal_field_of_view_deg": 60.0},
        }
    )


class _Recorded:
    """A body meter that measures once: what it says does not depend on the zone."""

    def __init__(self, meter: BodyMeter) -> None:
        self._meter = meter
        self._kept: list[tuple[BodyDistance | CueAbsent, bool, bool]] = []
        self._next = 0
        self._again = False
        self.fits, self.refit, self.forget = meter.fits, meter.refit, meter.forget

    def rewind(self) -> None:
        """From now on say again what was said."""
        self._next, self._again = 0, True

    @property
    def camera(self) -> PinholeCamera:
        return self._meter.camera

    @property
    def seems_small(self) -> bool:
        return bool(self._next) and self._kept[self._next - 1][1]

    @property
    def may_be_small(self) -> bool:
        return bool(self._next) and self._kept[self._next - 1][2]

    def measure(self, pose: Pose, time_s: float) -> BodyDistance | CueAbsent:
        if not self._again:
            found = self._meter.measure(pose, time_s)
            self._kept.append((found, self._meter.seems_small, self._meter.may_be_small))
        self._next += 1
        return self._kept[self._next - 1][0]


def moments_of(scene: Scene, set_up: SetUp, meters: list[_Recorded]) -> list[Moment]:
    """What is told of every picture. `meters`: empty at first; filled for further zones."""
    profile = FeedProfile.of_camera(scene.camera, "board", 0.005)
    assistant = TogetherAssistant(set_up, None, known=Known(feed=profile))  # type: ignore[arg-type]
    for number, one in enumerate(assistant._all):
        if len(meters) <= number:
            meters.append(_Recorded(one._meter))
        else:
            meters[number].rewind()
        one._meter = meters[number]  # type: ignore[assignment]
    black = np.zeros((scene.camera.height_px, scene.camera.width_px, 3), np.uint8)
    return [
        assistant.think(Frame(black, number / scene.rate_hz, number), poses)
        for number, poses in enumerate(scene.poses)
    ]


def inside(zone: FocusZone, eyes_m: np.ndarray) -> int | None:
    """How many stand in the zone; None where one is on its very limit."""
    for limit_m in (zone.near_m, zone.far_m):
        if (np.abs(eyes_m / limit_m - 1) < _BORDER).any():
            return None
    return sum(zone.holds(float(m)) for m in eyes_m)


def standing(scene: Scene) -> np.ndarray:
    """(pictures,) whether both have stood still for a while."""
    over = round(_STOOD_S * scene.rate_hz)
    filled = np.array([np.interp(range(len(m)), np.flatnonzero(~np.isnan(m)), m[~np.isnan(m)])
                       for m in scene.eyes_m])  # fmt: skip
    moved_m = [
        np.ptp(filled[:, max(0, k - over) : k + 1], axis=1).max() for k in range(filled.shape[1])
    ]
    return np.array(moved_m) < _SWAY_M


def count(
    scene: Scene, half: float, statures_m: tuple[float, ...] | None, meters: list[_Recorded]
) -> Counter[str]:
    """Pictures by how many stand in the zone and what was said."""
    found: Counter[str] = Counter()
    stands = standing(scene)
    mean_m = float(np.nanmean(scene.eyes_m))
    for centre in CENTRES:
        set_up = set_up_for(mean_m * float(centre), half, statures_m)
        for number, moment in enumerate(moments_of(scene, set_up, meters)):
            true_m = scene.eyes_m[:, number]
            if np.isnan(true_m).any() or number / scene.rate_hz < _SETTLED_S:
                continue
            of_two = inside(set_up.focus_zone, true_m)
            if of_two is None:
                continue
            found[f"{of_two}"] += 1
            found[f"{of_two} hold"] += moment.guidance.action is Action.HOLD
            found[f"{of_two} in focus"] += moment.assessment.verdict is Verdict.IN_FOCUS
            if stands[number]:
                found[f"{of_two} standing"] += 1
                found[f"{of_two} standing hold"] += moment.guidance.action is Action.HOLD
            found["who"] += moment.guidance.why.reason is Reason.WHO
            found["missing"] += moment.guidance.why.reason is Reason.MISSING
            found["all"] += 1
    return found


def rows_of(
    scene: Scene, halves: tuple[float, ...], statures_m: tuple[float, ...] | None, told: str
) -> list[list[str]]:
    """A row of the table for each depth of the zone."""
    meters: list[_Recorded] = []
    return [_row(scene, half, told, count(scene, half, statures_m, meters)) for half in halves]


def _row(scene: Scene, half: float, told: str, n: Counter[str]) -> list[str]:
    wrong, said = n["0 hold"] + n["1 hold"], n["0 hold"] + n["1 hold"] + n["2 hold"]
    return [
        scene.name,
        f"{half:.0%}",
        told,
        f"{n['2 in focus']} of {n['2']}",
        f"{n['2 standing hold']} of {n['2 standing']}",
        f"{n['1 in focus']} of {n['1']}",
        f"{n['0 in focus']} of {n['0']}",
        f"{wrong} of {said}",
        f"{n['who']} / {n['missing']} of {n['all']}",
    ]


# -- the shipped clip, twice --------------------------------------------------------------------


def shipped_twice(folder: Path, delay_s: float = 2.0, apart_px: float = 260.0) -> Scene:
    """The clip's person twice, the one on the right of the picture later by so much."""
    two = TwoCopies()
    last, late = len(two.frames) - 1, round(delay_s * _CLIP_HZ)
    copies = [
        ((min(k, last), -apart_px), (min(max(k - late, 0), last), apart_px))
        for k in range(last + 1 + late)
    ]
    return _twice(folder, f"shipped clip, twice, {delay_s:g} s apart", "late", two, copies)


def shipped_crossing(folder: Path) -> Scene:
    """The clip's person twice, standing; the nearer is moved across before the other and back."""
    copies = [
        (
            (150 + k % 30, 0.0),
            (235 + k % 60, float(np.interp(k, [35, 95, 145, 205], [-400, 400, 400, -400]))),
        )
        for k in range(240)
    ]
    return _twice(folder, "shipped clip, twice, crossing", "crossing", TwoCopies(), copies)


def _twice(
    folder: Path,
    name: str,
    file: str,
    two: TwoCopies,
    copies: list[tuple[tuple[int, float], tuple[int, float]]],
) -> Scene:
    known = true_distances.load(demo.sample_folder() / demo.TRUTH)
    clip = folder / f"{file}.mp4"
    if not clip.exists():
        far_first = [
            sorted(pair, key=lambda copy: -known.eyes_at(copy[0] / _CLIP_HZ)) for pair in copies
        ]
        two.write(clip, far_first, _CLIP_HZ)
    set_up = demo_set_up()
    camera = PinholeCamera.from_lens(
        set_up.sensor,
        set_up.focal_length_m,
        set_up.focus_lens_distance_m,
        two.frames[0].shape[1],
        two.frames[0].shape[0],
    )
    poses = detections.people_of_video(clip, folder / "detections", _CLIP_HZ, 2)
    eyes_m = np.array([[known.eyes_at(k / _CLIP_HZ) for k, _ in pair] for pair in copies]).T
    return Scene(name, poses, eyes_m, _CLIP_HZ, camera, (1.70, 1.70), (1, 0))


def demo_set_up() -> SetUp:
    """The clip's own set-up."""
    return load(demo.sample_folder() / demo.SET_UP)


# -- two real people ----------------------------------------------------------------------------


def _trunk(pose: Pose) -> np.ndarray:
    return pose.image_px[TRUNK].mean(axis=0)


def _same_point(
    views: list[four_cameras.PlacedCamera], spots: list[np.ndarray]
) -> tuple[np.ndarray, float]:
    """World point of some pixels and the largest reprojection error."""
    rows, target = [], []
    for view, spot in zip(views, spots, strict=True):
        ray = view.camera.normalised(spot)
        for axis in (0, 1):
            rows.append(ray[axis] * view.rotation[2] - view.rotation[axis])
            target.append(view.shift[axis] - ray[axis] * view.shift[2])
    point = np.linalg.lstsq(np.array(rows), np.array(target), rcond=None)[0]
    errors = [
        np.linalg.norm(v.camera.project(v.see(point)) - s)
        for v, s in zip(views, spots, strict=True)
    ]
    return point, float(max(errors))


def _bodies(
    views: list[four_cameras.PlacedCamera], poses: list[list[Pose]]
) -> dict[int, np.ndarray]:
    """World landmarks (33, 3) of the man (0) and the woman (1), who keep to ends of a platform."""
    best: dict[int, tuple[tuple[int, float], list[four_cameras.PlacedCamera], list[Pose]]] = {}
    for size in (3, 2):
        for chosen in itertools.combinations(range(len(views)), size):
            for which in itertools.product(*(poses[c] for c in chosen)):
                some = [views[c] for c in chosen]
                point, error = _same_point(some, [_trunk(p) for p in which])
                person, rank = 0 if point[0] < -0.3 else 1, (-size, error)
                if error < 40 and (person not in best or rank < best[person][0]):
                    best[person] = rank, some, list(which)
    return {
        person: four_cameras.triangulate(some, which)[0]
        for person, (_, some, which) in best.items()
    }


def _stature_m(landmarks_m: np.ndarray) -> float:
    """Of a body of usual proportions with those long segments."""
    pairs = {
        "side": ((L.LEFT_SHOULDER, L.LEFT_HIP), (L.RIGHT_SHOULDER, L.RIGHT_HIP)),
        "thigh": ((L.LEFT_HIP, L.LEFT_KNEE), (L.RIGHT_HIP, L.RIGHT_KNEE)),
        "shank": ((L.LEFT_KNEE, L.LEFT_ANKLE), (L.RIGHT_KNEE, L.RIGHT_ANKLE)),
    }
    length = sum(
        np.mean([np.linalg.norm(landmarks_m[a] - landmarks_m[b]) for a, b in sides])
        for sides in pairs.values()
    )
    return float(length / sum(SEGMENTS_PER_STATURE[name] for name in pairs))


def four_views(folder: Path) -> list[Scene]:
    """One scene for each camera."""
    place = four_cameras.fetch(folder, "Demo_MultiPerson")
    views = four_cameras.cameras(place)
    rate_hz = four_cameras.FRAMES_PER_SECOND
    poses = [
        detections.people_of_video(
            place / "videos" / f"{view.name}.mp4", folder / "detections", rate_hz, 2
        )
        for view in views
    ]
    pictures = len(poses[0])
    statures: dict[int, list[float]] = {0: [], 1: []}
    for picture in range(0, pictures, 5):
        for person, landmarks in _bodies(views, [p[picture] for p in poses]).items():
            statures[person].append(_stature_m(landmarks))
    of_each = tuple(round(float(np.median(statures[p])), 2) for p in (0, 1))
    scenes = []
    for judged, view in enumerate(views):
        others = [k for k in range(len(views)) if k != judged]
        eyes_m = np.full((2, pictures), np.nan)
        trunks = np.full((2, pictures), np.nan)
        for picture in range(pictures):
            bodies = _bodies([views[k] for k in others], [poses[k][picture] for k in others])
            for person, landmarks in bodies.items():
                seen = view.see(landmarks)
                eyes_m[person, picture] = seen[[L.LEFT_EYE, L.RIGHT_EYE], 2].mean()
                trunks[person, picture] = view.camera.project(seen[TRUNK].mean(axis=0))[0]
        there = [*range(0, pictures, 2), *range(pictures - 2, 0, -2)] * 2  # to and fro, twice
        across = np.nanmedian(trunks, axis=1)
        scenes.append(
            Scene(
                f"real, {view.name}",
                [poses[judged][k] for k in there],
                eyes_m[:, there],
                rate_hz / 2,
                view.camera,
                of_each,
                tuple(int(p) for p in np.argsort(-across)),
            )
        )
    return scenes


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, default=Path("together-data"))
    options = parser.parse_args()
    options.data.mkdir(parents=True, exist_ok=True)
    real = four_views(options.data)
    rows, told = [], real[0].statures_m
    for scene in (shipped_twice(options.data), shipped_crossing(options.data), *real):
        stated = tuple(scene.statures_m[k] for k in scene.left_first)
        rows += rows_of(scene, HALF_DEPTHS, stated, "stated")
        rows += rows_of(scene, HALF_DEPTHS[:1], None, "not stated")
        if scene in real:
            rows += rows_of(scene, HALF_DEPTHS[1:], stated[::-1], "exchanged")
    header = [
        "footage", "half depth of the zone", "statures", "in focus, both inside",
        "HOLD, both inside and standing", "in focus, one inside", "in focus, none inside",
        "HOLD wrong of all said", "who is who not sure / one missing",
    ]  # fmt: skip
    keep(
        "together",
        "# Two people together\n\n"
        f"Pictures from {_SETTLED_S:g} s on, over {len(CENTRES)} zones laid from "
        f"{CENTRES[0]:.0%} to {CENTRES[-1]:.0%} of the two people's mean distance. HOLD is the "
        "word of all, said when nobody walks; in focus the verdict on all. Exchanged: the two "
        "stand in the other order than their statures were stated in. The real people's statures "
        f"({told[0]:.2f} and {told[1]:.2f} m) follow "
        "from what four cameras see of their trunks and legs.\n\n" + table(header, rows),
    )


if __name__ == "__main__":
    main()
