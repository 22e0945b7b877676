"""An arrow along the grain of each selected piece, drawn over the viewport; nothing in the scene."""

from __future__ import annotations

import math

import bpy
import gpu
from gpu_extras.batch import batch_for_shader

from .. import designs
from ..units import METRES

COLOUR = (1.0, 0.75, 0.2, 1.0)
HEAD = 0.2
"""Share of the arrow's length."""
WIDTH = 2.0

Point = tuple[float, float]

_handle: object | None = None


def lines(scene: bpy.types.Scene, selected: set[str]) -> list[tuple[float, float, float]]:
    """Ends of the arrows' lines in Blender's units, two by two, just above the wood."""
    opened = designs.known(scene.grainstack.fingerprint)
    points: list[tuple[float, float, float]] = []
    for placed in opened.stack.pieces if opened else ():
        if placed.piece.id not in selected or placed.outline.is_empty or placed.centre_line is not None:
            continue
        x0, y0, x1, y1 = placed.outline.bounds
        half = 0.3 * min(x1 - x0, y1 - y0)
        for start, end in _arrow((x0 + x1) / 2, (y0 + y1) / 2, math.radians(placed.grain), half):
            points += [(x * METRES, y * METRES, (max(placed.top, 0.0) + 0.1) * METRES) for x, y in (start, end)]
    return points


def _arrow(x: float, y: float, angle: float, half: float) -> list[tuple[Point, Point]]:
    """Pointed at both ends: grain has a direction, but no sense."""
    ends = [(x + side * half * math.cos(angle), y + side * half * math.sin(angle)) for side in (-1, 1)]
    drawn = [(ends[0], ends[1])]
    for side, tip in zip((-1, 1), ends, strict=True):
        barb = side * HEAD * 2 * half
        backs = (angle - 0.5, angle + 0.5)
        drawn += [(tip, (tip[0] - barb * math.cos(back), tip[1] - barb * math.sin(back))) for back in backs]
    return drawn


def draw() -> None:
    """Called by Blender for every viewport; off with its overlays."""
    context = bpy.context
    scene, space = context.scene, context.space_data
    if not scene.grainstack.document or space is None or not space.overlay.show_overlays:
        return
    selected = {item.grainstack.id for item in context.selected_objects if item.grainstack.kind == "outline"}
    points = lines(scene, selected) if selected else []
    if not points:
        return
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    shader.uniform_float("lineWidth", WIDTH * context.preferences.system.ui_scale)
    shader.uniform_float("color", COLOUR)
    batch_for_shader(shader, "LINES", {"pos": points}).draw(shader)


def register() -> None:
    """Draw from now on."""
    global _handle
    if not bpy.app.background:
        _handle = bpy.types.SpaceView3D.draw_handler_add(draw, (), "WINDOW", "POST_VIEW")


def unregister() -> None:
    """Draw no more."""
    global _handle
    if _handle is not None:
        bpy.types.SpaceView3D.draw_handler_remove(_handle, "WINDOW")
        _handle = None
