"""Inserts levelled to few thicknesses, tried on a copy of the design before it is offered.

Thicknesses that lie near each other become one. The pocket of an insert that gets thicker or thinner gets deeper or
shallower by as much, so that it stands as proud as before; where a floor, a skin or a cutter does not allow that, the
pocket stays and the insert stands more or less proud.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from ..design import Design, Piece
from ..measures.all_measures import Measures
from ..measures.leaf_kinds import leaf_kinds, thicknesses
from .proving import Proving, with_pieces

MOST = 4
"""Thicknesses that are planed without a muddle (common practice)."""
FALL_BACK = 2
"""Where so few cannot be, so many more are tried."""
MOST_TRIED = 12
LEAST_PROUD, MOST_PROUD = 0.5, 3.0
"""An insert that keeps its pocket stands no less and no more proud than this, mm (common practice)."""

Weights = dict[float, int]
"""How many inserts have each thickness."""


@dataclass(frozen=True)
class Levelled:
    """One insert in its new thickness; mm."""

    piece: str
    thickness: float
    depth: float
    """Depth of its pocket."""
    was_thick: float
    was_deep: float


@dataclass(frozen=True, eq=False)
class FewerThicknesses:
    """What levelling does, proved: nothing is wrong then that was not before."""

    thicknesses: tuple[float, ...]
    kinds: int
    """Combinations of wood and thickness that are left."""
    changes: tuple[Levelled, ...]
    design: Design


@dataclass(frozen=True, eq=False)
class Levelling:
    """The offer, or why there is none."""

    offer: FewerThicknesses | None
    why_none: str


def fewer_thicknesses(m: Measures) -> Levelling:
    """Level the inserts to at most four thicknesses, or a few more where that cannot be."""
    now = thicknesses(m.stack)
    if len(now) <= MOST:
        return Levelling(None, f"the inserts have no more than {MOST} thicknesses")
    proving = Proving(m, MOST_TRIED)
    stands_in_the_way = ""
    for count in range(MOST, min(MOST + FALL_BACK, len(now) - 1) + 1):
        for choose in (_middle, max, min):
            offer, problem = _attempt(m, proving, count, choose)
            if offer is not None:
                return Levelling(offer, "")
            stands_in_the_way = stands_in_the_way or problem
    return Levelling(None, f"every way that was tried brings a new warning, such as {stands_in_the_way}")


def _attempt(
    m: Measures, proving: Proving, count: int, choose: Callable[[Sequence[float]], float]
) -> tuple[FewerThicknesses | None, str]:
    """One way to level; pieces that it harms keep their pockets, and then it is tried once more."""
    targets = _targets(_weights(m), count, choose)
    kept: set[str] = set()
    problem = ""
    for _ in range(3):
        changes = _changed(m, targets, kept)
        if changes is None:
            break
        tried = proving.tried(with_pieces(m.design, changes))
        if tried is None:
            break
        if not tried.worse:
            stack = tried.stack
            told = tuple(_told(m, piece) for piece in changes)
            return FewerThicknesses(tuple(thicknesses(stack)), len(leaf_kinds(stack)), told, stack.design), ""
        problem = problem or f"{tried.worse[0].code} at {tried.worse[0].piece or 'the panel'}"
        harmed = {name for finding in tried.worse for name in (finding.piece, finding.other) if name is not None}
        if harmed <= kept:
            break
        kept |= harmed
    return None, problem


def _weights(m: Measures) -> Weights:
    weights: Weights = {}
    for (_, thickness), pieces in leaf_kinds(m.stack).items():
        weights[thickness] = weights.get(thickness, 0) + len(pieces)
    return dict(sorted(weights.items()))


def _middle(some: Sequence[float]) -> float:
    return sorted(some)[len(some) // 2]


def _targets(weights: Weights, count: int, choose: Callable[[Sequence[float]], float]) -> dict[float, float]:
    """For each thickness the one that it becomes: runs of neighbours, so that the inserts change least in all.

    The runs are found by looking at all ends of the last run, for one run, then two and so on (dynamic programming).
    """
    values = list(weights)
    best: dict[tuple[int, int], tuple[float, tuple[int, ...]]] = {(0, 0): (0.0, (0,))}
    for runs in range(1, count + 1):
        for end in range(runs, len(values) + 1):
            ways = [
                (best[runs - 1, start][0] + _cost(values[start:end], weights, choose), (*best[runs - 1, start][1], end))
                for start in range(runs - 1, end)
                if (runs - 1, start) in best
            ]
            best[runs, end] = min(ways)
    ends = best[count, len(values)][1]
    return {
        value: _target(values[start:end], weights, choose)
        for start, end in pairwise(ends)
        for value in values[start:end]
    }


def _target(run: Sequence[float], weights: Weights, choose: Callable[[Sequence[float]], float]) -> float:
    return choose([value for value in run for _ in range(weights[value])])


def _cost(run: Sequence[float], weights: Weights, choose: Callable[[Sequence[float]], float]) -> float:
    """How far the inserts of a run change in all, mm."""
    target = _target(run, weights, choose)
    return sum(weights[value] * abs(value - target) for value in run)


def _changed(m: Measures, targets: dict[float, float], kept: Collection[str]) -> list[Piece] | None:
    """The pieces in their new thickness; None where one that keeps its pocket would stand too proud, or not enough."""
    changed = []
    for placed in m.sound:
        piece = placed.piece
        target = targets.get(round(piece.insert_thickness, 6))
        if piece.is_groove or target is None or abs(target - piece.insert_thickness) < 1e-6:
            continue
        more = target - piece.insert_thickness
        if piece.id in kept:
            if not LEAST_PROUD <= placed.top + more <= max(MOST_PROUD, placed.top):
                return None
            changed.append(replace(piece, insert_thickness=target))
        else:
            depth = round(piece.pocket_depth + more, 6)
            if depth <= piece.floor_gap:
                return None
            deeper = replace(piece, insert_thickness=target, pocket_depth=depth)
            changed.append(replace(deeper, corner_radius=_corner_radius(piece, deeper)))
    return changed


def _corner_radius(before: Piece, after: Piece) -> float:
    """What the reader makes of it: the radius that its cutter leaves, unless the design asks for a larger one."""
    by_default = abs(before.corner_radius - before.radius_at_face) < 1e-9
    return after.radius_at_face if by_default else max(before.corner_radius, after.radius_at_face)


def _told(m: Measures, piece: Piece) -> Levelled:
    before = next(placed.piece for placed in m.sound if placed.piece.id == piece.id)
    return Levelled(piece.id, piece.insert_thickness, piece.pocket_depth, before.insert_thickness, before.pocket_depth)
