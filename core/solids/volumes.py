"""Volumes of the raw panel below z = 0, inserts pressed home: wood left, pockets, and the voids between.

Wood is measured on the closed solids. The voids are measured for themselves, from plane areas, or where walls lean as
bodies of their own, so that `background + inserts + gap = panel` is a check and no definition. Dust, the hairs of wood
that solids leave out, is measured as it is swept off.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import EMPTY
from ..cutter.taper import section_at
from ..stack.stack import PlacedPiece, Stack, seated
from .closed_mesh import volume
from .crowded import FEW, Block
from .panel_solids import Solid, build_meshes, build_solids, panel_blocks

Array = npt.NDArray[np.float64]
Shapes = npt.NDArray[np.object_]


@dataclass(frozen=True)
class Volumes:
    """mm³ below z = 0 within the raw panel's edges, before any trim. Sequences follow the design's pieces."""

    panel: float
    background: float
    inserts: tuple[float, ...]
    """Wood left of each insert, clipped to its pocket; 0 for a piece that counts as absent."""
    pockets: tuple[float, ...]
    """Each whole pocket, whatever later pockets take of it; 0 for a piece that counts as absent."""
    gap: float
    """All other voids, and dust: clearance, floor gaps, grooves' ends, what inserts thinner than their pocket leave."""

    @property
    def error(self) -> float:
        """How far all of it is from adding up to the panel, as a part of the panel."""
        return math.fsum([self.background, *self.inserts, self.gap, -self.panel]) / self.panel


@dataclass(frozen=True)
class _Layer:
    """A span of depths of one piece's pocket in which no floor lies: the same pockets are there throughout."""

    placed: PlacedPiece
    low: float
    high: float


def measure_volumes(stack: Stack, solids: Sequence[Solid] | None = None) -> Volumes:
    """All volumes of a stack; `solids` saves making them, if the raw ones are there already."""
    panel = stack.design.panel
    solids = build_solids(stack, "raw") if solids is None else solids
    inserts = [0.0] * len(stack.pieces)
    for solid in solids:
        if solid.piece is not None:
            inserts[solid.piece] = solid.volume
    return Volumes(
        panel=panel.width * panel.height * panel.thickness,
        background=math.fsum(solid.volume for solid in solids if solid.kind == "background"),
        inserts=tuple(inserts),
        pockets=_pocket_volumes(stack),
        gap=_gap_volume(stack) + _dust(stack, solids),
    )


def _dust(stack: Stack, solids: Sequence[Solid]) -> float:
    """Hairs left out of solids, and blocks of which nothing but hairs was left, so that they have no solid."""
    named = {solid.name for solid in solids}
    gone = [block for block in panel_blocks(stack) if block.name not in named]
    return math.fsum([solid.dust for solid in solids] + [mesh.dust for mesh in build_meshes(gone, stack.box)])


def _pocket_volumes(stack: Stack) -> tuple[float, ...]:
    pieces = [p for p in stack.pieces if p.sound]
    volumes = np.zeros(len(stack.pieces))
    upright = [p for p in pieces if not p.piece.taper]
    areas = shapely.area(_pockets(stack, upright, [0.0] * len(upright)))
    volumes[[p.index for p in upright]] = areas * [p.depth for p in upright]
    box = stack.box
    for p in pieces:
        if p.piece.taper and box.covers(p.pocket):
            volumes[p.index] = _prismatoid([p.pocket_at(share * p.depth) for share in (0.0, 0.5)], p)
    over = [p for p in pieces if p.piece.taper and not box.covers(p.pocket)]
    volumes[[p.index for p in over]] = _bodies(stack, over, [()] * len(over))
    return tuple(volumes.tolist())


def _prismatoid(upper: Sequence[BaseGeometry], placed: PlacedPiece) -> float:
    """Volume of a whole pocket with leaning walls: h/6 (A0 + 4 Am + A1), the prismatoid rule of solid geometry."""
    face, middle = upper
    floor = section_at(placed.pocket, placed.piece.taper, placed.depth)
    return float(placed.depth / 6 * (face.area + 4 * middle.area + floor.area))


def _gap_volume(stack: Stack) -> float:
    """Between upright walls, areas times depth; else bodies of what inserts and later pockets leave of a pocket.

    Else is where walls lean, and where very many pockets cut one.
    """
    pieces = [p for p in stack.pieces if p.sound]
    later = [tuple(stack.pieces[j] for j in p.cut_by) for p in pieces]
    leans = [
        len(cut) > FEW or any(p.piece.taper for p in (placed, *cut)) for placed, cut in zip(pieces, later, strict=True)
    ]
    layers = [layer for p, cut, lean in zip(pieces, later, leans, strict=True) if not lean for layer in _layers(p, cut)]
    areas = _void_areas(stack, [layer.placed for layer in layers], [(la.low + la.high) / 2 for la in layers])
    upright = areas * [layer.high - layer.low for layer in layers]
    leaning = [(p, cut) for p, cut, lean in zip(pieces, later, leans, strict=True) if lean]
    below = _bodies(stack, [p for p, _ in leaning], [(_as_pocket(p), *cut) for p, cut in leaning])
    low = [(p, cut) for p, cut in leaning if p.top < 0]
    above = [Block(p.piece.id, _as_pocket(p).pocket, max(p.top, p.bottom), 0.0, cut, p, None) for p, cut in low]
    return math.fsum([*upright, *below, *(volume(mesh) for mesh in build_meshes(above, stack.box))])


def _as_pocket(placed: PlacedPiece) -> PlacedPiece:
    """An insert as if it were a pocket cut down to its own underside: all that it takes of its real one."""
    return replace(placed, pocket=seated(placed.insert, placed.pocket, placed.piece), depth=-placed.bottom)


def _bodies(stack: Stack, pieces: Sequence[PlacedPiece], cutters: Sequence[tuple[PlacedPiece, ...]]) -> list[float]:
    """Volumes of whole pockets, as if they were full of wood, less their cutters."""
    blocks = [
        Block(placed.piece.id, placed.pocket, -placed.depth, 0.0, cut, placed, None)
        for placed, cut in zip(pieces, cutters, strict=True)
    ]
    return [volume(mesh) + mesh.dust for mesh in build_meshes(blocks, stack.box)]


def _layers(placed: PlacedPiece, later: Sequence[PlacedPiece]) -> list[_Layer]:
    """The pocket's layers, between the floors of later pockets and the ends of its own insert."""
    events = {0.0, placed.depth, -placed.top, -placed.bottom, *(p.depth for p in later)}
    depths = sorted(depth for depth in events if 0 <= depth <= placed.depth)
    return [_Layer(placed, low, high) for low, high in pairwise(depths)]


def _void_areas(stack: Stack, pieces: Sequence[PlacedPiece], depths: Sequence[float]) -> Array:
    """What is neither wood nor a later piece's concern in each piece's pocket at a depth, mm²."""
    pockets = _pockets(stack, pieces, depths)
    triples = zip(pieces, depths, pockets, strict=True)
    inserts = np.array([_insert(p, depth, pocket) for p, depth, pocket in triples], dtype=object)
    inserts = _within_panel(stack, inserts)
    taken = _later(stack, pieces, depths, pockets)
    in_pocket, in_insert = shapely.area(taken), shapely.area(shapely.intersection(inserts, taken))
    return np.asarray(shapely.area(pockets) - in_pocket - (shapely.area(inserts) - in_insert))


def _pockets(stack: Stack, pieces: Sequence[PlacedPiece], depths: Sequence[float]) -> Shapes:
    pairs = zip(pieces, depths, strict=True)
    return _within_panel(stack, np.array([section_at(p.pocket, p.piece.taper, d) for p, d in pairs], dtype=object))


def _insert(placed: PlacedPiece, depth: float, pocket: BaseGeometry) -> BaseGeometry:
    if not placed.bottom < -depth < placed.top:
        return EMPTY
    return seated(section_at(placed.insert, placed.piece.taper, depth), pocket, placed.piece)


def _later(stack: Stack, pieces: Sequence[PlacedPiece], depths: Sequence[float], pockets: Shapes) -> Shapes:
    """What later pockets that reach its depth take of each pocket."""
    deep = [
        [later for later in map(stack.pieces.__getitem__, placed.cut_by) if later.depth > depth]
        for placed, depth in zip(pieces, depths, strict=True)
    ]
    rows = np.repeat(np.arange(len(pieces)), [len(later) for later in deep])
    taken = np.full((len(pieces), max(map(len, deep), default=0)), None, dtype=object)
    if len(rows):
        cutters = _pockets(stack, [p for later in deep for p in later], [depths[row] for row in rows.tolist()])
        columns = np.concatenate([np.arange(len(later)) for later in deep])
        shared = shapely.intersection(cutters, pockets[rows])
        shared[shapely.get_dimensions(shared) < 2] = EMPTY
        mixed = shapely.get_type_id(shared) == shapely.GeometryType.GEOMETRYCOLLECTION  # an edge is shared beside it
        for k in np.flatnonzero(mixed).tolist():
            parts = shapely.get_parts(shared[k])
            shared[k] = shapely.union_all(parts[shapely.get_dimensions(parts) == 2])
        taken[rows, columns] = shared
    return np.asarray(shapely.union_all(taken, axis=1), dtype=object)


def _within_panel(stack: Stack, shapes: Shapes) -> Shapes:
    """Shapes stopped at the raw panel's edges; those inside stay as they are."""
    box = stack.box
    shapely.prepare(box)
    outside = ~shapely.covers(box, shapely.envelope(shapes)) & ~shapely.is_empty(shapes)
    shapes[outside] = shapely.intersection(shapes[outside], box)
    return shapes
