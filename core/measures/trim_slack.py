"""The slack in face trim: how much more than planned may come off the face before something gives, and where."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import without_noise
from ..design import Point
from ..stack.stack import PlacedPiece, Stack
from ..witness import inside

LEAST_LEFT = 0.5
"""An insert thinner than this, mm, is sanded through (common practice)."""
RECEDES = 1.5
"""A tip between leaning walls is gone where it has moved back by this, mm (common practice)."""
STEPS = 14
"""Times that the slack is halved in looking for the trim at which a tip gives: it is found within 0.001 mm."""

Gives = Literal["skin", "floor", "tip"]


@dataclass(frozen=True)
class TrimSlack:
    """The first place where something gives. `piece` and `under` are indices into the stack."""

    gives: Gives
    """The insert is sanded through to a skin of an earlier one, or to its pocket's floor, or a tip of it recedes."""
    piece: int
    under: int | None
    """The earlier piece whose skin shows."""
    slack: float
    """How much more than the planned face trim may come off, mm; below 0 where the plan is too much already."""
    left: float
    """What is left of the insert when the face is trimmed as planned, mm."""
    at: Point


def trim_slacks(stack: Stack) -> list[TrimSlack]:
    """The first skin, floor and tip that give as the face is trimmed further, the first of all first.

    Pockets count as deep as they come out. Pieces of which nothing is seen are left out.
    """
    found: dict[Gives, TrimSlack] = {}
    for placed, seen in zip(stack.pieces, stack.remnants, strict=True):
        if not seen.is_empty:
            for one in _of_piece(stack, placed, seen):
                if one.gives not in found or one.slack < found[one.gives].slack:
                    found[one.gives] = one
    return sorted(found.values(), key=lambda one: one.slack)


def _of_piece(stack: Stack, placed: PlacedPiece, seen: BaseGeometry) -> Iterator[TrimSlack]:
    left = -placed.bottom + stack.design.workshop.depth_error - stack.design.panel.face_trim
    bare = seen
    for earlier in sorted((stack.pieces[i] for i in placed.over), key=lambda one: -one.index):
        if earlier.bottom < placed.bottom - 1e-6:
            skin = without_noise(shapely.intersection(bare, earlier.insert_at(-placed.bottom)))
            if not skin.is_empty:
                yield TrimSlack("skin", placed.index, earlier.index, left - LEAST_LEFT, left, inside(skin))
                bare = without_noise(shapely.difference(bare, earlier.pocket_at(-placed.bottom)))
    if not bare.is_empty:
        yield TrimSlack("floor", placed.index, None, left - LEAST_LEFT, left, inside(bare))
    if placed.piece.taper > 0 and left > 0:
        yield from _tip(stack, placed, seen, left)


def _tip(stack: Stack, placed: PlacedPiece, seen: BaseGeometry, left: float) -> Iterator[TrimSlack]:
    """Where walls lean in an insert gets smaller as the face is trimmed, and a tip that a later pocket left recedes.

    A tip of the angle a recedes by the trim x tan(taper) / sin(a): from the triangle between its two edges.
    """
    trim = stack.design.panel.face_trim

    def gone(more: float) -> BaseGeometry:
        still = placed.insert_at(trim + more)
        later = [stack.pieces[i].pocket_at(trim + more) for i in placed.cut_by]
        return without_noise(
            shapely.difference(seen, shapely.difference(still, shapely.union_all(later)).buffer(RECEDES))
        )

    low, high = 0.0, left - 1e-6
    lost = gone(high)
    if lost.is_empty:
        return
    for _ in range(STEPS):
        middle = (low + high) / 2
        if (here := gone(middle)).is_empty:
            low = middle
        else:
            high, lost = middle, here
    yield TrimSlack("tip", placed.index, None, low, left, inside(lost))
