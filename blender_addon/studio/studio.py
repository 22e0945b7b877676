"""The studio: camera, lights, ground and render settings of each view.

All that is made here is tagged and lives in one collection, in it a stage for each view that was shown. So setting up
again replaces it and never touches what the maker made, and a view that is shown again finds its stage as it was left.
Positions of lights are metres for a panel of 600 x 400 mm and grow with the panel.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import bpy
import numpy as np
from mathutils import Matrix, Vector
from numpy.typing import NDArray

from ...core.views.exploded import ELEVATION
from .. import versions
from ..meshes import fill_ground
from ..units import METRES
from ..woods import wood_material
from . import picture_choices

NAME = "Grainstack studio"
TAG = "grainstack_studio"
VIEW, STAMP, LENS = "grainstack_view", "grainstack_stamp", "grainstack_lens"
"""On a view's stage: which view, what it was made for, where its camera stands."""

Points = NDArray[np.float64]
"""(n, 3) in mm; of a box the lowest and the highest corner."""


@dataclass(frozen=True)
class Lamp:
    """An area light, `at` metres from the panel's middle, aimed at it."""

    at: tuple[float, float, float]
    size: tuple[float, float]
    watts: float
    colour: tuple[float, float, float] = (1.0, 1.0, 1.0)


WINDOW, WARM, COOL = (1.0, 0.955, 0.89), (1.0, 0.975, 0.94), (0.92, 0.96, 1.0)
PAPER, GREY, DARK = (0.86, 0.85, 0.83), (0.25, 0.24, 0.225), (0.12, 0.112, 0.10)
"""Colours of the ground, linear."""


@dataclass(frozen=True)
class Setting:
    """How one view is seen and lit. Angles in degrees; `turn` swings the camera to the right of straight on."""

    turn: float
    rise: float
    lamps: tuple[Lamp, ...]
    lens: float = 80.0
    world: float = 0.25
    exposure: float = 0.0
    margin: float = 0.06
    """Share of the picture left free on each side."""
    drop: float = 0.0
    """How far below the picture's middle the middle of the points lies, as a share of its height."""
    samples: int = 10
    denoised: bool = True
    key_share: float = 0.0
    """Share of the picture's width, at its right, that is kept free for a key."""
    parallel: bool = False
    """Seen without perspective."""
    ground: tuple[float, float, float] | None = GREY
    """None: the view brings a wall of its own."""
    f_stop: float = 0.0
    """Depth of field about the middle of the points; 0: all is sharp."""


# The mirror image of the camera must not see a lamp through the panel, or a milky veil lies over the wood:
# low raking light from a far side wakes the fibres, the strip far behind only grazes the coat.
SETTINGS = {
    "finished": Setting(  # a low window at the left, dark ground: the wood is the brightest thing in the picture
        0.0,
        66.0,
        (
            Lamp((-1.45, 0.40, 0.76), (0.7, 0.7), 58.0, WINDOW),
            Lamp((0.9, -1.3, 1.2), (1.0, 1.0), 4.0, COOL),
            Lamp((0.5, 1.6, 0.9), (1.2, 0.3), 9.0, WARM),
        ),
        lens=85.0,
        world=0.12,
        exposure=0.28,
        margin=0.035,
        ground=DARK,
    ),
    "proud": Setting(
        -18.0,
        30.0,
        (
            Lamp((-1.30, 0.45, 0.70), (0.35, 0.35), 32.0, WARM),
            Lamp((0.9, -1.3, 1.0), (1.0, 1.0), 6.0, COOL),
        ),
        exposure=0.15,
    ),
    "exploded": Setting(  # as the lifts are computed: straight on and without perspective
        0.0,
        ELEVATION,
        (
            Lamp((-1.3, -0.1, 1.5), (0.6, 0.6), 38.0, WARM),
            Lamp((0.8, -1.5, 1.0), (1.0, 1.0), 10.0, COOL),
        ),
        world=0.45,
        exposure=0.3,
        margin=0.03,
        key_share=0.28,
        parallel=True,
    ),
    "section": Setting(
        0.0,
        20.0,
        (
            Lamp((-0.9, -0.7, 1.0), (0.5, 0.5), 22.0, WARM),
            Lamp((0.7, -1.2, 0.5), (1.0, 1.0), 12.0, COOL),
        ),
        world=0.40,
        exposure=0.3,
        margin=0.04,
        drop=0.15,
    ),
    "listing": Setting(  # on a wall; the window's light comes beside these
        0.0,
        90.0,
        (Lamp((1.3, -0.5, 1.6), (1.6, 1.6), 9.0, WARM),),  # what a warm wall throws back: its shadows are not grey
        lens=85.0,
        world=0.14,
        exposure=0.3,
        margin=0.10,
        samples=12,
        ground=None,
    ),
    "detail": Setting(
        -24.0,
        34.0,
        (
            Lamp((-1.10, 0.35, 0.55), (0.35, 0.35), 40.0, WINDOW),
            Lamp((0.9, -1.1, 1.2), (1.2, 1.2), 6.0, COOL),
        ),
        lens=100.0,
        world=0.08,
        exposure=0.3,
        margin=0.0,
        samples=24,
        ground=None,
        f_stop=5.6,
    ),
    "overlap": Setting(0.0, 90.0, (), margin=0.05, samples=32, denoised=False, key_share=0.22, parallel=True),
    "findings": Setting(0.0, 90.0, (), margin=0.02, samples=8, key_share=0.35, parallel=True),
}
SETTINGS["closeup"] = replace(SETTINGS["findings"], margin=0.0, key_share=0.0)
FLAT = ("overlap", "findings", "closeup")


def samples_of(view: str, quality: str) -> int:
    """Samples per pixel of a view in a quality."""
    return picture_choices.samples(SETTINGS[view].samples, quality)


def set_up(
    scene: bpy.types.Scene,
    view: str,
    panel_mm: Points,
    framed_mm: Points,
    size: tuple[int, int] = (1600, 1000),
    *,
    samples: int | None = None,
    facing: tuple[float, float] = (0.0, -1.0),
    margin: float | None = None,
) -> bpy.types.Object:
    """Replace the scene's studio by that of a view, and return its camera.

    panel_mm: the whole panel's box; lights and ground go by it. framed_mm: what the picture must hold, lifted parts
    included: a box, or at least three points for a closer frame; for "section" the part of the cut that is worth a
    close look. facing: the way from the panel to the viewer, in x and y; for "section" the normal of the cut.
    margin: another than the view's own.
    """
    setting = SETTINGS[view] if margin is None else replace(SETTINGS[view], margin=margin)
    collection = _empty_stage(scene, view)
    panel, solids = np.asarray(panel_mm, float), _points(framed_mm)
    heading = np.arctan2(facing[0], -facing[1])
    _render_settings(scene, setting, size, samples)
    camera = camera_of(scene)
    _aim(camera, setting, heading, solids, size)
    _keep_lens(collection, camera)
    scene.camera = camera
    if view in FLAT:
        _add_flat_light(collection)
    else:
        _add_lamps(collection, setting, heading, panel)
    if setting.ground is not None:
        _add_ground(collection, panel, PAPER if view in FLAT else setting.ground)
    _set_world(scene, 0.0 if view in FLAT else setting.world)
    if wood_material.STATE not in scene:
        wood_material.show_as(scene)
    return camera


def own(item: bpy.types.ID) -> None:
    """Mark a datablock as the studio's, to be removed with it."""
    item[TAG] = True


def collection_of(scene: bpy.types.Scene) -> bpy.types.Collection:
    """The studio's collection in this scene; made when there is none."""
    for child in scene.collection.children:
        if child.get(TAG):
            return child
    made = bpy.data.collections.new(NAME)
    own(made)
    scene.collection.children.link(made)
    return made


def _stages(scene: bpy.types.Scene) -> dict[str, bpy.types.Collection]:
    """What each view that was shown has of its own: light, ground, marks. One of them is shown."""
    return {child[VIEW]: child for child in collection_of(scene).children if VIEW in child}


def stage_of(scene: bpy.types.Scene) -> bpy.types.Collection:
    """The stage that was set up or shown last."""
    return _stages(scene)[collection_of(scene)[VIEW]]


def _turn_to(scene: bpy.types.Scene, view: str) -> bpy.types.Collection:
    """Show the stage of a view, and no other; made when there is none."""
    if view not in _stages(scene):
        made = bpy.data.collections.new(f"{NAME} {view}")
        own(made)
        made[VIEW] = view
        collection_of(scene).children.link(made)
    stages = _stages(scene)
    for name, stage in stages.items():
        stage.hide_viewport = stage.hide_render = name != view
    collection_of(scene)[VIEW] = view
    return stages[view]


def _empty_stage(scene: bpy.types.Scene, view: str) -> bpy.types.Collection:
    """The view's stage without anything of ours on it."""
    stage = _turn_to(scene, view)
    _remove([item for item in stage.objects if item.get(TAG)])
    return stage


def clear(scene: bpy.types.Scene) -> None:
    """Remove all of the scene's studio."""
    root = collection_of(scene)
    _remove([item for item in root.all_objects if item.get(TAG)])
    bpy.data.batch_remove([*root.children, root])


def _remove(items: list[bpy.types.Object]) -> None:
    """Remove objects, and their data where nothing else uses it, in one go: Blender takes long for each."""
    data = {item.data for item in items if item.data is not None}
    bpy.data.batch_remove(items)
    bpy.data.batch_remove([each for each in data if not each.users])


def mark_staged(scene: bpy.types.Scene, stamp: str) -> None:
    """Remember on the stage what it was made for: undo takes both back together."""
    stage_of(scene)[STAMP] = stamp


def set_up_again(scene: bpy.types.Scene, view: str, stamp: str, size: tuple[int, int]) -> bool:
    """Show a view's stage as it was left, where it was made for this and is still whole; returns whether it was."""
    stage = _stages(scene).get(view)
    if stage is None or stage.get(STAMP) != stamp or LENS not in stage or not stage.objects:
        return False
    _turn_to(scene, view)
    camera = camera_of(scene)
    kind, lens, scale, f_stop, focus, *matrix = stage[LENS]
    data = camera.data
    data.type, data.lens, data.ortho_scale = ("ORTHO" if kind else "PERSP"), lens, scale
    data.dof.use_dof, data.dof.aperture_fstop, data.dof.focus_distance = SETTINGS[view].f_stop > 0, f_stop, focus
    camera.matrix_world = Matrix(np.reshape(matrix, (4, 4)).tolist())
    scene.camera = camera
    _render_settings(scene, SETTINGS[view], size, None)
    _set_world(scene, 0.0 if view in FLAT else SETTINGS[view].world)
    return True


def _keep_lens(stage: bpy.types.Collection, camera: bpy.types.Object) -> None:
    data = camera.data
    matrix = [float(value) for row in camera.matrix_world for value in row]
    dof = data.dof
    kind = float(data.type == "ORTHO")
    stage[LENS] = [kind, data.lens, data.ortho_scale, dof.aperture_fstop, dof.focus_distance, *matrix]


def add(collection: bpy.types.Collection, name: str, data: bpy.types.ID) -> bpy.types.Object:
    """A new object of the studio."""
    item = bpy.data.objects.new(name, data)
    own(item)
    collection.objects.link(item)
    return item


def _points(box: Points) -> Points:
    """The points given, or the eight corners of a box."""
    rows = np.asarray(box, float)
    if len(rows) != 2:
        return rows
    return np.array([[x, y, z] for x in rows[:, 0] for y in rows[:, 1] for z in rows[:, 2]])


def camera_of(scene: bpy.types.Scene) -> bpy.types.Object:
    """The studio's camera, which viewports may be looking through: all views share it."""
    root = collection_of(scene)
    camera = next((item for item in root.objects if item.type == "CAMERA" and item.get(TAG)), None)
    return camera or add(root, NAME, bpy.data.cameras.new(NAME))


def _aim(camera: bpy.types.Object, setting: Setting, heading: float, points: Points, size: tuple[int, int]) -> None:
    data = camera.data
    data.sensor_fit, data.lens, data.clip_start, data.clip_end = "HORIZONTAL", setting.lens, 0.01, 200.0
    turn, rise = heading + np.radians(setting.turn), np.radians(setting.rise)
    back = np.array([np.sin(turn) * np.cos(rise), -np.cos(turn) * np.cos(rise), np.sin(rise)])
    right = np.array([np.cos(turn), np.sin(turn), 0.0])
    axes = np.stack([right, np.cross(back, right), back])
    seen = points * METRES @ axes.T

    free = np.array([setting.margin, setting.margin * size[0] / size[1]])
    if setting.parallel:
        low, high = seen.min(axis=0), seen.max(axis=0)
        share = 1 - 2 * free - [setting.key_share, 0]
        width = max((high - low)[:2] / share * [1, size[0] / size[1]])
        data.type, data.ortho_scale = "ORTHO", width
        middle = (low + high) / 2
        place = np.array([middle[0] + width * setting.key_share / 2, middle[1], high[2] + 1.0])
    else:
        data.type = "PERSP"  # the camera is kept from view to view
        half = data.sensor_width / 2 / data.lens * np.array([1, size[1] / size[0]]) * (1 - 2 * free)
        place = _fit(seen, half)
        place[1] += setting.drop * 2 * half[1] * (place[2] - seen[:, 2].mean())
    data.dof.use_dof = setting.f_stop > 0
    data.dof.focus_distance, data.dof.aperture_fstop = float(place[2] - seen[:, 2].mean()), setting.f_stop or 5.6
    rotation = Matrix([list(column) for column in axes.T]).to_4x4()
    camera.matrix_world = Matrix.Translation(Vector(place @ axes)) @ rotation


def _fit(seen: Points, half: Points) -> Points:
    """Nearest place, in camera axes, from which all points (n, 3) are seen within half widths `half` at distance 1.

    A point q is inside when |q_x - p_x| <= half_x (p_z - q_z), and likewise for y: linear in p.
    """
    upper = (seen[:, :2] + seen[:, 2:] * half).max(axis=0)
    lower = (-seen[:, :2] + seen[:, 2:] * half).max(axis=0)
    return np.array([*(upper - lower) / 2, max((upper + lower) / (2 * half))])


def _add_lamps(collection: bpy.types.Collection, setting: Setting, heading: float, panel: Points) -> None:
    middle = Vector(((panel[0, 0] + panel[1, 0]) / 2, (panel[0, 1] + panel[1, 1]) / 2, 0.0)) * METRES
    scale = max((panel[1] - panel[0])[:2] / (600, 400))
    for number, lamp in enumerate(setting.lamps, 1):
        light = bpy.data.lights.new(f"{NAME} light {number}", "AREA")
        light.shape, light.size, light.size_y = "RECTANGLE", lamp.size[0] * scale, lamp.size[1] * scale
        light.energy, light.color = lamp.watts * scale**2, lamp.colour
        away = Matrix.Rotation(heading, 3, "Z") @ Vector(lamp.at) * scale
        item = add(collection, light.name, light)
        item.matrix_world = Matrix.Translation(middle + away) @ away.to_track_quat("Z", "Y").to_matrix().to_4x4()


def _add_flat_light(collection: bpy.types.Collection) -> None:
    """Four equal suns from 45 degrees: no shadow side, no gloss towards a camera above."""
    for number in range(4):
        light = bpy.data.lights.new(f"{NAME} light {number + 1}", "SUN")
        light.energy, light.angle = np.pi / 4 * 2**0.5, np.radians(20)
        item = add(collection, light.name, light)
        item.rotation_euler = (np.radians(45), 0, np.radians(45 + 90 * number))


def _add_ground(collection: bpy.types.Collection, panel: Points, tone: tuple[float, float, float]) -> None:
    middle, reach = (panel[0] + panel[1]) / 2, 30 * (panel[1] - panel[0])[:2].max()
    mesh = bpy.data.meshes.new(f"{NAME} ground")
    fill_ground(mesh, middle[:2] - reach, middle[:2] + reach, panel[0, 2] - 0.05)
    mesh.materials.append(_ground_material(tone))
    add(collection, mesh.name, mesh)


def _ground_material(tone: tuple[float, float, float]) -> bpy.types.Material:
    """Matt, but paper glows by itself, since flat views are lit for the wood."""
    kind = {PAPER: "paper", GREY: "ground", DARK: "dark ground"}[tone]
    name = f"{NAME} {kind}"
    material = bpy.data.materials.get(name)
    if material is None:
        material = bpy.data.materials.new(name)
        tree = versions.empty_material_tree(material)
        surface = tree.nodes.new("ShaderNodeEmission" if tone == PAPER else "ShaderNodeBsdfDiffuse")
        surface.inputs["Color"].default_value = (*tone, 1.0)
        output = tree.nodes.new("ShaderNodeOutputMaterial")
        tree.links.new(surface.outputs[0], output.inputs["Surface"])
        own(material)
    return material


def _set_world(scene: bpy.types.Scene, strength: float) -> None:
    world = scene.world
    if world is None or not world.get(TAG):
        world = bpy.data.worlds.new(NAME)
        own(world)
        scene.world = world
    elif sky := next((node for node in world.node_tree.nodes if node.type == "BACKGROUND"), None):
        sky.inputs["Strength"].default_value = strength
        return
    tree = versions.empty_world_tree(world)
    sky = tree.nodes.new("ShaderNodeBackground")
    sky.inputs["Color"].default_value, sky.inputs["Strength"].default_value = (1.0, 1.0, 1.0, 1.0), strength
    output = tree.nodes.new("ShaderNodeOutputWorld")
    tree.links.new(sky.outputs[0], output.inputs["Surface"])


def _render_settings(scene: bpy.types.Scene, setting: Setting, size: tuple[int, int], samples: int | None) -> None:
    render, cycles = scene.render, scene.cycles
    render.engine = "CYCLES"
    render.resolution_x, render.resolution_y, render.resolution_percentage = *size, 100
    render.film_transparent = False
    render.image_settings.file_format, render.image_settings.color_mode = "PNG", "RGB"
    cycles.device = "CPU"
    cycles.samples = samples or picture_choices.samples(setting.samples, scene.grainstack.quality)
    cycles.use_adaptive_sampling = False
    cycles.max_bounces, cycles.diffuse_bounces, cycles.glossy_bounces = 4, 3, 2
    cycles.caustics_reflective = cycles.caustics_refractive = False
    cycles.blur_glossy = 1.0
    if not (setting.denoised and versions.use_best_denoiser(scene)):
        cycles.use_denoising = False
    versions.standard_view(scene, setting.exposure)
