"""The part of the sidebar for the bench: the sheet is written here, ticks are shown and set. Drawing reads no file."""

from __future__ import annotations

import bpy

from ...core.sheet.contents import STEPS
from ..bench.sidebar import LEVEL_ICONS, OpenedPanel, text_lines
from ..scene.objects import is_ours
from ..views import work_overlay
from . import work_state
from .work_state import Kept, Work

MOST_PROBLEMS = 6
SHORT = {"pocket": "Pocket", "insert": "Insert", "fit": "Fit", "glued": "Glued"}
"""The steps as heads of narrow columns."""
assert list(SHORT) == list(STEPS)


def _looked_at(context: bpy.types.Context) -> Work | None:
    """What the maker has had read of the open design's ticks, if anything."""
    return work_state.of(context.scene) if is_ours(context.scene) else None


class GRAINSTACK_PT_work(OpenedPanel, bpy.types.Panel):
    """The bench sheet, and how far along the work is."""

    bl_label = "At the Bench"
    bl_order = 11
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        row = layout.row(align=True)
        row.operator("grainstack.write_sheet", icon="EXPORT")
        row.operator("grainstack.open_sheet", text="", icon="URL")
        work = work_state.of(context.scene)
        if work is None:
            layout.operator("grainstack.look_at_work", icon="FILE_REFRESH")
            return
        row = layout.row(align=True)
        row.operator("grainstack.look_at_work", text="Refresh", icon="FILE_REFRESH")
        shown = work_overlay.Shown.on
        row.operator("grainstack.show_standing", text="Mark", icon="HIDE_OFF", depress=shown).hide = shown
        facts = layout.column(align=True)
        text_lines(facts, context, work.along.words, "CHECKMARK")
        text_lines(facts, context, f"Next: {work.along.next_words}", "FORWARD")


class GRAINSTACK_PT_work_problems(OpenedPanel, bpy.types.Panel):
    """What came out different from the design, or was changed after it was cut, and how to mend it."""

    bl_label = "Differs from the Design"
    bl_parent_id = "GRAINSTACK_PT_work"
    bl_order = 0

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        work = _looked_at(context)
        return work is not None and bool(work.problems)

    def draw(self, context: bpy.types.Context) -> None:
        work = work_state.of(context.scene)
        assert work is not None
        for problem in work.problems[:MOST_PROBLEMS]:
            column = self.layout.column(align=True)
            text_lines(column, context, problem.finding.text, LEVEL_ICONS[problem.finding.level])
            offers = self.layout.column(align=True)
            for repair in problem.repairs:
                if repair.steps or repair.piece:
                    offers.operator("grainstack.take_repair", text=repair.words, translate=False).words = repair.words
                else:
                    text_lines(offers, context, repair.words, "BLANK1")
            if not problem.repairs:
                text_lines(offers, context, problem.finding.remedy, "BLANK1")
        more = len(work.problems) - MOST_PROBLEMS
        if more > 0:
            self.layout.label(text=f"and {more} more on the bench sheet", translate=False)


class GRAINSTACK_PT_work_ticks(OpenedPanel, bpy.types.Panel):
    """What has been done on each piece of a batch."""

    bl_label = "Pieces"
    bl_parent_id = "GRAINSTACK_PT_work"
    bl_order = 1

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        work = _looked_at(context)
        return work is not None and bool(work.plan.batches)

    def draw(self, context: bpy.types.Context) -> None:
        work = work_state.of(context.scene)
        assert work is not None
        batches = work.plan.batches
        number = min(Kept.batch, len(batches))
        row = self.layout.row(align=True)
        row.label(text=f"Batch {number} of {len(batches)}", translate=False)
        row.operator("grainstack.step_work", text="", icon="TRIA_LEFT").by = -1
        row.operator("grainstack.step_work", text="", icon="TRIA_RIGHT").by = 1
        table = self.layout.column(align=True)
        heads = _row(table)
        heads[0].label(text="")
        for step in STEPS:
            heads[1].label(text=SHORT[step])
        heads[1].label(text="", icon="BLANK1")
        for piece in batches[number - 1].pieces:
            _piece(table, work, f"{piece.number} {piece.id}", piece.id)


def _row(table: bpy.types.UILayout) -> tuple[bpy.types.UILayout, bpy.types.UILayout]:
    split = table.split(factor=0.36, align=True)
    return split.row(align=True), split.row(align=True)


def _piece(table: bpy.types.UILayout, work: Work, words: str, name: str) -> None:
    left, right = _row(table)
    told = work.bench.pieces[name].told if name in work.bench.pieces else ()
    left.label(text=words, icon="ERROR" if told else "NONE", translate=False)
    done = work.done.get(name, ())
    for step in STEPS:
        icon = "CHECKBOX_HLT" if step in done else "CHECKBOX_DEHLT"
        tick = right.operator("grainstack.tick_piece", text="", icon=icon, emboss=False)
        tick.piece, tick.step = name, step
    if told:
        right.operator("grainstack.take_back", text="", icon="LOOP_BACK").piece = name
    else:
        right.operator("grainstack.tell_piece", text="", icon="GREASEPENCIL").piece = name


class GRAINSTACK_PT_work_shared(OpenedPanel, bpy.types.Panel):
    """What has been done on the panel as a whole."""

    bl_label = "Whole Panel"
    bl_parent_id = "GRAINSTACK_PT_work"
    bl_order = 2
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _looked_at(context) is not None

    def draw(self, context: bpy.types.Context) -> None:
        work = work_state.of(context.scene)
        assert work is not None
        column = self.layout.column(align=True)
        column.alignment = "LEFT"
        for job, done in work.shared:
            icon = "CHECKBOX_HLT" if done else "CHECKBOX_DEHLT"
            row = column.row(align=True)
            row.alignment = "LEFT"
            row.operator(
                "grainstack.tick_shared", text=job.words, icon=icon, emboss=False, translate=False
            ).key = job.key


CLASSES = (
    GRAINSTACK_PT_work,
    GRAINSTACK_PT_work_problems,
    GRAINSTACK_PT_work_ticks,
    GRAINSTACK_PT_work_shared,
)
