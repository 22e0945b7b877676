"""The list of findings: what it holds, filters, going to a place, and remedies taken by their button."""

import json
from pathlib import Path
from types import SimpleNamespace

import bpy
import pytest
from grainstack.blender_addon.bench import findings_panel
from grainstack.blender_addon.findings import finding_items, finding_places, findings_overlay
from grainstack.blender_addon.views import live, views
from mathutils import Quaternion

from .bench import document, entry, meshes, piece, rest, same, scene, select, step

OPS = bpy.ops.grainstack
FIRST_DRAFT = Path(__file__).parents[2] / "assets" / "koi-pond" / "first-draft.panel.json"


def settings():
    return scene().grainstack


def codes(*levels: str) -> list[str]:
    return [item.code for item in settings().findings if item.level in levels]


def codes_but_slender() -> list[str]:
    """All errors and warnings but what a pocket that is too deep for its place is for its cutter too."""
    return [code for code in codes("error", "warning") if code != "slender-cutter"]


def index_of(code: str) -> int:
    return next(i for i, item in enumerate(settings().findings) if item.code == code)


def choose(code: str):
    settings().active_finding = index_of(code)
    return settings().findings[index_of(code)]


@pytest.fixture
def deep(addon, coaster, save):
    """The coaster with two pockets that leave too thin a floor, opened; undo goes back to this."""
    coaster["pieces"][0]["pocket_depth"] = coaster["pieces"][1]["pocket_depth"] = 15
    coaster.setdefault("workshop", {})["cutter_length"] = 20  # so that floors are all that is wrong
    bpy.ops.ed.undo_push(message="start")
    OPS.open_design("EXEC_DEFAULT", True, filepath=str(save(coaster)))
    rest()
    return scene()


# The list


def test_items_hold_the_findings_the_gravest_first(deep):
    told = views.design_of(deep).findings
    items = settings().findings
    assert [(i.level, i.code, i.text, i.remedy) for i in items] == [(f.level, f.code, f.text, f.remedy) for f in told]
    assert [i.piece for i in items] == [f.piece or "" for f in told]
    assert items[0].heading == "Floor too thin: moon"
    assert tuple(items[0].at) == pytest.approx(told[0].at, abs=1e-4)
    assert items[0].step_words == "Set pocket depth to 14.00 mm"
    assert finding_items.counts(settings()) == {"error": 0, "warning": 2, "note": len(told) - 2}
    assert len({i.identity for i in items}) == len(items)


def test_filters_of_level_and_of_the_active_piece(deep):
    active = bpy.context.view_layer.objects.active
    assert [on for on in finding_items.listed(settings(), active) if on] == [True, True]  # notes are off
    settings().show_notes = True
    assert all(finding_items.listed(settings(), active))
    settings().only_active_piece = True
    select("bar")
    shown = finding_items.listed(settings(), bpy.context.active_object)
    told = [item.piece for item, on in zip(settings().findings, shown, strict=True) if on]
    assert set(told) == {"bar"}
    select()
    assert not any(finding_items.listed(settings(), bpy.context.view_layer.objects.active))


def test_the_list_finds_words(deep):
    listed = SimpleNamespace(bitflag_filter_item=1, filter_name="thin: BAR")
    shown, order = findings_panel.GRAINSTACK_UL_findings.filter_items(listed, bpy.context, settings(), "findings")
    assert shown == [int(i.heading == "Floor too thin: bar") for i in settings().findings]
    assert order == []


def test_the_chosen_finding_stays_chosen_while_the_design_changes(deep):
    choose("floor-too-thin")
    assert settings().active_finding == 0
    piece("moon").location.x = 0.045
    rest()
    assert settings().findings[settings().active_finding].heading == "Floor too thin: moon"
    settings().chosen_finding = "no such thing"
    assert settings().active_finding == -1


# Going to a place


def view_3d():
    area = next(a for a in bpy.context.window.screen.areas if a.type == "VIEW_3D")
    return area, area.spaces.active


def test_choosing_selects_the_piece_and_frames_the_place(deep):
    _, space = view_3d()
    space.region_3d.view_perspective = "PERSP"
    space.region_3d.view_rotation = Quaternion((0.92, 0.38, 0, 0))
    select("bar")
    item = choose("floor-too-thin")
    assert item.piece == "moon"
    assert [o.grainstack.id for o in bpy.context.selected_objects] == ["moon"]
    assert bpy.context.active_object == piece("moon")
    assert tuple(space.region_3d.view_location) == pytest.approx((item.at[0] / 1000, item.at[1] / 1000, 0), abs=1e-6)
    assert space.region_3d.view_rotation.rotation_difference(Quaternion((0.92, 0.38, 0, 0))).angle < 0.01
    space.region_3d.view_location = (9, 9, 9)
    assert OPS.frame_finding() == {"FINISHED"}
    assert space.region_3d.view_location.x == pytest.approx(item.at[0] / 1000, abs=1e-6)


@pytest.mark.parametrize(("view", "left_as"), [("finished", "PERSP"), ("findings", "ORTHO")])
def test_who_looks_through_the_camera_leaves_it_looking_the_same_way(deep, view, left_as):
    settings().view = view
    camera = deep.camera.matrix_world.copy()
    _, space = view_3d()
    space.region_3d.view_perspective = "CAMERA"
    choose("floor-too-thin")
    assert space.region_3d.view_perspective == left_as
    assert deep.camera.matrix_world == camera
    turned = space.region_3d.view_rotation
    assert turned.rotation_difference(camera.to_quaternion()).angle < 0.01


def test_a_place_is_never_looked_at_from_below_or_along_the_face():
    under, flat, above = (Quaternion((1, 0, 0), angle) for angle in (3.14, 1.5, 0.8))
    for turned, kept in ((under, False), (flat, False), (above, True)):
        assert (finding_places.sight_of(1, 2, turned, 50, (800, 400)).turned == turned) is kept


def test_what_is_framed_is_as_wide_as_promised_along_the_shorter_side():
    """Blender's viewport sees 72 mm of sensor along its longer side through its lens (its camera code, from memory)."""
    sight = finding_places.sight_of(0, 0, Quaternion(), 50, (800, 400))
    half_longer = sight.distance * 36 / 50
    assert half_longer / 2 == pytest.approx(finding_places.REACH / 1000)


def test_the_way_there_begins_here_and_ends_there():
    one = finding_places.sight_of(0, 0, Quaternion(), 50, (800, 400))
    other = finding_places.sight_of(100, 50, Quaternion((1, 0, 0), 0.7), 80, (800, 400))
    assert one.towards(other, 0.0) == one
    end = one.towards(other, 1.0)
    assert (end.at - other.at).length < 1e-6
    assert end.distance == pytest.approx(other.distance)
    assert end.turned.rotation_difference(other.turned).angle < 1e-3


def test_framing_asks_for_a_choice_first(deep):
    assert not OPS.frame_finding.poll()
    choose("floor-too-thin")
    assert OPS.frame_finding.poll()


# Several places of one cause


@pytest.fixture
def row(addon, coaster, save):
    """Three squares side by side, opened."""
    square = {"polygon": [[-10, -10], [10, -10], [10, 10], [-10, 10]]}
    at = {"left": [30, 40], "right": [70, 40], "middle": [50, 40]}
    coaster["pieces"] = [{"id": name, "wood": "holly", "outline": square, "at": place} for name, place in at.items()]
    bpy.ops.ed.undo_push(message="start")
    OPS.open_design("EXEC_DEFAULT", True, filepath=str(save(coaster)))
    settings().show_notes = True
    rest()
    return scene()


def test_what_has_one_cause_is_one_line_and_clicked_again_goes_to_its_next_place(row):
    _, space = view_3d()
    assert codes("note").count("meeting-edges") == 1
    item = choose("meeting-edges")
    assert item.heading.endswith(" (2 places)")
    assert item.title == "Meeting edges: middle (2 places)"
    assert "2 such places, also at (" in item.text
    seen = []
    for _ in range(3):
        seen.append(round(space.region_3d.view_location.x * 1000))
        assert tuple(finding_items.place(settings())[:2]) == pytest.approx((seen[-1], 40), abs=0.5)
        choose("meeting-edges")
    assert sorted(seen[:2]) == [40, 60]
    assert seen[2] == seen[0]
    assert OPS.next_place() == {"FINISHED"}
    assert settings().chosen_place == 4
    choose("corners-rounded")
    assert settings().chosen_place == 0


def test_each_place_of_a_cause_is_marked_and_the_one_that_is_looked_at_is_ringed(row):
    choose("meeting-edges")
    for number in (0, 1):
        marks = findings_overlay.marks_of(settings(), None)
        assert len(marks.places) == sum(len(finding_items.places(item)) for item in settings().findings)
        assert len(finding_items.places(settings().findings[settings().active_finding])) == 2
        x, y, _ = finding_items.place(settings())
        assert tuple(marks.places[marks.chosen][:2]) == pytest.approx((x / 1000, y / 1000))
        assert settings().chosen_place == number
        choose("meeting-edges")


def test_only_the_active_piece_shows_a_cause_at_any_of_its_places(row):
    settings().only_active_piece = True
    for name in ("left", "right", "middle"):
        select(name)
        told = zip(settings().findings, finding_items.listed(settings(), bpy.context.active_object), strict=True)
        assert "meeting-edges" in [item.code for item, on in told if on]


def test_the_remedy_of_a_shared_edge_makes_the_piece_larger(row):
    item = choose("meeting-edges")
    assert item.step_words == "Scale middle by 1.055"
    OPS.take_remedy("EXEC_DEFAULT", True, finding=item.identity)
    rest()
    assert entry("middle")["scale"] == 1.055
    assert tuple(piece("middle").scale) == pytest.approx((1.055, 1.055, 1.055))
    assert "meeting-edges" not in codes("warning", "note")
    bpy.ops.ed.undo()
    rest()
    assert tuple(piece("middle").scale) == (1, 1, 1)
    assert "meeting-edges" in codes("note")


# Remedies


def test_every_one_step_remedy_of_the_first_draft_cures_its_finding_and_brings_no_other(addon):
    OPS.open_design(filepath=str(FIRST_DRAFT))
    rest()
    cured = 0
    while steps := [item for item in settings().findings if item.step and item.level != "note"]:
        before = codes_but_slender()
        code = steps[0].code
        assert OPS.take_remedy(finding=steps[0].identity) == {"FINISHED"}
        rest()
        before.remove(code)
        assert codes_but_slender() == before
        cured += 1
    assert cured == 5
    assert sorted(codes_but_slender()) == ["strip-bend", "thin-neck"]  # these have no remedy of one step


def test_a_remedy_is_one_step_of_undo(deep):
    before = document(), meshes()
    OPS.take_remedy("EXEC_DEFAULT", True, finding=choose("floor-too-thin").identity)
    rest()
    after = document(), meshes()
    assert entry("moon")["pocket_depth"] == 14
    assert isinstance(entry("moon")["pocket_depth"], int)
    assert codes("warning") == ["floor-too-thin"]
    assert settings().active_finding == -1
    bpy.ops.ed.undo()
    rest()
    assert same(document(), before[0])
    assert meshes() == before[1]
    assert codes("warning") == ["floor-too-thin", "floor-too-thin"]
    bpy.ops.ed.redo()
    rest()
    assert same(document(), after[0])
    assert meshes() == after[1]


def test_a_finding_is_accepted_with_a_word_why_in_one_step_of_undo(deep):
    before = document()
    OPS.accept_finding("EXEC_DEFAULT", True, finding=choose("floor-too-thin").identity, why="a lid lies under it")
    rest()
    assert codes("warning") == ["floor-too-thin"]
    assert settings().accepted == 1
    (entry_,) = json.loads(settings().document)["accepted"]
    assert entry_ == {"code": "floor-too-thin", "piece": entry_["piece"], "value": -4, "why": "a lid lies under it"}
    bpy.ops.ed.undo()
    rest()
    assert same(document(), before)
    assert codes("warning") == ["floor-too-thin", "floor-too-thin"]
    assert settings().accepted == 0
    bpy.ops.ed.redo()
    rest()
    assert settings().accepted == 1
    OPS.show_accepted()
    rest()
    assert codes("warning") == ["floor-too-thin", "floor-too-thin"]
    with pytest.raises(RuntimeError, match="there is no note"):
        OPS.accept_finding(finding=choose("floor-too-thin").identity)


def test_a_remedy_that_the_design_no_longer_asks_for_is_refused(deep):
    name = choose("floor-too-thin").identity
    piece("moon").grainstack.entry = json.dumps(entry("moon") | {"pocket_depth": 6})
    before = document()
    with pytest.raises(RuntimeError, match="the design has changed since this was found"):
        OPS.take_remedy(finding=name)
    assert same(document(), before)
    with pytest.raises(RuntimeError, match="Look at the findings again"):
        OPS.take_remedy(finding="no such thing")


def test_another_step_than_the_one_told_is_refused(deep):
    name = choose("floor-too-thin").identity
    settings().panel_thickness = 0.018  # 13 mm now, not the 14 of the button
    settings().findings[0].step = json.dumps(["moon", "pocket_depth", 14.0])
    with pytest.raises(RuntimeError, match="has changed since"):
        OPS.take_remedy(finding=name)
    assert entry("moon")["pocket_depth"] == 15


def test_what_a_parent_holds_is_moved_by_hand(bench):
    OPS.add_piece(shape="rectangle", size=0.04)
    OPS.add_piece(shape="rectangle", size=0.04)
    piece("rectangle-2").location.x += 0.0403
    rest()
    item = choose("meeting-edges")
    assert (item.title, item.heading) == ("Meeting edges: rectangle-2", "Meeting edges: rectangle and rectangle-2")
    assert json.loads(item.step)[1] == "at"
    assert item.step_words.startswith("Move rectangle-2 1.05 mm left")
    holder = bpy.data.objects.new("Holder", None)
    scene().collection.objects.link(holder)
    piece("rectangle-2").parent = holder
    rest()
    before = document()
    with pytest.raises(RuntimeError, match="a parent or a constraint holds it"):
        OPS.take_remedy(finding=item.identity)
    assert same(document(), before)
    piece("rectangle-2").parent = None
    rest()
    OPS.take_remedy(finding=settings().findings[index_of("meeting-edges")].identity)
    rest()
    assert "meeting-edges" not in codes("warning")


def test_a_remedy_that_cannot_be_made_changes_nothing(deep, monkeypatch):
    """Such as one that would make a ring of pieces that wait for each other."""
    item = choose("floor-too-thin")
    before = document(), meshes()
    follow = live.bring_up_to_date

    def refused(scene):
        raise live.UnusableInput("", "batches", "pieces wait for each other", "Take one out")

    monkeypatch.setattr(live, "bring_up_to_date", refused)
    with pytest.raises(RuntimeError, match="wait for each other"):
        OPS.take_remedy(finding=item.identity)
    monkeypatch.setattr(live, "bring_up_to_date", follow)
    rest()
    assert same(document(), before[0])
    assert meshes() == before[1]


def test_remedies_need_a_design_and_object_mode(deep):
    assert OPS.take_remedy.poll()
    select("moon")
    bpy.ops.object.mode_set(mode="EDIT")
    assert not OPS.take_remedy.poll()
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert not OPS.take_remedy.poll()
    assert not OPS.frame_finding.poll()


def test_the_list_survives_a_file(deep, tmp_path):
    choose("floor-too-thin")
    path = str(tmp_path / "deep.blend")
    step("saved")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    rest()
    assert settings().active_finding == 0
    OPS.take_remedy(finding=settings().findings[0].identity)
    rest()
    assert codes("warning") == ["floor-too-thin"]
