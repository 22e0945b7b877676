"""Wood that stands in a pocket and hangs on at one side only, and pillars that several pockets leave between them.

A peninsula is a fin of what a pocket leaves standing, as `necks` knows fins of inserts. Its tip has the round of the
cutter that saws the insert, so a piece that is fitted rounded has none narrower than twice its corner radius.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import NOISE_AREA
from ..design import Point
from ..kept import Kept
from ..stack.pocket_pairs import FLUSH, ROUNDING
from ..stack.stack import PlacedPiece, Stack
from ..witness import anywhere_wider, widest_place
from .necks import CRUMB, Neck, find_all_necks
from .rough_union import ROUGH, holes_of, rough_union
from .walls import HAIR, Wall

Shapes = npt.NDArray[np.object_]


@dataclass(frozen=True)
class Peninsula:
    """A fin of wood left standing in a piece's pocket. `piece` is an index into the stack."""

    piece: int
    width: float
    """mm, at its narrowest."""
    length: float
    """mm along it."""
    height: float
    """How deep the pocket is round it, mm."""
    at: Point


@dataclass(frozen=True)
class Pillar:
    """Wood that several pockets leave standing among them. `pieces` are indices into the stack, in design order."""

    pieces: tuple[int, ...]
    width: float
    """Diameter of the largest disc in it, mm."""
    height: float
    """Down to the floor of the shallowest of them, mm."""
    one_batch: bool
    """All its pockets are open at the same time."""
    at: Point


# --- Peninsulas -----------------------------------------------------------------------------------------------------


def fragile_peninsulas(stack: Stack, min_island: float) -> list[Peninsula]:
    """Peninsulas narrower than `min_island` mm, or than their pocket is deep, by design order.

    One that lies in the trimmed edge, or that other pockets of the same batch or later ones take, is none.
    """
    sawn = [p for p in stack.pieces if p.sound and not p.piece.is_groove]
    limits = [max(min_island, p.depth) for p in sawn]
    fins = _FINS.of(
        [(p.pocket, limit) for p, limit in zip(sawn, limits, strict=True)],
        lambda new: _fins([sawn[i].pocket for i in new], [limits[i] for i in new]),
    )
    return [
        Peninsula(placed.index, fin.width, fin.length, placed.depth, fin.at)
        for placed, some in zip(sawn, fins, strict=True)
        for fin in some
        if _stands(stack, placed, fin)
    ]


_FINS: Kept[tuple[Neck, ...]] = Kept()


def _fins(pockets: Sequence[BaseGeometry], limits: Sequence[float]) -> list[tuple[Neck, ...]]:
    """Fins narrower than a limit of what each pocket leaves standing round it and in its holes."""
    found: list[tuple[Neck, ...]] = [()] * len(pockets)
    bent = [i for i, pocket in enumerate(pockets) if _has_bays(pocket, limits[i])]
    for limit in sorted({limits[i] for i in bent}):
        some = [i for i in bent if limits[i] == limit]
        for i, necks in zip(some, find_all_necks([_around(pockets[i], limit) for i in some], limit), strict=True):
            found[i] = tuple(neck for neck in necks if neck.kind == "fin" and neck.width < limit - ROUNDING)
    return found


def _has_bays(pocket: BaseGeometry, limit: float) -> bool:
    """Whether wood may stand in the pocket's bays: its hull takes in more than crumbs of wood."""
    hull = shapely.convex_hull(pocket)
    return bool(hull.area - pocket.area > CRUMB**2 and hull.length > 2 * limit)


def _around(pocket: BaseGeometry, limit: float) -> BaseGeometry:
    """What stands round a pocket and in its holes, but for islands that are fragile altogether."""
    room = 2 * limit + CRUMB
    x0, y0, x1, y1 = pocket.bounds
    standing = shapely.get_parts(shapely.difference(shapely.box(x0 - room, y0 - room, x1 + room, y1 + room), pocket))
    return shapely.multipolygons(standing[anywhere_wider(standing, limit)])


def _stands(stack: Stack, placed: PlacedPiece, fin: Neck) -> bool:
    """Whether most of a fin is still there when all is cut and trimmed."""
    points = shapely.points(fin.course[:, :2])
    left = shapely.covers(stack.finished_box, points)
    around = shapely.box(*shapely.total_bounds(points))
    for other in stack.pieces:
        if other.sound and other is not placed and other.batch >= placed.batch and other.pocket.intersects(around):
            left &= ~shapely.intersects(other.pocket, points)
    return bool(left.mean() > 0.5)


# --- Pillars --------------------------------------------------------------------------------------------------------


def fragile_pillars(stack: Stack, min_island: float, walls: Sequence[Wall]) -> list[Pillar]:
    """Pillars among pockets of one batch, narrower than `min_island` mm or than they are high; of several, a hair.

    Those of several batches are held by the inserts that are glued in already. Where a thin wall between two of the
    pockets stands in the pillar, that is the wall's to tell. By design order.
    """
    pieces = [p for p in stack.pieces if p.sound]
    if len(pieces) < 3:
        return []
    holes = holes_of(rough_union(stack))
    if not len(holes):
        return []
    holes = holes[shapely.covers(stack.finished_box, holes)]
    pockets = np.array([p.pocket for p in pieces], dtype=object)
    near: list[list[PlacedPiece]] = [[] for _ in holes]
    for hole, piece in shapely.STRtree(pockets).query(holes, predicate="dwithin", distance=2 * ROUGH).T.tolist():
        near[hole].append(pieces[piece])
    told = shapely.points(np.array([wall.at for wall in walls]).reshape(-1, 2))
    found = [
        pillar
        for hole, some in zip(holes, near, strict=True)
        if len(some) > 1 and not shapely.dwithin(hole, told, 2 * ROUGH).any()
        for pillar in _pillars(hole, some, min_island)
    ]
    return sorted(found, key=lambda pillar: (pillar.pieces[-1], pillar.at))


def _pillars(hole: BaseGeometry, around: Sequence[PlacedPiece], min_island: float) -> list[Pillar]:
    """What exactly stands where roughly a hole is, if it is too thin."""
    one_batch = len({p.batch for p in around}) == 1
    height = min(p.depth for p in around)
    limit = max(min_island, height) if one_batch else HAIR
    exact = shapely.difference(shapely.buffer(hole, 3 * ROUGH), shapely.union_all([p.pocket for p in around]))
    parts = shapely.get_parts(exact)
    parts = parts[(shapely.area(parts) > NOISE_AREA) & ~anywhere_wider(parts, limit - ROUNDING)]
    pieces = tuple(sorted(p.index for p in around))
    found = [widest_place(part) for part in parts]
    return [Pillar(pieces, width, height, one_batch, at) for width, at in found if width > FLUSH]
