"""Why there are so many batches: what each piece waits for, and what another order would do."""

from __future__ import annotations

from dataclasses import dataclass

from .stack import Stack, longest_chains


@dataclass(frozen=True)
class BatchReason:
    """What keeps a piece out of the batch before its own. Pieces are indices into the stack."""

    piece: int
    waits_for: int
    """A piece of the batch just before."""
    overlap: bool
    """It cuts into that piece; else the maker's `after` says so."""


def batch_reasons(stack: Stack) -> list[BatchReason]:
    """One reason for each piece beyond the first batch, an overlap if there is one, by design order."""
    reasons, waits = [], _waits(stack)
    for placed in stack.pieces:
        if placed.batch > 1:
            before = [i for i in placed.over if stack.pieces[i].batch == placed.batch - 1]
            wished = [i for i in waits[placed.index] if stack.pieces[i].batch == placed.batch - 1]
            reasons.append(BatchReason(placed.index, (before or sorted(wished))[0], bool(before)))
    return reasons


def batches_if(stack: Stack, piece: int, after: int) -> dict[int, int]:
    """The batch of each sound piece if one of them also came after another.

    Raises:
        graphlib.CycleError: that one waits for it already.
    """
    waits = _waits(stack)
    waits[piece].add(after)
    return longest_chains(waits)


def _waits(stack: Stack) -> dict[int, set[int]]:
    """For each sound piece those that must be glued in before it is cut."""
    index = {placed.piece.id: placed.index for placed in stack.pieces if placed.sound}
    return {
        placed.index: {*placed.over, *(index[name] for name in placed.piece.after if name in index)}
        for placed in stack.pieces
        if placed.sound
    }
