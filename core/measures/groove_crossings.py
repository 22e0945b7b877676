"""Grooves that come back to themselves, and grooves that cross each other at a small angle."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
import shapely.ops

from ..design import LineOutline, Point
from ..stack.pocket_pairs import FLUSH
from ..stack.stack import PlacedPiece, Stack

Array = npt.NDArray[np.float64]
STEP = 0.5
"""Lines are looked at every so many mm where they come near to themselves, and measured exactly there."""
SHARP = 30.0
"""Where grooves cross, or one turns, at less than so many degrees, thin tips of wood break (common practice)."""
MOST_POINTS = 4000
"""Points of one line; a longer one is looked at less closely."""


@dataclass(frozen=True)
class Turn:
    """Two turns of one groove, at their nearest place. `piece` is an index into the stack."""

    piece: int
    wall: float
    """mm of wood between them; below 0 where they run into each other."""
    at: Point


@dataclass(frozen=True)
class SharpCrossing:
    """Two grooves that cross. Pieces are indices into the stack."""

    earlier: int
    later: int
    angle: float
    """Between them, at most 90 degrees."""
    at: Point


def near_turns(stack: Stack, below: float) -> list[Turn]:
    """For each groove with turns less than `below` mm apart, or that crosses itself, the worst place."""
    found = [_nearest_turn(placed, below) for placed in _grooves(stack)]
    return [turn for turn in found if turn is not None]


def _grooves(stack: Stack) -> list[PlacedPiece]:
    return [p for p in stack.pieces if p.sound and p.piece.is_groove and p.centre_line is not None]


def _width(placed: PlacedPiece) -> float:
    assert isinstance(placed.piece.outline, LineOutline)
    return placed.piece.outline.width * placed.piece.scale


def _nearest_turn(placed: PlacedPiece, below: float) -> Turn | None:
    """Places far apart along the line and near to each other.

    A turn of angle a has its legs so near, s along each from its corner, that 2 s sin(a / 2) is the reach (DERIVED,
    plane geometry): so far apart along the line nothing counts where the line turns by 30 degrees or more.
    """
    line = shapely.linestrings(placed.centre_line)
    length, width = float(line.length), _width(placed)
    reach = width + below
    apart = reach / math.sin(math.radians(SHARP / 2))
    if length <= apart:
        return None
    step = max(STEP, length / MOST_POINTS)
    along = np.arange(0.0, length, step)
    points = shapely.line_interpolate_point(line, along)
    tree = shapely.STRtree(points)
    one, other = tree.query(points, predicate="dwithin", distance=reach + step)
    gap = along[other] - along[one]
    if line.is_closed:
        gap = np.minimum(gap, length - gap)
    kept = gap > apart
    if not kept.any():
        return None
    one, other = one[kept], other[kept]
    nearest = int(np.argmin(shapely.distance(points[one], points[other])))
    parts = [
        shapely.ops.substring(line, max(0.0, along[i] - step), along[i] + step) for i in (one[nearest], other[nearest])
    ]
    link = shapely.shortest_line(*parts)
    wall = float(link.length) - width
    if not wall < below - 1e-9 or abs(wall) <= FLUSH:
        return None
    middle = link.interpolate(0.5, normalized=True) if link.length else shapely.Point(link.coords[0])
    return Turn(placed.index, wall, (float(middle.x), float(middle.y)))


def sharp_crossings(stack: Stack, below: float) -> list[SharpCrossing]:
    """Grooves whose centre lines cross at less than `below` degrees; one place for each pair, the sharpest."""
    found = []
    grooves = {placed.index: placed for placed in _grooves(stack)}
    for later in grooves.values():
        for earlier in (grooves[i] for i in later.over if i in grooves):
            crossing = _sharpest(earlier, later)
            if crossing is not None and crossing.angle < below - 1e-9:
                found.append(crossing)
    return found


def _sharpest(earlier: PlacedPiece, later: PlacedPiece) -> SharpCrossing | None:
    lines = [shapely.linestrings(p.centre_line) for p in (earlier, later)]
    points = [p for p in shapely.get_parts(shapely.intersection(*lines)) if shapely.get_dimensions(p) == 0]
    best: SharpCrossing | None = None
    for point in points:
        ways = [_heading(line, float(shapely.line_locate_point(line, point))) for line in lines]
        off = abs(ways[0] - ways[1]) % 180.0
        angle = min(off, 180.0 - off)
        if best is None or angle < best.angle:
            best = SharpCrossing(earlier.index, later.index, angle, (float(point.x), float(point.y)))
    return best


def _heading(line: shapely.LineString, along: float) -> float:
    """Direction of a line at a place, degrees."""
    (x0, y0), (x1, y1) = (line.interpolate(s).coords[0] for s in (max(0.0, along - 0.25), along + 0.25))
    return math.degrees(math.atan2(y1 - y0, x1 - x0))
