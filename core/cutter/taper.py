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
    with np.errstate(divide="ignore", invalid="ignore"):  # where a ring turns back on itself its mitre has no end
        mitre = (before + left) / (1 + np.sum(before * left, axis=1))[:, None]
        moved = points + distance * mitre
    return np.concatenate([moved, moved[:1]])


def settled(shape: BaseGeometry, inwards: float, outwards: float) -> BaseGeometry | None:
    """The shape made fit to lean: no edge shrinks to nothing anywhere from `outwards` to `inwards` of it.

    Where an arc was flattened unevenly, an edge may be so short that its neighbours' mitres meet before the floor;
    such an edge gives way to the point where its neighbours' lines cross, some 0.0001 mm away.

    Returns:
        The shape, the very same where nothing shrinks away; None where walls of the shape run into each other.
    """
    rings = oriented_rings(shape)
    calm = [_settled_ring(ring, inwards, outwards) for ring in rings]
    if any(ring is None for ring in calm):
        return None
    result: BaseGeometry
    if all(a is b for a, b in zip(rings, calm, strict=True)):
        result = shape
    else:
        result = shapely.build_area(shapely.multilinestrings([shapely.linestrings(ring) for ring in calm]))
    if result.is_empty:  # what gave way was all that there was
        return None
    sound = all(_keeps_its_parts(result, distance) for distance in (0.0, inwards, -outwards))
    return result if sound else None


def _settled_ring(ring: Array, inwards: float, outwards: float) -> Array | None:
    for _ in range(len(ring)):
        collapsed = _collapsed(ring, inwards) | _collapsed(ring, -outwards)
        if not collapsed.any():
            return ring
        if len(ring) < 5:
            return None
        shrunk = _without_edge(ring, int(np.flatnonzero(collapsed)[0]))
        if shrunk is None:
            return None
        ring = shrunk
    return None


def _collapsed(ring: Array, distance: float) -> npt.NDArray[np.bool_]:
    """Which edges turn round, or shrink below a hair, when the ring moves inwards."""
    before = np.diff(ring, axis=0)
    with np.errstate(invalid="ignore"):
        after = np.diff(inset_ring(ring, distance), axis=0)
    stays = np.sum(before * after, axis=1) > 1e-7 * np.hypot(*before.T)
    return np.asarray(~stays)


def _without_edge(ring: Array, edge: int) -> Array | None:
    """The ring with an edge replaced by the crossing of its neighbours' lines; None where that is far away."""
    points = np.roll(ring[:-1], 1 - edge, axis=0)  # the edge runs from points[1] to points[2]
    a, b, c, d = points[:4]
    u, v = b - a, d - c
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) <= 1e-12 * np.hypot(*u) * np.hypot(*v):
        meet = (b + c) / 2
    else:
        w = c - a
        meet = a + u * ((w[0] * v[1] - w[1] * v[0]) / cross)
    if np.hypot(*(meet - (b + c) / 2)) > np.hypot(*(c - b)) + 1e-9:
        return None
    kept = np.concatenate([points[:1], meet[None], points[3:]])
    closed: Array = np.concatenate([kept, kept[:1]])
    return closed


def _keeps_its_parts(shape: BaseGeometry, distance: float) -> bool:
    """Whether the moved rings still bound as many parts and holes, none crossing."""
    polygons = []
    for polygon in shapely.get_parts(shapely.orient_polygons(shape)):
        rings = [inset_ring(shapely.get_coordinates(r), distance) for r in (polygon.exterior, *polygon.interiors)]
        holes = [shapely.linearrings(ring) for ring in rings[1:]]
        polygons.append(shapely.polygons(rings[0], holes or None))
    ok = shapely.is_valid(polygons).all() and shapely.is_valid(shapely.multipolygons(polygons))
    return bool(ok and (shapely.area(polygons) > 0).all())


def stands_proud(oversize: float, taper: float) -> float:
    """How far an insert that is larger than its pocket by `oversize` per side stands proud before it is pressed home.

    mm; endless where the walls are upright. From the right triangle of wall, depth and oversize.
    """
    if oversize <= 0:
        return 0.0
    return oversize / math.tan(math.radians(taper)) if taper > 0 else math.inf


def edge_shift(taper: float, face_trim: float) -> float:
    """How far trimming the face by `face_trim` moves a leaning edge inwards, mm."""
    return lean(taper, face_trim)


def closing_depth(width: float, taper: float) -> float:
    """The depth at which both walls of a pocket so wide at the face meet, mm; endless where they are upright."""
    return width / (2 * math.tan(math.radians(taper))) if taper > 0 else math.inf
