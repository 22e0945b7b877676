"""The views that hang the panel in its frame on a wall: the listing picture and the detail."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector
from numpy.typing import NDArray

from ...core.boards.figure import figure_of, lay_of_side
from ...core.solids.frame import back_of, frame_depth, frame_sides, framed_box
from ...core.woods import colour
from .. import meshes, versions
from ..designs import OpenDesign
from ..units import METRES
from ..woods import wood_slots
from ..woods.node_maths import Value, absolute, clamp
from . import studio

OFF_THE_WALL = 4.0
"""mm between wall and frame, where its hangers are: the dark line that lifts it off."""
MARGIN = 0.085
"""Margin of the listing picture, as a share of its shorter side: wall enough to hang on, and not to get lost on."""
WINDOW_AT, WINDOW_SIZE, WINDOW_WATTS = (-0.85, 0.95, 1.25), 0.42, 300.0
"""Where the window's light comes from, metres from the middle of a panel of 600 x 400 mm; radius, m; power."""
PATCH_GROWN, PATCH_EDGE, PATCH_SLANT = np.array([1.42, 1.62]), 0.4, 0.3
"""The patch of light on the wall, in sizes of the frame; how softly it ends, as a share of that; how it leans."""
SWEEP_FROM, SWEEP_SIZE, SWEEP_WATTS = (-0.62, 0.45, 0.36), (0.22, 0.10), 5.5
"""A small light that is dark but in the film that sweeps it across: where it starts, its size, its power.
It stays above the panel, so that no gloss throws it back at the camera."""
DIMMED = 0.45
"""Share of the window's light that is left while the light is at its brightest."""
ROLE = "grainstack_light"
REACH = 30
"""The wall's half width, in widths of the frame."""


def stage(scene: bpy.types.Scene, opened: OpenDesign, view: str, size: tuple[int, int], samples: int | None) -> None:
    """Hang, light and frame the panel for a picture of this size; within a step of undo.

    Raises:
        UnusableInput: the frame cannot be made; nothing is changed then.
    """
    sides = frame_sides(opened.stack.design)
    box = _hung_box(opened)
    margin = MARGIN * min(1.0, size[1] / size[0]) if view == "listing" else None
    studio.set_up(scene, view, box, _framed_points(opened, view, box), size, samples=samples, margin=margin)
    collection = studio.stage_of(scene)
    if view == "listing":
        _add_window_light(collection, box)
        _add_sweep_light(collection, box)
    for side in sides:
        mesh = bpy.data.meshes.new(f"{studio.NAME} {side.name}")
        meshes.fill(mesh, figure_of(side.mesh, lay_of_side(side), opened.boards))
        mesh.materials.append(wood_slots.material_of(opened, side.wood))
        studio.add(collection, mesh.name, mesh).hide_select = True
    _add_wall(collection, box, opened.stack.design.frame.wall)


def words_of(opened: OpenDesign, view: str) -> str:
    """What a stage is made of beside the panel's size: the same for the same frame, of the same wood, and place."""
    frame = opened.stack.design.frame
    return repr((frame, wood_slots.words_of_wood(opened, frame.wood), opened.close_up if view == "detail" else None))


def _hung_box(opened: OpenDesign) -> NDArray[np.float64]:
    """Lower and upper corner (2, 3) of the framed panel, mm."""
    design = opened.stack.design
    left, low, right, high = framed_box(design)
    back = back_of(design)
    return np.array([(left, low, back), (right, high, back + frame_depth(design))])


def _framed_points(opened: OpenDesign, view: str, box: NDArray[np.float64]) -> NDArray[np.float64]:
    """What the picture holds: the whole frame, or the place that is worth a close look."""
    if view == "listing":
        return box
    place, face = opened.close_up, -opened.stack.design.panel.face_trim
    x, y, half = place.x, place.y, place.half
    return np.array([(x + i * half, y + j * half, face) for i in (-1, 1) for j in (-1, 1)])


def _add_window_light(collection: bpy.types.Collection, box: NDArray[np.float64]) -> None:
    """Light as through a window: a slanting soft-edged patch about the frame, from which the wall falls into shade."""
    middle, spread = Vector(box.mean(axis=0)) * METRES, np.ptp(box, axis=0)[:2]
    scale = float(max(spread / (600, 400)))
    light = bpy.data.lights.new(f"{studio.NAME} window", "SPOT")
    light.energy, light.color, light.shadow_soft_size = WINDOW_WATTS * scale**2, studio.WINDOW, WINDOW_SIZE * scale
    light.spot_size, light.spot_blend = np.radians(140), 0.0
    away = Vector(WINDOW_AT) * scale
    turned = away.to_track_quat("Z", "Y").to_matrix()
    _cut_patch(light, away, turned, spread / 2 * METRES * PATCH_GROWN)
    item = studio.add(collection, light.name, light)
    item[ROLE] = "window"
    item.matrix_world = Matrix.Translation(middle + away) @ turned.to_4x4()


def _add_sweep_light(collection: bpy.types.Collection, box: NDArray[np.float64]) -> None:
    scale = float(max(np.ptp(box, axis=0)[:2] / (600, 400)))
    light = bpy.data.lights.new(f"{studio.NAME} sweep", "AREA")
    light.shape, light.size, light.size_y = "RECTANGLE", SWEEP_SIZE[0] * scale, SWEEP_SIZE[1] * scale
    light.energy, light.color = 0.0, studio.WARM
    item = studio.add(collection, light.name, light)
    item[ROLE] = "sweep"
    item.visible_camera = False
    away = Vector((0.0, *SWEEP_FROM[1:]))
    item.rotation_euler = away.to_track_quat("Z", "Y").to_euler()
    item.location = Vector(box.mean(axis=0)) * METRES + Vector(SWEEP_FROM) * scale


@dataclass(frozen=True)
class Sweep:
    """The lights of the film that sweeps one across the panel."""

    window: bpy.types.Object
    lamp: bpy.types.Object
    power: float
    """Power of the lamp at its brightest, W."""
    reach: float
    """How far it travels, m."""


def sweep_of(scene: bpy.types.Scene) -> Sweep:
    """The lights of a scene that shows the listing."""
    lights = {item[ROLE]: item for item in studio.stage_of(scene).objects if ROLE in item}
    scale = lights["sweep"].data.size / SWEEP_SIZE[0]
    return Sweep(lights["window"], lights["sweep"], SWEEP_WATTS * scale**2, -2 * SWEEP_FROM[0] * scale)


def _cut_patch(light: bpy.types.Light, away: Vector, turned: Matrix, half: NDArray[np.float64]) -> None:
    """Let a light that is `away` from the middle of a wall shine on a slanting rectangle of half size `half` there."""
    tree = versions.empty_light_tree(light)
    way = Value(tree, tree.nodes.new("ShaderNodeTexCoord").outputs["Normal"])
    x, y, z = (way.vector("DOT_PRODUCT", way, tuple(row), output="Value") for row in turned)
    reach = z**-1.0 * -away.z
    across, up = x * reach + away.x, y * reach + away.y
    edge = PATCH_EDGE * float(half.min())
    share: Any = 1.0
    for place, limit in ((across - up * PATCH_SLANT, half[0]), (up + across * PATCH_SLANT / 2, half[1])):
        inside = clamp((float(limit) - absolute(place)) * (0.5 / edge) + 0.5)
        share = inside * inside * (3.0 - inside * 2.0) * share
    shine = tree.nodes.new("ShaderNodeEmission")
    tree.links.new(share.socket, shine.inputs["Strength"])
    output = tree.nodes.new("ShaderNodeOutputLight")
    tree.links.new(shine.outputs[0], output.inputs["Surface"])


def _add_wall(collection: bpy.types.Collection, box: NDArray[np.float64], wall: str) -> None:
    middle, reach = box.mean(axis=0), REACH * np.ptp(box, axis=0)[:2].max()
    mesh = bpy.data.meshes.new(f"{studio.NAME} wall")
    meshes.fill_ground(mesh, middle[:2] - reach, middle[:2] + reach, box[0, 2] - OFF_THE_WALL)
    mesh.materials.append(_plaster(wall))
    studio.add(collection, mesh.name, mesh).hide_select = True


def _plaster(wall: str) -> bpy.types.Material:
    """Matt, faintly mottled and trowelled, of the wall's colour on the whole."""
    name = f"{studio.NAME} plaster {wall}"
    material = bpy.data.materials.get(name)
    if material is not None:
        return material
    material = bpy.data.materials.new(name)
    studio.own(material)
    tree = versions.empty_material_tree(material)
    place = tree.nodes.new("ShaderNodeTexCoord").outputs["Object"]
    cloud, trowel = (_noise(tree, place, scale, detail) for scale, detail in ((1.7, 3.0), (26.0, 4.0)))
    mix = tree.nodes.new("ShaderNodeMapRange")
    mix.inputs["To Min"].default_value, mix.inputs["To Max"].default_value = 0.93, 1.07
    tree.links.new(cloud, mix.inputs["Value"])
    tint = tree.nodes.new("ShaderNodeVectorMath")
    tint.operation = "SCALE"
    tint.inputs[0].default_value = colour.linear_from_srgb(colour.srgb_from_hex(wall))
    tree.links.new(mix.outputs[0], tint.inputs["Scale"])
    bump = tree.nodes.new("ShaderNodeBump")
    bump.inputs["Strength"].default_value, bump.inputs["Distance"].default_value = 0.35, 0.004
    tree.links.new(trowel, bump.inputs["Height"])
    surface = tree.nodes.new("ShaderNodeBsdfDiffuse")
    surface.inputs["Roughness"].default_value = 0.6
    tree.links.new(tint.outputs[0], surface.inputs["Color"])
    tree.links.new(bump.outputs[0], surface.inputs["Normal"])
    output = tree.nodes.new("ShaderNodeOutputMaterial")
    tree.links.new(surface.outputs[0], output.inputs["Surface"])
    return material


def _noise(
    tree: bpy.types.ShaderNodeTree, place: bpy.types.NodeSocket, scale: float, detail: float
) -> bpy.types.NodeSocket:
    noise = tree.nodes.new("ShaderNodeTexNoise")
    noise.inputs["Scale"].default_value, noise.inputs["Detail"].default_value = scale, detail
    tree.links.new(place, noise.inputs["Vector"])
    return noise.outputs[versions.NOISE]
