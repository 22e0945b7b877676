"""Ticks of the work at the bench, set from the sidebar.

None of these takes part in Blender's undo: what is cut stays cut. Only a repair changes the design, and that can
be undone. A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

from collections.abc import Callable

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, IntProperty, StringProperty

from ...core.errors import UnusableInput
from ...core.sheet.as_it_stands import standing_segments
from ...core.sheet.told import Told
from ...core.sheet.tracking import Bench, shared_ticked, ticked, with_news, without_news
from ..bench.finding_operators import take
from ..bench.operator_helpers import LENGTH, follow_up, has_design, holds_design, may_change, mm, redraw, refuse
from ..bench.piece_operators import put
from ..views import work_overlay
from . import work_state
from .work_state import Kept, Work

NAME = {"options": {"HIDDEN", "SKIP_SAVE"}}


def changed(operator: bpy.types.Operator, context: bpy.types.Context, change: Callable[[Work], Bench]) -> set[str]:
    """Change the tracking file as it lies there now, and show what it says then."""
    try:
        work = work_state.look(context.scene)
        work = work_state.write(context.scene, work, change(work))
    except UnusableInput as error:
        return refuse(operator, error)
    if work_overlay.Shown.on:
        _mark(work)
    redraw(context)
    return {"FINISHED"}


def _mark(work: Work) -> None:
    """Show in the viewport what is glued in and what stands open."""
    work_overlay.show(work.fingerprint, standing_segments(work.plan, work.bench))


class GRAINSTACK_OT_look_at_work(bpy.types.Operator):
    """Read the ticks saved beside the design, and show what is done, what comes next and what differs from it"""

    bl_idname = "grainstack.look_at_work"
    bl_label = "Show Progress"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            work = work_state.look(context.scene)
        except UnusableInput as error:
            return refuse(self, error)
        redraw(context)
        count = len(work.problems)
        differ = "1 thing differs" if count == 1 else f"{count} things differ"
        wrong = f". {differ} from the design" if count else ""
        self.report({"INFO"}, f"{work.along.words}{wrong}")
        return {"FINISHED"}


class GRAINSTACK_OT_tick_piece(bpy.types.Operator):
    """Tick this step of the piece, or take the tick off; Ctrl Z does not change ticks"""

    bl_idname = "grainstack.tick_piece"
    bl_label = "Tick Step"
    bl_options = {"INTERNAL"}

    piece: StringProperty(name="Piece", description="The piece", **NAME)
    step: StringProperty(name="Step", description="What was done", **NAME)

    def execute(self, context: bpy.types.Context) -> set[str]:
        def change(work: Work) -> Bench:
            on = self.step not in work.done.get(self.piece, ())
            return ticked(work.bench, work_state.piece_of(work, self.piece), self.step, on)

        return changed(self, context, change)


class GRAINSTACK_OT_tick_shared(bpy.types.Operator):
    """Tick this work on the whole panel, or take the tick off; Ctrl Z does not change ticks"""

    bl_idname = "grainstack.tick_shared"
    bl_label = "Tick Work"
    bl_options = {"INTERNAL"}

    key: StringProperty(name="Work", description="What was done", **NAME)

    def execute(self, context: bpy.types.Context) -> set[str]:
        def change(work: Work) -> Bench:
            on = not any(job.key == self.key and done for job, done in work.shared)
            return shared_ticked(work.bench, work.plan, self.key, on)

        return changed(self, context, change)


class GRAINSTACK_OT_tell_piece(bpy.types.Operator):
    """Enter what came out different from the plan; the findings are updated"""

    bl_idname = "grainstack.tell_piece"
    bl_label = "Report a Change"
    bl_options = {"INTERNAL"}

    piece: StringProperty(name="Piece", description="The piece", **NAME)
    what: EnumProperty(
        name="What",
        description="What came out different from the plan",
        items=(
            ("depth", "Pocket Depth", "The pocket came out deeper or shallower than planned"),
            ("thickness", "Insert Thickness", "The insert came out thicker or thinner than planned"),
            ("broke-back", "Broke, Glued Back", "It broke and was glued back, with nothing missing"),
            ("broke-lost", "Broke, Part Lost", "It broke and a part is missing"),
            ("gap", "Gap", "There is a gap beside the insert"),
        ),
        default="depth",
    )
    length: FloatProperty(
        name="Measured",
        description="What you measured: how deep the pocket is, how thick the insert is, or how wide the gap is",
        default=0.005,
        min=0.0001,
        max=1.0,
        **LENGTH,
    )
    side: EnumProperty(
        name="Side",
        description="On which side of the insert the gap is, seen from the face",
        items=(
            ("left", "Left", "On the left"),
            ("right", "Right", "On the right"),
            ("top", "Top", "At the top"),
            ("bottom", "Bottom", "At the bottom"),
        ),
        default="left",
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self, width=320)

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.prop(self, "what")
        if not self.what.startswith("broke"):
            layout.prop(self, "length")
        if self.what == "gap":
            layout.prop(self, "side")

    def execute(self, context: bpy.types.Context) -> set[str]:
        if self.what.startswith("broke"):
            told = Told("broke", glued_back=self.what == "broke-back")
        else:
            told = Told(self.what, mm(self.length), self.side if self.what == "gap" else None)

        def change(work: Work) -> Bench:
            return with_news(work.bench, work_state.piece_of(work, self.piece), told)

        return changed(self, context, change)


class GRAINSTACK_OT_take_back(bpy.types.Operator):
    """Delete everything that you reported about this piece"""

    bl_idname = "grainstack.take_back"
    bl_label = "Delete Reports"
    bl_options = {"INTERNAL"}

    piece: StringProperty(name="Piece", description="The piece", **NAME)

    def execute(self, context: bpy.types.Context) -> set[str]:
        return changed(self, context, lambda work: without_news(work.bench, self.piece))


class GRAINSTACK_OT_step_work(bpy.types.Operator):
    """List the pieces of the batch before or after this one"""

    bl_idname = "grainstack.step_work"
    bl_label = "Step Through Batches"
    bl_options = {"INTERNAL"}

    by: IntProperty(
        name="Steps", description="How many batches to step forward; a negative number steps back", default=1
    )

    def execute(self, context: bpy.types.Context) -> set[str]:
        work = work_state.of(context.scene)
        Kept.batch = min(max(Kept.batch + self.by, 1), len(work.plan.batches) if work else 1)
        redraw(context)
        return {"FINISHED"}


class GRAINSTACK_OT_show_standing(bpy.types.Operator):
    """Mark in the viewport what is glued in, and hatch the pockets that are cut and still empty"""

    bl_idname = "grainstack.show_standing"
    bl_label = "Mark What Is Done"
    bl_options = {"REGISTER"}

    hide: BoolProperty(name="Hide", description="Remove the marks", default=False, options={"SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        if self.hide:
            work_overlay.hide()
        else:
            try:
                _mark(work_state.look(context.scene))
            except UnusableInput as error:
                return refuse(self, error)
        redraw(context)
        return {"FINISHED"}


class GRAINSTACK_OT_take_repair(bpy.types.Operator):
    """Change the design as the button says; Ctrl Z takes that back"""

    bl_idname = "grainstack.take_repair"
    bl_label = "Apply Repair"
    bl_options = {"UNDO", "INTERNAL"}

    words: StringProperty(name="Repair", description="The repair, in its words", **NAME)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return holds_design(cls, context) and may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            work = work_state.look(context.scene)
            offered = (repair for problem in work.problems for repair in problem.repairs)
            repair = next((each for each in offered if each.words == self.words), None)
            if repair is None or not (repair.steps or repair.piece):
                problem = "the work or the design has changed since this was offered"
                raise UnusableInput("", "", problem, "Press Show Progress or Refresh, and choose again")
            for step in repair.steps:
                take(context.scene, step)
            if repair.piece is not None:
                put(context, [dict(repair.piece)])
        except UnusableInput as error:
            return refuse(self, error)
        return follow_up(self, context.scene, repair.words)


CLASSES = (
    GRAINSTACK_OT_look_at_work,
    GRAINSTACK_OT_tick_piece,
    GRAINSTACK_OT_tick_shared,
    GRAINSTACK_OT_tell_piece,
    GRAINSTACK_OT_take_back,
    GRAINSTACK_OT_step_work,
    GRAINSTACK_OT_show_standing,
    GRAINSTACK_OT_take_repair,
)
