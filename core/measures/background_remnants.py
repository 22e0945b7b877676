"""What pockets leave of the background in the finished face: crumbs, and places too thin to stay on.

An insert's own remnants are looked at in `islands_and_remnants` and `necks`. Here it is the wood between pockets that
overlap or touch each other; walls between pockets that lie apart are in `walls`. What stands in bays and holes of one
pocket is a peninsula or an island.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..design import Point
from ..stack.pocket_pairs import FLUSH, ROUNDING
from ..stack.stack import PlacedPiece, Stack
from ..witness import anywhere_wider, inside
from .necks import CRUMB, Neck, find_all_necks
from .rough_union import ROUGH, holes_of, rough_union

Bools = npt.NDArray[np.bool_]
Shapes = npt.NDArray[np.object_]

LEAST_CRUMB = 5.0
"""A crumb of the background smaller than this, mm², breaks off (common practice). It has grown on the floor below,
so it may be smaller than a remnant of an insert, which is but glued."""
DOT = 0.5
"""A crumb smaller than this, mm², is a dot in the glue line that nobody misses (common practice)."""
LEAST_FIN = 8.0
"""A fin of the background between two pockets that cross is one from this length on, mm; where two edges cross, a
shorter one is the common thing, and glue holds it on both sides (common practice)."""

_DUST = 0.05
"""What is nowhere wider than this, mm, where pockets are drawn roughly, is made by that."""
_NONE: Shapes = np.empty(0, dtype=object)


@dataclass(frozen=True)
class BackgroundCrumb:
    """A part of the background that pockets, and maybe the edge trim, cut off from all the rest."""

    pieces: tuple[int, ...]
    """Indices into the stack of the pieces round it."""
    area: float
    """mm²"""
    shape: BaseGeometry
    trimmed: bool
    """The edge trim bounds it."""
    at: Point


@dataclass(frozen=True)
class BackgroundNeck:
    """A thin place of the background between two pockets. Pieces are indices into the stack."""

    earlier: int
    later: int
    width: float
    """mm"""
    kind: Literal["between", "fin"]
    at: Point


class _Face:
    """The pockets as they are in the finished face, found by place."""

    def __init__(self, stack: Stack) -> None:
        self.box, trim = stack.finished_box, stack.design.panel.face_trim
        self.pieces = [p for p in stack.pieces if p.sound and p.depth > trim]
        self._tree = shapely.STRtree([p.pocket for p in self.pieces])
        self._trim = trim

    def near(self, shape: BaseGeometry, within: float) -> list[PlacedPiece]:
        """Pieces whose pockets lie nearer to a shape than some mm, by design order."""
        found = self._tree.query(shape, predicate="dwithin", distance=within)
        return [self.pieces[i] for i in sorted(found.tolist())]

    def left(self, window: BaseGeometry) -> Shapes:
        """The parts of the background that are left in a window."""
        cut = [p.pocket_at(self._trim) for p in self.near(window, 0.0)]
        seen = shapely.intersection(window, self.box)
        left = shapely.get_parts(shapely.difference(seen, shapely.union_all(cut)))
        left = left[shapely.get_dimensions(left) == 2]
        return np.asarray(left[anywhere_wider(left, FLUSH)])


# --- Crumbs ---------------------------------------------------------------------------------------------------------


def background_crumbs(stack: Stack, least_width: float) -> list[BackgroundCrumb]:
    """Parts of the background smaller than 5 mm², or nowhere as wide as `least_width` mm, by design order.

    The order is that of the last piece round them. An island in one pocket is none of them.
    """
    face = _Face(stack)
    parts = rough_union(stack)
    places = np.append(holes_of(parts), _cut_off_by_edges(stack, parts))
    places = places[_small_or_thin(shapely.buffer(places, -ROUGH, join_style="mitre"), least_width)]
    found: dict[bytes, BackgroundCrumb] = {}
    for place in places:
        for part in face.left(shapely.buffer(place, 3 * ROUGH, join_style="mitre")):
            if shapely.intersection(part, place).area < 0.5 * part.area or part.area <= DOT:
                continue
            around = tuple(p.index for p in face.near(part, FLUSH))
            trimmed = bool(shapely.dwithin(part, stack.finished_box.exterior, ROUNDING))
            cut_off = len(around) > (0 if trimmed else 1)
            if cut_off and _small_or_thin(np.array([part], dtype=object), least_width)[0]:
                crumb = BackgroundCrumb(around, float(part.area), part, trimmed, inside(part))
                found[shapely.to_wkb(part)] = crumb
    return sorted(found.values(), key=lambda crumb: (crumb.pieces[-1], crumb.at))


def _small_or_thin(parts: Shapes, least_width: float) -> Bools:
    small = np.asarray(shapely.area(parts) < LEAST_CRUMB - ROUNDING)
    small[~small] = ~anywhere_wider(parts[~small], least_width - ROUNDING)
    return small


def _cut_off_by_edges(stack: Stack, parts: Shapes) -> Shapes:
    """Parts of the background between pockets and the edges of the finished panel."""
    box = stack.finished_box
    edge = box.exterior
    shapely.prepare(edge)
    crossing = parts[shapely.dwithin(parts, edge, FLUSH)]
    if not len(crossing):
        return _NONE
    left = shapely.get_parts(shapely.difference(box, shapely.union_all(crossing)))
    return np.asarray(left[shapely.dwithin(left, edge, ROUNDING)])


# --- Thin places ----------------------------------------------------------------------------------------------------


def background_necks(stack: Stack, narrower_than: float) -> list[BackgroundNeck]:
    """Necks and fins of the background, narrower than some mm, by design order.

    Only those at least as long as a crumb are looked for, and none between two walls of one pocket or along an edge.
    """
    places = _thin_places(stack, narrower_than)
    if not len(places):
        return []
    face, found = _Face(stack), []
    lefts = [face.left(shapely.buffer(place, CRUMB + narrower_than, join_style="mitre")) for place in places]
    shapes = [
        shapely.multipolygons(left[shapely.intersects(left, place)]) for left, place in zip(lefts, places, strict=True)
    ]
    for place, necks in zip(places, find_all_necks(shapes, narrower_than), strict=True):
        for neck in necks:
            pair = _between(face, neck)
            if (
                pair is not None
                and neck.width > FLUSH
                and (neck.kind == "between" or neck.length > LEAST_FIN)
                and shapely.dwithin(place, shapely.points(neck.at), _DUST)
            ):
                found.append(BackgroundNeck(*pair, neck.width, neck.kind, neck.at))
    return sorted(found, key=lambda one: (one.later, one.earlier, one.at))


def _thin_places(stack: Stack, narrower_than: float) -> Shapes:
    """Where a disc of that diameter does not get in between pockets that overlap: their closing without them."""
    parts = rough_union(stack)
    pockets = np.array([p.pocket for p in stack.pieces if p.sound], dtype=object)
    if len(pockets) < 2:
        return _NONE
    holds = shapely.STRtree(parts).query(shapely.point_on_surface(pockets), predicate="dwithin", distance=ROUGH)[1]
    parts = parts[np.bincount(holds, minlength=len(parts)) > 1]
    radius = narrower_than / 2
    closed = shapely.buffer(shapely.buffer(parts, radius, quad_segs=8), -radius, quad_segs=8)
    thin = shapely.get_parts(shapely.intersection(shapely.difference(closed, parts), stack.finished_box))
    bounds = shapely.bounds(thin)
    long = np.hypot(*(bounds[:, 2:] - bounds[:, :2]).T) >= CRUMB
    thin = thin[long & (shapely.get_dimensions(thin) == 2)]
    return np.asarray(thin[anywhere_wider(thin, _DUST)])


def _between(face: _Face, neck: Neck) -> tuple[int, int] | None:
    """The pockets on either side of a neck; None where one is on both, or none on one."""
    sides = [{p.index for p in face.near(shapely.points(wall), 2 * _DUST)} for wall in neck.walls]
    if not all(sides) or sides[0] & sides[1]:
        return None
    one, other = sorted(min(side) for side in sides)
    return one, other
