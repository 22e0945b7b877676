"""Curves as cubic Béziers in float64, and their flattening.

A run of curves is an array of shape (m, 4, 2): m cubics, four control points each, end to end. Lines,
quadratics and arcs all become such cubics, since an affine map of the control points is then one of the curve.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

FLATTENING = 0.001
"""Curves are flattened within this many mm."""
ARC_STEP = math.radians(15.0)
"""An arc becomes one cubic per 15 degrees at most: off by 6e-9 of its radius."""


def line_cubics(points: Array) -> Array:
    """Straight lines through `points` (n, 2) as cubics (n - 1, 4, 2)."""
    steps = np.linspace(0.0, 1.0, 4)[:, None]
    cubics: Array = points[:-1, None] + steps * (points[1:] - points[:-1])[:, None]
    cubics[:, 3] = points[1:]  # exactly, so that runs join
    return cubics


def quadratic_cubic(start: Array, control: Array, end: Array) -> Array:
    """A quadratic Bézier as one cubic (1, 4, 2), exactly (degree elevation)."""
    return np.array([[start, start + (control - start) * 2 / 3, end + (control - end) * 2 / 3, end]])


def arc_cubics(centre: Array, axis_u: Array, axis_v: Array, start: float, sweep: float) -> Array:
    """The arc centre + axis_u cos t + axis_v sin t, t from `start` over `sweep` radians.

    Returns:
        Cubics (n, 4, 2). Their handles have the length 4/3 tan(step / 4) of the unit circle, which makes them
        meet the arc at both ends and the middle (the usual cubic for an arc; derived from that condition).
    """
    count = max(1, math.ceil(abs(sweep) / ARC_STEP - 1e-9))
    angles = start + sweep * np.linspace(0.0, 1.0, count + 1)
    on = np.column_stack([np.cos(angles), np.sin(angles)])
    along = np.column_stack([-on[:, 1], on[:, 0]]) * (4 / 3 * math.tan(sweep / count / 4))
    unit = np.stack([on[:-1], on[:-1] + along[:-1], on[1:] - along[1:], on[1:]], axis=1)
    cubics: Array = centre + unit @ np.array([axis_u, axis_v])
    return cubics


def smooth_cubics(points: Array) -> Array:
    """The centripetal Catmull-Rom curve through `points` (n, 2), as cubics (n - 1, 4, 2).

    Knots are spaced by the square root of the chords, so that the curve makes no cusp or loop between two
    points. It begins and ends along its first and last chord; where the last point is the first, it closes
    smoothly. Neighbouring points must differ. Handles after "On the parameterization of Catmull-Rom curves",
    2009 (from memory; the tests check them against the interpolation written out with its knots).
    """
    closed = len(points) > 3 and np.array_equal(points[0], points[-1])
    before = points[-2] if closed else 2 * points[0] - points[1]
    after = points[1] if closed else 2 * points[-1] - points[-2]
    all_points = np.vstack([before, points, after])
    chord = np.hypot(*np.diff(all_points, axis=0).T)[:, None]
    knot = np.sqrt(chord)
    (c1, c2, c3), (k1, k2, k3) = (chord[:-2], chord[1:-1], chord[2:]), (knot[:-2], knot[1:-1], knot[2:])
    p0, p1, p2, p3 = all_points[:-3], all_points[1:-2], all_points[2:-1], all_points[3:]
    leaving = (c1 * p2 - c2 * p0 + (2 * c1 + 3 * k1 * k2 + c2) * p1) / (3 * k1 * (k1 + k2))
    arriving = (c3 * p1 - c2 * p3 + (2 * c3 + 3 * k3 * k2 + c2) * p2) / (3 * k3 * (k3 + k2))
    return np.stack([p1, leaving, arriving, p2], axis=1)


def flattened_size(cubics: Array, scale: float = 1.0, tolerance: float = FLATTENING) -> float:
    """How many points `flatten` would make of the cubics, scaled; whole, but as large as it may be."""
    return float(_steps(cubics, tolerance / scale).sum()) + 1


def _steps(cubics: Array, tolerance: float) -> Array:
    """Number of equal steps of its parameter into which each cubic is cut."""
    second = np.hypot(*np.moveaxis(np.diff(cubics, 2, axis=1), -1, 0)).max(axis=1)
    steps: Array = np.maximum(1, np.ceil(np.sqrt(0.75 * second / tolerance)))
    return steps


def flatten(cubics: Array, tolerance: float = FLATTENING) -> Array:
    """Points (n, 2) of a polyline that stays within `tolerance` of the run of cubics (m, 4, 2), m > 0.

    Each cubic is cut into k equal steps of its parameter. A chord over a step h is within h²/8 max|B''| of its
    curve (the error bound of linear interpolation, in any numerical analysis), and |B''| of a cubic is at most
    6 times the larger second difference of its control points, so k = sqrt(6/8 x second difference / tolerance).
    """
    return np.vstack([cubics[:1, 0], flatten_each(cubics, tolerance)[0]])


def flatten_each(cubics: Array, tolerance: float = FLATTENING) -> tuple[Array, Ints]:
    """Points of cubics (m, 4, 2), whether or not they meet: each without its start and with its end, and how many."""
    steps = _steps(cubics, tolerance).astype(np.int64)
    which = np.repeat(np.arange(len(cubics)), steps)
    step = np.arange(len(which)) - np.repeat(np.cumsum(steps) - steps, steps) + 1
    t = (step / steps[which])[:, None]
    b0, b1, b2, b3 = (cubics[which, i] for i in range(4))
    s = 1.0 - t
    points: Array = s**3 * b0 + 3 * s**2 * t * b1 + 3 * s * t**2 * b2 + t**3 * b3
    points[np.cumsum(steps) - 1] = cubics[:, 3]  # the ends exactly
    return points, steps
