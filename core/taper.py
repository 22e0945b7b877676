"""Leaning walls: sections of a pocket or insert whose walls lean in with depth."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

Array = npt.NDArray[np.float64]


def lean(taper: float, depth: float) -> float:
    """How far a wall has moved in at a depth, mm: depth x tan(taper)."""
    return depth * math.tan(math.radians(taper))


def section_at(shape: BaseGeometry, taper: float, depth: float) -> BaseGeometry:
    """The section at a depth of a solid whose walls lean in from `shape` at the face; holes grow."""
    if taper == 0 or depth == 0 or shape.is_empty:
        return shape
    return inset(shape, lean(taper, depth))


def inset(shape: BaseGeometry, distance: float) -> BaseGeometry:
    """Each vertex moved inwards along its mitre, so that every edge moves in parallel by `distance`.

    Rings keep their vertices one to one. This is the exact wall as long as no edge collapses, which holds
    where the shape is open and closed for a radius larger than `distance`.
    """
    rings = [shapely.linestrings(inset_ring(ring, distance)) for ring in oriented_rings(shape)]
    moved: BaseGeometry = shapely.build_area(shapely.multilinestrings(rings))
    return moved


def oriented_rings(shape: BaseGeometry) -> list[Array]:
    """All rings of a shape, closed, with the shape to their left."""
    polygons = shapely.get_parts(shapely.orient_polygons(shape))
    return [shapely.get_coordinates(ring) for p in polygons for ring in (p.exterior, *p.interiors)]


def inset_ring(ring: Array, distance: float) -> Array:
    """A closed ring (n + 1, 2), its inside to the left, moved inwards; (n + 1, 2) again, vertex by vertex."""
    points = ring[:-1]
    forward = np.roll(points, -1, axis=0) - points
    forward /= np.hypot(*forward.T)[:, None]
    left = np.stack([-forward[:, 1], forward[:, 0]], axis=1)
    before = np.roll(left, 1, axis=0)
    mitre = (before + left) / (1 + np.sum(before * left, axis=1))[:, None]
    moved = points + distance * mitre
    return np.concatenate([moved, moved[:1]])
