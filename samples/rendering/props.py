"""Furniture of the invented studio and things a person sits on or holds. Metres."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np

from . import materials
from .rotation import Array, yaw

BACK_WALL_Y = 8.4
LEFT_WALL_X = -3.7
RIGHT_WALL_X = 3.9
BOOK_COLOURS = (
    (0.30, 0.06, 0.04),
    (0.05, 0.10, 0.20),
    (0.08, 0.15, 0.08),
    (0.45, 0.38, 0.26),
    (0.32, 0.18, 0.06),
    (0.06, 0.06, 0.07),
    (0.50, 0.47, 0.40),
)


def mesh_object(
    scene: Any,
    name: str,
    vertices: Sequence[Sequence[float]],
    faces: Sequence[Sequence[int]],
    material: Any,
) -> Any:
    """Link a mesh with one material."""
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata([list(v) for v in vertices], [], [list(f) for f in faces])
    mesh.materials.append(material)
    thing = bpy.data.objects.new(name, mesh)
    scene.collection.objects.link(thing)
    return thing


def box(
    scene: Any,
    centre: Sequence[float],
    size: Sequence[float],
    material: Any,
    turn: float = 0.0,
    about: Sequence[float] = (0.0, 0.0, 0.0),
) -> Any:
    """A block; with `turn` (radians about the vertical) and shift `about` applied afterwards."""
    half = np.asarray(size) / 2.0
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * half
    corners = (corners + np.asarray(centre)) @ yaw(turn).T + np.asarray(about)
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    return mesh_object(scene, "box", corners.tolist(), faces, material)


def tube(
    scene: Any, start: Array, end: Array, radius: float, material: Any, sides: int = 12
) -> Any:
    """A round bar from one point to another."""
    along = end - start
    along = along / np.linalg.norm(along)
    hint = np.array([1.0, 0.0, 0.0]) if abs(along[0]) < 0.8 else np.array([0.0, 1.0, 0.0])
    first = np.cross(along, hint)
    first /= np.linalg.norm(first)
    second = np.cross(along, first)
    ring = [
        radius * (math.cos(a) * first + math.sin(a) * second)
        for a in np.linspace(0.0, 2.0 * math.pi, sides, endpoint=False)
    ]
    vertices = [(start + r).tolist() for r in ring] + [(end + r).tolist() for r in ring]
    faces: list[Sequence[int]] = [
        (i, (i + 1) % sides, sides + (i + 1) % sides, sides + i) for i in range(sides)
    ]
    faces += [tuple(reversed(range(sides))), tuple(range(sides, 2 * sides))]
    return mesh_object(scene, "tube", vertices, faces, material)


def ring(
    scene: Any, centre: Array, axis: Array, radius: float, thick: float, material: Any
) -> list[Any]:
    """A wheel's tyre and spokes as short bars."""
    axis = axis / np.linalg.norm(axis)
    first = np.cross(axis, np.array([0.0, 0.0, 1.0]))
    first /= np.linalg.norm(first)
    second = np.cross(axis, first)
    angles = np.linspace(0.0, 2.0 * math.pi, 25)
    rim = [centre + radius * (math.cos(a) * first + math.sin(a) * second) for a in angles]
    parts = [tube(scene, a, b, thick, material, 6) for a, b in itertools.pairwise(rim)]
    parts += [tube(scene, centre, rim[i], thick * 0.25, material, 5) for i in range(0, 24, 3)]
    return parts


def furnish(scene: Any, with_pictures: bool = True) -> None:
    """Floor, walls and furniture of the room."""
    floor = [(-6, -2, 0), (6, -2, 0), (6, BACK_WALL_Y, 0), (-6, BACK_WALL_Y, 0)]
    mesh_object(scene, "floor", floor, [(0, 1, 2, 3)], materials.planks())
    back = [
        (-6, BACK_WALL_Y, 0),
        (6, BACK_WALL_Y, 0),
        (6, BACK_WALL_Y, 4.6),
        (-6, BACK_WALL_Y, 4.6),
    ]
    mesh_object(scene, "back wall", back, [(0, 1, 2, 3)], materials.bricks())
    for x, colour in ((LEFT_WALL_X, (0.50, 0.50, 0.46)), (RIGHT_WALL_X, (0.23, 0.30, 0.30))):
        wall = [(x, -2, 0), (x, BACK_WALL_Y, 0), (x, BACK_WALL_Y, 4.6), (x, -2, 4.6)]
        mesh_object(scene, "side wall", wall, [(0, 1, 2, 3)], materials.plaster(colour))
    board = materials.flat((0.55, 0.52, 0.47))
    box(scene, (0.0, BACK_WALL_Y - 0.02, 0.09), (12.0, 0.04, 0.18), board)
    carpet = [(-1.4, 3.1, 0.008), (1.4, 3.1, 0.008), (1.4, 6.1, 0.008), (-1.4, 6.1, 0.008)]
    mesh_object(scene, "rug", carpet, [(0, 1, 2, 3)], materials.rug())
    _bookcase(scene, 2.55)
    if with_pictures:
        _pictures(scene)
    _plant(scene, np.array([-2.75, 7.3, 0.0]))
    _side_window(scene)
    _bench(scene)
    _floor_lamp(scene, np.array([1.25, 7.85, 0.0]))


def _bookcase(scene: Any, x: float) -> None:
    wood = materials.flat((0.14, 0.075, 0.04))
    width, depth, height = 1.5, 0.34, 2.1
    y = BACK_WALL_Y - depth / 2.0 - 0.03
    for side in (-1.0, 1.0):
        box(scene, (x + side * width / 2.0, y, height / 2.0), (0.04, depth, height), wood)
    box(scene, (x, y + depth / 2.0, height / 2.0), (width, 0.02, height), wood)
    random = np.random.default_rng(3)
    for shelf in range(6):
        z = 0.06 + shelf * (height - 0.08) / 5.0
        box(scene, (x, y, z), (width, depth, 0.035), wood)
        if shelf == 5:
            break
        place = x - width / 2.0 + 0.05
        while place < x + width / 2.0 - 0.08:
            thick = float(random.uniform(0.022, 0.06))
            tall = float(random.uniform(0.2, 0.33))
            hue = np.array(BOOK_COLOURS[int(random.integers(len(BOOK_COLOURS)))])
            colour = tuple(float(c) for c in hue * random.uniform(0.5, 1.3))
            if random.random() < 0.88:
                centre = (place + thick / 2.0, y - 0.03, z + 0.02 + tall / 2.0)
                box(scene, centre, (thick * 0.92, 0.2, tall), materials.flat(colour))
            place += thick


def _pictures(scene: Any) -> None:
    dark = materials.flat((0.03, 0.03, 0.03))
    mat = materials.flat((0.75, 0.73, 0.68))
    y = BACK_WALL_Y - 0.03
    for index, (x, z, width, height) in enumerate(
        [(-1.25, 2.0, 0.75, 1.0), (-0.25, 2.18, 0.6, 0.6), (-0.25, 1.5, 0.6, 0.45)]
    ):
        box(scene, (x, y, z), (width + 0.06, 0.03, height + 0.06), dark)
        box(scene, (x, y - 0.012, z), (width, 0.03, height), mat)
        inner = (width * 0.78, 0.03, height * 0.78)
        box(scene, (x, y - 0.02, z), inner, materials.picture(1.7 * index + 0.4))


def _plant(scene: Any, place: Array) -> None:
    pot = materials.flat((0.45, 0.17, 0.09))
    leaf = [materials.flat((0.03, 0.14, 0.03)), materials.flat((0.07, 0.22, 0.05))]
    tube(scene, place, place + np.array([0.0, 0.0, 0.38]), 0.2, pot, 20)
    random = np.random.default_rng(8)
    stem = place + np.array([0.0, 0.0, 0.36])
    for index in range(46):
        angle = float(random.uniform(0.0, 2.0 * math.pi))
        reach, rise = float(random.uniform(0.2, 0.62)), float(random.uniform(0.35, 1.25))
        tip = stem + np.array([math.cos(angle) * reach, math.sin(angle) * reach, rise])
        across = np.array([-math.sin(angle), math.cos(angle), 0.0]) * float(
            random.uniform(0.04, 0.08)
        )
        base = stem + (tip - stem) * 0.45
        middle = stem + (tip - stem) * 0.75 + np.array([0.0, 0.0, 0.05])
        corners = [base, middle + across, tip, middle - across]
        mesh_object(scene, "leaf", [c.tolist() for c in corners], [(0, 1, 2, 3)], leaf[index % 2])


def _side_window(scene: Any) -> None:
    """A bright window in the left wall, with bars."""
    x = LEFT_WALL_X + 0.02
    glass = [(x, 5.2, 0.9), (x, 7.2, 0.9), (x, 7.2, 3.0), (x, 5.2, 3.0)]
    mesh_object(scene, "glass", glass, [(0, 1, 2, 3)], materials.glow((0.85, 0.93, 1.0), 2.2))
    white = materials.flat((0.75, 0.74, 0.7))
    for y in (5.2, 5.87, 6.53, 7.2):
        box(scene, (x + 0.02, y, 1.95), (0.06, 0.07, 2.2), white)
    for z in (0.9, 1.95, 3.0):
        box(scene, (x + 0.02, 6.2, z), (0.06, 2.1, 0.07), white)


def _bench(scene: Any) -> None:
    """A low cupboard under the side window and a stool."""
    wood = materials.flat((0.36, 0.24, 0.14))
    box(scene, (LEFT_WALL_X + 0.3, 6.3, 0.32), (0.5, 1.9, 0.6), wood)
    steel = materials.flat((0.06, 0.06, 0.065), 0.4)
    seat = np.array([1.75, 6.6, 0.66])
    tube(scene, seat, seat + np.array([0.0, 0.0, 0.04]), 0.17, wood, 24)
    for angle in np.linspace(0.4, 0.4 + 2 * math.pi, 4, endpoint=False):
        foot = np.array([seat[0] + 0.2 * math.cos(angle), seat[1] + 0.2 * math.sin(angle), 0.0])
        tube(
            scene, foot, seat + 0.1 * np.array([math.cos(angle), math.sin(angle), 0]), 0.014, steel
        )


def _floor_lamp(scene: Any, place: Array) -> None:
    steel = materials.flat((0.06, 0.06, 0.065), 0.4)
    tube(scene, place, place + np.array([0.0, 0.0, 0.03]), 0.16, steel, 24)
    tube(scene, place, place + np.array([0.0, 0.0, 1.6]), 0.012, steel)
    shade = materials.glow((1.0, 0.72, 0.42), 1.6)
    tube(scene, place + np.array([0, 0, 1.5]), place + np.array([0, 0, 1.78]), 0.17, shade, 28)


def bright_window(scene: Any, centre: Array, width: float, height: float, strength: float) -> None:
    """A large shining window facing the camera (for backlight)."""
    x, y, z = (float(c) for c in centre)
    w, h = width / 2.0, height / 2.0
    corners = [(x - w, y, z - h), (x + w, y, z - h), (x + w, y, z + h), (x - w, y, z + h)]
    sky = materials.glow((0.95, 0.98, 1.0), strength)
    mesh_object(scene, "bright window", corners, [(0, 1, 2, 3)], sky)
    frame = materials.flat((0.3, 0.28, 0.25))
    for share in (-1.0, -0.33, 0.33, 1.0):
        box(scene, (x + share * w, y - 0.03, z), (0.07, 0.05, height), frame)
    for share in (-1.0, 0.1, 1.0):
        box(scene, (x, y - 0.03, z + share * h), (width, 0.05, 0.07), frame)


def chair(scene: Any, place: Array, turn: float, seat_z: float = 0.46) -> list[Any]:
    """A plain wooden chair for a person turned by `turn` whose hips are above `place`."""
    wood = materials.flat((0.30, 0.17, 0.09))
    at = (float(place[0]), float(place[1]), 0.0)
    parts = [box(scene, (0.0, -0.10, seat_z - 0.02), (0.44, 0.46, 0.04), wood, turn, at)]
    for x in (-0.19, 0.19):
        parts.append(box(scene, (x, -0.30, seat_z / 2), (0.04, 0.04, seat_z), wood, turn, at))
        parts.append(box(scene, (x, 0.17, 0.47), (0.04, 0.04, 0.94), wood, turn, at))
    for z in (0.62, 0.75, 0.88):
        parts.append(box(scene, (0.0, 0.17, z), (0.38, 0.025, 0.07), wood, turn, at))
    return parts


def wheelchair(scene: Any, place: Array, turn: float, seat_z: float = 0.50) -> list[Any]:
    """A seat with two large wheels, arm rests and a foot rest."""
    black = materials.flat((0.02, 0.02, 0.022), 0.6)
    steel = materials.flat((0.35, 0.35, 0.37), 0.35)
    at = np.array([place[0], place[1], 0.0])
    rot = yaw(turn)

    def spot(x: float, y: float, z: float) -> Array:
        return rot @ np.array([x, y, z]) + at

    home = tuple(at.tolist())
    parts = [box(scene, (0.0, -0.10, seat_z - 0.025), (0.46, 0.46, 0.05), black, turn, home)]
    parts.append(box(scene, (0.0, 0.19, seat_z + 0.22), (0.46, 0.04, 0.42), black, turn, home))
    for x in (-0.29, 0.29):
        parts += ring(scene, spot(x, 0.10, 0.305), rot @ np.array([1.0, 0, 0]), 0.29, 0.016, black)
        parts.append(tube(scene, spot(x * 0.87, 0.2, 0.3), spot(x * 0.87, 0.2, 0.98), 0.013, steel))
        parts.append(
            box(scene, (x * 0.87, -0.06, seat_z + 0.22), (0.05, 0.3, 0.03), black, turn, home)
        )
        parts.append(
            tube(scene, spot(x * 0.87, -0.2, seat_z + 0.2), spot(x * 0.87, -0.2, 0.3), 0.012, steel)
        )
        parts.append(
            tube(scene, spot(x * 0.7, -0.3, seat_z), spot(x * 0.5, -0.52, 0.12), 0.013, steel)
        )
        parts += ring(
            scene, spot(x * 0.8, -0.34, 0.09), rot @ np.array([1.0, 0, 0]), 0.075, 0.014, black
        )
    parts.append(box(scene, (0.0, -0.58, 0.11), (0.34, 0.18, 0.015), black, turn, home))
    return parts


def carried_box(scene: Any, centre: Array, turn: float, width: float) -> list[Any]:
    """A cardboard box held in both hands."""
    card = materials.flat((0.42, 0.28, 0.15), 0.9)
    return [box(scene, (0.0, 0.0, 0.04), (width, 0.24, 0.22), card, turn, centre.tolist())]
