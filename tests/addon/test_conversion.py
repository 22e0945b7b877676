"""Between the design file and Blender: places, outlines, grain, and the file's own numbers."""

import json
import math
import re

import bpy
import numpy as np
import pytest
from grainstack.blender_addon.scene import conversion
from mathutils import Vector

from .bench import document, entry, insert, piece, rest, same, scene, select

PETAL = "M 0 0 C 10.123456789 20 30 20 40 0 L 20 -10 Z"
REED = {"line": [[50, 20], [60.7, 120], [90, 200]], "width": 3.175, "smooth": True}
NUMBERS = {
    "format": "grainstack-panel/1",
    "title": "Numbers",
    "panel": {"width": 601.0, "height": 400, "thickness": 19, "edge_trim": [1.1, 2, 3, 4.0], "strips": [
        {"width": 200.1, "wood": "cherry"}, {"width": 400.9, "segments": [
            {"length": 100.123456789, "wood": "wenge"}, {"length": 299.876543211, "wood": "koa"}]}]},
    "workshop": {"side_clearance": 0.12, "min_wall": 2, "min_planing_length": 300.0},
    "stock": [{"wood": "koa", "length": 900.5, "width": 120, "thickness": 26.0, "photo": "koa.jpg"}],
    "pieces": [
        {"id": "a", "wood": "padauk", "grain": 33.3, "outline": {"polygon": [[0, 0], [80.1, 0], [80, 60.0]]},
         "at": [100.1, 200.123456789], "turn": 33.333333333, "scale": 1.1, "mirror": True, "pocket_depth": 5},
        {"id": "b", "wood": "holly", "outline": {"path": PETAL}, "at": [400, 200]},
        {"id": "c", "wood": "holly", "outline": REED,
         "turn": 0, "scale": 1.0},
        {"id": "d", "wood": "koa", "after": ["b"], "at": [0.1, 0.2], "outline": {"svg": "art.svg", "element": "ring"}},
    ],
}  # fmt: skip
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">'
    '<path id="ring" fill-rule="evenodd" d="M100 100h50v50h-50z M110 110a9 9 0 1 1 0 20z"/></svg>'
)


@pytest.fixture
def numbers(addon, save, tmp_path):
    """A design of numbers that single precision cannot hold, in every kind of outline."""
    (tmp_path / "art.svg").write_text(SVG)
    path = save(NUMBERS, "numbers")
    bpy.ops.grainstack.open_design(filepath=str(path))
    return path


def saved(path) -> dict:
    bpy.ops.grainstack.save_design_as(filepath=str(path))
    return json.loads(path.read_text(encoding="utf-8"))


def test_a_hand_written_design_is_saved_with_its_own_numbers_and_no_others(numbers, tmp_path):
    assert same(document(), NUMBERS)
    assert same(saved(tmp_path / "again.panel.json"), NUMBERS)


def test_open_and_save_gives_the_same_bytes(numbers, tmp_path):
    path = tmp_path / "again.panel.json"
    saved(path)
    first = path.read_bytes()
    bpy.ops.grainstack.open_design(filepath=str(path))
    bpy.ops.grainstack.save_design()
    assert path.read_bytes() == first


def test_edit_mode_and_back_changes_nothing(numbers):
    for name in "abcd":
        select(name)
        bpy.ops.object.mode_set(mode="EDIT")
        bpy.ops.object.mode_set(mode="OBJECT")
    assert same(document(), NUMBERS)


def test_a_number_is_replaced_only_when_its_own_image_changed(numbers):
    piece("a").location.x = 0.0127
    assert entry("a") == NUMBERS["pieces"][0] | {"at": [12.7, 200.123456789]}
    select("b")
    piece("b").data.splines[0].bezier_points[1].co.x = 0.0411
    assert entry("b")["outline"] == {"path": "M 0 0 C 10.123456789 20 30 20 41.1 0 L 20 -10 Z"}


def test_a_groove_stays_a_line_and_keeps_its_points(numbers):
    piece("c").data.splines[0].points[2].co.y = 0.21
    line = {"line": [[50, 20], [60.7, 120], [90, 210]], "width": 3.175, "smooth": True}
    assert entry("c")["outline"] == line


def test_artwork_becomes_a_path_once_it_is_edited(numbers):
    points = piece("d").data.splines[0].bezier_points if piece("d").data.splines[0].type == "BEZIER" else None
    spline = piece("d").data.splines[0]
    (points or spline.points)[0].co.x -= 0.001
    path = entry("d")["outline"]["path"]
    assert path.count("M") == 2
    assert "C" in path
    rest()
    area = scene().grainstack.piece_count
    assert area == 4


def test_artwork_saved_away_from_its_file_is_said_by_its_curves(numbers, tmp_path):
    away = tmp_path / "away"
    away.mkdir()
    made = saved(away / "numbers.panel.json")
    assert made["pieces"][3]["outline"].keys() == {"path"}
    assert same(made["pieces"][:3], NUMBERS["pieces"][:3])


def test_artwork_whose_file_is_gone_lives_on_in_its_curve(numbers, tmp_path):
    (tmp_path / "art.svg").unlink()
    conversion.forget_all()
    assert entry("d")["outline"].keys() == {"path"}
    piece("d").location.x = 0.1
    rest()
    assert scene().grainstack.trouble == ""


@pytest.mark.parametrize("turn", [15, -120, 180, 359])
def test_a_piece_turned_in_blender_turns_its_grain_with_it(numbers, turn):
    item = piece("b")
    item.grainstack.grain = math.radians(30)
    item.rotation_euler.z = math.radians(turn)
    made = entry("b")
    assert made["turn"] == turn
    assert (made["grain"] - 30 - turn) % 180 == pytest.approx(0, abs=1e-4)


def test_a_grain_typed_after_turning_is_the_absolute_one(numbers):
    item = piece("b")
    item.rotation_euler.z = math.radians(40)
    item.grainstack.grain = math.radians(10)
    assert entry("b")["grain"] == 10
    assert math.degrees(item.grainstack.grain) == pytest.approx(10)
    item.rotation_euler.z = math.radians(50)
    assert entry("b")["grain"] == 20


def test_mirroring_by_negative_scale_mirrors_outline_and_grain(numbers):
    item = piece("b")
    item.grainstack.grain = math.radians(30)
    item.scale.x = -1
    assert entry("b")["mirror"] is True
    assert entry("b")["grain"] % 180 == 150
    item.scale.x, item.scale.y = 1, -1
    made = entry("b")
    assert made["mirror"] is True
    assert abs(made["turn"]) == 180


def shape(name):
    rest()
    points = np.empty(3 * len(insert(name).data.vertices), np.float32)
    insert(name).data.vertices.foreach_get("co", points)
    return points.reshape(-1, 3)[:, :2] * 1000


def test_uniform_scale_is_scale_and_stretching_goes_into_the_outline(numbers):
    item = piece("b")
    item.scale = (2, 2, 2)
    assert entry("b")["scale"] == 2
    item.scale = (2, 1, 1)
    made = entry("b")
    assert "scale" not in made
    assert made["outline"]["path"] == "M 0 0 C 20.246913578 20 60 20 80 0 L 40 -10 Z"
    low, high = shape("b").min(axis=0), shape("b").max(axis=0)
    assert 75 < (high - low)[0] < 80  # less the rounded tips


def test_a_sheared_piece_lies_where_blender_shows_it(numbers):
    parent = bpy.data.objects.new("stretched", None)
    scene().collection.objects.link(parent)
    parent.scale = (1.5, 0.5, 1)
    item = piece("b")
    item.rotation_euler.z = math.radians(30)
    item.parent = parent
    bpy.context.view_layer.update()
    made = conversion.read_piece(item, conversion.path_of(scene()).parent)
    value = made.value()
    turn = math.radians(value.get("turn", 0))
    path = [float(word) for word in value["outline"]["path"].split() if word not in "MCLZ"]
    tip = np.array(path[6:8])  # the cubic's end, (40, 0) in its own frame
    cos, sin = math.cos(turn), math.sin(turn)
    there = np.array([cos * tip[0] - sin * tip[1], sin * tip[0] + cos * tip[1]]) + value["at"]
    seen = np.array(item.matrix_world @ Vector((0.04, 0, 0)))[:2] * 1000
    assert there == pytest.approx(seen, abs=1e-3)


def test_a_parent_that_moves_takes_its_pieces_along(numbers):
    parent = bpy.data.objects.new("tray", None)
    scene().collection.objects.link(parent)
    item = piece("b")
    item.parent = parent
    parent.location.x = 0.01
    bpy.context.view_layer.update()
    assert entry("b")["at"] == pytest.approx([410, 200])
    assert entry("b").get("turn", 0) == 0


@pytest.mark.parametrize(
    ("work", "words"),
    [
        (lambda item: setattr(item.rotation_euler, "x", 0.3), r"tilted out of the panel\. Set its X and Y rotation"),
        (lambda item: setattr(item, "scale", (0, 1, 1)), r"flattened to a line\. Give it a scale"),
        (lambda item: setattr(item.data.splines[0], "use_cyclic_u", False), r"its outline is open\. Close it"),
        (lambda item: setattr(item.data.splines[0], "type", "NURBS"), r"NURBS curve\. In Edit Mode"),
        (lambda item: item.data.splines.clear(), r"nothing is left of its outline\. Draw one"),
    ],
)
def test_what_cannot_be_a_piece_is_refused_with_its_place_and_remedy(numbers, work, words):
    work(piece("b"))
    rest()
    assert re.search(rf'piece "b": .*{words}', scene().grainstack.trouble)
    with pytest.raises(RuntimeError, match=words):
        bpy.ops.grainstack.save_design()


def test_fields_show_three_decimals_and_take_inches_exactly(numbers):
    shop = scene().grainstack
    assert shop.shop_cutter_diameter == pytest.approx(0.003175)
    assert shop.bl_rna.properties["shop_cutter_diameter"].precision == 5
    shop.shop_cutter_diameter = 0.25 * 0.0254
    assert document()["workshop"]["cutter_diameter"] == 6.35
    shop.shop_cutter_diameter = 0.25 * 0.0254  # typing the same changes nothing
    assert document()["workshop"]["cutter_diameter"] == 6.35


def test_looking_at_every_field_changes_nothing(numbers):
    owners = [scene().grainstack, *(item.grainstack for item in conversion.piece_objects(scene()))]
    owners += [*scene().grainstack.strips, *(part for strip in scene().grainstack.strips for part in strip.segments)]
    for owner in owners:
        for prop in owner.bl_rna.properties:
            getattr(owner, prop.identifier)
    assert same(document(), NUMBERS)


def test_setting_every_field_to_what_it_shows_changes_nothing(numbers):
    for owner in [scene().grainstack, *scene().grainstack.strips, *scene().grainstack.strips[1].segments]:
        for prop in owner.bl_rna.properties:
            if prop.identifier.startswith(("shop_", "panel_", "width", "length")):
                setattr(owner, prop.identifier, getattr(owner, prop.identifier))
    for item in conversion.piece_objects(scene()):
        for name in ("pocket_depth", "taper", "side_clearance", "wood", "name_id"):
            setattr(item.grainstack, name, getattr(item.grainstack, name))
    made = document()
    assert same(made["panel"], NUMBERS["panel"])
    assert same(made["workshop"], NUMBERS["workshop"])
    assert same(made["pieces"], NUMBERS["pieces"])


def test_a_value_of_its_own_can_be_taken_and_given_back(numbers):
    mark = piece("b").grainstack
    assert not mark.own_pocket_depth
    mark.own_pocket_depth = True
    assert entry("b")["pocket_depth"] == 6
    mark.own_pocket_depth = False
    assert "pocket_depth" not in entry("b")
    mark.fit = "as-drawn"
    assert entry("b")["fit"] == "as-drawn"
    mark.leaves = 2
    assert entry("b")["leaves"] == 2
    mark.after = "a, c"
    assert entry("b")["after"] == ["a", "c"]


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("side_clearance", 0.01, "not below the cutter's radius"),
        ("corner_radius", 0.0005, "less than the 1.59 mm"),
        ("after", "nobody", 'no piece "nobody"'),
        ("name_id", "a", 'the name "a" is taken'),
        ("name_id", "no spaces", "cannot be an id"),
    ],
)
def test_a_field_that_breaks_a_rule_is_not_taken_and_says_why(numbers, name, value, words):
    before = document()
    setattr(piece("b").grainstack, name, value)
    assert words in scene().grainstack.trouble
    assert same(document(), before)


def test_a_renamed_piece_is_still_waited_for(numbers):
    piece("b").grainstack.name_id = "petal"
    assert entry("d")["after"] == ["petal"]
    assert insert("petal")
    rest()
    assert scene().grainstack.trouble == ""
