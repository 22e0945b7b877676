"""What Blender is told when the add-on is enabled, undone in reverse when it is disabled."""

from __future__ import annotations

import bpy

from . import (
    bench_panels,
    board_operators,
    board_panels,
    command_line,
    drops,
    finding_operators,
    finding_places,
    findings_overlay,
    findings_panel,
    grain_arrow,
    live,
    memory,
    operators,
    page_operators,
    panels,
    picture_operators,
    picture_panels,
    piece_operators,
    properties,
    strip_operators,
    view_operators,
)

CLASSES = (
    *operators.CLASSES,
    *picture_operators.CLASSES,
    *piece_operators.CLASSES,
    *page_operators.CLASSES,
    *strip_operators.CLASSES,
    *board_operators.CLASSES,
    *view_operators.CLASSES,
    *panels.CLASSES,
    *picture_panels.CLASSES,
    *bench_panels.CLASSES,
    *board_panels.CLASSES,
    *drops.CLASSES,
    *finding_operators.CLASSES,
    *findings_panel.CLASSES,
)
MENUS = (
    ("TOPBAR_MT_file_import", panels.draw_import_entries),
    ("TOPBAR_MT_file_export", panels.draw_export_entry),
    ("VIEW3D_MT_add", panels.draw_add_entries),
)


def register() -> None:
    """Tell Blender of the add-on."""
    properties.register()
    for cls in CLASSES:
        bpy.utils.register_class(cls)
    for menu, draw in MENUS:
        getattr(bpy.types, menu).append(draw)
    command_line.register()
    live.register()
    grain_arrow.register()
    findings_overlay.register()


def unregister() -> None:
    """Undo `register`, in reverse."""
    findings_overlay.unregister()
    finding_places.unregister()
    grain_arrow.unregister()
    live.unregister()
    memory.forget_all()
    command_line.unregister()
    for menu, draw in reversed(MENUS):
        getattr(bpy.types, menu).remove(draw)
    for cls in reversed(CLASSES):
        bpy.utils.unregister_class(cls)
    properties.unregister()
