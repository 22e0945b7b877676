"""A softened top edge, for display only: edges of sawn and sanded wood catch the light."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely

from .closed_mesh import ClosedMesh, Surface
from .triangulate import triangulate

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


def soften_top(mesh: ClosedMesh, size: float) -> ClosedMesh:
    """A chamfer of `size` mm, down and inwards, round the mesh's highest top face; the mesh stays closed."""
    if not len(mesh.triangles):
        return mesh
    highest = mesh.vertices[:, 2].max()
    lowest = mesh.vertices[:, 2].min()
    is_top = (mesh.surface == Surface.TOP) & (mesh.vertices[mesh.triangles[:, 0], 2] == highest)
    if not is_top.any():
        return mesh
    rim = _rim_edges(mesh.triangles[is_top].astype(np.int64), len(mesh.vertices))
    down = min(size, (highest - lowest) / 2)
    vertices = mesh.vertices.copy()
    vertices[rim.reshape(-1), 2] = highest - down
    caps, extra = _chamfered_cap(mesh.vertices[:, :2], rim, size)
    inner = np.column_stack([extra, np.full(len(extra), highest)])
    triangles = np.concatenate([mesh.triangles[~is_top], caps.astype(np.int32)])
    surface = np.concatenate([mesh.surface[~is_top], np.full(len(caps), Surface.TOP, np.uint8)])
    return _without_unused(ClosedMesh(np.concatenate([vertices, inner]), triangles, surface))


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
    return ClosedMesh(mesh.vertices[used], number[mesh.triangles].astype(np.int32), mesh.surface)


