"""Oracles that share no code with what they judge: closedness, volumes, and who owns a point of the panel."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import manifold3d
import numpy as np
import numpy.typing as npt
import shapely
import trimesh
from shapely.geometry.base import BaseGeometry

from core.solids.panel_solids import Solid
from core.stack.stack import PlacedPiece, Stack

Array = npt.NDArray[np.float64]


# Closed solids


def unmatched_edges(triangles: npt.NDArray[np.int32]) -> int:
    """Directed edges that are doubled, or have no opposite, or run from a vertex to itself."""
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]).astype(np.int64)
    count = int(triangles.max()) + 1
    forward, back = edges[:, 0] * count + edges[:, 1], edges[:, 1] * count + edges[:, 0]
    doubled = len(forward) - len(np.unique(forward))
    return doubled + int((~np.isin(forward, back)).sum()) + int((edges[:, 0] == edges[:, 1]).sum())


def assert_closed(solid: Solid) -> None:
    """Assert it by our own count of edges, by trimesh without merging, and by manifold3d in float64."""
    __tracebackhide__ = True
    assert solid.triangles.min() >= 0
    assert solid.triangles.max() == len(solid.vertices) - 1, solid.name
    assert np.isfinite(solid.vertices).all(), solid.name
    assert unmatched_edges(solid.triangles) == 0, solid.name
    mesh = trimesh.Trimesh(solid.vertices, solid.triangles, process=False)
    assert mesh.is_watertight, solid.name
    assert mesh.is_winding_consistent, solid.name
    assert solid.volume > 0, solid.name
    assert np.isclose(mesh.volume, solid.volume, rtol=1e-9, atol=1e-7), solid.name
    solid_manifold = manifold_of(solid)
    assert solid_manifold.status() == manifold3d.Error.NoError, (solid.name, solid_manifold.status())
    assert np.isclose(solid_manifold.volume(), solid.volume, rtol=1e-9, atol=1e-6), solid.name


def manifold_of(solid: Solid) -> manifold3d.Manifold:
    """The solid as manifold3d reads it, float64, nothing merged."""
    vertices = np.ascontiguousarray(solid.vertices)
    return manifold3d.Manifold(manifold3d.Mesh64(vertices, solid.triangles.astype(np.uint64)))


# Volumes, by painting slabs of equal ownership front to back


@dataclass(frozen=True)
class Volumes:
    """mm^3, by name; `voids` is all else below the raw face."""

    background: dict[str, float]
    inserts: dict[str, float]
    voids: float


def slab_depths(stack: Stack) -> Array:
    """All depths from 0 to the thickness at which ownership may change, straight walls."""
    events = {0.0, stack.design.panel.thickness}
    for placed in stack.pieces:
        if placed.sound:
            events |= {placed.depth, -placed.bottom, -placed.top}
    return np.array(sorted(e for e in events if 0 <= e <= stack.design.panel.thickness))


def slab_volumes(stack: Stack) -> Volumes:
    """Each body's volume in the raw panel: at each depth pieces claim what is left, the last pocket first."""
    background = {b.name: 0.0 for b in stack.background}
    inserts = {p.piece.id: 0.0 for p in stack.pieces if p.sound}
    voids = 0.0
    depths = slab_depths(stack)
    for upper, lower in pairwise(depths):
        middle, height = (upper + lower) / 2, lower - upper
        left: BaseGeometry = stack.box
        for placed in reversed(stack.pieces):
            if placed.sound and middle < placed.depth:
                claimed = shapely.intersection(left, placed.pocket)
                left = shapely.difference(left, placed.pocket)
                wood = shapely.intersection(claimed, placed.insert).area if has_wood(placed, middle) else 0.0
                inserts[placed.piece.id] += wood * height
                voids += (claimed.area - wood) * height
        for body in stack.background:
            background[body.name] += shapely.intersection(left, body.box).area * height
    return Volumes(background, inserts, voids)


def has_wood(placed: PlacedPiece, depth: float) -> bool:
    """Whether the insert, in its pocket, reaches this depth."""
    return placed.bottom < -depth < placed.top


# Ownership of points, numpy only

VOID = -1


def rings_of(shape: BaseGeometry) -> list[Array]:
    """All rings of a shape as plain coordinates (n, 2), closed."""
    polygons = shapely.get_parts(shape)
    return [shapely.get_coordinates(ring) for p in polygons for ring in (p.exterior, *p.interiors)]


def inside_even_odd(rings: list[Array], xs: Array, ys: Array) -> npt.NDArray[np.bool_]:
    """(len(ys), len(xs)): which points of a grid the rings enclose, by the even-odd rule along each row."""
    inside = np.zeros((len(ys), len(xs)), dtype=bool)
    if not rings:
        return inside
    start = np.concatenate([ring[:-1] for ring in rings])
    end = np.concatenate([ring[1:] for ring in rings])
    for row, y in enumerate(ys):
        across = (start[:, 1] <= y) != (end[:, 1] <= y)
        a, b = start[across], end[across]
        crossings = np.sort(a[:, 0] + (y - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1]))
        inside[row] = np.searchsorted(crossings, xs) % 2 == 1
    return inside


class Owners:
    """Who owns each point of a grid at a depth, by the rule of the stack; -1 is a void, n + i background i."""

    def __init__(self, stack: Stack, xs: Array, ys: Array) -> None:
        self.stack = stack
        self.pockets = [inside_even_odd(rings_of(p.pocket), xs, ys) if p.sound else None for p in stack.pieces]
        self.inserts = [inside_even_odd(rings_of(p.insert), xs, ys) if p.sound else None for p in stack.pieces]
        self.ground = np.full((len(ys), len(xs)), VOID)
        for i, body in enumerate(stack.background):
            self.ground[inside_even_odd(rings_of(body.box), xs, ys)] = len(stack.pieces) + i

    def at(self, depth: float) -> npt.NDArray[np.int64]:
        owner = self.ground.copy()
        for i, placed in enumerate(self.stack.pieces):
            pocket, insert = self.pockets[i], self.inserts[i]
            if pocket is not None and insert is not None and depth < placed.depth:
                owner[pocket & (self.ground != VOID)] = VOID
                if has_wood(placed, depth):
                    owner[pocket & insert & (self.ground != VOID)] = i
        return owner


def solid_columns(solid: Solid, xs: Array, ys: Array) -> tuple[npt.NDArray[np.int64], Array, npt.NDArray[np.int64]]:
    """Where upright lines through a grid's points pierce a solid's faces.

    Returns flat grid index, z, and +1 for a face that looks up, -1 for one that looks down.
    """
    cells, heights, signs = [], [], []
    for a, b, c in solid.vertices[solid.triangles]:
        doubled = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
        if doubled == 0:
            continue
        low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
        i0, i1 = np.searchsorted(xs, [low[0], high[0]])
        j0, j1 = np.searchsorted(ys, [low[1], high[1]])
        if i0 == i1 or j0 == j1:
            continue
        x, y = np.meshgrid(xs[i0:i1], ys[j0:j1])
        weight_a = ((b[0] - x) * (c[1] - y) - (c[0] - x) * (b[1] - y)) / doubled
        weight_b = ((c[0] - x) * (a[1] - y) - (a[0] - x) * (c[1] - y)) / doubled
        weight_c = 1 - weight_a - weight_b
        hit = (weight_a > 0) & (weight_b > 0) & (weight_c > 0)
        j, i = np.nonzero(hit)
        cells.append((j + j0) * len(xs) + i + i0)
        heights.append((weight_a * a[2] + weight_b * b[2] + weight_c * c[2])[hit])
        signs.append(np.full(len(i), 1 if doubled > 0 else -1))
    if not cells:
        return np.empty(0, np.int64), np.empty(0), np.empty(0, np.int64)
    return np.concatenate(cells), np.concatenate(heights), np.concatenate(signs)


def inside_solid(columns: tuple[npt.NDArray[np.int64], Array, npt.NDArray[np.int64]], size: int, z: float) -> Array:
    """How often a solid covers each point of the grid at height z: 1 inside, 0 outside, all else is a fault."""
    cells, heights, signs = columns
    above = heights > z
    return np.bincount(cells[above], weights=signs[above], minlength=size)
