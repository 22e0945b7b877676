"""Solids as they are cut: whole inserts as sawn, and the panel before and after a batch."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

from ..errors import UnusableInput
from ..solids.crowded import Block
from ..solids.panel_solids import Recipe, Solid, build_meshes, build_solids
from ..solids.ply import write_solids
from ..stack.stack import Stack, build_stack

BEYOND = 1000.0
"""mm: inserts are whole, also where the panel ends."""


def sawn_inserts(stack: Stack) -> list[Solid]:
    """Every insert as it is sawn, in design order: whole, before later pockets cut into it and before any trimming.

    Each lies where it will be glued. One that is fitted as drawn is as large as it is sawn, though it may bind.
    """
    pieces = [placed for placed in stack.pieces if placed.sound]
    blocks = [Block(p.piece.id, p.insert, p.bottom, p.top, (), p, None) for p in pieces]
    left, bottom, right, top = shapely.total_bounds([stack.box, *(p.insert for p in pieces)]).tolist()
    region = shapely.box(left - BEYOND, bottom - BEYOND, right + BEYOND, top + BEYOND)
    recipe = Recipe(region, None, 0.0)
    return [
        Solid(
            name=placed.piece.id,
            kind="insert",
            wood=placed.piece.wood,
            grain=placed.grain,
            piece=placed.index,
            batch=placed.batch,
            vertices=mesh.vertices,
            triangles=mesh.triangles,
            surface=np.asarray(mesh.surface),
            centre_line=placed.centre_line,
            source=block,
            recipe=recipe,
        )
        for placed, block, mesh in zip(pieces, blocks, build_meshes(blocks, region), strict=True)
    ]


def up_to_batch(stack: Stack, number: int) -> Stack:
    """The panel with the pieces of the first batches glued in; 0 is the bare background."""
    kept = [placed for placed in stack.pieces if placed.sound and placed.batch <= number]
    ids = {placed.piece.id for placed in kept}
    pieces = tuple(replace(p.piece, after=tuple(name for name in p.piece.after if name in ids)) for p in kept)
    return build_stack(replace(stack.design, pieces=pieces))


def write_batch(stack: Stack, number: int, folder: Path) -> tuple[Path, Path]:
    """Write the panel before and after a batch (from 1) into FOLDER/before and FOLDER/after.

    Before: the inserts of earlier batches glued in, not trimmed, and no pocket of this batch or a later one. After: the
    inserts of this batch glued in too.

    Returns:
        The paths of both tables of contents.

    Raises:
        UnusableInput: there is no such batch, or the folder cannot be written.
    """
    last = len(stack.batches)
    if not 1 <= number <= last:
        problem = f"there is no batch {number}"
        remedy = f"Name one from 1 to {last}" if last else "The panel has no pieces"
        raise UnusableInput(stack.design.file, "--batch", problem, remedy)
    stacks = {"before": up_to_batch(stack, number - 1), "after": up_to_batch(stack, number)}
    before, after = (
        write_solids(part, build_solids(part, "proud"), "proud", folder / name) for name, part in stacks.items()
    )
    return before, after
