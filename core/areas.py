"""Plane areas as shapely polygons: what is noise, and what a set of rings encloses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]
FillRule = Literal["nonzero", "evenodd"]

NOISE_AREA = 1e-6
"""Areas below this, mm², are noise: no part, no overlap."""
ARC_TOLERANCE = 0.0002
"""Arcs of round joins and ends keep within this many mm."""
EMPTY = Polygon()

_PAIRS_AT_ONCE = 4_000_000


def quadrant_segments(radius: float, tolerance: float = ARC_TOLERANCE) -> int:
    """Segments per quarter circle that keep the sagitta r (1 - cos(pi / 4n)) within `tolerance`."""
    if radius <= tolerance:
        return 1
    return max(2, math.ceil(math.pi / 4 / math.acos(1 - tolerance / radius)))


def without_noise(shape: BaseGeometry) -> Polygon | MultiPolygon:
    """The polygons of a shape whose area is no noise, as one geometry."""
    parts = shapely.get_parts(shape)
    parts = parts[(shapely.get_dimensions(parts) == 2) & (shapely.area(parts) > NOISE_AREA)]
    if len(parts) == 1:
        single: Polygon = parts[0]
        return single
    return MultiPolygon(list(parts)) if len(parts) else EMPTY


def filled(rings: Sequence[Array], rule: FillRule) -> Polygon | MultiPolygon:
    """What rings of points (n, 2) enclose by a fill rule, however they cross themselves and each other.

    The rings are cut at their crossings, and of the faces between them those are kept whose winding number
    is not zero, or odd. Areas that are noise are left out.
    """
    sound = [ring for ring in rings if len(ring) >= 3]
    if not sound:
        return EMPTY
    if len(sound) == 1:
        simple = Polygon(sound[0])
        if simple.is_valid:
            return without_noise(simple)
    lines = shapely.union_all([shapely.linearrings(ring) for ring in sound])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    faces = faces[shapely.area(faces) > 0]
    if not len(faces):
        return EMPTY
    winding = winding_numbers(shapely.get_coordinates(shapely.point_on_surface(faces)), sound)
    inside = winding != 0 if rule == "nonzero" else winding % 2 == 1
    return without_noise(shapely.union_all(faces[inside]))


def winding_numbers(points: Array, rings: Sequence[Array]) -> NDArray[np.int64]:
    """How often the rings wind counter-clockwise round each of the points (m, 2).

    Each ring, (n, 2), is closed by itself. Counted are the edges that cross the ray to the right of a point,
    upward less downward.
    """
    starts = np.vstack(rings)
    ends = np.vstack([np.roll(ring, -1, axis=0) for ring in rings])
    step = ends - starts
    winding = np.zeros(len(points), np.int64)
    at_once = max(1, _PAIRS_AT_ONCE // len(starts))
    for first in range(0, len(points), at_once):
        x, y = points[first : first + at_once, :, None].transpose(1, 0, 2)
        left = step[:, 0] * (y - starts[:, 1]) - step[:, 1] * (x - starts[:, 0])
        upward = (starts[:, 1] <= y) & (ends[:, 1] > y) & (left > 0)
        downward = (starts[:, 1] > y) & (ends[:, 1] <= y) & (left < 0)
        winding[first : first + at_once] = upward.sum(axis=1) - downward.sum(axis=1)
    return winding
