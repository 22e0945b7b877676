"""The sidebar: one tab in the 3D viewport, its panels in the order of work. Drawing only reads properties."""

from __future__ import annotations

import textwrap

import bpy

from ...core.woods.species import find_wood
from ..scene.objects import is_ours
from ..views import views
from . import fields

LEVEL_ICONS = {"error": "CANCEL", "warning": "ERROR", "note": "INFO"}


class SidebarPanel:
    """A panel in our tab."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Grainstack"


class OpenedPanel(SidebarPanel):
    """A panel that is there once a design is open."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return is_ours(context.scene)


class GRAINSTACK_PT_design(SidebarPanel, bpy.types.Panel):
    """Which design is open, or how to open one."""

    bl_label = "Design"
    bl_order = 0

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.grainstack
        if not is_ours(context.scene):
            layout.label(text="Start a panel, or open one")
            starts = layout.column(align=True)
            starts.operator("grainstack.new_panel", icon="ADD")
            starts.operator("grainstack.open_design", icon="FILE_FOLDER")
            return
        row = layout.row(align=True)
        row.operator("grainstack.new_panel", text="New")
        row.operator("grainstack.open_design", text="Open")
        row.operator("grainstack.save_design", text="Save")
        row.operator("grainstack.save_design_as", text="", icon="FILE_TICK")
        row.operator("grainstack.reload_design", text="", icon="FILE_REFRESH")
        if settings.trouble:
            trouble = layout.column(align=True)
            trouble.alert = True
            text_lines(trouble, context, settings.trouble, "CANCEL")
        facts = layout.column(align=True)
        fact(facts, "Size", settings.size_text)
        fact(facts, "Pieces", str(settings.piece_count))
        fact(facts, "Batches", str(settings.batch_count))


class GRAINSTACK_PT_view(OpenedPanel, bpy.types.Panel):
    """How to look at the panel."""

    bl_label = "View"
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.grainstack
        layout.use_property_split, layout.use_property_decorate = True, False
        choices = layout.grid_flow(row_major=True, columns=2, even_columns=True, align=True)
        choices.use_property_split = False
        for name in views.VIEWS:
            choices.prop_enum(settings, "view", name)
        view = views.VIEWS[settings.view]
        if view.lifted:
            _draw_lifts(layout, settings)
        if view.opened:
            _draw_section(layout, settings)
        if view.stepped and settings.batch_count:
            _draw_steps(layout, settings)
        layout.prop(settings, "age", slider=True)
        layout.prop(settings, "finish")
        layout.prop(settings, "eyes")
        if settings.shown != settings.view or views.marks_are_old(context.scene):
            layout.operator("grainstack.show_view")


def _draw_lifts(layout: bpy.types.UILayout, settings: bpy.types.PropertyGroup) -> None:
    layout.prop(settings, "unfolding")
    layout.prop(settings, "explosion", slider=True)
    row = layout.row(align=True)
    row.operator("grainstack.animate_assembly", icon="RENDER_ANIMATION")
    row.operator("grainstack.remove_assembly", text="", icon="X")


def _draw_section(layout: bpy.types.UILayout, settings: bpy.types.PropertyGroup) -> None:
    column = layout.column(align=True)
    column.prop(settings, "section_position")
    column.prop(settings, "section_angle")
    layout.operator("grainstack.cut_at_busiest")


def _draw_steps(layout: bpy.types.UILayout, settings: bpy.types.PropertyGroup) -> None:
    row = layout.row(align=True)
    row.prop(settings, "batch")
    row.operator("grainstack.step_batch", text="", icon="TRIA_LEFT").by = -1
    row.operator("grainstack.step_batch", text="", icon="TRIA_RIGHT").by = 1


def fact(layout: bpy.types.UILayout, label: str, value: str) -> None:
    """A line to read, in the columns of a property split."""
    row = layout.split(factor=0.4)
    name = row.row()
    name.alignment = "RIGHT"
    name.label(text=label)
    row.label(text=value, translate=False)


def wood_cautions(layout: bpy.types.UILayout, context: bpy.types.Context, wood: str) -> None:
    """What to beware of in a wood, where something is told of it or of the species that it is like."""
    record = fields.head_record(context.scene.grainstack)
    species = find_wood(wood, record.woods if record else ())
    if species is not None and species.cautions:
        text_lines(layout.column(align=True), context, species.cautions.capitalize(), "INFO")


def text_lines(column: bpy.types.UILayout, context: bpy.types.Context, text: str, icon: str) -> None:
    """Words broken into lines that the sidebar can hold."""
    letters = int((context.region.width / context.preferences.system.ui_scale - 60) / 6.5)
    column.scale_y = 0.8
    for number, line in enumerate(textwrap.wrap(text, max(letters, 12))):
        column.label(text=line, icon="BLANK1" if number else icon, translate=False)


def draw_import_entries(self: bpy.types.Menu, context: bpy.types.Context) -> None:
    """The lines in File > Import."""
    self.layout.operator("grainstack.open_design", text="Grainstack Panel (.panel.json)")
    self.layout.operator("grainstack.import_pieces", text="Grainstack Pieces (.svg)")


def draw_export_entry(self: bpy.types.Menu, context: bpy.types.Context) -> None:
    """The line in File > Export."""
    self.layout.operator("grainstack.save_design_as", text="Grainstack Panel (.panel.json)")


def draw_add_entries(self: bpy.types.Menu, context: bpy.types.Context) -> None:
    """The lines in the viewport's Add menu."""
    self.layout.separator()
    if context.scene.grainstack.document:
        self.layout.operator_menu_enum("grainstack.add_piece", "shape", text="Inlay Piece", icon="CURVE_DATA")
    else:
        self.layout.operator("grainstack.new_panel", text="Inlay Panel", icon="MESH_PLANE")


CLASSES = (
    GRAINSTACK_PT_design,
    GRAINSTACK_PT_view,
)
