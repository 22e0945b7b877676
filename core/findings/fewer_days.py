"""The single change that saves a glue day, tried on a copy of the design before it is told.

A day is saved only where every longest chain of pieces is cut: at a piece, or between two neighbours, that all of them
have in common. Depths play no part in it: two pockets that overlap do so at the face, however deep they are.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from graphlib import CycleError
from typing import Literal

import numpy as np
import shapely
from shapely import affinity, ops

from ..design import Design, LineOutline, Point
from ..measures.all_measures import Measures
from ..stack.batch_reasons import waits_of
from ..stack.batches import longest_chains
from ..stack.long_chains import LongChains, long_chains
from ..stack.placing import place_points
from ..stack.stack import PlacedPiece, Stack
from .finding import xy
from .proving import Proving, in_order, with_pieces

MOST_TRIED = 12
MOST_OFFERED = 3
FARTHEST = 6.0
"""A piece is moved by no more than this, mm, to come clear of another."""
STEP = 0.5
"""Ends are cut back, and pieces moved, in steps of this, mm."""

Kind = Literal["after", "end", "place", "order"]


@dataclass(frozen=True, eq=False)
class DaySaved:
    """One change that was tried, with which there are fewer glue days and nothing is wrong that was not before."""

    kind: Kind
    """A wish taken back; a line's end cut back; a piece moved; another place in the order."""
    piece: str
    value: tuple[str, ...] | tuple[Point, ...] | Point | int
    """What the design then says: the whole of `after`, of `line` or of `at`; or the place in the list, from 0."""
    text: str
    days: int
    design: Design


@dataclass(frozen=True, eq=False)
class FewerDays:
    """What forces the glue days, and what would save one."""

    chains: LongChains
    offers: tuple[DaySaved, ...]
    why_none: str
    """Why there is no offer; empty where there is one."""


def fewer_days(m: Measures) -> FewerDays:
    """Look for single changes that save a glue day, those first that change the picture least."""
    stack = m.stack
    chains = long_chains(waits_of(stack))
    if chains.days < 2:
        return FewerDays(chains, (), "one glue day is the least")
    if not chains.pieces:
        count = len(chains.examples)
        apart = f"{count} chains that share no piece" if count > 1 else "chains that have no piece in common"
        return FewerDays(chains, (), f"{apart} force the {chains.days} days, so no single change saves one")
    proving = Proving(m, MOST_TRIED)
    offers: list[DaySaved] = []
    for change in _changes(m, chains):
        if len(offers) == MOST_OFFERED or not proving.left:
            break
        tried = proving.tried(change.design)
        if tried is not None and not tried.worse and len(tried.stack.batches) < chains.days:
            offers.append(replace(change, days=len(tried.stack.batches)))
    why = "" if offers else "each change that was tried either saves no day or brings a new warning"
    return FewerDays(chains, tuple(offers), why)


def _changes(m: Measures, chains: LongChains) -> Iterator[DaySaved]:
    stack = m.stack
    for first, then in chains.pairs:
        yield from _wish_taken_back(stack, first, then)
    for first, then in chains.pairs:
        if first in stack.pieces[then].over:
            yield from _ends_cut_back(m, first, then)
            yield from _moved_apart(m, first, then)
    yield from _reordered(stack, chains)


def _wish_taken_back(stack: Stack, first: int, then: int) -> Iterator[DaySaved]:
    one, two = stack.pieces[first].piece, stack.pieces[then].piece
    if one.id in two.after and first not in stack.pieces[then].over:
        after = tuple(name for name in two.after if name != one.id)
        text = f'take {one.id} out of the "after" list of {two.id}'
        yield DaySaved("after", two.id, after, text, 0, with_pieces(stack.design, [replace(two, after=after)]))


def _ends_cut_back(m: Measures, first: int, then: int) -> Iterator[DaySaved]:
    """A line that overlaps the other piece with one end is drawn shorter, so that a wall stands between them."""
    stack = m.stack
    for mine, other in ((first, then), (then, first)):
        placed, there = stack.pieces[mine], stack.pieces[other]
        source = placed.piece.outline
        if not isinstance(source, LineOutline) or source.points[0] == source.points[-1]:
            continue
        whole = shapely.LineString(source.points)
        for end in ("first", "last"):
            cut = _least_cut(whole, end, placed, there, source, m.workshop.min_wall)
            if cut is not None:
                line = _shortened(whole, end, cut)
                text = f"end the line of {placed.piece.id} {cut * placed.piece.scale:.1f} mm before its {end} point"
                changed = replace(placed.piece, outline=replace(source, points=line))
                yield DaySaved("end", placed.piece.id, line, text, 0, with_pieces(stack.design, [changed]))


def _shortened(whole: shapely.LineString, end: str, cut: float) -> tuple[Point, ...]:
    span = (cut, whole.length) if end == "first" else (0.0, whole.length - cut)
    line = ops.substring(whole, *span)
    return tuple((round(x, 3), round(y, 3)) for x, y in shapely.get_coordinates(line).tolist())


def _least_cut(
    whole: shapely.LineString, end: str, placed: PlacedPiece, there: PlacedPiece, source: LineOutline, wall: float
) -> float | None:
    """The least that must come off one end, in the line's own frame; None where half of it does not suffice."""
    scale = placed.piece.scale
    for cut in np.arange(STEP, whole.length * scale / 2, STEP) / scale:
        points = place_points(np.array(_shortened(whole, end, float(cut))) * scale, placed.piece)
        room = shapely.distance(shapely.LineString(points), there.pocket) - source.width * scale / 2
        if room >= wall:
            return float(cut)
    return None


def _moved_apart(m: Measures, first: int, then: int) -> Iterator[DaySaved]:
    """The later piece moved straight off the earlier one, until a wall stands between them."""
    one, two = m.stack.pieces[first], m.stack.pieces[then]
    overlap = shapely.intersection(one.pocket, two.pocket)
    away = np.subtract(*(shapely.get_coordinates(shapely.centroid(shape))[0] for shape in (two.pocket, overlap)))
    long = float(np.hypot(*away))
    if long < 1e-6:
        return
    for distance in np.arange(STEP, FARTHEST + STEP / 2, STEP):
        at = tuple(round(value, 2) for value in (np.array(two.piece.at) + away / long * distance).tolist())
        moved = affinity.translate(two.pocket, at[0] - two.piece.at[0], at[1] - two.piece.at[1])
        if shapely.distance(moved, one.pocket) >= m.workshop.min_wall:
            name, far = two.piece.id, math.dist(at, two.piece.at)
            text = f"move {name} {far:.1f} mm, to {xy((at[0], at[1]))}: it then lies beside {one.piece.id}"
            changed = replace(two.piece, at=(at[0], at[1]))
            yield DaySaved("place", name, changed.at, text, 0, with_pieces(m.stack.design, [changed]))
            return


def _reordered(stack: Stack, chains: LongChains) -> Iterator[DaySaved]:
    """A piece of all chains at another place in the list: it then lies under what it lay on, or on what lay on it."""
    waits = waits_of(stack)
    for piece in chains.pieces:
        placed = stack.pieces[piece]
        for other in (*sorted(placed.over, reverse=True), *sorted(placed.under)):
            crossed = _crossed(placed, other)
            days = _days_if(waits, piece, crossed)
            if days is not None and days < chains.days:
                name, there = placed.piece.id, stack.pieces[other].piece.id
                where = "before" if other < piece else "after"
                lies = "under" if other < piece else "on"
                names = ", ".join(stack.pieces[i].piece.id for i in sorted(crossed))
                text = f"list {name} {where} {there}: it then lies {lies} {names}, which changes the picture"
                order = [i for i in range(len(stack.pieces)) if i != piece]
                place = order.index(other) + (other > piece)
                order.insert(place, piece)
                yield DaySaved("order", name, place, text, days, in_order(stack.design, order))


def _crossed(placed: PlacedPiece, other: int) -> set[int]:
    """The pieces that it overlaps among those that it passes on its way to just beyond another."""
    low, high = sorted((placed.index, other))
    return {i for i in (*placed.over, *placed.under) if low <= i <= high}


def _days_if(waits: dict[int, set[int]], piece: int, crossed: Sequence[int] | set[int]) -> int | None:
    """How many glue days there are where a piece changes sides with some that it overlaps; None in a ring."""
    changed = {each: set(before) for each, before in waits.items()}
    for other in crossed:
        if other in changed[piece]:
            changed[piece].discard(other)
            changed[other].add(piece)
        else:
            changed[other].discard(piece)
            changed[piece].add(other)
    try:
        return max(longest_chains(changed).values(), default=0)
    except CycleError:
        return None
