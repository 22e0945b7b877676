"""The longest chains of pieces that wait for each other: they force as many batches as each has pieces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .batches import longest_chains


@dataclass(frozen=True)
class LongChains:
    """All longest chains of one order of work, told by what they have in common."""

    days: int
    examples: tuple[tuple[int, ...], ...]
    """Some that share no piece with each other, each with the piece that is glued first in front."""
    pieces: tuple[int, ...]
    """In every one of the longest chains, the first glued first: to save a day one of these, or a pair, must change."""
    pairs: tuple[tuple[int, int], ...]
    """Neighbours in every one of them: (waited for, waits)."""


def long_chains(waits: Mapping[int, set[int]]) -> LongChains:
    """The longest chains, from what each piece waits for.

    A piece is in all of them where as many run through it as there are; they are counted as whole numbers.

    Raises:
        graphlib.CycleError: they wait for each other in a ring.
    """
    ends = longest_chains(waits)
    days = max(ends.values(), default=0)
    order = sorted(waits, key=lambda piece: ends[piece])
    before = {piece: [i for i in waits[piece] if ends[i] == ends[piece] - 1] for piece in waits}
    into: dict[int, int] = {}
    for piece in order:
        into[piece] = 1 if ends[piece] == 1 else sum(into[i] for i in before[piece])
    onward = {piece: int(ends[piece] == days) for piece in waits}
    for piece in reversed(order):
        for i in before[piece]:
            onward[i] += onward[piece]
    whole = sum(into[piece] for piece in waits if ends[piece] == days)
    pieces = tuple(piece for piece in order if whole and into[piece] * onward[piece] == whole)
    pairs = tuple((i, piece) for piece in order for i in sorted(before[piece]) if into[i] * onward[piece] == whole)
    return LongChains(days, tuple(_apart(before, ends, days)), pieces, pairs if whole else ())


def _apart(before: Mapping[int, list[int]], ends: Mapping[int, int], days: int) -> list[tuple[int, ...]]:
    """Chains that share no piece, found one after the other."""
    used: set[int] = set()
    found: list[tuple[int, ...]] = []
    for last in sorted(piece for piece in ends if ends[piece] == days):
        chain = _down(last, before, used)
        if chain is not None:
            found.append(tuple(reversed(chain)))
            used.update(chain)
    return found


def _down(last: int, before: Mapping[int, list[int]], used: set[int]) -> list[int] | None:
    """A chain that ends in a piece and has none that is used; None where there is none."""
    dead: set[int] = set()
    chain = [last]
    while chain:
        piece = chain[-1]
        if piece in used or piece in dead:
            dead.add(chain.pop())
            continue
        if not before[piece]:
            return chain
        onward = [i for i in before[piece] if i not in used and i not in dead]
        if onward:
            chain.append(onward[0])
        else:
            dead.add(chain.pop())
    return None
