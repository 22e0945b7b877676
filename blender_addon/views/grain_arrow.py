"""An arrow along the grain of each selected piece, drawn over the viewport; nothing in the scene."""

from __future__ import annotations

import math

import bpy
import numpy as np

from .. import designs
from ..units import METRES
from .viewport_lines import Drawing, draw_lines, has_overlays

COLOUR = (1.0, 0.75, 0.2, 1.0)
HEAD = 0.2
"""Share of the arrow's length."""
WIDTH = 2.0

Point = tuple[float, float]


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
    scene = context.scene
    if not scene.grainstack.document or not has_overlays(context):
        return
    selected = {item.grainstack.id for item in context.selected_objects if item.grainstack.kind == "outline"}
    points = lines(scene, selected) if selected else []
    if points:
        draw_lines([(np.array(points), COLOUR, WIDTH)])


drawing = Drawing(draw)
