"""What several findings look at, measured once for all pieces: what the cutter leaves out, where inserts bind."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from .areas import NOISE_AREA
from .design import Point
from .fits import grown
from .stack import PlacedPiece, Stack

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Shapes = npt.NDArray[np.object_]

FELT = 0.01
"""Where wood or pocket differs from the outline by less than this, mm, nobody sees or feels it (common practice)."""


class Loss(Enum):
    """How a place of an outline differs from its fit."""

    PART = "part"
    """It stands alone: a part of the outline is gone, or a hole filled."""
    NECK = "neck"
    """It lay between two places of what is left: a neck is gone, or a gap bridged."""
    TIP = "tip"
    """It ends farther from what is left than the corner radius, as it does at corners sharper than 60°."""
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


@dataclass(frozen=True)
class BindingPlace:
    """A corner where a sawn insert reaches beyond its pocket."""

    placed: PlacedPiece
    interference: float
    """Largest distance from a point of the insert to the pocket, mm."""
    at: Point


class Measures:
    """A stack with its measures; each is taken when first asked for."""

    def __init__(self, stack: Stack) -> None:
        self.stack = stack
        self.design = stack.design
        self.panel = stack.design.panel
        self.workshop = stack.design.workshop
        self.sound = [placed for placed in stack.pieces if placed.sound]

    @cached_property
    def cut(self) -> list[Place]:
        """Places of outlines that no cutter reaches from inside."""
        pieces = [p for p in self.sound if not p.cut.is_empty]
        outlines, pockets = _shapes([p.outline for p in pieces]), _shapes([p.pocket for p in pieces])
        parts, owner = _parts(shapely.difference(outlines, grown(pockets, FELT)))
        return _places(pieces, parts, owner, _shapes([p.cut for p in pieces]))

    @cached_property
    def filled(self) -> list[Place]:
        """Notches, gaps and holes of outlines that no saw of that radius reaches from outside."""
        pieces = [p for p in self.sound if not p.filled.is_empty]
        outlines, pockets = _shapes([p.outline for p in pieces]), _shapes([p.pocket for p in pieces])
        parts, owner = _parts(shapely.difference(grown(pockets, -FELT), outlines))
        return _places(pieces, parts, owner, _shapes([p.filled for p in pieces]))

    @cached_property
    def binding(self) -> list[BindingPlace]:
        """Corners of inserts fitted as drawn that do not go into their pockets."""
        pieces = [p for p in self.sound if p.piece.fit == "as-drawn"]
        inserts, pockets = _shapes([p.insert for p in pieces]), _shapes([p.pocket for p in pieces])
        parts, owner = _parts(shapely.difference(inserts, grown(pockets, FELT)))
        reach, at = _furthest(parts, pockets[owner])
        return [BindingPlace(pieces[i], float(r), _point(xy)) for i, r, xy in zip(owner, reach, at, strict=True)]


def inside(shape: BaseGeometry) -> Point:
    """A point inside a shape."""
    return _point(shapely.get_coordinates(shapely.point_on_surface(shape))[0])


def overshoot(shape: BaseGeometry, of: BaseGeometry) -> tuple[float, Point]:
    """The largest distance from a point of a shape to another shape, and where it is."""
    reach, at = _furthest(_shapes([shape]), _shapes([of]))
    return float(reach[0]), _point(at[0])


def _point(xy: Array) -> Point:
    return (float(xy[0]), float(xy[1]))


def _shapes(shapes: list[BaseGeometry]) -> Shapes:
    return np.array(shapes, dtype=object)


def _parts(shapes: Shapes) -> tuple[Shapes, Ints]:
    """Polygons that are no noise, with the index of the shape that each is of."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    kept = shapely.area(parts) > NOISE_AREA
    return parts[kept], owner[kept]


def _places(pieces: list[PlacedPiece], parts: Shapes, owner: Ints, lost: Shapes) -> list[Place]:
    """Places from parts of outlines that differ; `lost` is all that differs of each piece."""
    around = shapely.buffer(parts, 2 * FELT, quad_segs=4)
    areas = shapely.area(shapely.intersection(around, lost[owner]))
    walls = shapely.boundary(_shapes([p.pocket for p in pieces]))[owner]
    touching = shapely.line_merge(shapely.intersection(walls, around))
    contacts = shapely.get_num_geometries(touching) * ~shapely.is_empty(touching)
    reach, furthest = _furthest(parts, np.where(contacts > 0, touching, walls))
    middle = shapely.get_coordinates(shapely.point_on_surface(parts))
    places = []
    for i, piece in enumerate(owner.tolist()):
        loss = _loss(int(contacts[i]), float(reach[i]), _corner_radius(pieces[piece]))
        at = furthest[i] if loss in (Loss.TIP, Loss.CORNER) else middle[i]
        places.append(Place(pieces[piece], loss, float(areas[i]), float(reach[i]), _point(at)))
    return places


def _loss(contacts: int, reach: float, radius: float) -> Loss:
    if contacts == 0:
        return Loss.PART
    if contacts > 1:
        return Loss.NECK
    return Loss.TIP if reach > radius + FELT else Loss.CORNER


def _corner_radius(placed: PlacedPiece) -> float:
    piece = placed.piece
    return piece.cutter_radius if piece.fit == "as-drawn" else piece.corner_radius


def _furthest(parts: Shapes, left: Shapes) -> tuple[Array, Array]:
    """Of each part the largest distance from a corner to `left`, and that corner."""
    corners, part = shapely.get_coordinates(parts, return_index=True)
    distance = shapely.distance(left[part], shapely.points(corners)) if len(corners) else np.empty(0)
    last = np.searchsorted(part, np.arange(len(parts)), side="right") - 1
    order = np.lexsort([distance, part])[last] if len(parts) else np.empty(0, int)
    return distance[order], corners[order]
