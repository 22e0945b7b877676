"""A block that very many pockets cut, as one that few cut: of the same wood, and made in a time that stays small."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..kept import Kept
from ..stack.stack import BackgroundPiece, PlacedPiece

FEW = 16
"""Up to so many pockets are arranged one by one. In a panel of a hundred pieces no strip or insert is cut by more."""


@dataclass(frozen=True)
class Block:
    """What one solid is made from: a footprint, its bottom and top, and the pockets cut into it later.

    Blocks compare by their geometry objects, not by their shapes, so comparing is cheap and never wrong.
    """

    name: str
    footprint: BaseGeometry
    bottom: float
    top: float
    cutters: tuple[PlacedPiece, ...]
    piece: PlacedPiece | None
    background: BackgroundPiece | None

    @property
    def leans(self) -> bool:
        """Whether any of its walls leans, its own or one that a later pocket cuts into it."""
        own = self.piece is not None and self.piece.piece.taper != 0
        return own or any(c.piece.taper and -c.depth < self.top for c in self.cutters)

    @cached_property
    def key(self) -> tuple[object, ...]:
        """Equal keys give equal solids."""
        own = (id(self.piece.insert), self.piece.piece.taper) if self.piece else (id(self.background), 0.0)
        cutters = frozenset((id(c.pocket), c.depth, c.piece.taper) for c in self.cutters)
        return (self.name, own, self.bottom, self.top, cutters)


def uncrowded(block: Block) -> Block:
    """The block itself where few pockets cut it; else one of the same wood.

    Pockets of one depth with upright walls are united. Where they take all of the footprint, the block ends at their
    floor; of the others those that lie within a deeper one are left out.
    """
    if len(block.cutters) <= FEW:
        return block
    upright = sorted((c for c in block.cutters if not c.piece.taper), key=lambda c: c.depth)
    united = [_united(list(same)) for _, same in groupby(upright, key=lambda c: c.depth)]
    top = min([block.top, *(-c.depth for c in _covering(block.footprint, united))])
    if top <= block.bottom:
        return replace(block, top=block.bottom, cutters=())
    kept = _outermost([c for c in united if -c.depth < top])
    leaning = [c for c in block.cutters if c.piece.taper and -c.depth < top]
    return replace(block, top=top, cutters=(*kept, *leaning))


def _covering(footprint: BaseGeometry, cutters: Sequence[PlacedPiece]) -> list[PlacedPiece]:
    """The cutters whose pockets take all of a footprint."""
    pockets = np.array([c.pocket for c in cutters], dtype=object)
    shapely.prepare(pockets)
    covers = shapely.covers(shapely.envelope(pockets), footprint)
    covers[covers] = shapely.covers(pockets[covers], footprint)
    return [c for c, whole in zip(cutters, covers, strict=True) if whole]


def _outermost(cutters: Sequence[PlacedPiece]) -> list[PlacedPiece]:
    """The cutters, deepest last, without those that lie within a deeper one."""
    pockets = np.array([c.pocket for c in cutters], dtype=object)
    shapely.prepare(pockets)
    kept: list[int] = []
    for number in range(len(cutters) - 1, -1, -1):
        deeper = pockets[kept]
        if not shapely.covers(deeper[shapely.covers(shapely.envelope(deeper), pockets[number])], pockets[number]).any():
            kept.append(number)
    return [cutters[number] for number in reversed(kept)]


def _united(cutters: Sequence[PlacedPiece]) -> PlacedPiece:
    """Pockets of one depth as one. Quick where those without the first were united before."""
    pockets = [c.pocket for c in cutters]
    return replace(cutters[0], pocket=_UNITED.of([pockets], lambda new: [_union(pockets)])[0])


def _union(pockets: list[Polygon]) -> BaseGeometry:
    rest = _UNITED.known(pockets[1:])
    return shapely.union_all(pockets) if rest is None else shapely.union(pockets[0], rest)


_UNITED: Kept[BaseGeometry] = Kept(4096)
"""The pieces of a crowd are cut by the same later pockets but for one or two."""
