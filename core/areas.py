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
Shapes = NDArray[np.object_]
FillRule = Literal["nonzero", "evenodd"]

NOISE_AREA = 1e-6
"""Areas below this, mm², are noise: no part, no overlap."""
ARC_TOLERANCE = 0.0002
"""Arcs of round joins and ends keep within this many mm."""
EMPTY = Polygon()

_PAIRS_AT_ONCE = 1_000_000


def quadrant_segments(radius: float, tolerance: float = ARC_TOLERANCE) -> int:
    """Segments per quarter circle that keep the sagitta r (1 - cos(pi / 4n)) within `tolerance`."""
    if radius <= tolerance:
        return 1
    return max(2, math.ceil(math.pi / 4 / math.acos(1 - tolerance / radius)))


def arc_points(points: Array, segments: int) -> float:
    """How many points round joins at the corners of a line (n, 2) have, with so many segments to the quarter circle.

    A corner that turns by an angle gets an arc of that angle on its outer side.
    """
    return float(np.ceil(turns(points) / (math.pi / 2) * segments).sum())


def turns(points: Array) -> Array:
    """Angles (n - 2,), 0 to pi, by which a line (n, 2) turns at its inner points."""
    step = np.diff(points, axis=0)
    before, after = step[:-1], step[1:]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turned: Array = np.abs(np.arctan2(cross, np.sum(before * after, axis=1)))
    return turned


def without_noise(shape: BaseGeometry) -> Polygon | MultiPolygon:
    """The polygons of a shape whose area is no noise, as one geometry."""
    clean: Polygon | MultiPolygon = all_without_noise(np.array([shape], dtype=object))[0]
    return clean


def all_without_noise(shapes: Shapes) -> Shapes:
    """The polygons of each shape (n,) whose area is no noise, as one geometry."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    kept = (shapely.get_dimensions(parts) == 2) & (shapely.area(parts) > NOISE_AREA)
    parts, owner = parts[kept], owner[kept]
    made = np.full(len(shapes), EMPTY, dtype=object)
    made[owner] = parts  # right where there is one
    several = np.flatnonzero(np.bincount(owner, minlength=len(shapes)) > 1)
    among = np.isin(owner, several)
    if len(several):
        made[several] = shapely.multipolygons(parts[among], indices=np.searchsorted(several, owner[among]))
    return made


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
    if len(points) * len(starts) > _PAIRS_AT_ONCE:
        return _winding_by_rays(points, starts, ends)
    which, edge = np.divmod(np.arange(len(points) * len(starts)), len(starts))
    return _winding(points, starts, ends, which, edge)


def _winding_by_rays(points: Array, starts: Array, ends: Array) -> NDArray[np.int64]:
    """Looks only at edges that the ray to the right of each point may meet."""
    tree = shapely.STRtree(shapely.linestrings(np.stack([starts, ends], axis=1)))
    right = max(float(starts[:, 0].max()), float(points[:, 0].max())) + 1.0
    winding = np.zeros(len(points), np.int64)
    first, count = 0, 16
    while first < len(points):
        some = points[first : first + count]
        rays = np.stack([some, np.column_stack([np.full(len(some), right), some[:, 1]])], axis=1)
        which, edge = tree.query(shapely.linestrings(rays))
        winding[first : first + count] = _winding(some, starts, ends, which, edge)
        first += count
        count = max(1, min(2 * count, _PAIRS_AT_ONCE * count // max(1, len(which))))
    return winding


def _winding(
    points: Array, starts: Array, ends: Array, which: NDArray[np.int64], edge: NDArray[np.int64]
) -> NDArray[np.int64]:
    """The winding numbers, from pairs of a point and an edge."""
    (x, y), (x0, y0), (x1, y1) = points[which].T, starts[edge].T, ends[edge].T
    left = (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)
    upward = (y0 <= y) & (y1 > y) & (left > 0)
    downward = (y0 > y) & (y1 <= y) & (left < 0)
    turns_up = upward.astype(np.float64) - downward
    return np.bincount(which, turns_up, minlength=len(points)).astype(np.int64)
