"""The wood follows the design: moved, edited, copied, deleted, undone; and each trap of Blender's on the way."""

import json

import bpy
import grainstack
import numpy as np
import pytest
from grainstack.blender_addon import designs
from grainstack.blender_addon.scene import conversion, objects
from grainstack.blender_addon.views import live, views

from .bench import corners, document, entry, ids, insert, meshes, middle, piece, rest, same, scene, select, step


@pytest.fixture
def leaf(bench):
    """The bench with a leaf on it, at its middle."""
    bpy.ops.grainstack.add_piece("EXEC_DEFAULT", True, shape="leaf", size=0.08)
    return piece("leaf")


def test_the_wood_follows_a_piece_that_is_moved(leaf):
    assert middle("leaf") == (150, 100)
    leaf.location.x = 0.1
    leaf.location.y = 0.0805
    rest()
    assert middle("leaf") == (100, 80.5)
    assert entry("leaf")["at"] == [100, 80.5]
    fresh = designs.build(conversion.read_scene(scene()).design(), conversion.path_of(scene()), "fresh", None)
    for solid in fresh.solids("finished"):
        held = next(o for o in scene().objects if o.grainstack.id == solid.name and o.type == "MESH")
        assert corners(held) == pytest.approx(solid.vertices, abs=1e-3)


def test_only_meshes_that_changed_are_filled_again(leaf, monkeypatch):
    bpy.ops.grainstack.add_piece(shape="disc", size=0.02)
    select("disc")
    piece("disc").location.x = 0.03
    rest()
    filled = []
    monkeypatch.setattr(objects, "fill", lambda mesh, figure: filled.append(mesh.name))
    piece("disc").location.x = 0.035
    live.catch_up(rest=False, idle=False)
    assert sorted(filled) == ["background-1-1", "disc insert"]
    filled.clear()
    rest()  # softens the edges of what was moved, and nothing else
    assert set(filled) == {"background-1-1", "disc insert"}
    assert len({id(solid) for solid in views.design_of(scene()).solids("finished")}) == 6


def test_a_handler_only_raises_a_flag(leaf):
    before = meshes()
    leaf.location.x = 0.1
    bpy.context.view_layer.update()
    assert meshes() == before
    assert bpy.app.timers.is_registered(live._tick)
    rest()
    assert meshes() != before


def test_a_field_set_by_python_is_followed_though_blender_says_nothing(leaf):
    leaf.grainstack.pocket_depth = 0.004
    assert entry("leaf")["pocket_depth"] == 4
    assert corners(insert("leaf"))[:, 2].min() == pytest.approx(-4)


def test_a_field_has_its_wood_in_its_own_step_of_undo(leaf):
    before = document(), meshes()
    leaf.grainstack.wood = "padauk"
    scene().grainstack.strips[0].wood = "cherry"
    step("woods")
    rest()
    assert insert("leaf").data.materials[0].name == "Grainstack African padauk"
    bpy.ops.ed.undo()
    rest()
    assert same(document(), before[0])
    assert meshes() == before[1]
    assert insert("leaf").data.materials[0].name == "Grainstack American holly"
    bpy.ops.ed.redo()
    rest()
    assert insert("leaf").data.materials[0].name == "Grainstack African padauk"


def test_undo_and_redo_take_number_and_mesh_together(leaf):
    before = meshes()
    leaf.location.x = 0.1
    step("move")
    rest()
    moved = meshes()
    bpy.ops.ed.undo()
    rest()
    assert meshes() == before
    assert entry("leaf")["at"] == [150, 100]
    bpy.ops.ed.redo()
    rest()
    assert meshes() == moved


def test_a_copy_gets_an_id_of_its_own_and_wood(leaf):
    select("leaf")
    bpy.ops.object.duplicate()
    bpy.context.active_object.location.x = 0.05
    step("duplicate")
    rest()
    assert ids() == ["leaf", "leaf-2"]
    assert piece("leaf").location.x == pytest.approx(0.15)
    assert middle("leaf-2")[0] == 50
    assert scene().grainstack.piece_count == 2


def test_the_wood_of_a_copy_is_made_in_a_step_of_its_own(leaf):
    """Created by the timer, outside any step, it would vanish with the next undo, and Blender with it."""
    leaf.location.x = 0.2
    step("move")
    rest()
    alone = document(), meshes()
    select("leaf")
    bpy.ops.object.duplicate()
    bpy.context.active_object.location.x = 0.05
    step("duplicate")
    rest()
    copied = document(), meshes()
    piece("leaf-2").location.y = 0.05
    step("move")
    rest()
    bpy.ops.ed.undo()
    rest()
    assert same(document(), copied[0])
    assert meshes() == copied[1]
    bpy.ops.ed.undo()
    rest()
    assert same(document(), copied[0])  # the copy is there, and called by the same id
    assert meshes() == alone[1] | {each: meshes()[each] for each in meshes() if each.startswith("background")}
    bpy.ops.ed.undo()
    rest()
    assert same(document(), alone[0])
    assert meshes() == alone[1]
    bpy.ops.ed.redo()
    bpy.ops.ed.redo()
    rest()
    assert same(document(), copied[0])
    assert meshes() == copied[1]


def test_after_undo_the_next_change_takes_over_what_was_left(leaf):
    select("leaf")
    bpy.ops.object.duplicate()
    bpy.context.active_object.location.x = 0.05
    step("duplicate")
    rest()
    bpy.ops.ed.undo()
    rest()
    assert "leaf-2" not in meshes()
    copy = next(o for o in conversion.piece_objects(scene()) if o.name != "leaf")
    copy.location.y = 0.05
    step("move")
    rest()
    assert middle("leaf-2") == (50, 50)


def test_deleted_wood_comes_back_with_its_outline(leaf):
    before = document(), meshes()
    select("leaf")
    bpy.ops.object.delete()
    step("delete")
    rest()
    assert "leaf" not in meshes()
    bpy.ops.ed.undo()
    rest()
    assert insert("leaf").hide_render  # no stale wood where there is no outline
    bpy.ops.ed.undo()
    rest()
    assert same(document(), before[0])
    assert meshes() == before[1]


def test_a_linked_copy_is_a_piece_too(leaf):
    select("leaf")
    bpy.ops.object.duplicate(linked=True)
    bpy.context.active_object.location.x = 0.05
    rest()
    assert ids() == ["leaf", "leaf-2"]
    assert middle("leaf-2")[0] == 50


def test_deleting_an_outline_deletes_its_wood(leaf):
    select("leaf")
    bpy.ops.object.delete()
    rest()
    assert ids() == []
    assert "leaf" not in meshes()
    assert not [m for m in bpy.data.meshes if m.name.startswith("leaf") and m.users]


def test_a_full_copy_of_the_scene_is_a_design_of_its_own(leaf):
    first = scene()
    bpy.ops.scene.new(type="FULL_COPY")
    rest()
    second = scene()
    assert second != first
    assert [o.grainstack.id for o in conversion.piece_objects(second)] == ["leaf"]
    conversion.piece_objects(second)[0].location.x = 0.05
    rest()
    there = conversion.read_scene(second).document()["pieces"][0]["at"]
    here = conversion.read_scene(first).document()["pieces"][0]["at"]
    assert (there, here) == ([50, 100], [150, 100])
    wood = {s.name: [o for o in s.objects if o.grainstack.kind == "insert"] for s in (first, second)}
    assert [len(items) for items in wood.values()] == [1, 1]
    assert corners(wood[first.name][0]).mean(axis=0)[0] > 140
    assert corners(wood[second.name][0]).mean(axis=0)[0] < 60


def test_a_full_copy_shares_no_mesh_with_what_it_was_copied_from_in_any_view(leaf):
    first = scene()
    for view in ("proud", "section", "finished"):
        first.grainstack.view = view
    bpy.ops.scene.new(type="FULL_COPY")
    rest()
    second = scene()
    conversion.piece_objects(second)[0].location.x = 0.05
    rest()
    for view, x in (("proud", 50), ("section", None), ("finished", 50)):
        first.grainstack.view = second.grainstack.view = view
        both = [{o.data for o in s.objects if o.grainstack.kind in ("insert", "background")} for s in (first, second)]
        assert not both[0] & both[1]
        wood = [next(o for o in s.objects if o.grainstack.kind == "insert") for s in (first, second)]
        if x is not None:
            assert corners(wood[0]).mean(axis=0)[0] > 140
            assert corners(wood[1]).mean(axis=0)[0] == pytest.approx(x, abs=5)


def test_views_are_undone_and_redone_with_the_wood_in_them(leaf):
    """Each view has meshes of its own, and each must tell the design of its step, however undo goes."""
    steps = [
        lambda: setattr(scene().grainstack, "view", "proud"),
        lambda: setattr(piece("leaf").location, "x", 0.1),
        lambda: setattr(scene().grainstack, "view", "section"),
        lambda: setattr(piece("leaf").location, "x", 0.12),
        lambda: setattr(scene().grainstack, "view", "proud"),
        lambda: setattr(scene().grainstack, "view", "overlap"),
        lambda: setattr(piece("leaf").location, "y", 0.08),
        lambda: setattr(scene().grainstack, "view", "findings"),
        lambda: setattr(scene().grainstack, "view", "finished"),
    ]

    def state() -> tuple:
        return json.dumps(document()), scene().grainstack.view, meshes()

    states = [state()]
    for number, work in enumerate(steps):
        work()
        step(f"step {number}")
        rest()
        states.append(state())
    for undone in (True, False):
        for number in reversed(range(len(steps))) if undone else range(1, len(states)):
            (bpy.ops.ed.undo if undone else bpy.ops.ed.redo)()
            rest()
            assert state() == states[number], number


def test_every_view_of_a_saved_file_is_right_after_it_is_loaded_and_enabled_again(leaf, tmp_path):
    shown = {}
    for view in ("proud", "section", "finished"):
        scene().grainstack.view = view
        shown[view] = meshes()
    path = str(tmp_path / "bench.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    grainstack.unregister()
    grainstack.register()
    rest()
    for view in ("section", "proud", "finished"):
        scene().grainstack.view = view
        assert meshes() == shown[view]
    piece("leaf").location.x = 0.1
    rest()
    scene().grainstack.view = "proud"
    assert middle("leaf")[0] == 100


def test_curves_are_followed_in_edit_mode(leaf):
    select("leaf")
    before = middle("leaf")
    bpy.ops.object.mode_set(mode="EDIT")
    for point in leaf.data.splines[0].bezier_points:
        for handle in ("co", "handle_left", "handle_right"):
            getattr(point, handle).x += 0.02
    rest()
    assert middle("leaf")[0] == pytest.approx(before[0] + 20)
    assert entry("leaf")["outline"]["path"].startswith("M -20 0 C")
    bpy.ops.object.mode_set(mode="OBJECT")
    rest()
    assert middle("leaf")[0] == pytest.approx(before[0] + 20)


def test_a_mesh_in_edit_mode_is_left_alone_and_filled_afterwards(leaf):
    wood = insert("leaf")
    select("leaf")
    bpy.context.view_layer.objects.active = wood
    bpy.ops.object.mode_set(mode="EDIT")
    leaf.location.x = 0.1
    assert live.catch_up() is False
    bpy.ops.object.mode_set(mode="OBJECT")
    rest()
    assert middle("leaf")[0] == 100


def test_wood_wrecked_by_hand_is_made_anew(leaf):
    good = meshes()
    wood = insert("leaf")
    wood.data.clear_geometry()
    rest()
    assert meshes() == good
    wood = insert("leaf")
    assert all((*wood.lock_location, *wood.lock_rotation, *wood.lock_scale))
    bpy.data.objects.remove(wood)
    rest()
    assert meshes() == good


def test_who_clicks_the_wood_gets_the_outline(leaf):
    for item in scene().objects:
        item.select_set(False)
    insert("leaf").select_set(True)
    bpy.context.view_layer.objects.active = insert("leaf")
    rest()
    assert bpy.context.view_layer.objects.active == piece("leaf")
    assert [o.name for o in bpy.context.selected_objects] == ["leaf"]


def test_nothing_is_written_while_a_picture_is_rendered(leaf, tmp_path):
    seen = []

    def during(*_):
        leaf.location.x = 0.1
        seen.append(live.catch_up())
        seen.append(meshes() == before)

    before = meshes()
    bpy.app.handlers.render_pre.append(during)
    scene().cycles.samples = 1
    scene().render.resolution_x = scene().render.resolution_y = 16
    try:
        bpy.ops.render.render()
    finally:
        bpy.app.handlers.render_pre.remove(during)
    assert seen == [False, True]
    rest()
    assert middle("leaf")[0] == 100


def test_an_update_never_starts_within_another(leaf, monkeypatch):
    calls = []
    refill = views.refill

    def again(*args, **kwargs):
        calls.append(live.catch_up())
        return refill(*args, **kwargs)

    monkeypatch.setattr(views, "refill", again)
    rest()
    assert calls == [False]


def test_an_outline_that_cannot_be_a_piece_is_told_and_the_last_good_wood_stays(leaf):
    good = meshes()
    leaf.data.splines[0].use_cyclic_u = False
    rest()
    assert "its outline is open. Close it" in scene().grainstack.trouble
    assert 'piece "leaf"' in scene().grainstack.trouble
    assert meshes() == good
    leaf.data.splines[0].use_cyclic_u = True
    rest()
    assert scene().grainstack.trouble == ""


def test_an_outline_that_crosses_itself_is_a_finding_and_has_no_wood(leaf):
    points = leaf.data.splines[0].bezier_points
    points[0].handle_right.y, points[0].handle_left.y = 0.04, -0.04
    rest()
    findings = scene().grainstack.findings
    assert [f.level for f in findings][:1] == ["error"]
    assert "crosses itself" in findings[0].text
    assert insert("leaf").hide_render
    points[0].handle_right.y, points[0].handle_left.y = -0.024, 0.024
    rest()
    assert not insert("leaf").hide_render


def test_findings_are_checked_again_when_the_hand_rests(leaf):
    assert not [f for f in scene().grainstack.findings if f.level == "error"]
    leaf.location.x = 0.29
    live.catch_up(rest=False, idle=False)
    assert not [f for f in scene().grainstack.findings if f.level == "error"]
    rest()
    assert scene().grainstack.findings[0].level == "error"


def test_a_file_saved_and_loaded_goes_on_living(leaf, tmp_path):
    leaf.location.x = 0.1
    rest()
    saved = document()
    path = str(tmp_path / "bench.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    designs.forget_all()
    rest()
    assert same(document(), saved)
    piece("leaf").location.x = 0.2
    rest()
    assert middle("leaf")[0] == 200
    assert live._scene_changed in bpy.app.handlers.depsgraph_update_post


def test_a_scene_appended_to_another_file_brings_its_design(leaf, tmp_path):
    rest()
    saved = document()
    path = str(tmp_path / "bench.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    with bpy.data.libraries.load(path) as (there, here):
        here.scenes = there.scenes
    appended = here.scenes[0]
    assert same(conversion.read_scene(appended).document(), saved)
    rest()
    conversion.piece_objects(appended)[0].location.x = 0.1
    rest()
    assert conversion.read_scene(appended).document()["pieces"][0]["at"] == [100, 100]


def test_a_linked_scene_is_read_only_and_left_alone(leaf, tmp_path):
    path = str(tmp_path / "bench.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    with bpy.data.libraries.load(path, link=True) as (there, here):
        here.scenes = there.scenes
    assert live.catch_up()
    assert list(live.own_scenes()) == []


def test_hiding_a_piece_in_the_list_hides_its_wood_in_the_viewport_only(leaf):
    leaf.hide_viewport = True
    rest()
    assert insert("leaf").hide_viewport
    assert not insert("leaf").hide_render
    leaf.hide_viewport = False
    rest()
    assert not insert("leaf").hide_viewport


def test_batches_follow_overlaps(leaf):
    bpy.ops.grainstack.add_piece(shape="disc", size=0.03)
    rest()
    assert scene().grainstack.batch_count == 2
    piece("disc").location.x = 0.03
    rest()
    assert scene().grainstack.batch_count == 1


def test_marks_of_a_view_are_told_to_be_old_and_made_anew_on_request(leaf):
    """Labels are objects, so the timer cannot make them."""
    scene().grainstack.view = "exploded"
    assert not views.marks_are_old(scene())
    leaf.location.x = 0.1
    rest()
    assert views.marks_are_old(scene())
    bpy.ops.grainstack.show_view()
    assert not views.marks_are_old(scene())


@pytest.mark.parametrize("view", ["proud", "exploded", "section", "overlap", "findings"])
def test_every_view_is_live(leaf, view):
    bpy.ops.grainstack.add_piece(shape="disc", size=0.03)
    scene().grainstack.view = view
    leaf.location.x = 0.1
    rest()
    shown = meshes()
    scene().grainstack.view = "finished"
    scene().grainstack.view = view
    assert meshes() == shown


def test_twenty_steps_undone_and_redone_give_the_same_design_and_wood(leaf):
    def deepen(depth):
        piece("leaf").grainstack.pocket_depth = depth

    def move(name, x):
        piece(name).location.x = x

    def turn(name, angle):
        piece(name).rotation_euler.z = angle

    def copy():
        select("leaf")
        bpy.ops.object.duplicate()
        bpy.context.active_object.location.y = 0.05

    def bend():
        piece("leaf").data.splines[0].bezier_points[0].co.x -= 0.003

    steps = [
        lambda: move("leaf", 0.1), lambda: turn("leaf", 0.3), lambda: deepen(0.004), copy, lambda: move("leaf-2", 0.2),
        bend, lambda: turn("leaf-2", -1.0), lambda: setattr(scene().grainstack, "panel_thickness", 0.02),
        lambda: setattr(piece("leaf").grainstack, "wood", "padauk"), lambda: move("leaf", 0.12),
        lambda: bpy.ops.grainstack.add_strip(), lambda: bpy.ops.grainstack.add_piece(shape="disc", size=0.02),
        lambda: move("disc", 0.25), lambda: setattr(piece("disc"), "scale", (-1.5, 1.5, 1.5)),
        lambda: setattr(scene().grainstack.strips[0], "wood", "cherry"), bend,
        lambda: setattr(piece("leaf").grainstack, "name_id", "big-leaf"), lambda: move("big-leaf", 0.15),
        lambda: setattr(scene().grainstack, "shop_proud", 0.002), lambda: move("disc", 0.26),
    ]  # fmt: skip
    assert len(steps) == 20
    states = [(json.dumps(document()), meshes())]
    for number, work in enumerate(steps):
        work()
        step(f"step {number}")
        if work is copy:  # its wood comes with a step of its own
            states.append((json.dumps(document()), None))
        rest()
        states.append((json.dumps(document()), meshes()))
    assert len(states) == 22
    assert len({document for document, _ in states}) == 21
    for undone in (True, False):
        for number in reversed(range(21)) if undone else range(1, 22):
            (bpy.ops.ed.undo if undone else bpy.ops.ed.redo)()
            rest()
            assert json.dumps(document()) == states[number][0], number
            assert states[number][1] in (None, meshes()), number


def test_disabling_leaves_no_timer_and_no_handler(bench):
    piece_count = len(bpy.data.objects)
    live.schedule()
    grainstack.unregister()
    try:
        assert not bpy.app.timers.is_registered(live._tick)
        ours = [h for name, _ in live.HANDLERS for h in getattr(bpy.app.handlers, name) if "grainstack" in h.__module__]
        assert ours == []
        assert len(bpy.data.objects) == piece_count
    finally:
        grainstack.register()
    assert same(document(), document())
    assert np.isfinite(scene().grainstack.panel_width)
