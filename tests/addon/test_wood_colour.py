"""The render reproduces the colours of the species table.

It proves nothing about the table: whether a wood has that colour, no test here knows. The patches are lit evenly by
four suns, seen from straight above in the Standard view transform, settled and bare; each shows many boards of one
species, cut at many angles, since single boards differ as they should.
"""

import bpy
import numpy as np
import pytest
from grainstack.blender_addon import meshes, versions
from grainstack.blender_addon.studio import studio
from grainstack.blender_addon.woods import eyes, wood_material
from grainstack.core.woods import colour, finish, vision
from grainstack.core.woods.species import species_table

COLUMNS, ROWS = 6, 5
BOARDS, BOARD = 5, 12.0
"""Boards along each side of a species' patch, and the side of each in mm."""
PIXELS = 40
"""Side of a patch in the picture."""
SIDE = BOARDS * BOARD


@pytest.fixture
def scene(empty_file):
    scene = bpy.context.scene
    size = (COLUMNS * PIXELS, ROWS * PIXELS)
    box = ((0, 0, -1), (COLUMNS * SIDE, ROWS * SIDE, 0))
    camera = studio.set_up(scene, "findings", box, box, size, samples=24)
    camera.data.ortho_scale = COLUMNS * SIDE / 1000
    camera.location = (COLUMNS * SIDE / 2000, ROWS * SIDE / 2000, 1.0)
    versions.standard_view(scene, 0.0)
    scene.cycles.use_denoising = False
    return scene


def add_patches(scene, woods):
    for number, wood in enumerate(woods):
        left, low = number % COLUMNS * SIDE, number // COLUMNS * SIDE
        for board in range(BOARDS**2):
            x, y = left + board % BOARDS * BOARD, low + board // BOARDS * BOARD
            corners = np.array([(x, y), (x + BOARD, y), (x + BOARD, y + BOARD), (x, y + BOARD)])
            points = np.column_stack([corners, np.zeros(4)])
            mesh = bpy.data.meshes.new("patch")
            mesh.from_pydata((points / 1000).tolist(), [], [(0, 1, 2, 3)])
            meshes.store_wood_coordinates(mesh, points, 30.0 * board, f"{wood}-{board}")
            mesh.materials.append(wood_material.material_for(wood))
            scene.collection.objects.link(bpy.data.objects.new(mesh.name, mesh))


def seen_colours(scene, folder, count) -> np.ndarray:
    """Mean linear light of each patch, (count, 3), from the pixels of an 8-bit picture."""
    scene.render.filepath = str(folder / "patches.png")
    bpy.ops.render.render(write_still=True)
    image = bpy.data.images.load(scene.render.filepath)
    pixels = np.array(image.pixels[:]).reshape(ROWS, PIXELS, COLUMNS, PIXELS, 4)[..., :3]
    bpy.data.images.remove(image)
    inner = pixels[:, 1:-1, :, 1:-1]
    return colour.linear_from_srgb(inner).mean(axis=(1, 3)).reshape(-1, 3)[:count]


def difference(seen, wanted) -> np.ndarray:
    return colour.difference(colour.lab_from_linear(seen), colour.lab_from_linear(wanted))


def test_every_species_shows_the_colour_of_its_table_row(scene, tmp_path):
    woods = species_table()
    assert len(woods) <= COLUMNS * ROWS
    wood_material.show_as(scene, finish.SETTLED, "bare")
    add_patches(scene, woods)
    seen = seen_colours(scene, tmp_path, len(woods))
    wanted = [colour.settled(wood.fresh_colour, wood.aged_colour) for wood in woods.values()]
    errors = dict(zip(woods, difference(seen, wanted), strict=True))
    assert len(errors) >= 30
    assert {name: round(float(e), 2) for name, e in errors.items() if not e <= 1.5} == {}


def test_the_fibre_reaches_the_shader(scene):
    """Blender 5.3 put another input before the vector, and faces were as dark as half end grain."""
    tree = wood_material.material_for("black walnut").node_tree
    turned = next(each for each in tree.nodes if each.bl_idname == "ShaderNodeVectorTransform")
    assert turned.inputs["Vector"].links[0].from_node.attribute_name == meshes.FIBRE


@pytest.mark.parametrize(("age", "finish_name"), [(0.0, "bare"), (0.75, "bare"), (0.5, "oil"), (1.0, "lacquer")])
def test_age_and_finish_of_the_scene_show(scene, tmp_path, age, finish_name):
    """The nodes do what `core.woods.finish` says, on woods whose colour moves far; no material is made anew."""
    woods = ["black walnut", "African padauk", "purpleheart", "hard maple", "wenge", "American holly"]
    add_patches(scene, woods)
    materials = list(bpy.data.materials)
    wood_material.show_as(scene, age, finish_name)
    assert list(bpy.data.materials) == materials
    seen = seen_colours(scene, tmp_path, len(woods))
    rows = [species_table()[wood] for wood in woods]
    chosen = finish.FINISHES[finish_name]
    wanted = [finish.finished(finish.at_age(row.fresh_colour, row.aged_colour, age), chosen) for row in rows]
    errors = dict(zip(woods, difference(seen, wanted), strict=True))
    assert {name: round(float(e), 2) for name, e in errors.items() if not e <= 3} == {}


@pytest.mark.parametrize("kind", [kind for kind, *_ in eyes.KINDS])
def test_the_wood_is_shown_to_other_eyes(scene, tmp_path, kind):
    """As the published matrices have the finished colours, without a material being made anew; grey without any hue."""
    woods = ["black walnut", "African padauk", "purpleheart", "hard maple", "yellowheart", "yellow-poplar"]
    add_patches(scene, woods)
    materials = list(bpy.data.materials)
    wood_material.show_as(scene, finish.CUT, "bare")
    eyes.look_with(scene, kind)
    assert list(bpy.data.materials) == materials
    seen = seen_colours(scene, tmp_path, len(woods))
    table = [species_table()[wood] for wood in woods]
    cut = np.array([colour.linear_from_srgb(colour.srgb_from_hex(row.fresh_colour)) for row in table])
    wanted = np.clip(vision.grey(cut) if kind == "greyscale" else vision.seen_by(cut, kind), 0, 1)
    errors = dict(zip(woods, difference(seen, wanted), strict=True))
    assert {name: round(float(e), 2) for name, e in errors.items() if not e <= 3} == {}
    if kind == "greyscale":
        assert np.abs(colour.lab_from_linear(seen)[:, 1:]).max() < 1


def test_eyes_are_those_of_their_scene_alone(opened):
    other = bpy.data.scenes.new("other")
    opened.grainstack.eyes = "deutan"
    shown = np.array([opened[name] for name in eyes.ROWS]) + np.eye(3)
    assert shown == pytest.approx(vision.matrix("deutan"), abs=1e-6)
    assert not any(name in other for name in eyes.ROWS)
    opened.grainstack.eyes = "normal"
    assert np.array([opened[name] for name in eyes.ROWS]) == pytest.approx(np.zeros((3, 3)))


def test_a_scene_that_says_nothing_gets_oiled_settled_wood(scene):
    assert tuple(scene[wood_material.STATE]) == pytest.approx((0.0, 1.0, 0.6, 0.5))
    assert finish.FINISHES["oil"].gloss == 0.5


def test_slider_and_finish_reach_the_wood_of_their_scene_alone(opened):
    other = bpy.data.scenes.new("other")
    opened.grainstack.age, opened.grainstack.finish = 0.8, "wax"
    assert tuple(opened[wood_material.STATE]) == pytest.approx((0.3, 0.5, 0.0, 0.3))
    assert wood_material.STATE not in other


def test_every_finish_can_be_chosen_by_its_place_in_the_table(addon):
    choices = bpy.types.Scene.bl_rna.properties["grainstack"].fixed_type.properties["finish"].enum_items
    assert [choice.identifier for choice in sorted(choices, key=lambda choice: choice.value)] == list(finish.FINISHES)


def test_the_age_of_the_wood_needs_no_driver(opened, capfd):
    """One that drives a scene by itself makes a ring in Blender's dependencies."""
    opened.grainstack.age = 0.8
    opened.view_layers[0].update()
    assert [curve.data_path for curve in (opened.animation_data.drivers if opened.animation_data else ())] == []
    assert "cycle" not in "".join(capfd.readouterr())


def test_keyframes_of_age_reach_the_wood_in_pictures(opened, tmp_path):
    """Frame 1 shows new padauk, frame 11 aged padauk, and half way between it is settled."""
    settings = opened.grainstack
    settings.picture_width, settings.picture_height, settings.finish = 24, 15, "bare"
    opened.cycles.samples, opened.cycles.use_denoising = 4, False
    for frame, age in ((1, 0.0), (11, 1.0)):
        settings.age = age
        settings.keyframe_insert("age", frame=frame)
    for curve in fcurves_of(opened):
        for key in curve.keyframe_points:
            key.interpolation = "LINEAR"
    pictures = {frame: shot(opened, tmp_path, frame) for frame in (1, 6, 11)}
    opened.animation_data.action = None
    for frame, age in ((1, 0.0), (6, 0.5), (11, 1.0)):
        settings.age = age
        assert pictures[frame] == pytest.approx(shot(opened, tmp_path, frame), abs=1.5 / 255)
    assert np.abs(pictures[1] - pictures[11]).max() > 0.1


def fcurves_of(scene):
    """All curves of its action, which has layers from 4.4 on."""
    action = scene.animation_data.action
    if hasattr(action, "layers") and action.layers:
        return [curve for bag in action.layers[0].strips[0].channelbags for curve in bag.fcurves]
    return list(action.fcurves)


def shot(scene, folder, frame):
    scene.frame_set(frame)
    scene.render.filepath = str(folder / "frame.png")
    bpy.ops.render.render(write_still=True)
    image = bpy.data.images.load(scene.render.filepath)
    pixels = np.array(image.pixels[:])
    bpy.data.images.remove(image)
    return pixels
