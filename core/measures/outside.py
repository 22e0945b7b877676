"""Pockets that reach beyond the raw panel.

A pocket may run off an edge that is trimmed, if some of it lies in the trimmed panel too: the cutter runs out through
the waste, and what hangs over is cut off with the edge.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import NOISE_AREA
from ..design import Point
from ..stack.pocket_pairs import FLUSH, ROUNDING
from ..stack.stack import PlacedPiece, Stack
from .edge_slivers import SIDES, Side

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True)
class Beyond:
    """One part of a pocket that lies beyond the panel. `piece` is an index into the stack."""

    piece: int
    sides: tuple[tuple[Side, float], ...]
    """Each edge that it leaves, with how far it reaches beyond it, square to the edge, mm."""
    at: Point
    """A point that lies farthest out."""


def room_for(stack: Stack, placed: PlacedPiece) -> Bounds:
    """Where a pocket may lie: left, bottom, right and top, infinite beyond an edge that cuts it off."""
    shown = shapely.intersection(placed.pocket, stack.finished_box).area > NOISE_AREA
    left, right, bottom, top = stack.design.panel.edge_trim
    x0, y0, x1, y1 = stack.box.bounds
    return (
        -math.inf if shown and left > 0 else x0,
        -math.inf if shown and bottom > 0 else y0,
        math.inf if shown and right > 0 else x1,
        math.inf if shown and top > 0 else y1,
    )


def beyond_the_panel(stack: Stack) -> Iterator[Beyond]:
    """Parts that reach more than 0.01 mm beyond an edge and are not cut off with a trimmed one, by design order."""
    shapely.prepare(stack.box)
    for placed in stack.pieces:
        if not placed.sound or stack.box.covers(placed.pocket):
            continue
        room = room_for(stack, placed)
        for part in shapely.get_parts(shapely.difference(_not_cut_off(stack, placed.pocket, room), stack.box)):
            sides = _left_by(part, room)
            if part.area > NOISE_AREA and sides:
                yield Beyond(placed.index, sides, _farthest(part, sides[0][0]))


def _not_cut_off(stack: Stack, pocket: BaseGeometry, room: Bounds) -> BaseGeometry:
    """What of a pocket the trimming of edges leaves on: all between two such edges."""
    most = [max(abs(value) for value in (*pocket.bounds, *stack.box.bounds)) + 1.0] * 4
    kept = [
        edge if math.isinf(limit) else math.copysign(far, sign)
        for edge, limit, far, sign in zip(stack.box.bounds, room, most, (-1, -1, 1, 1), strict=True)
    ]
    return shapely.intersection(pocket, shapely.box(*kept))


def _left_by(part: BaseGeometry, room: Bounds) -> tuple[tuple[Side, float], ...]:
    """The edges that a part reaches beyond, the farthest first."""
    out = [sign * (bound - limit) for bound, limit, sign in zip(part.bounds, room, (-1, -1, 1, 1), strict=True)]
    beyond = [(side, reach) for side, reach in zip(SIDES, out, strict=True) if reach > FLUSH + ROUNDING]
    return tuple(sorted(beyond, key=lambda one: -one[1]))


def _farthest(part: BaseGeometry, side: Side) -> Point:
    corners = shapely.get_coordinates(part).tolist()
    axis, sign = SIDES.index(side) % 2, -1 if side in ("left", "bottom") else 1
    x, y = max(corners, key=lambda at: (round(sign * at[axis], 6), at))
    return (x, y)
