"""Rings and lines of points as runs between corners, with all that fitting curves to them asks for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Plane = npt.NDArray[np.complex128]

APART, MOST_STEPS = 0.4, 64
"""Samples on an edge, mm, and how many it has at most."""
CORNER = np.radians(20.0)
"""A vertex that turns by more is a corner and stays one."""
LESS_OF_A_CORNER, TIMES = np.radians(4.0), 3.0
"""A vertex is one too if it turns by this, and so many times as much as both its neighbours."""
LONG_EDGE, LONGER = 0.5, 4.0
"""An edge this long, mm, and so many times as long as the next three begins or ends a straight stretch."""


@dataclass(frozen=True, eq=False)
class Runs:
    """Runs of vertices, end to end in one array, with all that does not depend on where a segment starts."""

    points: Array
    """(n, 2)"""
    first: Ints
    """(r,) index of each run's first vertex."""
    last: Ints
    ring: Ints
    """(r,) which ring or line each is a part of."""
    samples: Plane
    """(m,) vertices, and between them the middles of their edges, of long ones more points; as complex numbers, which
    are quick to reckon with."""
    sample: Ints
    """(n,) index of each vertex among the samples."""
    along: Array
    """(m,) distance along the run at the samples, mm."""
    tangents: Plane
    """(n,) unit vectors at the vertices, as complex numbers."""


def runs_of(rings: Sequence[Array], closed: Sequence[bool]) -> Runs:
    """All runs of rings (n, 2), or lines where not `closed`, cut at their corners and where straight edges begin."""
    parts: list[Array] = []
    owners: list[int] = []
    whole: list[bool] = []
    for number, (ring, shut) in enumerate(zip(rings, closed, strict=True)):
        cuts = np.flatnonzero(_corners(ring))
        if shut and len(cuts):
            turned = np.concatenate([ring[cuts[0] : -1], ring[: cuts[0] + 1]])
            ends = [*(cuts - cuts[0]).tolist(), len(turned) - 1]
        else:
            turned = ring
            ends = [0, *(() if shut else cuts[(cuts > 0)].tolist()), len(ring) - 1]
        for a, b in pairwise(ends):
            parts.append(turned[a : b + 1])
            owners.append(number)
            whole.append(shut and not len(cuts))
    points = np.concatenate(parts)
    ends_at = np.cumsum([len(part) for part in parts])
    first = np.concatenate([[0], ends_at[:-1]])
    last = ends_at - 1
    samples, sample = _sampled(points)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(samples, axis=0).T))])
    tangents = _tangents(points, first, last, np.array(whole))
    return Runs(points, first, last, np.array(owners), samples @ (1, 1j), sample, along, tangents @ (1, 1j))


def _corners(ring: Array) -> Bools:
    """Which of the vertices (n,) of a ring (n + 1, 2) are corners, or ends of long straight edges."""
    edges = np.diff(ring, axis=0)
    length = np.hypot(*edges.T)
    before, before_length = np.roll(edges, 1, axis=0), np.roll(length, 1)
    cross = before[:, 0] * edges[:, 1] - before[:, 1] * edges[:, 0]
    turn = np.abs(np.arctan2(cross, np.sum(before * edges, axis=1)))
    beside = np.maximum(np.roll(turn, 1), np.roll(turn, -1))
    sharp = (turn > CORNER) | ((turn > LESS_OF_A_CORNER) & (turn > TIMES * beside))
    ahead = np.maximum.reduce([np.roll(length, -step) for step in range(3)])
    behind = np.maximum.reduce([np.roll(length, step) for step in range(1, 4)])
    straight = (length > LONG_EDGE) & (length > LONGER * behind)
    straight |= (before_length > LONG_EDGE) & (before_length > LONGER * ahead)
    return np.asarray(sharp | straight)


def _sampled(points: Array) -> tuple[Array, Ints]:
    """Points on a line (n, 2) close enough to look at, and the index of each vertex among them."""
    edges = np.diff(points, axis=0)
    steps = np.clip(np.ceil(np.hypot(*edges.T) / APART), 2, MOST_STEPS).astype(np.int64)
    sample = np.concatenate([[0], np.cumsum(steps)])
    which = np.repeat(np.arange(len(edges)), steps)
    share = (np.arange(sample[-1]) - sample[which]) / steps[which]
    return np.concatenate([points[which] + share[:, None] * edges[which], points[-1:]]), sample


def _tangents(points: Array, first: Ints, last: Ints, whole: Bools) -> Array:
    """Unit tangents at the vertices, from a parabola through each and near four neighbours of its run.

    Least squares of p(s) - p(0) = a s + b s², weighted by 1 / s², over two vertices on each side; at a run's ends
    over those that there are, in a ring without corners round its start.
    """
    run = np.repeat(np.arange(len(first)), last - first + 1)
    here = np.arange(len(points))
    sums = np.zeros((len(points), 3))
    right = np.zeros((2, len(points), 2))
    span = (last - first)[run]
    for step in (-2, -1, 1, 2):
        there = here + step
        round_again = first[run] + (there - first[run]) % np.maximum(span, 1)
        there = np.where(whole[run], round_again, there)
        inside = (there >= first[run]) & (there <= last[run])
        there = np.where(inside, there, here)
        way = points[there] - points
        s = np.sign(step) * np.hypot(*way.T)
        weight = np.where(inside & (s != 0), 1 / np.maximum(s**2, 1e-12), 0.0)
        sums += weight[:, None] * np.stack([s**2, s**3, s**4], axis=1)
        right[0] += (weight * s)[:, None] * way
        right[1] += (weight * s**2)[:, None] * way
    s2, s3, s4 = sums.T
    det = s2 * s4 - s3**2
    enough = det > 1e-9 * s2 * s4
    safe = np.where(enough, det, 1.0)
    bent = (s4[:, None] * right[0] - s3[:, None] * right[1]) / safe[:, None]
    plain = right[0] / np.maximum(s2, 1e-12)[:, None]
    tangent = np.where(enough[:, None], bent, plain)
    unit: Array = tangent / np.maximum(np.hypot(*tangent.T), 1e-12)[:, None]
    return unit
