"""Where rounding takes wood off an outline or fills it up: tips, corners, necks and whole parts."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import NOISE_AREA
from ..cores import shared
from ..cutter.rounding import grown
from ..design import Point
from ..kept import Kept
from ..stack.stack import PlacedPiece

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Shapes = npt.NDArray[np.object_]

FELT = 0.01
"""Where wood or pocket differs from the outline by less than this, mm, nobody sees or feels it (common practice)."""


TIP_SHOWS = 2.0
"""A tip or notch that comes out shorter by more than this, mm, is told as such; by less, it is a rounded corner. To the
usual cutter of 3.175 mm a corner of 60° loses 1.59 mm, one of 90° 0.66 mm (common practice, no published source)."""
SPOT = 0.01
"""A part or a hole of less area than this, mm², is a slip of the drawing program that nobody sees (common practice)."""


class Loss(Enum):
    """How a place of an outline differs from its fit."""

    PART = "part"
    """It stands alone: a part of the outline is gone, or a hole filled."""
    NECK = "neck"
    """It lay between two places of what is left: a neck is gone, or a gap bridged."""
    TIP = "tip"
    """It ends farther from what is left than the corner radius, as at corners sharper than 60°, and than 2 mm."""
    CORNER = "corner"
    """A plain corner."""


@dataclass(frozen=True)
class Place:
    """One place where fit and outline part ways."""

    placed: PlacedPiece
    loss: Loss
    area: float
    """mm² cut away or filled there."""
    reach: float
    """mm from its furthest point to the wall that is left there."""
    at: Point
    shape: BaseGeometry
    """All of it."""


def cut_places(pieces: Sequence[PlacedPiece]) -> list[Place]:
    """Places of the pieces' outlines that no cutter reaches from inside, in the pieces' order."""
    return _places(_CUT, pieces, lambda outlines, pockets: (beyond(outlines, pockets), outlines, pockets))


def filled_places(pieces: Sequence[PlacedPiece]) -> list[Place]:
    """Notches, gaps and holes of the pieces' outlines that no saw reaches from outside, in the pieces' order."""
    return _places(_FILLED, pieces, lambda outlines, pockets: (within(pockets, outlines), pockets, outlines))


_CUT: Kept[tuple[Place, ...]] = Kept()
_FILLED: Kept[tuple[Place, ...]] = Kept()


def _places(
    kept: Kept[tuple[Place, ...]],
    pieces: Sequence[PlacedPiece],
    differ: Callable[[Shapes, Shapes], tuple[Shapes, Shapes, Shapes]],
) -> list[Place]:
    """The places of pieces whose pockets are not their very outlines; those of pieces that did not change are kept."""
    rounded = [p for p in pieces if p.pocket is not p.outline]

    def find(new: list[int]) -> list[tuple[Place, ...]]:
        some = [rounded[i] for i in new]
        outlines = valid(np.array([p.outline for p in some], dtype=object))
        pockets = valid(np.array([p.pocket for p in some], dtype=object))
        return _found(some, *differ(outlines, pockets))

    found = kept.of([(p.outline, p.pocket, corner_radius(p)) for p in rounded], find)
    return [replace(place, placed=p) for p, places in zip(rounded, found, strict=True) for place in places]


def _found(pieces: Sequence[PlacedPiece], differences: Shapes, whole: Shapes, taken: Shapes) -> list[tuple[Place, ...]]:
    """The places of each piece, where its `whole` differs from what is `taken` of it."""
    parts, owner = parts_of(differences)
    around = shared(lambda some: shapely.buffer(some, 2 * FELT, quad_segs=4), parts)
    areas = shared(_area_not_taken, around, whole[owner], taken[owner])
    walls = shapely.boundary(np.array([p.pocket for p in pieces], dtype=object))[owner]
    touching = shared(lambda some, by: shapely.line_merge(shapely.intersection(some, by)), walls, around)
    contacts = shapely.get_num_geometries(touching) * ~shapely.is_empty(touching)
    reach, tips = furthest(parts, np.where(contacts > 0, touching, walls))
    middle = shapely.get_coordinates(shapely.point_on_surface(parts))
    places: list[list[Place]] = [[] for _ in pieces]
    for i, piece in enumerate(owner.tolist()):
        loss = _loss(int(contacts[i]), is_tip(pieces[piece], float(reach[i]), parts[i]))
        if loss is Loss.PART and areas[i] < SPOT:
            continue
        x, y = (tips if loss in (Loss.TIP, Loss.CORNER) else middle)[i].tolist()
        places[piece].append(Place(pieces[piece], loss, float(areas[i]), float(reach[i]), (x, y), parts[i]))
    return [tuple(some) for some in places]


def parts_of(shapes: Shapes) -> tuple[Shapes, Ints]:
    """Polygons that are no noise, with the index of the shape that each is of."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    kept = shapely.area(parts) > NOISE_AREA
    return parts[kept], owner[kept]


def valid(shapes: Shapes) -> Shapes:
    """Shapes whose parts cross by a rounding error, as turning them may bring, without that."""
    crossed = ~shapely.is_valid(shapes)
    if not crossed.any():
        return shapes
    whole = shapes.copy()
    whole[crossed] = shapely.make_valid(shapes[crossed])
    return whole


def beyond(shapes: Shapes, others: Shapes) -> Shapes:
    """What of each shape lies beyond another by more than anybody feels."""
    return shared(lambda some, of: shapely.difference(some, grown(of, FELT)), shapes, others)


def within(shapes: Shapes, others: Shapes) -> Shapes:
    """What of each shape is no part of another, but for a rim that nobody feels."""
    return shared(lambda some, of: shapely.difference(grown(some, -FELT), of), shapes, others)


def _area_not_taken(around: Shapes, whole: Shapes, taken: Shapes) -> Array:
    """What of `whole` lies `around` a place and is not `taken`, mm²."""
    near = shapely.intersection(around, whole)
    areas: Array = shapely.area(near) - shapely.area(shapely.intersection(near, taken))
    return areas


def is_tip(placed: PlacedPiece, reach: float, lost: BaseGeometry) -> bool:
    """Whether what is lost, and reaches so many mm from the wall, is more than a plain corner of a piece.

    A slit along a wall is, however near that wall is: no corner that reaches less than 2 mm is so long.
    """
    radius = corner_radius(placed)
    x0, y0, x1, y1 = lost.bounds
    slit = math.hypot(x1 - x0, y1 - y0) > TIP_SHOWS + 2 * radius
    return reach > (radius if slit else max(radius, TIP_SHOWS)) + FELT


def _loss(contacts: int, tip: bool) -> Loss:
    if contacts == 0:
        return Loss.PART
    if contacts > 1:
        return Loss.NECK
    return Loss.TIP if tip else Loss.CORNER


def corner_radius(placed: PlacedPiece) -> float:
    """The radius that the corners of a piece's pocket get, mm."""
    piece = placed.piece
    return piece.cutter_radius if piece.fit == "as-drawn" else piece.corner_radius


def furthest(parts: Shapes, left: Shapes) -> tuple[Array, Array]:
    """The largest distance from a corner of each part to `left`, and that corner."""
    corners, part = shapely.get_coordinates(parts, return_index=True)
    distance = shapely.distance(left[part], shapely.points(corners)) if len(corners) else np.empty(0)
    last = np.searchsorted(part, np.arange(len(parts)), side="right") - 1
    order = np.lexsort([distance, part])[last] if len(parts) else np.empty(0, int)
    return distance[order], corners[order]
