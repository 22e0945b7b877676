"""A softened top edge, for display only: edges of sawn and sanded wood catch the light."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely

from .closed_mesh import ClosedMesh, Surface
from .pinches import split_pinches
from .triangulate import triangulate

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_LEVEL = 1e-8
"""Heights that differ by less, mm, are one face: where walls lean they are computed, and carry noise."""


def soften_top(mesh: ClosedMesh, size: float) -> ClosedMesh:
    """A chamfer of `size` mm, down and inwards, round the mesh's highest top face; the mesh stays closed."""
    if not len(mesh.triangles):
        return mesh
    highest = mesh.vertices[:, 2].max()
    is_top = (mesh.surface == Surface.TOP) & (mesh.vertices[mesh.triangles, 2] > highest - _LEVEL).all(axis=1)
    if not is_top.any():
        return mesh
    vertices, all_triangles = _welded(mesh.vertices, mesh.triangles.astype(np.int64))
    rim = _rim_edges(all_triangles[is_top], len(vertices))
    caps, extra = _chamfered_cap(vertices[:, :2], rim, size)
    lowered = vertices.copy()
    lowered[rim[:, 0], 2] -= _drops(vertices, rim[:, 0], size)
    inner = np.column_stack([extra, np.full(len(extra), highest)])
    vertices, triangles = np.concatenate([lowered, inner]), np.concatenate([all_triangles[~is_top], caps])
    surface = np.concatenate([mesh.surface[~is_top], np.full(len(caps), Surface.TOP, np.uint8)])
    if len(lowered) < len(mesh.vertices):
        vertices, triangles, source = split_pinches(vertices, triangles)
        surface = surface[source]
    return _without_unused(ClosedMesh(vertices, triangles.astype(np.int32), surface, mesh.dust))


def _welded(vertices: Array, triangles: Ints) -> tuple[Array, Ints]:
    """The mesh with all vertices at one place made one, as they were before pinches were split."""
    order = np.lexsort(vertices.T)
    new = np.ones(len(order), dtype=bool)
    new[1:] = np.any(np.diff(vertices[order], axis=0) != 0, axis=1)
    if new.all():
        return vertices, triangles
    number = np.empty(len(order), dtype=np.int64)
    number[order] = np.cumsum(new) - 1
    return vertices[order][new], number[triangles]


def _drops(vertices: Array, rim: Ints, size: float) -> Array:
    """How far each vertex of a rim goes down: at most half way to the next vertex below it."""
    order = np.lexsort(vertices.T[[2, 1, 0]])
    places = vertices[order]
    step = np.full(len(order), np.ptp(vertices[:, 2]))
    above = np.all(places[1:, :2] == places[:-1, :2], axis=1)
    step[order[1:][above]] = np.diff(places[:, 2])[above]
    return np.minimum(size, step[rim] / 2)


def _rim_edges(triangles: Ints, count: int) -> Ints:
    """Directed edges (e, 2) of a patch of triangles that no other triangle of the patch shares."""
    start, end = triangles.reshape(-1), np.roll(triangles, -1, axis=1).reshape(-1)
    lonely = ~np.isin(start * count + end, end * count + start)
    return np.stack([start[lonely], end[lonely]], axis=1)


def _chamfered_cap(points: Array, rim: Ints, size: float) -> tuple[Ints, Array]:
    """Triangles that fill a rim, by way of a ring `size` further in; and the new points of that ring."""
    face = shapely.build_area(shapely.multilinestrings(shapely.linestrings(points[rim])))
    inner = shapely.buffer(face, -size, join_style="mitre", mitre_limit=2.0)
    flat = [shapely.difference(face, inner), inner]
    index = {position: int(i) for i, position in zip(rim[:, 0], map(tuple, points[rim[:, 0]].tolist()), strict=True)}
    known = len(index)
    extra: list[tuple[float, float]] = []
    triangles = [np.empty((0, 3), np.int64)]
    for polygon in shapely.get_parts(shapely.orient_polygons(np.array(flat, dtype=object))):
        if polygon.is_empty:
            continue
        rings = [shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors)]
        corners = np.concatenate(rings)
        ends = np.cumsum([len(ring) for ring in rings]).astype(np.uint32)
        numbers = []
        for position in map(tuple, corners.tolist()):
            if position not in index:
                index[position] = len(points) + len(index) - known
                extra.append(position)
            numbers.append(index[position])
        triangles.append(np.array(numbers, dtype=np.int64)[triangulate(corners, ends)])
    return np.concatenate(triangles), np.array(extra, dtype=float).reshape(-1, 2)


def _without_unused(mesh: ClosedMesh) -> ClosedMesh:
    used = np.zeros(len(mesh.vertices), dtype=bool)
    used[mesh.triangles.reshape(-1)] = True
    number = np.cumsum(used) - 1
    return ClosedMesh(mesh.vertices[used], number[mesh.triangles].astype(np.int32), mesh.surface, mesh.dust)
