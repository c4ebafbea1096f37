"""Clothes, shoes, hair and face for a body, as surfaces that are skinned with it.

Everything is derived in the rest posture from the base mesh: the `tights` helper surface becomes
shirt, trousers and shoes, the scalp or the `hair` helper surface becomes the hair.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .body import EYE_VERTICES, SIDES, RestBody
from .rotation import Array

Colour = tuple[float, float, float]
"""Linear red, green, blue, 0 to 1."""

SHOE_SOLE_M = 0.022
"""How much the shoes raise the person."""


@dataclass(frozen=True)
class Material:
    """What a surface looks like; `kind` selects the shader in `studio`."""

    kind: Literal["skin", "stripes", "checks", "weave", "plain", "hair", "eye", "knit", "shoe"]
    colour: Colour
    second: Colour = (0.05, 0.05, 0.05)
    scale: float = 1.0
    roughness: float = 0.8


@dataclass(frozen=True)
class Surface:
    """A skinned surface: rest vertices (V, 3), bones (V, K), polygons, an optional paint (V,)."""

    name: str
    rest: Array
    bone_index: NDArray[np.int64]
    bone_weight: Array
    faces: NDArray[np.int64]
    material: Material
    paint: Array | None = None
    thickness_m: float = 0.0


@dataclass(frozen=True)
class Outfit:
    """The choices for one person."""

    skin: Colour = (0.56, 0.33, 0.22)
    shirt: Material = Material("stripes", (0.75, 0.73, 0.68), (0.03, 0.06, 0.15), 1.0)
    trousers: Material = Material("weave", (0.05, 0.09, 0.18), (0.09, 0.15, 0.27), 1.0)
    shoes: Colour = (0.10, 0.045, 0.02)
    hair: Colour = (0.045, 0.022, 0.012)
    hair_style: Literal["long", "short", "hat"] = "long"
    hat: Material = Material("knit", (0.35, 0.06, 0.04), (0.25, 0.04, 0.03), 1.0)
    sleeves: Literal["long", "short"] = "long"
    looseness: float = 1.0


def vertex_normals(vertices: Array, faces: NDArray[np.int64]) -> Array:
    """Area-weighted unit normals (V, 3) of a quad mesh."""
    a, b, c, d = (vertices[faces[:, i]] for i in range(4))
    face_normals = np.cross(c - a, d - b)
    normals = np.zeros_like(vertices)
    for corner in range(4):
        np.add.at(normals, faces[:, corner], face_normals)
    return normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)


def smooth(vertices: Array, faces: NDArray[np.int64], rounds: int, share: float = 0.5) -> Array:
    """Laplacian smoothing along the mesh's edges; vertices on an open edge stay where they are."""
    edges = np.concatenate([faces[:, [i, (i + 1) % 4]] for i in range(4)])
    edges = edges[edges[:, 0] != edges[:, 1]]
    ordered, count = np.unique(np.sort(edges, axis=1), axis=0, return_counts=True)
    border = np.zeros(len(vertices), dtype=bool)
    border[ordered[count == 1].ravel()] = True
    result = vertices.copy()
    for _ in range(rounds):
        total = np.zeros_like(result)
        degree = np.zeros(len(result))
        for first, second in ((0, 1), (1, 0)):
            np.add.at(total, ordered[:, first], result[ordered[:, second]])
            np.add.at(degree, ordered[:, first], 1.0)
        mean = total / np.maximum(degree, 1.0)[:, None]
        moved = (degree > 0) & ~border
        result[moved] += share * (mean[moved] - result[moved])
    return result


class Wardrobe:
    """Cuts and dresses one body."""

    def __init__(self, body: RestBody, outfit: Outfit) -> None:
        self.body = body
        self.outfit = outfit
        self.strongest = body.bone_index[
            np.arange(len(body.vertices)), body.bone_weight.argmax(axis=1)
        ]
        self.eye_z = float(body.joint("eye.L")[2])
        first, last = EYE_VERTICES["L"]
        self.eye_front_y = float(body.vertices[first : last + 1, 1].min())

    def surfaces(self) -> list[Surface]:
        """Every surface of the dressed person."""
        return [
            self._skin(),
            *self._eyes(),
            self._lashes(),
            self._eyebrows(),
            self._shirt(),
            self._trousers(),
            self._shoes(),
            *self._hair(),
        ]

    def _bones_with(self, *starts: str) -> NDArray[np.bool_]:
        """Vertices whose strongest bone's name begins with one of the words."""
        wanted = [i for i, b in enumerate(self.body.bones) if b.startswith(starts)]
        return np.isin(self.strongest, wanted)

    def _cut(
        self,
        name: str,
        faces: NDArray[np.int64],
        material: Material,
        moved: Array | None = None,
        paint: Array | None = None,
        thickness_m: float = 0.0,
    ) -> Surface:
        """A surface from some faces of the base mesh, vertices renumbered."""
        used, flat = np.unique(faces, return_inverse=True)
        rest = self.body.vertices if moved is None else moved
        return Surface(
            name,
            rest[used],
            self.body.bone_index[used],
            self.body.bone_weight[used],
            flat.reshape(faces.shape),
            material,
            None if paint is None else paint[used],
            thickness_m,
        )

    def _skin(self) -> Surface:
        vertices = self.body.vertices
        quads = self.body.groups["body"]
        bare = self._bones_with("head", "neck", "wrist", "finger", "metacarpal")
        bare |= self._bones_with("eye")
        if self.outfit.sleeves == "short":
            bare |= self._bones_with("lowerarm", "upperarm02")
        else:
            bare |= self._bones_with("lowerarm02")
        neck_base = float(self.body.joint("neck01")[2]) - 0.05
        central = np.abs(vertices[:, 0]) < 0.14
        bare |= (vertices[:, 2] > neck_base - 0.03) & central
        faces = quads[bare[quads].any(axis=1)]
        mouth = vertices[self._mouth()].mean(axis=0)
        lips = np.zeros(len(vertices))
        offset = vertices - mouth
        inside = (offset[:, 0] / 0.026) ** 2 + (offset[:, 2] / 0.0095) ** 2
        lips[(inside < 1.0) & (offset[:, 1] < 0.02)] = 1.0
        return self._cut("skin", faces, Material("skin", self.outfit.skin), paint=lips)

    def _mouth(self) -> NDArray[np.int64]:
        """Body vertices in the mouth's middle (between the lips, at the front)."""
        vertices = self.body.vertices
        nose = self.body.keypoint_weight[self.body.keypoints.index("nose")] @ vertices
        teeth = np.unique(self.body.groups["helper-upper-teeth"])
        level = float(vertices[teeth, 2].min())
        front = vertices[:, 1] < nose[1] + 0.03
        near = (np.abs(vertices[:, 0]) < 0.004) & (np.abs(vertices[:, 2] - level) < 0.006)
        found = np.flatnonzero(front & near & (np.arange(len(vertices)) < 13380))
        return found if len(found) else np.array([int(np.argmin(vertices[:, 1]))])

    def _eyes(self) -> list[Surface]:
        result = []
        for side, group in zip(SIDES, ("helper-l-eye", "helper-r-eye"), strict=True):
            first, last = EYE_VERTICES[side]
            ball = self.body.vertices[first : last + 1]
            front = ball[np.argsort(ball[:, 1])[:8]].mean(axis=0)
            reach = np.full(len(self.body.vertices), 1.0)
            reach[first : last + 1] = np.linalg.norm((ball - front)[:, [0, 2]], axis=1)
            back = ball[:, 1] > ball[:, 1].mean()
            reach[first : last + 1][back] = 0.02
            result.append(
                self._cut(
                    f"eye.{side}",
                    self.body.groups[group],
                    Material("eye", (0.16, 0.085, 0.035)),
                    paint=reach,
                )
            )
        return result

    def _lashes(self) -> Surface:
        groups = [q for n, q in self.body.groups.items() if "eyelashes" in n]
        return self._cut("lashes", np.concatenate(groups), Material("plain", (0.01, 0.008, 0.006)))

    def _face_y(self, x: float, z: float) -> float:
        """Depth (rest y) of the face's skin at a place seen from the front."""
        quads = self.body.groups["body"]
        head = self._bones_with("head", "eye")
        used = np.unique(quads[head[quads].all(axis=1)])
        points = self.body.vertices[used]
        points = points[points[:, 1] < self.eye_front_y + 0.045]
        gap = np.hypot(points[:, 0] - x, points[:, 2] - z)
        nearest = np.argsort(gap)[:4]
        weight = 1.0 / np.maximum(gap[nearest], 5e-4) ** 2
        return float(points[nearest, 1] @ weight / weight.sum())

    def _eyebrows(self) -> Surface:
        """Two arched strips laid on the brow."""
        width = 12
        rest: list[list[float]] = []
        faces: list[list[int]] = []
        eye_x = float(abs(self.body.joint("eye.L")[0]))
        for sign in (-1.0, 1.0):
            start = len(rest)
            for i in range(width + 1):
                share = i / width
                x = eye_x * (0.52 + 1.13 * share)
                middle = self.eye_z + 0.0205 + 0.006 * np.sin(np.pi * min(share * 1.25, 1.0) * 0.62)
                middle -= 0.006 * max(share - 0.7, 0.0) / 0.3
                half = 0.0042 * (1.0 - 0.65 * share**2)
                for level in (-half, 0.0, half):
                    z = middle + level
                    lift = 0.0028 if level == 0.0 else 0.0010
                    rest.append([sign * x, self._face_y(x, z) - lift, z])
            for i in range(width):
                for row in range(2):
                    a = start + 3 * i + row
                    quad = [a, a + 1, a + 4, a + 3]
                    faces.append(quad if sign > 0 else quad[::-1])
        head = self.body.bone("head")
        count = len(rest)
        return Surface(
            "eyebrows",
            np.array(rest),
            np.full((count, 1), head, dtype=np.int64),
            np.ones((count, 1)),
            np.array(faces, dtype=np.int64),
            Material("plain", tuple(0.7 * c for c in self.outfit.hair)),  # type: ignore[arg-type]
        )

    def _tights(self) -> NDArray[np.int64]:
        return self.body.groups["helper-tights"]

    def _pushed(self, faces: NDArray[np.int64], distance: Array, rounds: int) -> Array:
        """All vertices, those of `faces` smoothed and moved outwards by `distance` (V,) metres."""
        vertices = smooth(self.body.vertices, faces, rounds)
        return vertices + vertex_normals(vertices, faces) * distance[:, None]

    def _hemmed(
        self, candidates: NDArray[np.int64], low: float, free: NDArray[np.bool_]
    ) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
        """Faces that reach above a level, and the vertices to pull up to it for a straight edge.

        Vertices in `free` (sleeves) are not held to the level.
        """
        rest = self.body.vertices
        above = (rest[:, 2] > low) | free
        faces = candidates[above[candidates].any(axis=1)]
        edge = np.zeros(len(rest), dtype=bool)
        edge[np.unique(faces)] = True
        return faces, edge & ~above

    def _shirt(self) -> Surface:
        tights, rest = self._tights(), self.body.vertices
        hem = float(self.body.joint("upperleg01.L")[2]) + 0.005
        worn = ~self._bones_with("foot", "toe", "lowerleg")
        worn &= ~self._bones_with("head", "wrist", "finger", "metacarpal")
        if self.outfit.sleeves == "short":
            worn &= ~self._bones_with("lowerarm")
        arm = self._bones_with("upperarm", "lowerarm", "shoulder", "clavicle")
        faces, edge = self._hemmed(tights[worn[tights].all(axis=1)], hem, arm)
        waist = float(self.body.joint("spine03")[2])
        loose = np.clip((waist - rest[:, 2]) / max(waist - hem, 0.05), 0.0, 1.0)
        distance = np.where(arm, 0.010, 0.009 + 0.016 * loose) * self.outfit.looseness
        moved = self._pushed(faces, distance, 6)
        moved[edge, 2] = hem
        return self._cut("shirt", faces, self.outfit.shirt, moved, thickness_m=0.004)

    def _trousers(self) -> Surface:
        tights, rest = self._tights(), self.body.vertices
        waist = float(self.body.joint("upperleg01.L")[2]) + 0.09
        ankle = float(self.body.joint("foot.L")[2]) - 0.012
        worn = rest[:, 2] < waist
        worn &= ~self._bones_with(
            "upperarm", "lowerarm", "shoulder", "wrist", "finger", "metacarpal"
        )
        faces, edge = self._hemmed(
            tights[worn[tights].all(axis=1)], ankle, np.zeros(len(rest), dtype=bool)
        )
        knee = float(self.body.joint("lowerleg01.L")[2])
        below = np.clip((knee - rest[:, 2]) / (knee - ankle), 0.0, 1.0)
        distance = (0.007 + 0.019 * below) * self.outfit.looseness
        moved = self._pushed(faces, distance, 6)
        moved[edge, 2] = ankle
        return self._cut("trousers", faces, self.outfit.trousers, moved, thickness_m=0.003)

    def _shoes(self) -> Surface:
        """Closed shoes; painted with the height above the floor so that the sole can differ."""
        tights, rest = self._tights(), self.body.vertices
        ankle = float(self.body.joint("foot.L")[2])
        foot = self._bones_with("foot", "toe", "lowerleg02") & (rest[:, 2] < ankle + 0.03)
        faces = tights[foot[tights].all(axis=1)]
        moved = self._pushed(faces, np.full(len(rest), 0.008), 12)
        sole = self.body.sole_z
        low = np.clip((sole + 0.035 - moved[:, 2]) / 0.035, 0.0, 1.0)
        moved[:, 2] -= SHOE_SOLE_M * low
        moved[:, 2] = np.maximum(moved[:, 2], sole - SHOE_SOLE_M)
        height = moved[:, 2] - (sole - SHOE_SOLE_M)
        look = Material("shoe", self.outfit.shoes, (0.55, 0.52, 0.46), roughness=0.5)
        return self._cut("shoes", faces, look, moved, paint=height)

    def _scalp(self) -> NDArray[np.int64]:
        """Body faces where hair grows: above a plane from forehead to nape, ears left out."""
        rest = self.body.vertices
        crown = float(rest[:13380, 2].max())
        face_height = crown - self.eye_z
        back = float(rest[(np.arange(len(rest)) < 13380) & (rest[:, 2] > self.eye_z)][:, 1].max())
        depth = back - self.eye_front_y
        share = np.clip((rest[:, 1] - self.eye_front_y) / depth, 0.0, 1.0)
        line = self.eye_z + face_height * np.interp(
            share,
            [0.0, 0.22, 0.36, 0.44, 0.56, 0.75, 1.0],
            [0.60, 0.50, 0.12, -0.12, -0.2, -0.5, -0.6],
        )
        ear = self.body.keypoint_weight[self.body.keypoints.index("left_ear")] @ rest
        gap = np.hypot(rest[:, 1] - ear[1], rest[:, 2] - ear[2])
        grows = (rest[:, 2] > line) & self._bones_with("head", "neck")
        grows &= ~((gap < 0.036) & (np.abs(rest[:, 0]) > 0.055) & (rest[:, 2] < ear[2] + 0.028))
        quads = self.body.groups["body"]
        return quads[grows[quads].all(axis=1)]

    def _hair(self) -> list[Surface]:
        rest = self.body.vertices
        scalp = self._scalp()
        colour = Material("hair", self.outfit.hair, scale=1.0, roughness=0.45)
        thickness = 0.010 if self.outfit.hair_style == "hat" else 0.017
        ramp = np.clip((rest[:, 2] - self.eye_z) / 0.08, 0.25, 1.0)
        moved = self._pushed(scalp, thickness * ramp, 3)
        result = [self._cut("scalp", scalp, colour, moved)]
        if self.outfit.hair_style == "long":
            result.append(self._long_hair(colour))
        if self.outfit.hair_style == "hat":
            quads = self.body.groups["body"]
            head = self._bones_with("head")
            brim = self.eye_z + 0.052
            tilt = rest[:, 2] - (brim - 0.25 * (rest[:, 1] - self.eye_front_y))
            faces = quads[(head & (tilt > 0.0))[quads].all(axis=1)]
            lift = 0.016 + 0.010 * np.clip((rest[:, 2] - brim) / 0.08, 0.0, 1.0)
            moved = self._pushed(faces, lift, 5)
            result.append(self._cut("hat", faces, self.outfit.hat, moved, thickness_m=0.006))
        return result

    def _long_hair(self, colour: Material) -> Surface:
        """Locks of the `hair` helper that do not hang over the face, cut at shoulder height."""
        rest = self.body.vertices
        helper = self.body.groups["helper-hair"]
        end = float(self.body.joint("neck01")[2]) - 0.005
        lock = _components(helper, len(rest))
        keep = np.zeros(len(helper), dtype=bool)
        for name in np.unique(lock[helper[:, 0]]):
            faces = lock[helper[:, 0]] == name
            used = rest[np.unique(helper[faces])]
            level = used[np.abs(used[:, 2] - self.eye_z) < 0.05]
            hides = len(level) > 0 and bool((level[:, 1] < self.eye_front_y + 0.045).any())
            if not hides:
                keep |= faces
        keep &= rest[helper][:, :, 2].max(axis=1) > end
        moved = rest.copy()
        low = moved[:, 2] < end
        moved[low, 2] = end + 0.15 * (moved[low, 2] - end)
        return self._cut("hair", helper[keep], colour, moved, thickness_m=0.004)


def _components(faces: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """A number for each vertex that names its connected piece of mesh."""
    label = np.arange(count)
    while True:
        lowest = label[faces].min(axis=1)
        before = label.copy()
        for corner in range(4):
            np.minimum.at(label, faces[:, corner], lowest)
        if np.array_equal(before, label):
            return label


def hat_or_hair_above_head(body: RestBody, surfaces: Sequence[Surface]) -> float:
    """How far hair or hat stands above the bare crown, metres (rest posture)."""
    top = max(float(s.rest[:, 2].max()) for s in surfaces)
    return top - float(body.vertices[:13380, 2].max())
