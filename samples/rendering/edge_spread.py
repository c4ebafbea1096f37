"""Render step edges out of focus with a ray-traced thin lens, and keep their measured profiles.

A contributor's tool: it needs `bpy` (a renderer as a Python module) and numpy, and nothing of this
project, so that its result can judge `optics.lens.blur_diameter_m` from outside. It writes the
fixture of tests/optics/test_edge_spread.py:

    python samples/rendering/edge_spread.py tests/optics/data/edge_spread.csv

Each scene is a white half-plane on black, square to the axis, its edge on the axis. The renderer's
camera wants the image distance where it says "lens" (it has no focus breathing) and divides that by
its f-stop to get the pupil: it is given v = f s / (s - f) and v N / f, which makes the pupil f / N.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import bpy
import numpy as np

WIDTH_PX = 600
HEIGHT_PX = 8  # rows are averaged
SENSOR_WIDTH_MM = 1.8
SAMPLES = 1024

# Focal length (mm), f-number, focus distance from the lens (m), distances of the edge (m).
SETTINGS = (
    (50.0, 1.8, 3.0, (1.5, 2.0, 2.5, 3.5, 4.5, 8.0, 30.0)),
    (85.0, 2.8, 2.0, (1.6, 1.8, 2.3, 3.0, 6.0)),
    (35.0, 5.6, 1.2, (0.8, 1.8, 5.0)),
)


def white_half_plane(distance_m: float) -> None:
    """A luminous plane from the axis to the right, far larger than any blur disc."""
    bpy.ops.mesh.primitive_plane_add(size=1.0)
    plane = bpy.context.object
    plane.scale = (20.0, 20.0, 1.0)
    plane.location = (10.0, 0.0, -distance_m)  # the camera looks along -z
    material = bpy.data.materials.new("white")
    material.use_nodes = True
    nodes = material.node_tree.nodes
    nodes.clear()
    emission = nodes.new("ShaderNodeEmission")
    emission.inputs["Color"].default_value = (1.0, 1.0, 1.0, 1.0)
    output = nodes.new("ShaderNodeOutputMaterial")
    material.node_tree.links.new(emission.outputs["Emission"], output.inputs["Surface"])
    plane.data.materials.append(material)


def empty_scene() -> bpy.types.Scene:
    """A black world and exact, linear, unfiltered pixels."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    scene = bpy.context.scene
    scene.world = bpy.data.worlds.new("black")
    scene.world.color = (0.0, 0.0, 0.0)
    scene.render.engine = "CYCLES"
    scene.cycles.samples = SAMPLES
    scene.cycles.use_adaptive_sampling = False
    scene.cycles.use_denoising = False
    scene.cycles.max_bounces = 0
    scene.cycles.pixel_filter_type = "BOX"
    scene.render.threads_mode = "FIXED"
    scene.render.threads = 1
    scene.render.resolution_x, scene.render.resolution_y = WIDTH_PX, HEIGHT_PX
    scene.render.resolution_percentage = 100
    scene.view_settings.view_transform = "Raw"
    scene.render.image_settings.file_format = "OPEN_EXR"
    scene.render.image_settings.color_depth = "32"
    return scene


def camera_at_origin(
    scene: bpy.types.Scene, focal_mm: float, f_number: float, focus_m: float
) -> None:
    """A thin-lens camera that looks along -z."""
    image_distance_mm = focal_mm * focus_m / (focus_m - focal_mm / 1000.0)
    data = bpy.data.cameras.new("camera")
    data.sensor_fit = "HORIZONTAL"
    data.sensor_width = SENSOR_WIDTH_MM
    data.lens = image_distance_mm
    data.clip_start, data.clip_end = 0.01, 1000.0
    data.dof.use_dof = True
    data.dof.focus_distance = focus_m
    data.dof.aperture_fstop = image_distance_mm * f_number / focal_mm
    data.dof.aperture_blades = 0  # round
    camera = bpy.data.objects.new("camera", data)
    scene.collection.objects.link(camera)
    scene.camera = camera


def profile(scene: bpy.types.Scene, folder: Path) -> np.ndarray:
    """Brightness across the edge, mean of the rows."""
    path = folder / "edge.exr"
    scene.render.filepath = str(path)
    bpy.ops.render.render(write_still=True)
    image = bpy.data.images.load(str(path))
    pixels = np.array(image.pixels[:], dtype=np.float64).reshape(HEIGHT_PX, WIDTH_PX, -1)
    return pixels[:, :, 0].mean(axis=0)


def main(target: Path) -> None:
    """Render every edge and write one line per pixel."""
    pitch_mm = SENSOR_WIDTH_MM / WIDTH_PX
    across_mm = (np.arange(WIDTH_PX) + 0.5) * pitch_mm - SENSOR_WIDTH_MM / 2
    lines = ["focal_length_mm,f_number,focus_m,edge_m,across_mm,brightness"]
    with tempfile.TemporaryDirectory() as folder:
        for focal_mm, f_number, focus_m, distances_m in SETTINGS:
            for edge_m in distances_m:
                scene = empty_scene()
                white_half_plane(edge_m)
                camera_at_origin(scene, focal_mm, f_number, focus_m)
                values = profile(scene, Path(folder))
                # Every third pixel is plenty for a curve as smooth as this.
                for x, value in zip(across_mm[::3], values[::3], strict=True):
                    lines.append(
                        f"{focal_mm:g},{f_number:g},{focus_m:g},{edge_m:g},{x:.4f},{value:.4f}"
                    )
                print(f"{focal_mm:g} mm f/{f_number:g} {focus_m:g} m: edge at {edge_m:g} m")
    target.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
