"""The one module that writes meshes: Grainstack's millimetres become Blender's metres here."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

import bpy
import numpy as np
from numpy.typing import NDArray

from ..core.boards import log_space
from ..core.boards.figure import Figure
from ..core.solids.closed_mesh import ClosedMesh, Surface
from .units import METRES

SMOOTH_WITHIN = 30.0
"""Degrees: facets of one surface that turn less than this at their edge are one curve."""

LEVEL = 0.99999
"""A face whose normal has at least this z is level."""

LOG, FIBRE, TONE, PHOTO = "log_position", "fibre", "board_tone", "board_place"
"""Point attributes: log coordinates in mm, fibre direction in the object's space, lightness of the board, place on its
photo as shares of width and height."""

FIBRE_LIFT = 0.035
"""The stored fibre leans about 2 degrees, so that it is never exactly the normal of an end and has a tangent there."""


def fill(mesh: bpy.types.Mesh, figure: Figure) -> None:
    """Replace the mesh's geometry by a solid's with its wood; its materials stay."""
    fill_triangles(mesh, figure.mesh.vertices, figure.mesh.triangles)
    mark_sharpness(mesh, figure.mesh)
    if figure.wood.any():
        mesh.polygons.foreach_set("material_index", figure.wood)
    store_figure(mesh, figure)
    mesh.update()


def fill_triangles(mesh: bpy.types.Mesh, vertices: NDArray[np.float64], triangles: NDArray[np.int32]) -> None:
    """Replace the mesh's geometry by triangles over `vertices` (n, 3), in millimetres."""
    mesh.clear_geometry()
    mesh.vertices.add(len(vertices))
    mesh.loops.add(3 * len(triangles))
    mesh.polygons.add(len(triangles))
    mesh.vertices.foreach_set("co", (vertices * METRES).astype(np.float32).ravel())
    mesh.loops.foreach_set("vertex_index", triangles.astype(np.int32).ravel())
    mesh.polygons.foreach_set("loop_start", np.arange(0, 3 * len(triangles), 3, dtype=np.int32))
    mesh.update(calc_edges=True)


def fill_edges(mesh: bpy.types.Mesh, vertices: NDArray[np.float64], edges: NDArray[np.int64]) -> None:
    """Replace the mesh's geometry by edges (m, 2) over `vertices` (n, 3), in millimetres."""
    mesh.clear_geometry()
    mesh.vertices.add(len(vertices))
    mesh.edges.add(len(edges))
    mesh.vertices.foreach_set("co", (vertices * METRES).astype(np.float32).ravel())
    mesh.edges.foreach_set("vertices", edges.astype(np.int32).ravel())
    mesh.update()


def fill_faces(
    mesh: bpy.types.Mesh, faces: Sequence[tuple[NDArray[np.float64], NDArray[np.int64]]], height: float
) -> None:
    """Replace the mesh's geometry by level faces, each its corners (n, 2) and triangles, in millimetres.

    The n-th face gets the n-th material.
    """
    starts = np.cumsum([0, *(len(corners) for corners, _ in faces)])
    corners = np.concatenate([corners for corners, _ in faces])
    triangles = np.concatenate([triangles + start for (_, triangles), start in zip(faces, starts, strict=False)])
    fill_triangles(mesh, np.column_stack([corners, np.full(len(corners), height)]), triangles)
    slots = np.repeat(np.arange(len(faces), dtype=np.int32), [len(triangles) for _, triangles in faces])
    mesh.polygons.foreach_set("material_index", slots)


def fill_polygons(
    mesh: bpy.types.Mesh, points: NDArray[np.float64], faces: Sequence[Sequence[int]], slots: NDArray[np.int32]
) -> None:
    """Replace the mesh's geometry by faces over `points` (n, 3), in Blender units; `slots`: each face's material."""
    mesh.clear_geometry()
    if not len(faces):
        return
    sizes = np.array([len(face) for face in faces])
    mesh.vertices.add(len(points))
    mesh.loops.add(int(sizes.sum()))
    mesh.polygons.add(len(faces))
    mesh.vertices.foreach_set("co", points.astype(np.float32).ravel())
    mesh.loops.foreach_set("vertex_index", np.fromiter(chain.from_iterable(faces), np.int32))
    mesh.polygons.foreach_set("loop_start", np.append(0, np.cumsum(sizes)[:-1]).astype(np.int32))
    mesh.polygons.foreach_set("material_index", slots)
    mesh.update(calc_edges=True)


def fill_ground(mesh: bpy.types.Mesh, low: NDArray[np.float64], high: NDArray[np.float64], height: float) -> None:
    """Replace the mesh's geometry by one level rectangle between two corners (2,), in millimetres."""
    corners = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
    points = np.column_stack([corners, np.full(4, height)]) * METRES
    fill_polygons(mesh, points, [range(4)], np.zeros(1, np.int32))


def empty(mesh: bpy.types.Mesh) -> None:
    """Leave nothing of the mesh's geometry; its materials stay."""
    mesh.clear_geometry()


def mark_sharpness(mesh: bpy.types.Mesh, solid: ClosedMesh) -> None:
    """Walls are smooth round curves; level faces and cut faces are flat.

    Faces meet sharply where their surfaces differ or turn by more than `SMOOTH_WITHIN`. Flat faces are marked as
    such, else the slivers among their triangles, whose normals single precision spoils, would glint.
    """
    normals = _normals(solid)
    level = np.abs(normals[:, 2]) > LEVEL
    flat = mesh.attributes.new("sharp_face", "BOOLEAN", "FACE")
    flat.data.foreach_set("value", level | (solid.surface == Surface.CUT))

    keys, sharp = _sharp_edges(solid, normals)
    ends = np.empty(2 * len(mesh.edges), dtype=np.int32)
    mesh.edges.foreach_get("vertices", ends)
    values = sharp[np.searchsorted(keys, _edge_keys(ends.reshape(-1, 2), len(solid.vertices)))]
    attribute = mesh.attributes.new("sharp_edge", "BOOLEAN", "EDGE")
    attribute.data.foreach_set("value", values)


def _normals(solid: ClosedMesh) -> NDArray[np.float64]:
    """(m, 3) unit normals; zero for a triangle without area."""
    first, second, third = (solid.vertices[solid.triangles[:, corner]] for corner in range(3))
    normals = np.cross(second - first, third - first)
    return normals / np.maximum(np.sqrt(np.einsum("ij,ij->i", normals, normals)), 1e-12)[:, None]


def _sharp_edges(solid: ClosedMesh, normals: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Sorted keys of the solid's edges, and whether each is sharp."""
    triangles = solid.triangles
    sides = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    every_key = _edge_keys(sides, len(solid.vertices))
    order = np.argsort(every_key, kind="stable")
    ranked = every_key[order]
    start = np.flatnonzero(np.append(True, ranked[1:] != ranked[:-1]))
    keys, count = ranked[start], np.diff(np.append(start, len(ranked)))
    one = order[start] // 3
    other = order[np.minimum(start + 1, len(order) - 1)] // 3

    turns = np.einsum("ij,ij->i", normals[one], normals[other]) < np.cos(np.radians(SMOOTH_WITHIN))
    return keys, (count != 2) | (solid.surface[one] != solid.surface[other]) | turns


def _edge_keys(ends: NDArray[np.int32], vertex_count: int) -> NDArray[np.int64]:
    """One number per edge (n, 2), whichever way it runs."""
    one, other = ends[:, 0].astype(np.int64), ends[:, 1].astype(np.int64)
    return np.minimum(one, other) * vertex_count + np.maximum(one, other)


def store_wood_coordinates(
    mesh: bpy.types.Mesh,
    points_mm: NDArray[np.float64],
    grain_degrees: float,
    seed: str,
    centre_line: NDArray[np.float64] | None = None,
    *,
    anchor: tuple[float, float] | None = None,
) -> None:
    """Write where each vertex of a filled mesh lies in its log.

    points_mm (n, 3): the vertices in panel coordinates, before any lifting. seed: the piece's id or the background
    piece's name; it alone picks the board. centre_line (m, 2): the grain follows it. anchor: the place of the panel
    that sits at the board's middle (None: the middle of the points); give one that moves with the piece and does not
    change when it is cut, such as the middle of its outline, or its figure shifts with every cut.
    """
    points = np.asarray(points_mm, float)
    if len(points) == 0:
        return
    board = log_space.board_for(seed)
    if centre_line is not None and len(centre_line) > 1:
        straight, fibre = log_space.lay_along(points, np.asarray(centre_line, float))
    else:
        if anchor is None:
            low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
            anchor = tuple((low + high) / 2)
        straight, fibre = log_space.lay_straight(points, grain_degrees, anchor)
    log = log_space.log_from_board(straight, board)
    _store_wood(mesh, log, fibre, np.full(len(points), board.tone))


def store_figure(mesh: bpy.types.Mesh, figure: Figure) -> None:
    """Write where each vertex of a filled mesh lies in its log, or on the photo of its board."""
    _store_wood(mesh, figure.log, figure.fibre, figure.tone)
    if figure.photo.any():
        _store(mesh, PHOTO, "FLOAT2", "vector", figure.photo)


def _store_wood(
    mesh: bpy.types.Mesh, log: NDArray[np.float64], fibre: NDArray[np.float64], tone: NDArray[np.float64]
) -> None:
    leaning = fibre + FIBRE_LIFT * np.column_stack([-fibre[:, 1], fibre[:, 0], np.full(len(fibre), 0.7)])
    _store(mesh, LOG, "FLOAT_VECTOR", "vector", log)
    _store(mesh, FIBRE, "FLOAT_VECTOR", "vector", leaning)
    _store(mesh, TONE, "FLOAT", "value", tone)


def _store(
    mesh: bpy.types.Mesh, name: str, kind: str, field: str, values: NDArray[np.float64] | NDArray[np.float32]
) -> None:
    attribute = mesh.attributes.get(name) or mesh.attributes.new(name, kind, "POINT")
    attribute.data.foreach_set(field, np.ascontiguousarray(values, np.float32).ravel())
