"""Cutting a closed mesh along lines across which it has a number: how glued-up blanks get their joints.

Every triangle that a level crosses is cut, and triangles that share an edge share the new vertex, so that the mesh
stays closed and keeps its volume.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

NEAR = 1e-7
"""A vertex as near to a level as this lies on it, mm."""


def cut_at(
    vertices: Array, triangles: npt.NDArray[np.int32], heights: Array, levels: Sequence[float]
) -> tuple[Array, npt.NDArray[np.int32], Ints, Ints]:
    """A mesh cut wherever its height crosses one of the levels.

    Args:
        vertices: (n, 3), mm.
        triangles: (m, 3).
        heights: (n,), mm; linear over every triangle.
        levels: ascending.

    Returns:
        The vertices, new ones behind the old; the triangles; for each the triangle that it is a part of, and the
        number of levels below it.
    """
    points = np.column_stack([vertices, heights])
    faces, source = triangles.astype(np.int64), np.arange(len(triangles))
    for level in levels:
        points, faces, source = _cut(points, faces, source, level)
    band = np.searchsorted(np.asarray(levels, float), points[faces, 3].mean(axis=1))
    return points[:, :3], faces.astype(np.int32), source, band


def _cut(points: Array, faces: Ints, source: Ints, level: float) -> tuple[Array, Ints, Ints]:
    away = points[:, 3] - level
    side = np.where(np.abs(away) <= NEAR, 0, np.sign(away)).astype(np.int64)
    sides = side[faces]
    crossed = (sides.min(axis=1) < 0) & (sides.max(axis=1) > 0)
    if not crossed.any():
        return points, faces, source
    through = crossed & (sides == 0).any(axis=1)
    rest = ~crossed
    points, corner, one, other = _crossings(points, away, side, faces[crossed])
    count = len(away)
    made = [faces[rest]]
    origin = [source[rest]]
    for kind in (True, False):
        chosen = through[crossed] == kind
        if chosen.any():
            parts = (_halves if kind else _thirds)(corner[chosen], one[chosen] + count, other[chosen] + count)
            made += parts
            origin += [source[crossed][chosen]] * len(parts)
    return points, np.concatenate(made), np.concatenate(origin)


def _crossings(points: Array, away: Array, side: Ints, faces: Ints) -> tuple[Array, Ints, Ints, Ints]:
    """The points with one more for each edge that is crossed; the faces turned so that their first corner is alone on
    its side (where a corner lies on the level: so that the second does); which new point lies on their first edge (the
    edge from third to first, where the second corner lies on the level) and on the edge from third to first."""
    sides = side[faces]
    total = sides.sum(axis=1)
    on = (sides == 0).any(axis=1)
    first = np.where(on, (np.argmax(sides == 0, axis=1) + 2) % 3, np.argmax(sides == -total[:, None], axis=1))
    turned = np.take_along_axis(faces, (first[:, None] + np.arange(3)) % 3, axis=1)
    a, b, c = turned.T
    near = np.where(on, c, b)
    ends = np.sort(np.concatenate([np.column_stack([a, near]), np.column_stack([a, c])]), axis=1)
    edges, number = np.unique(ends, axis=0, return_inverse=True)
    number = number.reshape(-1)
    low, high = edges.T
    share = (away[low] / (away[low] - away[high]))[:, None]
    fresh = points[low] + share * (points[high] - points[low])
    fresh[:, 3] = points[low, 3] - away[low]
    return np.vstack([points, fresh]), turned, number[: len(faces)], number[len(faces) :]


def _thirds(corner: Ints, one: Ints, other: Ints) -> list[Ints]:
    """The corner that is alone, and the quadrilateral that is left."""
    a, b, c = corner.T
    return [np.column_stack(each) for each in ((a, one, other), (one, b, c), (one, c, other))]


def _halves(corner: Ints, one: Ints, other: Ints) -> list[Ints]:
    """Two triangles about the corner that lies on the level, which is the second one."""
    a, b, c = corner.T
    return [np.column_stack(each) for each in ((a, b, other), (other, b, c))]
