"""What several findings look at, measured once for all pieces: what the cutter leaves out, where inserts bind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..design import Point
from ..kept import Kept
from ..solids.panel_solids import Solid, build_solids
from ..solids.proof import Fault, faults
from ..solids.volumes import Volumes, measure_volumes
from ..stack.batch_reasons import WorkOrder
from ..stack.pocket_pairs import FLUSH, ROUNDING
from ..stack.stack import PlacedPiece, Stack
from .background_remnants import BackgroundCrumb, BackgroundNeck, background_crumbs, background_necks
from .edge_slivers import EdgeSliver, edge_slivers
from .grain_strength import WeakPlace, places_of, snapping_lever, suggest_grain, weakest_place
from .islands_and_remnants import Island, RemnantPart, fragile_islands, loose_remnants
from .necks import Neck, find_all_necks, lever, long_lever
from .peninsulas import Peninsula, Pillar, fragile_peninsulas, fragile_pillars
from .rough_union import rough_union
from .rounded_places import Place, beyond, cut_places, filled_places, furthest, parts_of
from .skins_and_floors import Skin, thin_skins
from .walls import HAIR, Bite, SharedEdge, Wall, shallow_bites, shared_edges, walls

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Shapes = npt.NDArray[np.object_]

SHORT_UP_TO = 3.0
"""Short grain counts in necks up to this times `min_neck` wide (common practice)."""
SHORT_GRAIN = 45.0
"""Grain that lies more degrees than this off a neck's run is short (common practice)."""


@dataclass(frozen=True)
class BindingPlace:
    """A corner where a sawn insert reaches beyond its pocket."""

    placed: PlacedPiece
    interference: float
    """Largest distance from a point of the insert to the pocket, mm."""
    at: Point


@dataclass(frozen=True)
class SnappingPlace:
    """Where a neck snaps across its grain, and how far the wood beyond reaches, mm."""

    place: WeakPlace
    lever: float


@dataclass(frozen=True, eq=False)
class NarrowPlace:
    """A neck or fin of a piece."""

    placed: PlacedPiece
    neck: Neck

    @cached_property
    def weakest(self) -> WeakPlace:
        """Where it breaks first, with its rank."""
        return weakest_place(self.neck, self.placed.piece.insert_thickness, self.placed.grain)

    def short_grain(self, grain: float) -> SnappingPlace | None:
        """Where a careless push is likeliest to snap it, were its grain so; None where it snaps nowhere.

        Looked at are its weakest place and some along it, where the grain lies more than 45° off its run.
        """
        thickness = self.placed.piece.insert_thickness
        along = self.neck.course[:: max(1, len(self.neck.course) // 4)]
        places = [weakest_place(self.neck, thickness, grain), *places_of(along, thickness, grain)]
        worst, most = None, 1.0
        for place in places:
            if place.off_grain > SHORT_GRAIN:
                insert = self.placed.insert
                shorter = lever(insert, self.neck, place.width)
                reach = max(shorter, long_lever(insert, place.at, place.width, place.run))
                share = reach / snapping_lever(place.width, thickness)
                if share > most + 1e-6:
                    worst, most = SnappingPlace(place, reach), share
        return worst

    @cached_property
    def snaps_at(self) -> SnappingPlace | None:
        """Where it snaps first, with the grain that its piece has; None where it holds."""
        piece, grain = self.placed.piece, self.placed.grain
        subject = (self.placed.insert, self.neck, piece.insert_thickness, float(grain))
        (found,) = _SNAPS.of([subject], lambda _: [self.short_grain(grain)])
        return found


class Measures:
    """A stack with its measures; each is taken when first asked for."""

    def __init__(self, stack: Stack) -> None:
        self.stack = stack
        self.design = stack.design
        self.panel = stack.design.panel
        self.workshop = stack.design.workshop
        self.sound = [placed for placed in stack.pieces if placed.sound]

    @cached_property
    def solids(self) -> list[Solid]:
        """The raw solids."""
        global _last_solids
        _last_solids = build_solids(self.stack, "raw", previous=_last_solids)
        return _last_solids

    @cached_property
    def volumes(self) -> Volumes:
        """Volumes of the raw panel below its face."""
        return measure_volumes(self.stack, self.solids)

    @cached_property
    def faults(self) -> list[Fault]:
        """What keeps the solids from being proved sound."""
        return faults(self.stack, self.solids, self.volumes)

    @cached_property
    def cut(self) -> list[Place]:
        """Places of outlines that no cutter reaches from inside."""
        return cut_places(self.sound)

    @cached_property
    def filled(self) -> list[Place]:
        """Notches, gaps and holes of outlines that no saw of that radius reaches from outside."""
        return filled_places(self.sound)

    def later_at(self, placed: PlacedPiece, shape: BaseGeometry) -> list[PlacedPiece]:
        """Pieces listed later than one whose pockets reach into a shape, by design order."""
        near = [self.sound[i] for i in self._pockets.query(shape, predicate="intersects").tolist()]
        return sorted((p for p in near if p.index > placed.index), key=lambda p: p.index)

    @cached_property
    def _pockets(self) -> shapely.STRtree:
        return shapely.STRtree([p.pocket for p in self.sound])

    @cached_property
    def binding(self) -> list[BindingPlace]:
        """Corners of inserts fitted as drawn that do not go into their pockets."""
        pieces = [p for p in self.sound if p.piece.fit == "as-drawn"]
        inserts, pockets = _shapes([p.insert for p in pieces]), _shapes([p.pocket for p in pieces])
        parts, owner = parts_of(beyond(inserts, pockets))
        reach, at = furthest(parts, pockets[owner])
        return [BindingPlace(pieces[i], float(r), _point(xy)) for i, r, xy in zip(owner, reach, at, strict=True)]

    @cached_property
    def walls(self) -> list[Wall]:
        """All walls thinner than `min_wall` or than a hair, of one batch or not."""
        return walls(self.stack, max(self.workshop.min_wall, HAIR))

    @cached_property
    def shared_edges(self) -> list[SharedEdge]:
        """Edges that two pockets of one batch share."""
        return shared_edges(self.stack)

    @cached_property
    def order(self) -> WorkOrder:
        """Who waits for whom."""
        return WorkOrder(self.stack)

    @cached_property
    def bites(self) -> list[Bite]:
        """Overlaps nowhere wider than a hair."""
        return shallow_bites(self.stack)

    @cached_property
    def skins(self) -> list[Skin]:
        """Skins that may come out thinner than `min_skin`.

        Zero is set anew for each batch, so the later pocket may be off by the depth error while the earlier was not.
        """
        return thin_skins(self.stack, self.workshop.min_skin + abs(self.workshop.depth_error))

    @cached_property
    def islands(self) -> list[Island]:
        """Islands narrower than `min_island`, or than their pocket is deep."""
        return fragile_islands(self.stack, self.workshop.min_island)

    @cached_property
    def peninsulas(self) -> list[Peninsula]:
        """Peninsulas narrower than `min_island`, or than their pocket is deep."""
        return fragile_peninsulas(self.stack, self.workshop.min_island)

    @cached_property
    def pillars(self) -> list[Pillar]:
        """Pillars among several pockets that are as thin."""
        return fragile_pillars(self.stack, self.workshop.min_island, self.walls)

    @cached_property
    def background_crumbs(self) -> list[BackgroundCrumb]:
        """Crumbs of the background, but for what is told as a pillar or as a sliver along an edge."""
        told = [shapely.points(pillar.at) for pillar in self.pillars]
        told += [sliver.shape for sliver in self.edge_slivers if not sliver.own]
        found = background_crumbs(self.stack, self.workshop.min_neck_glued)
        return [crumb for crumb in found if not shapely.intersects(crumb.shape, told).any()]

    @cached_property
    def background_necks(self) -> list[BackgroundNeck]:
        """Thin places of the background among pockets of several batches, narrower than `min_neck_glued`.

        Crumbs, hairs between two pockets and thin walls of one batch are told as such, tips between grooves that cross
        as these.
        """
        least, pieces = self.workshop.min_neck_glued, self.stack.pieces
        if least <= 0:
            return []
        told = {(wall.earlier, wall.later) for wall in self.walls}
        found = [neck for neck in background_necks(self.stack, least) if (neck.earlier, neck.later) not in told]
        found = [n for n in found if not (pieces[n.earlier].piece.is_groove and pieces[n.later].piece.is_groove)]
        apart = [w for w in self.walls if not w.one_batch and HAIR - ROUNDING <= w.gap < least - ROUNDING]
        cut = shapely.union_all(rough_union(self.stack)) if apart else None
        bare = [wall for wall in apart if not shapely.intersects(cut, shapely.points(wall.at))]
        found += [BackgroundNeck(wall.earlier, wall.later, wall.gap, "between", wall.at) for wall in bare]
        crumbs = [crumb.shape for crumb in self.background_crumbs]
        found = [n for n in found if not shapely.dwithin(crumbs, shapely.points(n.at), n.width).any()]
        return sorted(found, key=lambda neck: (neck.later, neck.earlier, neck.at))

    @cached_property
    def edge_slivers(self) -> list[EdgeSliver]:
        """Slivers along the panel's edges, narrower than `min_neck_glued`, or `min_wall` where nothing holds them."""
        return edge_slivers(self.stack, self.workshop.min_neck_glued, self.workshop.min_wall)

    @cached_property
    def loose(self) -> list[RemnantPart]:
        """Parts of remnants that hold by too little glue, but for slivers along an edge."""
        return [part for part in loose_remnants(self.stack) if not self._in_sliver(part.piece, part.shape)]

    @cached_property
    def narrow(self) -> list[NarrowPlace]:
        """Necks and fins of inserts as sawn, up to 3 x `min_neck` wide; a strip in its groove has none."""
        sawn = [p for p in self.sound if not p.piece.is_groove]
        return _necks(sawn, [p.insert for p in sawn], SHORT_UP_TO * self.workshop.min_neck)

    @cached_property
    def narrow_remnants(self) -> list[NarrowPlace]:
        """Necks and fins of what is seen, narrower than `min_neck_glued`; not those that the insert had as sawn."""
        box, told = self.stack.finished_box, self.narrow
        cut = [p for p in self.sound if not p.piece.is_groove and (p.under or not box.covers(p.insert))]
        found = _necks(cut, [self.stack.remnants[p.index] for p in cut], self.workshop.min_neck_glued)
        found = [new for new in found if new.neck.width > FLUSH]  # narrower than a cutter's runout it is dust
        found = [n for n in found if not self._in_sliver(n.placed.index, shapely.points(n.neck.at))]
        return [new for new in found if not any(n.placed is new.placed and _same_place(n.neck, new.neck) for n in told)]

    def _in_sliver(self, piece: int, shape: BaseGeometry) -> bool:
        """Whether a place of what is left of a piece lies in a sliver along an edge, which is told as one."""
        own = [sliver.shape for sliver in self.edge_slivers if sliver.own and sliver.piece == piece]
        return bool(own) and bool(shapely.dwithin(np.array(own, dtype=object), shape, FLUSH).any())

    @cached_property
    def suggested_grain(self) -> dict[int, float]:
        """For each piece that is sawn the grain direction that keeps its weakest neck strongest, degrees."""
        necks: dict[int, list[Neck]] = {p.index: [] for p in self.sound if not p.piece.is_groove}
        for narrow in self.narrow:
            necks[narrow.placed.index].append(narrow.neck)
        return {i: suggest_grain(some, self.stack.pieces[i].grain) for i, some in necks.items()}

    def has_short_grain(self, placed: PlacedPiece, grain: float) -> bool:
        """Whether a neck of a piece would have short grain, were its grain so."""
        return any(narrow.short_grain(grain) is not None for narrow in self.narrow if narrow.placed is placed)


_last_solids: list[Solid] = []
"""Those of the stack that was measured last: most are the same in the next."""
_SNAPS: Kept[SnappingPlace | None] = Kept()
_NECKS: Kept[tuple[Neck, ...]] = Kept()


def _necks(pieces: Sequence[PlacedPiece], shapes: Sequence[BaseGeometry], narrower_than: float) -> list[NarrowPlace]:
    """The necks of one shape of each piece."""
    if narrower_than <= 0:
        return []
    necks = _NECKS.of(
        [(shape, narrower_than) for shape in shapes],
        lambda new: find_all_necks([shapes[i] for i in new], narrower_than),
    )
    return [NarrowPlace(p, neck) for p, some in zip(pieces, necks, strict=True) for neck in some]


def _same_place(of_insert: Neck, of_remnant: Neck) -> bool:
    """Whether a neck of a remnant is but one that the insert had before anything was cut from it."""
    away = np.hypot(*(of_insert.course[:, :2] - of_remnant.at).T)
    nearest = int(np.argmin(away))
    return bool(away[nearest] < 1.0 and of_insert.course[nearest, 2] < 1.05 * of_remnant.width)


def _point(xy: Array) -> Point:
    return (float(xy[0]), float(xy[1]))


def _shapes(shapes: list[BaseGeometry]) -> Shapes:
    return np.array(shapes, dtype=object)
