"""Batches: which pieces are cut and glued in on one day, since none of them waits for another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from graphlib import CycleError, TopologicalSorter

from ..errors import UnusableInput


def batch_numbers(names: Sequence[str], before: Mapping[int, set[int]], file: str) -> list[int]:
    """Each piece's batch, from 1: how many pieces the longest chain of waits has that ends in it; 0 if it is absent.

    Args:
        names: the ids of all pieces.
        before: for each piece that is there, by index, what it overlaps or has in its `after` key.
        file: the design's, for the message.

    Raises:
        UnusableInput: pieces wait for each other in a ring.
    """
    try:
        batch = longest_chains(before)
    except CycleError as error:
        ring = " > ".join(names[i] for i in reversed(error.args[1]))
        raise UnusableInput(
            file,
            "pieces",
            f"These pieces wait for each other in a ring, by overlap or by their after key: {ring}",
            "Take one id out of an after list, or change the order of the pieces",
        ) from None
    return [batch.get(i, 0) for i in range(len(names))]


def longest_chains(before: Mapping[int, set[int]]) -> dict[int, int]:
    """For each piece, how many pieces the longest chain has that ends in it; `before` says what each waits for.

    Raises:
        graphlib.CycleError: they wait for each other in a ring.
    """
    chain: dict[int, int] = {}
    for i in TopologicalSorter(before).static_order():
        chain[i] = 1 + max((chain[j] for j in before[i]), default=0)
    return chain
