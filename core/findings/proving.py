"""Changes of a design tried on a copy: what the stack makes of it, and what comes to be wrong by it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from ..design import Design, Piece
from ..errors import UnusableInput
from ..measures.all_measures import Measures
from ..stack.stack import Stack, build_stack
from .all_findings import find_grave
from .finding import Finding


@dataclass(frozen=True, eq=False)
class Tried:
    """A copy of the design with a change."""

    stack: Stack
    worse: tuple[Finding, ...]
    """Errors and warnings that the design as it stands does not have."""


class Proving:
    """Tries changes of one design, so many at most."""

    def __init__(self, m: Measures, most: int) -> None:
        self._stack, self.left = m.stack, most
        self._before = Counter(map(_says, find_grave(m)))

    def tried(self, design: Design) -> Tried | None:
        """The design in place of the one that it is a copy of; None where it cannot be, or enough was tried."""
        if self.left <= 0:
            return None
        self.left -= 1
        try:
            stack = build_stack(design, previous=self._stack)
        except UnusableInput:
            return None
        if {p.piece.id for p in stack.pieces if p.sound} != {p.piece.id for p in self._stack.pieces if p.sound}:
            return None
        more = Counter(self._before)
        worse = []
        for finding in find_grave(Measures(stack)):
            more[_says(finding)] -= 1
            if more[_says(finding)] < 0:
                worse.append(finding)
        return Tried(stack, tuple(worse))


def _says(finding: Finding) -> tuple[str, str, frozenset[str | None]]:
    """What counts of a finding; which piece of a pair is the later one may have changed."""
    return finding.level, finding.code, frozenset((finding.piece, finding.other))


def with_pieces(design: Design, changed: Iterable[Piece]) -> Design:
    """The design with some of its pieces in another state, each at its place in the order."""
    by_id = {piece.id: piece for piece in changed}
    return replace(design, pieces=tuple(by_id.get(piece.id, piece) for piece in design.pieces))


def in_order(design: Design, order: Sequence[int]) -> Design:
    """The design with its pieces in another order, given by their places now."""
    return replace(design, pieces=tuple(design.pieces[i] for i in order))
