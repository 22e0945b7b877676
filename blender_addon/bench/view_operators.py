"""What the maker can do to a view: step through the batches, cut elsewhere, animate the assembly.

A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

from typing import Literal

import bpy
from bpy.props import FloatProperty, IntProperty

from ...core.errors import UnusableInput
from .. import versions
from ..scene import section_plane
from ..views import views
from .operator_helpers import has_design, may_change, refuse

EXPLOSION = "grainstack.explosion"
"""The slider that an assembly's keyframes move, as a path from the scene."""


class GRAINSTACK_OT_step_batch(bpy.types.Operator):
    """Show the panel as it stands one batch earlier or later"""

    bl_idname = "grainstack.step_batch"
    bl_label = "Step Through Batches"
    bl_options = {"REGISTER", "UNDO"}

    by: IntProperty(name="By", description="How many batches to step forward; a negative number steps back", default=1)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context) and may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        settings = context.scene.grainstack
        batch = min(max(settings.batch + self.by, 0), settings.batch_count)
        if batch == settings.batch:
            self.report({"INFO"}, "All batches are glued in" if self.by > 0 else "This is the bare background")
            return {"CANCELLED"}
        settings.batch = batch
        return {"FINISHED"}


class GRAINSTACK_OT_cut_at_busiest(bpy.types.Operator):
    """Move the section plane to where it shows most of the deepest overlaps; it stays there until you move it"""

    bl_idname = "grainstack.cut_at_busiest"
    bl_label = "Find Busiest Cut"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not (has_design(cls, context) and may_change(cls, context)):
            return False
        item = section_plane.plane_of(context.scene)
        if item is not None and section_plane.is_automatic(item):
            cls.poll_message_set("The section plane lies at the busiest place already")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        scene = context.scene
        try:
            opened = views.design_of(scene)
            section_plane.aim(scene, opened, anyway=True)
            if views.VIEWS[scene.grainstack.view].opened:
                views.show(scene, opened, views.VIEWS[scene.grainstack.view])
        except UnusableInput as error:
            return refuse(self, error)
        return {"FINISHED"}


class GRAINSTACK_OT_animate_assembly(bpy.types.Operator):
    """Animate how the panel goes together, with keyframes on the Spread slider; this sets the frame range"""

    bl_idname = "grainstack.animate_assembly"
    bl_label = "Animate Assembly"
    bl_options = {"REGISTER", "UNDO"}

    seconds: FloatProperty(
        name="Duration", description="How long the assembly takes", default=12, min=1, soft_max=60, max=600,
        subtype="TIME_ABSOLUTE",
    )  # fmt: skip
    hold: FloatProperty(
        name="Hold", description="How long it pauses at the start (spread) and at the end (assembled)", default=1,
        min=0, soft_max=10, max=60, subtype="TIME_ABSOLUTE",
    )  # fmt: skip

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context) and may_change(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self)

    def execute(self, context: bpy.types.Context) -> set[str]:
        scene = context.scene
        if not scene.grainstack.piece_count:
            self.report({"ERROR"}, "The panel has no pieces yet. Add one first")
            return {"CANCELLED"}
        rate = scene.render.fps / scene.render.fps_base
        hold, length = round(self.hold * rate), max(round(self.seconds * rate), 1)
        first = 1 + hold
        versions.remove_fcurve(scene, EXPLOSION)
        for frame, explosion in ((first, 1.0), (first + length, 0.0)):
            scene.grainstack.explosion = explosion
            scene.keyframe_insert(EXPLOSION, frame=frame)
        smooth: Literal["LINEAR", "BEZIER"] = "BEZIER" if scene.grainstack.unfolding == "together" else "LINEAR"
        curve = versions.fcurve(scene, EXPLOSION)
        assert curve is not None, "keyframes were just inserted"
        for point in curve.keyframe_points:
            point.interpolation = smooth
        scene.frame_start, scene.frame_end = 1, first + length + hold
        scene.frame_set(1)
        self.report({"INFO"}, f"The assembly takes frames {first} to {first + length}")
        return {"FINISHED"}


class GRAINSTACK_OT_remove_assembly(bpy.types.Operator):
    """Remove the keyframes from the Spread slider"""

    bl_idname = "grainstack.remove_assembly"
    bl_label = "Remove Assembly Animation"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not has_design(cls, context):
            return False
        if versions.fcurve(context.scene, EXPLOSION) is None:
            cls.poll_message_set("Animate the assembly first")
            return False
        return may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        versions.remove_fcurve(context.scene, EXPLOSION)
        context.scene.grainstack.explosion = 1.0
        return {"FINISHED"}


CLASSES = (
    GRAINSTACK_OT_step_batch,
    GRAINSTACK_OT_cut_at_busiest,
    GRAINSTACK_OT_animate_assembly,
    GRAINSTACK_OT_remove_assembly,
)
