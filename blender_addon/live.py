"""Keeps the wood in line with the design while the maker works.

Handlers only raise a flag. One timer looks at it, reads what the scenes say, and refills the meshes that differ; when
the maker's hand rests it checks the design again. What Blender's own tools made or removed (a copy, a deleted
outline) it brings in line too, but never while a tool is at work. Nothing is kept here that Blender owns.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator

import bpy

from . import changes, conversion, designs, views
from . import scene as scenes
from .core.errors import UnusableInput

SOON, LATER = 0.02, 0.25
"""Seconds: how soon a change is shown, and how long the hand rests before the design is checked."""
SLOWEST = 0.5
"""A design that takes long to rebuild is rebuilt less often: a third of the time is the maker's, at most so long."""


class _State:
    """Flags, and nothing of Blender's."""

    dirty = False
    working = False
    rendering = False
    changed_at = 0.0


# --- Bringing scenes up to date ---------------------------------------------------------------------------


def own_scenes() -> Iterator[bpy.types.Scene]:
    """Scenes that hold a design which may be changed."""
    return (scene for scene in bpy.data.scenes if scene.grainstack.document and scene.library is None)


def bring_up_to_date(scene: bpy.types.Scene) -> None:
    """All of it at once, for operators: objects, meshes, findings.

    Raises:
        UnusableInput: what the scene says cannot be a design; it shows the last one that could.
    """
    working, _State.working = _State.working, True
    try:
        adopt(scene)
        opened = views.design_of(scene)
        views.update(scene, opened)
        views.settle(scene, opened)
        scene.grainstack.trouble = ""
    finally:
        _State.working = working


def catch_up(*, rest: bool = True, structure: bool = True) -> bool:
    """Bring all scenes up to date, as the timer does; returns whether nothing is left to do.

    rest: the maker's hand rests, so there is time for findings. structure: no tool is at work, so objects may be
    created and removed. What stands in the way is told in the scene's sidebar.
    """
    if _State.working or _State.rendering or bpy.app.is_job_running("RENDER"):
        return False
    _State.working, _State.dirty = True, False
    try:
        return min([_catch_up(scene, rest, structure) for scene in own_scenes()], default=True)
    finally:
        _State.working = False


def _catch_up(scene: bpy.types.Scene, rest: bool, structure: bool) -> bool:
    settings = scene.grainstack
    try:
        if structure:
            adopt(scene)
            select_outlines(scene)
        opened = views.design_of(scene)
        done = views.update(scene, opened, structure=structure)
        if rest and structure and settings.checked != opened.fingerprint:
            views.settle(scene, opened)
    except UnusableInput as error:
        if settings.trouble != str(error):
            settings.trouble = str(error)
        return True  # until something changes again
    if settings.trouble and done and settings.shown == settings.view:
        settings.trouble = ""
    return done and settings.checked == opened.fingerprint


def adopt(scene: bpy.types.Scene) -> None:
    """Give copies an id of their own, and every piece its place in the order."""
    taken: set[str] = set()
    for place, item in enumerate(conversion.piece_objects(scene)):
        mark = item.grainstack
        if item.library is None and item.override_library is None:
            if mark.id.lower() in taken:
                mark.id = free_id(mark.id, {other.grainstack.id for other in conversion.piece_objects(scene)})
                item.name = mark.id
            if mark.order != place:
                mark.order = place
        taken.add(mark.id.lower())


def free_id(wanted: str, taken: set[str]) -> str:
    """The id itself, or with the first free number behind it."""
    used = {name.lower() for name in taken}
    if wanted.lower() not in used:
        return wanted
    stem = re.sub(r"-\d+$", "", wanted)[:56]
    return next(name for number in range(2, 100_000) if (name := f"{stem}-{number}").lower() not in used)


def select_outlines(scene: bpy.types.Scene) -> None:
    """Who clicks an insert means its piece: select the outline instead, which is what can be moved and edited."""
    layer = next((w.view_layer for w in bpy.context.window_manager.windows if w.scene == scene), None)
    layer = layer or (bpy.context.view_layer if bpy.context.scene == scene else None)
    active = layer.objects.active if layer else None
    if active is None or active.grainstack.kind != "insert" or active.mode != "OBJECT" or not active.select_get():
        return
    outlines = {item.grainstack.id: item for item in conversion.piece_objects(scene)}
    for item in [item for item in layer.objects if item.grainstack.kind == "insert" and item.select_get()]:
        item.select_set(False)
        outline = outlines.get(item.grainstack.id)
        if outline is not None and outline.name in layer.objects and not outline.hide_get():
            outline.select_set(True)
            if item == active:
                layer.objects.active = outline


# --- When -------------------------------------------------------------------------------------------------


def mark() -> None:
    """Something may have changed: look soon."""
    _State.dirty = True
    _State.changed_at = time.monotonic()
    if not bpy.app.timers.is_registered(_tick):
        bpy.app.timers.register(_tick, first_interval=SOON, persistent=True)


def _tick() -> float | None:
    """The one timer; it sleeps when there is nothing to do."""
    if _State.rendering or bpy.app.is_job_running("RENDER"):
        return LATER
    start = time.monotonic()
    rested = start - _State.changed_at >= LATER
    busy = _tool_at_work()
    done = catch_up(rest=rested and not busy, structure=not busy)
    if done and not _State.dirty:
        return None
    if _State.dirty:
        return min(SOON + (time.monotonic() - start) / 2, SLOWEST)
    return LATER


def _tool_at_work() -> bool:
    """Whether the maker is dragging, say; tools hold on to what they work at, so objects must stay."""
    return any(len(window.modal_operators) for window in bpy.context.window_manager.windows)


@bpy.app.handlers.persistent
def _scene_changed(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph | None = None) -> None:
    if not _State.working and not _State.rendering and scene.grainstack.document:
        mark()


@bpy.app.handlers.persistent
def _time_travelled(*_: object) -> None:
    mark()


@bpy.app.handlers.persistent
def _file_loaded(*_: object) -> None:
    _State.rendering = _State.working = False
    conversion.forget_all()
    mark()


@bpy.app.handlers.persistent
def _render_began(*_: object) -> None:
    _State.rendering = True


@bpy.app.handlers.persistent
def _render_ended(*_: object) -> None:
    _State.rendering = False
    mark()


HANDLERS = (
    ("depsgraph_update_post", _scene_changed),
    ("undo_post", _time_travelled),
    ("redo_post", _time_travelled),
    ("load_post", _file_loaded),
    ("render_init", _render_began),
    ("render_complete", _render_ended),
    ("render_cancel", _render_ended),
)


def register() -> None:
    """Start watching."""
    _State.dirty = _State.working = _State.rendering = False
    changes.listeners.append(mark)
    for name, handler in HANDLERS:
        getattr(bpy.app.handlers, name).append(handler)


def unregister() -> None:
    """Stop, and leave nothing behind."""
    for name, handler in reversed(HANDLERS):
        handlers = getattr(bpy.app.handlers, name)
        if handler in handlers:
            handlers.remove(handler)
    if mark in changes.listeners:
        changes.listeners.remove(mark)
    if bpy.app.timers.is_registered(_tick):
        bpy.app.timers.unregister(_tick)
    designs.forget_all()
    conversion.forget_all()
    scenes.forget_all()
