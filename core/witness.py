"""Points that lie well inside two shapes at once, found without cutting the shapes up."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from .kept import Kept

Array = npt.NDArray[np.float64]
Shapes = npt.NDArray[np.object_]

_SHARES = (0.5, 0.25, 0.75, 0.1, 0.9)
_TRIES = sorted(((x, y) for x in _SHARES for y in _SHARES), key=lambda at: max(abs(at[0] - 0.5), abs(at[1] - 0.5)))
"""Where to look in the rectangle that two shapes' bounds share, its middle first."""


def common_points(one: Shapes, other: Shapes, room: float, beside: Sequence[Sequence[BaseGeometry]] = ()) -> Array:
    """For each pair of shapes a point of both that is farther than `room` from either boundary.

    Most pairs that share much have such a point near the middle of what their bounds share, so that the
    few others alone need an intersection.

    Args:
        one, other: (n,) polygons or multipolygons; prepare them first.
        room: mm.
        beside: for each pair shapes from which the point must keep the same distance.

    Returns:
        (n, 2) mm; nan where none was found, which does not mean that there is none.
    """
    if len(one) > _MOST and not beside:
        return inside_both(one, other, room)
    aside = beside or [()] * len(one)
    subjects = [(a, b, room, *others) for a, b, others in zip(one, other, aside, strict=True)]
    found = _POINTS.of(subjects, lambda new: _points(one[new], other[new], room, [aside[i] for i in new]))
    return np.array(found).reshape(-1, 2)


_MOST = 16384
_AT_ONCE = 20_000
_POINTS: Kept[Array] = Kept(_MOST)


def inside_both(one: Shapes, other: Shapes, room: float) -> Array:
    """A witness looked for each time, for pairs so many that keeping what was found would cost more than it saves.

    A pair of objects that comes up more than once is looked at once.
    """
    (a, which), (b, other_which) = _same_objects(one), _same_objects(other)
    couples, whose = np.unique(which * len(b) + other_which, return_inverse=True)
    one, other = a[couples // len(b)], b[couples % len(b)]
    found = [
        _points(one[k : k + _AT_ONCE], other[k : k + _AT_ONCE], room, [()] * len(one[k : k + _AT_ONCE]))
        for k in range(0, len(one), _AT_ONCE)
    ]
    return np.array([point for some in found for point in some]).reshape(-1, 2)[whose]


def _same_objects(shapes: Shapes) -> tuple[Shapes, npt.NDArray[np.int64]]:
    """Each object once, and for each of the shapes which of these it is."""
    _, first, which = np.unique([id(shape) for shape in shapes], return_index=True, return_inverse=True)
    return shapes[first], which


def _points(one: Shapes, other: Shapes, room: float, beside: Sequence[Sequence[BaseGeometry]]) -> list[Array]:
    points = np.full((len(one), 2), np.nan)
    edges, more_edges = _edges(one), _edges(other)
    kept_off = np.array([shape for shapes in beside for shape in shapes], dtype=object)
    pair = np.repeat(np.arange(len(beside)), [len(shapes) for shapes in beside]).astype(np.int64)
    shapely.prepare(kept_off)
    bounds, more = shapely.bounds(one), shapely.bounds(other)
    low, high = np.maximum(bounds[:, :2], more[:, :2]), np.minimum(bounds[:, 2:], more[:, 2:])
    left = np.flatnonzero((high - low > 2 * room).all(axis=1))
    for share in _TRIES:
        tried = low + share * (high - low)
        good = left[shapely.contains_xy(one[left], *tried[left].T)]
        good = good[shapely.contains_xy(other[good], *tried[good].T)]
        for shapes in (edges, more_edges):
            good = good[~shapely.dwithin(shapes[good], shapely.points(tried[good]), room)]
        looked_at = np.isin(pair, good)
        near = shapely.dwithin(kept_off[looked_at], shapely.points(tried[pair[looked_at]]), room)
        good = np.setdiff1d(good, pair[looked_at][near])
        points[good] = tried[good]
        left = np.setdiff1d(left, good)
    return list(points)


def _edges(shapes: Shapes) -> Shapes:
    """The boundary of each, made once for those that are the same object."""
    distinct, which = _same_objects(shapes)
    edges = shapely.boundary(distinct)
    shapely.prepare(edges)
    return np.asarray(edges)[which]


def lines_of(shape: BaseGeometry) -> BaseGeometry:
    """The lines of an overlay's result, without the points where shapes only touched; what GEOS takes again."""
    parts = shapely.get_parts(shape)
    return shapely.multilinestrings(parts[shapely.get_dimensions(parts) == 1])


def inside(shape: BaseGeometry) -> tuple[float, float]:
    """A point inside a shape."""
    point = shapely.point_on_surface(shape)
    return (float(point.x), float(point.y))


def widest_place(shape: BaseGeometry) -> tuple[float, tuple[float, float]]:
    """Diameter, within 0.001 mm, and middle of the largest disc in a shape of one or more parts."""
    best, at = 0.0, (0.0, 0.0)
    for part in shapely.get_parts(shape):
        if part.area > 0:
            radius = shapely.maximum_inscribed_circle(part, 0.0005)
            if 2 * radius.length > best:
                x, y = shapely.get_coordinates(radius)[0].tolist()
                best, at = 2 * float(radius.length), (x, y)
    return best, at


def anywhere_wider(shapes: Shapes, width: float) -> npt.NDArray[np.bool_]:
    """Which shapes a disc of diameter `width` fits into.

    Every point of a shape is at most the largest disc's radius from its boundary, so that area is at most
    radius times perimeter: what has more area than that needs no closer look.
    """
    wide = np.asarray(shapely.area(shapes) > width / 2 * shapely.length(shapes))
    left = np.flatnonzero(~wide)
    wide[left] = ~shapely.is_empty(shapely.buffer(shapes[left], -width / 2, quad_segs=16))
    return wide
