"""Which pockets cut into each other: real overlaps, and edges that are shared but for a cutter's runout."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from ..witness import anywhere_wider, inside_both

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Shapes = npt.NDArray[np.object_]

FLUSH = 0.01
"""What comes nearer than a cutter's runout, mm, is one edge: no wall stands in such a gap, and an overlap nowhere wider
is none (common practice, no published source)."""
CUTS = 1e-12
"""Pockets that share more area than this, mm², cut into each other, however little that is to see."""
ROUNDING = 1e-9

_AT_ONCE = 20_000


@dataclass(frozen=True)
class PocketPairs:
    """Pairs of pockets that share area, as indices of their pieces, in rising order."""

    pairs: Ints
    """(n, 2) earlier and later."""
    overlap: Bools
    """(n,) Whether they share a place wider than 0.01 mm; else they share an edge."""

    def joined(self, other: PocketPairs) -> PocketPairs:
        """Both, which have no pair in common."""
        pairs, overlap = np.vstack([self.pairs, other.pairs]), np.concatenate([self.overlap, other.overlap])
        order = np.lexsort([pairs[:, 1], pairs[:, 0]])
        return PocketPairs(pairs[order], overlap[order])

    def later_than(self, count: int) -> tuple[list[tuple[int, ...]], list[tuple[int, ...]]]:
        """For each of `count` pieces the later ones that overlap it, and all later ones that cut into it."""
        return _by_first(self.pairs[self.overlap], count), _by_first(self.pairs, count)

    def earlier_than(self, count: int) -> list[tuple[int, ...]]:
        """For each of `count` pieces the earlier ones that it overlaps."""
        pairs = self.pairs[self.overlap][:, ::-1]
        return _by_first(pairs[np.lexsort([pairs[:, 1], pairs[:, 0]])], count)


def _by_first(pairs: Ints, count: int) -> list[tuple[int, ...]]:
    """The second of each pair by the first one, which rise."""
    ends = np.searchsorted(pairs[:, 0], np.arange(1, count))
    return [tuple(some.tolist()) for some in np.split(pairs[:, 1], ends)] if count else []


def pocket_pairs(pockets: Shapes, couples: Ints) -> PocketPairs:
    """Those couples (n, 2) of pockets, by design order, that share area; they meet, and rise."""
    if not len(couples):
        return PocketPairs(np.empty((0, 2), np.int64), np.empty(0, bool))
    shapely.prepare(pockets)
    parts = [_cutting(pockets, couples[k : k + _AT_ONCE]) for k in range(0, len(couples), _AT_ONCE)]
    return PocketPairs(np.vstack([p.pairs for p in parts]), np.concatenate([p.overlap for p in parts]))


def _cutting(pockets: Shapes, couples: Ints) -> PocketPairs:
    """Those of some pairs that share area. Most have such a place in plain sight; others are cut up."""
    one, other = pockets[couples[:, 0]], pockets[couples[:, 1]]
    overlap = ~np.isnan(inside_both(one, other, FLUSH)[:, 0])
    cuts = overlap.copy()
    unsure = np.flatnonzero(~overlap)
    shared = shapely.intersection(one[unsure], other[unsure])
    cuts[unsure] = shapely.area(shared) > CUTS
    some = cuts[unsure]
    overlap[unsure[some]] = anywhere_wider(shared[some], FLUSH + ROUNDING)
    return PocketPairs(couples[cuts], overlap[cuts])
