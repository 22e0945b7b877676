"""What the maker can do at the bench, each by its button: polls, what is done, undo, and bad states."""

import json
import math
from types import SimpleNamespace

import bpy
import pytest
from grainstack.blender_addon.bench import drops
from grainstack.blender_addon.scene import conversion
from grainstack.blender_addon.views import grain_arrow

from core.findings.check import check_design

from .bench import corners, document, entry, ids, insert, meshes, middle, piece, rest, same, scene, select, step

OPS = bpy.ops.grainstack
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
    '<g id="fish"><path id="body" d="M10 10 C 30 0 50 0 70 10 C 50 20 30 20 10 10 Z"/>'
    '<circle cx="20" cy="60" r="8"/></g><rect id="box" x="60" y="60" width="20" height="10"/>'
    '<path id="line" fill="none" stroke="red" d="M0 0 L9 9"/></svg>'
)


@pytest.fixture
def drawing(tmp_path):
    path = tmp_path / "fish.svg"
    path.write_text(SVG)
    return path


@pytest.fixture
def three(bench):
    """A leaf, a disc over it and a groove beside them."""
    OPS.add_piece(shape="leaf", size=0.08, wood="holly")
    OPS.add_piece(shape="disc", size=0.02, wood="padauk")
    OPS.add_piece(shape="line", size=0.1)
    piece("groove").location.y = 0.03
    rest()
    return bench


def test_a_new_panel_is_a_ready_scene(bench):
    made = document()
    assert made["panel"] == {
        "width": 300,
        "height": 200,
        "thickness": 19,
        "strips": [{"width": 75, "wood": wood} for wood in ("black walnut", "hard maple") * 2],
    }
    assert made["title"] == "Bench"
    assert bench.unit_settings.length_unit == "MILLIMETERS"
    assert bench.camera is not None
    assert [o for o in bench.objects if o.type == "LIGHT"]
    assert len(meshes()) == 4
    assert len(bench.grainstack.strips) == 4


def test_a_new_panel_follows_the_units_of_the_scene(addon):
    bpy.context.scene.unit_settings.system = "IMPERIAL"
    OPS.new_panel(width=24 * 0.0254, height=16 * 0.0254, thickness=0.75 * 0.0254, strip_count=1)
    panel = document()["panel"]
    assert (panel["width"], panel["height"], panel["thickness"]) == (609.6, 406.4, 19.05)
    assert panel["wood"] == "black walnut"
    assert bpy.context.scene.unit_settings.length_unit == "INCHES"


def test_fields_take_fractions_of_an_inch(addon):
    """As Blender's own fields read what is typed."""
    assert bpy.utils.units.to_value("IMPERIAL", "LENGTH", "3/4", str_ref_unit="in") == pytest.approx(0.01905)
    assert bpy.utils.units.to_value("METRIC", "LENGTH", "3/4in", str_ref_unit="mm") == pytest.approx(0.01905)


def test_a_panel_that_cannot_be_is_refused_and_nothing_is_changed(bench):
    before = document(), meshes()
    with pytest.raises(RuntimeError, match=r"a part would be 0\.05 mm"):
        OPS.new_panel(width=0.01, strip_count=200)
    assert same(document(), before[0])
    assert meshes() == before[1]


def test_a_new_panel_replaces_the_one_before_and_undo_brings_it_back(three):
    step("three")
    before = document(), meshes()
    OPS.new_panel("EXEC_DEFAULT", True, title="Second")
    assert ids() == []
    assert {o.grainstack.kind for o in scene().objects} <= {"none", "background", "map", "plane", "threads"}
    bpy.ops.ed.undo()
    rest()
    assert same(document(), before[0])
    assert meshes() == before[1]


def test_a_second_design_never_mixes_with_the_first(three, coaster, save):
    OPS.open_design(filepath=str(save(coaster)))
    assert ids() == ["moon", "bar"]
    assert {name for name in meshes() if not name.startswith("background")} == {"moon", "bar"}
    assert not [o for o in bpy.data.objects if o.grainstack.id in ("leaf", "disc", "groove")]


def test_saving_makes_a_file_that_core_checks(three, tmp_path):
    path = tmp_path / "bench.panel.json"
    OPS.save_design_as(filepath=str(tmp_path / "bench"))
    found = check_design(path)
    assert [each["id"] for each in found["pieces"]] == ["leaf", "disc", "groove"]
    assert found["batches"] == [["leaf", "groove"], ["disc"]]
    assert scene().grainstack.design_path == str(path)
    piece("disc").location.x = 0.1
    OPS.save_design()
    assert json.loads(path.read_text())["pieces"][1]["at"] == [100, 100]


def test_saving_says_what_stands_in_the_way(three, tmp_path):
    with pytest.raises(RuntimeError, match=r"no file yet\. Use Save Design As"):
        OPS.save_design()
    with pytest.raises(RuntimeError, match="cannot be written"):
        OPS.save_design_as(filepath=str(tmp_path / "absent" / "a.panel.json"))
    assert scene().grainstack.design_path == ""


def test_pieces_are_added_at_the_cursor_over_all_others(bench):
    bench.cursor.location = (0.05, 0.12, 0)
    OPS.add_piece(shape="disc", size=0.03, wood="cherry")
    assert entry("disc")["at"] == [50, 120]
    assert entry("disc")["wood"] == "cherry"
    bench.cursor.location = (5, 5, 0)  # beside the panel
    OPS.add_piece(shape="rectangle", size=0.04)
    assert entry("rectangle")["at"] == [150, 100]
    assert ids() == ["disc", "rectangle"]
    assert bpy.context.active_object == piece("rectangle")
    box = corners(insert("rectangle"))
    assert (box.max(axis=0) - box.min(axis=0))[:2] == pytest.approx([39.8, 19.8], abs=0.01)
    OPS.add_piece(shape="disc")
    assert ids()[-1] == "disc-2"


def test_a_drawing_is_imported_a_piece_for_each_filled_shape(bench, drawing):
    OPS.import_pieces(filepath=str(drawing), wood="koa")
    assert ids() == ["body", "fish", "box"]
    assert entry("body")["at"] == [40, 90]
    assert entry("box")["outline"] == {"path": "M -10 -5 L 10 -5 L 10 5 L -10 5 Z"}
    assert "C" in entry("body")["outline"]["path"]
    rest()
    assert middle("box") == (70, 35)
    assert {each["wood"] for each in document()["pieces"]} == {"koa"}


def test_a_drawing_that_cannot_be_used_is_refused(bench, tmp_path):
    bad = tmp_path / "bad.svg"
    bad.write_text("no drawing")
    for path, words in ((bad, "not an SVG file"), (tmp_path / "absent.svg", "no such file")):
        with pytest.raises(RuntimeError, match=words):
            OPS.import_pieces(filepath=str(path))
    assert ids() == []


def test_files_dropped_on_the_viewport_are_opened_or_imported(addon, drawing, coaster, save):
    """As Blender does with what its file handlers say: it sets the path and invokes the operator."""
    viewport, other = SimpleNamespace(type="VIEW_3D"), SimpleNamespace(type="OUTLINER")
    handlers = {cls.bl_file_extensions: cls for cls in drops.CLASSES}
    assert handlers[".json"].poll_drop(SimpleNamespace(area=viewport, scene=scene()))
    assert not handlers[".json"].poll_drop(SimpleNamespace(area=other, scene=scene()))
    assert not handlers[".svg"].poll_drop(SimpleNamespace(area=viewport, scene=scene()))
    assert handlers[".json"].bl_import_operator == "grainstack.open_design"
    OPS.open_design("INVOKE_DEFAULT", filepath=str(save(coaster)))
    assert ids() == ["moon", "bar"]
    assert handlers[".svg"].poll_drop(SimpleNamespace(area=viewport, scene=scene()))
    assert handlers[".svg"].bl_import_operator == "grainstack.import_pieces"
    other_json = drawing.with_name("other.json")
    other_json.write_text("{}")
    with pytest.raises(RuntimeError, match="format"):
        OPS.open_design("INVOKE_DEFAULT", filepath=str(other_json))
    assert ids() == ["moon", "bar"]


def test_each_piece_knows_its_batch_for_the_list(three):
    assert [piece(name).grainstack.batch for name in ("leaf", "disc", "groove")] == [1, 2, 1]
    piece("disc").location.y = 0.18
    rest()
    assert piece("disc").grainstack.batch == 1


def test_copies_lie_just_in_front_of_their_originals(three):
    select("leaf", "disc")
    OPS.duplicate_pieces(offset=(0.02, 0))
    assert ids() == ["leaf", "leaf-2", "disc", "disc-2", "groove"]
    assert entry("leaf-2")["at"] == [170, 100]
    assert [o.grainstack.id for o in bpy.context.selected_objects] == ["leaf-2", "disc-2"]
    assert middle("disc-2")[0] == 170


@pytest.mark.parametrize(("axis", "about", "there"), [("x", "PANEL", (50, 120)), ("y", "PANEL", (250, 80)),
                                                      ("x", "PIECES", (250, 120))])  # fmt: skip
def test_mirrored_pieces_lie_where_they_should(three, axis, about, there):
    item = piece("leaf")
    item.location.x, item.location.y, item.rotation_euler.z = 0.25, 0.12, math.radians(30)
    item.grainstack.grain = math.radians(20)
    rest()
    select("leaf")
    OPS.mirror_pieces(axis=axis, about=about)
    made = entry("leaf")
    assert made["at"] == pytest.approx(list(there), abs=0.01)
    assert made["mirror"] is True
    assert made["turn"] % 180 == pytest.approx(150)
    assert made["grain"] % 180 == pytest.approx(160)
    OPS.mirror_pieces(axis=axis, about=about)
    again = entry("leaf")
    assert again["at"] == pytest.approx([250, 120], abs=0.01)
    assert not again.get("mirror")
    assert again["turn"] % 360 == pytest.approx(30, abs=1e-4)


def test_a_mirrored_copy_leaves_its_original(three):
    select("leaf")
    piece("leaf").location.x = 0.1
    OPS.mirror_pieces(axis="x", about="PANEL", copy=True)
    assert ids() == ["leaf", "leaf-2", "disc", "groove"]
    assert (entry("leaf")["at"], entry("leaf-2")["at"]) == ([100, 100], [200, 100])


def test_an_array_is_a_row_of_copies(three):
    select("disc")
    OPS.array_pieces(count=4, offset=(0.03, 0.01), turn=math.radians(15))
    assert ids() == ["leaf", "disc", "disc-2", "disc-3", "disc-4", "groove"]
    assert [entry(name)["at"] for name in ids()[1:5]] == [[150, 100], [180, 110], [210, 120], [240, 130]]
    assert entry("disc-4")["turn"] == pytest.approx(45, abs=1e-4)


def test_deleted_pieces_are_waited_for_no_longer(three):
    piece("groove").grainstack.after = "leaf disc"
    select("leaf")
    OPS.delete_pieces()
    assert ids() == ["disc", "groove"]
    assert entry("groove")["after"] == ["disc"]
    assert "leaf" not in meshes()
    select("disc")
    OPS.delete_pieces()
    assert "after" not in entry("groove")


def test_order_is_moved_a_place_or_to_an_end(three):
    select("leaf")
    OPS.order_pieces(move="FRONT")
    assert ids() == ["disc", "leaf", "groove"]
    OPS.order_pieces(move="LAST")
    assert ids() == ["disc", "groove", "leaf"]
    OPS.order_pieces(move="FRONT")
    assert ids() == ["disc", "groove", "leaf"]
    OPS.order_pieces(move="BACK")
    OPS.order_pieces(move="FIRST")
    assert ids() == ["leaf", "disc", "groove"]
    select("disc", "groove")
    OPS.order_pieces(move="BACK")
    assert ids() == ["disc", "groove", "leaf"]


def test_order_decides_which_piece_is_cut(three):
    whole = meshes()["disc"]
    select("disc")
    OPS.order_pieces(move="FIRST")
    assert meshes()["disc"] != whole  # the leaf's pocket takes all of it now
    assert scene().grainstack.batch_count == 2


def test_strips_are_added_widened_moved_split_repeated_swapped_and_removed(bench):
    settings = bench.grainstack
    OPS.add_strip(wood="cherry")
    assert widths() == [37.5, 37.5, 75, 75, 75]
    settings.strips[0].width = 0.05
    assert widths() == [50, 25, 75, 75, 75]
    OPS.move_strip(step="1")
    assert widths() == [25, 50, 75, 75, 75]
    assert settings.active_strip == 1
    OPS.split_strip(count=3, wood="wenge", second_wood="koa")
    assert [part.wood for part in settings.strips[1].segments] == ["wenge", "koa", "wenge"]
    settings.strips[1].segments[0].length = 0.1
    assert document()["panel"]["strips"][1]["segments"][0]["length"] == 100
    OPS.add_segment(wood="cherry")
    assert len(settings.strips[1].segments) == 4
    OPS.remove_segment()
    settings.active_strip = 2
    OPS.repeat_strips(strip_count=2, times=3)
    assert widths() == [25, 50, 25, 25, 25, 25, 25, 25, 75]
    OPS.swap_woods(one="wenge", other="hard maple")
    assert [part.wood for part in settings.strips[1].segments] == ["cherry", "koa", "hard maple"]
    OPS.remove_strip()
    assert sum(widths()) == 300
    assert len([name for name in meshes() if name.startswith("background")]) == 8 + 2
    settings.strips_along = "x"
    assert sum(widths()) == pytest.approx(200)
    assert scene().grainstack.trouble == ""


def widths():
    return [strip["width"] for strip in document()["panel"]["strips"]]


def test_strips_that_cannot_be_are_refused(bench):
    settings = bench.grainstack
    before = document()
    with pytest.raises(RuntimeError, match="at the panel's edge already"):
        OPS.move_strip(step="-1")
    with pytest.raises(RuntimeError, match="neither of the two woods"):
        OPS.swap_woods(one="ebony", other="koa")
    with pytest.raises(RuntimeError, match="can be glued up"):
        OPS.repeat_strips(times=100)
    assert same(document(), before)
    for _ in range(3):
        OPS.remove_strip()
    with pytest.raises(RuntimeError, match="the last strip cannot be removed"):
        OPS.remove_strip()
    assert len(settings.strips) == 1


def test_every_step_is_undone_at_once(three, drawing):
    works = [
        lambda: OPS.add_piece("EXEC_DEFAULT", True, shape="disc"),
        lambda: OPS.import_pieces("EXEC_DEFAULT", True, filepath=str(drawing)),
        lambda: (select("leaf"), OPS.duplicate_pieces("EXEC_DEFAULT", True)),
        lambda: (select("leaf"), OPS.mirror_pieces("EXEC_DEFAULT", True)),
        lambda: (select("leaf"), OPS.array_pieces("EXEC_DEFAULT", True)),
        lambda: (select("leaf"), OPS.delete_pieces("EXEC_DEFAULT", True)),
        lambda: (select("leaf"), OPS.order_pieces("EXEC_DEFAULT", True, move="LAST")),
        lambda: OPS.add_strip("EXEC_DEFAULT", True),
        lambda: OPS.remove_strip("EXEC_DEFAULT", True),
        lambda: OPS.move_strip("EXEC_DEFAULT", True, step="1"),
        lambda: OPS.split_strip("EXEC_DEFAULT", True),
        lambda: OPS.repeat_strips("EXEC_DEFAULT", True),
        lambda: OPS.swap_woods("EXEC_DEFAULT", True, one="black walnut", other="hard maple"),
    ]
    step("start")
    before = document(), meshes()
    for work in works:
        work()
        rest()
        after = document(), meshes()
        assert not same(after[0], before[0]), work
        bpy.ops.ed.undo()
        rest()
        assert same(document(), before[0])
        assert meshes() == before[1]
        bpy.ops.ed.redo()
        rest()
        assert same(document(), after[0])
        assert meshes() == after[1]
        bpy.ops.ed.undo()
        rest()


def test_buttons_are_grey_with_a_reason(addon, three):
    select("leaf")
    bpy.ops.object.mode_set(mode="EDIT")
    for name in ("add_piece", "duplicate_pieces", "add_strip", "new_panel", "open_design"):
        with pytest.raises(RuntimeError, match="Switch to Object Mode first"):
            getattr(OPS, name)()
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.object.select_all(action="DESELECT")
    for name in ("duplicate_pieces", "mirror_pieces", "array_pieces", "delete_pieces", "order_pieces"):
        with pytest.raises(RuntimeError, match="Select a piece first"):
            getattr(OPS, name)()


def test_list_and_viewport_select_each_other(three):
    settings = scene().grainstack
    select("disc")
    assert scene().objects[settings.active_piece].grainstack.id == "disc"
    settings.active_piece = scene().objects.find(piece("groove").name)
    assert bpy.context.active_object == piece("groove")
    assert [o.grainstack.id for o in bpy.context.selected_objects] == ["groove"]
    bpy.context.view_layer.objects.active = insert("leaf")
    assert settings.active_piece == -1


def test_the_grain_of_selected_pieces_is_an_arrow_that_turns_with_them(three):
    piece("leaf").grainstack.grain = math.radians(30)
    piece("leaf").rotation_euler.z = math.radians(20)
    rest()
    points = grain_arrow.lines(scene(), {"leaf", "groove"})  # a groove's grain runs along it
    (x0, y0, _), (x1, y1, _) = points[:2]
    assert math.degrees(math.atan2(y1 - y0, x1 - x0)) == pytest.approx(50)
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((0.15, 0.1), abs=1e-4)
    assert len(points) == 10
    assert grain_arrow.lines(scene(), set()) == []


def test_a_second_design_takes_over_the_names_too(three, coaster, save):
    """Outlines are found by their ids in Blender's outliner, without a number added to them."""
    path = str(save(coaster))
    for _ in range(2):
        bpy.ops.grainstack.open_design(filepath=path)
        assert [(o.name, o.data.name) for o in conversion.piece_objects(scene())] == [("moon",) * 2, ("bar",) * 2]
