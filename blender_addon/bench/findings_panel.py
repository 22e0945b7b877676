"""The sidebar's list of findings, and the switch of their marks. Drawing only reads."""

from __future__ import annotations

from typing import Any

import bpy

from ..findings import finding_items
from .sidebar import LEVEL_ICONS, OpenedPanel, text_lines


class GRAINSTACK_UL_findings(bpy.types.UIList):
    """The findings that pass the filters, the gravest first."""

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
        layout.label(text=item.title, icon=LEVEL_ICONS[item.level], translate=False)

    def filter_items(self, context: bpy.types.Context, data: Any, property: str) -> tuple[list[int], list[int]]:
        typed = self.filter_name.casefold()
        passing = zip(finding_items.listed(data, context.active_object), data.findings, strict=True)
        return [self.bitflag_filter_item * (on and typed in item.heading.casefold()) for on, item in passing], []


class GRAINSTACK_PT_findings(OpenedPanel, bpy.types.Panel):
    """What can go wrong and what to do about it. Click a finding for the details."""

    bl_label = "Findings"
    bl_order = 2

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        """How many there are, folded or not."""
        row = self.layout.row(align=True)
        count = finding_items.counts(context.scene.grainstack)
        if not count["error"] and not count["warning"]:
            row.label(icon="CHECKMARK")
        for level, icon in LEVEL_ICONS.items():
            if count[level]:
                row.label(text=str(count[level]), icon=icon, translate=False)

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.grainstack
        _filters(layout.row(), settings)
        if any(finding_items.listed(settings, context.active_object)):
            layout.template_list(
                "GRAINSTACK_UL_findings", "", settings, "findings", settings, "active_finding", rows=4, sort_lock=True
            )
        else:
            layout.label(**_nothing_shown(settings, context.active_object))
        index = finding_items.chosen(settings)
        if index >= 0:
            _finding(layout, context, settings.findings[index])
        elif any(finding_items.listed(settings, context.active_object)):
            layout.label(text="Click a finding to see its place")
        if settings.accepted:
            row = layout.row()
            row.label(text=f"{settings.accepted} accepted", translate=False)
            row.operator("grainstack.show_accepted", text="Show Again", icon="HIDE_OFF")


def _filters(row: bpy.types.UILayout, settings: bpy.types.PropertyGroup) -> None:
    levels = row.row(align=True)
    for level, icon in LEVEL_ICONS.items():
        levels.prop(settings, f"show_{level}s", text="", icon=icon)
    row.prop(settings, "only_active_piece", text="", icon="RESTRICT_SELECT_OFF")
    row.separator()
    row.prop(settings, "show_marks", text="", icon="OVERLAY")
    row.operator("grainstack.frame_finding", text="", icon="VIEWZOOM")


def _nothing_shown(settings: bpy.types.PropertyGroup, active: bpy.types.Object | None) -> dict[str, str]:
    """Says so, and why."""
    count = finding_items.counts(settings)
    if settings.only_active_piece:
        picked = active is not None and active.grainstack.kind == "outline"
        return {"text": "None about the active piece" if picked else "Select a piece to see those about it"}
    if not count["error"] and not count["warning"]:
        return {"text": "Nothing to mend", "icon": "CHECKMARK"}
    return {"text": "Click the icons above to see more"}


def _finding(layout: bpy.types.UILayout, context: bpy.types.Context, item: bpy.types.PropertyGroup) -> None:
    """All of a finding in words, and the button that cures it."""
    text_lines(layout.column(align=True), context, item.text, LEVEL_ICONS[item.level])
    text_lines(layout.column(align=True), context, item.remedy, "FORWARD")
    count = len(finding_items.places(item))
    if count > 1:
        row = layout.row()
        row.label(text=f"Place {context.scene.grainstack.chosen_place % count + 1} of {count}", translate=False)
        row.operator("grainstack.next_place", icon="TRIA_RIGHT")
    if item.step:
        button = layout.operator("grainstack.take_remedy", text=item.step_words, icon="CHECKMARK", translate=False)
        button.finding = item.identity
    if item.level != "error":
        layout.operator("grainstack.accept_finding", text="Accept", icon="HIDE_ON").finding = item.identity


class GRAINSTACK_PT_marks_overlay(bpy.types.Panel):
    """Show or hide Grainstack's marks."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "HEADER"
    bl_label = "Grainstack"
    bl_parent_id = "VIEW3D_PT_overlay"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only where there can be marks."""
        return bool(context.scene.grainstack.fingerprint)

    def draw(self, context: bpy.types.Context) -> None:
        column = self.layout.column()
        column.active = context.space_data.overlay.show_overlays
        column.prop(context.scene.grainstack, "show_marks")


CLASSES = (GRAINSTACK_UL_findings, GRAINSTACK_PT_findings, GRAINSTACK_PT_marks_overlay)
