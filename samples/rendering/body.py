"""A parametric person: stature, build and posture to a posed mesh with its true joints.

The shape comes from the `anny` body model (imported only when a body is built for the first time;
the result is cached as an .npz file). Posing is done here, in numpy: forward kinematics with
two-bone inverse kinematics for the legs and linear blend skinning.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from .rotation import FORWARD, Array, about, align, between, unit

Side = Literal["L", "R"]
SIDES: tuple[Side, Side] = ("L", "R")

BODY_VERTICES = (0, 13379)
"""First and last vertex of the bare body in the base mesh; what follows are helper surfaces."""
EYE_VERTICES: Mapping[Side, tuple[int, int]] = {"L": (14598, 14669), "R": (14670, 14741)}


@dataclass(frozen=True)
class Build:
    """Who the person is. `stature_m` is barefoot, sole to top of head, standing upright."""

    name: str
    sex: Literal["woman", "man"]
    stature_m: float
    weight: float = 0.5
    """0 very slim, 0.5 average, 1 very heavy (the body model's own scale)."""
    muscle: float = 0.5
    age: float = 0.68
    """0.30 seven years, 0.415 eleven, 0.67 young adult, 1 old (the body model's own scale)."""
    skull: tuple[float, float, float] | None = None
    """Weights of the body model's three shapes of skull and face; None: a third each."""


@dataclass(frozen=True)
class RestBody:
    """A body in its rest posture (arms and legs spread), as arrays.

    `vertices` (V, 3) and `joints` (J, 3) in metres; `bone_index` and `bone_weight` (V, K);
    `quads` (F, 4) vertex indices and `quad_uv` (F, 4, 2) texture coordinates; `keypoint_weight`
    (P, V) regresses the named `keypoints` from the posed vertices; `groups` maps a surface's
    name to its quads.
    """

    build: Build
    vertices: Array
    joints: Array
    bones: tuple[str, ...]
    parents: tuple[int, ...]
    bone_index: NDArray[np.int64]
    bone_weight: Array
    quads: NDArray[np.int64]
    groups: Mapping[str, NDArray[np.int64]]
    keypoints: tuple[str, ...]
    keypoint_weight: Array
    stature_m: float

    def bone(self, name: str) -> int:
        """Index of a bone."""
        return self.bones.index(name)

    def joint(self, name: str) -> Array:
        """Rest position of a bone's head, metres."""
        return self.joints[self.bones.index(name)]

    @property
    def sole_z(self) -> float:
        """Height of the bare sole in the rest posture, metres (negative)."""
        return float(self.vertices[: BODY_VERTICES[1] + 1, 2].min())

    def leg_length(self, side: Side) -> float:
        """Thigh plus shank, metres."""
        hip, knee, ankle = (self.joint(f"{b}.{side}") for b in ("upperleg01", "lowerleg01", "foot"))
        return float(np.linalg.norm(knee - hip) + np.linalg.norm(ankle - knee))


@dataclass(frozen=True)
class Leg:
    """Where a foot is: ankle position (world, metres), foot rotation, knee direction, toe bend."""

    ankle: Array
    foot: Array = field(default_factory=lambda: np.eye(3))
    knee_towards: Array = field(default_factory=FORWARD.copy)
    toes_up: float = 0.0


@dataclass(frozen=True)
class Arm:
    """Directions (world) of upper arm and forearm; `twist` (radians) turns the palm inwards."""

    upper: Array
    fore: Array
    twist: float = 0.85
    finger_curl: float = 0.45


@dataclass(frozen=True)
class Posture:
    """A whole posture. `hips` is the world position of the point between the hip joints."""

    hips: Array
    pelvis: Array
    thorax: Array
    head: Array
    legs: Mapping[Side, Leg]
    arms: Mapping[Side, Arm]


@dataclass(frozen=True)
class PosedBody:
    """World vertices of every surface, rest offsets already skinned, and named points, metres."""

    vertices: Array
    points: Mapping[str, Array]
    transforms: Array
    """(J, 3, 4) rest-to-world transform of each bone, to skin further surfaces with."""


def cache_folder() -> Path:
    """Where built bodies are kept; set SAMPLE_RENDER_CACHE to move it."""
    default = Path.home() / ".cache" / "sample-rendering"
    folder = Path(os.environ.get("SAMPLE_RENDER_CACHE", default))
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@lru_cache(maxsize=1)
def _model() -> Any:
    os.environ.setdefault("ANNY_CACHE_DIR", str(cache_folder() / "anny"))
    import anny
    from anny.models.model_data import TopologyConfig

    topology = TopologyConfig(
        "makehuman", remove_unattached_vertices=False, triangulate_faces=False, tongue=False
    )
    return anny.Anny(topology=topology, phenotypes="all")


def _base_mesh_quads() -> dict[str, NDArray[np.int64]]:
    """Quads of each named group of the base mesh (body and helper surfaces)."""
    import anny.paths
    import anny.utils.obj_utils

    path = anny.paths.get_anny_root_dir() / "data" / "mpfb2" / "3dobjs" / "base.obj"
    _, _, groups = anny.utils.obj_utils.load_obj_file(path)
    return {
        name: np.asarray(group["face_vertex_indices"], dtype=np.int64)
        for name, group in groups.items()
        if not name.startswith("joint")
    }


def _evaluate(build: Build, height: float) -> RestBody:
    """The model at one value of its own `height` parameter (0 to 1)."""
    import anny

    model = _model()
    skull = dict(zip(("african", "asian", "caucasian"), build.skull or (0.5,) * 3, strict=True))
    out = model(
        phenotype_kwargs={
            **skull,
            "gender": 1.0 if build.sex == "woman" else 0.0,
            "age": build.age,
            "height": height,
            "weight": build.weight,
            "muscle": build.muscle,
            "proportions": 0.4,
        }
    )
    regressor = anny.KeypointsRegressor.coco(model)
    body = RestBody(
        build=build,
        vertices=out["rest_vertices"][0].numpy().astype(np.float64),
        joints=out["rest_bone_heads"][0].numpy().astype(np.float64),
        bones=tuple(model.bone_labels),
        parents=tuple(int(p) for p in model.bone_parents),
        bone_index=model.vertex_bone_indices.numpy().astype(np.int64),
        bone_weight=model.vertex_bone_weights.numpy().astype(np.float64),
        quads=model.faces.numpy().astype(np.int64),
        groups=_base_mesh_quads(),
        keypoints=tuple(regressor.labels),
        keypoint_weight=regressor.regression_weights.numpy().astype(np.float64),
        stature_m=0.0,
    )
    posed = pose(body, upright(body))
    bare = posed.vertices[: BODY_VERTICES[1] + 1, 2]
    object.__setattr__(body, "stature_m", float(bare.max() - bare.min()))
    return body


def build_body(build: Build) -> RestBody:
    """The body with the wanted stature (within 0.2 mm), from the cache when it is there."""
    told = {name: value for name, value in asdict(build).items() if value is not None}
    key = hashlib.sha1(json.dumps(told, sort_keys=True).encode()).hexdigest()[:16]
    path = cache_folder() / f"body-{key}.npz"
    if path.exists():
        return _load(path, build)
    low, high = -0.3, 1.3
    for _ in range(24):
        middle = (low + high) / 2.0
        body = _evaluate(build, middle)
        if abs(body.stature_m - build.stature_m) < 2e-4:
            break
        low, high = (middle, high) if body.stature_m < build.stature_m else (low, middle)
    else:
        raise ValueError(f"cannot reach a stature of {build.stature_m} m")
    _save(path, body)
    return body


def _save(path: Path, body: RestBody) -> None:
    arrays = {
        name: getattr(body, name)
        for name in ("vertices", "joints", "bone_index", "bone_weight", "quads", "keypoint_weight")
    }
    arrays |= {f"group:{name}": quads for name, quads in body.groups.items()}
    np.savez_compressed(
        path,
        **arrays,
        bones=np.array(body.bones),
        parents=np.array(body.parents),
        keypoints=np.array(body.keypoints),
        stature_m=body.stature_m,
    )


def _load(path: Path, build: Build) -> RestBody:
    with np.load(path) as data:
        return RestBody(
            build=build,
            vertices=data["vertices"],
            joints=data["joints"],
            bones=tuple(str(b) for b in data["bones"]),
            parents=tuple(int(p) for p in data["parents"]),
            bone_index=data["bone_index"],
            bone_weight=data["bone_weight"],
            quads=data["quads"],
            groups={k[6:]: data[k] for k in data.files if k.startswith("group:")},
            keypoints=tuple(str(k) for k in data["keypoints"]),
            keypoint_weight=data["keypoint_weight"],
            stature_m=float(data["stature_m"]),
        )


def hip_centre(body: RestBody) -> Array:
    """Rest position of the point between the hip joints, metres."""
    return (body.joint("upperleg01.L") + body.joint("upperleg01.R")) / 2.0


def hanging_arm(side: Side, spread: float = 0.16, bend: float = 0.25, swing: float = 0.0) -> Arm:
    """An arm hanging at the side of a person with yaw 0; angles in radians.

    `spread` away from the body, `bend` of the elbow, `swing` forward from the shoulder.
    """
    out = 1.0 if side == "L" else -1.0

    def direction(forward: float, sideways: float) -> Array:
        return unit(
            np.array([out * np.tan(sideways), -np.tan(forward) if abs(forward) < 1.5 else 0, -1.0])
        )

    return Arm(direction(swing, spread), direction(swing + bend, spread * 0.45))


def upright(body: RestBody) -> Posture:
    """Standing upright at the origin, barefoot soles at z = 0, facing -y."""
    eye = np.eye(3)
    legs = {}
    for side in SIDES:
        ankle = body.joint(f"foot.{side}").copy()
        hip = body.joint(f"upperleg01.{side}")
        ankle[0] = hip[0] * 0.95
        ankle[2] -= body.sole_z
        legs[side] = Leg(ankle)
    reach = 0.9995 * body.leg_length("L")
    gap = body.joint("upperleg01.L")[1] - body.joint("foot.L")[1]
    side_gap = body.joint("upperleg01.L")[0] * 0.05
    hips = hip_centre(body).copy()
    hips[2] = legs["L"].ankle[2] + np.sqrt(reach**2 - gap**2 - side_gap**2)
    arms = {side: hanging_arm(side) for side in SIDES}
    return Posture(hips, eye, eye, eye, legs, arms)


def bend_leg(
    hip: Array, ankle: Array, thigh: float, shank: float, towards: Array
) -> tuple[Array, Array]:
    """Knee position (metres) and plane normal of a two-bone leg, stretched to 99.95 % at most."""
    line = ankle - hip
    length = min(float(np.linalg.norm(line)), 0.9995 * (thigh + shank))
    direction = unit(line)
    across = unit(towards - direction * float(towards @ direction))
    along = (thigh**2 - shank**2 + length**2) / (2.0 * length)
    height = np.sqrt(max(thigh**2 - along**2, 0.0))
    return hip + direction * along + across * height, np.cross(direction, across)


def _leg_rotations(body: RestBody, side: Side, hip: Array, leg: Leg) -> tuple[Array, Array]:
    rest_hip, rest_knee, rest_ankle = (
        body.joint(f"{bone}.{side}") for bone in ("upperleg01", "lowerleg01", "foot")
    )
    thigh, shank = rest_knee - rest_hip, rest_ankle - rest_knee
    knee, normal = bend_leg(
        hip,
        leg.ankle,
        float(np.linalg.norm(thigh)),
        float(np.linalg.norm(shank)),
        leg.knee_towards,
    )
    upper = align(thigh, FORWARD, knee - hip, np.cross(normal, knee - hip))
    lower = align(shank, FORWARD, leg.ankle - knee, np.cross(normal, leg.ankle - knee))
    return upper, lower


def _arm_rotations(body: RestBody, side: Side, arm: Arm) -> tuple[Array, Array]:
    shoulder, elbow, wrist = (
        body.joint(f"{bone}.{side}") for bone in ("upperarm01", "lowerarm01", "wrist")
    )
    rest_upper, rest_fore = elbow - shoulder, wrist - elbow
    rest_axis = np.cross(rest_upper, rest_fore)
    axis = np.cross(arm.upper, arm.fore)
    upper = align(rest_upper, rest_axis, arm.upper, axis)
    fore = align(rest_fore, rest_axis, arm.fore, axis)
    return upper, fore


def pose(body: RestBody, posture: Posture) -> PosedBody:
    """Skin the whole mesh for a posture and read off the true points."""
    turn = dict.fromkeys(body.bones, posture.pelvis)
    for index, name in enumerate(("spine05", "spine04", "spine03", "spine02", "spine01")):
        turn[name] = between(posture.pelvis, posture.thorax, (index + 1) / 5.0)
    for index, name in enumerate(("neck01", "neck02", "neck03")):
        turn[name] = between(posture.thorax, posture.head, (index + 1) / 4.0)
    for name in ("head", "eye.L", "eye.R"):
        turn[name] = posture.head
    middle = hip_centre(body)
    for side in SIDES:
        hip = posture.hips + posture.pelvis @ (body.joint(f"upperleg01.{side}") - middle)
        leg = posture.legs[side]
        upper, lower = _leg_rotations(body, side, hip, leg)
        turn |= {f"upperleg0{i}.{side}": upper for i in (1, 2)}
        turn |= {f"lowerleg0{i}.{side}": lower for i in (1, 2)}
        turn[f"foot.{side}"] = leg.foot
        toes = leg.foot @ about(np.array([1.0, 0.0, 0.0]), -leg.toes_up)
        turn |= {b: toes for b in body.bones if b.startswith("toe") and b.endswith(side)}
        arm = posture.arms[side]
        upper, fore = _arm_rotations(body, side, arm)
        turn[f"clavicle.{side}"] = between(posture.thorax, upper, 0.10)
        turn[f"shoulder01.{side}"] = between(posture.thorax, upper, 0.30)
        turn |= {f"upperarm0{i}.{side}": upper for i in (1, 2)}
        inwards = -arm.twist if side == "L" else arm.twist
        turn[f"lowerarm01.{side}"] = about(arm.fore, 0.25 * inwards) @ fore
        turn[f"lowerarm02.{side}"] = about(arm.fore, 0.65 * inwards) @ fore
        hand = about(arm.fore, inwards) @ fore
        turn[f"wrist.{side}"] = hand
        _curl_fingers(body, side, hand, arm.finger_curl, turn)
    transforms = _chain(body, turn, posture.hips - posture.pelvis @ middle)
    vertices = skin(body.vertices, body.bone_index, body.bone_weight, transforms)
    return PosedBody(vertices, _points(body, vertices, transforms), transforms)


def _curl_fingers(
    body: RestBody, side: Side, hand: Array, curl: float, turn: dict[str, Array]
) -> None:
    """Bend the four fingers by `curl` radians at each joint, the thumb by a third of it."""
    knuckles = body.joint(f"finger5-1.{side}") - body.joint(f"finger2-1.{side}")
    along = body.joint(f"finger3-2.{side}") - body.joint(f"wrist.{side}")
    palm = np.cross(knuckles, along) * (1.0 if side == "L" else -1.0)
    axis = np.cross(along, palm if palm[2] < 0 else -palm)
    for name in body.bones:
        if not name.endswith(side):
            continue
        if name.startswith("metacarpal"):
            turn[name] = hand
        elif name.startswith("finger"):
            joint = int(name.split("-")[1][0])
            amount = curl * joint * (0.35 if name.startswith("finger1") else 1.0)
            turn[name] = hand @ about(axis, amount)


def _chain(body: RestBody, turn: Mapping[str, Array], root: Array) -> Array:
    """Rest-to-world transforms (J, 3, 4); `root` is where the rest origin goes."""
    transforms = np.zeros((len(body.bones), 3, 4))
    for index, (name, parent) in enumerate(zip(body.bones, body.parents, strict=True)):
        head = body.joints[index]
        if index == 0:
            place = root + turn[name] @ head
        else:
            place = transforms[parent, :, :3] @ head + transforms[parent, :, 3]
        transforms[index, :, :3] = turn[name]
        transforms[index, :, 3] = place - turn[name] @ head
    return transforms


def skin(rest: Array, index: NDArray[np.int64], weight: Array, transforms: Array) -> Array:
    """Linear blend skinning of rest vertices (V, 3) to world vertices (V, 3), metres."""
    blended = np.einsum("vk,vkij->vij", weight, transforms[index])
    return np.einsum("vij,vj->vi", blended[:, :, :3], rest) + blended[:, :, 3]


def _points(body: RestBody, vertices: Array, transforms: Array) -> dict[str, Array]:
    """Named true points, metres: regressed keypoints, eye fronts and centres, skeleton joints."""
    points = dict(zip(body.keypoints, body.keypoint_weight @ vertices, strict=True))
    for side, word in (("L", "left"), ("R", "right")):
        first, last = EYE_VERTICES[side]
        rest = body.vertices[first : last + 1]
        front = np.argsort(rest[:, 1])[:8]
        points[f"{word}_pupil"] = vertices[first : last + 1][front].mean(axis=0)
        points[f"{word}_eyeball"] = vertices[first : last + 1].mean(axis=0)
        for bone in ("upperleg01", "lowerleg01", "foot", "upperarm01", "lowerarm01", "wrist"):
            index = body.bone(f"{bone}.{side}")
            points[f"{word}_{bone}_bone"] = (
                transforms[index, :, :3] @ body.joints[index] + transforms[index, :, 3]
            )
    return points
