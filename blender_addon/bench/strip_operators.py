"""What the maker can do with the background's strips; it always fills the panel.

A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

from typing import Any

import bpy
from bpy.props import EnumProperty, IntProperty

from ...core.design_file import background_strips
from ...core.errors import UnusableInput
from . import fields
from .fields import wood_choice
from .operator_helpers import follow_up, holds_design, may_change, refuse

Panel = dict[str, Any]


class StripOperator(bpy.types.Operator):
    """Works on the active strip."""

    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return holds_design(cls, context) and may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        scene = context.scene
        settings = scene.grainstack
        before = settings.active_strip
        try:
            fields.set_panel(scene, self.work(fields.panel_of(scene), settings))
        except UnusableInput as error:
            settings.active_strip = before
            return refuse(self, error)
        return follow_up(self, scene, f"The background has {len(settings.strips)} strips")


class GRAINSTACK_OT_add_strip(StripOperator):
    """Add a strip after the active one; each gets half of its width"""

    bl_idname = "grainstack.add_strip"
    bl_label = "Add Strip"

    wood: wood_choice("Wood", "The wood of the new strip", "cherry")

    def work(self, panel: Panel, settings: Any) -> Panel:
        return background_strips.add_strip(panel, settings.active_strip, self.wood)


class GRAINSTACK_OT_remove_strip(StripOperator):
    """Remove the active strip; its neighbour takes its width"""

    bl_idname = "grainstack.remove_strip"
    bl_label = "Remove Strip"

    def work(self, panel: Panel, settings: Any) -> Panel:
        return background_strips.remove_strip(panel, settings.active_strip)


class GRAINSTACK_OT_move_strip(StripOperator):
    """Swap the active strip with its neighbour"""

    bl_idname = "grainstack.move_strip"
    bl_label = "Move Strip"

    step: EnumProperty(
        name="Direction",
        description="Which neighbour to swap it with",
        items=(
            ("-1", "Back", "The one to the left, or below", 0),
            ("1", "Forward", "The one to the right, or above", 1),
        ),
    )

    def work(self, panel: Panel, settings: Any) -> Panel:
        there = settings.active_strip + int(self.step)
        if not 0 <= there < len(settings.strips):
            raise UnusableInput("", "panel", "the strip lies at the panel's edge already", "Move it the other way")
        made = background_strips.move_strip(panel, settings.active_strip, int(self.step))
        settings.active_strip = there
        return made


class GRAINSTACK_OT_split_strip(StripOperator):
    """Divide the active strip into several segments, glued end to end"""

    bl_idname = "grainstack.split_strip"
    bl_label = "Split Strip"

    count: IntProperty(name="Segments", description="How many segments of equal length", default=2, min=1, max=200)
    wood: wood_choice("Wood", "Wood of the first segment and every other one after it", "black walnut")
    second_wood: wood_choice("Second Wood", "Wood of the segments between them", "cherry")

    def work(self, panel: Panel, settings: Any) -> Panel:
        return background_strips.split_strip(panel, settings.active_strip, self.count, [self.wood, self.second_wood])


class GRAINSTACK_OT_add_segment(StripOperator):
    """Add a segment after the active one; each gets half of its length"""

    bl_idname = "grainstack.add_segment"
    bl_label = "Add Segment"

    wood: wood_choice("Wood", "The wood of the new segment", "cherry")

    def work(self, panel: Panel, settings: Any) -> Panel:
        strip = settings.strips[settings.active_strip]
        return background_strips.add_segment(panel, settings.active_strip, strip.active_segment, self.wood)


class GRAINSTACK_OT_remove_segment(StripOperator):
    """Remove the active segment; its neighbour takes its length"""

    bl_idname = "grainstack.remove_segment"
    bl_label = "Remove Segment"

    def work(self, panel: Panel, settings: Any) -> Panel:
        strip = settings.strips[settings.active_strip]
        return background_strips.remove_segment(panel, settings.active_strip, strip.active_segment)


class GRAINSTACK_OT_repeat_strips(StripOperator):
    """Repeat a group of strips. They get narrower, so that all copies together fit in the width of the group now"""

    bl_idname = "grainstack.repeat_strips"
    bl_label = "Repeat Strips"

    strip_count: IntProperty(
        name="Strips", description="How many strips make up the group, from the active one on", default=2, min=1
    )
    times: IntProperty(name="Times", description="How many times the group occurs then", default=2, min=2, max=100)

    def work(self, panel: Panel, settings: Any) -> Panel:
        first = settings.active_strip
        last = min(first + self.strip_count, len(settings.strips)) - 1
        return background_strips.repeat_strips(panel, first, last, self.times)


class GRAINSTACK_OT_swap_woods(StripOperator):
    """Swap two woods all over the background"""

    bl_idname = "grainstack.swap_woods"
    bl_label = "Swap Woods"

    one: wood_choice("Wood", "One of the two woods", "")
    other: wood_choice("Other Wood", "The wood to put in its place, and the other way round", "")

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        woods = background_strips.woods_of(fields.panel_of(context.scene))
        self.one, self.other = woods[0], woods[-1]
        return context.window_manager.invoke_props_dialog(self)

    def work(self, panel: Panel, settings: Any) -> Panel:
        woods = background_strips.woods_of(panel)
        if self.one not in woods and self.other not in woods:
            raise UnusableInput("", "panel", "the background has neither of the two woods", "Choose one that it has")
        if not self.one or not self.other:
            raise UnusableInput("", "panel", "only one wood is chosen", "Choose two")
        return background_strips.swap_woods(panel, self.one, self.other)


CLASSES = (
    GRAINSTACK_OT_add_strip,
    GRAINSTACK_OT_remove_strip,
    GRAINSTACK_OT_move_strip,
    GRAINSTACK_OT_split_strip,
    GRAINSTACK_OT_add_segment,
    GRAINSTACK_OT_remove_segment,
    GRAINSTACK_OT_repeat_strips,
    GRAINSTACK_OT_swap_woods,
)
