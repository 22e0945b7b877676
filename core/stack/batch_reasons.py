"""Why there are so many batches: what each piece waits for, and what another order would do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from heapq import heappop, heappush

from .batches import longest_chains
from .stack import Stack


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
    reasons, waits = [], waits_of(stack)
    for placed in stack.pieces:
        if placed.batch > 1:
            before = [i for i in placed.over if stack.pieces[i].batch == placed.batch - 1]
            wished = [i for i in waits[placed.index] if stack.pieces[i].batch == placed.batch - 1]
            reasons.append(BatchReason(placed.index, (before or sorted(wished))[0], bool(before)))
    return reasons


class WorkOrder:
    """Who waits for whom, kept to be asked again and again what another wish would do."""

    def __init__(self, stack: Stack) -> None:
        self._waits = waits_of(stack)
        self._batch = {placed.index: placed.batch for placed in stack.pieces if placed.sound}
        self._followers: dict[int, list[int]] = {piece: [] for piece in self._waits}
        for piece, before in self._waits.items():
            for first in before:
                self._followers[first].append(piece)

    def moved_if(self, piece: int, after: int) -> dict[int, int]:
        """The new batches of all pieces that move where one also comes after another of its own batch.

        Pieces of one batch never wait for each other, so this makes no ring.
        """
        moved: dict[int, int] = {}
        todo = [(self._batch[piece], piece, -self._batch[after] - 1)]
        while todo:  # in the old order, so that each is looked at when all before it are settled
            _, each, batch = heappop(todo)
            if -batch > moved.get(each, self._batch[each]):
                moved[each] = -batch
                for follower in self._followers[each]:
                    heappush(todo, (self._batch[follower], follower, batch - 1))
        return moved

    def days_if(self, pairs: Iterable[tuple[int, int]]) -> int:
        """How many batches there are where of each pair the second one also waits for the first.

        Raises:
            graphlib.CycleError: they wait for each other in a ring.
        """
        waits = {piece: set(before) for piece, before in self._waits.items()}
        for first, then in pairs:
            waits[then].add(first)
        return max(longest_chains(waits).values(), default=0)


def waits_of(stack: Stack) -> dict[int, set[int]]:
    """For each sound piece those that must be glued in before it is cut."""
    index = {placed.piece.id: placed.index for placed in stack.pieces if placed.sound}
    return {
        placed.index: {*placed.over, *(index[name] for name in placed.piece.after if name in index)}
        for placed in stack.pieces
        if placed.sound
    }
