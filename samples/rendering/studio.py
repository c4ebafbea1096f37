"""The ray-traced scene: an invented daylight studio, lights, a thin-lens camera, the person.

Only this module talks to `bpy`. One `Studio` is one room with one lighting; the camera may change.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Literal

import bpy
import mathutils
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

from . import materials, props
from .body import PosedBody, skin
from .rotation import Array, yaw
from .truth import Camera
from .wardrobe import Surface

Lighting = Literal["normal", "dim", "backlit"]
FINE_SURFACES = ("skin", "scalp", "hair", "eye.L", "eye.R")
"""Surfaces that get a level of subdivision; the others look the same without."""
Picture = NDArray[np.uint8]
Box = tuple[int, int, int, int]
"""Left, top, right, bottom in pixels, right and bottom excluded."""


class Studio:
    """A room to render a dressed person in."""

    def __init__(self, lighting: Lighting = "normal", samples: int = 4, threads: int = 0) -> None:
        bpy.ops.wm.read_factory_settings(use_empty=True)
        self.scene = bpy.context.scene
        self.lighting = lighting
        self.samples = samples
        self._render_settings(threads)
        props.furnish(self.scene, with_pictures=lighting != "backlit")
        _light(self.scene, lighting)
        self._watts = {light.name: light.energy for light in bpy.data.lights}
        self._exposure = self.scene.view_settings.exposure
        self._camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
        self.scene.collection.objects.link(self._camera)
        self.scene.camera = self._camera
        self._people: list[tuple[Surface, Any]] = []
        self._extras: list[Any] = []
        self._file = Path(tempfile.mkdtemp(prefix="studio-")) / "frame.png"

    def _render_settings(self, threads: int) -> None:
        scene = self.scene
        scene.render.engine = "CYCLES"
        scene.render.resolution_percentage = 100
        scene.render.image_settings.file_format = "PNG"
        scene.render.image_settings.color_mode = "RGB"
        scene.render.image_settings.compression = 5
        scene.render.use_persistent_data = True
        scene.render.film_transparent = False
        if threads or os.environ.get("RENDER_THREADS"):
            scene.render.threads_mode = "FIXED"
            scene.render.threads = threads or int(os.environ["RENDER_THREADS"])
        scene.view_settings.view_transform = "AgX"
        scene.view_settings.look = "AgX - Medium High Contrast"
        cycles = scene.cycles
        cycles.device = "CPU"
        cycles.use_adaptive_sampling = False
        cycles.max_bounces = 3
        cycles.diffuse_bounces = 2
        cycles.glossy_bounces = 1
        cycles.transmission_bounces = 0
        cycles.transparent_max_bounces = 4
        cycles.caustics_reflective = False
        cycles.caustics_refractive = False
        cycles.sample_clamp_indirect = 3.0
        cycles.use_denoising = True
        cycles.denoiser = "OPENIMAGEDENOISE"
        cycles.denoising_input_passes = "RGB_ALBEDO_NORMAL"
        cycles.denoising_prefilter = "FAST"
        cycles.seed = 7
        cycles.use_light_tree = False

    def place_camera(self, camera: Camera) -> None:
        """Set the ray tracer's thin-lens camera to the numbers of `camera`."""
        data = self._camera.data
        data.sensor_fit = "HORIZONTAL"
        data.sensor_width = camera.sensor_width_mm
        data.lens = camera.image_distance_mm
        data.clip_start, data.clip_end = 0.05, 100.0
        data.dof.use_dof = True
        data.dof.focus_distance = camera.focus_from_lens_m
        pupil_mm = camera.lens_mm / camera.f_number
        data.dof.aperture_fstop = camera.image_distance_mm / pupil_mm
        data.dof.aperture_blades = 0
        axes = camera.axes
        matrix = np.eye(4)
        matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = axes[0], -axes[1], -axes[2]
        matrix[:3, 3] = camera.position
        self._camera.matrix_world = mathutils.Matrix(matrix.tolist())
        self.scene.render.resolution_x = camera.width_px
        self.scene.render.resolution_y = camera.height_px

    def dress(self, surfaces: Sequence[Surface], fine: bool = False) -> None:
        """Put a person's surfaces into the room, instead of an earlier person.

        `fine` subdivides head and hair once, worth its time when the face fills the picture.
        """
        self.remove_person()
        for surface in surfaces:
            mesh = bpy.data.meshes.new(surface.name)
            mesh.from_pydata(surface.rest.tolist(), [], surface.faces.tolist())
            mesh.polygons.foreach_set("use_smooth", np.ones(len(surface.faces), dtype=bool))
            rest = mesh.attributes.new("rest", "FLOAT_VECTOR", "POINT")
            rest.data.foreach_set("vector", surface.rest.astype(np.float32).ravel())
            if surface.paint is not None:
                paint = mesh.attributes.new("paint", "FLOAT", "POINT")
                paint.data.foreach_set("value", surface.paint.astype(np.float32))
            mesh.materials.append(materials.make(surface.material))
            thing = bpy.data.objects.new(surface.name, mesh)
            if surface.thickness_m > 0.0:
                shell = thing.modifiers.new("shell", "SOLIDIFY")
                shell.thickness = surface.thickness_m
                shell.offset = -1.0
            if fine and surface.name in FINE_SURFACES:
                finer = thing.modifiers.new("finer", "SUBSURF")
                finer.levels = finer.render_levels = 1
            self.scene.collection.objects.link(thing)
            self._people.append((surface, thing))

    def refine(self, on: bool) -> None:
        """Use or leave out the subdivision of a person dressed with `fine`."""
        for _, thing in self._people:
            for modifier in thing.modifiers:
                if modifier.type == "SUBSURF":
                    modifier.show_render = on

    def remove_person(self) -> None:
        """Empty the room again."""
        for _, thing in self._people:
            mesh = thing.data
            bpy.data.objects.remove(thing)
            bpy.data.meshes.remove(mesh)
        self._people = []

    def remove_extras(self) -> None:
        """Take away chairs and held things."""
        for thing in self._extras:
            bpy.data.objects.remove(thing)
        self._extras = []

    def add_extra(self, things: Sequence[Any]) -> None:
        """Note scene objects (already linked) that belong to this picture only."""
        self._extras += list(things)

    def pose(self, posed: PosedBody) -> list[Array]:
        """Move the person; returns each surface's world vertices (N, 3), metres."""
        everything = []
        for surface, thing in self._people:
            world = skin(surface.rest, surface.bone_index, surface.bone_weight, posed.transforms)
            thing.data.vertices.foreach_set("co", world.astype(np.float32).ravel())
            thing.data.update()
            everything.append(world)
        return everything

    def relight(self, parts: Mapping[str, float], exposure: float = 0.0) -> None:
        """Set lamps, by name, to parts of what they gave at first; exposure: stops more."""
        for name, watts in self._watts.items():
            bpy.data.lights[name].energy = watts * parts.get(name, 1.0)
        self.scene.view_settings.exposure = self._exposure + exposure

    def show_person(self, visible: bool) -> None:
        """Hide or show the person and the extras."""
        for thing in [t for _, t in self._people] + self._extras:
            thing.hide_render = not visible

    def render(self, box: Box | None = None, samples: int | None = None) -> Picture:
        """Render the picture, or only a box of it: (height, width, 3) bytes."""
        scene = self.scene
        scene.cycles.samples = samples or self.samples
        width, height = scene.render.resolution_x, scene.render.resolution_y
        scene.render.use_border = box is not None
        scene.render.use_crop_to_border = box is not None
        if box is not None:
            left, top, right, bottom = box
            scene.render.border_min_x = (left + 0.01) / width
            scene.render.border_max_x = (right + 0.01) / width
            scene.render.border_min_y = (height - bottom + 0.01) / height
            scene.render.border_max_y = (height - top + 0.01) / height
        scene.render.filepath = str(self._file)
        with Quiet():
            bpy.ops.render.render(write_still=True)
        picture = np.asarray(Image.open(self._file).convert("RGB"))
        if box is not None and picture.shape[:2] != (box[3] - box[1], box[2] - box[0]):
            raise RuntimeError(f"rendered {picture.shape}, wanted the box {box}")
        return picture

    def render_over(
        self, background: Picture, box: Box | None, camera: Camera, world: Sequence[Array]
    ) -> Picture:
        """Render the person's box and lay the person and their shadow over the empty room.

        `world` are the surfaces' posed vertices as `pose` returns them. The room keeps its own,
        less noisy pixels wherever the person and their shadow change nothing.
        """
        if box is None:
            return background.copy()
        left, top, right, bottom = box
        patch = self.render(box).astype(np.float32)
        result = background.astype(np.float32)
        under = result[top:bottom, left:right]
        weight = np.maximum(self._silhouette(box, camera, world), _changed(patch, under))
        weight *= _soft_border(box, camera.width_px, camera.height_px)
        result[top:bottom, left:right] = under + weight[..., None] * (patch - under)
        return np.clip(np.rint(result), 0, 255).astype(np.uint8)

    def render_box_over(self, background: Picture, box: Box | None, camera: Camera) -> Picture:
        """Render the person's box and lay all of it over the empty room, soft at the edges."""
        result = background.astype(np.float32)
        if box is None:
            return background.copy()
        left, top, right, bottom = box
        patch = self.render(box).astype(np.float32)
        weight = _soft_border(box, camera.width_px, camera.height_px)[..., None]
        under = result[top:bottom, left:right]
        result[top:bottom, left:right] = under + weight * (patch - under)
        return np.clip(np.rint(result), 0, 255).astype(np.uint8)

    def extra_vertices(self) -> list[Array]:
        """World vertices (N, 3) of chairs and held things, metres."""
        return [
            np.array([tuple(thing.matrix_world @ v.co) for v in thing.data.vertices])
            for thing in self._extras
        ]

    def move_extras(self, place: Array, turn: float) -> None:
        """Put things that were made at the origin to a floor point (x, y), turned about z."""
        matrix = np.eye(4)
        matrix[:3, :3] = yaw(turn)
        matrix[:2, 3] = place
        for thing in self._extras:
            thing.matrix_world = mathutils.Matrix(matrix.tolist())

    def _silhouette(self, box: Box, camera: Camera, world: Sequence[Array]) -> Array:
        """1 on the person's faces and a few pixels around them, soft-edged; the box's size."""
        mask = Image.new("L", (box[2] - box[0], box[3] - box[1]), 0)
        draw = ImageDraw.Draw(mask)
        for (surface, _), points in zip(self._people, world, strict=True):
            seen = camera.to_camera(points)
            seen[:, 2] = np.maximum(seen[:, 2], 0.1)
            pixels = camera.project(seen) - np.array(box[:2])
            for corners in pixels[surface.faces].reshape(len(surface.faces), -1).tolist():
                draw.polygon(corners, fill=255)
        grown = mask.filter(ImageFilter.GaussianBlur(4.0))
        return np.clip(np.asarray(grown, dtype=np.float64) / 255.0 / 0.2, 0.0, 1.0)


def person_box(
    camera: Camera,
    world: Sequence[Array],
    margin_px: int = 24,
    below_px: int = 110,
    side_px: int = 70,
) -> Box | None:
    """The part of the picture that the person and their shadow can change; None when outside."""
    points = camera.to_camera(np.concatenate(world))
    points = points[points[:, 2] > 0.15]
    if not len(points):
        return None
    pixels = camera.project(points)
    left, top = np.floor(pixels.min(axis=0)).astype(int) - margin_px
    right, bottom = np.ceil(pixels.max(axis=0)).astype(int) + margin_px
    left, right = left - side_px + margin_px, right + side_px - margin_px
    bottom = bottom + below_px - margin_px
    left, top = max(int(left), 0), max(int(top), 0)
    right, bottom = min(int(right), camera.width_px), min(int(bottom), camera.height_px)
    if right - left < 48 or bottom - top < 48:
        return None
    return left, top, right, bottom


def _changed(patch: NDArray[np.float32], under: NDArray[np.float32]) -> Array:
    """Where the smoothed pictures differ (a shadow): 0 below 2 levels, 1 from 7 on."""

    def smoothed(picture: NDArray[np.float32]) -> NDArray[np.float32]:
        image = Image.fromarray(np.clip(picture, 0, 255).astype(np.uint8))
        return np.asarray(image.filter(ImageFilter.GaussianBlur(9.0)), dtype=np.float32)

    difference = np.abs(smoothed(patch) - smoothed(under)).max(axis=2)
    share = np.clip((difference - 2.0) / 5.0, 0.0, 1.0)
    return share.astype(np.float64)


def _soft_border(box: Box, width: int, height: int, feather_px: int = 16) -> Array:
    """Weights that fall to 0 at the box's edges, except along the picture's edges."""
    left, top, right, bottom = box
    x, y = np.arange(right - left), np.arange(bottom - top)
    across, down = np.ones(len(x)), np.ones(len(y))
    if left > 0:
        across = np.minimum(across, (x + 1) / feather_px)
    if right < width:
        across = np.minimum(across, (len(x) - x) / feather_px)
    if top > 0:
        down = np.minimum(down, (y + 1) / feather_px)
    if bottom < height:
        down = np.minimum(down, (len(y) - y) / feather_px)
    return np.outer(down, across)


class Quiet:
    """Silences the renderer's own lines on standard output."""

    def __enter__(self) -> None:
        self._saved = os.dup(1)
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.close(null)

    def __exit__(self, *_: object) -> None:
        os.dup2(self._saved, 1)
        os.close(self._saved)


def _area(
    scene: Any,
    name: str,
    place: Array,
    towards: Array,
    size: tuple[float, float],
    watts: float,
    colour: tuple[float, float, float],
) -> None:
    """A rectangular lamp at `place` shining towards a point."""
    light = bpy.data.lights.new(name, "AREA")
    light.shape = "RECTANGLE"
    light.size, light.size_y = size
    light.energy = watts
    light.color = colour
    thing = bpy.data.objects.new(name, light)
    direction = mathutils.Vector((towards - place).tolist())
    thing.rotation_euler = direction.to_track_quat("-Z", "Y").to_euler()
    thing.location = place.tolist()
    scene.collection.objects.link(thing)


def _light(scene: Any, lighting: Lighting) -> None:
    """Window light from the left, a weak lamp from the right, soft light from all over."""
    world = bpy.data.worlds.new("sky")
    scene.world = world
    world.use_nodes = True
    background = world.node_tree.nodes["Background"]
    background.inputs["Color"].default_value = (0.80, 0.88, 1.0, 1.0)
    key, fill, ambient = {
        "normal": (560.0, 110.0, 0.34),
        "dim": (26.0, 10.0, 0.030),
        "backlit": (60.0, 12.0, 0.20),
    }[lighting]
    background.inputs["Strength"].default_value = ambient
    middle = np.array([0.0, 4.2, 1.0])
    _area(scene, "window", np.array([-3.0, 1.6, 3.3]), middle, (2.2, 2.2), key, (1.0, 0.95, 0.88))
    _area(scene, "lamp", np.array([3.2, 2.6, 2.4]), middle, (1.0, 1.0), fill, (1.0, 0.82, 0.62))
    if lighting == "backlit":
        behind = np.array([-0.6, 8.2, 2.4])
        _area(scene, "back", behind, np.array([0.0, 3.0, 1.2]), (3.0, 2.2), 900.0, (1, 0.97, 0.92))
        props.bright_window(scene, np.array([-0.6, 8.36, 1.9]), 3.0, 2.4, strength=14.0)
    scene.view_settings.exposure = {"normal": 0.0, "dim": 0.6, "backlit": 0.1}[lighting]
