"""What operators share: whether they may run now, how they say no, and how the wood follows what they did."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from typing import Any

import bpy

from ...core.errors import UnusableInput
from ...core.outlines.place_matrix import shortest
from ..scene import objects as scenes
from ..units import METRES
from ..views import live
from . import fields

OUTLINES = "Outlines"
"""The collection of a design's outlines."""
LENGTH: dict[str, Any] = {"subtype": "DISTANCE", "precision": fields.DIGITS}
"""How a field for a length is made."""


def refuse(operator: bpy.types.Operator, error: UnusableInput) -> set[str]:
    """Tell the maker what is wrong and what to do."""
    operator.report({"ERROR"}, str(error))
    return {"CANCELLED"}


def redraw(context: bpy.types.Context) -> None:
    """Draw all of the window anew: what has changed is no part of the scene."""
    for area in context.screen.areas if context.screen else ():
        area.tag_redraw()


@contextmanager
def progress(context: bpy.types.Context, most: int) -> Iterator[Callable[[str], None]]:
    """What to call after each of about `most` steps, so that the pointer shows how far the work is."""
    manager, steps = context.window_manager, count(1)
    manager.progress_begin(0, most)
    try:
        yield lambda _: manager.progress_update(next(steps))
    finally:
        manager.progress_end()


def follow_up(operator: bpy.types.Operator, scene: bpy.types.Scene, words: str = "") -> set[str]:
    """Let the wood follow what an operator has changed, in its step of undo, and say so.

    Where what the scene says now cannot be a design, that is told instead, and the change stays as a step that can be
    undone: Blender crashes where something was made without one.
    """
    try:
        live.bring_up_to_date(scene)
    except UnusableInput as error:
        scene.grainstack.trouble = str(error)
        operator.report({"WARNING"}, str(error))
    else:
        if words:
            operator.report({"INFO"}, words)
    return {"FINISHED"}


def may_change(cls: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    """Whether objects may be created and removed now."""
    if context.mode != "OBJECT":
        cls.poll_message_set("Switch to Object Mode first")
        return False
    if bpy.app.is_job_running("RENDER"):
        cls.poll_message_set("Wait for the picture that is rendering, or stop it with Esc")
        return False
    if context.scene.library is not None:
        cls.poll_message_set("Open the file that this scene is linked from")
        return False
    return True


def has_design(cls: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    """Whether the scene shows a design."""
    if scenes.is_ours(context.scene):
        return True
    cls.poll_message_set("Open a design first")
    return False


def holds_design(cls: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    """Whether the scene holds a design that can be changed and saved."""
    if context.scene.grainstack.document:
        return True
    cls.poll_message_set("Make a new panel or open a design first")
    return False


def mm(metres: float) -> float:
    """A length from a field, as the shortest number of mm that Blender cannot tell from it."""
    value = shortest(metres, METRES)
    return int(value) if value == round(value) else value
