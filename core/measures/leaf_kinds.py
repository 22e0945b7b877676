"""How many kinds of leaf the inserts are sawn from: each combination of wood and thickness is planed by itself."""

from __future__ import annotations

from ..stack.stack import Stack
from ..woods.species import woods_in

Kind = tuple[tuple[str, ...], float]
"""Wood, or woods of a glued-up blank, and thickness, mm."""


def leaf_kinds(stack: Stack) -> dict[Kind, list[int]]:
    """Indices of the pieces that are sawn from each kind of leaf, by wood and thickness; grooves take strip instead."""
    kinds: dict[Kind, list[int]] = {}
    for placed in stack.pieces:
        if placed.sound and not placed.piece.is_groove:
            kinds.setdefault((woods_in(placed.piece), round(placed.piece.insert_thickness, 6)), []).append(placed.index)
    return dict(sorted(kinds.items()))


def thicknesses(stack: Stack) -> list[float]:
    """The thicknesses of all inserts that are sawn, mm, the thinnest first."""
    return sorted({thickness for _, thickness in leaf_kinds(stack)})
