"""Volumes of the raw panel below z = 0, inserts pressed home: wood left, pockets, and the voids between.

Wood is measured on the closed solids. The voids are measured from plane sections, which share nothing with the
solids' meshes, so that `background + inserts + gap = panel` is a check and no definition.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from .areas import EMPTY
from .solids import Solid, build_solids
from .stack import PlacedPiece, Stack, seated
from .taper import section_at

Array = npt.NDArray[np.float64]
Shapes = npt.NDArray[np.object_]

TOLERANCE = 1e-6
"""Integrals over a layer of leaning walls are within about this, mm³."""
MOST_HALVINGS = 30
_GAUSS = 0.5 / math.sqrt(3.0)


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
    """All other voids: clearance, floor gaps, the ends of grooves, what inserts thinner than their pocket leave."""


@dataclass(frozen=True)
class _Layer:
    """A span of depths of one piece's pocket in which no floor lies: the same pockets are there throughout."""

    placed: PlacedPiece
    low: float
    high: float
    leaning: bool

    @property
    def middle(self) -> float:
        return (self.low + self.high) / 2


Sections = Callable[[Sequence[PlacedPiece], Sequence[float]], Array]
"""Areas, one for each piece at the depth beside it."""


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
        gap=_gap_volume(stack),
    )


def _pocket_volumes(stack: Stack) -> tuple[float, ...]:
    def areas(pieces: Sequence[PlacedPiece], depths: Sequence[float]) -> Array:
        return np.asarray(shapely.area(_pockets(stack, pieces, depths)))

    layers = [_Layer(p, 0.0, p.depth, p.piece.taper != 0) for p in stack.pieces if p.sound]
    volumes = [0.0] * len(stack.pieces)
    for layer, volume in zip(layers, _integrals(areas, layers), strict=True):
        volumes[layer.placed.index] = float(volume)
    return tuple(volumes)


def _gap_volume(stack: Stack) -> float:
    def areas(pieces: Sequence[PlacedPiece], depths: Sequence[float]) -> Array:
        return _void_areas(stack, pieces, depths)

    return math.fsum(_integrals(areas, _layers(stack)))


def _layers(stack: Stack) -> list[_Layer]:
    """Each pocket's layers, between the floors of later pockets and the ends of its own insert."""
    layers = []
    for placed in stack.pieces:
        if not placed.sound:
            continue
        later = [stack.pieces[j] for j in placed.under]
        leaning = placed.piece.taper != 0 or any(p.piece.taper != 0 for p in later)
        events = {0.0, placed.depth, -placed.top, -placed.bottom, *(p.depth for p in later)}
        depths = sorted(depth for depth in events if 0 <= depth <= placed.depth)
        layers += [_Layer(placed, low, high, leaning) for low, high in pairwise(depths)]
    return layers


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
    """Of each pocket, what the later pockets that reach its depth take."""
    deep = [
        [later for later in map(stack.pieces.__getitem__, placed.under) if later.depth > depth]
        for placed, depth in zip(pieces, depths, strict=True)
    ]
    rows = np.repeat(np.arange(len(pieces)), [len(later) for later in deep])
    taken = np.full((len(pieces), max(map(len, deep), default=0)), None, dtype=object)
    if len(rows):
        cutters = _pockets(stack, [p for later in deep for p in later], [depths[row] for row in rows.tolist()])
        columns = np.concatenate([np.arange(len(later)) for later in deep])
        taken[rows, columns] = shapely.intersection(cutters, pockets[rows])
    return np.asarray(shapely.union_all(taken, axis=1), dtype=object)


def _within_panel(stack: Stack, shapes: Shapes) -> Shapes:
    """Shapes stopped at the raw panel's edges; those inside stay as they are."""
    box = stack.box
    shapely.prepare(box)
    outside = ~shapely.covers(box, shapely.envelope(shapes)) & ~shapely.is_empty(shapes)
    shapes[outside] = shapely.intersection(shapes[outside], box)
    return shapes


def _integrals(areas: Sections, layers: Sequence[_Layer]) -> Array:
    """The volume of each layer from areas at depths within it.

    Between straight walls one section says all. Between leaning walls an area is quadratic in depth as long as no
    corner crosses a wall, and two sections at Gauss's depths are exact (to the third degree, as Simpson's three
    are); a layer whose halves say otherwise is halved until they agree.
    """
    volumes = np.zeros(len(layers))
    straight = [i for i, layer in enumerate(layers) if not layer.leaning]
    if straight:
        some = [layers[i] for i in straight]
        thickness = np.array([layer.high - layer.low for layer in some])
        volumes[straight] = thickness * areas([layer.placed for layer in some], [layer.middle for layer in some])
    owner = [i for i, layer in enumerate(layers) if layer.leaning]
    open_ = [layers[i] for i in owner]
    coarse = _two_sections(areas, open_)
    for _ in range(MOST_HALVINGS):
        if not open_:
            break
        halves = [half for layer in open_ for half in _halves(layer)]
        fine = _two_sections(areas, halves)
        settled = np.abs(fine.reshape(-1, 2).sum(axis=1) - coarse) < TOLERANCE
        np.add.at(volumes, np.array(owner)[settled], fine.reshape(-1, 2).sum(axis=1)[settled])
        keep = np.repeat(~settled, 2)
        owner = [i for i, kept in zip(np.repeat(owner, 2).tolist(), keep, strict=True) if kept]
        open_ = [half for half, kept in zip(halves, keep, strict=True) if kept]
        coarse = fine[keep]
    np.add.at(volumes, np.array(owner, dtype=int), coarse)
    return volumes


def _two_sections(areas: Sections, layers: Sequence[_Layer]) -> Array:
    if not layers:
        return np.zeros(0)
    pieces = [layer.placed for layer in layers for _ in range(2)]
    depths = [layer.middle + sign * _GAUSS * (layer.high - layer.low) for layer in layers for sign in (-1, 1)]
    pairs = areas(pieces, depths).reshape(-1, 2)
    return np.asarray(np.array([layer.high - layer.low for layer in layers]) * pairs.mean(axis=1))


def _halves(layer: _Layer) -> tuple[_Layer, _Layer]:
    middle = layer.middle
    return (
        _Layer(layer.placed, layer.low, middle, layer.leaning),
        _Layer(layer.placed, middle, layer.high, layer.leaning),
    )
