"""The sidebar's panels of woods and boards of the maker's own, and of where a piece lies on its board."""

from __future__ import annotations

from typing import Any

import bpy

from ..bench.design_panels import BenchPanel, PiecePanel, own_value
from .board_fields import wood_of


class GRAINSTACK_UL_woods(bpy.types.UIList):
    """The design's own woods; boards from photos have a picture's sign."""

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
        photo = "photo" in wood_of(item)
        row.prop(item, "name_wood", text="", emboss=False, icon="IMAGE_DATA" if photo else "MATERIAL")


class GRAINSTACK_PT_woods(BenchPanel, bpy.types.Panel):
    """Woods and boards that the species table does not have."""

    bl_label = "Woods"
    bl_order = 6
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.grainstack
        if not settings.woods:
            layout.label(text="Add a photo of your board")
        row = layout.row()
        row.template_list("GRAINSTACK_UL_woods", "", settings, "woods", settings, "active_wood", rows=3, sort_lock=True)
        buttons = row.column(align=True)
        buttons.operator("grainstack.add_board", text="", icon="IMAGE_DATA")
        buttons.operator("grainstack.add_wood", text="", icon="ADD")
        buttons.operator("grainstack.remove_wood", text="", icon="REMOVE")
        if not settings.woods:
            return
        layout.use_property_split, layout.use_property_decorate = True, False
        item = settings.woods[min(settings.active_wood, len(settings.woods) - 1)]
        (_draw_board if "photo" in wood_of(item) else _draw_wood)(layout, item)


def _draw_board(layout: bpy.types.UILayout, item: bpy.types.PropertyGroup) -> None:
    layout.prop(item, "like")
    layout.prop(item, "photo")
    scale = layout.row(align=True)
    scale.prop(item, "mm_per_pixel", text="mm per Pixel")
    scale.operator("grainstack.measure_board", text="", icon="ARROW_LEFTRIGHT")
    layout.prop(item, "grain")
    layout.prop(item, "has_card")
    if item.has_card:
        card = layout.column(align=True)
        card.prop(item, "card", text="Pixel")
        card.prop(item, "reflectance")


def _draw_wood(layout: bpy.types.UILayout, item: bpy.types.PropertyGroup) -> None:
    layout.prop(item, "like", text="Looks Like")
    layout.prop(item, "colour_cut")
    layout.prop(item, "colour_aged")
    facts = layout.column(align=True)
    facts.prop(item, "density")
    facts.prop(item, "shrinkage_tangential")
    facts.prop(item, "shrinkage_radial", text="Radial")


class GRAINSTACK_PT_piece_board(PiecePanel, bpy.types.Panel):
    """From which board the active piece is sawn, and where on it."""

    bl_label = "Board"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, mark = self.layout, context.active_object.grainstack
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.prop(mark, "cut")
        layout.prop(mark, "board", text="Number")
        own_value(layout, mark, "board_at", "Place")
        layout.prop(mark, "board_turn", text="Turn")
        layout.prop(mark, "board_mirror")
        blank = layout.row(align=True)
        blank.operator("grainstack.glue_blank")
        if mark.stripes:
            blank.operator("grainstack.plain_blank", text="", icon="X")
        else:
            layout.prop(mark, "leaves")


CLASSES = (
    GRAINSTACK_UL_woods,
    GRAINSTACK_PT_woods,
    GRAINSTACK_PT_piece_board,
)
