"""Ticks of the work at the bench: in the file beside the design, outside Blender's undo and the design's bytes."""

import json
from pathlib import Path
from types import SimpleNamespace
from typing import ClassVar

import bpy
import pytest
from grainstack.blender_addon.pictures import work_panels, work_state
from grainstack.blender_addon.scene import conversion
from grainstack.blender_addon.views import live, work_overlay
from grainstack.core.sheet.tracking import read_bench


@pytest.fixture
def beside(tmp_path) -> Path:
    """The tracking file of the coaster."""
    return tmp_path / "coaster.bench.json"


def tick(piece: str, *steps: str) -> None:
    for step in steps:
        bpy.ops.grainstack.tick_piece(piece=piece, step=step)


def test_undo_and_redo_untick_nothing_and_the_design_s_bytes_stay(opened, beside, tmp_path) -> None:
    design = (tmp_path / "coaster.panel.json").read_bytes()
    bpy.ops.ed.undo_push(message="start")
    opened.grainstack.shop_proud = 0.002
    bpy.ops.ed.undo_push(message="proud")
    tick("moon", "pocket", "insert")
    bpy.ops.grainstack.tick_shared(key="flat")
    told = beside.read_bytes()
    shown = work_state.Kept.work.bench
    bpy.ops.ed.undo()
    assert bpy.context.scene.grainstack.shop_proud != pytest.approx(0.002)  # the step before was undone, no tick
    assert beside.read_bytes() == told
    assert work_state.Kept.work.bench == shown
    bpy.ops.ed.redo()
    assert bpy.context.scene.grainstack.shop_proud == pytest.approx(0.002)
    assert beside.read_bytes() == told
    assert (tmp_path / "coaster.panel.json").read_bytes() == design
    assert read_bench(beside).pieces["moon"].steps == ("pocket", "insert")


@pytest.mark.usefixtures("opened")
def test_a_tick_is_taken_off_by_ticking_again_and_says_what_is_next(beside) -> None:
    tick("moon", "pocket")
    assert work_state.of(bpy.context.scene).done == {"moon": ("pocket",)}
    tick("moon", "pocket")
    assert work_state.of(bpy.context.scene).done == {}
    tick("moon", "pocket", "insert", "fit", "glued")
    along = work_state.of(bpy.context.scene).along
    assert (along.glued, along.next_steps["pocket"]) == (1, (2,))
    assert read_bench(beside).design == "coaster"


@pytest.mark.usefixtures("opened")
def test_what_another_program_wrote_into_the_file_is_not_lost(beside) -> None:
    tick("moon", "pocket")
    text = beside.read_text().replace('"done": ["pocket"]', '"done": ["pocket", "insert"]')
    beside.write_text(text)
    tick("bar", "insert")
    assert read_bench(beside).pieces["moon"].steps == ("pocket", "insert")


@pytest.mark.usefixtures("opened")
def test_a_damaged_file_is_refused_and_kept(beside) -> None:
    beside.write_text("{")
    with pytest.raises(RuntimeError, match="not a whole JSON file"):
        tick("moon", "pocket")
    with pytest.raises(RuntimeError, match="not a whole JSON file"):
        bpy.ops.grainstack.look_at_work()
    assert beside.read_text() == "{"


@pytest.mark.usefixtures("bench")
def test_a_design_without_a_file_has_nowhere_to_keep_ticks_and_says_so() -> None:
    with pytest.raises(RuntimeError, match="Save the design first"):
        bpy.ops.grainstack.look_at_work()


def test_a_change_to_a_piece_that_is_cut_is_told_and_put_back_by_its_button(opened) -> None:
    tick("moon", "pocket", "insert", "fit", "glued")
    item = next(each for each in conversion.piece_objects(opened) if each.grainstack.id == "moon")
    item.location.x += 0.004
    live.bring_up_to_date(opened)
    assert work_state.of(bpy.context.scene) is None  # the design is another now
    bpy.ops.grainstack.look_at_work()
    (problem,) = work_state.of(bpy.context.scene).problems
    assert problem.finding.code == "changed-after-cutting"
    assert problem.touched == ("bar",)
    repair = next(each for each in problem.repairs if each.kind == "put-back")
    bpy.ops.grainstack.take_repair(words=repair.words)
    bpy.ops.grainstack.look_at_work()
    assert work_state.of(bpy.context.scene).problems == ()
    assert item.location.x == pytest.approx(0.040)


def test_a_patch_that_is_offered_becomes_the_last_piece_of_the_design(opened) -> None:
    tick("moon", "pocket", "insert", "fit", "glued")
    bpy.ops.grainstack.tell_piece(piece="moon", what="gap", length=0.003, side="left")
    (problem,) = work_state.of(bpy.context.scene).problems
    repair = next(each for each in problem.repairs if each.kind == "patch")
    bpy.ops.grainstack.take_repair(words=repair.words)
    assert conversion.piece_objects(opened)[-1].grainstack.id == "moon-patch"


@pytest.mark.usefixtures("opened")
def test_what_came_out_otherwise_is_told_in_the_panel_and_findings_follow(beside) -> None:
    bpy.ops.grainstack.tell_piece(piece="bar", what="depth", length=0.016)
    codes = {problem.finding.code for problem in work_state.of(bpy.context.scene).problems}
    assert "floor-too-thin" in codes
    assert json.loads(beside.read_text())["pieces"]["bar"]["told"] == [{"what": "depth", "mm": 16}]
    bpy.ops.grainstack.take_back(piece="bar")
    codes = {problem.finding.code for problem in work_state.of(bpy.context.scene).problems}
    assert codes == {"out-of-order"}


@pytest.mark.usefixtures("opened")
def test_what_is_done_is_marked_in_the_viewport_and_hidden_again() -> None:
    tick("moon", "pocket")
    bpy.ops.grainstack.show_standing()
    shown = work_overlay.Shown.lines["open"][:, :2] * 1000
    assert len(shown)
    assert abs(shown - 40).max() < 20.2  # the moon's radius
    tick("moon", "insert", "fit", "glued")
    assert len(work_overlay.Shown.lines["glued"])
    assert not len(work_overlay.Shown.lines["open"])
    bpy.ops.grainstack.show_standing(hide=True)
    assert not work_overlay.Shown.on


def test_the_sheet_is_written_from_the_sidebar_and_tells_how_far_along_it_is(opened, tmp_path) -> None:
    tick("moon", "pocket")
    bpy.ops.grainstack.write_sheet(paper="letter", units="mm")
    folder = tmp_path / "coaster-sheet"
    assert {path.name for path in folder.iterdir()} == {
        "coaster-sheet.pdf", "coaster-sheet.html", "coaster-buying.csv"}  # fmt: skip
    assert '"bench"' in (folder / "coaster-sheet.html").read_text(encoding="utf-8")


def test_the_panel_draws_what_is_kept_and_reads_no_file(opened, beside, monkeypatch) -> None:
    """Drawn with a layout that only remembers, since there is no window here."""

    class Layout:
        """Takes any call, hands itself on, and remembers what is written."""

        said: ClassVar[list[str]] = []

        def __getattr__(self, name):
            def call(*_, **given):
                self.said.extend(str(given[key]) for key in ("text",) if key in given)
                return self

            return call

        def __setattr__(self, name, value) -> None:
            pass

        def split(self, **_):
            return self

    class Drawn:
        layout = Layout()

    tick("moon", "pocket")
    bpy.ops.grainstack.tell_piece(piece="moon", what="gap", length=0.003, side="left")
    beside.unlink()

    class Context:
        scene = bpy.context.scene
        preferences = SimpleNamespace(system=SimpleNamespace(ui_scale=1.0))  # without a window it is 0
        region = SimpleNamespace(width=280)

    for cls in work_panels.CLASSES:
        if not hasattr(cls, "poll") or cls.poll(Context):
            cls.draw(Drawn, Context)
    assert any("moon" in said for said in Layout.said)
    assert "Batch 1 of 2" in Layout.said
