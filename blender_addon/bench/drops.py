"""Files dropped on the 3D viewport: a design is opened, a drawing becomes pieces."""

from __future__ import annotations

import bpy


def _on_viewport(context: bpy.types.Context) -> bool:
    return context.area is not None and context.area.type == "VIEW_3D"


class GRAINSTACK_FH_design(bpy.types.FileHandler):
    """Opens a design (.panel.json); any other JSON file is refused, with the reason."""

    bl_idname = "GRAINSTACK_FH_design"
    bl_label = "Grainstack Panel (.panel.json)"
    bl_import_operator = "grainstack.open_design"
    bl_file_extensions = ".json"  # Blender looks at a name's last ending only

    @classmethod
    def poll_drop(cls, context: bpy.types.Context) -> bool:
        return _on_viewport(context)


class GRAINSTACK_FH_pieces(bpy.types.FileHandler):
    """Adds a drawing to the open design. If Blender can use the file in another way too, it asks."""

    bl_idname = "GRAINSTACK_FH_pieces"
    bl_label = "Grainstack Pieces (.svg)"
    bl_import_operator = "grainstack.import_pieces"
    bl_file_extensions = ".svg"

    @classmethod
    def poll_drop(cls, context: bpy.types.Context) -> bool:
        return _on_viewport(context) and bool(context.scene.grainstack.document)


CLASSES = (GRAINSTACK_FH_design, GRAINSTACK_FH_pieces)
