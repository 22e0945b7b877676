"""Solids with leaning walls: closed meshes of the wood between two surfaces over the plane.

A solid is what lies above its own terrain (or flat bottom) and below its top and all later pockets' terrains. Each
block's plane is cut along all the terrains' edges, then where two terrains cross; in every triangle that remains each
surface is one plane, so the mesh is exact. Heights belong to the corners of these triangles: where two surfaces have
one height at a corner, it is the same number. Each triangle is a prism of wood; what the walls of neighbouring
prisms do not share is wall of the solid, and every part of it hangs on one table of (corner, height), so that the mesh
is closed whatever the heights are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from .arrangement import arrange, corner_ids
from .closed_mesh import EMPTY_MESH, ClosedMesh, Surface
from .inner_points import inner_points
from .leaning_walls import Terrain
from .pinches import split_pinches
from .triangulate import face_triangles

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

STEEP = 0.5
"""A triangle whose unit normal rises less than this is part of a wall."""


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
    inner = inner_points(faces)
    flat = np.full(faces.count, top)
    for shape, floor in flat_cuts:
        shapely.prepare(shape)
        under = shapely.contains_xy(shape, inner)
        flat[under] = np.minimum(floor, flat[under])
    shapely.prepare(footprint)
    triangles, face = face_triangles(faces, shapely.contains_xy(footprint, inner))
    if not len(triangles):
        return EMPTY_MESH
    first, corner = corner_ids(faces.corners, np.zeros(len(faces.corners), dtype=np.int64))
    terrains = [*leaning_cuts, *([bottom] if isinstance(bottom, Terrain) else [])]
    heights = np.stack([t.heights(faces.corners[first]) for t in terrains], axis=1)
    plane = _Plane(faces.corners[first], corner[triangles], flat[face], heights)
    levels = sorted({top, *(floor for _, floor in flat_cuts), *([] if isinstance(bottom, Terrain) else [bottom])})
    for difference in _crossings(terrains, levels):
        plane = plane.split(difference)
    return _closed(plane, None if isinstance(bottom, Terrain) else bottom, levels, max(t.blur for t in terrains))


@dataclass(frozen=True)
class _Difference:
    """One terrain's height less another's, or less a level."""

    one: int
    other: int | None
    level: float
    blur: float
    """Up to this it is nothing."""

    def at(self, heights: Array) -> Array:
        value = heights[:, self.one] - (self.level if self.other is None else heights[:, self.other])
        value[np.abs(value) <= self.blur] = 0.0
        return value


def _crossings(terrains: Sequence[Terrain], levels: Iterable[float]) -> Iterator[_Difference]:
    """Everything whose sign must be the same all over a triangle."""
    boxes = [shapely.box(*shapely.bounds(t.region)) for t in terrains]
    for one, other in combinations(range(len(terrains)), 2):
        if boxes[one].intersects(boxes[other]):
            yield _Difference(one, other, 0.0, terrains[one].blur + terrains[other].blur)
    for level in levels:
        for one, terrain in enumerate(terrains):
            if terrain.low < level < terrain.high:
                yield _Difference(one, None, level, terrain.blur)


@dataclass(frozen=True)
class _Plane:
    """A triangulated part of the plane with the height of every terrain at each point."""

    points: Array  # (n, 2)
    triangles: Ints  # (t, 3) anticlockwise
    flat: Array  # (t,) z of the floor of upright pockets over it, or of the block's top
    heights: Array  # (n, terrains)

    def split(self, difference: _Difference) -> _Plane:
        """Cut the triangles in which a difference of heights changes its sign along its zero line."""
        value = difference.at(self.heights)
        sign = np.sign(value).astype(int)[self.triangles]
        mixed = (sign.min(axis=1) < 0) & (sign.max(axis=1) > 0)
        if not mixed.any():
            return self
        triangles, sign = _lone_first(self.triangles[mixed], sign[mixed])
        flat = self.flat[mixed]
        through = sign[:, 0] == 0  # the zero line runs through this corner and across the far edge
        a, b, c = triangles.T
        starts = np.concatenate([a[~through], a[~through], b[through]])
        ends = np.concatenate([b[~through], c[~through], c[through]])
        number, points, heights = self._between(starts, ends, value)
        if difference.other is None:
            heights[:, difference.one] = difference.level
        else:
            heights[:, difference.other] = heights[:, difference.one]
        n = int(np.count_nonzero(~through))
        p, q, r = number[:n], number[n : 2 * n], number[2 * n :]
        a1, b1, c1 = triangles[~through].T
        a2, b2, c2 = triangles[through].T
        parts = [(a1, p, q), (p, b1, c1), (p, c1, q), (a2, b2, r), (a2, r, c2)]
        flats = [flat[~through]] * 3 + [flat[through]] * 2
        return replace(
            self,
            points=np.concatenate([self.points, points]),
            triangles=np.concatenate([self.triangles[~mixed], *(np.stack(part, axis=1) for part in parts)]),
            flat=np.concatenate([self.flat[~mixed], *flats]),
            heights=np.concatenate([self.heights, heights]),
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


def _lone_first(triangles: Ints, sign: Ints) -> tuple[Ints, Ints]:
    """Turn each triangle so that its corner on the zero line, or else the one alone on its side, comes first."""
    zero = sign == 0
    alone = sign == -np.sign(sign.sum(axis=1))[:, None]
    lone = np.where(zero.any(axis=1), np.argmax(zero, axis=1), np.argmax(alone, axis=1))
    turn = (lone[:, None] + np.arange(3)) % 3
    rows = np.arange(len(triangles))[:, None]
    return triangles[rows, turn], sign[rows, turn]


def _closed(plane: _Plane, bottom: float | None, levels: Sequence[float], blur: float) -> ClosedMesh:
    """Caps and walls of the wood above `bottom` (None: the last terrain) and below all else."""
    cuts = plane.heights if bottom is not None else plane.heights[:, :-1]
    ceiling = _settled(cuts.min(axis=1, initial=np.inf), levels, blur)
    if bottom is None:
        ground = _settled(plane.heights[:, -1], levels, blur)
        same = np.abs(ceiling - ground) <= blur
        ceiling[same] = ground[same]
    else:
        ground = np.full(len(plane.points), bottom)
    upper = np.minimum(plane.flat[:, None], ceiling[plane.triangles])
    lower = np.minimum(ground[plane.triangles], upper)
    solid = (upper > lower).any(axis=1)
    return _meshed(plane.points, plane.triangles[solid], upper[solid], lower[solid])


def _settled(heights: Array, levels: Sequence[float], blur: float) -> Array:
    """Heights that are those of a level but for rounding take just its own."""
    settled = heights.copy()
    for level in levels:
        settled[np.abs(heights - level) <= blur] = level
    return settled


def _meshed(points: Array, triangles: Ints, upper: Array, lower: Array) -> ClosedMesh:
    """The closed mesh of prisms over triangles (t, 3), between heights (t, 3) at their corners."""
    if not len(triangles):
        return EMPTY_MESH
    walls = _walls(triangles, upper, lower, len(points))
    where = np.concatenate([triangles.reshape(-1), triangles.reshape(-1), walls.where.reshape(-1)])
    z = np.concatenate([upper.reshape(-1), lower.reshape(-1), walls.z.reshape(-1)])
    number, vertices = _vertex_table(points, where, z)
    size = triangles.size
    top = number[:size].reshape(-1, 3)
    under = number[size : 2 * size].reshape(-1, 3)[:, ::-1]
    sides = _strips(number[2 * size :].reshape(-1, 4))
    kinds = np.repeat(
        np.array([Surface.TOP, Surface.WALL, Surface.BOTTOM], np.uint8), [len(top), len(sides), len(under)]
    )
    vertices, faces, source = split_pinches(vertices, np.concatenate([top, sides, under]))
    kinds = kinds[source]
    kinds[_steep(vertices, faces)] = Surface.WALL
    return ClosedMesh(vertices, faces.astype(np.int32), kinds)


@dataclass(frozen=True)
class _Walls:
    """Upright strips between two lines over an edge, wood on the left; either line may cross the other."""

    where: Ints  # (w, 4) point numbers: start, start, end, end
    z: Array  # (w, 4) of the lower and the upper line at the start, and at the end


def _walls(triangles: Ints, upper: Array, lower: Array, count: int) -> _Walls:
    """What the prisms of neighbouring triangles do not share: at the wood's own edge all of a prism's side.

    Where both sides are wood, their tops differ where a pocket with upright walls cut one of them, and their bottoms
    where the wood on one side ends in an edge.
    """
    turned = [1, 2, 0]
    start, end = triangles.reshape(-1), triangles[:, turned].reshape(-1)
    tops = np.stack([upper.reshape(-1), upper[:, turned].reshape(-1)], axis=1)
    bottoms = np.stack([lower.reshape(-1), lower[:, turned].reshape(-1)], axis=1)
    key, opposite = start * count + end, end * count + start
    order = np.argsort(key)
    twin = order[np.searchsorted(key[order], opposite).clip(max=len(key) - 1)]
    met = key[twin] == opposite
    once = met & (start < end)
    other = twin[once]
    runs = [
        (~met, bottoms[~met], tops[~met]),
        (once, tops[other][:, ::-1], tops[once]),
        (once, bottoms[once], bottoms[other][:, ::-1]),
    ]
    where, z = [], []
    for chosen, one, two in runs:
        differ = (one != two).any(axis=1)
        s, e = start[chosen][differ], end[chosen][differ]
        where.append(np.stack([s, s, e, e], axis=1))
        z.append(np.stack([one[differ, 0], two[differ, 0], one[differ, 1], two[differ, 1]], axis=1))
    return _Walls(np.concatenate(where), np.concatenate(z))


def _vertex_table(points: Array, where: Ints, z: Array) -> tuple[Ints, Array]:
    """Numbers of (point, z) pairs, rising with z at each point, and the vertices (v, 3)."""
    order = np.lexsort([z, where])
    place, height = where[order], z[order]
    new = np.ones(len(order), dtype=bool)
    new[1:] = (place[1:] != place[:-1]) | (height[1:] != height[:-1])
    number = np.empty(len(order), dtype=np.int64)
    number[order] = np.cumsum(new) - 1
    return number, np.column_stack([points[place[new]], height[new]])


def _strips(ends: Ints) -> Ints:
    """Triangles (t, 3) of upright strips that use every vertex between their corners.

    Args:
        ends: (w, 4) vertices of the lower and the upper line at the strip's start, and at its end. Where the lines
            cross, the strip turns over there: what it encloses counts as negative, as it must.
    """
    foot_u, head_u, foot_v, head_v = ends.T
    strip, low, high, down = _climbs(foot_v, head_v)
    at_end = np.stack([foot_u[strip], low, high], axis=1)
    at_end[down] = at_end[down][:, [0, 2, 1]]
    strip, low, high, down = _climbs(foot_u, head_u)
    at_start = np.stack([low, head_v[strip], high], axis=1)
    at_start[down] = at_start[down][:, [2, 1, 0]]
    return np.concatenate([at_end, at_start])


def _climbs(foot: Ints, head: Ints) -> tuple[Ints, Ints, Ints, npt.NDArray[np.bool_]]:
    """Each step between the numbers foot and head: its strip, its lower and upper number, whether it leads down."""
    least, count = np.minimum(foot, head), np.abs(head - foot)
    strip = np.repeat(np.arange(len(foot)), count)
    step = np.arange(len(strip)) - (np.cumsum(count) - count)[strip]
    low = least[strip] + step
    return strip, low, low + 1, (head < foot)[strip]


def _steep(vertices: Array, triangles: Ints) -> npt.NDArray[np.bool_]:
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    return np.asarray(np.abs(normal[:, 2]) < STEEP * np.linalg.norm(normal, axis=1))
