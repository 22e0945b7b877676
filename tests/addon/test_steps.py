"""What changes something is a step that can be undone, even where what comes of it is no design or cannot be shown."""

import bpy
import pytest
from grainstack.blender_addon.scene import conversion
from grainstack.blender_addon.views import views

from .bench import document, entry, ids, insert, piece, rest, same, scene, select, step

OPS = bpy.ops.grainstack


@pytest.fixture
def ring(opened):
    """Two pieces that wait for each other, after a step of undo."""
    step("opened")
    for name, other in (("moon", "bar"), ("bar", "moon")):
        mark = piece(name).grainstack
        mark.entry = conversion.entry_text(entry(name) | {"after": [other]})
    step("ring")
    rest()
    assert "ring" in scene().grainstack.trouble
    return opened


def test_a_piece_added_beside_pieces_that_wait_for_each_other_is_a_step(ring):
    before = len(bpy.data.curves)
    OPS.add_piece("EXEC_DEFAULT", True, shape="disc", size=0.01)
    assert ids() == ["moon", "bar", "disc"]
    assert "ring" in scene().grainstack.trouble
    bpy.ops.ed.undo()
    rest()
    assert (ids(), len(bpy.data.curves)) == (["moon", "bar"], before)
    bpy.ops.ed.redo()
    rest()
    assert ids() == ["moon", "bar", "disc"]


def test_deleting_one_piece_of_a_ring_mends_it(ring):
    select("bar")
    OPS.delete_pieces("EXEC_DEFAULT", True)
    assert (ids(), scene().grainstack.trouble) == (["moon"], "")
    bpy.ops.ed.undo()
    rest()
    assert ids() == ["moon", "bar"]


def test_a_piece_added_while_the_section_plane_lies_beside_the_panel_is_a_step_and_saved(opened, tmp_path):
    opened.grainstack.view = "section"
    opened.grainstack.section_position = 3.0
    step("away")
    OPS.add_piece("EXEC_DEFAULT", True, shape="disc", size=0.01)
    assert "beside" in scene().grainstack.trouble
    assert insert("disc")
    OPS.save_design_as(filepath=str(tmp_path / "aside"))
    bpy.ops.ed.undo()
    rest()
    assert ids() == ["moon", "bar"]


def test_a_blank_is_glued_up_for_all_that_are_selected_or_for_none(opened):
    OPS.add_piece(shape="line", size=0.02)
    select("moon", "groove")
    before = document()
    with pytest.raises(RuntimeError, match="one wood"):
        OPS.glue_blank()
    assert same(document(), before)


def test_a_stretched_piece_is_not_copied_to_be_mirrored(opened):
    piece("bar").scale.x = 2
    select("moon", "bar")
    step("stretched")
    count = len(bpy.data.objects)
    with pytest.raises(RuntimeError, match="stretched"):
        OPS.mirror_pieces(copy=True)
    assert len(bpy.data.objects) == count


def test_a_frame_shows_its_own_wood_as_it_is_now_and_the_detail_looks_where_most_is(addon, coaster, save):
    coaster |= {"woods": [{"name": "odd", "looks_like": "pear"}], "frame": {"wood": "odd"}}
    OPS.open_design(filepath=str(save(coaster)))
    settings = scene().grainstack
    settings.view = "listing"

    def of_frame() -> set[str]:
        held = (item for stage in scene().collection.children_recursive for item in stage.all_objects)
        return {
            m.name for i in held if i.type == "MESH" and "grainstack" in i.name.lower() for m in i.data.materials if m
        }

    before = {name for name in of_frame() if "odd" in name}
    settings.woods[0].colour_cut = (0.1, 0.6, 0.1)
    after = {name for name in of_frame() if "odd" in name}
    assert before
    assert after
    assert before.isdisjoint(after)

    settings.view = "detail"
    place = scene().camera.location.copy()
    for name in ("moon", "bar"):
        piece(name).location.x += 0.03
    rest()
    assert views.marks_are_old(scene())
    OPS.show_view()
    assert (scene().camera.location - place).length > 0.01


def test_a_panel_too_narrow_for_a_frame_is_opened_and_its_listing_refused(addon, coaster, save):
    coaster["panel"] |= {"edge_trim": 35}
    OPS.open_design(filepath=str(save(coaster)))
    scene().grainstack.view = "listing"
    assert "wider" in scene().grainstack.trouble
    with pytest.raises(RuntimeError, match="wider"):
        OPS.show_view()
    OPS.open_design(filepath=str(save(coaster, "again")))
    assert ids() == ["moon", "bar"]
