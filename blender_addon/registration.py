"""What Blender is told when the add-on is enabled, undone in reverse when it is disabled."""

from __future__ import annotations

import bpy

from . import command_line, designs, operators, panels, properties

CLASSES = (*operators.CLASSES, *panels.CLASSES)


def register() -> None:
    """Tell Blender of the add-on."""
    properties.register()
    for cls in CLASSES:
        bpy.utils.register_class(cls)
    bpy.types.TOPBAR_MT_file_import.append(panels.draw_import_entry)
    command_line.register()


def unregister() -> None:
    """Undo `register`, in reverse."""
    command_line.unregister()
    bpy.types.TOPBAR_MT_file_import.remove(panels.draw_import_entry)
    for cls in reversed(CLASSES):
        bpy.utils.unregister_class(cls)
    properties.unregister()
    designs.forget_all()
