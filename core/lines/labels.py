"""Where words and arrows go on a drawing, so that they hide no line: in the piece that they name, or beside it.

A drawing is looked at in cells: those that a line runs through, and those inside shapes. A label's place is free
where none of its cells is taken, nor any next to them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..witness import inside
from .slanting import slanting

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Box = tuple[float, float, float, float]
Point = tuple[float, float]

MOST_CELLS = 1500
"""Along the longer side; cells are 1 mm, or larger where that is not enough."""
NEAR, FAR = 8.0, 45.0
"""How far from its piece a label is looked for at first, and at most, mm."""
FEW, MANY = 600, 4000
"""How many places beside a piece are looked at, spread evenly; leaders of the nearest eighth of them are."""
MOST_MISSED = 8
"""After so many labels without a place the drawing is full: others are looked for near their pieces alone."""
BETWEEN = 3.0
"""Shapes are filled with lines so far apart to tell where they are, mm."""
IN_SHAPE = 1.0
"""How far a leader reaches into its piece, mm."""
LENGTHS, LONG_ENOUGH = (1.0, 0.75, 0.5, 0.35), 1
"""Shares of an arrow's length that are tried where it does not fit; and which is long enough where it should lie, so
that no longer one is looked for elsewhere."""
CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


@dataclass(frozen=True)
class Spot:
    """A free place: left, bottom, right, top in mm, and for one beside its piece the leader to it (2, 2)."""

    box: Box
    leader: Array | None = None


class Room:
    """A drawing on which words look for free places."""

    def __init__(
        self, box: Box, lines: Sequence[Array], shapes: Sequence[Array] = (), marks: Sequence[Array] = ()
    ) -> None:
        """All that is drawn in a box, mm.

        Args:
            box: left, bottom, right, top; words stay in it.
            lines: each (n, 2), that no word may meet and no leader cross, but that of its own piece.
            shapes: rings; words beside a piece keep out of what lies in an odd number of them.
            marks: lines that no word may meet, but that leaders may cross.
        """
        self.box = box
        left, bottom, right, top = box
        self._missed = 0
        self.cell = max(1.0, max(right - left, top - bottom) / MOST_CELLS)
        self._origin = np.array([left, bottom])
        size = math.ceil((top - bottom) / self.cell), math.ceil((right - left) / self.cell)
        self._lines: Bools = np.zeros(size, bool)
        self._full: Bools = np.zeros(size, bool)
        self._mark([self._lines], lines)
        self._barriers: Bools = self._lines.copy()
        self._mark([self._lines], marks)
        self._mark([self._full], slanting(shapes, BETWEEN * self.cell) if len(shapes) else ())
        self._full |= self._lines

    def take(self, lines: Sequence[Array]) -> None:
        """More lines, which later words keep clear of."""
        self._mark([self._lines, self._full, self._barriers], lines)

    def inside(self, shape: BaseGeometry, size: tuple[float, float], near: Point) -> Spot | None:
        """The free place of a size in a shape whose middle lies nearest to a point; it is taken then."""
        lower, middles = self._free(self._lines, shape.bounds, size)
        if not len(lower):
            return None
        order = np.argsort(np.hypot(*(middles - near).T), kind="stable")
        shapely.prepare(shape)
        for start in range(0, len(order), 256):
            some = order[start : start + 256]
            held = some[shapely.contains_xy(shape, *middles[some].T)]
            if len(held):
                return self._taken(Spot(_box(lower[held[0]], size)))
        return None

    def beside(self, shape: BaseGeometry, size: tuple[float, float]) -> Spot | None:
        """A free place near a shape and outside all shapes, with a leader to it that crosses no other line; it is
        taken then."""
        edge = _outline(shape)
        for far, tried in ((NEAR, FEW), (FAR, FEW), (FAR, MANY))[: 1 if self._missed >= MOST_MISSED else 3]:
            spot = self._near(shape, edge, size, far, tried)
            if spot is not None:
                return spot
        self._missed += 1
        return None

    def _near(self, shape: BaseGeometry, edge: Array, size: tuple[float, float], far: float, tried: int) -> Spot | None:
        left, bottom, right, top = shape.bounds
        wide, high = size
        around = (left - wide - far, bottom - high - far, right + wide + far, top + high + far)
        lower, _ = self._free(self._full, around, size)
        lower = lower[:: -(-len(lower) // tried) or 1]
        if not len(lower):
            return None
        away, starts, ends = _leaders(lower, size, edge)
        order = np.argsort(away, kind="stable")[: tried // 8]
        crossed = self._crossed(starts[order], ends[order], IN_SHAPE + 1.5 * self.cell)
        clear = order[crossed == 0]
        if not len(clear) or away[clear[0]] > far:
            return None
        best = clear[0]
        start, end = starts[best], ends[best]
        return self._taken(Spot(_box(lower[best], size), np.array([start, _tip(shape, start, end)])))

    def _taken(self, spot: Spot) -> Spot:
        left, bottom, right, top = spot.box
        rows, columns = self._cells(np.array([[left, bottom], [right, top]]))
        for grid in (self._lines, self._full, self._barriers):
            grid[rows[0] : rows[1] + 1, columns[0] : columns[1] + 1] = True
        if spot.leader is not None:
            self.take([spot.leader])
        return spot

    def _cells(self, points: Array) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
        """Rows and columns of points (n, 2), the nearest ones where they lie outside."""
        at = np.floor((points - self._origin) / self.cell).astype(np.int64)
        rows, columns = self._lines.shape
        return np.clip(at[:, 1], 0, rows - 1), np.clip(at[:, 0], 0, columns - 1)

    def _mark(self, grids: Sequence[Bools], lines: Sequence[Array]) -> None:
        """Mark in grids the cells that lines (n, 2) run through, looked at twice to the cell."""
        if not len(lines):
            return
        starts = np.concatenate([line[:-1] for line in lines])
        along = np.concatenate([line[1:] for line in lines]) - starts
        count = np.maximum(1, np.ceil(np.hypot(along[:, 0], along[:, 1]) / (self.cell / 2))).astype(np.int64)
        edge = np.repeat(np.arange(len(starts)), count)
        share = (np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)) / count[edge]
        points = np.concatenate([starts[edge] + share[:, None] * along[edge], [line[-1] for line in lines]])
        at = np.floor((points - self._origin) / self.cell)
        rows, columns = self._lines.shape
        within = (at[:, 0] >= 0) & (at[:, 1] >= 0) & (at[:, 0] < columns) & (at[:, 1] < rows)
        x, y = at[within].astype(np.int64).T
        for grid in grids:
            grid[y, x] = True

    def _free(self, grid: Bools, bounds: Box, size: tuple[float, float]) -> tuple[Array, Array]:
        """Lower left corners and middles (n, 2), mm, of free places that lie within bounds."""
        low, high = np.array(bounds[:2]), np.array(bounds[2:])
        (r0, r1), (c0, c1) = self._cells(np.array([low, high]))
        part = grid[r0 : r1 + 1, c0 : c1 + 1]
        across, up = (math.ceil(each / self.cell) + 2 for each in size)  # one cell more on each side
        if part.shape[0] < up or part.shape[1] < across:
            return np.zeros((0, 2)), np.zeros((0, 2))
        sums = np.zeros((part.shape[0] + 1, part.shape[1] + 1), np.int32)
        np.cumsum(np.cumsum(part, axis=0, dtype=np.int32), axis=1, out=sums[1:, 1:])
        taken = sums[up:, across:] - sums[:-up, across:] - sums[up:, :-across] + sums[:-up, :-across]
        rows, columns = np.nonzero(taken == 0)
        corner = np.stack([columns + c0, rows + r0], axis=1) * self.cell + self._origin
        inner = np.array([across, up]) * self.cell
        lower = corner + (inner - size) / 2
        return lower, corner + inner / 2

    def _crossed(self, starts: Array, ends: Array, short: float) -> npt.NDArray[np.int64]:
        """How often leaders (n, 2) run through cells that are taken; so much of each before its end does not count."""
        longest = float(np.hypot(*(ends - starts).T).max(initial=0.0))
        shares = np.linspace(0.0, 1.0, max(8, math.ceil(longest / (0.7 * self.cell))))
        points = starts[:, None] + shares[None, :, None] * (ends - starts)[:, None]
        rows, columns = self._cells(points.reshape(-1, 2))
        hit = self._barriers[rows, columns].reshape(len(starts), -1)
        left = np.hypot(*(ends - starts).T)[:, None] * (1 - shares)
        crossed: npt.NDArray[np.int64] = np.sum(hit & (left > short), axis=1)
        return crossed


def _box(lower: Array, size: tuple[float, float]) -> Box:
    x, y = lower.tolist()
    return x, y, x + size[0], y + size[1]


def _outline(shape: BaseGeometry, count: int = 24) -> Array:
    """Points (n, 2) along a shape's outer rings, so many on each."""
    rings = shapely.get_exterior_ring(shapely.get_parts(shape))
    shares = np.arange(count) / count
    points: Array = shapely.get_coordinates(
        shapely.line_interpolate_point(rings[:, None], shares[None, :], normalized=True)
    )
    return points


def _leaders(lower: Array, size: tuple[float, float], edge: Array) -> tuple[Array, Array, Array]:
    """From each box (n,) the shortest way to any of some points: length (n,), start and end (n, 2)."""
    wide, high = size
    x, y = edge.T
    across = np.maximum(np.maximum(lower[:, :1] - x, x - (lower[:, :1] + wide)), 0.0)
    up = np.maximum(np.maximum(lower[:, 1:] - y, y - (lower[:, 1:] + high)), 0.0)
    squared = across * across + up * up
    nearest = np.argmin(squared, axis=1)
    far = np.sqrt(squared[np.arange(len(lower)), nearest])
    ends = edge[nearest]
    return far, np.clip(ends, lower, lower + size), ends


def _tip(shape: BaseGeometry, start: Array, edge: Array) -> Array:
    """Where a leader from `start` over a point of a shape's edge ends: a little inside, if it can."""
    tip = _towards(edge, 2 * edge - start)
    if not shape.contains(shapely.Point(tip)):
        tip = _towards(edge, np.array(inside(shape)))
    return tip if shape.contains(shapely.Point(tip)) else edge


def _towards(point: Array, aim: Array) -> Array:
    moved: Array = point + (aim - point) / max(float(np.hypot(*(aim - point))), 1e-9) * IN_SHAPE
    return moved


def arrow_place(
    shape: BaseGeometry, angle: float, length: float, half_width: float, first: Point
) -> tuple[Array, float] | None:
    """Where an arrow lies inside a shape, without meeting its edge.

    Args:
        shape: mm.
        angle: of the arrow, radians.
        length, half_width: its size, mm; it may become shorter, and its heads with it.
        first: where it lies if it can.

    Returns:
        Its middle (2,) and its length; None where not even a short one fits.
    """
    shapely.prepare(shape)
    along, across = np.array([math.cos(angle), math.sin(angle)]), np.array([-math.sin(angle), math.cos(angle)])
    shares = np.array(LENGTHS)
    halves = np.stack([length * shares / 2 + 0.4, np.maximum(half_width * shares, 0.6) + 0.3], axis=1)
    boxes = (CORNERS * halves[:, None]) @ np.stack([along, across])  # (lengths, 4, 2)
    at_first = np.flatnonzero(shapely.contains_properly(shape, shapely.polygons(boxes + first)))
    longest = int(at_first[0]) if len(at_first) else len(shares)
    if longest > LONG_ENOUGH:
        others = _scattered(shape)
        for number in range(longest):
            fits = others[shapely.contains_properly(shape, shapely.polygons(boxes[number] + others[:, None]))]
            if len(fits):
                return fits[np.argmin(np.hypot(*(fits - first).T))], length * LENGTHS[number]
    return (np.array(first), length * LENGTHS[longest]) if len(at_first) else None


def _scattered(shape: BaseGeometry, count: int = 300) -> Array:
    """Points (n, 2) inside a shape, on a grid."""
    left, bottom, right, top = shape.bounds
    step = max(0.4, math.sqrt(max((right - left) * (top - bottom), 1e-9) / count))
    x, y = np.meshgrid(np.arange(left + step / 2, right, step), np.arange(bottom + step / 2, top, step))
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    found: Array = points[shapely.contains_xy(shape, *points.T)]
    return found
