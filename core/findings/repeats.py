"""Findings of what is said twice: one piece in one place, `after` that changes nothing, two woods of one name."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..measures.all_measures import Measures
from ..stack.pocket_pairs import FLUSH
from ..stack.stack import PlacedPiece
from ..witness import inside
from ..woods.species import find_wood
from .finding import Finding, Step, of, somewhere, xy


def repeated(m: Measures) -> Iterator[Finding]:
    """Find pieces that are in one place twice (warnings), and waits or names of woods that are there twice (notes)."""
    yield from _twins(m)
    yield from _idle_waits(m)
    for own in m.design.woods:
        if find_wood(own.name) is not None:
            at = (m.panel.width / 2, m.panel.height / 2)
            words = f"woods at {xy(at)}: your own {own.name} has the name of a wood in the table, and stands in for it"
            yield Finding(
                "note", "repeated", None, None, at, words, "Give your own wood another name, unless you want that"
            )


def _twins(m: Measures) -> Iterator[Finding]:
    """One finding for each piece that lies on an earlier one of its own shape and depth: the first of these."""
    pieces = m.stack.pieces
    bounds = shapely.bounds([p.pocket for p in pieces]).reshape(-1, 4)
    depths = np.array([p.depth for p in pieces], dtype=float)
    for placed in m.sound:
        under = np.array(placed.over, dtype=np.int64)
        near = (np.abs(bounds[under] - bounds[placed.index]) <= FLUSH).all(axis=1) & (depths[under] == placed.depth)
        earlier = next((pieces[i] for i in under[near].tolist() if _alike(pieces[i].pocket, placed.pocket)), None)
        if earlier is not None:
            words = f"it lies exactly where {earlier.piece.id} lies and has its shape: one of them is cut for nothing"
            remedy = f"Leave out {placed.piece.id}, or move it to its own place"
            yield of("warning", "repeated", placed, inside(placed.pocket), words, remedy, other=earlier, value=1.0)


def _alike(one: BaseGeometry, other: BaseGeometry) -> bool:
    """Whether two pockets are one, within a cutter's runout."""
    return one is other or bool(shapely.hausdorff_distance(one, other) <= FLUSH)


def _idle_waits(m: Measures) -> Iterator[Finding]:
    """Ids in `after` that a piece would wait for without being told."""
    index = {placed.piece.id: placed.index for placed in m.stack.pieces}
    before: dict[int, set[int]] = {}
    for placed in m.sound:
        named = {index[name] for name in placed.piece.after}
        before[placed.index] = {i for i in {*placed.over, *named} if m.stack.pieces[i].sound}
    for placed in m.sound:
        waits = [index[name] for name in placed.piece.after if m.stack.pieces[index[name]].sound]
        idle = [i for i in waits if _waits_anyway(before, placed, i)]
        if idle:
            names = " and ".join(m.stack.pieces[i].piece.id for i in idle)
            words = f'its "after" names {names}, which it has to wait for anyway'
            left = tuple(name for name in placed.piece.after if index[name] not in idle)
            step = Step(placed.piece.id, "after", left)
            remedy = f'Take {names} out of its "after"'
            other = m.stack.pieces[idle[0]]
            yield of("note", "repeated", placed, somewhere(placed), words, remedy, step, other=other, value=len(idle))


def _waits_anyway(before: Mapping[int, set[int]], placed: PlacedPiece, target: int) -> bool:
    """Whether a piece waits for another by an overlap, or through a third one."""
    if target in placed.over:
        return True
    seen: set[int] = set()
    left = [i for i in before[placed.index] if i != target]
    while left:
        i = left.pop()
        if i == target:
            return True
        if i not in seen:
            seen.add(i)
            left += before[i]
    return False
