"""What Blender is told when the add-on is enabled, undone in reverse when it is disabled."""

from __future__ import annotations

import bpy

from .. import guards, memory
from ..bench import (
    design_operators,
    design_panels,
    drops,
    finding_operators,
    findings_panel,
    piece_operators,
    sidebar,
    strip_operators,
    view_operators,
)
from ..boards import board_operators, board_panels
from ..findings import finding_places, findings_overlay
from ..pictures import (
    line_operators,
    page_operators,
    picture_operators,
    picture_panels,
    sheet_operators,
    work_operators,
    work_panels,
    work_state,
)
from ..views import cutter_proof, grain_arrow, live, work_overlay
from . import command_line, properties

CLASSES = (
    *design_operators.CLASSES,
    *picture_operators.CLASSES,
    *piece_operators.CLASSES,
    *page_operators.CLASSES,
    *line_operators.CLASSES,
    *sheet_operators.CLASSES,
    *work_operators.CLASSES,
    *work_panels.CLASSES,
    *strip_operators.CLASSES,
    *board_operators.CLASSES,
    *view_operators.CLASSES,
    *sidebar.CLASSES,
    *picture_panels.CLASSES,
    *design_panels.CLASSES,
    *board_panels.CLASSES,
    *drops.CLASSES,
    *finding_operators.CLASSES,
    *findings_panel.CLASSES,
)
MENUS = (
    ("TOPBAR_MT_file_import", sidebar.draw_import_entries),
    ("TOPBAR_MT_file_export", sidebar.draw_export_entry),
    ("VIEW3D_MT_add", sidebar.draw_add_entries),
)


def register() -> None:
    """Tell Blender of the add-on."""
    properties.register()
    for cls in CLASSES:
        if issubclass(cls, bpy.types.Operator):
            guards.guard(cls)
        bpy.utils.register_class(cls)
    for menu, draw in MENUS:
        getattr(bpy.types, menu).append(draw)
    command_line.register()
    live.register()
    grain_arrow.drawing.register()
    cutter_proof.register()
    work_overlay.register()
    findings_overlay.register()


def unregister() -> None:
    """Undo `register`, in reverse."""
    findings_overlay.unregister()
    finding_places.unregister()
    grain_arrow.drawing.unregister()
    cutter_proof.unregister()
    work_overlay.unregister()
    work_state.forget()
    live.unregister()
    memory.forget_all()
    command_line.unregister()
    for menu, draw in reversed(MENUS):
        getattr(bpy.types, menu).remove(draw)
    for cls in reversed(CLASSES):
        bpy.utils.unregister_class(cls)
    properties.unregister()
