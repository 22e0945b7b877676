"""Proof that the solids of a panel are sound before anyone sees or saws them.

Every solid is closed: each directed edge of its triangles has exactly one opposite. And wood and voids, which are
measured apart from each other, add up to the panel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely

from ..errors import UnusableInput
from ..kept import Kept
from ..stack.stack import Stack
from .closed_mesh import ClosedMesh
from .crowded import Block
from .panel_solids import Solid, panel_blocks
from .volumes import Volumes

ALLOWED = 1e-9
"""How far volumes may be from adding up, as a part of the panel's: rounding to the grid and of sums stays below it."""


@dataclass(frozen=True)
class Fault:
    """A solid that could not be proved sound; without one, something that no single solid explains."""

    block: Block | None
    why: str


def is_closed(mesh: ClosedMesh) -> bool:
    """Whether every directed edge of a mesh's triangles has exactly one opposite.

    Edges are sorted to see that none comes twice. That each has an opposite is seen by sums of 64 scrambled bits: those
    of all edges and those of all edges turned round are the same, which by chance they are once in 2^64 times.
    """
    start = mesh.triangles.astype(np.uint64)
    end = start[:, [1, 2, 0]]
    edges = (start << np.uint64(32) | end).reshape(-1)
    turned = (end << np.uint64(32) | start).reshape(-1)
    if (edges == turned).any() or _scrambled(edges).sum() != _scrambled(turned).sum():
        return False
    edges.sort()
    return bool((edges[1:] != edges[:-1]).all())


def _scrambled(keys: npt.NDArray[np.uint64]) -> npt.NDArray[np.uint64]:
    """Keys with all bits mixed (the finaliser of MurmurHash3; A. Appleby, public domain)."""
    mixed = keys ^ (keys >> np.uint64(33))
    mixed *= np.uint64(0xFF51AFD7ED558CCD)
    mixed ^= mixed >> np.uint64(33)
    mixed *= np.uint64(0xC4CEB9FE1A85EC53)
    mixed ^= mixed >> np.uint64(33)
    return mixed


def open_solids(solids: Sequence[Solid]) -> list[Solid]:
    """The solids that are not closed. A solid seen before is not looked at again."""
    closed = _CLOSED.of([(s.triangles,) for s in solids], lambda new: [is_closed(solids[i].mesh) for i in new])
    return [solid for solid, sound in zip(solids, closed, strict=True) if not sound]


_CLOSED: Kept[bool] = Kept(16384)


def refuse_if_open(stack: Stack, solids: Sequence[Solid]) -> None:
    """For solids that are handed over, in whatever state.

    Raises:
        UnusableInput: one of them is not closed.
    """
    for solid in open_solids(solids)[:1]:
        remedy = "This is a fault of Grainstack: please report it with the design"
        raise UnusableInput(stack.design.file, solid.name, "the surface of its solid is not closed", remedy)


def faults(stack: Stack, solids: Sequence[Solid], volumes: Volumes) -> list[Fault]:
    """What keeps the raw solids of a stack from being sound; nothing, where all is proved.

    Args:
        stack: the stack.
        solids: its raw solids.
        volumes: as measured on them.
    """
    found = [Fault(solid.source, "its surface is not closed") for solid in open_solids(solids)]
    if abs(volumes.error) <= ALLOWED and np.isfinite(volumes.error):
        return found
    wrong = [block for block in _of_wrong_volume(stack, solids) if all(block is not fault.block for fault in found)]
    found += [Fault(block, "its volume is not that of its shape") for block in wrong]
    return found or [Fault(None, f"volumes differ from the panel's by {abs(volumes.error):.1e} of it")]


def _of_wrong_volume(stack: Stack, solids: Sequence[Solid]) -> list[Block]:
    """Blocks with upright walls whose solid has not the volume that areas at each depth give."""
    allowed = ALLOWED * stack.design.panel.thickness * stack.box.area
    wood = {solid.name: solid.volume + solid.dust for solid in solids}
    blocks = [block for block in panel_blocks(stack) if not block.leans]
    return [block for block in blocks if not abs(wood.get(block.name, 0.0) - _volume(stack, block)) <= allowed]


def _volume(stack: Stack, block: Block) -> float:
    """Volume of a block with upright walls: at each depth what its later pockets leave of its footprint."""
    levels = sorted({block.bottom, block.top, *(-c.depth for c in block.cutters)})
    inside = [z for z in levels if block.bottom <= z <= block.top]
    footprint = shapely.intersection(block.footprint, stack.box)
    total = 0.0
    for low, high in pairwise(inside):
        deep: npt.NDArray[np.object_] = np.array([c.pocket for c in block.cutters if -c.depth < high], dtype=object)
        total += (high - low) * shapely.difference(footprint, shapely.union_all(deep)).area
    return total
