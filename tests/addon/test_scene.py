"""What an opened design looks like as Blender data."""

import bpy
import numpy as np
import pytest

IDS = {"background-1-1", "background-2-1", "background-2-2", "moon", "bar"}


def ours(scene) -> dict:
    return {o.grainstack.id: o for o in scene.objects if o.grainstack.kind in ("background", "insert")}


def coordinates(mesh) -> np.ndarray:
    values = np.empty(3 * len(mesh.vertices), np.float32)
    mesh.vertices.foreach_get("co", values)
    return values.reshape(-1, 3)


def box_mm(objects) -> np.ndarray:
    points = np.concatenate([coordinates(o.data) for o in objects if not o.hide_render]) * 1000
    return np.array([points.min(axis=0), points.max(axis=0)])


def data_names() -> dict:
    kinds = ("scenes", "objects", "meshes", "materials", "collections", "cameras", "lights", "worlds", "curves")
    return {kind: sorted(item.name for item in getattr(bpy.data, kind)) for kind in kinds}


def test_one_object_per_background_piece_and_insert_named_by_its_id(opened):
    assert set(ours(opened)) == IDS
    assert {o.name for o in ours(opened).values()} == IDS - {"moon", "bar"} | {"moon insert", "bar insert"}
    assert {o.name for o in opened.objects if o.grainstack.kind == "outline"} == {"moon", "bar"}
    assert opened.grainstack.collection.name == "Coaster"
    assert ours(opened)["bar"].users_collection[0].name == "Inserts"


def test_the_finished_panel_has_its_trimmed_size_in_metres(opened):
    assert box_mm(ours(opened).values()) == pytest.approx(np.array([(5, 5, -19), (115, 75, -0.5)]), abs=1e-3)


def test_meshes_are_sound_and_closed(opened):
    for name, item in ours(opened).items():
        mesh = item.data
        uses = np.zeros(len(mesh.edges), int)
        edges = np.empty(len(mesh.loops), np.int32)
        mesh.loops.foreach_get("edge_index", edges)
        np.add.at(uses, edges, 1)
        assert (uses == 2).all(), name
        assert not mesh.validate(), name


def test_curved_walls_are_smooth_and_rims_are_sharp(opened):
    mesh = ours(opened)["moon"].data
    sharp = np.empty(len(mesh.edges), bool)
    mesh.attributes["sharp_edge"].data.foreach_get("value", sharp)
    up = np.array([face.normal.z for face in mesh.polygons])
    faces = [[] for _ in mesh.edges]
    for face in mesh.polygons:
        for loop in face.loop_indices:
            faces[mesh.loops[loop].edge_index].append(face.index)
    one, other = up[np.array(faces)].T
    points = coordinates(mesh)[np.array([edge.vertices[:] for edge in mesh.edges])] * 1000
    on_disc = np.abs(np.hypot(points[:, :, 0] - 40, points[:, :, 1] - 40) - 19.9).max(axis=1) < 0.01
    beside_the_bar = (points[:, :, 0] < 49).all(axis=1)  # where the bar cuts the disc, a real corner is left
    wall = (np.abs(one) < 0.1) & (np.abs(other) < 0.1) & on_disc & beside_the_bar
    steep, level = np.sort(np.abs([one, other]), axis=0)
    rim = (steep < 0.1) & (level > 0.9)
    assert wall.sum() > 50
    assert not sharp[wall].any()
    assert rim.sum() > 100
    assert sharp[rim].all()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda design: design.update(colour="red"), "colour"),
        (lambda design: design["pieces"][0].update(wood="unobtainium"), "unobtainium"),
        (lambda design: design["pieces"][1].update(outline={"polygon": [[0, 0], [9, 9], [9, 0], [0, 9]]}), "bar"),
        (lambda design: design["pieces"][1].update(at=["x", 0]), "at"),
    ],
)
def test_a_design_that_cannot_be_used_leaves_the_scene_as_it_was(opened, coaster, save, change, words):
    before, shown = data_names(), opened.grainstack.fingerprint
    change(coaster)
    with pytest.raises(RuntimeError, match=words):
        bpy.ops.grainstack.open_design(filepath=str(save(coaster, "other")))
    assert data_names() == before
    assert opened.grainstack.fingerprint == shown
    assert opened.grainstack.title == "Coaster"


def test_a_missing_file_leaves_an_empty_file_empty(addon, tmp_path):
    before = data_names()
    with pytest.raises(RuntimeError, match=r"absent\.panel\.json"):
        bpy.ops.grainstack.open_design(filepath=str(tmp_path / "absent.panel.json"))
    assert data_names() == before


def test_a_second_design_replaces_the_first(opened, coaster, save):
    coaster["title"] = "Tile"
    coaster["pieces"] = [dict(coaster["pieces"][0], id="sun", wood="yellowheart")]
    bpy.ops.grainstack.open_design(filepath=str(save(coaster, "tile")))
    assert bpy.context.scene == opened
    assert set(ours(opened)) == IDS - {"moon", "bar"} | {"sun"}
    assert {mesh.name for mesh in bpy.data.meshes if mesh.users and mesh.name in ("moon", "bar")} == set()
    assert opened.grainstack.piece_count == 1
    assert opened.grainstack.title == "Tile"
    assert sorted(c.name for c in opened.grainstack.collection.children) == ["Background", "Inserts", "Outlines"]


def test_what_the_maker_put_beside_the_pieces_stays(opened, coaster, save):
    note = bpy.data.objects.new("my note", None)
    opened.grainstack.collection.objects.link(note)
    bpy.ops.grainstack.open_design(filepath=str(save(coaster)))
    assert "my note" in opened.objects
    assert set(ours(opened)) == IDS


def test_a_scene_of_the_makers_own_is_never_touched(addon, coaster, save):
    bpy.ops.mesh.primitive_cube_add()
    theirs = bpy.context.scene
    bpy.ops.grainstack.open_design(filepath=str(save(coaster)))
    scene = bpy.context.scene
    assert scene != theirs
    assert scene.name == "Coaster"
    assert [o.name for o in theirs.objects] == ["Cube"]
    assert theirs.unit_settings.length_unit == "METERS"
    assert theirs.camera is None
    assert scene.unit_settings.length_unit == "MILLIMETERS"


def test_buttons_say_why_they_are_grey(addon):
    with pytest.raises(RuntimeError, match="Open a design first"):
        bpy.ops.grainstack.render_view()
    with pytest.raises(RuntimeError, match="Make a new panel or open a design first"):
        bpy.ops.grainstack.add_piece()


def test_undo_and_redo_take_meshes_and_view_together(addon, coaster, save):
    bpy.ops.ed.undo_push(message="start")
    path = str(save(coaster))
    bpy.ops.grainstack.open_design("EXEC_DEFAULT", True, filepath=path)
    bpy.ops.ed.undo_push(message="open")
    bpy.context.scene.grainstack.view = "proud"
    bpy.ops.ed.undo_push(message="proud")
    proud = box_mm(ours(bpy.context.scene).values())
    bpy.ops.ed.undo()
    assert bpy.context.scene.grainstack.view == "finished"
    finished = box_mm(ours(bpy.context.scene).values())
    assert finished[1, 2] == pytest.approx(-0.5, abs=1e-4)
    bpy.ops.ed.redo()
    assert bpy.context.scene.grainstack.view == "proud"
    assert np.array_equal(box_mm(ours(bpy.context.scene).values()), proud)
