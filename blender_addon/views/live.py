"""Keeps the wood in line with the design while the maker works.

Handlers only raise a flag. One timer looks at it, reads what the scenes say, and refills the meshes that differ; when
the maker's hand rests it checks the design again. The timer itself creates nothing: undo keeps what it finds unchanged
between two steps as it is now, and where that pointed at something made after the last step Blender crashes. So what
Blender's own tools made or removed (a copy, a deleted outline) an operator follows, in a step of its own, and fields do
it within theirs. Nothing is kept here that Blender owns.
"""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Iterator
from typing import ClassVar

import bpy

from ...core.errors import UnusableInput
from ...core.faults import told
from .. import designs, guards
from ..scene import conversion
from ..scene import objects as scenes
from ..studio import letters
from . import views

SOON, LATER = 0.02, 0.25
"""Seconds: how soon a change is shown, and how long the hand rests before the design is checked."""
SLOWEST = 0.5
"""A design that takes long to rebuild is rebuilt less often: a third of the time is the maker's, at most so long."""


class _State:
    """Flags, and nothing of Blender's."""

    dirty = False
    working = False
    rendering = False
    travelled = False
    changed_at = 0.0
    resting: ClassVar[dict[str, str]] = {}
    """What each scene says since undo or redo, until the maker changes something."""


# --- Bringing scenes up to date ---------------------------------------------------------------------------


def own_scenes() -> Iterator[bpy.types.Scene]:
    """Scenes that hold a design which may be changed."""
    return (scene for scene in bpy.data.scenes if scene.grainstack.document and scene.library is None)


def bring_up_to_date(scene: bpy.types.Scene) -> None:
    """All of it at once, within a step of undo: objects, meshes, findings, marks.

    A view that cannot be shown of it is told in the sidebar.

    Raises:
        UnusableInput: what the scene says cannot be a design; it shows the last one that could.
    """
    working, _State.working = _State.working, True
    try:
        adopt(scene)
        opened = views.design_of(scene)
        scene.grainstack.trouble = ""
        for bring in (views.make, views.settle, views.restage):
            try:
                bring(scene, opened)
            except UnusableInput as error:
                scene.grainstack.trouble = str(error)
    finally:
        _State.working = working


def follow(scene: bpy.types.Scene) -> None:
    """Follow a field that was set, whose step of undo ends afterwards; the sidebar says what is in the way."""
    if _State.working or _State.rendering or bpy.app.is_job_running("RENDER"):
        schedule()
        return
    try:
        bring_up_to_date(scene)
    except UnusableInput as error:
        scene.grainstack.trouble = str(error)
    except Exception as fault:  # ours; the field keeps what was typed
        scene.grainstack.trouble = told(fault, _doing(scene))


def _doing(scene: bpy.types.Scene) -> str:
    """What a fault has stopped; always the same words, so that the same fault is reported once."""
    return f"bringing {scene.grainstack.design_path or scene.grainstack.title or 'the panel'} up to date"


def catch_up(*, rest: bool = True, idle: bool = True) -> bool:
    """Bring all scenes up to date, as the timer does; returns whether nothing is left to do.

    rest: the maker's hand rests, so there is time for findings. idle: no tool is at work, so an operator may create
    and remove objects, in a step of undo of its own. The sidebar says what stands in the way.
    """
    if _State.working or _State.rendering or bpy.app.is_job_running("RENDER"):
        return False
    _State.working, _State.dirty = True, False
    try:
        done = min([_followed(scene, rest, idle) for scene in own_scenes()], default=True)
        _State.travelled = False
        return done
    finally:
        _State.working = False


def _followed(scene: bpy.types.Scene, rest: bool, idle: bool) -> bool:
    """Bring one scene up to date. After a fault of ours it rests until something changes: the timer lives on."""
    try:
        return _catch_up(scene, rest, idle)
    except Exception as fault:
        line = told(fault, _doing(scene))
        if scene.grainstack.trouble != line:
            print(line, file=sys.stderr)
            scene.grainstack.trouble = line
        return True


def _catch_up(scene: bpy.types.Scene, rest: bool, idle: bool) -> bool:
    settings = scene.grainstack
    try:
        opened = views.design_of(scene)
        if idle and _wants_step(scene, opened):
            _take_over(scene)
        done = views.refill(scene, opened, draft=not rest)
        if idle:
            select_outlines(scene)
        if rest and settings.checked != opened.fingerprint:
            views.settle_again(scene, opened)
        if rest and idle:
            views.mark_again(scene, opened)
    except UnusableInput as error:
        if settings.trouble != str(error):
            settings.trouble = str(error)
        return True  # until something changes again
    if settings.trouble and done and settings.shown == settings.view:
        settings.trouble = ""
    return done and rest and settings.checked == opened.fingerprint


def _wants_step(scene: bpy.types.Scene, opened: designs.OpenDesign) -> bool:
    """Whether Blender's own tools made or removed something that the wood must follow.

    After undo and redo such a step is not taken anew, or there would be no way back past it.
    """
    if _State.travelled:
        _State.resting[scene.name] = opened.fingerprint
    if _State.resting.get(scene.name) == opened.fingerprint:
        return False
    _State.resting.pop(scene.name, None)
    return not _adopted(scene) or not scenes.matches(scene, opened)


def _take_over(scene: bpy.types.Scene) -> None:
    """Take over by an operator, whose step of undo holds what is created."""
    windows = [window for window in bpy.context.window_manager.windows if window.scene == scene]
    place = bpy.context.temp_override(window=windows[0]) if windows else contextlib.nullcontext()
    with place:
        bpy.ops.grainstack.take_over("EXEC_DEFAULT", True, scene=scene.name)


def _adopted(scene: bpy.types.Scene) -> bool:
    items = conversion.piece_objects(scene)
    return [item.grainstack.id for item in items] == conversion.ids_of(items)


def adopt(scene: bpy.types.Scene) -> None:
    """Give copies an id of their own, and every piece a number in the order."""
    items = conversion.piece_objects(scene)
    for place, (item, name) in enumerate(zip(items, conversion.ids_of(items), strict=True)):
        mark = item.grainstack
        if item.library is not None or item.override_library is not None:
            continue
        if mark.id != name:
            mark.id = item.name = name
        if mark.order != place:
            mark.order = place


def select_outlines(scene: bpy.types.Scene) -> None:
    """Who clicks an insert means its piece: select the outline instead, which is what can be moved and edited."""
    layer = next((w.view_layer for w in bpy.context.window_manager.windows if w.scene == scene), None)
    layer = layer or (bpy.context.view_layer if bpy.context.scene == scene else None)
    if layer is None:
        return
    active = layer.objects.active
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


def schedule() -> None:
    """Let the timer look soon: something may have changed."""
    _State.dirty = True
    _State.changed_at = time.monotonic()
    if not bpy.app.timers.is_registered(_tick):
        bpy.app.timers.register(_tick, first_interval=SOON, persistent=True)


@guards.timer("following the design")
def _tick() -> float | None:
    """The one timer; it sleeps when there is nothing to do."""
    if _State.rendering or bpy.app.is_job_running("RENDER"):
        return LATER
    start = time.monotonic()
    rested = start - _State.changed_at >= LATER
    busy = _tool_at_work() or bpy.context.mode != "OBJECT"
    done = catch_up(rest=rested, idle=not busy)
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
        schedule()


@bpy.app.handlers.persistent
def _time_travelled(*_: object) -> None:
    _State.travelled = True
    schedule()


@bpy.app.handlers.persistent
def _file_loaded(*_: object) -> None:
    _State.rendering = _State.working = _State.travelled = False
    _State.resting.clear()
    conversion.forget_all()
    schedule()


@bpy.app.handlers.persistent
def _render_began(*_: object) -> None:
    _State.rendering = True


@bpy.app.handlers.persistent
def _render_ended(*_: object) -> None:
    _State.rendering = False
    schedule()


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
    _State.dirty = _State.working = _State.rendering = _State.travelled = False
    _State.resting.clear()
    for name, handler in HANDLERS:
        getattr(bpy.app.handlers, name).append(handler)


def unregister() -> None:
    """Stop, and leave nothing behind."""
    for name, handler in reversed(HANDLERS):
        handlers = getattr(bpy.app.handlers, name)
        if handler in handlers:
            handlers.remove(handler)
    if bpy.app.timers.is_registered(_tick):
        bpy.app.timers.unregister(_tick)
    designs.forget_all()
    conversion.forget_all()
    scenes.forget_all()
    letters.forget_all()
