"""Few arcs and cubic Béziers in place of many short lines: rings and lines of points, fitted within a tolerance.

A ring is cut at its corners and where straight edges begin; from each cut the longest arc (or cubic) that stays within
the tolerance is taken, again and again. All runs of all rings go forward together, so that each step is a few calls
on whole arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import numpy.typing as npt

from .curve import Circle, Curve, Kind, polyline, whole_circle

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Plane = npt.NDArray[np.complex128]
Pieces = Literal["arcs", "curves", "polylines"]

TOLERANCE = 0.002
"""How far a fitted curve may lie from core's outline, mm."""
SAMPLED = 0.0016
"""How far it may lie off at the points that are looked at, which are close but not everywhere, mm."""
APART, MOST_STEPS = 0.4, 64
"""Samples on an edge, mm, and how many it has at most."""
CORNER = np.radians(20.0)
"""A vertex that turns by more is a corner and stays one."""
LESS_OF_A_CORNER, TIMES = np.radians(4.0), 3.0
"""A vertex is one too if it turns by this, and so many times as much as both its neighbours."""
LONG_EDGE, LONGER = 0.5, 4.0
"""An edge this long, mm, and so many times as long as the next three begins or ends a straight stretch."""
WIDEST_ARC = np.tan(np.radians(270.0) / 4)
TRUE_ARC = np.radians(40.0)
"""An arc that turns so far is taken even where a cubic reaches further: it is most likely what was drawn."""
FURTHER = 1.5
"""A cubic is taken where it reaches so many times as far as an arc."""
MOST_TURN = np.cos(np.radians(120.0))
NEWTON = 2
"""Rounds of fitting a cubic, each after its parameters were set anew."""


@dataclass(frozen=True, eq=False)
class _Runs:
    """Runs of vertices, end to end in one array, with all that does not depend on where a segment starts."""

    points: Array
    """(n, 2)"""
    first: Ints
    """(r,) index of each run's first vertex."""
    last: Ints
    ring: Ints
    """(r,) which ring or line each is a part of."""
    samples: Array
    """(m, 2) vertices, and between them the middles of their edges, of long ones more points."""
    sample: Ints
    """(n,) index of each vertex among the samples."""
    plane: Plane
    """The samples as complex numbers, with which cubics are quicker to reckon."""
    along: Array
    """(m,) distance along the run at the samples, mm."""
    tangents: Plane
    """(n,) unit vectors at the vertices, as complex numbers."""


def fit_rings(rings: Sequence[Array], pieces: Pieces = "curves", tolerance: float = SAMPLED) -> list[Curve]:
    """A curve for each ring or line.

    Args:
        rings: each (n, 2), mm; closed where its last point is its first.
        pieces: "arcs" and straight lines only, or "curves", cubics too; "polylines" leaves all as it is.
        tolerance: mm, at vertices and middles of edges.
    """
    closed = [bool(np.array_equal(ring[0], ring[-1])) for ring in rings]
    if pieces == "polylines":
        return [polyline(ring, shut) for ring, shut in zip(rings, closed, strict=True)]
    made: list[Curve | None] = [None] * len(rings)
    for number, (ring, shut) in enumerate(zip(rings, closed, strict=True)):
        circle = _circle(ring, tolerance) if shut else None
        made[number] = None if circle is None else whole_circle(circle)
    left = [number for number, curve in enumerate(made) if curve is None]
    if left:
        runs = _runs([rings[number] for number in left], [closed[number] for number in left])
        for number, curve in zip(left, _greedy(runs, [closed[n] for n in left], pieces, tolerance), strict=True):
            made[number] = curve
    return [curve for curve in made if curve is not None]


# --- Circles and corners --------------------------------------------------------------------------------------------


def _circle(ring: Array, tolerance: float) -> Circle | None:
    """The circle that a ring is, if it is one: least squares of x² + y² + a x + b y + c (Kåsa's fit, 1976)."""
    points = ring[:-1]
    if len(points) < 12:
        return None
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    (a, b, c), *_ = np.linalg.lstsq(np.stack([x, y, np.ones_like(x)], axis=1), -(x**2 + y**2), rcond=None)
    centre, radius = np.array([-a / 2, -b / 2]), float(np.sqrt(max(a**2 / 4 + b**2 / 4 - c, 0.0)))
    middles = (ring[:-1] + ring[1:]) / 2
    away = np.hypot(*(np.concatenate([points, middles]) - middle - centre).T)
    radius += float(away.max() + away.min() - 2 * radius) / 2
    if np.abs(away - radius).max() > tolerance:
        return None
    x, y = (centre + middle).tolist()
    return Circle((x, y), radius)


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


def _runs(rings: Sequence[Array], closed: Sequence[bool]) -> _Runs:
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
    return _Runs(points, first, last, np.array(owners), samples, sample, samples @ (1, 1j), along, tangents @ (1, 1j))


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


# --- The longest segment from each start ----------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Tried:
    """Segments from vertices to vertices, and how they fitted."""

    good: Bools
    bulge: Array
    handles: Array
    """(k, 2, 2)"""


Fits = Callable[[_Runs, Ints, Ints, float], _Tried]


def _greedy(runs: _Runs, closed: Sequence[bool], pieces: Pieces, tolerance: float) -> list[Curve]:
    """All runs go forward by one segment at a time, until each has come to its end."""
    found: list[tuple[Ints, Ints, Ints, Ints, Array, Array]] = []
    active, at = np.arange(len(runs.first)), runs.first.copy()
    guess = np.full(len(at), 8)
    while len(active):
        start, last = at[active], runs.last[active]
        end, arc = _reach(runs, start, last, guess[active], tolerance, _arcs)
        guess[active] = end - start
        kind = np.full(len(active), Kind.ARC, np.int64)
        handles = arc.handles
        if pieces == "curves":
            chosen = _where_cubics_reach(runs, start, end, last, arc.bulge, tolerance)
            if len(chosen):
                far, cubic = _reach(runs, start[chosen], last[chosen], 2 * (end - start)[chosen], tolerance, _cubics)
                end[chosen], kind[chosen], handles[chosen] = far, Kind.CUBIC, cubic.handles
        found.append((active, start, end, kind, arc.bulge, handles))
        at[active] = end
        active = active[end < last]
    return _gathered(runs, closed, found)


def _where_cubics_reach(runs: _Runs, start: Ints, end: Ints, last: Ints, bulge: Array, tolerance: float) -> Ints:
    """Which segments to take as cubics: those that get so much further than an arc that it is worth it."""
    further = np.minimum(last, start + np.ceil(FURTHER * (end - start)).astype(np.int64))
    maybe = np.flatnonzero((end < last) & (4 * np.arctan(np.abs(bulge)) < TRUE_ARC))
    if not len(maybe):
        return maybe
    return maybe[_cubics(runs, start[maybe], further[maybe], tolerance).good]


def _gathered(
    runs: _Runs, closed: Sequence[bool], found: list[tuple[Ints, Ints, Ints, Ints, Array, Array]]
) -> list[Curve]:
    """Segments of all steps, put in order and handed to their rings."""
    run, start, end, kind, bulge, handles = (np.concatenate(column) for column in zip(*found, strict=True))
    order = np.lexsort([start, run])
    run, start, end, kind, bulge, handles = (a[order] for a in (run, start, end, kind, bulge, handles))
    chord = np.hypot(*(runs.points[end] - runs.points[start]).T)
    flat = (kind == Kind.ARC) & (np.abs(bulge) * chord / 2 < 1e-6)
    kind = np.where(flat, Kind.STRAIGHT, kind)
    bulge = np.where(kind == Kind.ARC, bulge, 0.0)
    ring = runs.ring[run]
    cuts = np.searchsorted(ring, np.arange(len(closed) + 1))
    curves = []
    for a, b, shut in zip(cuts[:-1], cuts[1:], closed, strict=True):
        nodes = runs.points[np.append(start[a:b], end[b - 1])]
        curves.append(Curve(nodes, kind[a:b].astype(np.uint8), bulge[a:b], handles[a:b], shut))
    return curves


def _reach(runs: _Runs, start: Ints, last: Ints, guess: Ints, tolerance: float, fits: Fits) -> tuple[Ints, _Tried]:
    """From each start the furthest vertex that one segment reaches, and that segment.

    It gallops: from a guess on in double steps until one does not fit, then halves what is left between.
    """
    good, bad = start + 1, last + 1
    best = fits(runs, start, good, tolerance)
    bulge, handles = best.bulge.copy(), best.handles.copy()
    probe = np.minimum(start + np.maximum(guess, 2), last)
    left = np.flatnonzero(good < last)
    while len(left):
        tried = fits(runs, start[left], probe[left], tolerance)
        won, lost = left[tried.good], left[~tried.good]
        good[won], bulge[won], handles[won] = probe[won], tried.bulge[tried.good], tried.handles[tried.good]
        bad[lost] = probe[lost]
        doubled = start + 2 * (good - start)
        probe = np.where((bad > last) & (doubled < last), doubled, np.where(bad > last, last, (good + bad) // 2))
        left = left[(good[left] < last[left]) & (bad[left] - good[left] > 1)]
    return good, _Tried(np.ones(len(start), bool), bulge, handles)


def _gather(runs: _Runs, start: Ints, end: Ints) -> tuple[Ints, Ints, Ints]:
    """Indices of the samples between vertices, how many each segment has, and where each begins among them."""
    counts = runs.sample[end] - runs.sample[start] - 1
    offsets = np.cumsum(counts) - counts
    return np.arange(int(counts.sum())) + np.repeat(runs.sample[start] + 1 - offsets, counts), counts, offsets


def _arcs(runs: _Runs, start: Ints, end: Ints, tolerance: float) -> _Tried:
    """The best arcs between vertices, straight lines among them.

    In a frame with the chord from (-h, 0) to (h, 0), the circle through both ends with sagitta s is
    s (x² + y² - h²) + y (h² - s²) = 0; divided by s² + h² the left side is, near it, the distance from it (derived
    from the circle's equation; it stays sound where the arc is flat). Two least-squares steps in s from the arc
    through a vertex midway, then the middle of all s that keep every sample within the tolerance.
    """
    index, counts, offsets = _gather(runs, start, end)
    owner = np.repeat(np.arange(len(start)), counts)
    a, b = runs.points[start], runs.points[end]
    half = np.hypot(*(b - a).T) / 2
    half = np.maximum(half, 1e-9)
    unit = (b - a) / (2 * half)[:, None]
    away = runs.samples[index] - ((a + b) / 2)[owner]
    ux, uy = unit[owner].T
    x, y = away[:, 0] * ux + away[:, 1] * uy, away[:, 1] * ux - away[:, 0] * uy
    h = half[owner]
    inside = x**2 + y**2 - h**2
    s = _through_middle(x, y, half, offsets + runs.sample[(start + end) // 2] - runs.sample[start] - 1)
    for step in range(3):
        sagitta = s[owner]
        scale = 1 / (sagitta**2 + h**2)
        off = (sagitta * inside + y * (h**2 - sagitta**2)) * scale
        rate = (inside - 2 * sagitta * y) * scale
        rate = np.where(np.abs(rate) < 1e-9, -1e-9, rate)
        if step < 2:
            s = s - np.add.reduceat(off * rate, offsets) / np.add.reduceat(rate**2, offsets)
            continue
        one, other = (-tolerance - off) / rate, (tolerance - off) / rate
        low = np.maximum.reduceat(np.minimum(one, other), offsets)
        high = np.minimum.reduceat(np.maximum(one, other), offsets)
        straight = (s + low <= 0) & (s + high >= 0)
        s = np.where(straight, 0.0, s + (low + high) / 2)
    sagitta = s[owner]
    off = (sagitta * inside + y * (h**2 - sagitta**2)) / (sagitta**2 + h**2)
    worst = np.maximum.reduceat(np.abs(off), offsets)
    bulge = -s / half  # a sagitta to the left of the chord is a clockwise arc
    good = (worst <= tolerance) & (np.abs(bulge) <= WIDEST_ARC)
    good |= end == start + 1
    return _Tried(good, np.where(end == start + 1, 0.0, bulge), np.zeros((len(start), 2, 2)))


def _through_middle(x: Array, y: Array, half: Array, middle: Ints) -> Array:
    """Sagitta of the arc through both ends and the vertex midway, from the crossing of two bisectors."""
    middle = np.maximum(middle, 0)
    x, y = x[middle], y[middle]
    flat = np.abs(y) < 1e-9
    k = (x**2 + y**2 - half**2) / (2 * np.where(flat, 1.0, y))
    s = k + np.sign(y) * np.hypot(k, half)
    return np.where(flat, 0.0, s)


def _cubics(runs: _Runs, start: Ints, end: Ints, tolerance: float) -> _Tried:
    """The best cubics between vertices, along their tangents there.

    As P. J. Schneider fits digitized curves (Graphics Gems, 1990): ends and their directions are given, the two
    handles' lengths come from least squares, the samples' parameters from Newton's method, by turns. Here only
    distances across the curve are made small, so that wrong parameters do little harm.
    """
    index, counts, offsets = _gather(runs, start, end)
    first, last = runs.sample[start], runs.sample[end]
    a, d = runs.plane[first], runs.plane[last]
    t, w = runs.tangents[start], runs.tangents[end]
    length = np.maximum(runs.along[last] - runs.along[first], 1e-12)
    target = runs.plane[index]
    u = (runs.along[index] - np.repeat(runs.along[first], counts)) / np.repeat(length, counts)
    alpha = beta = length / 3
    each_t, each_w, each_a, each_d = (np.repeat(part, counts) for part in (t, w, a, d))
    for step in range(NEWTON + 1):
        p1, p2 = a + alpha * t, d - beta * w
        coefficients = (d - a + 3 * (p1 - p2), 3 * (a - 2 * p1 + p2), 3 * (p1 - a), a)
        c3, c2, c1, c0 = (np.repeat(part, counts) for part in coefficients)
        if step:  # one step of Newton's method towards the nearest points of the cubics
            slope = (3 * c3 * u + 2 * c2) * u + c1
            ahead = (target - (((c3 * u + c2) * u + c1) * u + c0)) * slope.conj()
            u = np.clip(u + ahead.real / np.maximum((slope * slope.conj()).real, 1e-12), 0.0, 1.0)
        slope = (3 * c3 * u + 2 * c2) * u + c1
        normal = slope.conj() / np.maximum(np.abs(slope), 1e-12)
        if step == NEWTON:
            off = (normal * (target - (((c3 * u + c2) * u + c1) * u + c0))).imag
            break
        v = 1 - u
        b1, b2, b3 = 3 * v * v * u, 3 * v * u * u, u * u * u
        y = (normal * (target - each_a - (b2 + b3) * (each_d - each_a))).imag
        alpha, beta = _solved(b1 * (normal * each_t).imag, -b2 * (normal * each_w).imag, y, offsets, length)
    worst = np.maximum.reduceat(np.abs(off), offsets)
    sound = (alpha > 0) & (beta > 0) & (alpha < length) & (beta < length) & ((t * w.conj()).real > MOST_TURN)
    handles = np.stack([p1.real, p1.imag, p2.real, p2.imag], axis=1).reshape(-1, 2, 2)
    return _Tried((worst <= tolerance) & sound, np.zeros(len(start)), handles)


def _solved(c1: Array, c2: Array, y: Array, offsets: Ints, length: Array) -> tuple[Array, Array]:
    """Both handles' lengths from the normal equations; a third of the length where those say nothing."""
    a11, a12, a22 = (np.add.reduceat(part, offsets) for part in (c1 * c1, c1 * c2, c2 * c2))
    y1, y2 = np.add.reduceat(c1 * y, offsets), np.add.reduceat(c2 * y, offsets)
    det = a11 * a22 - a12**2
    weak = det < 1e-9 * a11 * a22 + 1e-30
    safe = np.where(weak, 1.0, det)
    alpha = np.where(weak, length / 3, (a22 * y1 - a12 * y2) / safe)
    beta = np.where(weak, length / 3, (a11 * y2 - a12 * y1) / safe)
    return alpha, beta
