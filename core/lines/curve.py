"""A line as a machine is given it: straight stretches, arcs and cubic Béziers between nodes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from ..outlines.curves import arc_cubics, flatten_each

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

FINE = 0.0002
"""Curves are flattened within this many mm, to be measured."""


class Kind(IntEnum):
    """What joins two nodes."""

    STRAIGHT = 0
    ARC = 1
    CUBIC = 2


@dataclass(frozen=True, eq=False)
class Circle:
    """A whole circle, counter-clockwise."""

    centre: tuple[float, float]
    radius: float


@dataclass(frozen=True, eq=False)
class Curve:
    """A run of segments end to end, mm, y up."""

    nodes: Array
    """(n + 1, 2); of a closed curve the last is the first."""
    kinds: npt.NDArray[np.uint8]
    """(n,), of `Kind`."""
    bulges: Array
    """(n,) of arcs the tangent of a quarter of the angle that they sweep, counter-clockwise positive; else 0."""
    handles: Array
    """(n, 2, 2) of cubics their two inner control points; else undefined."""
    closed: bool
    circle: Circle | None = None
    """Set where all of it is one circle, which its nodes halve."""

    @property
    def count(self) -> int:
        """How many nodes a machine gets: none twice."""
        return len(self.nodes) - 1 if self.closed else len(self.nodes)


def polyline(points: Array, closed: bool) -> Curve:
    """Straight stretches through points (n, 2); of a closed one the last point is the first."""
    count = len(points) - 1
    return Curve(points, np.zeros(count, np.uint8), np.zeros(count), np.zeros((count, 2, 2)), closed)


def whole_circle(circle: Circle) -> Curve:
    """A circle as two half circles."""
    x, y = circle.centre
    nodes = np.array([[x + circle.radius, y], [x - circle.radius, y], [x + circle.radius, y]])
    return Curve(nodes, np.full(2, Kind.ARC, np.uint8), np.ones(2), np.zeros((2, 2, 2)), True, circle)


def centre_of(start: Array, end: Array, bulge: float | Array) -> Array:
    """The middle (2,) of an arc's circle, or middles (n, 2) of many, whose bulges are then (n, 1).

    From the right triangle of half chord h, sagitta b h and radius: the middle lies (1 - b²) h / (2 b) to the left of
    the chord, where the arc runs counter-clockwise.
    """
    half = (end - start) / 2
    left = np.stack([-half[..., 1], half[..., 0]], axis=-1)
    middle: Array = (start + end) / 2 + left * (1 - bulge**2) / (2 * bulge)
    return middle


def radius_of(start: Array, end: Array, bulge: float) -> float:
    """Radius of an arc, mm: (1 + b²) h / (2 |b|) with half chord h (the same triangle)."""
    return float(np.hypot(*(end - start)) / 2 * (1 + bulge**2) / (2 * abs(bulge)))


def arc_as_cubics(start: Array, end: Array, bulge: float) -> Array:
    """An arc as cubics (n, 4, 2), off by less than 1e-7 of its radius."""
    centre = centre_of(start, end, bulge)
    axis = start - centre
    cubics = arc_cubics(centre, axis, np.array([-axis[1], axis[0]]), 0.0, 4 * math.atan(bulge))
    cubics[-1, 3] = end
    return cubics


def as_cubics(curve: Curve) -> Array:
    """The whole curve as cubics (m, 4, 2)."""
    made = []
    for start, end, kind, bulge, handles in _segments(curve):
        if kind == Kind.CUBIC:
            made.append(np.array([[start, *handles, end]]))
        elif kind == Kind.ARC:
            made.append(arc_as_cubics(start, end, bulge))
        else:
            made.append(start + np.linspace(0.0, 1.0, 4)[None, :, None] * (end - start))
    return np.concatenate(made)


def flattened(curve: Curve, tolerance: float = FINE) -> Array:
    """Points (n, 2) within a tolerance of the curve; of a closed one the last is the first."""
    return all_flattened([curve], tolerance)[0]


def all_flattened(curves: Sequence[Curve], tolerance: float = FINE) -> list[Array]:
    """Points (n, 2) of each curve, as `flattened` finds them, in a few calls on whole arrays."""
    if not curves:
        return []
    kinds = np.concatenate([curve.kinds for curve in curves])
    starts = np.concatenate([curve.nodes[:-1] for curve in curves])
    ends = np.concatenate([curve.nodes[1:] for curve in curves])
    of_each = [ends[kinds == kind] for kind in Kind]
    counts = np.ones(len(kinds), np.int64)
    arc, cubic = kinds == Kind.ARC, kinds == Kind.CUBIC
    if arc.any():
        bulges = np.concatenate([curve.bulges for curve in curves])[arc]
        of_each[Kind.ARC], counts[arc] = _arc_points(starts[arc], ends[arc], bulges, tolerance)
    if cubic.any():
        handles = np.concatenate([curve.handles for curve in curves])[cubic]
        cubics = np.concatenate([starts[cubic][:, None], handles, ends[cubic][:, None]], axis=1)
        of_each[Kind.CUBIC], counts[cubic] = flatten_each(cubics, tolerance)
    points, kind = np.empty((int(counts.sum()), 2)), np.repeat(kinds, counts)
    for each in Kind:
        points[kind == each] = of_each[each]
    segments = np.cumsum([len(curve.kinds) for curve in curves])
    lasts = np.cumsum(counts)[segments - 1]
    parts = np.split(points, lasts[:-1])
    return [np.concatenate([curve.nodes[:1], part]) for curve, part in zip(curves, parts, strict=True)]


def _segments(curve: Curve) -> Sequence[tuple[Array, Array, int, float, Array]]:
    return list(
        zip(curve.nodes[:-1], curve.nodes[1:], curve.kinds.tolist(), curve.bulges.tolist(), curve.handles, strict=True)
    )


def _arc_points(starts: Array, ends: Array, bulges: Array, tolerance: float) -> tuple[Array, Ints]:
    """Points on arcs (n,), each without its start and with its end, and how many each has.

    The sagitta of each chord, r (1 - cos(angle / 2)), keeps within the tolerance.
    """
    centres = centre_of(starts, ends, bulges[:, None])
    axes = starts - centres
    radius = np.hypot(*axes.T)
    sweep = 4 * np.arctan(bulges)
    widest = 2 * np.arccos(np.maximum(1 - tolerance / np.maximum(radius, tolerance), math.cos(math.pi / 8)))
    count = np.maximum(1, np.ceil(np.abs(sweep) / widest)).astype(np.int64)
    last = np.cumsum(count)
    arc = np.repeat(np.arange(len(count)), count)
    angle = sweep[arc] * (np.arange(1, last[-1] + 1) - (last - count)[arc]) / count[arc]
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    points: Array = centres[arc] + cos * axes[arc] + sin * np.stack([-axes[:, 1], axes[:, 0]], axis=1)[arc]
    points[last - 1] = ends
    return points, count


def moved(curve: Curve, matrix: Array, shift: Array) -> Curve:
    """The curve under a turn or mirror image (2, 2) and a shift (2,)."""
    turns_over = float(np.linalg.det(matrix)) < 0
    circle = curve.circle
    if circle is not None:
        x, y = (np.array(circle.centre) @ matrix.T + shift).tolist()
        circle = Circle((x, y), circle.radius)
    return Curve(
        curve.nodes @ matrix.T + shift,
        curve.kinds,
        -curve.bulges if turns_over else curve.bulges,
        curve.handles @ matrix.T + shift,
        curve.closed,
        circle,
    )
