"""Outlines as a round cutter leaves them: opened, closed, and both at once without bridges too thin for it.

Whole arrays of outlines are rounded at once, which takes a third of the time of one after the other.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import EMPTY, NOISE_AREA, all_without_noise, quadrant_segments
from ..cores import shared

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
Shapes = npt.NDArray[np.object_]

RADIUS_SLACK = 0.001
"""Radii are taken this much smaller, mm, so that a slot exactly as wide as the cutter survives."""
SIMPLIFY_TOLERANCE = 0.001
LONG_EDGE = 0.2
"""Edges longer than this, mm, stay where they are when a shape is simplified."""
UNMOVED = 0.002
"""A rounding that moves the boundary nowhere further than this, mm, leaves the outline as it is."""
THIN = 0.02
"""A part that opening takes off again counts only where it is wider than this, mm."""
MAX_BRIDGES = 50


def grown(shape: BaseGeometry, distance: float) -> BaseGeometry:
    """Minkowski sum with a disc (distance > 0) or difference (< 0), arcs within 0.0002 mm; of arrays of shapes too."""
    result: BaseGeometry = shapely.buffer(shape, distance, quad_segs=quadrant_segments(abs(distance)))
    return result


def opening(shape: BaseGeometry, radius: float) -> BaseGeometry:
    """All that a disc of `radius` reaches from inside the shape: what a cutter can cut."""
    return grown(grown(shape, -radius), radius)


def closing(shape: BaseGeometry, radius: float) -> BaseGeometry:
    """The shape with all filled that a disc of `radius` cannot reach from outside."""
    return grown(grown(shape, radius), -radius)


def rounded_fit(outline: BaseGeometry, corner_radius: float) -> BaseGeometry:
    """The fit outline of one outline; see `rounded_fits`."""
    fit: BaseGeometry = rounded_fits(np.array([outline], dtype=object), corner_radius)[0]
    return fit


def rounded_fits(outlines: Shapes, corner_radius: float) -> Shapes:
    """The fit outlines F that one cutter can both pocket and saw: open and closed for `corner_radius`.

    Opening, then closing. A bridge that closing made, thinner than the cutter, is cut away again with
    the cutter's own width around it, until none is left; plain alternation of the two need not end.

    Args:
        outlines: polygons or multipolygons, (n,), mm, valid.
        corner_radius: rho, mm, > 0.

    Returns:
        F of each, (n,), simplified within 0.001 mm; the outline itself, vertex for vertex, where rounding moves
        its boundary nowhere by more than 0.002 mm; empty where nothing is wide enough.
    """
    return shared(lambda some: _rounded_fits(some, corner_radius), outlines)


def _rounded_fits(outlines: Shapes, corner_radius: float) -> Shapes:
    radius = corner_radius - RADIUS_SLACK
    fits = np.asarray(closing(opening(outlines, radius), radius), dtype=object)
    for i in np.flatnonzero(_may_have_bridges(fits, radius)).tolist():
        fits[i] = _without_bridges(fits[i], corner_radius)
    kept = ~shapely.is_empty(fits) & all_within(outlines, fits, UNMOVED)
    made = outlines.copy()
    made[~kept] = all_without_noise(simplified(fits[~kept]))
    return made


def _may_have_bridges(fits: Shapes, radius: float) -> Bools:
    """Whether something wider than half of 0.02 mm sticks out of what opening leaves: seldom."""
    opened = opening(fits, radius)
    shapely.prepare(opened)
    covered: Bools = shapely.covers(opened, shapely.buffer(fits, -THIN / 2))
    return ~covered


def _without_bridges(fit: BaseGeometry, corner_radius: float) -> BaseGeometry:
    radius = corner_radius - RADIUS_SLACK
    for _ in range(MAX_BRIDGES):
        bridges = wider_than(shapely.difference(fit, opening(fit, radius)), THIN)
        if bridges.is_empty:
            break
        fit = closing(opening(shapely.difference(fit, grown(bridges, corner_radius)), radius), radius)
    return fit


def simplified(shapes: Shapes) -> Shapes:
    """The shapes (n,) with fewer vertices, within 0.001 mm. Long edges keep both their ends.

    Without that a straight edge loses the first vertex of its corner's arc and tilts, which changes the area
    by half a micrometre times its length, ten times what the arc itself may lose.
    """
    made = np.full(len(shapes), EMPTY, dtype=object)
    polygons, shape = shapely.get_parts(shapes, return_index=True)
    there = ~shapely.is_empty(polygons)
    polygons, shape = polygons[there], shape[there]
    if not len(polygons):
        return made
    rings, polygon = shapely.get_rings(polygons, return_index=True)
    whole = shapely.polygons(_simplified_rings(rings), indices=polygon)
    filled, of_filled = np.unique(shape, return_inverse=True)
    made[filled] = shapely.multipolygons(whole, indices=of_filled)
    crossed = ~shapely.is_valid(made)
    made[crossed] = shapely.simplify(shapes[crossed], SIMPLIFY_TOLERANCE)
    return made


def _simplified_rings(rings: Shapes) -> Shapes:
    """Rings simplified between the ends of their long edges; those with fewer than two of these as a whole."""
    count = shapely.get_num_coordinates(rings) - 1
    points, ring = shapely.get_coordinates(rings, return_index=True)
    edge = ring[1:] == ring[:-1]  # from each point to the next
    long = np.hypot(*np.diff(points, axis=0)[edge].T) > LONG_EDGE  # of the edges, as many as a ring has corners
    first = np.cumsum(count) - count
    before = np.arange(len(long)) - 1
    before[first] = first + count - 1
    fixed = long | long[before]
    cut = np.add.reduceat(fixed, first) >= 3
    made = np.empty(len(rings), dtype=object)
    made[~cut] = shapely.simplify(rings[~cut], SIMPLIFY_TOLERANCE)
    if cut.any():
        corners = points[np.append(edge, False)]
        runs, run_of = _runs(fixed, first[cut], count[cut])
        simple = shapely.simplify(
            shapely.linestrings(corners[runs], indices=run_of), SIMPLIFY_TOLERANCE, preserve_topology=False
        )
        kept, run = shapely.get_coordinates(simple, return_index=True)
        inner = np.append(run[1:] == run[:-1], False)  # the last point of a run is the first of the next
        ring_of_run = np.repeat(np.arange(int(cut.sum())), np.add.reduceat(fixed, first)[cut])
        made[cut] = shapely.linearrings(kept[inner], indices=ring_of_run[run[inner]])
    return made


def _runs(fixed: Bools, first: Ints, count: Ints) -> tuple[Ints, Ints]:
    """Corners of each run from one fixed corner to the next, both with it, and the run of each of them.

    Args:
        fixed: (m,) which corners of all rings are.
        first, count: (k,) of each ring its first corner and how many it has; three of them at least are fixed.
    """
    all_fixed = np.flatnonzero(fixed)
    at = all_fixed[np.searchsorted(all_fixed, first)]
    ring = np.repeat(np.arange(len(count)), count + 1)  # each ring from a fixed corner round to it again
    step = np.arange(len(ring)) - np.repeat(np.cumsum(count + 1) - count - 1, count + 1)
    corner = first[ring] + (at[ring] - first[ring] + step) % count[ring]
    opens, closes = fixed[corner] & (step < count[ring]), fixed[corner] & (step > 0)
    run = np.cumsum(opens) - 1
    goes_on = step < count[ring]
    place = np.arange(len(corner))
    order = np.argsort(np.concatenate([2 * place[goes_on] + 1, 2 * place[closes]]), kind="stable")
    runs = np.concatenate([corner[goes_on], corner[closes]])[order]
    before = np.concatenate([run[goes_on], (run - opens)[closes]])[order]
    return runs, before


def wider_than(shape: BaseGeometry, width: float) -> BaseGeometry:
    """The parts of a shape that a disc of diameter `width` fits into."""
    parts = shapely.get_parts(shape)
    parts = parts[shapely.area(parts) > NOISE_AREA]
    kept = parts[~shapely.is_empty(shapely.buffer(parts, -width / 2))]
    result: BaseGeometry = shapely.union_all(kept)
    return result


def boundaries_within(one: BaseGeometry, other: BaseGeometry, distance: float) -> bool:
    """Whether no vertex of either boundary (or line) is further than `distance` from the other boundary."""
    return bool(all_within(np.array([one], dtype=object), np.array([other], dtype=object), distance)[0])


def all_within(ones: Shapes, others: Shapes, distance: float) -> Bools:
    """For each pair whether no vertex of either boundary (or line) is further than `distance` from the other's."""
    near = np.ones(len(ones), dtype=bool)
    for from_, to in ((ones, others), (others, ones)):
        left = np.flatnonzero(near)
        points, owner = shapely.get_coordinates(from_[left], return_index=True)
        boundaries = to[left]
        areas = shapely.get_dimensions(boundaries) == 2
        boundaries[areas] = shapely.boundary(boundaries[areas])
        shapely.prepare(boundaries)
        far = owner[~shapely.dwithin(boundaries[owner], shapely.points(points), distance)]
        near[left[far]] = False
    return near
