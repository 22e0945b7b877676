"""Where numbers go beside the places that they mark: near them, covering neither marks nor each other."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import shapely

Array = npt.NDArray[np.float64]

DIRECTIONS, STEPS = 32, 24
SHORTEST = 1.8
"""Shortest length of a leader from ring to plate's middle, in radii of a plate: 0.8 of it is seen."""
_OVER_PLATE, _OVER_MARK, _CROSSED = 1e6, 1e3, 1.0
"""Costs of a clash: a crossed leader is the least evil, two plates in one place the worst."""


def place_plates(marks: npt.ArrayLike, ring: float, plate: float, low: npt.ArrayLike, high: npt.ArrayLike) -> Array:
    """Middles (n, 2) for round plates beside marks.

    Marks in a crowd choose first, each the nearest place on the sheet where its plate is clear of all marks, plates and
    leaders that are there, and its leader crosses none of them.

    Args:
        marks: (n, 2) middles of the rings.
        ring, plate: radii of the rings round the places and of the plates.
        low, high: (2,) corners of the sheet, which must be larger than a plate.
    """
    at = np.asarray(marks, dtype=float).reshape(-1, 2)
    rings, plates = shapely.points(at), np.zeros_like(at)
    placed: list[int] = []
    for i in _crowded_first(at):
        others, there = np.delete(rings, i), shapely.points(plates[placed])
        lines = _leaders(at[placed], plates[placed])
        least = np.inf
        for spots in _spots(at[i], ring, plate, low, high):
            ends, leaders = shapely.points(spots), _leaders(at[i], spots)
            clash = _OVER_PLATE * _nearer(ends, there, 2.2 * plate)
            clash += _OVER_MARK * (_nearer(ends, others, ring + plate) + _nearer(leaders, there, 1.1 * plate))
            clash += _CROSSED * (_nearer(ends, lines, 1.1 * plate) + _nearer(leaders, others, ring))
            clash += _CROSSED * _nearer(leaders, lines, 0.1 * plate)
            if clash.min() < least:
                least, plates[i] = clash.min(), spots[np.argmin(clash)]
            if least == 0:
                break
        placed.append(i)
    return plates


def _crowded_first(at: Array) -> list[int]:
    apart = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    return [int(i) for i in np.argsort(apart.min(axis=1, initial=np.inf), kind="stable")]


def _spots(mark: Array, ring: float, plate: float, low: npt.ArrayLike, high: npt.ArrayLike) -> Iterator[Array]:
    """Places on the sheet, equally far from a mark, the nearest first; each time the upper right comes first."""
    angle = np.pi / 4 + 2 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    ways = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    least, most = np.asarray(low, dtype=float) + plate, np.asarray(high, dtype=float) - plate
    for step in range(STEPS):
        spots = mark + (ring + plate * (SHORTEST + 0.75 * step)) * ways
        spots = spots[((spots >= least) & (spots <= most)).all(axis=1)]
        if len(spots):
            yield spots
    yield np.clip(mark, least, most)[None]  # only for a mark far off the sheet, or where all is full


def _leaders(start: Array, ends: Array) -> npt.NDArray[np.object_]:
    lines: npt.NDArray[np.object_] = shapely.linestrings(np.stack([np.broadcast_to(start, ends.shape), ends], axis=1))
    return lines


def _nearer(shapes: npt.NDArray[np.object_], others: npt.NDArray[np.object_], than: float) -> Array:
    """For each shape the number of others nearer than that."""
    return np.asarray((shapely.distance(shapes[:, None], others[None]) < than).sum(axis=1), dtype=float)
