"""Few arcs and cubic Béziers in place of many short lines: rings and lines of points, fitted within a tolerance.

A ring is cut at its corners and where straight edges begin, and each run between them into stretches. From the start of
each the longest arc (or cubic) that stays within the tolerance is taken, again and again; at last the two segments at
a joint of stretches become one where one fits. All stretches of all rings go forward together, so that each step is a
few calls on whole arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
import numpy.typing as npt

from .curve import Circle, Curve, Kind, polyline, whole_circle
from .runs import Runs, runs_of
from .segments import Tried, arcs, cubics, straight

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Pieces = Literal["arcs", "curves", "polylines"]

TOLERANCE = 0.002
"""How far a fitted curve may lie from core's outline, mm."""
SAMPLED = 0.0016
"""How far it may lie off at the points that are looked at, which are close but not everywhere, mm."""
TRUE_ARC = np.radians(40.0)
"""An arc that turns so far is taken even where a cubic reaches further: it is most likely what was drawn."""
FURTHER = 1.5
"""A cubic is taken where it reaches so many times as far as an arc."""
STRETCH = 100
"""Runs are fitted in stretches of about so many vertices."""


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
        runs = runs_of([rings[number] for number in left], [closed[number] for number in left])
        for number, curve in zip(left, _greedy(runs, [closed[n] for n in left], pieces, tolerance), strict=True):
            made[number] = curve
    return [curve for curve in made if curve is not None]


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


# --- The longest segment from each start ----------------------------------------------------------------------------


Fits = Callable[[Runs, Ints, Ints, float], Tried]
Known = tuple[Ints, Tried]
"""Ends of segments, and the segments."""


@dataclass(frozen=True, eq=False)
class _Segments:
    """Segments (k,) from vertices to vertices."""

    start: Ints
    end: Ints
    kind: Ints
    bulge: Array
    handles: Array
    """(k, 2, 2)"""

    def only(self, some: Bools | Ints) -> _Segments:
        """Some of them, or all in another order."""
        return _Segments(self.start[some], self.end[some], self.kind[some], self.bulge[some], self.handles[some])


def _greedy(runs: Runs, closed: Sequence[bool], pieces: Pieces, tolerance: float) -> list[Curve]:
    """All stretches of all runs go forward by one segment at a time, until each has come to its end."""
    found: list[_Segments] = []
    first, last_of = _stretches(runs)
    active, at = np.arange(len(first)), first.copy()
    guess = np.full(len(at), 8)
    while len(active):
        start, last = at[active], last_of[active]
        probe = np.minimum(start + np.maximum(guess[active], 2), last)
        end, arc = _reach(runs, start, last, (start + 1, straight(len(start))), probe, tolerance, arcs)
        guess[active] = end - start
        kind = np.full(len(active), Kind.ARC, np.int64)
        handles = arc.handles
        if pieces == "curves":
            chosen, known = _where_cubics_reach(runs, start, end, last, arc.bulge, tolerance)
            if len(chosen):
                begin, stop = start[chosen], last[chosen]
                probe = np.clip(begin + 2 * (end[chosen] - begin), known[0] + 1, stop)
                end[chosen], cubic = _reach(runs, begin, stop, known, probe, tolerance, cubics)
                kind[chosen], handles[chosen] = Kind.CUBIC, cubic.handles
        found.append(_Segments(start, end, kind, arc.bulge, handles))
        at[active] = end
        active = active[end < last]
    return _gathered(runs, closed, _joined(runs, _in_order(found), np.setdiff1d(first, runs.first), pieces, tolerance))


def _stretches(runs: Runs) -> tuple[Ints, Ints]:
    """First and last vertex of stretches of runs, none much longer than `STRETCH`: many at once are quick to fit."""
    span = runs.last - runs.first
    parts = np.maximum(1, np.round(span / STRETCH)).astype(np.int64)
    run = np.repeat(np.arange(len(span)), parts)
    part = np.arange(len(run)) - (np.cumsum(parts) - parts)[run]
    first, last = (runs.first[run] + span[run] * each // parts[run] for each in (part, part + 1))
    return first, last


def _in_order(found: Sequence[_Segments]) -> _Segments:
    columns = [[getattr(some, each.name) for some in found] for each in fields(_Segments)]
    whole = _Segments(*(np.concatenate(column) for column in columns))
    return whole.only(np.argsort(whole.start))


def _where_cubics_reach(
    runs: Runs, start: Ints, end: Ints, last: Ints, bulge: Array, tolerance: float
) -> tuple[Ints, Known]:
    """Which segments to take as cubics, since they get so much further than an arc that it is worth it; so far."""
    further = np.minimum(last, start + np.ceil(FURTHER * (end - start)).astype(np.int64))
    maybe = np.flatnonzero((end < last) & (4 * np.arctan(np.abs(bulge)) < TRUE_ARC))
    if not len(maybe):
        return maybe, (maybe, straight(0))
    tried = cubics(runs, start[maybe], further[maybe], tolerance)
    chosen = maybe[tried.good]
    return chosen, (further[chosen], tried.only(tried.good))


def _reach(
    runs: Runs, start: Ints, last: Ints, known: Known, probe: Ints, tolerance: float, fits: Fits
) -> tuple[Ints, Tried]:
    """From each start the furthest vertex that one segment reaches, and that segment.

    It gallops: from what is known and a guess on in double steps until one does not fit, then halves what is left
    between.
    """
    (good, best), bad = known, last + 1
    good, bulge, handles = good.copy(), best.bulge.copy(), best.handles.copy()
    left = np.flatnonzero(good < last)
    probe = probe.copy()
    while len(left):
        tried = fits(runs, start[left], probe[left], tolerance)
        won, lost = left[tried.good], left[~tried.good]
        good[won], bulge[won], handles[won] = probe[won], tried.bulge[tried.good], tried.handles[tried.good]
        bad[lost] = probe[lost]
        left = left[bad[left] - good[left] > 1]
        on = np.minimum(start[left] + 2 * (good - start)[left], last[left])
        probe[left] = np.where(bad[left] > last[left], on, (good[left] + bad[left]) // 2)
    return good, Tried(np.ones(len(start), bool), bulge, handles)


# --- Stretches joined -----------------------------------------------------------------------------------------------


def _joined(runs: Runs, made: _Segments, joints: Ints, pieces: Pieces, tolerance: float) -> _Segments:
    """The segments, with the two at a joint of stretches made one where one fits: an arc that was drawn stays whole."""
    while True:
        after = np.flatnonzero(np.isin(made.start, joints))
        if not len(after):
            return made
        start, end = made.start[after - 1], made.end[after]
        one = arcs(runs, start, end, tolerance)
        kind = np.full(len(after), Kind.ARC, np.int64)
        good, handles = one.good, one.handles
        if pieces == "curves":
            cubic = cubics(runs, start, end, tolerance)
            kind = np.where(good, kind, Kind.CUBIC)
            good, handles = good | cubic.good, cubic.handles
        joints = made.start[after[good]]
        for number in range(1, len(after)):  # a segment is joined with one neighbour at a time
            good[number] &= not (good[number - 1] and after[number] == after[number - 1] + 1)
        into = after[good] - 1
        made.end[into], made.kind[into] = end[good], kind[good]
        made.bulge[into], made.handles[into] = one.bulge[good], handles[good]
        made = made.only(np.isin(np.arange(len(made.start)), after[good], invert=True))


def _gathered(runs: Runs, closed: Sequence[bool], made: _Segments) -> list[Curve]:
    """Segments in order handed to their rings."""
    start, end, kind, bulge, handles = made.start, made.end, made.kind, made.bulge, made.handles
    run = np.searchsorted(runs.first, start, side="right") - 1
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
