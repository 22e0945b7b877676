"""The sidebar's panels for pictures and films. Drawing only reads properties and what is kept in memory."""

from __future__ import annotations

import bpy

from ..bench.sidebar import OpenedPanel, fact, text_lines
from . import estimates, film, render
from .picture_operators import Last


class GRAINSTACK_PT_picture(OpenedPanel, bpy.types.Panel):
    """A picture of the view that is shown."""

    bl_label = "Picture"
    bl_order = 9

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.grainstack
        layout.use_property_split, layout.use_property_decorate = True, False
        size = layout.column(align=True)
        size.prop(settings, "picture_size")
        size.prop(settings, "picture_width")
        size.prop(settings, "picture_height")
        layout.prop(settings, "quality")
        layout.prop(settings, "device")
        layout.prop(settings, "folder")
        _draw_time(layout, context, 1)
        buttons = layout.column(align=True)
        buttons.operator("grainstack.render_view", icon="RENDER_STILL")
        if settings.shown == "listing":
            buttons.operator("grainstack.write_card", icon="TEXT")
        if settings.folder:
            buttons.operator("wm.path_open", text="Open Folder", icon="FILE_FOLDER").filepath = settings.folder
        if Last.note:
            text_lines(layout.column(align=True), context, Last.note, "INFO")


class GRAINSTACK_PT_film(OpenedPanel, bpy.types.Panel):
    """A short film, in the picture's size, quality and folder."""

    bl_label = "Film"
    bl_parent_id = "GRAINSTACK_PT_picture"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, settings = self.layout, context.scene.grainstack
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.prop(settings, "film", text="Show")
        _draw_time(layout, context, film.FILMS[settings.film].frames)
        layout.operator("grainstack.render_film", icon="RENDER_ANIMATION")


def _draw_time(layout: bpy.types.UILayout, context: bpy.types.Context, count: int) -> None:
    """How long so many pictures will take, or why that is not known; while one renders, how to stop it."""
    if bpy.app.is_job_running("RENDER"):
        layout.label(text="Rendering. Esc stops it", icon="TIME")
        return
    scene = context.scene
    view = scene.grainstack.view if count == 1 else film.FILMS[scene.grainstack.film].view
    found = estimates.estimate(render.work_of(scene, view), estimates.learnt())
    translated = bpy.app.translations.pgettext_rpt
    if found is None:
        fact(layout, "Time", translated("Not known yet"))
        return
    about = translated("About {}") if found.alike else translated("Roughly {}")
    fact(layout, "Time", about.format(estimates.in_words(found.times(count).seconds)))


CLASSES = (GRAINSTACK_PT_picture, GRAINSTACK_PT_film)
