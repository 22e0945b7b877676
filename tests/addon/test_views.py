"""What each view shows."""

import itertools
import json
import re
from pathlib import Path

import bpy
import numpy as np
import pytest
from grainstack.blender_addon import designs
from grainstack.blender_addon.entry import headless
from grainstack.blender_addon.scene import conversion
from grainstack.blender_addon.scene import objects as scenes
from grainstack.blender_addon.studio import sheet, studio
from grainstack.blender_addon.views import views

from .test_scene import box_mm, coordinates, ours

MANUAL = Path(__file__).parents[2] / "docs" / "views.md"


def show(scene, name):
    scene.grainstack.view = name
    assert scene.grainstack.shown == name
    bpy.context.view_layer.update()
    return ours(scene)


def height(item) -> float:
    """z of the object's top in the scene, mm."""
    return float(coordinates(item.data)[:, 2].max() + item.matrix_world.translation.z) * 1000


def test_the_manual_tells_of_every_view_by_its_label_and_name():
    text = MANUAL.read_text(encoding="utf-8")
    assert [name for name in headless.CHOICES if f"`--view {name}`" not in text] == []
    titles = " ".join(re.findall(r"^## (.+)$", text, flags=re.MULTILINE))
    assert [view.label for view in views.VIEWS.values() if view.label not in titles] == []


def test_proud_inserts_stand_above_the_raw_face(opened):
    objects = show(opened, "proud")
    assert height(objects["moon"]) == pytest.approx(1.5, abs=1e-3)
    assert height(objects["background-1-1"]) == pytest.approx(0, abs=1e-3)
    assert box_mm(objects.values())[:, :2] == pytest.approx(np.array([(0, 0), (120, 80)]), abs=1e-3)


def test_the_slider_lifts_later_batches_higher_and_the_background_never(opened):
    objects = show(opened, "exploded")
    assert height(objects["bar"]) > height(objects["moon"]) > 10
    assert height(objects["background-1-1"]) == pytest.approx(0, abs=1e-3)
    full = height(objects["bar"])
    opened.grainstack.explosion = 0.5
    bpy.context.view_layer.update()
    assert height(objects["bar"]) == pytest.approx(1.5 + (full - 1.5) / 2, abs=1e-3)
    assert height(show(opened, "proud")["bar"]) == pytest.approx(1.5, abs=1e-3)


def test_the_explosion_runs_with_scripts_off(opened):
    drivers = [o.animation_data.drivers[0].driver for o in ours(opened).values() if o.animation_data]
    assert len(drivers) == 2
    assert all(driver.is_simple_expression and driver.is_valid for driver in drivers)


def test_the_explosion_animates(opened):
    objects = show(opened, "exploded")
    opened.grainstack.explosion = 0
    opened.grainstack.keyframe_insert("explosion", frame=1)
    opened.grainstack.explosion = 1
    opened.grainstack.keyframe_insert("explosion", frame=11)
    heights = []
    for frame in (1, 6, 11):
        opened.frame_set(frame)
        heights.append(height(objects["moon"]))
    assert heights[0] == pytest.approx(1.5, abs=1e-3)
    assert heights[0] < heights[1] < heights[2]


def test_the_section_opens_the_panel(opened):
    whole = box_mm(show(opened, "proud").values())
    cut = box_mm(show(opened, "section").values())
    assert np.prod((cut[1] - cut[0])[:2]) < 0.9 * np.prod((whole[1] - whole[0])[:2])


def test_each_view_brings_back_what_another_hid(opened):
    first = {name: coordinates(o.data).copy() for name, o in ours(opened).items()}
    for name in reversed(views.VIEWS):
        show(opened, name)
    show(opened, "finished")
    for name, item in ours(opened).items():
        assert not item.hide_render
        assert np.array_equal(coordinates(item.data), first[name])


def test_views_make_no_wood_objects_and_leave_none(opened):
    before = {name: item.as_pointer() for name, item in ours(opened).items()}
    counts = []
    for name in [*views.VIEWS, *views.VIEWS, *views.VIEWS]:
        show(opened, name)
        counts.append((len(bpy.data.objects), len(bpy.data.meshes)))
    assert {name: item.as_pointer() for name, item in ours(opened).items()} == before
    assert len(set(counts[len(views.VIEWS) :])) == 1


def test_a_view_shown_before_is_there_at_once(opened, monkeypatch):
    """Nothing is filled, set up or made again as long as the design stays: what the maker feels as instant."""

    def looks() -> dict:
        meshes = {name: coordinates(item.data).tobytes() for name, item in ours(opened).items() if not item.hide_render}
        seen = sorted(item.name for item in opened.objects if item.visible_get())
        lens = [value for row in opened.camera.matrix_world for value in row]
        strength = opened.world.node_tree.nodes["Background"].inputs["Strength"].default_value
        return {"meshes": meshes, "seen": seen, "lens": lens, "words": sheet.words_on(opened), "world": strength}

    first = {}
    for name in views.VIEWS:
        show(opened, name)
        first[name] = looks()

    def never(*_, **__):
        raise AssertionError("work done twice")

    monkeypatch.setattr(scenes, "fill", never)
    monkeypatch.setattr(studio, "set_up", never)
    monkeypatch.setattr(sheet.Sheet, "hang", never)
    monkeypatch.setattr("grainstack.blender_addon.views.overlap_view.fill_faces", never)
    data = [len(getattr(bpy.data, kind)) for kind in ("objects", "meshes", "materials", "lights", "collections")]
    for one, other in itertools.permutations(views.VIEWS, 2):
        show(opened, one)
        show(opened, other)
        assert looks() == first[other]
    assert data == [
        len(getattr(bpy.data, kind)) for kind in ("objects", "meshes", "materials", "lights", "collections")
    ]


def test_views_never_change_the_design(opened):
    before = conversion.read_scene(opened)
    for name in views.VIEWS:
        show(opened, name)
        now = conversion.read_scene(opened)
        assert (now.content, json.dumps(now.document())) == (before.content, json.dumps(before.document()))
        assert views.design_of(opened).fingerprint == before.content


def test_show_view_sets_up_anew_what_was_spoilt_by_hand(opened):
    show(opened, "proud")
    lamps = [item for item in studio.stage_of(opened).objects if item.type == "LIGHT"]
    for lamp in lamps:
        bpy.data.objects.remove(lamp)
    assert bpy.ops.grainstack.show_view() == {"FINISHED"}
    assert sum(item.type == "LIGHT" for item in studio.stage_of(opened).objects) == len(lamps) > 0


def test_a_view_chosen_in_edit_mode_waits_until_it_can_be_shown(opened):
    bar = ours(opened)["bar"]
    bpy.context.view_layer.objects.active = bar
    bpy.ops.object.mode_set(mode="EDIT")
    opened.grainstack.view = "proud"
    assert opened.grainstack.shown == "finished"
    assert "Edit Mode" in opened.grainstack.trouble
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.grainstack.show_view()
    assert opened.grainstack.shown == "proud"
    assert opened.grainstack.trouble == ""


def test_a_saved_file_shows_its_views_after_reopening(opened, tmp_path):
    path = str(tmp_path / "coaster.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    designs.forget_all()  # as in a new session
    scene = bpy.context.scene
    assert height(show(scene, "proud")["moon"]) == pytest.approx(1.5, abs=1e-3)


def test_the_scene_keeps_its_design_whatever_becomes_of_its_file(opened, coaster, save):
    """The design lives in the scene; the file is read again when the maker asks for it."""
    path = save(coaster)
    coaster["pieces"][0]["at"] = [45, 40]
    save(coaster)
    designs.forget_all()
    assert box_mm([show(opened, "proud")["moon"]])[0, 0] == pytest.approx(20.1, abs=1e-3)
    bpy.ops.grainstack.reload_design()
    assert opened.grainstack.shown == "proud"
    assert box_mm([ours(opened)["moon"]])[0, 0] == pytest.approx(25.1, abs=1e-3)
    path.unlink()
    designs.forget_all()
    show(opened, "finished")
    with pytest.raises(RuntimeError, match="no such file"):
        bpy.ops.grainstack.reload_design()
    assert opened.grainstack.piece_count == 2


def test_viewports_keep_their_camera_from_view_to_view_and_design_to_design(opened, coaster, save):
    camera = opened.camera.as_pointer()
    show(opened, "exploded")
    opened.grainstack.picture_width = 800
    bpy.ops.grainstack.open_design(filepath=str(save(coaster, "other")))
    assert opened.camera.as_pointer() == camera


def test_no_view_is_seen_through_the_last_ones_lens(opened):
    def lens(name) -> tuple:
        show(opened, name)
        matrix = [value for row in opened.camera.matrix_world for value in row]
        return opened.camera.data.type, matrix

    alone = {name: lens(name) for name in ("finished", "overlap", "section")}
    assert [kind for kind, _ in alone.values()] == ["PERSP", "ORTHO", "PERSP"]
    for before in ("exploded", "findings", "proud"):
        for name, (kind, matrix) in alone.items():
            show(opened, before)
            assert lens(name) == (kind, pytest.approx(matrix))
