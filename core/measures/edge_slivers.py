"""Slivers along the panel's edges: wood between a pocket and an edge, and pieces that just reach into the face."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from ..areas import NOISE_AREA
from ..design import Point
from ..stack.pocket_pairs import FLUSH, ROUNDING
from ..stack.stack import PlacedPiece, Stack
from ..witness import inside

Array = npt.NDArray[np.float64]
Side = Literal["left", "bottom", "right", "top"]
Edge = Literal["trimmed", "raw"]

SIDES: tuple[Side, ...] = ("left", "bottom", "right", "top")
"""In the order of a box's bounds."""
LEAST_RUN = 10.0
"""A strip of the panel counts along more mm of the edge than this; shorter ones hold at both ends (common practice)."""
_INWARD = (1.0, 1.0, -1.0, -1.0)


@dataclass(frozen=True)
class EdgeSliver:
    """A thin strip of wood along one side of the panel."""

    piece: int
    """Index into the stack: the piece whose pocket leaves the strip, or whose strip it is."""
    side: Side
    edge: Edge
    """Whether that side of the panel is trimmed, or stays as it is."""
    width: float
    """mm, square to the edge."""
    length: float
    """mm along the edge, of a piece's own strip; 0 where it is the panel's."""
    shape: BaseGeometry
    """The piece's own strip, or the line across the panel's."""
    own: bool
    """It is the piece's own wood, not what its pocket leaves."""
    at: Point


def edge_slivers(stack: Stack, glued: float, alone: float) -> list[EdgeSliver]:
    """All slivers, by design order and side.

    Args:
        stack: placed pieces.
        glued: wood that glue holds on its other side is a sliver below this width, mm.
        alone: wood at a raw edge, with nothing behind it while the pocket is open, is one below this width, mm.
    """
    sound = [placed for placed in stack.pieces if placed.sound]
    if not sound:
        return []
    found = [*_between(stack, sound, glued, alone), *_own(stack, sound, glued)]
    return sorted(found, key=lambda sliver: (sliver.piece, SIDES.index(sliver.side), sliver.at))


def _gaps(bounds: Array, box: BaseGeometry) -> Array:
    """How far inside each side of a box (n, 4) the bounds of shapes lie, mm; negative beyond it."""
    return np.asarray((bounds - np.array(box.bounds)) * _INWARD)


# --- What a pocket leaves -------------------------------------------------------------------------------------------


def _between(stack: Stack, sound: list[PlacedPiece], glued: float, alone: float) -> Iterator[EdgeSliver]:
    parts, owner = shapely.get_parts(np.array([p.pocket for p in sound], dtype=object), return_index=True)
    bounds = shapely.bounds(parts)
    trims = np.array(stack.design.panel.edge_trim)[[0, 2, 1, 3]]  # given as left, right, bottom, top
    limits = np.where(trims > 0, glued, alone)
    gaps = _gaps(bounds, stack.finished_box)
    for part, side in np.argwhere((gaps > FLUSH + ROUNDING) & (gaps < limits - ROUNDING)).tolist():
        placed = sound[owner[part]]
        edge: Edge = "trimmed" if trims[side] > 0 else "raw"
        left = _standing(stack, placed, parts[part], side, float(limits[side]))
        if left is not None:
            yield EdgeSliver(placed.index, SIDES[side], edge, float(left.length), 0.0, left, False, _middle(left))


def _standing(stack: Stack, placed: PlacedPiece, part: BaseGeometry, side: int, limit: float) -> BaseGeometry | None:
    """The shortest line across what still stands when all is cut; None where later pockets take it."""
    x0, y0, x1, y1 = bounds = stack.finished_box.bounds
    band = [(x0, y0, x0 + limit, y1), (x0, y0, x1, y0 + limit), (x1 - limit, y0, x1, y1), (x0, y1 - limit, x1, y1)]
    edge = shapely.clip_by_rect(shapely.boundary(part), *band[side])
    strip = shapely.box(*band[side])
    others = [p.pocket for p in stack.pieces if p.sound and p is not placed and p.batch >= placed.batch]
    near = np.array(others, dtype=object)
    near = near[shapely.intersects(strip, near)]
    if len(near):
        edge = shapely.difference(edge, shapely.union_all(near))
    points = shapely.get_coordinates(edge)
    axis, edge_at = side % 2, bounds[side]
    if not len(points) or np.ptp(points[:, 1 - axis]) <= LEAST_RUN:
        return None
    widths = np.abs(points[:, axis] - edge_at)
    least = np.flatnonzero(widths <= widths.min() + 1e-9)
    nearest = points[least].mean(axis=0)
    if not shapely.dwithin(edge, shapely.points(nearest), 1e-6):
        nearest = points[least[0]]  # the middle of two places that lie apart is no place
    foot = nearest.copy()
    foot[axis] = edge_at
    line = shapely.linestrings([nearest, foot])
    if (shapely.length(shapely.intersection(line, near)) > FLUSH).any():
        return None
    return line


def _middle(line: BaseGeometry) -> Point:
    x, y = shapely.get_coordinates(line).mean(axis=0).tolist()
    return (x, y)


# --- What just reaches into the finished face -----------------------------------------------------------------------


def _own(stack: Stack, sound: list[PlacedPiece], limit: float) -> Iterator[EdgeSliver]:
    """Parts of what is seen of a piece that all lie within `limit` of an edge that cuts them."""
    bounds = shapely.bounds([p.insert for p in sound])
    crossing = np.flatnonzero((_gaps(bounds, stack.finished_box) < -ROUNDING).any(axis=1))
    for n in crossing.tolist():
        parts = shapely.get_parts(stack.remnants[sound[n].index])
        parts = parts[shapely.area(parts) > NOISE_AREA]
        within = _gaps(shapely.bounds(parts)[:, [2, 3, 0, 1]], stack.finished_box)
        for part, side in np.argwhere((within < limit - ROUNDING) & (within > FLUSH)).tolist():
            if _touches(parts[part], stack, side):
                yield _own_sliver(sound[n], parts[part], side, float(within[part, side]))


def _touches(part: Polygon, stack: Stack, side: int) -> bool:
    return bool(abs(part.bounds[side] - stack.finished_box.bounds[side]) <= ROUNDING)


def _own_sliver(placed: PlacedPiece, part: Polygon, side: int, width: float) -> EdgeSliver:
    x0, y0, x1, y1 = part.bounds
    length = y1 - y0 if side % 2 == 0 else x1 - x0
    return EdgeSliver(placed.index, SIDES[side], "trimmed", width, length, part, True, inside(part))
