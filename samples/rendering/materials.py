"""Shaders for the person's surfaces and for the room, built from nodes.

Patterns use the `rest` attribute (rest-posture position, metres), so cloth does not swim when the
person moves.
"""

from __future__ import annotations

from typing import Any

import bpy

from .wardrobe import Colour, Material


class Shader:
    """A thin helper to write node graphs in few lines."""

    def __init__(self, name: str, roughness: float = 0.8) -> None:
        self.material = bpy.data.materials.new(name)
        self.material.use_nodes = True
        self.tree = self.material.node_tree
        self.surface = self.tree.nodes["Principled BSDF"]
        self.surface.inputs["Roughness"].default_value = roughness

    def node(self, kind: str, **settings: Any) -> Any:
        """Add a node; settings are attributes, or input values when the name is an input's."""
        made = self.tree.nodes.new(kind)
        for key, value in settings.items():
            name = key.replace("_", " ")
            if name in made.inputs:
                made.inputs[name].default_value = value
            else:
                setattr(made, key, value)
        return made

    def link(self, source: Any, target: Any) -> None:
        """Connect two sockets."""
        self.tree.links.new(source, target)

    def rest(self) -> Any:
        """Socket with the rest-posture position."""
        return self.node("ShaderNodeAttribute", attribute_name="rest").outputs["Vector"]

    def place(self) -> Any:
        """Socket with the object's own position, metres."""
        return self.node("ShaderNodeTexCoord").outputs["Object"]

    def paint(self) -> Any:
        """Socket with the painted number."""
        return self.node("ShaderNodeAttribute", attribute_name="paint").outputs["Fac"]

    def mix(self, share: Any, first: Any, second: Any) -> Any:
        """Socket with a colour between two colours or sockets."""
        made = self.node("ShaderNodeMix", data_type="RGBA")
        pairs = ((made.inputs[0], share), (made.inputs[6], first), (made.inputs[7], second))
        for socket, value in pairs:
            if isinstance(value, tuple):
                socket.default_value = (*value, 1.0)
            elif isinstance(value, float):
                socket.default_value = value
            else:
                self.link(value, socket)
        return made.outputs[2]

    def math(self, operation: str, first: Any, second: Any = 0.0) -> Any:
        """Socket with the result of one arithmetic operation."""
        made = self.node("ShaderNodeMath", operation=operation)
        for socket, value in zip(made.inputs, (first, second), strict=False):
            if isinstance(value, (int, float)):
                socket.default_value = float(value)
            else:
                self.link(value, socket)
        return made.outputs[0]

    def noise(self, where: Any, scale: float, detail: float = 2.0) -> Any:
        """Socket with noise between 0 and 1."""
        made = self.node("ShaderNodeTexNoise", Scale=scale, Detail=detail)
        self.link(where, made.inputs["Vector"])
        return made.outputs["Fac"]

    def axis(self, where: Any, name: str) -> Any:
        """One coordinate (X, Y or Z) of a position socket."""
        made = self.node("ShaderNodeSeparateXYZ")
        self.link(where, made.inputs[0])
        return made.outputs[name]

    def band(self, coordinate: Any, period_m: float, share: float) -> Any:
        """1 inside stripes that repeat every `period_m` and fill `share` of it, else 0."""
        phase = self.math("FRACT", self.math("DIVIDE", coordinate, period_m))
        return self.math("LESS_THAN", phase, share)

    def bump(self, height: Any, strength: float, distance: float = 0.01) -> None:
        """Rough the surface by a height socket."""
        made = self.node("ShaderNodeBump", Strength=strength, Distance=distance)
        self.link(height, made.inputs["Height"])
        self.link(made.outputs[0], self.surface.inputs["Normal"])

    def colour(self, value: Any) -> None:
        """Set the base colour (a tuple or a socket)."""
        socket = self.surface.inputs["Base Color"]
        if isinstance(value, tuple):
            socket.default_value = (*value, 1.0)
        else:
            self.link(value, socket)


def _scaled(colour: Colour, factor: float) -> Colour:
    return (colour[0] * factor, colour[1] * factor, colour[2] * factor)


def make(what: Material) -> Any:
    """The shader for a surface of the person."""
    shader = Shader(what.kind, what.roughness)
    {
        "skin": _skin,
        "stripes": _stripes,
        "checks": _checks,
        "weave": _weave,
        "plain": _plain,
        "hair": _hair,
        "eye": _eye,
        "knit": _knit,
        "shoe": _shoe,
    }[what.kind](shader, what)
    return shader.material


def _folds(shader: Shader, strength: float = 0.55) -> Any:
    """Cloth folds as a bump; returns the noise socket for shading the colour too."""
    stretched = shader.node("ShaderNodeMapping")
    stretched.inputs["Scale"].default_value = (1.0, 1.0, 0.55)
    shader.link(shader.rest(), stretched.inputs["Vector"])
    folds = shader.noise(stretched.outputs[0], 14.0, 3.0)
    shader.bump(folds, strength, 0.05)
    return folds


def _skin(shader: Shader, what: Material) -> None:
    mottle = shader.noise(shader.rest(), 60.0, 3.0)
    red = (what.colour[0] * 0.92, what.colour[1] * 0.74, what.colour[2] * 0.72)
    base = shader.mix(shader.math("MULTIPLY", mottle, 0.5), what.colour, red)
    lip = (what.colour[0] * 0.72, what.colour[1] * 0.38, what.colour[2] * 0.42)
    shader.colour(shader.mix(shader.math("MULTIPLY", shader.paint(), 0.75), base, lip))
    shader.surface.inputs["Roughness"].default_value = 0.5
    shader.surface.inputs["Specular IOR Level"].default_value = 0.35


def _stripes(shader: Shader, what: Material) -> None:
    _folds(shader)
    where = shader.band(shader.axis(shader.rest(), "Z"), 0.042 * what.scale, 0.36)
    shader.colour(shader.mix(where, what.colour, what.second))


def _checks(shader: Shader, what: Material) -> None:
    _folds(shader)
    rest = shader.rest()
    across = shader.band(shader.axis(rest, "X"), 0.07 * what.scale, 0.5)
    along = shader.band(shader.axis(rest, "Z"), 0.07 * what.scale, 0.5)
    share = shader.math("MULTIPLY", shader.math("ADD", across, along), 0.5)
    shader.colour(shader.mix(share, what.colour, what.second))


def _weave(shader: Shader, what: Material) -> None:
    folds = _folds(shader, 0.75)
    fine = shader.noise(shader.rest(), 260.0, 2.0)
    share = shader.math("MULTIPLY", shader.math("ADD", fine, folds), 0.6)
    shader.colour(shader.mix(share, what.colour, what.second))


def _knit(shader: Shader, what: Material) -> None:
    rest = shader.rest()
    rib = shader.band(shader.axis(rest, "Z"), 0.012 * what.scale, 0.5)
    shader.bump(rib, 0.5, 0.004)
    shader.colour(shader.mix(rib, what.colour, what.second))


def _plain(shader: Shader, what: Material) -> None:
    shade = shader.noise(shader.rest(), 40.0, 2.0)
    shader.colour(shader.mix(shade, _scaled(what.colour, 0.8), _scaled(what.colour, 1.2)))


def _shoe(shader: Shader, what: Material) -> None:
    sole = shader.math("LESS_THAN", shader.paint(), 0.021)
    seam = shader.math("COMPARE", shader.paint(), 0.026)
    seam.node.inputs[2].default_value = 0.002
    upper = shader.mix(seam, what.colour, _scaled(what.colour, 0.3))
    shader.colour(shader.mix(sole, upper, what.second))
    shader.bump(shader.noise(shader.rest(), 90.0, 3.0), 0.15, 0.004)


def _hair(shader: Shader, what: Material) -> None:
    strands = shader.node("ShaderNodeMapping")
    strands.inputs["Scale"].default_value = (1.0, 1.0, 0.08)
    shader.link(shader.rest(), strands.inputs["Vector"])
    fine = shader.noise(strands.outputs[0], 240.0, 3.0)
    shader.bump(fine, 0.9, 0.006)
    shader.colour(shader.mix(fine, _scaled(what.colour, 0.4), _scaled(what.colour, 2.2)))


def _eye(shader: Shader, what: Material) -> None:
    reach = shader.paint()
    iris = shader.math("LESS_THAN", reach, 0.0062)
    pupil = shader.math("LESS_THAN", reach, 0.0026)
    base = shader.mix(iris, (0.72, 0.70, 0.67), what.colour)
    shader.colour(shader.mix(pupil, base, (0.004, 0.004, 0.004)))
    shader.surface.inputs["Roughness"].default_value = 0.12


def planks() -> Any:
    """Oak floor boards running away from the camera."""
    shader = Shader("planks", 0.55)
    place = shader.place()
    turned = shader.node("ShaderNodeMapping")
    turned.inputs["Rotation"].default_value = (0.0, 0.0, 1.5708)
    shader.link(place, turned.inputs["Vector"])
    boards = shader.node(
        "ShaderNodeTexBrick",
        Scale=1.0,
        offset=0.37,
        squash=1.0,
        Brick_Width=1.9,
        Row_Height=0.17,
        Mortar_Size=0.003,
    )
    boards.inputs["Color1"].default_value = (0.34, 0.19, 0.095, 1.0)
    boards.inputs["Color2"].default_value = (0.22, 0.115, 0.055, 1.0)
    boards.inputs["Mortar"].default_value = (0.03, 0.018, 0.01, 1.0)
    shader.link(turned.outputs[0], boards.inputs["Vector"])
    long = shader.node("ShaderNodeMapping")
    long.inputs["Scale"].default_value = (1.0, 0.06, 1.0)
    shader.link(place, long.inputs["Vector"])
    grain = shader.noise(long.outputs[0], 55.0, 4.0)
    shader.colour(
        shader.mix(
            shader.math("MULTIPLY", grain, 0.55), boards.outputs["Color"], (0.10, 0.05, 0.02)
        )
    )
    return shader.material


def bricks() -> Any:
    """A whitewashed brick wall (in the x-z plane)."""
    shader = Shader("bricks", 0.9)
    turned = shader.node("ShaderNodeMapping")
    turned.inputs["Rotation"].default_value = (1.5708, 0.0, 0.0)
    place = shader.place()
    shader.link(place, turned.inputs["Vector"])
    wall = shader.node(
        "ShaderNodeTexBrick", Scale=1.0, Brick_Width=0.25, Row_Height=0.078, Mortar_Size=0.006
    )
    wall.inputs["Color1"].default_value = (0.27, 0.125, 0.085, 1.0)
    wall.inputs["Color2"].default_value = (0.18, 0.080, 0.055, 1.0)
    wall.inputs["Mortar"].default_value = (0.33, 0.29, 0.25, 1.0)
    shader.link(turned.outputs[0], wall.inputs["Vector"])
    worn = shader.noise(place, 2.2, 5.0)
    shader.colour(
        shader.mix(shader.math("MULTIPLY", worn, 0.42), wall.outputs["Color"], (0.40, 0.35, 0.30))
    )
    return shader.material


def plaster(colour: Colour) -> Any:
    """Painted plaster with faint clouds."""
    shader = Shader("plaster", 0.9)
    clouds = shader.noise(shader.place(), 1.7, 4.0)
    shader.colour(shader.mix(clouds, _scaled(colour, 0.8), _scaled(colour, 1.15)))
    return shader.material


def flat(colour: Colour, roughness: float = 0.7) -> Any:
    """One colour."""
    shader = Shader("flat", roughness)
    shader.colour(colour)
    return shader.material


def rug() -> Any:
    """A woven rug: dark field with fine lozenges inside a pale border."""
    shader = Shader("rug", 0.95)
    place = shader.place()
    x, y = shader.axis(place, "X"), shader.axis(place, "Y")
    first = shader.band(shader.math("ADD", x, y), 0.24, 0.5)
    second = shader.band(shader.math("SUBTRACT", x, y), 0.24, 0.5)
    lozenge = shader.math("ABSOLUTE", shader.math("SUBTRACT", first, second))
    field = shader.mix(lozenge, (0.055, 0.075, 0.10), (0.085, 0.11, 0.135))
    across = shader.math("ABSOLUTE", x)
    along = shader.math("ABSOLUTE", shader.math("SUBTRACT", y, 4.6))
    rim = shader.math("MAXIMUM", across, shader.math("SUBTRACT", along, 0.1))
    edge = shader.math("GREATER_THAN", rim, 1.32)
    line = shader.math("COMPARE", rim, 1.24)
    line.node.inputs[2].default_value = 0.02
    border = shader.math("MAXIMUM", edge, line)
    base = shader.mix(border, field, (0.40, 0.33, 0.24))
    fine = shader.noise(place, 120.0, 2.0)
    shader.colour(shader.mix(shader.math("MULTIPLY", fine, 0.35), base, (0.03, 0.03, 0.035)))
    return shader.material


def glow(colour: Colour, strength: float) -> Any:
    """A shining surface."""
    shader = Shader("glow")
    shader.material.cycles.emission_sampling = "NONE"
    shader.colour(colour)
    shader.surface.inputs["Emission Color"].default_value = (*colour, 1.0)
    shader.surface.inputs["Emission Strength"].default_value = strength
    return shader.material


def picture(seed: float) -> Any:
    """An abstract picture for a frame on the wall."""
    shader = Shader("picture", 0.6)
    place = shader.node("ShaderNodeMapping")
    place.inputs["Location"].default_value = (seed, seed * 0.7, seed * 1.3)
    shader.link(shader.place(), place.inputs["Vector"])
    patches = shader.node("ShaderNodeTexVoronoi", Scale=4.0)
    shader.link(place.outputs[0], patches.inputs["Vector"])
    shade = shader.noise(place.outputs[0], 3.0, 2.0)
    shader.colour(shader.mix(shade, patches.outputs["Color"], (0.75, 0.68, 0.55)))
    return shader.material
