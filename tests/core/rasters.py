"""Shapes painted on a grid of 0.05 mm by scan lines, and distances on it: an oracle that shares no code with GEOS."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from scipy.ndimage import distance_transform_edt
from shapely.geometry.base import BaseGeometry

PIXEL = 0.05
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Grid:
    """Pixels whose middles lie half a pixel from the lower left corner, in mm."""

    left: float
    bottom: float
    columns: int
    rows: int

    def paint(self, shape: BaseGeometry) -> Mask:
        """Pixels whose middle lies in a shape, by counting crossings of each scan line (even-odd)."""
        mask = np.zeros((self.rows, self.columns), dtype=bool)
        rings = [r for p in shapely.get_parts(shape) if p.area for r in (p.exterior, *p.interiors)]
        edges = [np.hstack([c[:-1], c[1:]]) for c in map(shapely.get_coordinates, rings)]
        if not edges:
            return mask
        x0, y0, x1, y1 = np.vstack(edges).T
        middles = self.left + PIXEL * (np.arange(self.columns) + 0.5)
        for row in range(self.rows):
            y = self.bottom + PIXEL * (row + 0.5)
            cut = (y0 <= y) != (y1 <= y)
            crossings = np.sort(x0[cut] + (y - y0[cut]) / (y1[cut] - y0[cut]) * (x1[cut] - x0[cut]))
            mask[row] = np.searchsorted(crossings, middles) % 2 == 1
        return mask


def grid_over(*bounds: float) -> Grid:
    """A grid over left, bottom, right, top."""
    left, bottom, right, top = bounds
    return Grid(left, bottom, max(1, round((right - left) / PIXEL)), max(1, round((top - bottom) / PIXEL)))


def distance_between(one: Mask, other: Mask) -> float:
    """Least distance of two painted shapes, mm, right within two pixels; inf where one is empty."""
    if not one.any() or not other.any():
        return float("inf")
    return float(PIXEL * distance_transform_edt(~one)[other].min())


def widest(mask: Mask) -> float:
    """Diameter of the largest disc in a painted shape, mm, right within two pixels."""
    return float(2 * PIXEL * distance_transform_edt(np.pad(mask, 1)).max())
