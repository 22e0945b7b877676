"""Ticks of the work at the bench, set from the sidebar.

None of these takes part in Blender's undo: what is cut stays cut. Only taking a repair changes the design, and that can
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
    """Read the ticks beside the design, and work out what can be done next and what came out otherwise"""

    bl_idname = "grainstack.look_at_work"
    bl_label = "Show the Work"
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
        wrong = f". {len(work.problems)} things differ from the design" if work.problems else ""
        self.report({"INFO"}, f"{work.along.words}{wrong}")
        return {"FINISHED"}


class GRAINSTACK_OT_tick_piece(bpy.types.Operator):
    """Tick this step of the piece, or untick it; undo does not"""

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
    """Tick this work on the whole panel, or untick it; undo does not"""

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
    """Tell what came out otherwise than planned, so that the findings follow"""

    bl_idname = "grainstack.tell_piece"
    bl_label = "Tell What Happened"
    bl_options = {"INTERNAL"}

    piece: StringProperty(name="Piece", description="The piece", **NAME)
    what: EnumProperty(
        name="What",
        description="What came out otherwise",
        items=(
            ("depth", "Pocket Depth", "The pocket was cut to another depth"),
            ("thickness", "Insert Thickness", "The insert was cut to another thickness"),
            ("broke-back", "Broke, Glued Back", "It broke and was glued back, nothing lost"),
            ("broke-lost", "Broke, Part Lost", "It broke and a part is lost"),
            ("gap", "Gap", "There is a gap beside the insert"),
        ),
        default="depth",
    )
    length: FloatProperty(
        name="Length",
        description="The depth, thickness or width of the gap",
        default=0.005,
        min=0.0001,
        max=1.0,
        **LENGTH,
    )
    side: EnumProperty(
        name="Side",
        description="Where the gap is, seen from the face",
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
    """Take back all that was told of the piece"""

    bl_idname = "grainstack.take_back"
    bl_label = "Take Back"
    bl_options = {"INTERNAL"}

    piece: StringProperty(name="Piece", description="The piece", **NAME)

    def execute(self, context: bpy.types.Context) -> set[str]:
        return changed(self, context, lambda work: without_news(work.bench, self.piece))


class GRAINSTACK_OT_step_work(bpy.types.Operator):
    """List the pieces of the batch before or after this one"""

    bl_idname = "grainstack.step_work"
    bl_label = "Step Through Batches"
    bl_options = {"INTERNAL"}

    by: IntProperty(name="Steps", description="How many batches further", default=1)

    def execute(self, context: bpy.types.Context) -> set[str]:
        work = work_state.of(context.scene)
        Kept.batch = min(max(Kept.batch + self.by, 1), len(work.plan.batches) if work else 1)
        redraw(context)
        return {"FINISHED"}


class GRAINSTACK_OT_show_standing(bpy.types.Operator):
    """Mark in the viewport what is glued in, and hatch the pockets that stand open"""

    bl_idname = "grainstack.show_standing"
    bl_label = "Mark What Is Done"
    bl_options = {"REGISTER"}

    hide: BoolProperty(name="Hide", description="Mark nothing any more", default=False, options={"SKIP_SAVE"})

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
    """Change the design as the button says"""

    bl_idname = "grainstack.take_repair"
    bl_label = "Take Repair"
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
                raise UnusableInput("", "", problem, "Show the work again, and choose anew")
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
