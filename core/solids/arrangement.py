"""Small planar arrangements: a block's footprint cut up by the pockets that touch it.

All blocks of a panel are arranged in a few whole-array calls; each still has an arrangement of its
own, so that nothing is noded against lines far away.

Every corner lies on one grid, and no two lines of a block meet but at corners that they share. That is what makes
faces, walls and caps fit together, whatever the drawing. Where lines stay clear of each other, rounding their corners
to the grid is enough, and a test for crossings proves it. Where it is not, they are rounded by snap rounding: each line
is led through the middle of every grid cell that it passes and that holds a corner, so that no new crossing appears
(J. D. Hobby, Practical segment intersection with finite precision output, Computational Geometry 13, 1999;
L. J. Guibas and D. H. Marimont, Rounding arrangements dynamically, 1998; as GEOS has it in its snap-rounding noder).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Keys = npt.NDArray[np.uint64]
Geometries = npt.NDArray[np.object_]

ODD = np.uint64(0x9E3779B97F4A7C15)
"""2^64 over the golden ratio: multiplying by it spreads low bits over the high ones."""
HALF = np.uint64(32)
GRID = 2.0**-30
"""All corners are whole multiples of this, mm: so fine that no sum of volumes feels it, yet exact in float64."""
BESIDE = 4 * GRID
"""How far a crossing may lie from its lines, mm: four steps of the grid."""


@dataclass(frozen=True)
class Faces:
    """The faces of many arrangements, sorted by block; every corner is a vertex of all faces that it touches.

    Rings are closed (last corner = first), exteriors counter-clockwise, holes clockwise.
    """

    polygons: npt.NDArray[np.object_]
    """(f,)"""
    block: Ints
    """(f,) the block of each face."""
    corners: Array
    """(c, 2) mm."""
    ring_starts: Ints
    """(r + 1,) into corners."""
    face_rings: Ints
    """(f + 1,) into rings."""

    @property
    def count(self) -> int:
        """How many faces."""
        return len(self.block)


def arrange(footprints: Sequence[BaseGeometry] | Geometries, lines: Geometries, line_block: Ints) -> Faces:
    """Cut each footprint by its lines.

    Args:
        footprints: one polygon or multipolygon per block, mm.
        lines: (n,) line geometries; they may reach beyond their footprint, or be empty.
        line_block: (n,) the block that each line cuts.

    Returns:
        All bounded faces of each block's linework. Faces outside the footprint (in its holes, or between it
        and a line that reaches beyond) are there too: the caller labels them.
    """
    outlines = shapely.boundary(np.asarray(footprints, dtype=object))
    every = np.concatenate([outlines, lines])
    block = np.concatenate([np.arange(len(footprints)), line_block])
    parts, source = shapely.get_parts(every, return_index=True)
    block = block[source]
    is_line = shapely.get_dimensions(parts) == 1  # a clipped line may leave a point where it only touched
    parts, block = parts[is_line], block[is_line]
    order = np.argsort(block, kind="stable")
    present, group = np.unique(block[order], return_inverse=True)  # blocks off the region have no lines
    linework = shapely.multilinestrings(parts[order], indices=group.reshape(-1))
    polygons, owner = shapely.get_parts(shapely.polygonize(noded_on_grid(linework)[:, None]), return_index=True)
    return faces_of(polygons, present[owner])


def noded_on_grid(linework: Geometries) -> Geometries:
    """Each multilinestring (n,) cut at all its crossings, its corners on the grid; lines meet at shared ends alone."""
    noded: Geometries = np.asarray(shapely.union_all(linework[:, None], axis=1), dtype=object)
    _put_on_lines(noded, linework)
    shapely.set_coordinates(noded, on_grid(shapely.get_coordinates(noded)))
    crossed = np.flatnonzero(~shapely.is_simple(noded))
    for source in (linework, noded, noded):
        if not len(crossed):
            break
        noded[crossed] = shapely.union_all(source[crossed, None], axis=1, grid_size=GRID)
        crossed = crossed[_put_on_lines(noded, linework, crossed)]
    return noded


def _put_on_lines(noded: Geometries, linework: Geometries, which: Ints | None = None) -> npt.NDArray[np.bool_]:
    """Move crossings that lie beside their lines onto them, and tell which of the multilinestrings had some.

    Where two lines are nearly parallel, GEOS (algorithm::Intersection, in doubles) may put their crossing 1e-3 mm
    beside both: it divides by the sine of an angle of 1e-13. Changes `noded` in place.
    """
    which = np.arange(len(noded)) if which is None else which
    some, lines = noded[which], linework[which]
    corners, owner = shapely.get_coordinates(some, return_index=True)
    new = np.flatnonzero(~np.isin(_as_one(corners), _as_one(shapely.get_coordinates(lines))))
    one, number = corner_ids(corners[new], owner[new])  # each crossing ends several lines
    shapely.prepare(lines)
    beside = ~shapely.dwithin(lines[owner[new[one]]], shapely.points(corners[new[one]]), BESIDE)[number]
    had = np.zeros(len(which), dtype=bool)
    if beside.any():
        new = new[beside]
        own, points = lines[owner[new]], shapely.points(corners[new])
        corners[new] = on_grid(
            shapely.get_coordinates(shapely.line_interpolate_point(own, shapely.line_locate_point(own, points)))
        )
        noded[which] = shapely.set_coordinates(some, corners)
        had[owner[new]] = True
    return had


def _as_one(points: Array) -> npt.NDArray[np.complex128]:
    """Points (n, 2) as single values, (n,)."""
    values: npt.NDArray[np.complex128] = np.ascontiguousarray(points).view(np.complex128)[:, 0]
    return values


def on_grid(points: Array) -> Array:
    """Points moved to the nearest corner of the grid, by at most half of it each way."""
    cells: Array = points * (1 / GRID)
    np.rint(cells, out=cells)
    cells *= GRID
    return cells


def faces_of(polygons: npt.NDArray[np.object_], block: Ints) -> Faces:
    """Polygons as flat arrays, rings turned so that a face is left of its edges."""
    polygons = shapely.orient_polygons(polygons)
    if not len(polygons):
        return Faces(polygons, block, np.empty((0, 2)), np.zeros(1, np.int64), np.zeros(1, np.int64))
    _, corners, offsets = shapely.to_ragged_array(polygons, include_z=False)
    rings, polys = (np.asarray(offset, dtype=np.int64) for offset in offsets)
    return Faces(polygons, block, corners, rings, polys)


def corner_ids(corners: Array, block: Ints) -> tuple[Ints, Ints]:
    """Number the distinct corners of each block.

    Args:
        corners: (c, 2) positions; two are the same only where they are so to the last bit.
        block: (c,) the block of each, rising.

    Returns:
        (n,) a corner of each number, block after block, and (c,) the number of each corner.
    """
    bits = (corners + 0.0).view(np.uint64)  # + 0.0: no minus zero
    return group(bits[:, 0], bits[:, 1], block.astype(np.uint64))


def group(*columns: Keys) -> tuple[Ints, Ints]:
    """Number the distinct rows of some columns.

    As `np.unique` with index and inverse, but nothing is sorted: rows are hashed into a table, and each slot of it
    keeps one row, which leads all equal to it. Those of other rows that lost their slot go round again.

    Args:
        columns: one or more of (n,).

    Returns:
        (m,) a row of each number, rising, and (n,) the number of each row.
    """
    count = len(columns[0])
    mixed = np.zeros(count, np.uint64)
    for column in columns:
        mixed = (mixed ^ column) * ODD
        mixed ^= mixed >> HALF
    bits = max(4, (2 * count).bit_length())
    table = np.empty(1 << bits, np.int64)
    leader = np.empty(count, np.int64)
    rest = np.arange(count)
    while len(rest):
        mixed = mixed * ODD
        slot = mixed >> np.uint64(64 - bits)
        table[slot] = rest
        found = table[slot]
        same = np.ones(len(rest), dtype=bool)
        for column in columns:
            same &= column[found] == column[rest]
        leader[rest[same]] = found[same]
        rest, mixed = rest[~same], mixed[~same]
    leads = leader == np.arange(count)
    return np.flatnonzero(leads), (np.cumsum(leads) - 1)[leader]
