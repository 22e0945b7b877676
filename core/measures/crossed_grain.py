"""Inserts that lie in another insert with their grain across it: how much more one moves than the other."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from ..stack.stack import PlacedPiece, Stack
from ..woods.species import wood_of_piece
from .grain_strength import off_grain
from .movement import change, climate, extents, in_direction

MOSTLY = 0.5
"""An insert lies in an earlier one where so much of it does; else it belongs to more than one ground."""
LEAST_EXTENT = 3.0
"""No wood of the table moves half a millimetre over so few mm, soaked or dry: smaller ones need no look."""


@dataclass(frozen=True)
class Crossed:
    """An insert in another. Pieces are indices into the stack."""

    earlier: int
    later: int
    size: float
    """Extent of what lies in the earlier one, mm, in the direction that is worst."""
    difference: float
    """How much more the earlier one wants to move than the later, mm; negative where it is the other way round."""
    off_grain: float
    """Between both grains, 0 to 90 degrees."""


def crossed_grain(stack: Stack) -> list[Crossed]:
    """For each insert that is seen and lies mostly in an earlier one, the worse of both directions; all flat-sawn."""
    found = []
    for placed in stack.pieces:
        seen = stack.remnants[placed.index]
        x0, y0, x1, y1 = placed.insert.bounds if placed.sound and not placed.piece.is_groove else (0.0,) * 4
        if seen.is_empty or max(x1 - x0, y1 - y0) < LEAST_EXTENT:
            continue
        for i in placed.over:
            earlier = stack.pieces[i]
            if earlier.sound and not earlier.piece.is_groove:
                shared = shapely.intersection(seen, earlier.pocket)
                if shared.area >= MOSTLY * seen.area:
                    found += _worse(stack, earlier, placed, shared)
    return found


def _worse(stack: Stack, earlier: PlacedPiece, later: PlacedPiece, shared: shapely.Geometry) -> list[Crossed]:
    own = stack.design.woods
    woods = wood_of_piece(earlier.piece, own), wood_of_piece(later.piece, own)
    if woods[0] is None or woods[1] is None:
        return []
    air, off = climate(stack.design.workshop), float(off_grain(earlier.grain, later.grain))
    both = []
    for direction in (earlier.grain, earlier.grain + 90.0):
        size = float(extents([shared], direction)[0])
        moves = [
            change(size, in_direction(wood, "flat-sawn", direction - placed.grain), air.dry, air.damp)
            for wood, placed in zip(woods, (earlier, later), strict=True)
            if wood is not None
        ]
        both.append(Crossed(earlier.index, later.index, size, moves[0] - moves[1], off))
    return [max(both, key=lambda crossed: abs(crossed.difference))]
