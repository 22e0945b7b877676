"""Finding of grain: a large insert lies across the grain of the insert that it is let into."""

from __future__ import annotations

from collections.abc import Iterator

from ..measures.all_measures import Measures
from ..measures.crossed_grain import crossed_grain
from ..witness import inside
from .finding import Finding, below, of
from .movement import SAME_GRAIN, STRAIN


def cross_grain(m: Measures) -> Iterator[Finding]:
    """From season to season an insert and the one that it lies in move more than 0.5 mm apart, their grains crossed."""
    for crossed in crossed_grain(m.stack):
        apart = abs(crossed.difference)
        if crossed.off_grain <= SAME_GRAIN or not below(STRAIN, apart):
            continue
        earlier, later = m.stack.pieces[crossed.earlier], m.stack.pieces[crossed.later]
        mover = earlier.piece.id if crossed.difference > 0 else later.piece.id
        words = (
            f"its grain lies {crossed.off_grain:.0f}° off that of {earlier.piece.id}, in which it lies, and over "
            f"{crossed.size:.2f} mm {mover} wants to move {apart:.2f} mm more than the other from season to season: "
            f"the glue line opens or the thinner wood splits"
        )
        remedy = (
            f"Turn its grain nearer to that of {earlier.piece.id} where the picture allows it, or use shorter pieces"
        )
        at = inside(m.stack.remnants[crossed.later])
        yield of("note", "cross-grain", later, at, words, remedy, other=earlier, value=apart, cause="crossed grain")
