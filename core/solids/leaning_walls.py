"""Solids with leaning walls: the wood between two surfaces over the plane.

A pocket whose walls lean in is a terrain: over each point it has one floor, flat at its depth and rising along
its walls in planes, one for each edge of its outline. A solid is what lies above its own terrain (or flat bottom)
and below its top and all later pockets' terrains. Each block's plane is cut along all the terrains' edges, then
where two terrains cross; in every triangle that remains each surface is one plane, so the mesh is exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..cutter.taper import inset_ring, lean, oriented_rings
from .arrangement import arrange, corner_ids
from .closed_mesh import EMPTY_MESH, ClosedMesh, Surface, wall_triangles
from .pinches import split_pinches
from .triangulate import face_triangles

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

FLAT = 1e-9
"""Heights that differ by less, mm, are the same."""
STEEP = 0.5
"""A triangle whose unit normal rises less than this is part of a wall."""


@dataclass(frozen=True)
class Terrain:
    """A leaning wall between two matched sets of rings: z falls from `high` at the outer to `low` at the inner."""

    outer: tuple[Array, ...]
    inner: tuple[Array, ...]
    high: float
    low: float

    @property
    def region(self) -> BaseGeometry:
        """All within the outer rings."""
        return shapely.build_area(shapely.multilinestrings([shapely.linestrings(ring) for ring in self.outer]))

    def lines(self) -> BaseGeometry:
        """Outer rings, inner rings and the mitres between them."""
        mitres = [np.stack([a, b], axis=1)[:-1] for a, b in zip(self.outer, self.inner, strict=True)]
        rings = [shapely.linestrings(ring) for ring in (*self.outer, *self.inner)]
        return shapely.multilinestrings([*rings, *shapely.linestrings(np.concatenate(mitres))])

    def facets(self) -> tuple[npt.NDArray[np.object_], Array]:
        """The wall's quads seen from above, and their planes (q, 3): z = a x + b y + c."""
        quads, planes = [], []
        for outer, inner in zip(self.outer, self.inner, strict=True):
            quads.append(np.stack([outer[:-1], outer[1:], inner[1:], inner[:-1]], axis=1))
            along = np.diff(outer, axis=0)
            along /= np.hypot(*along.T)[:, None]
            inwards = np.stack([-along[:, 1], along[:, 0]], axis=1)
            reach = np.sum((inner[:-1] - outer[:-1]) * inwards, axis=1)
            fall = (self.low - self.high) / reach
            slope = inwards * fall[:, None]
            planes.append(np.column_stack([slope, self.high - np.sum(slope * outer[:-1], axis=1)]))
        return shapely.polygons(np.concatenate(quads)), np.concatenate(planes)

    def heights(self, points: Array) -> Array:
        """z over each of some points (n, 2), on the wall's edges too; `high` outside.

        Found point by point: a face of an arrangement may be a sliver along several facets, and have none of its own.
        """
        facets, planes = self.facets()
        region = self.region
        shapely.prepare(region)
        height = np.where(shapely.contains_xy(region, points), self.low, self.high)
        at, facet = shapely.STRtree(facets).query(shapely.points(points), predicate="dwithin", distance=FLAT)
        a, b, c = planes[facet].T
        height[at] = a * points[at, 0] + b * points[at, 1] + c
        return np.asarray(np.clip(height, self.low, self.high))


def terrain(shape: BaseGeometry, taper: float, high: float, low: float) -> Terrain:
    """The leaning wall of a pocket or insert with `shape` at z = 0, between two heights."""
    rings = oriented_rings(shape)
    return Terrain(
        tuple(inset_ring(ring, -lean(taper, high)) for ring in rings),
        tuple(inset_ring(ring, -lean(taper, low)) for ring in rings),
        high,
        low,
    )


def mesh_between(
    footprint: BaseGeometry,
    bottom: float | Terrain,
    top: float,
    flat_cuts: Sequence[tuple[BaseGeometry, float]],
    leaning_cuts: Sequence[Terrain],
    lines: npt.NDArray[np.object_],
) -> ClosedMesh:
    """The closed mesh of one block.

    Args:
        footprint: where the block is, at its top.
        bottom: its flat bottom, or its own leaning wall and floor.
        top: its flat top, z.
        flat_cuts: later pockets with upright walls, and the z of their floors.
        leaning_cuts: later pockets with leaning walls, from the block's top down.
        lines: all the lines that cut its plane, somewhat beyond the footprint.
    """
    if footprint.is_empty:
        return EMPTY_MESH
    faces = arrange([footprint], lines, np.zeros(len(lines), dtype=np.int64))
    inner = shapely.point_on_surface(faces.polygons)
    shapely.prepare(footprint)
    first, corner = corner_ids(faces.corners, np.zeros(len(faces.corners), dtype=np.int64))
    points = faces.corners[first]
    terrains = [*leaning_cuts, *([bottom] if isinstance(bottom, Terrain) else [])]
    heights = [t.heights(points) for t in terrains]
    flat = np.full(faces.count, top)
    for shape, floor in flat_cuts:
        under = shapely.within(inner, shape)
        flat[under] = np.minimum(floor, flat[under])
    triangles, face = face_triangles(faces, shapely.within(inner, footprint))
    plane = _Plane(points, corner[triangles], face, np.stack(heights, axis=1))
    levels = {floor for _, floor in flat_cuts} | ({bottom} if isinstance(bottom, float) else set())
    for difference in _crossings(terrains, sorted(levels)):
        plane = plane.split(difference)
    upper = np.minimum(flat[plane.face][:, None], plane.corner_heights(range(len(leaning_cuts))))
    lower = plane.corner_heights([len(terrains) - 1]) if isinstance(bottom, Terrain) else np.full(upper.shape, bottom)
    return _closed(plane, upper, np.minimum(lower, upper))


@dataclass(frozen=True)
class _Difference:
    """One terrain's height less another's, or less a level."""

    one: int
    other: int | None
    level: float

    def at(self, heights: Array) -> Array:
        return heights[:, self.one] - (self.level if self.other is None else heights[:, self.other])


def _crossings(terrains: Sequence[Terrain], levels: Iterable[float]) -> Iterator[_Difference]:
    """Everything whose sign must be the same all over a triangle."""
    boxes = [shapely.box(*shapely.bounds(t.region)) for t in terrains]
    for one, other in combinations(range(len(terrains)), 2):
        if boxes[one].intersects(boxes[other]):
            yield _Difference(one, other, 0.0)
    for level in levels:
        for one, terrain in enumerate(terrains):
            if terrain.low < level < terrain.high:
                yield _Difference(one, None, level)


@dataclass(frozen=True)
class _Plane:
    """A triangulated part of the plane with the height of every terrain at each point."""

    points: Array  # (n, 2)
    triangles: Ints  # (t, 3) anticlockwise
    face: Ints  # (t,)
    heights: Array  # (n, terrains)

    def corner_heights(self, terrains: Sequence[int]) -> Array:
        """(t, 3) lowest of some terrains at the corners of each triangle; infinite for none."""
        lowest = self.heights[:, list(terrains)].min(axis=1, initial=np.inf)
        return np.asarray(lowest[self.triangles])

    def split(self, difference: _Difference) -> _Plane:
        """Cut the triangles in which a difference of heights changes its sign along its zero line."""
        value = difference.at(self.heights)
        sign = np.where(np.abs(value) <= FLAT, 0, np.sign(value)).astype(int)[self.triangles]
        mixed = (sign.min(axis=1) < 0) & (sign.max(axis=1) > 0)
        if not mixed.any():
            return self
        kept, kept_face = self.triangles[~mixed], self.face[~mixed]
        triangles, face, sign = _lone_first(self.triangles[mixed], self.face[mixed], sign[mixed])
        through = sign[:, 0] == 0  # the zero line runs through this corner and across the far edge
        a, b, c = triangles.T
        starts = np.concatenate([a[~through], a[~through], b[through]])
        ends = np.concatenate([b[~through], c[~through], c[through]])
        number, points, heights = self._between(starts, ends, value)
        n = int(np.count_nonzero(~through))
        p, q, r = number[:n], number[n : 2 * n], number[2 * n :]
        a1, b1, c1 = triangles[~through].T
        a2, b2, c2 = triangles[through].T
        parts = [(a1, p, q), (p, b1, c1), (p, c1, q), (a2, b2, r), (a2, r, c2)]
        faces = [face[~through]] * 3 + [face[through]] * 2
        return _Plane(
            np.concatenate([self.points, points]),
            np.concatenate([kept, *(np.stack(part, axis=1) for part in parts)]),
            np.concatenate([kept_face, *faces]),
            np.concatenate([self.heights, heights]),
        )

    def _between(self, starts: Ints, ends: Ints, value: Array) -> tuple[Ints, Array, Array]:
        """One new point where the value is zero on each edge, the same one for both its triangles."""
        low, high = np.minimum(starts, ends), np.maximum(starts, ends)
        _, first, number = np.unique(low * len(self.points) + high, return_index=True, return_inverse=True)
        i, j = low[first], high[first]
        t = (value[i] / (value[i] - value[j]))[:, None]
        points = self.points[i] + t * (self.points[j] - self.points[i])
        heights = self.heights[i] + t * (self.heights[j] - self.heights[i])
        return len(self.points) + number.reshape(-1), points, heights


def _lone_first(triangles: Ints, face: Ints, sign: Ints) -> tuple[Ints, Ints, Ints]:
    """Turn each triangle so that its corner on the zero line, or else the one alone on its side, comes first."""
    zero = sign == 0
    alone = sign == -np.sign(sign.sum(axis=1))[:, None]
    lone = np.where(zero.any(axis=1), np.argmax(zero, axis=1), np.argmax(alone, axis=1))
    turn = (lone[:, None] + np.arange(3)) % 3
    rows = np.arange(len(triangles))[:, None]
    return triangles[rows, turn], face, sign[rows, turn]


def _closed(plane: _Plane, upper: Array, lower: Array) -> ClosedMesh:
    """Caps and walls of the wood between the two surfaces, (t, 3) heights at the triangles' corners."""
    solid = (upper - lower).max(axis=1) > FLAT
    triangles, upper, lower = plane.triangles[solid], upper[solid], lower[solid]
    if not len(triangles):
        return EMPTY_MESH
    walls = _wall_ends(triangles, upper, lower, len(plane.points))
    where = np.concatenate([triangles.reshape(-1), triangles.reshape(-1), walls.where.reshape(-1)])
    z = np.concatenate([upper.reshape(-1), lower.reshape(-1), walls.z.reshape(-1)])
    number, position = _vertex_table(where, z)
    size = triangles.size
    top = number[:size].reshape(-1, 3)
    under = number[size : 2 * size].reshape(-1, 3)[:, ::-1]
    sides, _ = wall_triangles(number[2 * size :].reshape(-1, 4))
    vertices = np.column_stack([plane.points[position[:, 0].astype(int)], position[:, 1]])
    faces = np.concatenate([top, sides, under])
    kinds = np.repeat(
        np.array([Surface.TOP, Surface.WALL, Surface.BOTTOM], np.uint8), [len(top), len(sides), len(under)]
    )
    vertices, faces = split_pinches(vertices, faces)
    kinds[_steep(vertices, faces)] = Surface.WALL
    return ClosedMesh(vertices, faces.astype(np.int32), kinds)


@dataclass(frozen=True)
class _WallEnds:
    where: Ints  # (w, 4) point numbers: start, start, end, end
    z: Array  # (w, 4) foot and head at the start, foot and head at the end


def _wall_ends(triangles: Ints, upper: Array, lower: Array, count: int) -> _WallEnds:
    """Upright walls: at the edges of the wood, and where a pocket with upright walls cut it."""
    turned = [1, 2, 0]
    start, end = triangles.reshape(-1), triangles[:, turned].reshape(-1)
    heads = np.stack([upper.reshape(-1), upper[:, turned].reshape(-1)], axis=1)
    feet = np.stack([lower.reshape(-1), lower[:, turned].reshape(-1)], axis=1)
    key, opposite = start * count + end, end * count + start
    order = np.argsort(key)
    found = np.searchsorted(key[order], opposite).clip(max=len(key) - 1)
    twin = order[found]
    met = key[twin] == opposite
    feet[met] = heads[twin[met]][:, ::-1]
    wall = np.flatnonzero((heads - feet).max(axis=1) > FLAT)
    head, foot = heads[wall], np.minimum(feet[wall], heads[wall])
    s, e = start[wall], end[wall]
    return _WallEnds(np.stack([s, s, e, e], axis=1), np.stack([foot[:, 0], head[:, 0], foot[:, 1], head[:, 1]], axis=1))


def _vertex_table(where: Ints, z: Array) -> tuple[Ints, Array]:
    """Numbers of (point, z) pairs, rising with z at each point; heights within 10 FLAT of the next are the same."""
    order = np.lexsort([z, where])
    place, height = where[order], z[order]
    new = np.ones(len(order), dtype=bool)
    new[1:] = (place[1:] != place[:-1]) | (height[1:] - height[:-1] > 10 * FLAT)
    number = np.empty(len(order), dtype=np.int64)
    number[order] = np.cumsum(new) - 1
    return number, np.column_stack([place[new], height[new]])


def _steep(vertices: Array, triangles: Ints) -> npt.NDArray[np.bool_]:
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    return np.asarray(np.abs(normal[:, 2]) < STEEP * np.linalg.norm(normal, axis=1))
