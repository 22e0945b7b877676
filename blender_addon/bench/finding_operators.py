"""What the maker can do about a finding: go to its place, and take its remedy where that is one step."""

from __future__ import annotations

import math
from typing import Any

import bpy
from bpy.props import StringProperty

from ...core.errors import UnusableInput
from ...core.findings.accepted import accepting, with_entries
from ...core.findings.all_findings import tried
from ...core.findings.finding import Step
from ..designs import OpenDesign
from ..findings import finding_items, finding_places
from ..scene import conversion
from ..units import METRES
from ..views import live, views
from . import fields
from .operator_helpers import has_design, holds_design, may_change, refuse


class GRAINSTACK_OT_take_remedy(bpy.types.Operator):
    """Change the piece as the button says; this cures the finding"""

    bl_idname = "grainstack.take_remedy"
    bl_label = "Apply Fix"
    bl_options = {"UNDO", "INTERNAL"}

    finding: StringProperty(name="Finding", description="The finding to cure", options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return holds_design(cls, context) and may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        scene = context.scene
        told = next((item for item in scene.grainstack.findings if item.identity == self.finding), None)
        try:
            step = _still_told(views.design_of(scene), self.finding, told.step if told else "")
            words = told.step_words if told else ""
            take(scene, step)
        except UnusableInput as error:
            return refuse(self, error)
        self.report({"INFO"}, f"{step.piece}: {words[0].lower()}{words[1:]}")
        return {"FINISHED"}


class GRAINSTACK_OT_accept_finding(bpy.types.Operator):
    """Hide this finding but keep counting it, until it gets worse or turns up in more places"""

    bl_idname = "grainstack.accept_finding"
    bl_label = "Accept Finding"
    bl_options = {"UNDO", "INTERNAL"}

    finding: StringProperty(name="Finding", description="The finding to accept", options={"HIDDEN", "SKIP_SAVE"})
    why: StringProperty(name="Why", description="A short note on why you accept it", options={"SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return holds_design(cls, context) and may_change(cls, context)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self, width=360, confirm_text="Accept")

    def execute(self, context: bpy.types.Context) -> set[str]:
        scene = context.scene
        try:
            accept(scene, self.finding, self.why)
        except UnusableInput as error:
            return refuse(self, error)
        self.report({"INFO"}, "Accepted. It comes back if it gets worse or turns up in more places")
        return {"FINISHED"}


class GRAINSTACK_OT_show_accepted(bpy.types.Operator):
    """Show all accepted findings again"""

    bl_idname = "grainstack.show_accepted"
    bl_label = "Show Accepted Again"
    bl_options = {"UNDO", "INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return holds_design(cls, context) and may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        scene = context.scene
        head = fields.head_value(scene.grainstack)
        head.pop("accepted", None)
        fields.set_document(scene, head)
        live.bring_up_to_date(scene)
        return {"FINISHED"}


class GRAINSTACK_OT_frame_finding(bpy.types.Operator):
    """Show the place of the chosen finding in the viewport"""

    bl_idname = "grainstack.frame_finding"
    bl_label = "Show Finding"
    bl_options = {"INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not has_design(cls, context):
            return False
        if finding_items.chosen(context.scene.grainstack) < 0:
            cls.poll_message_set("Choose a finding in the list first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        settings = context.scene.grainstack
        if not finding_places.frame(context, *finding_items.place(settings)[:2]):
            self.report({"ERROR"}, "This window shows no 3D viewport. Open one")
            return {"CANCELLED"}
        return {"FINISHED"}


class GRAINSTACK_OT_next_place(bpy.types.Operator):
    """Go to the next place of the chosen finding"""

    bl_idname = "grainstack.next_place"
    bl_label = "Next Place"
    bl_options = {"INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return bool(GRAINSTACK_OT_frame_finding.poll(context))

    def execute(self, context: bpy.types.Context) -> set[str]:
        settings = context.scene.grainstack
        settings.active_finding = settings.active_finding  # chosen again
        return {"FINISHED"}


def _still_told(opened: OpenDesign, identity: str, told: str) -> Step:
    """The step that cures the finding in the design as it is now.

    Raises:
        UnusableInput: there is none, or not the one that was told.
    """
    found = next((group for name, group in finding_items.identified(opened.findings) if name == identity), None)
    good = None if found is None else tried((opened.whole or opened).stack, finding_items.to_try(found))
    if good is not None and good.step is None and told:
        problem = "tried on a copy of the design, this does not cure the finding or causes another one"
        raise UnusableInput("", "", problem, good.remedy)
    if not told or good is None or good.step is None or finding_items.step_text(good.step) != told:
        problem = "the design has changed since this was found"
        raise UnusableInput("", "", problem, "Look at the findings again, and choose one")
    return good.step


def accept(scene: bpy.types.Scene, identity: str, why: str) -> None:
    """Let the design accept a finding, with a note on why, within a step of undo.

    Raises:
        UnusableInput: there is no such finding, it is an error, or there is no note.
    """
    told = (group for name, group in finding_items.identified(views.design_of(scene).findings) if name == identity)
    group = next(told, None)
    if group is None:
        problem = "the design has changed since this was found"
        raise UnusableInput("", "", problem, "Look at the findings again, and choose one")
    if group.level == "error":
        raise UnusableInput("", "", "an error cannot be accepted", "Mend it: the panel cannot be made like this")
    if not why.strip():
        raise UnusableInput("", "Why", "there is no note", "Write a short note on why you accept it")
    entries = accepting(group.findings, why.strip())
    fields.set_document(scene, with_entries(fields.head_value(scene.grainstack), entries))
    live.bring_up_to_date(scene)


def take(scene: bpy.types.Scene, step: Step) -> None:
    """Change the design by one step, within a step of undo.

    Raises:
        UnusableInput: the piece cannot be changed so; nothing is changed then.
    """
    items = conversion.piece_objects(scene)
    item = dict(zip(conversion.ids_of(items), items, strict=True))[step.piece]
    if item.library is not None or item.override_library is not None:
        raise _refusal(step, "it is linked from another file", "Change it there")
    before = item.grainstack.entry, item.location.copy(), item.scale.copy()
    try:
        fields.set_entry(item, **{step.key: _value(step)})
        if step.key == "at":
            _move(item, step)
        if step.key == "scale":
            _grow(item, step)
        live.bring_up_to_date(scene)
    except UnusableInput:
        item.grainstack.entry, item.location, item.scale = before
        raise


def _value(step: Step) -> Any:
    """The step's value as the design file writes it: the file says 14, not 14.0."""
    values = step.value if isinstance(step.value, tuple) else (step.value,)
    plain = [int(value) if isinstance(value, float) and value.is_integer() else value for value in values]
    return plain if isinstance(step.value, tuple) else plain[0]


def _move(item: bpy.types.Object, step: Step) -> None:
    """The outline itself, since what Blender says of its place counts."""
    _refuse_if_held(item, step, "Move")
    assert isinstance(step.value, tuple)
    item.location.x, item.location.y = (float(value) * METRES for value in step.value)


def _grow(item: bpy.types.Object, step: Step) -> None:
    """The outline itself, mirrored or not as it was."""
    _refuse_if_held(item, step, "Scale")
    assert isinstance(step.value, float)
    scale = step.value
    item.scale = (math.copysign(scale, item.scale.x), scale, scale)


def _refuse_if_held(item: bpy.types.Object, step: Step, verb: str) -> None:
    deltas = any(item.delta_location) or tuple(item.delta_scale) != (1, 1, 1)
    if item.parent is not None or item.constraints or deltas:
        raise _refusal(step, "a parent or a constraint holds it", f"{verb} it by hand, or clear what holds it")


def _refusal(step: Step, problem: str, remedy: str) -> UnusableInput:
    return UnusableInput("", f'piece "{step.piece}"', problem, remedy)


CLASSES = (
    GRAINSTACK_OT_take_remedy,
    GRAINSTACK_OT_accept_finding,
    GRAINSTACK_OT_show_accepted,
    GRAINSTACK_OT_frame_finding,
    GRAINSTACK_OT_next_place,
)
