"""The one module that writes meshes: Grainstack's millimetres become Blender's metres here."""

from __future__ import annotations

import zlib

import bpy
import numpy as np
from numpy.typing import NDArray

from .core.solids import Solid
from .wood_material import store_wood_coordinates

METRES = 0.001
"""One millimetre in Blender units."""

SMOOTH_WITHIN = 30.0
"""Degrees: facets of one surface that turn less than this at their edge are one curve."""


def fill(mesh: bpy.types.Mesh, solid: Solid) -> None:
    """Replace the mesh's geometry by the solid's; its materials stay."""
    fill_triangles(mesh, solid.vertices, solid.triangles)
    mark_sharp_edges(mesh, solid)
    # The same board for the same piece, whatever the view or its place in the order.
    seed = zlib.crc32(solid.name.encode())
    store_wood_coordinates(mesh, solid.vertices, solid.grain, seed, solid.centre_line)
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


def mark_sharp_edges(mesh: bpy.types.Mesh, solid: Solid) -> None:
    """Faces meet sharply where their surfaces differ or turn by more than `SMOOTH_WITHIN`; else smoothly."""
    keys, sharp = _sharp_edges(solid)
    ends = np.empty(2 * len(mesh.edges), dtype=np.int32)
    mesh.edges.foreach_get("vertices", ends)
    values = sharp[np.searchsorted(keys, _edge_keys(ends.reshape(-1, 2), len(solid.vertices)))]
    attribute = mesh.attributes.new("sharp_edge", "BOOLEAN", "EDGE")
    attribute.data.foreach_set("value", values)


def _sharp_edges(solid: Solid) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Sorted keys of the solid's edges, and whether each is sharp."""
    triangles = solid.triangles
    sides = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    every_key = _edge_keys(sides, len(solid.vertices))
    order = np.argsort(every_key, kind="stable")
    keys, start, count = np.unique(every_key[order], return_index=True, return_counts=True)
    one = order[start] // 3
    other = order[np.minimum(start + 1, len(order) - 1)] // 3

    corners = solid.vertices[triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    turns = np.einsum("ij,ij->i", normals[one], normals[other]) < np.cos(np.radians(SMOOTH_WITHIN))
    return keys, (count != 2) | (solid.surface[one] != solid.surface[other]) | turns


def _edge_keys(ends: NDArray[np.int32], vertex_count: int) -> NDArray[np.int64]:
    """One number per edge (n, 2), whichever way it runs."""
    low, high = ends.min(axis=1).astype(np.int64), ends.max(axis=1)
    return low * vertex_count + high
