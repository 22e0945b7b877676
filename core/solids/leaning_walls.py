"""Pockets and inserts with leaning walls as terrains: over each point of the plane they have one height.

The floor is flat at its depth; the walls rise from it in planes, one for each edge of the outline.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..cutter.taper import inset_ring, lean, oriented_rings
from ..kept import Kept
from .arrangement import GRID, group, on_grid

Array = npt.NDArray[np.float64]

FLAT = 1e-9
"""Heights that differ by less, mm, are the same."""
NEAR = 4 * GRID
"""Rounding to the grid moves a point of a wall's edge by less than this, mm."""


@dataclass(frozen=True)
class Terrain:
    """A leaning wall between two matched sets of rings: z falls from `high` at the outer to `low` at the inner."""

    outer: tuple[Array, ...]
    inner: tuple[Array, ...]
    high: float
    low: float
    slope: float
    """How much the wall falls for each millimetre inwards."""

    @property
    def blur(self) -> float:
        """How much a height on its wall may change as points are rounded to the grid, mm."""
        return FLAT + NEAR * self.slope

    @cached_property
    def region(self) -> BaseGeometry:
        """All within the outer rings."""
        return shapely.build_area(shapely.multilinestrings([shapely.linestrings(ring) for ring in self.outer]))

    def lines(self) -> BaseGeometry:
        """Outer rings, inner rings and the mitres between them."""
        mitres = [np.stack([a, b], axis=1)[:-1] for a, b in zip(self.outer, self.inner, strict=True)]
        rings = [shapely.linestrings(ring) for ring in (*self.outer, *self.inner)]
        return shapely.multilinestrings([*rings, *shapely.linestrings(np.concatenate(mitres))])

    @cached_property
    def facets(self) -> tuple[shapely.STRtree, Array]:
        """A tree of the wall's quads seen from above, and their planes (q, 3): z = a x + b y + c."""
        quads, planes = [], []
        for outer, inner in zip(self.outer, self.inner, strict=True):
            quads.append(np.stack([outer[:-1], outer[1:], inner[1:], inner[:-1]], axis=1))
            along = np.diff(outer, axis=0)
            along /= np.hypot(*along.T)[:, None]
            fall = -self.slope * np.stack([-along[:, 1], along[:, 0]], axis=1)
            planes.append(np.column_stack([fall, self.high - np.sum(fall * outer[:-1], axis=1)]))
        return shapely.STRtree(shapely.polygons(np.concatenate(quads))), np.concatenate(planes)

    def heights(self, points: Array) -> Array:
        """z over each of some points (n, 2) on the grid, on the wall's edges too; `high` outside.

        Corners of the rings have the rings' own heights; other points are looked up one by one, since a face of an
        arrangement may be a sliver along several facets, and have none of its own.
        """
        facets, planes = self.facets
        shapely.prepare(self.region)
        height = np.where(shapely.contains_xy(self.region, points), self.low, self.high)
        at, facet = facets.query(shapely.points(points), predicate="dwithin", distance=NEAR)
        a, b, c = planes[facet].T
        height[at] = a * points[at, 0] + b * points[at, 1] + c
        for z, rings in ((self.low, self.inner), (self.high, self.outer)):
            height[np.abs(height - z) <= self.blur] = z
            height[_among(points, np.concatenate(rings))] = z
        return np.asarray(np.clip(height, self.low, self.high))


def _among(points: Array, corners: Array) -> npt.NDArray[np.bool_]:
    """Which points (n, 2) are corners, as the grid rounds these."""
    both = np.concatenate([on_grid(corners), points]) + 0.0  # + 0.0: no minus zero
    bits = both.view(np.uint64)
    _, number = group(bits[:, 0], bits[:, 1])
    return np.asarray(np.isin(number[len(corners) :], number[: len(corners)]))


def terrain(shape: BaseGeometry, taper: float, high: float, low: float) -> Terrain:
    """The leaning wall of a pocket or insert with `shape` at z = 0, between two heights."""
    return _TERRAINS.of([(shape, taper, high, low)], lambda new: [_terrain(shape, taper, high, low)])[0]


_TERRAINS: Kept[Terrain] = Kept(512)
"""A pocket is met by strips and inserts, by each as the same terrain."""


def _terrain(shape: BaseGeometry, taper: float, high: float, low: float) -> Terrain:
    rings = oriented_rings(shape)
    return Terrain(
        tuple(inset_ring(ring, -lean(taper, high)) for ring in rings),
        tuple(inset_ring(ring, -lean(taper, low)) for ring in rings),
        high,
        low,
        1 / math.tan(math.radians(taper)),
    )
