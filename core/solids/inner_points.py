"""A point well inside each face of an arrangement, by which the face gets its label.

A face may have slits and needles far thinner than any wood. A point in or beside one of those says nothing: it may
lie on the other side of a line as that was before it was rounded to the grid.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely

from .arrangement import GRID, Faces
from .triangulate import face_triangles

Array = npt.NDArray[np.float64]

DEEP = 16 * GRID
"""What lies farther than this from all edges of a face, mm, lies on the same side of every line as it was drawn."""


def inner_points(faces: Faces) -> Array:
    """A point (f, 2) inside each face, `DEEP` from its edges wherever it is wide enough for that."""
    points = shapely.point_on_surface(faces.polygons)
    shallow = ~(shapely.distance(shapely.boundary(faces.polygons), points) > DEEP)
    positions: Array = shapely.get_coordinates(points)
    if shallow.any():
        positions[shallow] = _widest_middles(faces, shallow)
    return positions


def _widest_middles(faces: Faces, chosen: npt.NDArray[np.bool_]) -> Array:
    """The middle of the largest circle that lies in one triangle of each chosen face."""
    triangles, face = face_triangles(faces, chosen)
    a, b, c = np.moveaxis(faces.corners[triangles], 1, 0)
    sides = np.stack([np.hypot(*(c - b).T), np.hypot(*(a - c).T), np.hypot(*(b - a).T)], axis=1)
    around = sides.sum(axis=1)
    twice_area = np.abs((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0]))
    order = np.lexsort([twice_area / around, face])  # radius of the incircle = twice the area / perimeter
    widest = order[np.searchsorted(face[order], np.flatnonzero(chosen), side="right") - 1]
    weight = (sides / around[:, None])[widest]
    return np.asarray(weight[:, :1] * a[widest] + weight[:, 1:2] * b[widest] + weight[:, 2:] * c[widest])
