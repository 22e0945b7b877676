"""The exploded view: how high each batch is lifted so that nothing hides anything."""

from __future__ import annotations

import math

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


def _shape(stack: Stack, batch: tuple[int, ...]) -> BaseGeometry:
    """What a batch covers in the view, coarse and a little larger."""
    union = shapely.union_all([stack.pieces[i].pocket for i in batch])
    return shapely.simplify(shapely.buffer(union, MARGIN / 2, quad_segs=4), 0.5)
