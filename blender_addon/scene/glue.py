"""Glue in the gaps between inserts and pockets, in the colour that the workshop gives it."""

from __future__ import annotations

import bpy

from ...core.solids.triangulate import triangulate_shape
from ...core.views.glue_lines import glue_lines
from .. import meshes
from ..designs import SOFT_EDGE, OpenDesign


def fill_lines(item: bpy.types.Object, opened: OpenDesign, *, draft: bool = False) -> None:
    """Fill the gaps of the finished face, where the object does not hold them already.

    The glue lies as deep as softened edges reach, so that what is seen between them is as wide as the gap.
    draft: leave what is old for now, and hide it.
    """
    mesh, old = item.data, item.data.grainstack.stamp != opened.fingerprint
    if old and not draft and item.mode != "EDIT":
        lines = glue_lines(opened.stack)
        if lines.is_empty:
            meshes.empty(mesh)
        else:
            height = -opened.stack.design.panel.face_trim - SOFT_EDGE
            meshes.fill_faces(mesh, [triangulate_shape(lines)], height)
        mesh.grainstack.stamp = opened.fingerprint
        old = False
    if item.hide_viewport != old:
        item.hide_viewport = item.hide_render = old
