"""The sidebar's panels in which a design is made: its background, its pieces, the workshop. Drawing only reads."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

import bpy

from . import panel_fields
from .sidebar import SidebarPanel, wood_cautions

WIDE = 300
"""Pixels at a scale of 1: a sidebar narrower than that has room for the pieces' names alone."""


class BenchPanel(SidebarPanel):
    """A panel that is there once the scene holds a design."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return bool(context.scene.grainstack.document)


class GRAINSTACK_UL_strips(bpy.types.UIList):
    """The strips, from the left or from the bottom."""

    def draw_item(
        self,
        context: bpy.types.Context,
        layout: bpy.types.UILayout,
        data: Any,
        item: Any,
        icon: int,
        active_data: Any,
        active_property: str,
        index: int = 0,
        flt_flag: int = 0,
    ) -> None:
        row = layout.row(align=True)
        if len(item.segments) > 1:
            row.label(text=", ".join(dict.fromkeys(part.wood for part in item.segments)), translate=False)
        else:
            row.label(text=item.wood, translate=False)
        row.prop(item, "width", text="", emboss=False)


class GRAINSTACK_UL_segments(bpy.types.UIList):
    """The segments of a strip, from the bottom or from the left."""

    def draw_item(
        self,
        context: bpy.types.Context,
        layout: bpy.types.UILayout,
        data: Any,
        item: Any,
        icon: int,
        active_data: Any,
        active_property: str,
        index: int = 0,
        flt_flag: int = 0,
    ) -> None:
        row = layout.row(align=True)
        row.label(text=item.wood, translate=False)
        row.prop(item, "length", text="", emboss=False)


class GRAINSTACK_UL_pieces(bpy.types.UIList):
    """The scene's pieces in order, back to front, each after the number of its batch."""

    def draw_item(
        self,
        context: bpy.types.Context,
        layout: bpy.types.UILayout,
        data: Any,
        item: Any,
        icon: int,
        active_data: Any,
        active_property: str,
        index: int = 0,
        flt_flag: int = 0,
    ) -> None:
        mark = item.grainstack
        line = layout.row(align=True)
        number = line.row()
        number.ui_units_x = 0.7
        number.label(text=str(mark.batch or "–"), translate=False)
        line.prop(mark, "name_id", text="", emboss=False)
        if context.region.width >= WIDE * context.preferences.system.ui_scale:
            line.label(text=mark.wood, translate=False)
        row = line.row(align=True)
        row.prop(item, "hide_select", text="", emboss=False)
        row.prop(item, "hide_viewport", text="", emboss=False)

    def filter_items(self, context: bpy.types.Context, data: Any, property: str) -> tuple[list[int], list[int]]:
        items = getattr(data, property)
        typed = self.filter_name.casefold()
        shown = [
            self.bitflag_filter_item
            if item.grainstack.kind == "outline" and typed in item.grainstack.id.casefold()
            else 0
            for item in items
        ]
        marks = [item.grainstack for item in items]
        ranked = sorted(range(len(marks)), key=lambda i: (marks[i].kind != "outline", marks[i].order))
        places = [0] * len(marks)
        for place, index in enumerate(ranked):
            places[index] = place
        return shown, places


class GRAINSTACK_PT_background(BenchPanel, bpy.types.Panel):
    """The panel's size and the strips of its background."""

    bl_label = "Panel"
    bl_order = 3
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.grainstack
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.prop(settings, "design_title")
        size = layout.column(align=True)
        for key in ("width", "height", "thickness"):
            size.prop(settings, f"panel_{key}")
        layout.prop(settings, "panel_face_trim")


class GRAINSTACK_PT_edges(BenchPanel, bpy.types.Panel):
    """What is taken off each edge."""

    bl_label = "Edge Trim"
    bl_parent_id = "GRAINSTACK_PT_background"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split, layout.use_property_decorate = True, False
        edges = layout.column(align=True)
        for index, name in enumerate(("Left", "Right", "Bottom", "Top")):
            edges.prop(context.scene.grainstack, "edge_trim", index=index, text=name)


class GRAINSTACK_PT_strips(BenchPanel, bpy.types.Panel):
    """The strips of the background."""

    bl_label = "Strips"
    bl_order = 4
    bl_options = {"DEFAULT_CLOSED"}  # a new panel has its strips; its pieces come into sight

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.grainstack
        row = layout.row()
        row.template_list(
            "GRAINSTACK_UL_strips", "", settings, "strips", settings, "active_strip", rows=4, sort_lock=True
        )
        buttons = row.column(align=True)
        buttons.operator("grainstack.add_strip", text="", icon="ADD")
        buttons.operator("grainstack.remove_strip", text="", icon="REMOVE")
        buttons.separator()
        buttons.operator("grainstack.move_strip", text="", icon="TRIA_UP").step = "-1"
        buttons.operator("grainstack.move_strip", text="", icon="TRIA_DOWN").step = "1"
        tools = layout.row(align=True)
        tools.operator("grainstack.split_strip", text="Split")
        tools.operator("grainstack.repeat_strips", text="Repeat")
        tools.operator("grainstack.swap_woods", text="Swap Woods")
        layout.use_property_split, layout.use_property_decorate = True, False
        strip = settings.strips[settings.active_strip]
        if len(strip.segments) < 2:
            layout.prop(strip, "wood")
            wood_cautions(layout, context, strip.wood)
            layout.prop(strip, "cut")
            layout.prop(strip, "board")
        layout.row().prop(settings, "strips_along", expand=True)


class GRAINSTACK_PT_segments(BenchPanel, bpy.types.Panel):
    """The segments of the active strip."""

    bl_label = "Segments"
    bl_parent_id = "GRAINSTACK_PT_strips"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only where the active strip has some."""
        settings = context.scene.grainstack
        return bool(settings.document) and len(settings.strips[settings.active_strip].segments) > 1

    def draw(self, context: bpy.types.Context) -> None:
        settings = context.scene.grainstack
        strip = settings.strips[settings.active_strip]
        row = self.layout.row()
        row.template_list(
            "GRAINSTACK_UL_segments", "", strip, "segments", strip, "active_segment", rows=3, sort_lock=True
        )
        buttons = row.column(align=True)
        buttons.operator("grainstack.add_segment", text="", icon="ADD")
        buttons.operator("grainstack.remove_segment", text="", icon="REMOVE")
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        for key in ("wood", "cut", "board"):
            self.layout.prop(strip.segments[strip.active_segment], key)


class GRAINSTACK_MT_pieces(bpy.types.Menu):
    """More things to do with pieces."""

    bl_label = "Pieces"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("grainstack.import_pieces", icon="IMPORT")
        layout.separator()
        layout.operator("grainstack.duplicate_pieces", icon="DUPLICATE")
        layout.operator("grainstack.mirror_pieces", icon="MOD_MIRROR")
        layout.operator("grainstack.array_pieces", icon="MOD_ARRAY")
        layout.separator()
        layout.operator("grainstack.order_pieces", text="Move to Back", icon="TRIA_UP_BAR").move = "FIRST"
        layout.operator("grainstack.order_pieces", text="Move to Front", icon="TRIA_DOWN_BAR").move = "LAST"


class GRAINSTACK_PT_pieces(BenchPanel, bpy.types.Panel):
    """The pieces in order, back to front."""

    bl_label = "Pieces"
    bl_order = 5

    def draw(self, context: bpy.types.Context) -> None:
        layout, scene = self.layout, context.scene
        settings = scene.grainstack
        if not settings.piece_count:
            layout.label(text="Add a piece, or import a drawing")
        row = layout.row()
        row.template_list(
            "GRAINSTACK_UL_pieces", "", scene, "objects", settings, "active_piece", rows=6, sort_lock=True
        )
        buttons = row.column(align=True)
        buttons.operator_menu_enum("grainstack.add_piece", "shape", text="", icon="ADD")
        buttons.operator("grainstack.delete_pieces", text="", icon="REMOVE")
        buttons.separator()
        buttons.menu("GRAINSTACK_MT_pieces", text="", icon="DOWNARROW_HLT")
        buttons.separator()
        buttons.operator("grainstack.order_pieces", text="", icon="TRIA_UP").move = "BACK"
        buttons.operator("grainstack.order_pieces", text="", icon="TRIA_DOWN").move = "FRONT"


class PiecePanel(BenchPanel):
    """About the active piece."""

    bl_parent_id = "GRAINSTACK_PT_pieces"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only where a piece is active."""
        item = context.active_object
        return bool(context.scene.grainstack.document) and item is not None and item.grainstack.kind == "outline"


class GRAINSTACK_PT_piece(PiecePanel, bpy.types.Panel):
    """Wood, grain and fit of the active piece, and where it lies."""

    bl_label = "Piece"

    def draw(self, context: bpy.types.Context) -> None:
        layout, item = self.layout, context.active_object
        mark = item.grainstack
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.prop(mark, "name_id")
        layout.prop(mark, "wood")
        wood_cautions(layout, context, mark.wood)
        own_value(layout, mark, "grain")
        line = "line" in json.loads(mark.outline or "{}")
        if line:
            layout.prop(mark, "line_width")
            layout.prop(mark, "smooth")
        else:
            layout.prop(mark, "fit")
        own_value(layout, mark, "pocket_depth")
        own_value(layout, mark, "insert_thickness", "Thickness")
        place = layout.column(align=True)
        place.prop(item, "location", index=0, text="Position X")
        place.prop(item, "location", index=1, text="Y")
        layout.prop(item, "rotation_euler", index=2, text="Turn")


class GRAINSTACK_PT_piece_cutting(PiecePanel, bpy.types.Panel):
    """How the active piece is cut, where it differs from the workshop."""

    bl_label = "Cutting"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, mark = self.layout, context.active_object.grainstack
        layout.use_property_split, layout.use_property_decorate = True, False
        line = "line" in json.loads(mark.outline or "{}")
        gap = "strip_clearance" if line else "side_clearance"
        for key in (gap, "cutter_diameter", "corner_radius", "taper", "floor_gap"):
            own_value(layout, mark, key)
        layout.prop(mark, "after")


class GRAINSTACK_PT_workshop(BenchPanel, bpy.types.Panel):
    """Settings that apply to every piece unless you give it its own."""

    bl_label = "Workshop"
    bl_order = 7
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        _shop(self.layout, context, ("cutter_diameter", "corner_radius", "taper", "cutter_length"))
        _shop(self.layout, context, ("pocket_depth", "proud", "floor_gap", "depth_error"))
        _shop(self.layout, context, ("side_clearance", "strip_clearance", "board_width"))
        settings = context.scene.grainstack
        self.layout.prop(settings, "in_hand")
        glue = self.layout.row(align=True)
        glue.prop(settings, "shows_glue")
        if settings.shows_glue:
            glue.prop(settings, "glue_colour", text="")


class GRAINSTACK_PT_limits(BenchPanel, bpy.types.Panel):
    """Limits at which the findings warn."""

    bl_label = "Limits"
    bl_parent_id = "GRAINSTACK_PT_workshop"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        _shop(self.layout, context, [key for key in panel_fields.SHOP_LENGTHS if key.startswith("min_")])


class GRAINSTACK_PT_weather(BenchPanel, bpy.types.Panel):
    """The air where the panel will hang, in which its wood swells and shrinks."""

    bl_label = "Room Air"
    bl_parent_id = "GRAINSTACK_PT_workshop"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.grainstack
        layout.use_property_split, layout.use_property_decorate = True, False
        seasons = layout.column(align=True)
        seasons.prop(settings, "humidity_low")
        seasons.prop(settings, "humidity_high")
        layout.prop(settings, "temperature")


class GRAINSTACK_PT_frame(BenchPanel, bpy.types.Panel):
    """The frame of the listing picture, and its wall."""

    bl_label = "Frame"
    bl_order = 8
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.grainstack
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.prop(settings, "frame_wood", text="Wood")
        layout.prop(settings, "frame_profile", text="Profile")
        column = layout.column(align=True)
        column.prop(settings, "frame_width", text="Width")
        column.prop(settings, "frame_depth", text="Depth")
        column.prop(settings, "frame_reveal")
        layout.prop(settings, "frame_wall")
        layout.prop(settings, "frame_caption")


def _shop(layout: bpy.types.UILayout, context: bpy.types.Context, keys: Iterable[str]) -> None:
    layout.use_property_split, layout.use_property_decorate = True, False
    column = layout.column(align=True)
    for key in keys:
        column.prop(context.scene.grainstack, f"shop_{key}")


def own_value(layout: bpy.types.UILayout, mark: bpy.types.PropertyGroup, key: str, label: str | None = None) -> None:
    """A value with its switch: the piece's own, or greyed the one that it has from elsewhere."""
    row = layout.row(align=True)
    value = row.row(align=True)
    own = getattr(mark, f"own_{key}")
    value.active = own
    value.prop(mark, key, text=label or mark.bl_rna.properties[key].name)
    row.prop(mark, f"own_{key}", text="", icon="DECORATE_UNLOCKED" if own else "DECORATE_LOCKED", emboss=False)


CLASSES = (
    GRAINSTACK_UL_strips,
    GRAINSTACK_UL_segments,
    GRAINSTACK_UL_pieces,
    GRAINSTACK_PT_background,
    GRAINSTACK_PT_edges,
    GRAINSTACK_PT_strips,
    GRAINSTACK_PT_segments,
    GRAINSTACK_MT_pieces,
    GRAINSTACK_PT_pieces,
    GRAINSTACK_PT_piece,
    GRAINSTACK_PT_piece_cutting,
    GRAINSTACK_PT_workshop,
    GRAINSTACK_PT_limits,
    GRAINSTACK_PT_weather,
    GRAINSTACK_PT_frame,
)
