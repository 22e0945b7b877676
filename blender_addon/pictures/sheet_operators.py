"""The bench sheet, written from the sidebar.

A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

from pathlib import Path

import bpy
from bpy.props import EnumProperty

from ...core.errors import UnusableInput
from ..bench.operator_helpers import has_design, may_change, progress, refuse
from ..views import views
from .picture_operators import PAPERS, design_name, folder_named, folder_of

ENDING = "-sheet"
"""The sheet goes into a folder of its own, named for the design."""


def rendered(scene: bpy.types.Scene) -> Path | None:
    """The picture of the finished view, where it was rendered after the design was saved."""
    from ...core.sheet.cover import picture_there
    from ..scene import conversion

    return picture_there(folder_of(scene), design_name(scene), conversion.path_of(scene))


class GRAINSTACK_OT_write_sheet(bpy.types.Operator):
    """Write what to do at the bench, batch by batch, to print and for a tablet, and the list of wood to buy"""

    bl_idname = "grainstack.write_sheet"
    bl_label = "Write Bench Sheet"
    bl_options = {"REGISTER"}

    paper: EnumProperty(name="Paper", description="The paper to print on", items=PAPERS, default="a4")
    units: EnumProperty(
        name="Units",
        description="How lengths are written",
        items=(
            ("both", "Both", "Write millimetres and inches, inches to the nearest 64th"),
            ("mm", "Millimetres", "Write only millimetres"),
            ("inch", "Inches", "Write only inches: the nearest 64th, then the thousandths to add or take off"),
        ),
        default="both",
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context) and may_change(cls, context)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self, width=320)

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.prop(self, "paper")
        layout.prop(self, "units")

    def execute(self, context: bpy.types.Context) -> set[str]:
        # Heavy, and else loaded whenever Blender starts.
        from ...core.sheet.write import SheetChoices, write_sheet

        try:
            folder = folder_named(context.scene, ENDING)
            opened = views.design_of(context.scene)
            choices = SheetChoices(self.paper, self.units, rendered(context.scene))
            with progress(context, 4) as show:
                made = write_sheet(opened.stack, folder, choices, findings=opened.findings, progress=show)
        except UnusableInput as error:
            return refuse(self, error)
        self.report({"INFO"}, f"Saved {made}")
        return {"FINISHED"}


class GRAINSTACK_OT_open_sheet(bpy.types.Operator):
    """Open the bench sheet in your browser, with boxes to tick and the blanks laid out on your boards"""

    bl_idname = "grainstack.open_sheet"
    bl_label = "Open Bench Sheet"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            page = folder_named(context.scene, ENDING) / f"{design_name(context.scene)}-sheet.html"
        except UnusableInput as error:
            return refuse(self, error)
        if not page.is_file():
            self.report({"ERROR"}, f"There is no {page.name} yet. Write the bench sheet first")
            return {"CANCELLED"}
        bpy.ops.wm.url_open(url=page.as_uri())
        return {"FINISHED"}


CLASSES = (GRAINSTACK_OT_write_sheet, GRAINSTACK_OT_open_sheet)
