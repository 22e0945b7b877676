"""Wood that stands alone: islands inside pockets, and what later pockets leave of earlier inserts.

An island's width is the diameter of the largest disc in it: it is as strong as the thickest place of its foot.
That is the short side of a bar and the wall of a curved one; a pointed tip does not make it any weaker.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from ..areas import without_noise
from ..design import Point
from ..stack.pocket_pairs import FLUSH, ROUNDING
from ..stack.stack import PlacedPiece, Stack
from ..witness import anywhere_wider, widest_place
from .grooves import strip_thickness
from .walls import HAIR

LEAST_AREA = 25.0
"""A part of a remnant smaller than this, mm², holds by too little glue (common practice)."""
TOUCHING = 1e-6


@dataclass(frozen=True)
class _Patch:
    """A connected patch of wood. `piece` is an index into the stack."""

    piece: int
    shape: Polygon

    @property
    def area(self) -> float:
        """mm²"""
        return float(self.shape.area)

    @cached_property
    def _widest(self) -> tuple[float, Point]:
        return widest_place(self.shape)

    @property
    def width(self) -> float:
        """Diameter of the largest disc in it, mm."""
        return self._widest[0]

    @property
    def at(self) -> Point:
        """Middle of that disc."""
        return self._widest[1]


@dataclass(frozen=True)
class Island(_Patch):
    """Wood left standing inside a hole of a piece's pocket."""

    height: float
    """How deep the pocket is round it, mm."""


def fragile_islands(stack: Stack, min_island: float) -> list[Island]:
    """Islands narrower than `min_island` mm, or than their pocket is deep."""
    standing = list(islands(stack))
    if not standing:
        return []
    limits = [max(min_island, island.height) - ROUNDING for island in standing]
    return [
        island
        for island, limit in zip(standing, limits, strict=True)
        if not anywhere_wider(np.array([island.shape], dtype=object), limit)[0] and island.width < limit
    ]


def islands(stack: Stack) -> Iterator[Island]:
    """All islands, by design order.

    A hole is filled, and no island, where other pockets of the same batch or later ones take all of it but a
    hair, or where it lies in the trimmed edge. Pockets of the same batch inside a hole leave less of it standing;
    what runs round such a pocket is a wall between two pockets, not an island.
    """
    holes = [(placed, Polygon(ring)) for placed in stack.pieces if placed.sound for ring in _holes(placed.pocket)]
    if not holes:
        return
    pockets = np.array([p.pocket if p.sound else Polygon() for p in stack.pieces], dtype=object)
    shapes = np.array([hole for _, hole in holes], dtype=object)
    near: list[list[PlacedPiece]] = [[] for _ in holes]
    for hole, k in shapely.STRtree(pockets).query(shapes, predicate="intersects").T.tolist():
        near[hole].append(stack.pieces[k])
    for (placed, hole), others in zip(holes, near, strict=True):
        yield from _standing(stack, placed, hole, others)


def _holes(shape: BaseGeometry) -> list[BaseGeometry]:
    return [ring for polygon in shapely.get_parts(shape) for ring in polygon.interiors]


def _standing(stack: Stack, placed: PlacedPiece, hole: Polygon, others: list[PlacedPiece]) -> Iterator[Island]:
    own = [placed] if shapely.get_num_geometries(placed.pocket) > 1 else []
    cut_now = [k.pocket for k in others if k.batch == placed.batch and k is not placed] + [k.pocket for k in own]
    cut_later = [k.pocket for k in others if k.batch > placed.batch]
    standing = without_noise(shapely.difference(hole, shapely.union_all(cut_now)) if cut_now else hole)
    left = without_noise(shapely.intersection(standing, stack.finished_box))
    left = shapely.difference(left, shapely.union_all(cut_later)) if cut_later else left
    for part in shapely.get_parts(standing):
        remains = np.array([shapely.intersection(part, left)], dtype=object)
        if not shapely.get_num_interior_rings(part) and anywhere_wider(remains, HAIR)[0]:
            yield Island(placed.index, part, placed.depth)


# --- Remnants -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class RemnantPart(_Patch):
    """One part of what is seen of a piece. `cut_by` are indices into the stack."""

    cut_by: tuple[int, ...]
    """Later pieces whose pockets bound it."""
    trimmed: bool
    """The edge trim bounds it."""

    @property
    def is_remnant(self) -> bool:
        """Something was cut off: a piece that is whole is as small as it was drawn."""
        return bool(self.cut_by) or self.trimmed


def loose_remnants(stack: Stack, least_area: float = LEAST_AREA) -> list[RemnantPart]:
    """Parts of remnants smaller than `least_area` mm², by design order.

    Small pieces left whole are none, nor is a strip as wide as it was and no hair: both walls of its groove and the
    floor hold it.
    """
    parts, owner = shapely.get_parts(np.array(stack.remnants, dtype=object), return_index=True)
    tiny = (shapely.area(parts) < least_area - ROUNDING) & ~shapely.is_empty(parts)  # a hidden piece has no part
    small = [_part(stack, stack.pieces[i], part) for part, i in zip(parts[tiny], owner[tiny].tolist(), strict=True)]
    return [part for part in small if part.is_remnant and not _held_in_groove(stack.pieces[part.piece], part)]


def _held_in_groove(placed: PlacedPiece, part: RemnantPart) -> bool:
    """Whether a part of a strip has its whole width still, but for a cutter's runout, and is no hair."""
    if not placed.piece.is_groove or part.area < HAIR * strip_thickness(placed) - ROUNDING:
        return False
    least = strip_thickness(placed) - FLUSH
    return part.width >= least or _width_in_groove(placed, part.shape) >= least


def _width_in_groove(placed: PlacedPiece, part: Polygon) -> float:
    """How wide a short part of a strip is square to its groove, mm."""
    line = shapely.linestrings(placed.centre_line)
    middle = shapely.line_locate_point(line, part.centroid)
    ends = shapely.get_coordinates(shapely.line_interpolate_point(line, [max(middle - 0.05, 0.0), middle + 0.05]))
    way = (ends[1] - ends[0]) / max(float(np.hypot(*(ends[1] - ends[0]))), 1e-9)
    x, y = part.centroid.x, part.centroid.y
    reach = strip_thickness(placed)
    cut = shapely.linestrings([(x - reach * -way[1], y - reach * way[0]), (x + reach * -way[1], y + reach * way[0])])
    return float(shapely.length(shapely.intersection(cut, part)))


def _part(stack: Stack, placed: PlacedPiece, part: Polygon) -> RemnantPart:
    trim = stack.design.panel.face_trim
    later = [j for j in placed.under if shapely.dwithin(part, stack.pieces[j].pocket_at(trim), TOUCHING)]
    trimmed = bool(shapely.dwithin(part, stack.finished_box.exterior, TOUCHING))
    return RemnantPart(placed.index, part, tuple(later), trimmed)
