"""Flat faces into triangles that use every corner, so that caps and walls share all their edges."""

from __future__ import annotations

import mapbox_earcut
import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from .arrangement import Faces

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


def face_triangles(faces: Faces, chosen: npt.NDArray[np.bool_]) -> tuple[Ints, Ints]:
    """Triangles (t, 3) of the chosen faces of arrangements, as corner numbers, and the face (t,) of each."""
    numbers = np.flatnonzero(chosen)
    ends = faces.ring_starts[1:].astype(np.uint32)
    triangles: list[Ints] = [np.empty((0, 3), np.int64)]
    for first, last in zip(faces.face_rings[numbers].tolist(), faces.face_rings[numbers + 1].tolist(), strict=True):
        begin, end = faces.ring_starts[first], faces.ring_starts[last]
        triangles.append(triangulate(faces.corners[begin:end], ends[first:last] - np.uint32(begin)))
    counts = [len(some) for some in triangles[1:]]
    begins = faces.ring_starts[faces.face_rings[numbers]]
    return np.concatenate(triangles) + np.repeat(begins, counts)[:, None], np.repeat(numbers, counts)


def triangulate(corners: Array, ring_ends: npt.NDArray[np.uint32]) -> Ints:
    """Triangles of one face, counter-clockwise.

    Args:
        corners: (c, 2) the face's closed rings one after another, exterior first.
        ring_ends: (r,) where each ring ends in `corners`.

    Returns:
        (t, 3) indices into `corners`; a face with n distinct corners and h holes has t = n + 2 h - 2.
    """
    triangles: Ints = mapbox_earcut.triangulate_float64(corners, ring_ends).reshape(-1, 3).astype(np.int64)
    if len(triangles) == len(corners) + len(ring_ends) - 4:
        return triangles
    return _constrained_delaunay(corners, ring_ends)  # ear clipping drops collinear corners


def triangulate_shape(shape: BaseGeometry) -> tuple[Array, Ints]:
    """Corners (n, 2) and triangles (t, 3), counter-clockwise, of a polygon or multipolygon."""
    corners, triangles = [np.empty((0, 2))], [np.empty((0, 3), np.int64)]
    count = 0
    for polygon in shapely.get_parts(shape):
        rings = [shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors)]
        ends = np.cumsum([len(ring) for ring in rings])
        number = np.concatenate([np.append(np.arange(len(ring) - 1), 0) for ring in rings])  # the last is the first
        number += np.repeat(np.concatenate([[0], ends[:-1]]) - np.arange(len(rings)), [len(ring) for ring in rings])
        triangles.append(number[triangulate(np.concatenate(rings), ends.astype(np.uint32))] + count)
        corners += [ring[:-1] for ring in rings]
        count += int(ends[-1]) - len(rings)
    return np.concatenate(corners), np.concatenate(triangles)


def _constrained_delaunay(corners: Array, ring_ends: npt.NDArray[np.uint32]) -> Ints:
    rings = [shapely.linearrings(ring) for ring in np.split(corners, ring_ends[:-1].astype(int))]
    polygon = shapely.polygons(rings[0], rings[1:] or None)
    parts = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    parts = shapely.orient_polygons(parts)
    points = shapely.get_coordinates(parts).reshape(-1, 4, 2)[:, :3]
    index = {position: i for i, position in enumerate(map(tuple, corners.tolist()))}
    return np.array([[index[x, y] for x, y in triangle] for triangle in points.tolist()], dtype=np.int64)
