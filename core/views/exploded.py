"""The exploded view: how high each batch is lifted so that nothing hides anything."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from ..design import Point
from ..stack.stack import PlacedPiece, Stack
from ..witness import inside

ELEVATION = 25.0
"""Degrees above the panel at which the exploded view is seen, from the panel's lower edge, without perspective."""
MARGIN = 5.0
"""Clear space between layers in the view, mm on the panel."""
STEP = 4.0
"""Lifts are searched in steps of so many mm on the panel."""


def exploded_lifts(stack: Stack, elevation: float = ELEVATION) -> tuple[float, ...]:
    """The lift of each piece, mm, in design order; the background stays where it is.

    Seen at `elevation`, a layer lifted by z appears moved up the panel by z / tan(elevation). Each batch is lifted
    just so far that it covers no pocket and no insert of an earlier batch.
    """
    reach = 1 / math.tan(math.radians(elevation))
    outlines = [_shape(stack, batch) for batch in stack.batches]
    placed: list[BaseGeometry] = [shapely.union_all(outlines)] if outlines else []
    lifts, shift = [], 0.0
    for outline in outlines:
        taken = shapely.union_all(placed)
        shapely.prepare(taken)
        shift += STEP
        while taken.intersects(affinity.translate(outline, 0.0, shift)):
            shift += STEP
        placed.append(affinity.translate(outline, 0.0, shift))
        lifts.append(shift / reach)
    return tuple(lifts[p.batch - 1] if p.batch else 0.0 for p in stack.pieces)


Unfolding = Literal["together", "batches", "pieces"]
"""How the lifts follow one slider: all at once, or batch after batch, or piece after piece, the last glued first."""


def glue_order(stack: Stack) -> tuple[int, ...]:
    """The pieces that there are, batch by batch, in each as the design lists them."""
    return tuple(i for batch in stack.batches for i in batch)


def glue_numbers(stack: Stack) -> dict[int, int]:
    """Number of each piece, by its index: from 1, in the order of gluing; the same wherever a piece is numbered."""
    return {index: number for number, index in enumerate(glue_order(stack), 1)}


def place_of_number(placed: PlacedPiece) -> Point:
    """A point inside the largest part of an insert, for its number to point at."""
    return inside(max(shapely.get_parts(placed.insert), key=lambda part: float(part.area)))


def turns(stack: Stack, unfolding: Unfolding) -> tuple[tuple[int, int], ...]:
    """For each piece, whose turn it is when the panel is put together, from 0, and how many turns there are."""
    if unfolding == "together":
        return ((0, 1),) * len(stack.pieces)
    if unfolding == "batches":
        return tuple((max(placed.batch - 1, 0), len(stack.batches)) for placed in stack.pieces)
    place = {index: turn for turn, index in enumerate(glue_order(stack))}
    return tuple((place.get(placed.index, 0), len(place)) for placed in stack.pieces)


def share_lifted(explosion: float, turn: int, count: int) -> float:
    """How much of its lift a piece has: where turns are taken it starts and lands softly, within its own turn.

    The drivers of the add-on say the same.
    """
    if count == 1:
        return explosion
    own = min(max(count * explosion - (count - 1 - turn), 0.0), 1.0)
    return own * own * (3 - 2 * own)


@dataclass(frozen=True)
class Thread:
    """The upright way of one part of an insert from the floor it is glued to, up to where it is lifted; mm."""

    x: float
    y: float
    low: float
    high: float
    piece: int
    ground: int | None = None
    """The earlier piece that it hangs above; None for the panel."""


def threads(stack: Stack, lifts: Sequence[float]) -> tuple[Thread, ...]:
    """A thread for each part of each insert; an insert that lies in an earlier one hangs above that one."""
    found = []
    for placed in stack.pieces:
        if not placed.sound:
            continue
        for part in shapely.get_parts(placed.insert):
            point = shapely.point_on_surface(part)
            beneath = [j for j in placed.over if stack.pieces[j].pocket.contains(point)]
            ground = lifts[beneath[-1]] if beneath else 0.0
            high = lifts[placed.index] + placed.bottom
            under = beneath[-1] if beneath else None
            found.append(Thread(point.x, point.y, ground - placed.depth, high, placed.index, under))
    return tuple(found)


def _shape(stack: Stack, batch: tuple[int, ...]) -> BaseGeometry:
    """What a batch covers in the view, coarse and a little larger."""
    union = shapely.union_all([stack.pieces[i].pocket for i in batch])
    return shapely.simplify(shapely.buffer(union, MARGIN / 2, quad_segs=4), 0.5)
