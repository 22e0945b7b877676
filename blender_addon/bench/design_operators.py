"""What the maker can do with a design: make, open, save and show it.

A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy
from bpy.props import FloatProperty, IntProperty, StringProperty
from bpy_extras.io_utils import ExportHelper, ImportHelper

from ...core.design_file import background_strips
from ...core.design_file.reading import design_of, read_document
from ...core.design_file.writing import new_document, write_design
from ...core.errors import UnusableInput
from .. import designs
from ..scene import conversion
from ..scene import objects as scenes
from ..views import live, views
from . import fields
from .fields import wood_choice
from .operator_helpers import LENGTH, OUTLINES, follow_up, has_design, holds_design, may_change, mm, refuse


class GRAINSTACK_OT_open_design(bpy.types.Operator, ImportHelper):
    """Open a panel design and show it in its woods"""

    bl_idname = "grainstack.open_design"
    bl_label = "Open Design"
    bl_options = {"REGISTER", "UNDO"}

    filename_ext = designs.SUFFIX
    filepath: StringProperty(
        name="File Path", description="The design file to open", subtype="FILE_PATH", options={"SKIP_SAVE"}
    )
    filter_glob: StringProperty(default=f"*{designs.SUFFIX}", options={"HIDDEN"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return may_change(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if self.properties.is_property_set("filepath"):  # dropped on the viewport
            return self.execute(context)
        return ImportHelper.invoke(self, context, event)

    def execute(self, context: bpy.types.Context) -> set[str]:
        return _open(self, context, Path(bpy.path.abspath(self.filepath)))


class GRAINSTACK_OT_reload_design(bpy.types.Operator):
    """Read the design file again; changes that you made here and did not save are lost"""

    bl_idname = "grainstack.reload_design"
    bl_label = "Reload Design"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context) and may_change(cls, context) and _has_file(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        return _open(self, context, conversion.path_of(context.scene))


class GRAINSTACK_OT_save_design(bpy.types.Operator):
    """Save the design to the file that it was opened from or last saved to"""

    bl_idname = "grainstack.save_design"
    bl_label = "Save Design"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return holds_design(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        if not context.scene.grainstack.design_path:
            self.report({"ERROR"}, "The design has no file yet. Use Save Design As")
            return {"CANCELLED"}
        return _save(self, context, conversion.path_of(context.scene))

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if not context.scene.grainstack.design_path:
            return bpy.ops.grainstack.save_design_as("INVOKE_DEFAULT")
        return self.execute(context)


class GRAINSTACK_OT_save_design_as(bpy.types.Operator, ExportHelper):
    """Save the design to a file of your choice, and from then on to that file"""

    bl_idname = "grainstack.save_design_as"
    bl_label = "Save Design As"
    bl_options = {"REGISTER", "UNDO"}

    filename_ext = designs.SUFFIX
    filepath: StringProperty(
        name="File Path", description="The design file to write", subtype="FILE_PATH", options={"SKIP_SAVE"}
    )
    filter_glob: StringProperty(default=f"*{designs.SUFFIX}", options={"HIDDEN"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return holds_design(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if not self.filepath:
            name = context.scene.grainstack.title.strip().lower().replace(" ", "-") or "panel"
            path = context.scene.grainstack.design_path or f"{name}{designs.SUFFIX}"
            self.filepath = bpy.path.abspath(path)
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def check(self, context: bpy.types.Context) -> bool:
        """Blender's helper knows only endings of one part."""
        wanted = _with_suffix(self.filepath)
        changed, self.filepath = wanted != self.filepath, wanted
        return changed

    def execute(self, context: bpy.types.Context) -> set[str]:
        if not self.filepath:
            self.report({"ERROR"}, "No file was named. Choose one")
            return {"CANCELLED"}
        return _save(self, context, Path(bpy.path.abspath(_with_suffix(self.filepath))))


class GRAINSTACK_OT_new_panel(bpy.types.Operator):
    """Start a new panel with its size and background; add pieces afterwards"""

    bl_idname = "grainstack.new_panel"
    bl_label = "New Panel"
    bl_options = {"REGISTER", "UNDO"}

    title: StringProperty(name="Title", description="What the panel is called", default="Panel")
    width: FloatProperty(
        name="Width", description="Width of the raw panel", default=0.6, min=0.01, soft_max=2, **LENGTH
    )
    height: FloatProperty(
        name="Height", description="Height of the raw panel", default=0.4, min=0.01, soft_max=2, **LENGTH
    )
    thickness: FloatProperty(
        name="Thickness", description="Thickness of the raw panel", default=0.019, min=0.002, soft_max=0.1, **LENGTH
    )
    strip_count: IntProperty(
        name="Strips", description="How many strips of equal width make up the background", default=3, min=1, max=200
    )
    wood: wood_choice("Wood", "Wood of the first strip and every other one after it", "black walnut")
    second_wood: wood_choice("Second Wood", "Wood of the strips between them", "hard maple")
    _units = ""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return may_change(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if context.scene.unit_settings.system == "IMPERIAL":  # whole inches, where nothing was asked for
            for name, inches in (("width", 24), ("height", 16), ("thickness", 0.75)):
                if not self.properties.is_property_set(name):
                    setattr(self, name, inches * 0.0254)
        elif context.scene.unit_settings.system == "METRIC":  # a new file's metres would make 600 a long panel
            self._units = context.scene.unit_settings.length_unit
            context.scene.unit_settings.length_unit = "MILLIMETERS"
        return context.window_manager.invoke_props_dialog(self)

    def cancel(self, context: bpy.types.Context) -> None:
        self._restore_units(context)

    def _restore_units(self, context: bpy.types.Context) -> None:
        """Those of the scene that the dialog was shown in; the panel may get a scene of its own."""
        if self._units:
            context.scene.unit_settings.length_unit = self._units
            self._units = ""

    def execute(self, context: bpy.types.Context) -> set[str]:
        self._restore_units(context)
        sizes = {key: mm(getattr(self, key)) for key in ("width", "height", "thickness")}
        try:
            panel = new_background(sizes, self.strip_count, [self.wood, self.second_wood])
            document = new_document(panel, self.title)
            design_of(document, conversion.UNSAVED)
            scene = _start(context, document, Path(), None)
        except UnusableInput as error:
            return refuse(self, error)
        self.report({"INFO"}, f"Made {scene.grainstack.title}, {scene.grainstack.size_text}")
        return {"FINISHED"}


class GRAINSTACK_OT_take_over(bpy.types.Operator):
    """Update the wood after outlines were copied, deleted or added by other tools"""

    bl_idname = "grainstack.take_over"
    bl_label = "Update Wood"
    bl_options = {"UNDO", "INTERNAL"}

    scene: StringProperty(name="Scene", description="The scene that holds the design", options={"HIDDEN", "SKIP_SAVE"})

    def execute(self, context: bpy.types.Context) -> set[str]:
        return follow_up(self, bpy.data.scenes[self.scene])


class GRAINSTACK_OT_show_view(bpy.types.Operator):
    """Aim the view at the design as it is now, and redraw its marks"""

    bl_idname = "grainstack.show_view"
    bl_label = "Refresh View"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context) and may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        settings = context.scene.grainstack
        try:
            views.show(context.scene, views.design_of(context.scene), views.VIEWS[settings.view], anew=True)
        except UnusableInput as error:
            return refuse(self, error)
        return {"FINISHED"}


def new_background(sizes: dict[str, float], count: int, woods: list[str]) -> dict[str, Any]:
    """The JSON value of a new panel.

    Raises:
        UnusableInput: the strips would be too narrow.
    """
    panel = {**sizes, "wood": woods[0]}
    return panel if count == 1 else background_strips.even_strips(panel, count, woods)


def _open(operator: bpy.types.Operator, context: bpy.types.Context, path: Path) -> set[str]:
    try:
        conversion.forget_all()
        opened = designs.read(path)
        scene = _start(context, read_document(path), path, opened)
    except UnusableInput as error:
        return refuse(operator, error)
    pieces, batches = len(opened.stack.pieces), len(opened.stack.batches)
    operator.report({"INFO"}, f"Opened {scene.grainstack.title}: {pieces} pieces in {batches} batches")
    return {"FINISHED"}


def _start(
    context: bpy.types.Context, document: dict[str, Any], path: Path, opened: designs.OpenDesign | None
) -> bpy.types.Scene:
    """Let a scene hold this design instead of any other; all of it is there before anything is changed.

    Raises:
        UnusableInput: a piece's outline cannot be drawn.
    """
    items = [conversion.new_piece(entry, path.parent) for entry in document.get("pieces", [])]
    scene = scenes.scene_for_a_design(context.scene, document.get("title") or "Panel")
    first = not scenes.is_ours(scene)
    settings = scene.grainstack
    scenes.clear(scene)
    settings.design_path = str(path) if path.name else ""
    settings.fingerprint = opened.fingerprint if opened else ""
    settings.staged = ""
    settings.collection = scenes.child_collection(scene.collection, document.get("title") or "Panel")
    for place, item in enumerate(items):
        item.grainstack.order = place
        item.name = item.data.name = item.grainstack.id  # those of the design before had the names
        scenes.child_collection(settings.collection, OUTLINES).objects.link(item)
    fields.write_head(scene, conversion.head_of(document))
    if path.name and not settings.folder:
        settings.folder = str(path.parent)
    live.bring_up_to_date(scene)
    try:
        views.show(scene, views.design_of(scene), views.VIEWS[settings.view])
    except UnusableInput as error:  # the design is there, only this view of it is not
        settings.trouble = str(error)
    if first:
        _turn_to(context, scene)
    return scene


def _save(operator: bpy.types.Operator, context: bpy.types.Context, path: Path) -> set[str]:
    scene = context.scene
    try:
        live.bring_up_to_date(scene)
        text = conversion.read_scene(scene, path)
        write_design(text.document(), path)
    except UnusableInput as error:
        return refuse(operator, error)
    if conversion.path_of(scene) != path:
        scene.grainstack.design_path = str(path)
        conversion.forget_all()
    scene.grainstack.folder = scene.grainstack.folder or str(path.parent)
    operator.report({"INFO"}, f"Saved {path}")
    return {"FINISHED"}


def _with_suffix(path: str) -> str:
    """A name that ends as design files do."""
    return path if path.endswith(designs.SUFFIX) else path.removesuffix(".json").removesuffix(".panel") + designs.SUFFIX


def _turn_to(context: bpy.types.Context, scene: bpy.types.Scene) -> None:
    """Let the window look at the scene, through its camera and in its materials."""
    if context.window is None:
        return
    context.window.scene = scene
    for area in context.window.screen.areas:
        if area.type == "VIEW_3D":
            space = area.spaces.active
            space.region_3d.view_perspective = "CAMERA"
            space.shading.type = "MATERIAL"
            space.overlay.show_extras = False  # the lamps' lines would cross the panel


def _has_file(cls: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    if context.scene.grainstack.design_path:
        return True
    cls.poll_message_set("Save the design first")
    return False


CLASSES = (
    GRAINSTACK_OT_new_panel,
    GRAINSTACK_OT_open_design,
    GRAINSTACK_OT_reload_design,
    GRAINSTACK_OT_save_design,
    GRAINSTACK_OT_save_design_as,
    GRAINSTACK_OT_take_over,
    GRAINSTACK_OT_show_view,
)
