"""What wood the panel takes, piece by piece and wood by wood, and what to buy of it."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..boards.stock import EDGE, PLANING, glued_leaves
from ..design import Design, GluedBlank
from .glue_up import LENGTH
from .lengths import board_feet
from .plan import Blank, Plan

WASTE = 0.3
"""Bought beyond what the cut list takes, for kerfs, knots and ends, as a share of it (common practice)."""
MITRE = 10.0
"""Sides of the frame are cut so much longer, mm, and mitred to length (common practice)."""


@dataclass(frozen=True)
class Item:
    """Pieces of wood of one size, with all allowances but waste; mm."""

    use: str
    wood: str
    count: int
    length: float
    width: float
    thickness: float
    glued: int = 1
    """Leaves that are glued edge to edge to make one; all of them are counted."""

    @property
    def area(self) -> float:
        """mm², of all of them."""
        return self.count * self.length * self.width

    @property
    def volume(self) -> float:
        """mm³, of all of them, as bought."""
        return self.area * (self.thickness + PLANING)


@dataclass(frozen=True)
class ToBuy:
    """What one wood comes to: what is cut, with waste, or the leaves that it is planed on where those take more."""

    wood: str
    area: float
    """Area of what is cut, mm²."""
    volume: float
    """mm³"""
    leaf_area: float = 0.0
    """Area of the leaves, mm²: those that are planed whole may not be shorter than the planer takes."""
    leaf_volume: float = 0.0
    """mm³"""

    @property
    def square_metres(self) -> float:
        """To buy."""
        return max(self.area * (1 + WASTE), self.leaf_area) / 1e6

    @property
    def board_feet(self) -> float:
        """To buy, of the wood's real thickness."""
        return board_feet(max(self.volume * (1 + WASTE), self.leaf_volume))


def items(plan: Plan) -> tuple[Item, ...]:
    """Everything that is sawn: background, blanks, a spare for each wood of the inserts, strips, frame."""
    return (*_background(plan), *_inserts(plan), *_spares(plan), *_frame(plan))


def to_buy(cut_list: Iterable[Item], leaves: Iterable[Item] = ()) -> tuple[ToBuy, ...]:
    """The sums by wood, in the order of the list; `leaves` are what it is planed on, as items too."""
    cut, planed = list(cut_list), list(leaves)
    return tuple(
        ToBuy(
            wood,
            sum(item.area for item in cut if item.wood == wood),
            sum(item.volume for item in cut if item.wood == wood),
            sum(leaf.area for leaf in planed if leaf.wood == wood),
            sum(leaf.volume for leaf in planed if leaf.wood == wood),
        )
        for wood in dict.fromkeys(item.wood for item in cut)
    )


def _background(plan: Plan) -> Iterator[Item]:
    glued = plan.glue_up
    if glued.wood is not None:
        size = (glued.length + LENGTH, glued.across + EDGE, glued.thickness)
        yield _edge_to_edge(plan.stack.design, "background", glued.wood, *size)
    for strip in glued.strips:
        for place, segment in enumerate(strip.segments, 1):
            name = f"strip {strip.number}" + (f", segment {place}" if len(strip.segments) > 1 else "")
            yield Item(name, segment.wood, 1, segment.cut_length, strip.rip_width, glued.thickness)


def _inserts(plan: Plan) -> Iterator[Item]:
    for piece in plan.pieces:
        for blank in piece.blanks:
            use = f"{piece.number} {blank.name}"
            glued = piece.placed.piece.blank
            if glued is None:
                yield _sawn(plan, use, blank)
            else:
                yield from _stripes(use, blank, glued)
        if piece.strip is not None:
            strip = piece.strip
            yield Item(
                f"{piece.number} {piece.id} (strip)", piece.woods[0], 1, strip.cut_length, strip.height, strip.width
            )


def _sawn(plan: Plan, use: str, blank: Blank) -> Item:
    """One blank of one wood."""
    size = (blank.length, blank.width, blank.thickness)
    return _edge_to_edge(plan.stack.design, use, blank.woods[0], *size, blank.leaves)


def _edge_to_edge(
    design: Design, use: str, wood: str, length: float, width: float, thickness: float, least: int = 1
) -> Item:
    """Wood of that size; as leaves where no board is wide enough."""
    count, wide = glued_leaves(design, wood, width, thickness, least)
    return Item(use, wood, count, length, wide, thickness, count)


def _stripes(use: str, blank: Blank, glued: GluedBlank) -> Iterator[Item]:
    """Stripes come again until the blank is wide enough; one more of each covers where the first lies."""
    round_of_all = sum(stripe.width for stripe in glued.stripes)
    count = math.ceil(blank.width / round_of_all) + 1
    for stripe in glued.stripes:
        yield Item(f"{use}, stripes", stripe.wood, count, blank.length, stripe.width + EDGE, blank.thickness)


def _spares(plan: Plan) -> Iterator[Item]:
    """The largest blank of each wood once more, since one goes wrong."""
    largest: dict[str, Blank] = {}
    for blank in (blank for piece in plan.pieces for blank in piece.blanks if len(blank.woods) == 1):
        before = largest.get(blank.woods[0])
        if before is None or blank.length * blank.width > before.length * before.width:
            largest[blank.woods[0]] = blank
    for wood, blank in largest.items():
        yield _sawn(plan, f"spare, {wood}", blank)


def _frame(plan: Plan) -> Iterator[Item]:
    for part in plan.frame:
        yield Item(f"frame, {part.name}", part.wood, 1, part.long_edge + MITRE, part.width, part.depth)


def buying_csv(plan: Plan, bought: Iterable[ToBuy] | None = None) -> str:
    """The cut list and the sums as a table for a spreadsheet.

    Args:
        plan: the plan.
        bought: what the boards in stock do not suffice for, wood by wood; None: all of it.
    """
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["what", "for", "wood", "count", "length_mm", "width_mm", "thickness_mm", "area_m2", "board_feet"])
    cut_list = items(plan)
    for item in cut_list:
        sizes = [f"{side:.1f}" for side in (item.length, item.width)]
        sums = [f"{item.area / 1e6:.4f}", f"{board_feet(item.volume):.3f}"]
        table.writerow(["cut", item.use, item.wood, item.count, *sizes, f"{item.thickness:.2f}", *sums])
    for wood in to_buy(cut_list) if bought is None else bought:
        sums = [f"{wood.square_metres:.3f}", f"{wood.board_feet:.2f}"]
        table.writerow(["buy", f"all, with {WASTE:.0%} waste", wood.wood, "", "", "", "", *sums])
    return text.getvalue()
