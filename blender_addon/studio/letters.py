"""Words as triangles, in the one font that Blender brings.

So a sheet full of words is one mesh, made in a moment. The pen that writes them is an object of the studio's, kept:
it makes no other datablock, so that a timer may write, too.
"""

from __future__ import annotations

import bpy
import numpy as np
from numpy.typing import NDArray

FINENESS = 5
"""Resolution of the letters' curves: smooth even when a letter is a hundred pixels high."""
MOST_KEPT = 4096

Written = tuple[NDArray[np.float64], NDArray[np.int32]]
"""Corners (n, 2), for letters of size 1 whose baseline starts at 0, and triangles (m, 3)."""

_kept: dict[str, Written] = {}


def new_pen(name: str) -> bpy.types.Object:
    """What writes; it is in no collection yet."""
    curve = bpy.data.curves.new(name, "FONT")
    curve.resolution_u = FINENESS
    item = bpy.data.objects.new(name, curve)
    item.hide_viewport = item.hide_render = item.hide_select = True
    return item


def written(pen: bpy.types.Object, words: str) -> Written:
    """The triangles of some words."""
    if words not in _kept:
        if len(_kept) >= MOST_KEPT:
            _kept.clear()
        _kept[words] = _write(pen, words)
    return _kept[words]


def _write(pen: bpy.types.Object, words: str) -> Written:
    pen.data.body = words
    mesh = pen.to_mesh()
    mesh.calc_loop_triangles()
    corners = np.empty(3 * len(mesh.vertices), np.float32)
    triangles = np.empty(3 * len(mesh.loop_triangles), np.int32)
    mesh.vertices.foreach_get("co", corners)
    mesh.loop_triangles.foreach_get("vertices", triangles)
    pen.to_mesh_clear()
    return corners.reshape(-1, 3)[:, :2].astype(np.float64), triangles.reshape(-1, 3)


def forget_all() -> None:
    """Free what is kept."""
    _kept.clear()
