"""Remedies of one step, tried on a copy of the design before they are offered.

A step is good where its finding is gone, nothing graver than a note has come, and no strip of background shows where
pieces met. Only what the step can touch is looked at: the pieces near the one that changes, and near those that then
come into another batch. `proving` judges changes of a whole design.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely

from ..design import Design, Piece, Point
from ..errors import UnusableInput
from ..kept import Kept
from ..measures.all_measures import Measures
from ..stack.pocket_pairs import FLUSH
from ..stack.stack import PlacedPiece, Stack, build_stack
from ..witness import anywhere_wider
from .finding import Finding, Step
from .strength import BITE, LEAST_BITE, days_words

Array = npt.NDArray[np.float64]
Find = Callable[[Measures], Iterable[Finding]]
"""All errors and warnings of a stack."""

BITES = (LEAST_BITE, BITE, 1.0)
"""How deep bites are tried, mm: 0.5 to 1 is good (common practice), and just 0.5 would be told."""
MOST_GROWTH = 0.1
"""A piece is made larger by this share at most, or it is another piece."""
MOST_EDGES = 6
"""A region that shares more edges than this is not cured by one step of one piece."""
MOST_TRIALS = 24
"""Steps tried for one design."""
MOST_PLACED = 6000
"""Pieces placed in all these trials together, so that a large design is not looked at for long."""
AROUND = 5.0
"""mm beyond the least wall in which a step is felt."""


@dataclass(frozen=True)
class _Bite:
    """A step that was tried and is good."""

    step: Step
    depth: float
    changed: Piece


@dataclass(frozen=True)
class Compared:
    """Errors and warnings round a piece, as it is and as it would be, and what else the change does."""

    before: tuple[Finding, ...]
    after: tuple[Finding, ...]
    opens: bool
    """It leaves a strip of background beside another piece that it met."""


def _kind(finding: Finding) -> tuple[str, str, str | None, str | None]:
    return finding.level, finding.code, finding.piece, finding.other


def with_bites(m: Measures, findings: Sequence[Finding], find: Find) -> list[Finding]:
    """The findings, where a shared edge has its step if one of those that are tried is good."""
    shared = [f for f in findings if f.code == "meeting-edges" and f.level == "note"]
    edges = Counter(finding.cause for finding in shared)
    trials = Trials(m, find)
    told = {}
    for finding in shared:
        if finding.cause is None or edges[finding.cause] <= MOST_EDGES:
            good = trials.first_good(finding)
            days = None if good is None else trials.days_if(good.changed)
            if good is not None and days is not None:
                told[id(finding)] = _offering(finding, good, days_words(*days))
    return [told.get(id(finding), finding) for finding in findings]


def _offering(finding: Finding, bite: _Bite, days: str) -> Finding:
    remedy = f"Let it bite {bite.depth:.2f} mm into {finding.other}, the smallest bite tried that works: {days}"
    return replace(finding, remedy=remedy, step=bite.step, tried=True)


class Trials:
    """Steps tried on copies of one design."""

    def __init__(self, m: Measures, find: Find) -> None:
        self._m, self._find = m, find
        self._index = {placed.piece.id: placed.index for placed in m.stack.pieces}
        self._boxes = shapely.box(*shapely.bounds([p.pocket for p in m.stack.pieces]).T)
        self._left = min(MOST_TRIALS, MOST_PLACED // max(1, len(m.stack.pieces)))

    def first_good(self, finding: Finding) -> _Bite | None:
        """The first good step of those that let the later piece of a pair bite into the earlier."""
        assert finding.piece is not None
        assert finding.other is not None
        later, earlier = (self._m.stack.pieces[self._index[name]] for name in (finding.piece, finding.other))
        around = self.around([later.index])
        subject = [later, earlier, *around, *finding.at, repr(self._m.workshop), repr(self._m.panel)]
        (good,) = _GOOD.of([subject], lambda _: [self._try(later, earlier, finding.at)])
        return good

    def _try(self, later: PlacedPiece, earlier: PlacedPiece, at: Point) -> _Bite | None:
        for depth, changed in _bites(later, at):
            if self._left == 0:
                return None
            self._left -= 1
            if self._is_good(changed, {later.piece.id, earlier.piece.id}):
                return _Bite(_step(later.piece, changed), depth, changed)
        return None

    def days_if(self, changed: Piece) -> tuple[int, int] | None:
        """Glue days of the whole design, as it is and with a piece changed; None where it cannot be so.

        What is kept of a trial does not tell, since it looked at what lies about alone.
        """
        try:
            after = build_stack(self._with(changed), previous=self._m.stack)
        except UnusableInput:
            return None
        return len(self._m.stack.batches), len(after.batches)

    def _with(self, changed: Piece) -> Design:
        design = self._m.design
        pieces = tuple(changed if piece.id == changed.id else piece for piece in design.pieces)
        return replace(design, pieces=pieces)

    def _is_good(self, changed: Piece, pair: Collection[str]) -> bool:
        """Whether with a piece changed the pair no longer meets, and nothing grave comes."""
        seen = self.compared(changed)
        if seen is None or seen.opens:
            return False
        was, now = (Counter(map(_kind, some)) for some in (seen.before, seen.after))
        cured = not any(code == "meeting-edges" and {one, other} == set(pair) for _, code, one, other in now)
        return cured and not now - was

    def compared(self, changed: Piece, code: str | None = None) -> Compared | None:
        """What is wrong about a piece and with all that feels its change, before and after; None where it cannot be.

        Notes are left out but those of one code, where it is given.
        """
        before = self._m.stack
        try:
            after = build_stack(self._with(changed), previous=before)
        except UnusableInput:
            return None
        moved = [p.index for p in after.pieces if p.batch != before.pieces[p.index].batch or p.piece.id == changed.id]
        if not all(after.pieces[i].sound for i in moved):
            return None
        near = sorted({*self.around(moved), *Trials(Measures(after), self._find).around(moved)})
        names = {after.pieces[i].piece.id for i in near}
        was, now = (tuple(self._grave(_restricted(stack, near), names, code)) for stack in (before, after))
        index = self._index[changed.id]
        return Compared(was, now, _opens(before, index, after.pieces[index]))

    def _grave(self, stack: Stack, names: Collection[str], code: str | None) -> Iterator[Finding]:
        """What is wrong with some pieces, notes left out but those of shared edges, as far as it counts."""
        for found in self._find(Measures(stack)):
            if (found.level != "note" or found.code == code) and (found.piece in names or found.other in names):
                yield found

    def around(self, indices: Sequence[int]) -> list[int]:
        """Pieces that lie about some, and those that these overlap or are overlapped by."""
        reach = self._m.workshop.min_wall + AROUND
        boxes = shapely.buffer(self._boxes[list(indices)], reach, join_style="mitre")
        near = np.unique(shapely.STRtree(self._boxes).query(boxes)[1]).tolist()
        pieces = self._m.stack.pieces
        return sorted({j for i in near for j in (i, *pieces[i].over, *pieces[i].cut_by)})


_GOOD: Kept[_Bite | None] = Kept()


def _restricted(stack: Stack, kept: Sequence[int]) -> Stack:
    """The stack of some of its pieces alone, in the batches that they have among all; they wait for no others."""
    place = {i: n for n, i in enumerate(kept)}
    names = {stack.pieces[i].piece.id for i in kept}

    def among(indices: Iterable[int]) -> tuple[int, ...]:
        return tuple(place[i] for i in indices if i in place)

    def alone(piece: Piece) -> Piece:
        after = tuple(name for name in piece.after if name in names)
        return piece if after == piece.after else replace(piece, after=after)

    pieces = tuple(
        replace(p, index=n, over=among(p.over), under=among(p.under), cut_by=among(p.cut_by), piece=alone(p.piece))
        for n, p in enumerate(stack.pieces[i] for i in kept)
    )
    batches = tuple(among(batch) for batch in stack.batches)
    return Stack(replace(stack.design, pieces=tuple(p.piece for p in pieces)), pieces, batches, stack.background)


def _opens(before: Stack, index: int, changed: PlacedPiece) -> bool:
    """Whether a piece that changes leaves a strip of background beside another that it met edge to edge."""
    old = before.pieces[index].pocket
    lapped = {index, *before.pieces[index].over, *before.pieces[index].under}
    pockets = np.array([p.pocket for p in before.pieces if p.index not in lapped and p.sound], dtype=object)
    met = pockets[shapely.dwithin(pockets, old, FLUSH)]
    left = shapely.get_parts(shapely.difference(old, shapely.union_all([changed.pocket, *met])))
    left = left[anywhere_wider(left, FLUSH)]
    return bool(len(left) and shapely.dwithin(shapely.union_all(met), left, FLUSH).any())


# --- Bites ----------------------------------------------------------------------------------------------------------


def _bites(later: PlacedPiece, at: Point) -> Iterator[tuple[float, Piece]]:
    """The later piece moved straight over the edge that it shares, or made larger: it bites, the least first."""
    piece = later.piece
    way = outward(later, at)
    from_origin = float(np.dot(np.subtract(at, piece.at), way))
    for depth in BITES:
        x, y = (round(value, 3) for value in np.add(piece.at, depth * way).tolist())
        yield depth, replace(piece, at=(x, y))
        if from_origin * MOST_GROWTH >= depth:
            scale = math.ceil(1e4 * piece.scale * (1 + depth / from_origin)) / 1e4
            yield depth, replace(piece, scale=scale)


def _step(before: Piece, after: Piece) -> Step:
    return Step(after.id, "at", after.at) if after.at != before.at else Step(after.id, "scale", after.scale)


def outward(placed: PlacedPiece, at: Point) -> Array:
    """Square to the pocket's edge at a point of it, away from the pocket."""
    rings = shapely.get_parts(shapely.boundary(placed.pocket))
    ring = rings[np.argmin(shapely.distance(rings, shapely.points(at)))]
    along = shapely.line_locate_point(ring, shapely.points(at))
    ends = shapely.get_coordinates(shapely.line_interpolate_point(ring, [max(along - 0.05, 0.0), along + 0.05]))
    way = ends[1] - ends[0]
    square: Array = np.array([way[1], -way[0]]) / np.hypot(*way)
    inside = shapely.contains_xy(placed.pocket, *(np.array(at) + 0.1 * square))
    return -square if inside else square
