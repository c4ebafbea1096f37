"""Bodies whose arm or leg ends early: skin, sleeves and trousers cut off and closed.

The cut is made in the rest posture, square to the limb's lower bone, and the open edge is closed
by a dome. The skeleton stays whole: where the true joints beyond the end would be is known, but
nothing is there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .body import RestBody, Side
from .rotation import Array, unit
from .wardrobe import Surface

_BEYOND = {
    "forearm": ("lowerarm", "wrist", "metacarpal", "finger"),
    "shank": ("lowerleg", "foot", "toe"),
}
_ENDS = {"forearm": ("lowerarm01", "wrist"), "shank": ("lowerleg01", "foot")}
_RINGS = 5


@dataclass(frozen=True)
class LimbEnd:
    """Where a limb ends: a share (0 to 1) of the way from elbow to wrist, or knee to ankle.

    `bulge` is the height of the closing dome over the limb's radius there.
    """

    part: Literal["forearm", "shank"]
    side: Side
    share: float
    bulge: float = 0.8

    @property
    def lacking(self) -> str:
        """The limb that is not there, in the words of a set-up file's `without`."""
        side = "left" if self.side == "L" else "right"
        return f"{side}-{'hand' if self.part == 'forearm' else 'foot'}"


def ended(body: RestBody, surfaces: Iterable[Surface], end: LimbEnd) -> list[Surface]:
    """The surfaces with one limb cut off and closed; those wholly beyond its end are left out."""
    start, stop = (body.joint(f"{bone}.{end.side}") for bone in _ENDS[end.part])
    along = unit(stop - start)
    plane = float(along @ start) + end.share * float(np.linalg.norm(stop - start))
    bones = [
        i
        for i, name in enumerate(body.bones)
        if name.startswith(_BEYOND[end.part]) and name.endswith(f".{end.side}")
    ]
    cut = (_ended(surface, bones, along, plane, end.bulge) for surface in surfaces)
    return [surface for surface in cut if len(surface.faces)]


def _ended(
    surface: Surface, bones: Sequence[int], along: Array, plane: float, bulge: float
) -> Surface:
    strongest = surface.bone_index[np.arange(len(surface.rest)), surface.bone_weight.argmax(axis=1)]
    past = surface.rest @ along - plane
    beyond = np.isin(strongest, bones) & (past > 0.0)
    if not beyond.any():
        return surface
    faces = surface.faces[~beyond[surface.faces].all(axis=1)]
    rest = surface.rest - np.where(beyond, past, 0.0)[:, None] * along
    loops = _loops(faces, beyond)
    source = np.arange(len(rest))
    for loop in loops:
        ring = rest[loop]
        centre = ring.mean(axis=0)
        radius = float(np.linalg.norm(ring - centre, axis=1).mean())
        before = np.asarray(loop)
        for k in range(1, _RINGS + 1):
            angle = 0.98 * k / _RINGS * math.pi / 2.0
            dome = centre + (ring - centre) * math.cos(angle)
            dome = dome + along * (bulge * radius * math.sin(angle))
            now = np.arange(len(rest), len(rest) + len(loop))
            rest = np.concatenate([rest, dome])
            source = np.concatenate([source, loop])
            quads = np.stack([np.roll(before, -1), before, now, np.roll(now, -1)], axis=1)
            faces = np.concatenate([faces, quads])
            before = now
    used, flat = np.unique(faces, return_inverse=True)
    kept = source[used]
    return replace(
        surface,
        rest=rest[used],
        bone_index=surface.bone_index[kept],
        bone_weight=surface.bone_weight[kept],
        faces=flat.reshape(faces.shape),
        paint=None if surface.paint is None else surface.paint[kept],
    )


def _loops(faces: NDArray[np.int64], beyond: NDArray[np.bool_]) -> list[list[int]]:
    """The open edges that the cut left, as closed rows of vertices in the faces' direction."""
    edges = np.concatenate([faces[:, [i, (i + 1) % 4]] for i in range(4)])
    _, index, count = np.unique(
        np.sort(edges, axis=1), axis=0, return_inverse=True, return_counts=True
    )
    open_ = (count[index.ravel()] == 1) & beyond[edges].all(axis=1)
    following = {int(a): int(b) for a, b in edges[open_]}
    loops = []
    while following:
        first, now = following.popitem()
        loop = [first]
        while now != first:
            if now not in following:
                raise ValueError("the limb's cut is not a closed line")
            loop.append(now)
            now = following.pop(now)
        loops.append(loop)
    return loops
