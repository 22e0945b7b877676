"""What the maker can do: read input, call the core and the scene, say what was done.

A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

from pathlib import Path

import bpy
from bpy.props import StringProperty
from bpy_extras.io_utils import ImportHelper

from . import designs, render, views
from . import scene as scenes
from .core.errors import UnusableInput


class GRAINSTACK_OT_open_design(bpy.types.Operator, ImportHelper):
    """Open a panel design and see it in wood"""

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
        return _may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        return _open(self, context, Path(bpy.path.abspath(self.filepath)))


class GRAINSTACK_OT_reload_design(bpy.types.Operator):
    """Read the design's file again, with what was changed in it since"""

    bl_idname = "grainstack.reload_design"
    bl_label = "Reload Design"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _has_design(cls, context) and _may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        return _open(self, context, Path(context.scene.grainstack.design_path))


class GRAINSTACK_OT_show_view(bpy.types.Operator):
    """Show the chosen view, which could not be shown when it was chosen"""

    bl_idname = "grainstack.show_view"
    bl_label = "Show View"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _has_design(cls, context) and _may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        settings = context.scene.grainstack
        try:
            views.show(context.scene, views.design_of(context.scene), views.VIEWS[settings.view])
        except UnusableInput as error:
            return _refuse(self, error)
        return {"FINISHED"}


class GRAINSTACK_OT_render_view(bpy.types.Operator):
    """Render the view that is shown and save the picture in the folder"""

    bl_idname = "grainstack.render_view"
    bl_label = "Render View"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not _has_design(cls, context) or not _may_change(cls, context):
            return False
        if context.scene.grainstack.shown != context.scene.grainstack.view:
            cls.poll_message_set("Show the chosen view first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            path = render.render_picture(context.scene, _picture_path(context.scene))
        except UnusableInput as error:
            return _refuse(self, error)
        self.report({"INFO"}, f"Saved {path}")
        return {"FINISHED"}

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        try:
            render.start_rendering(context.scene, _picture_path(context.scene))
        except UnusableInput as error:
            return _refuse(self, error)
        return {"FINISHED"}


def _open(operator: bpy.types.Operator, context: bpy.types.Context, path: Path) -> set[str]:
    try:
        opened = designs.read(path)
    except UnusableInput as error:
        return _refuse(operator, error)
    scene = scenes.scene_for_a_design(context.scene, opened.title)
    first = not scenes.is_ours(scene)
    views.open_design(scene, opened)
    if first:
        _turn_to(context, scene)
    pieces, batches = len(opened.stack.pieces), len(opened.stack.batches)
    operator.report({"INFO"}, f"Opened {opened.title}: {pieces} pieces in {batches} batches")
    return {"FINISHED"}


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


def _picture_path(scene: bpy.types.Scene) -> Path:
    settings = scene.grainstack
    name = Path(settings.design_path).name.removesuffix(designs.SUFFIX)
    return render.picture_path(Path(bpy.path.abspath(settings.folder)), name, settings.shown)


def _refuse(operator: bpy.types.Operator, error: UnusableInput) -> set[str]:
    operator.report({"ERROR"}, str(error))
    return {"CANCELLED"}


def _may_change(cls: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    if context.mode != "OBJECT":
        cls.poll_message_set("Switch to Object Mode first")
        return False
    if bpy.app.is_job_running("RENDER"):
        cls.poll_message_set("Wait for the picture that is rendering, or stop it with Esc")
        return False
    return True


def _has_design(cls: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    if scenes.is_ours(context.scene):
        return True
    cls.poll_message_set("Open a design first")
    return False


CLASSES = (
    GRAINSTACK_OT_open_design,
    GRAINSTACK_OT_reload_design,
    GRAINSTACK_OT_show_view,
    GRAINSTACK_OT_render_view,
)
