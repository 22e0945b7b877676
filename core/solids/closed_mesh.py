"""Closed meshes from arrangements: caps and walls that index one vertex table.

Every face of a block is solid from the block's bottom up to a top of its own (or void). At each corner
of the arrangement the table holds the levels that any face round it uses; a wall that runs past such a
level is split there, so every edge meets its twin.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from .arrangement import Faces, corner_ids, group
from .pinches import split_pinches
from .triangulate import face_triangles

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


class Surface(IntEnum):
    """What a triangle of a solid belongs to."""

    TOP = 0
    WALL = 1
    BOTTOM = 2
    CUT = 3
    """A wall where the panel was cut open for a section."""


@dataclass(frozen=True)
class ClosedMesh:
    """A closed surface, triangles outward; every directed edge has exactly one opposite."""

    vertices: Array
    """(n, 3) mm."""
    triangles: npt.NDArray[np.int32]
    """(m, 3)"""
    surface: npt.NDArray[np.uint8]
    """(m,) Surface of each triangle."""
    dust: float = 0.0
    """mm³ of hairs that were left out of it."""


EMPTY_MESH = ClosedMesh(np.empty((0, 3)), np.empty((0, 3), np.int32), np.empty(0, np.uint8))


@dataclass(frozen=True)
class _Table:
    """The vertex table: key of a corner at a level = base[corner] + level, levels of a block in rising order."""

    positions: Array  # (p, 2) one per distinct corner of a block
    block: Ints  # (p,)
    base: Ints  # (p,)
    corner: Ints  # (c,) position of each corner of the faces
    levels: Array  # all blocks' levels, one after another
    level_start: Ints  # (blocks + 1,)

    @property
    def levels_at(self) -> Ints:
        """(p,) how many keys each position has."""
        return np.diff(self.level_start)[self.block]


def extrude(faces: Faces, bottom: Array, top: Array) -> list[ClosedMesh]:
    """One closed mesh per block.

    Args:
        faces: the arrangements.
        bottom: (blocks,) z of each block's bottom, mm.
        top: (faces,) z of each face's top; not above its bottom: the face is void.

    Returns:
        A mesh per block, empty where all its faces are void.
    """
    top = np.maximum(top, bottom[faces.block])
    table = _table(faces, bottom, top)
    floor_level = _level_of(table, np.arange(len(bottom)), bottom)[faces.block]
    top_level = _level_of(table, faces.block, top)
    caps, cap_face = face_triangles(faces, top_level > floor_level)
    walls = _walls(faces, table, floor_level, top_level)

    keys = table.base[table.corner[caps]]
    upper = keys + top_level[cap_face][:, None]
    lower = (keys + floor_level[cap_face][:, None])[:, ::-1]
    used = np.zeros(int(table.levels_at.sum()), dtype=bool)
    for some in (upper, lower, walls.ends):
        used[some.reshape(-1)] = True
    vertex = np.cumsum(used) - 1
    sides, side_wall = wall_triangles(vertex[walls.ends])
    runs = [
        _Run(vertex[upper], faces.block[cap_face], Surface.TOP),
        _Run(sides, walls.block[side_wall], Surface.WALL),
        _Run(vertex[lower], faces.block[cap_face], Surface.BOTTOM),
    ]
    pinched = _pinched_vertices(vertex[walls.ends], int(used.sum()))
    return _per_block(len(bottom), runs, _vertices(table, used), pinched)


def _table(faces: Faces, bottom: Array, top: Array) -> _Table:
    ring_block = np.repeat(faces.block, np.diff(faces.face_rings))
    corner_block = np.repeat(ring_block, np.diff(faces.ring_starts))
    first, corner = corner_ids(faces.corners, corner_block)
    block = corner_block[first]
    levels, level_start = _levels(faces, bottom, top)
    count = np.diff(level_start)
    base = np.concatenate([[0], np.cumsum(count[block])[:-1]]) if len(block) else np.empty(0, np.int64)
    return _Table(faces.corners[first], block, base.astype(np.int64), corner, levels, level_start)


def _levels(faces: Faces, bottom: Array, top: Array) -> tuple[Array, Ints]:
    """All distinct z of each block, rising, block after block."""
    block = np.concatenate([np.arange(len(bottom)), faces.block])
    z = np.concatenate([bottom, top])
    order = np.lexsort([z, block])
    block, z = block[order], z[order]
    new = np.ones(len(z), dtype=bool)
    new[1:] = (block[1:] != block[:-1]) | (z[1:] != z[:-1])
    return z[new], np.concatenate([[0], np.cumsum(np.bincount(block[new], minlength=len(bottom)))])


def _level_of(table: _Table, block: Ints, z: Array) -> Ints:
    """The level of each z within its block."""
    step = np.ptp(table.levels) + 1.0  # blocks one above the other, so that one search serves all
    owner = np.repeat(np.arange(len(table.level_start) - 1), np.diff(table.level_start))
    found = np.searchsorted(table.levels + owner * step, z + block * step - 1e-9)
    return np.asarray(found - table.level_start[block], dtype=np.int64)


@dataclass(frozen=True)
class _Walls:
    ends: Ints  # (w, 4) keys: foot and head at the start, foot and head at the end; solid on the left
    block: Ints  # (w,)


def _walls(faces: Faces, table: _Table, floor_level: Ints, top_level: Ints) -> _Walls:
    """A wall wherever two faces that meet at an edge have different tops."""
    ring_face = np.repeat(np.arange(faces.count), np.diff(faces.face_rings))
    corner_face = np.repeat(ring_face, np.diff(faces.ring_starts))
    last = faces.ring_starts[1:] - 1
    starts = np.ones(len(faces.corners), dtype=bool)
    starts[last] = False
    at = np.flatnonzero(starts)
    start, end, face = table.corner[at], table.corner[at + 1], corner_face[at]
    lead, edge = group(np.minimum(start, end).astype(np.uint64), np.maximum(start, end).astype(np.uint64))
    lead = lead[edge]
    twin = np.full(len(at), -1)
    pairs = np.flatnonzero(lead != np.arange(len(at)))
    twin[pairs], twin[lead[pairs]] = lead[pairs], pairs
    beyond = np.where(twin >= 0, top_level[face[twin]], floor_level[face])
    wall = np.flatnonzero(top_level[face] > beyond)
    u, v, f, foot = start[wall], end[wall], face[wall], beyond[wall]
    head = top_level[f]
    base_u, base_v = table.base[u], table.base[v]
    ends = np.stack([base_u + foot, base_u + head, base_v + foot, base_v + head], axis=1)
    return _Walls(ends, faces.block[f])


def wall_triangles(ends: Ints) -> tuple[Ints, Ints]:
    """Triangles (t, 3) of walls, and the wall (t,) of each, wall after wall.

    Args:
        ends: (w, 4) vertices at the foot and head of a wall's start, foot and head of its end; those between foot
            and head have the numbers between.
    """
    foot_u, head_u, foot_v, head_v = ends.T
    up_u, up_v = head_u - foot_u, head_v - foot_v
    wall_v, step_v = _steps(up_v)
    wall_u, step_u = _steps(up_u)
    right, left = foot_v[wall_v] + step_v, foot_u[wall_u] + step_u
    per_wall = up_u + up_v
    first = np.cumsum(per_wall) - per_wall
    triangles = np.empty((int(per_wall.sum()), 3), np.int64)
    triangles[first[wall_v] + step_v] = np.stack([foot_u[wall_v], right, right + 1], axis=1)
    triangles[(first + up_v)[wall_u] + step_u] = np.stack([left, head_v[wall_u], left + 1], axis=1)
    return triangles, np.repeat(np.arange(len(ends)), per_wall)


def _steps(counts: Ints) -> tuple[Ints, Ints]:
    """Each number i counts[i] times over, and beside it 0, 1, ... up to counts[i] - 1."""
    number = np.repeat(np.arange(len(counts)), counts)
    step = np.arange(len(number)) - (np.cumsum(counts) - counts)[number]
    return number, step


def _pinched_vertices(ends: Ints, count: int) -> npt.NDArray[np.bool_]:
    """Whether more than two walls share the upright edge that rises from a vertex."""
    change = np.zeros(count + 1, np.int64)
    np.add.at(change, ends[:, [0, 2]], 1)
    np.add.at(change, ends[:, [1, 3]], -1)
    return np.cumsum(change)[:-1] > 2


def _vertices(table: _Table, used: npt.NDArray[np.bool_]) -> tuple[Array, Ints]:
    """Positions and blocks of the used keys."""
    keys = np.flatnonzero(used)
    corner = np.repeat(np.arange(len(table.base)), table.levels_at)[used]
    block = table.block[corner]
    z = table.levels[table.level_start[block] + keys - table.base[corner]]
    return np.column_stack([table.positions[corner], z]), block


@dataclass(frozen=True)
class _Run:
    """Triangles of one surface, block after block."""

    triangles: Ints
    block: Ints
    surface: Surface

    def of_blocks(self, count: int) -> list[Ints]:
        """The triangles of each block."""
        ends = np.searchsorted(self.block, np.arange(count + 1)).tolist()
        return [self.triangles[low:high] for low, high in pairwise(ends)]


def _per_block(
    count: int, runs: Sequence[_Run], vertices: tuple[Array, Ints], pinched: npt.NDArray[np.bool_]
) -> list[ClosedMesh]:
    positions, vertex_block = vertices
    ends = np.searchsorted(vertex_block, np.arange(count + 1)).tolist()
    surfaces = np.array([run.surface for run in runs], np.uint8)
    meshes = []
    for (low, high), *parts in zip(pairwise(ends), *(run.of_blocks(count) for run in runs), strict=True):
        points, triangles = positions[low:high], np.concatenate(parts) - low
        surface = np.repeat(surfaces, [len(part) for part in parts])
        if pinched[low:high].any():
            points, triangles, source = split_pinches(points, triangles)
            surface = surface[source]
        meshes.append(ClosedMesh(points, triangles.astype(np.int32), surface))
    return meshes


def volume(mesh: ClosedMesh) -> float:
    """Volume enclosed by a closed mesh, mm^3, by the divergence theorem (sum of signed prisms over z = 0)."""
    a, b, c = (mesh.vertices[mesh.triangles[:, i]] for i in range(3))
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    return float(np.sum(twice * (a[:, 2] + b[:, 2] + c[:, 2]))) / 6
