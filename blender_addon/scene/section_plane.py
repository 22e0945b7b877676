"""The plane that the section is cut along: an object that the maker drags and turns about z.

Until it is moved it follows the busiest cut. Its arrows point at the half that stays, as it is looked at. It is no
part of the design, and no file of a design knows it.
"""

from __future__ import annotations

import math

import bpy
import numpy as np

from ...core.design import Point
from ...core.views.section import line_across
from ..designs import OpenDesign
from ..meshes import fill_edges
from ..units import METRES
from . import objects as scenes

BEYOND, ARROW = 12.0, 30.0
"""mm: how far the outline stands out round the panel, and the length of its arrows."""

Line = tuple[Point, Point]


def plane_of(scene: bpy.types.Scene) -> bpy.types.Object | None:
    """The scene's section plane; None where it was deleted and is not made again yet."""
    return next((item for item in scenes.own_objects(scene) if item.grainstack.kind == "plane"), None)


def line_of(scene: bpy.types.Scene, opened: OpenDesign) -> Line:
    """Where it cuts the panel; the line's left side stays.

    Raises:
        UnusableInput: it lies beside the panel.
    """
    item = plane_of(scene)
    if item is None or not item.grainstack.drawn:
        return opened.cut.line
    x, y, angle = pose_of(item)
    return line_across(opened.stack, (x, y), angle)


def pose_text(scene: bpy.types.Scene) -> str:
    """A key that stays as long as the plane stays where it is."""
    item = plane_of(scene)
    return "" if item is None else _text(item)


def is_automatic(item: bpy.types.Object) -> bool:
    """Whether it stands where it was put, not where the maker moved it."""
    return item.grainstack.drawn in ("", _text(item))


def aim(scene: bpy.types.Scene, opened: OpenDesign, *, anyway: bool = False) -> None:
    """Put it where the cut is busiest, unless the maker moved it."""
    item = plane_of(scene)
    if item is None or item.library or not (anyway or is_automatic(item)):
        return
    (x0, y0), (x1, y1) = opened.cut.line
    place(item, (x0 + x1) / 2, (y0 + y1) / 2, math.degrees(math.atan2(y1 - y0, x1 - x0)))
    if item.grainstack.drawn != _text(item):
        item.grainstack.drawn = _text(item)


def draw(item: bpy.types.Object, opened: OpenDesign, line: Line) -> None:
    """Draw its outline across the panel, and the arrows."""
    if item.mode == "EDIT" or item.library:
        return
    x, y, angle = pose_of(item)
    way = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
    start, end = sorted(float(way @ (np.array(point) - (x, y))) for point in line)
    start, end = start - BEYOND, end + BEYOND
    low, high = -opened.stack.design.panel.thickness - BEYOND / 2, 2 * BEYOND
    corners = [(start, 0.0, low), (end, 0.0, low), (end, 0.0, high), (start, 0.0, high)]
    edges = [(0, 1), (1, 2), (2, 3), (3, 0)]
    for foot, at in ((3, start), (2, end)):
        tip = len(corners)
        barb = 0.25 * ARROW
        corners += [(at, ARROW, high), (at - barb, ARROW - barb, high), (at + barb, ARROW - barb, high)]
        edges += [(foot, tip), (tip, tip + 1), (tip, tip + 2)]
    fill_edges(item.data, np.array(corners, float), np.array(edges))


def pose_of(item: bpy.types.Object) -> tuple[float, float, float]:
    """x, y in mm and the turn about z in degrees."""
    m = item.matrix_basis
    return m[0][3] / METRES, m[1][3] / METRES, math.degrees(math.atan2(m[1][0], m[0][0]))


def _text(item: bpy.types.Object) -> str:
    return " ".join(f"{value:.4f}" for value in pose_of(item))


def place(item: bpy.types.Object, x: float, y: float, angle: float) -> None:
    """Put it at x, y in mm, turned by an angle in degrees."""
    item.rotation_mode = "XYZ"
    item.location = (x * METRES, y * METRES, 0.0)
    item.rotation_euler = (0.0, 0.0, math.radians(angle))
