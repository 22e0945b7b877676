"""Arcs and cubic Béziers from vertex to vertex of runs, many at once, and whether each keeps within a tolerance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .runs import Runs

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Plane = npt.NDArray[np.complex128]

WIDEST_ARC = np.tan(np.radians(270.0) / 4)
MOST_TURN = np.cos(np.radians(120.0))
NEWTON = 2
"""Rounds of fitting a cubic, each after its parameters were set anew."""
FEW, FEW_FOR_CUBICS = 12, 16
"""Samples that an arc and a cubic are fitted to; all of them decide whether it is near enough."""


@dataclass(frozen=True, eq=False)
class Tried:
    """Segments from vertices to vertices, and how they fitted."""

    good: Bools
    bulge: Array
    handles: Array
    """(k, 2, 2)"""

    def only(self, some: Bools) -> Tried:
        """Some of them."""
        return Tried(self.good[some], self.bulge[some], self.handles[some])


def straight(count: int) -> Tried:
    """Single edges."""
    return Tried(np.ones(count, bool), np.zeros(count), np.zeros((count, 2, 2)))


def _few(runs: Runs, start: Ints, end: Ints, count: int) -> Ints:
    """Indices (k, count) of some samples between vertices, evenly spread; where there are fewer, some come again."""
    between = runs.sample[end] - runs.sample[start] - 1
    share = (np.arange(count) + 0.5) / count
    return runs.sample[start][:, None] + 1 + (between[:, None] * share).astype(np.int64)


def _all(runs: Runs, start: Ints, end: Ints) -> tuple[Ints, Ints, Ints]:
    """Indices of all samples between vertices, which segment each belongs to, and where each begins among them."""
    counts = runs.sample[end] - runs.sample[start] - 1
    offsets = np.cumsum(counts) - counts
    owner = np.repeat(np.arange(len(start)), counts)
    return np.arange(len(owner)) + (runs.sample[start] + 1 - offsets)[owner], owner, offsets


def arcs(runs: Runs, start: Ints, end: Ints, tolerance: float) -> Tried:
    """The best arcs between vertices, straight lines among them.

    In a frame with the chord from (-h, 0) to (h, 0), the circle through both ends with sagitta s is
    s (x² + y² - h²) + y (h² - s²) = 0; divided by s² + h² the left side is, near it, the distance from it (derived
    from the circle's equation; it stays sound where the arc is flat). Two least-squares steps in s from the arc
    through a vertex midway, then the middle of all s that keep every sample within the tolerance. The steps look at a
    few samples, and where no s suits those, no more is done.
    """
    a, b = runs.points[start], runs.points[end]
    half = np.maximum(np.hypot(*(b - a).T) / 2, 1e-9)
    frame = (a + b) / 2 @ (1, 1j), ((b - a) / (2 * half)[:, None] @ (1, 1j)).conj()
    s = _through_middle(*_framed(runs, runs.sample[(start + end) // 2], *frame), half)
    few = _framed(runs, _few(runs, start, end, FEW), *(part[:, None] for part in frame))
    h = half[:, None]
    for _ in range(2):
        off, rate = _off_circle(*few, h, s[:, None])
        s = s - np.sum(off * rate, axis=1) / np.sum(rate**2, axis=1)
    low, high = _allowed(*_off_circle(*few, h, s[:, None]), tolerance)
    maybe = np.flatnonzero(low.max(axis=1) <= high.min(axis=1))
    good = np.zeros(len(start), bool)
    if len(maybe):
        index, owner, offsets = _all(runs, start[maybe], end[maybe])
        of = maybe[owner]
        every = _framed(runs, index, *(part[of] for part in frame))
        each = _allowed(*_off_circle(*every, half[of], s[of]), tolerance)
        low, high = np.maximum.reduceat(each[0], offsets), np.minimum.reduceat(each[1], offsets)
        straight = (s[maybe] + low <= 0) & (s[maybe] + high >= 0)
        s[maybe] = np.where(straight, 0.0, s[maybe] + (low + high) / 2)
        off, _ = _off_circle(*every, half[of], s[of])
        good[maybe] = np.maximum.reduceat(np.abs(off), offsets) <= tolerance
    bulge = -s / half  # a sagitta to the left of the chord is a clockwise arc
    good &= np.abs(bulge) <= WIDEST_ARC
    single = end == start + 1
    return Tried(good | single, np.where(single, 0.0, bulge), np.zeros((len(start), 2, 2)))


def _framed(runs: Runs, index: Ints, middle: Plane, turn: Plane) -> tuple[Array, Array]:
    """Samples in the frames of their chords."""
    there = (runs.samples[index] - middle) * turn
    return there.real, there.imag


def _off_circle(x: Array, y: Array, h: Array, s: Array) -> tuple[Array, Array]:
    """How far points lie off circles, and how fast that changes with the sagitta."""
    inside = x**2 + y**2 - h**2
    scale = 1 / (s**2 + h**2)
    off = (s * inside + y * (h**2 - s**2)) * scale
    rate = (inside - 2 * s * y) * scale
    return off, np.where(np.abs(rate) < 1e-9, -1e-9, rate)


def _allowed(off: Array, rate: Array, tolerance: float) -> tuple[Array, Array]:
    """The least and the most that the sagitta may change, so that each point comes within the tolerance."""
    one, other = (-tolerance - off) / rate, (tolerance - off) / rate
    return np.minimum(one, other), np.maximum(one, other)


def _through_middle(x: Array, y: Array, half: Array) -> Array:
    """Sagitta of the arc through both ends and the vertex midway, from the crossing of two bisectors."""
    flat = np.abs(y) < 1e-9
    k = (x**2 + y**2 - half**2) / (2 * np.where(flat, 1.0, y))
    return np.where(flat, 0.0, k + np.sign(y) * np.hypot(k, half))


def cubics(runs: Runs, start: Ints, end: Ints, tolerance: float) -> Tried:
    """The best cubics between vertices, along their tangents there.

    As P. J. Schneider fits digitized curves (Graphics Gems, 1990): ends and their directions are given, the two
    handles' lengths come from least squares, the samples' parameters from Newton's method, by turns. Here only
    distances across the curve are made small, so that wrong parameters do little harm. The fit looks at a few samples;
    all are looked at where it is good at those.
    """
    first, last = runs.sample[start], runs.sample[end]
    a, d = runs.samples[first], runs.samples[last]
    t, w = runs.tangents[start], runs.tangents[end]
    length = np.maximum(runs.along[last] - runs.along[first], 1e-12)
    index = _few(runs, start, end, FEW_FOR_CUBICS)
    target = runs.samples[index]
    u = (runs.along[index] - runs.along[first][:, None]) / length[:, None]
    alpha = beta = length / 3
    for step in range(NEWTON + 1):
        cubic = _cubic(a, a + alpha * t, d - beta * w, d)
        each = [part[:, None] for part in cubic]
        u = _nearer(each, target, u) if step else u
        normal = _normal(each, u)
        if step == NEWTON:
            break
        v = 1 - u
        b1, b2, b3 = 3 * v * v * u, 3 * v * u * u, u * u * u
        y = (normal * (target - a[:, None] - (b2 + b3) * (d - a)[:, None])).imag
        alpha, beta = _solved(b1 * (normal * t[:, None]).imag, -b2 * (normal * w[:, None]).imag, y, length)
    good = np.abs((normal * (target - _at(each, u))).imag).max(axis=1) <= tolerance
    good &= (alpha > 0) & (beta > 0) & (alpha < length) & (beta < length) & ((t * w.conj()).real > MOST_TURN)
    maybe = np.flatnonzero(good)
    if len(maybe):
        index, owner, offsets = _all(runs, start[maybe], end[maybe])
        of, target = maybe[owner], runs.samples[index]
        u = (runs.along[index] - runs.along[first][of]) / length[of]
        each = [part[of] for part in cubic]
        for _ in range(NEWTON):
            u = _nearer(each, target, u)
        off = (_normal(each, u) * (target - _at(each, u))).imag
        good[maybe] = np.maximum.reduceat(np.abs(off), offsets) <= tolerance
    p1, p2 = a + alpha * t, d - beta * w
    handles = np.stack([p1.real, p1.imag, p2.real, p2.imag], axis=1).reshape(-1, 2, 2)
    return Tried(good, np.zeros(len(start)), handles)


def _cubic(a: Plane, p1: Plane, p2: Plane, d: Plane) -> list[Plane]:
    """Coefficients of cubics, from those of u³ to the constant ones."""
    return [d - a + 3 * (p1 - p2), 3 * (a - 2 * p1 + p2), 3 * (p1 - a), a]


def _at(cubic: Sequence[Plane], u: Array) -> Plane:
    c3, c2, c1, c0 = cubic
    return ((c3 * u + c2) * u + c1) * u + c0


def _slope(cubic: Sequence[Plane], u: Array) -> Plane:
    c3, c2, c1, _ = cubic
    return (3 * c3 * u + 2 * c2) * u + c1


def _normal(cubic: Sequence[Plane], u: Array) -> Plane:
    """What turns the cubics' tangents into the real axis, of length 1."""
    slope = _slope(cubic, u)
    normal: Plane = slope.conj() / np.maximum(np.abs(slope), 1e-12)
    return normal


def _nearer(cubic: Sequence[Plane], target: Plane, u: Array) -> Array:
    """Parameters after one step of Newton's method towards the nearest points of the cubics."""
    slope = _slope(cubic, u)
    ahead = ((target - _at(cubic, u)) * slope.conj()).real
    moved: Array = np.clip(u + ahead / np.maximum(slope.real**2 + slope.imag**2, 1e-12), 0.0, 1.0)
    return moved


def _solved(c1: Array, c2: Array, y: Array, length: Array) -> tuple[Array, Array]:
    """Both handles' lengths from the normal equations of each row; a third of the length where those say nothing."""
    a11, a12, a22 = (np.sum(part, axis=1) for part in (c1 * c1, c1 * c2, c2 * c2))
    y1, y2 = np.sum(c1 * y, axis=1), np.sum(c2 * y, axis=1)
    det = a11 * a22 - a12**2
    weak = det < 1e-9 * a11 * a22 + 1e-30
    safe = np.where(weak, 1.0, det)
    alpha = np.where(weak, length / 3, (a22 * y1 - a12 * y2) / safe)
    beta = np.where(weak, length / 3, (a11 * y2 - a12 * y1) / safe)
    return alpha, beta
