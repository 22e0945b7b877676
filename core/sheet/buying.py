"""What wood the panel takes, piece by piece and wood by wood, and what to buy of it."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ..boards.stock import EDGE, PLANING, glued_leaves
from ..design import Design, GluedBlank, StockBoard
from ..solids.frame import LEDGE
from .glue_up import LENGTH, OUTER
from .lengths import board_feet
from .plan import MITRE, Blank, GrooveStrip, Plan, ledge_width


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


def items(plan: Plan) -> tuple[Item, ...]:
    """Everything that is sawn: background, blanks, strips, spares for each wood of the inserts, frame."""
    return (*_background(plan), *_inserts(plan), *_spares(plan), *_frame(plan))


def plain_boards(plan: Plan) -> int:
    """How many boards are glued edge to edge for a plain background; 0 where it is made of strips."""
    return next((item.count for item in _background(plan)), 0) if plan.glue_up.wood is not None else 0


def _background(plan: Plan) -> Iterator[Item]:
    glued = plan.glue_up
    if glued.wood is not None:
        size = (glued.length + LENGTH, glued.across + 2 * OUTER, glued.thickness)
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
    """For each wood a blank from which any of its inserts can be sawn, and a strip for any of its grooves.

    The spare blank is as long as the longest blank of its wood, as wide as the widest and as thick as the thickest; a
    spare strip as long as the longest and as high as the highest of its wood and thickness.
    """
    blanks: dict[str, list[Blank]] = {}
    for blank in (blank for piece in plan.pieces for blank in piece.blanks if len(blank.woods) == 1):
        blanks.setdefault(blank.woods[0], []).append(blank)
    for wood, some in blanks.items():
        length, thickness = max(blank.length for blank in some), max(blank.thickness for blank in some)
        widest = max(some, key=lambda blank: blank.width)
        yield _sawn(plan, f"spare, {wood}", replace(widest, length=length, thickness=thickness))
    strips: dict[tuple[str, float], list[GrooveStrip]] = {}
    for piece in plan.pieces:
        if piece.strip is not None:
            strips.setdefault((piece.woods[0], round(piece.strip.width, 6)), []).append(piece.strip)
    for (wood, _), each in strips.items():
        length, height = max(strip.cut_length for strip in each), max(strip.height for strip in each)
        yield Item(f"spare, {wood} (strip)", wood, 1, length, height, each[0].width)


def _frame(plan: Plan) -> Iterator[Item]:
    for part in plan.frame:
        yield Item(f"frame, {part.name}", part.wood, 1, part.long_edge + MITRE, part.width, part.depth)
    for part in plan.frame:
        wide = ledge_width(plan.stack.design)
        yield Item(f"ledge, {part.name}", part.wood, 1, part.ledge + MITRE, wide, LEDGE)


def buying_csv(plan: Plan, bought: Iterable[StockBoard]) -> str:
    """The cut list and the boards to buy as a table for a spreadsheet."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["what", "for", "wood", "count", "length_mm", "width_mm", "thickness_mm", "area_m2", "board_feet"])
    for item in items(plan):
        sizes = [f"{side:.1f}" for side in (item.length, item.width)]
        sums = [f"{item.area / 1e6:.4f}", f"{board_feet(item.volume):.3f}"]
        table.writerow(["cut", item.use, item.wood, item.count, *sizes, f"{item.thickness:.2f}", *sums])
    for board in bought:
        sides = [f"{side:.1f}" for side in (board.length, board.width, board.thickness)]
        area = board.count * board.length * board.width
        sums = [f"{area / 1e6:.3f}", f"{board_feet(area * board.thickness):.2f}"]
        table.writerow(["buy", "board, waste included", board.wood, board.count, *sides, *sums])
    return text.getvalue()
