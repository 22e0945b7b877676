"""What the tests of the bench share: ways to look at a design, and to work as a maker does."""

from __future__ import annotations

import json

import bpy
import numpy as np
from grainstack.blender_addon.scene import conversion
from grainstack.blender_addon.views import live


def scene() -> bpy.types.Scene:
    """The scene now: undo makes a new one."""
    return bpy.context.scene


def document() -> dict:
    """What the scene would save."""
    return conversion.read_scene(scene()).document()


def entry(name: str) -> dict:
    """One piece of it."""
    return next(each for each in document()["pieces"] if each["id"] == name)


def ids() -> list[str]:
    """The pieces' ids in order."""
    return [each["id"] for each in document()["pieces"]]


def piece(name: str) -> bpy.types.Object:
    """A piece's outline object."""
    return next(o for o in conversion.piece_objects(scene()) if o.grainstack.id == name)


def insert(name: str) -> bpy.types.Object:
    """A piece's wood."""
    return next(o for o in scene().objects if o.grainstack.kind == "insert" and o.grainstack.id == name)


def corners(item: bpy.types.Object) -> np.ndarray:
    """A mesh's vertices in mm."""
    co = np.empty(3 * len(item.data.vertices), np.float32)
    item.data.vertices.foreach_get("co", co)
    return co.reshape(-1, 3) * 1000


def middle(name: str) -> tuple[float, float]:
    """Middle of an insert's box, mm."""
    points = corners(insert(name))
    x, y, _ = (points.min(axis=0) + points.max(axis=0)) / 2
    return round(float(x), 2), round(float(y), 2)


def meshes() -> dict[str, tuple]:
    """What is seen of every solid, by name."""
    solids = [o for o in scene().objects if o.grainstack.kind in ("background", "insert")]
    return {o.grainstack.id: None if o.hide_render else corners(o).tobytes() for o in solids}


def select(*names: str) -> None:
    """Select just these pieces."""
    for item in scene().objects:
        item.select_set(item.grainstack.kind == "outline" and item.grainstack.id in names)
    bpy.context.view_layer.objects.active = piece(names[-1]) if names else None


def rest() -> None:
    """The maker's hand rests: what the timer does, which never runs without a window."""
    bpy.context.view_layer.update()
    for _ in range(3):
        if live.catch_up():
            return
    raise AssertionError(scene().grainstack.trouble or "never done")


def step(message: str) -> None:
    """End a step of the maker's own, as Blender's tools do."""
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message=message)


def same(one: dict, other: dict) -> bool:
    """Equal in every value, and its kind."""
    return json.dumps(one, sort_keys=True) == json.dumps(other, sort_keys=True)
