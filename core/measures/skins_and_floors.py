"""Thin wood left under pockets: skins of earlier inserts, and the panel's own floor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import EMPTY, NOISE_AREA, without_noise
from ..cutter.taper import section_at
from ..design import Point
from ..kept import Kept
from ..stack.pocket_pairs import ROUNDING
from ..stack.stack import PlacedPiece, Stack
from ..witness import common_points, inside
from .walls import HAIR

Shapes = npt.NDArray[np.object_]


@dataclass(frozen=True)
class Skin:
    """What a shallower later pocket leaves of an earlier insert under it. Pieces are indices into the stack."""

    earlier: int
    later: int
    thickness: float
    """From the later pocket's floor to the insert's bottom, mm; a `floor_gap` is not wood."""
    at: Point


@dataclass(frozen=True)
class Floor:
    """The panel's thinnest wood under a pocket."""

    piece: int
    thickness: float
    at: Point


def thin_skins(stack: Stack, min_skin: float) -> list[Skin]:
    """Skins thinner than `min_skin` mm, one per pair of pieces, by design order.

    A skin is there where no deeper pocket cuts it away, inside the edge trim, and somewhere wider than 0.5 mm.
    At equal depth nothing is left, so there is no skin.
    """
    pairs = [
        (placed, later)
        for placed in stack.pieces
        for later in (stack.pieces[j] for j in placed.under)
        if ROUNDING < skin_thickness(placed, later) < min_skin - ROUNDING and -later.depth < placed.top - ROUNDING
    ]
    wood = np.array([section_at(one.insert, one.piece.taper, later.depth) for one, later in pairs], dtype=object)
    floors = np.array([_floor(later) for _, later in pairs], dtype=object)
    shapely.prepare(wood)
    shapely.prepare(floors)
    deeper = [_deeper(stack, *pair) for pair in pairs]
    points = common_points(wood, floors, HAIR / 2, deeper)
    off = ~shapely.contains_xy(stack.finished_box, *points.T)
    found = []
    for n, (placed, later) in enumerate(pairs):
        at: Point | None = (float(points[n, 0]), float(points[n, 1]))
        if off[n]:
            at = _place(stack.finished_box, wood[n], floors[n], deeper[n])
        if at is not None:
            found.append(Skin(placed.index, later.index, skin_thickness(placed, later), at))
    return sorted(found, key=lambda skin: (skin.later, skin.earlier))


_PLACES: Kept[Point | None] = Kept()


def _deeper(stack: Stack, placed: PlacedPiece, later: PlacedPiece) -> list[BaseGeometry]:
    """Floors of the pockets that cut deeper into a piece than that one."""
    return [_floor(k) for k in (stack.pieces[j] for j in placed.under) if k.depth > later.depth + ROUNDING]


def skin_thickness(earlier: PlacedPiece, later: PlacedPiece) -> float:
    """Wood of the earlier insert below the later pocket's floor, mm; 0 or less where the pocket cuts through it."""
    return -earlier.bottom - later.depth


def _floor(placed: PlacedPiece) -> BaseGeometry:
    """The pocket's outline at its floor."""
    return section_at(placed.pocket, placed.piece.taper, placed.depth)


def _place(box: BaseGeometry, wood: BaseGeometry, floor: BaseGeometry, deeper: list[BaseGeometry]) -> Point | None:
    """Where the skin is there; None where other pockets, or the edge trim, leave but a hair of it."""
    (at,) = _PLACES.of([(wood, floor, *deeper, *box.bounds)], lambda _: [_found_place(box, wood, floor, deeper)])
    return at


def _found_place(
    box: BaseGeometry, wood: BaseGeometry, floor: BaseGeometry, deeper: list[BaseGeometry]
) -> Point | None:
    left: BaseGeometry = without_noise(shapely.intersection(wood, floor))
    for pocket in deeper:
        left = shapely.difference(left, pocket)
        if left.is_empty:
            return None
    left = without_noise(shapely.intersection(left, box))
    middles = shapely.buffer(left, -HAIR / 2)
    return None if middles.is_empty else inside(middles)


def thinnest_floor(stack: Stack) -> Floor | None:
    """The panel wood left under the deepest pocket, and a place of it; None without pockets.

    A pocket is cut to its full depth all over, whatever is cut there later, so the deepest one decides.
    """
    for placed in sorted(stack.pieces, key=lambda one: -one.depth):
        floor = shapely.intersection(_floor(placed), stack.box) if placed.sound else EMPTY
        if floor.area > NOISE_AREA:
            return Floor(placed.index, stack.design.panel.thickness - placed.depth, inside(floor))
    return None
