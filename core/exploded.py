"""The exploded view: how high each batch is lifted so that nothing hides anything."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from .stack import Stack

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


@dataclass(frozen=True)
class Thread:
    """The upright way of one part of an insert from the floor it is glued to, up to where it is lifted; mm."""

    x: float
    y: float
    low: float
    high: float
    piece: int


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
            found.append(Thread(point.x, point.y, ground - placed.depth, high, placed.index))
    return tuple(found)


def _shape(stack: Stack, batch: tuple[int, ...]) -> BaseGeometry:
    """What a batch covers in the view, coarse and a little larger."""
    union = shapely.union_all([stack.pieces[i].pocket for i in batch])
    return shapely.simplify(shapely.buffer(union, MARGIN / 2, quad_segs=4), 0.5)
