"""How often lines cross, counted only as far as it matters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from ..limits import MOST_CROSSINGS, count_text
from .curves import Array

_FIRST, _AT_ONCE = 16, 500_000
"""Edges asked about at first; then as many as bring about so many pairs, so that no answer fills the memory."""
_CANDIDATES = 500
"""Counting also ends after so many pairs, for each crossing allowed, of which only the boxes meet."""


CROSSES_TOO_OFTEN = f"its lines cross or nearly cross each other more than {count_text(MOST_CROSSINGS)} times"


def cross_too_often(one: Sequence[Array], other: Sequence[Array] | None = None) -> bool:
    """Whether lines (n, 2) cross themselves, or others, more often than is worked on."""
    count, against = sum(map(len, one)), sum(map(len, one if other is None else other))
    if count * against <= MOST_CROSSINGS:
        return False
    return crossings(one, other, MOST_CROSSINGS) > MOST_CROSSINGS


def crossings(one: Sequence[Array], other: Sequence[Array] | None = None, most: int = 1 << 62) -> int:
    """How many pairs of edges cross, touch or overlap, neighbours along a line not counted.

    Args:
        one: lines as points (n, 2), mm.
        other: those to cross them with; without it `one` with itself.
        most: counting ends once there are more. The number is then above it, but need not be all; so it is where
            very many edges lie so close across each other's way that telling them apart takes as long.
    """
    edges = _edges(one)
    others = edges if other is None else _edges(other)
    if not len(edges) or not len(others):
        return 0
    tree = shapely.STRtree(shapely.linestrings(others))
    found, seen, first, step = 0, 0, 0, _FIRST
    while first < len(edges) and found <= most:
        asked = shapely.linestrings(edges[first : first + step])
        pairs = tree.query(asked)
        met = _meet(edges[pairs[0] + first], others[pairs[1]])
        if other is None:
            apart = pairs[1] > pairs[0] + first
            met &= apart & ~_joined(edges[pairs[0] + first], others[pairs[1]])
        found += int(np.count_nonzero(met))
        seen += pairs.shape[1]
        if seen > _CANDIDATES * most:
            return max(found, most + 1)
        first += step
        step = max(1, min(2 * step, _AT_ONCE * step // max(1, pairs.shape[1])))
    return found


def _edges(lines: Sequence[Array]) -> Array:
    """All edges (m, 2, 2) of some length."""
    edges = np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in lines if len(line) > 1] or [_NONE])
    kept: Array = edges[np.any(edges[:, 0] != edges[:, 1], axis=1)]
    return kept


_NONE = np.empty((0, 2, 2))


def _meet(a: Array, b: Array) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Whether edges (m, 2, 2) meet: the ends of each lie on both sides of the other, or on it."""
    ends_b = _side(a, b[:, 0]) * _side(a, b[:, 1])
    ends_a = _side(b, a[:, 0]) * _side(b, a[:, 1])
    return (ends_a <= 0) & (ends_b <= 0)


def _side(edge: Array, point: Array) -> Array:
    u, v = edge[:, 1] - edge[:, 0], point - edge[:, 0]
    side: Array = np.sign(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    return side


def _joined(a: Array, b: Array) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Whether they share an end, as neighbours do."""
    joined: np.ndarray[tuple[int], np.dtype[np.bool_]] = np.zeros(len(a), np.bool_)
    for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)):
        joined |= np.all(a[:, i] == b[:, j], axis=1)
    return joined
