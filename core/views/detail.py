"""Where a close look at the finished face is most worth while: where most edges of most pieces meet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from ..stack.stack import Stack

Array = npt.NDArray[np.float64]

SHARE = 0.22
"""Half width of the place that is looked at, as a share of the trimmed panel's shorter side."""
STEP = 1 / 16
"""Distance between edge points, and between the places tried, as a share of that half width."""


@dataclass(frozen=True)
class CloseUp:
    """A square of the finished face, mm."""

    x: float
    y: float
    half: float


def close_up(stack: Stack) -> CloseUp:
    """The square within the trimmed panel in whose middle most visible edges of most pieces are.

    A panel without visible pieces is looked at in its middle.
    """
    left, low, right, high = stack.finished_box.bounds
    half = SHARE * min(right - left, high - low)
    points, owners = _edge_points(stack, half * STEP)
    middle = CloseUp((left + right) / 2, (low + high) / 2, half)
    if not len(points):
        return middle
    best, found = 0.0, middle
    for x in np.arange(left + half, right - half + 1e-9, half * 4 * STEP):
        for y in np.arange(low + half, high - half + 1e-9, half * 4 * STEP):
            worth = _worth(points - (x, y), owners, half)
            if worth > best:
                best, found = worth, CloseUp(float(x), float(y), half)
    return found


def _worth(away: Array, owners: npt.NDArray[np.int64], half: float) -> float:
    """Edges times pieces, each the more the nearer it is to the middle: it should not be where two crowds part."""
    near = 1 - np.abs(away).max(axis=1) / half
    here = near > 0
    nearest = np.zeros(int(owners.max()) + 1)
    np.maximum.at(nearest, owners[here], near[here])
    return float(near[here].sum() * nearest.sum())


def _edge_points(stack: Stack, step: float) -> tuple[Array, npt.NDArray[np.int64]]:
    """Points (n, 2) at even distances along the edges of what is seen of each piece, and the piece (n,) of each."""
    edges = shapely.boundary(np.array([*stack.remnants, shapely.Polygon()], dtype=object))
    points, owner = shapely.get_coordinates(shapely.segmentize(edges, step), return_index=True)
    return points, owner.astype(np.int64)
