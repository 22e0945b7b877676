"""Pictures and films from the sidebar: rendered while the window stays alive, stopped by Esc, told when they are there.

A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

import bpy
from bpy.props import EnumProperty

from ...core.errors import UnusableInput
from .. import designs, memory
from ..bench.operator_helpers import has_design, may_change, redraw, refuse
from ..scene import conversion
from ..views import views
from . import estimates, film, render

FOLDER = "folder"
EVERY = 0.2
"""Seconds between looks at what the renderer does."""


class Last:
    """What became of the last picture of this session, for the sidebar."""

    note: ClassVar[str] = ""


class Rendering:
    """What picture and film have in common: `execute` waits, a press on the button lets the window live on."""

    bl_options = {"REGISTER"}

    existing: EnumProperty(
        name="Existing File",
        description="What to do if the folder has a file of that name already",
        items=(
            ("keep", "Keep Both", "Save under the next number that is free", 0),
            ("replace", "Replace", "Replace the file once the new one is complete", 1),
        ),
        options={"SKIP_SAVE"},
    )
    # On the operators, since Blender takes up `existing` only from a base that is no operator itself.
    layout: bpy.types.UILayout
    properties: bpy.types.OperatorProperties
    report: Callable[[set[str], str], None]

    _pressed = False
    _unfolding = ""
    """What the maker had chosen, while a film has its own."""
    _job: render.Job | None = None
    _timer: bpy.types.Timer | None = None

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_design(cls, context) and may_change(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        self._pressed = not bpy.app.background
        try:
            taken = self.wanted_path(context.scene).exists()
        except UnusableInput as error:
            return refuse(self, error)
        if taken and self._pressed and not self.properties.is_property_set("existing"):
            return context.window_manager.invoke_props_dialog(
                self, width=360, title="File Exists", confirm_text="Render"
            )
        return self.execute(context)

    def draw(self, context: bpy.types.Context) -> None:
        layout, path = self.layout, self.wanted_path(context.scene)
        words = bpy.app.translations.pgettext_rpt("{} is there already")
        layout.label(text=words.format(path.name), icon="QUESTION", translate=False)
        layout.row().prop(self, "existing", expand=True)

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            take = self._prepare(context)
            if self._pressed:
                return self._begin(context, take)
            return self._told(context, take, render.render(context.scene, take))
        except UnusableInput as error:
            return refuse(self, error)
        finally:
            if self._job is None:
                self._put_back(context.scene)

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type != "TIMER" or self._job is None or self._job.is_running:
            return {"PASS_THROUGH"}
        return self._end(context)

    def cancel(self, context: bpy.types.Context) -> None:
        """The window is closed: Blender ends the rendering too."""
        if self._job is not None:
            self._end(context)

    def wanted_path(self, scene: bpy.types.Scene) -> Path:
        """Where it is saved, if that name is free.

        Raises:
            UnusableInput: there is no folder to save in.
        """
        raise NotImplementedError

    def film_of(self) -> film.Film | None:
        """The film to render; None for a picture."""
        return None

    def _prepare(self, context: bpy.types.Context) -> render.Take:
        """The view is shown, framed and marked for the design as it is now, in a step of undo of its own."""
        scene, rolled = context.scene, self.film_of()
        settings = scene.grainstack
        path = self.wanted_path(scene)
        if rolled:
            if settings.view != rolled.view:
                settings.view = rolled.view
            if rolled.unfolding not in (None, settings.unfolding):
                self._unfolding, settings.unfolding = settings.unfolding, rolled.unfolding
        if self._unfolding or settings.shown != settings.view or views.marks_are_old(scene):
            _show(settings)
        path = path if self.existing == "replace" else render.free_path(path)
        return render.Take(path, views.design_of(scene), settings.shown, rolled, settings.device)

    def _put_back(self, scene: bpy.types.Scene | None) -> None:
        """What a film had of its own is as the maker chose it, in a step of undo of its own."""
        chosen, self._unfolding = self._unfolding, ""
        if not chosen or scene is None:
            return
        scene.grainstack.unfolding = chosen
        if scene == bpy.context.scene:  # else it is shown when the maker comes back to it
            with contextlib.suppress(UnusableInput):  # the sidebar tells why it cannot be shown
                _show(scene.grainstack)

    def _begin(self, context: bpy.types.Context, take: render.Take) -> set[str]:
        self._job = render.Job(context.scene, take)
        Last.note = self._job.device.note
        self._timer = context.window_manager.event_timer_add(EVERY, window=context.window)
        context.window_manager.modal_handler_add(self)
        redraw(context)
        return {"RUNNING_MODAL"}

    def _end(self, context: bpy.types.Context) -> set[str]:
        job, self._job = self._job, None
        assert job is not None
        context.window_manager.event_timer_remove(self._timer)
        redraw(context)
        try:
            return self._told(context, job.take, job.finish())
        except render.Stopped:
            self.report({"WARNING"}, "Stopped. Nothing was saved")
            return {"CANCELLED"}
        except UnusableInput as error:
            return refuse(self, error)
        finally:
            self._put_back(bpy.data.scenes.get(job.scene_name))  # the maker may look at another one by now

    def _told(self, context: bpy.types.Context, take: render.Take, done: render.Done) -> set[str]:
        memory.remember(FOLDER, str(take.path.parent))
        Last.note = done.device.note
        self.report({"INFO"}, f"Saved {done.path} in {estimates.in_words(done.seconds)}")
        return {"FINISHED"}


class GRAINSTACK_OT_render_view(Rendering, bpy.types.Operator):
    """Render the view that is shown and save the picture in the folder"""

    bl_idname = "grainstack.render_view"
    bl_label = "Render View"

    def wanted_path(self, scene: bpy.types.Scene) -> Path:
        return render.picture_path(folder_of(scene), design_name(scene), scene.grainstack.view)


class GRAINSTACK_OT_render_film(Rendering, bpy.types.Operator):
    """Render a short film of the panel and save it in the folder"""

    bl_idname = "grainstack.render_film"
    bl_label = "Render Film"

    def wanted_path(self, scene: bpy.types.Scene) -> Path:
        return render.film_path(folder_of(scene), design_name(scene), scene.grainstack.film)

    def film_of(self) -> film.Film:
        return film.FILMS[bpy.context.scene.grainstack.film]


def _show(settings: bpy.types.PropertyGroup) -> None:
    """Show the view, as the button does.

    Raises:
        UnusableInput: the view cannot be shown.
    """
    try:
        bpy.ops.grainstack.show_view("EXEC_DEFAULT", True)
    except RuntimeError as error:
        raise UnusableInput("", "", str(error).strip().rstrip("."), "Mend that first") from None
    if settings.shown != settings.view:
        raise UnusableInput("", "", "the view cannot be shown now", settings.trouble or "Press Refresh View")


def folder_of(scene: bpy.types.Scene) -> Path:
    """Where pictures go: the scene's folder, the design's, or the one used last.

    Raises:
        UnusableInput: there is none.
    """
    settings = scene.grainstack
    design = conversion.path_of(scene)
    chosen = settings.folder or (str(design.parent) if settings.design_path else memory.recall(FOLDER)) or ""
    folder = Path(bpy.path.abspath(chosen))
    if not chosen or not folder.is_absolute():
        raise UnusableInput("", "Folder", "there is no folder to save in yet", "Choose one, or save the design")
    return folder


PAPERS = (
    ("a4", "A4", "Print on A4, 210 by 297 mm"),
    ("letter", "Letter", "Print on Letter, 8.5 by 11 inches"),
)


def design_name(scene: bpy.types.Scene) -> str:
    """What all files that belong to the open design begin with."""
    return conversion.path_of(scene).name.removesuffix(designs.SUFFIX)


def folder_named(scene: bpy.types.Scene, ending: str) -> Path:
    """A folder named for the open design, beside it or in the folder for pictures.

    Raises:
        UnusableInput: there is no such place.
    """
    return folder_of(scene) / f"{design_name(scene)}{ending}"


CLASSES = (GRAINSTACK_OT_render_view, GRAINSTACK_OT_render_film)
