"""What can be done to a view: batches stepped through, the section's plane moved, the assembly animated."""

import math

import bpy
import numpy as np
import pytest
from grainstack.blender_addon import versions
from grainstack.blender_addon.scene import conversion, section_plane
from grainstack.blender_addon.scene import objects as scenes
from grainstack.blender_addon.studio import sheet
from grainstack.blender_addon.views import lifting, live, views

from .bench import document, piece, rest, same, step
from .test_scene import box_mm, coordinates, ours
from .test_views import height, show


def shown(scene) -> set[str]:
    return {name for name, item in ours(scene).items() if not item.hide_render}


def undo() -> bpy.types.Scene:
    bpy.ops.ed.undo()
    return bpy.context.scene


# --- Batches ----------------------------------------------------------------------------------------------


def test_batches_are_stepped_through_from_the_bare_background_to_all(opened):
    settings, before = opened.grainstack, document()
    wood = {"background-1-1", "background-2-1", "background-2-2"}
    assert (settings.batch, shown(opened)) == (2, wood | {"moon", "bar"})
    whole = coordinates(ours(opened)["background-2-2"].data).copy()
    findings = [item.text for item in settings.findings]
    for batch, there in ((1, {"moon"}), (0, set())):
        assert bpy.ops.grainstack.step_batch(by=-1) == {"FINISHED"}
        assert (settings.batch, shown(opened)) == (batch, wood | there)
    assert len(coordinates(ours(opened)["background-2-2"].data)) < len(whole)  # nothing is cut into it yet
    assert bpy.ops.grainstack.step_batch(by=-1) == {"CANCELLED"}
    settings.batch = 7
    assert (settings.batch, shown(opened)) == (2, wood | {"moon", "bar"})
    assert np.array_equal(coordinates(ours(opened)["background-2-2"].data), whole)
    assert bpy.ops.grainstack.step_batch(by=1) == {"CANCELLED"}
    assert [item.text for item in settings.findings] == findings
    assert same(document(), before)


@pytest.mark.parametrize("view", [name for name, view in views.VIEWS.items() if not view.hung])
def test_every_view_can_be_stepped_through_but_findings_are_of_the_whole(opened, view):
    show(opened, view)
    opened.grainstack.batch = 1
    rest()
    assert opened.grainstack.shown == view
    if view != "overlap":
        assert ("bar" in shown(opened)) == (view == "findings")
    opened.grainstack.batch = 0
    rest()
    assert not opened.grainstack.trouble


def test_a_step_is_undone_and_stays_while_the_maker_works(opened):
    bpy.ops.ed.undo_push(message="start")
    bpy.ops.grainstack.step_batch("EXEC_DEFAULT", True, by=-1)
    rest()
    piece("moon").location.x = 0.045
    rest()
    assert "bar" not in shown(opened)
    scene = undo()
    rest()
    assert (scene.grainstack.batch, "bar" in shown(scene)) == (2, True)


def test_after_all_batches_a_new_one_is_shown_too(opened):
    assert opened.grainstack.batch == 2
    bpy.ops.grainstack.add_piece(shape="disc", size=0.01)
    item = bpy.context.active_object
    item.location.x, item.location.y = 0.06, 0.036
    rest()
    assert opened.grainstack.batch == opened.grainstack.batch_count == 3


# --- Section ----------------------------------------------------------------------------------------------


def plane(scene) -> bpy.types.Object:
    return section_plane.plane_of(scene)


def test_the_plane_is_seen_in_the_section_alone_and_never_in_pictures(opened):
    assert plane(opened).hide_viewport
    show(opened, "section")
    assert not plane(opened).hide_viewport
    assert plane(opened).hide_render
    assert len(plane(opened).data.edges) == 10
    show(opened, "proud")
    assert plane(opened).hide_viewport


def test_a_dragged_plane_cuts_elsewhere_and_keeps_the_half_that_its_arrows_point_at(opened):
    show(opened, "section")
    item = plane(opened)
    assert section_plane.is_automatic(item)
    item.location.x, item.location.y, item.rotation_euler.z = 0.06, 0.03, math.radians(90)
    bpy.context.view_layer.update()
    live.catch_up(rest=False, idle=False)
    assert box_mm([o for o in ours(opened).values() if not o.hide_render])[:, 0] == pytest.approx((0, 60), abs=0.01)
    assert not section_plane.is_automatic(item)
    tips = np.array([item.matrix_world @ vertex.co for vertex in item.data.vertices])[4:, 0] * 1000
    assert (tips < 60).all()  # towards the left half, which stays
    item.rotation_euler.z = math.radians(-90)
    rest()
    assert box_mm([o for o in ours(opened).values() if not o.hide_render])[:, 0] == pytest.approx((60, 120), abs=0.01)


def test_fields_say_and_move_the_plane(opened):
    show(opened, "section")
    settings = opened.grainstack
    settings.section_angle = 0
    settings.section_position = 0.005
    assert settings.section_position == pytest.approx(0.005)
    assert settings.section_angle == pytest.approx(0, abs=1e-6)
    there = box_mm([o for o in ours(opened).values() if not o.hide_render])
    assert there[:, 1] == pytest.approx((45, 80), abs=0.01)  # 5 mm beyond the middle of 80
    settings.section_angle = math.radians(180)
    there = box_mm([o for o in ours(opened).values() if not o.hide_render])
    assert there[:, 1] == pytest.approx((0, 45), abs=0.01)
    assert settings.section_position == pytest.approx(-0.005, abs=1e-6)


def test_marks_name_pieces_and_depths_where_the_plane_was_put_and_follow_it_at_rest(opened):
    show(opened, "section")
    settings = opened.grainstack
    settings.section_angle, settings.section_position = 0, -0.002  # y = 38: through both
    words = sheet.words_on(opened)
    assert {"1 moon", "2 bar", "pocket 6.00", "pocket 9.00", "floor 10.00"} <= set(words)
    plane(opened).location.y = 0.055  # through the moon alone
    rest()
    assert "2 bar" not in sheet.words_on(opened)
    assert "floor 13.00" in sheet.words_on(opened)


def test_a_plane_beside_the_panel_is_told_and_goes_back_by_its_button(opened):
    show(opened, "section")
    assert not bpy.ops.grainstack.cut_at_busiest.poll()
    before = box_mm([o for o in ours(opened).values() if not o.hide_render])
    plane(opened).location.y = 0.2
    bpy.context.view_layer.update()
    live.catch_up()
    assert "lies beside the panel" in opened.grainstack.trouble
    assert bpy.ops.grainstack.cut_at_busiest.poll()
    bpy.ops.ed.undo_push(message="dragged")
    assert bpy.ops.grainstack.cut_at_busiest("EXEC_DEFAULT", True) == {"FINISHED"}
    rest()
    assert opened.grainstack.trouble == ""
    assert section_plane.is_automatic(plane(opened))
    after = box_mm([o for o in ours(opened).values() if not o.hide_render])
    assert after == pytest.approx(before, abs=0.01)
    scene = undo()
    assert plane(scene).location.y == pytest.approx(0.2)


def test_an_automatic_plane_follows_the_design_at_rest_and_a_moved_one_stays(opened):
    show(opened, "section")
    for name in ("moon", "bar"):
        piece(name).location.y += 0.02
    rest()
    there = plane(opened).location.y
    assert there == pytest.approx(views.design_of(opened).cut.line[0][1] / 1000, abs=1e-5)
    plane(opened).location.y += 0.003
    rest()
    piece("moon").location.y -= 0.01
    rest()
    assert plane(opened).location.y == pytest.approx(there + 0.003, abs=1e-6)


def test_the_plane_is_no_part_of_the_design_and_comes_back_when_deleted(opened):
    before = document()
    show(opened, "section")
    opened.grainstack.section_angle = 0.3
    assert same(document(), before)
    bpy.data.objects.remove(plane(opened))
    rest()
    assert plane(opened) is not None
    assert not opened.grainstack.trouble


# --- Lifts ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unfolding", ["batches", "pieces"])
def test_each_takes_its_turn_and_the_last_glued_leaves_first(opened, unfolding):
    objects = show(opened, "exploded")
    full = {name: height(objects[name]) for name in ("moon", "bar")}
    opened.grainstack.unfolding = unfolding
    for explosion, moon, bar in ((0, 0, 0), (0.25, 0, 0.5), (0.5, 0, 1), (0.75, 0.5, 1), (1, 1, 1)):
        opened.grainstack.explosion = explosion
        bpy.context.view_layer.update()
        lifted = [(height(objects[name]) - 1.5) / (full[name] - 1.5) for name in ("moon", "bar")]
        assert lifted == pytest.approx([moon, bar], abs=1e-4)


def thread_ends(scene) -> list[np.ndarray]:
    """Lower and upper end of each thread, mm."""
    bpy.context.view_layer.update()
    return [
        np.array([item.matrix_world @ point.co.to_3d() for point in spline.points]) * 1000
        for item in scene.objects
        if item.grainstack.kind == "threads"
        for spline in item.data.splines
    ]


@pytest.mark.parametrize("unfolding", ["together", "batches", "pieces"])
def test_threads_lead_from_where_each_insert_is_to_what_it_is_glued_to(opened, unfolding):
    objects = show(opened, "exploded")
    opened.grainstack.unfolding = unfolding
    for explosion in (0.6, 1.0):
        opened.grainstack.explosion = explosion
        ends = thread_ends(opened)
        assert len(ends) == len(views.design_of(opened).threads)
        tops = sorted(float(end[1, 2]) for end in ends)
        # An insert's underside is 7.5 (moon) or 10.5 (bar) mm below its top; ends may be off by a pocket's depth.
        wanted = sorted(height(objects[name]) - thick for name, thick in (("moon", 7.5), ("bar", 10.5)))
        assert [tops[0], tops[-1]] == pytest.approx(wanted, abs=9)
    assert [tops[0], tops[-1]] == pytest.approx(wanted, abs=0.01)
    assert all(not item.hide_render for item in opened.objects if item.grainstack.kind == "threads")
    show(opened, "proud")
    assert all(item.hide_render for item in opened.objects if item.grainstack.kind == "threads")


@pytest.mark.parametrize("unfolding", ["together", "batches", "pieces"])
def test_every_driver_runs_with_scripts_off(opened, unfolding):
    show(opened, "exploded")
    opened.grainstack.unfolding = unfolding
    bpy.context.view_layer.update()
    curves = [curve for item in opened.objects if item.animation_data for curve in item.animation_data.drivers]
    assert len(curves) > 4
    assert all(curve.driver.is_simple_expression and curve.driver.is_valid for curve in curves)


@pytest.mark.parametrize("unfolding", ["together", "batches", "pieces"])
def test_numbers_ride_with_their_inserts(opened, unfolding):
    """A number is as far from its insert in the picture, wherever the slider is."""
    show(opened, "exploded")
    opened.grainstack.unfolding = unfolding
    words = sheet.words_on(opened)
    assert {"moon", "bar", "1", "2", "6.00", "9.00", "Batch 1", "Batch 2"} <= set(words)
    drawing = sheet.Sheet(opened)

    def apart() -> list[float]:
        bpy.context.view_layer.update()
        riding = [i for i in opened.objects if i.get(sheet.LAYER)]
        assert len(riding) == 2
        found = []
        for item, name in zip(riding, ("moon", "bar"), strict=True):
            lifted = ours(opened)[name].matrix_world.translation.z * 1000
            number = coordinates(item.data)[:, 1].mean() + item.location.y
            found.append(number / drawing.pixel - drawing.project((60, 40, lifted))[1])
        return found

    first = apart()
    for explosion in (0, 0.3, 0.7):
        opened.grainstack.explosion = explosion
        assert apart() == pytest.approx(first, abs=0.2)


def test_numbers_stay_when_batches_are_stepped_through(opened):
    show(opened, "exploded")
    opened.grainstack.batch = 1
    words = sheet.words_on(opened)
    assert "moon" in words
    assert "bar" not in words
    assert lifting.lifts(opened, views.design_of(opened))[0].height > 10


def test_the_assembly_is_animated_undone_and_removed(opened):
    objects = show(opened, "exploded")
    opened.grainstack.unfolding = "batches"
    opened.render.fps, opened.render.fps_base = 24, 1
    bpy.ops.ed.undo_push(message="start")
    assert not bpy.ops.grainstack.remove_assembly.poll()
    assert bpy.ops.grainstack.animate_assembly("EXEC_DEFAULT", True, seconds=4, hold=0.5) == {"FINISHED"}
    assert (opened.frame_start, opened.frame_end) == (1, 13 + 96 + 12)
    heights = []
    for frame in (1, 13, 13 + 48, 13 + 96, 13 + 96 + 12):
        opened.frame_set(frame)
        heights.append([round(height(objects[name]), 3) for name in ("moon", "bar")])
    assert heights[0] == heights[1]
    assert heights[2][0] == pytest.approx(1.5, abs=1e-3)  # half-way the first batch is in
    assert heights[2][1] == heights[0][1]
    assert heights[3] == heights[4] == pytest.approx([1.5, 1.5], abs=1e-3)
    assert bpy.ops.grainstack.remove_assembly.poll()
    bpy.ops.grainstack.remove_assembly("EXEC_DEFAULT", True)
    assert versions.fcurve(opened, "grainstack.explosion") is None
    assert opened.grainstack.explosion == 1
    scene = undo()
    assert versions.fcurve(scene, "grainstack.explosion") is not None
    scene = undo()
    assert versions.fcurve(scene, "grainstack.explosion") is None


def test_an_empty_panel_has_no_assembly(bench):
    with pytest.raises(RuntimeError, match="no pieces yet"):
        bpy.ops.grainstack.animate_assembly(seconds=4)


def test_buttons_of_views_say_why_they_are_grey(addon):
    for name in ("step_batch", "cut_at_busiest", "animate_assembly", "remove_assembly"):
        assert not getattr(bpy.ops.grainstack, name).poll()


# --- Marks follow -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("view", ["overlap", "findings"])
def test_map_and_findings_follow_at_rest_without_anything_made(opened, view):
    show(opened, view)
    bpy.ops.ed.undo_push(message="start")
    data = [len(getattr(bpy.data, kind)) for kind in ("objects", "meshes", "materials", "curves")]
    before = [coordinates(item.data).tobytes() for item in opened.objects if item.get(sheet.WORDS) is not None]
    mapped = coordinates(scenes.overlap_map(opened).data).tobytes()
    piece("bar").location.x -= 0.002
    rest()
    assert not views.marks_are_old(opened)
    assert data == [len(getattr(bpy.data, kind)) for kind in ("objects", "meshes", "materials", "curves")]
    if view == "overlap":
        assert coordinates(scenes.overlap_map(opened).data).tobytes() != mapped
    step("moved")
    scene = undo()
    rest()
    assert conversion.read_scene(scene).content == scene.grainstack.fingerprint
    assert not views.marks_are_old(scene)
    after = [coordinates(item.data).tobytes() for item in scene.objects if item.get(sheet.WORDS) is not None]
    assert after == before
    if view == "overlap":
        assert coordinates(scenes.overlap_map(scene).data).tobytes() == mapped


def test_the_exploded_views_marks_follow_and_its_frame_is_offered_anew(opened):
    show(opened, "exploded")
    piece("moon").location.y -= 0.004
    rest()
    assert views.marks_are_old(opened)
    assert sheet.stamps(opened) == {views._staging(opened, views.design_of(opened))}
    bpy.ops.grainstack.show_view()
    assert not views.marks_are_old(opened)
