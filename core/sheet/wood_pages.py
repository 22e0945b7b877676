"""The sheet's pages for the wood yard: the boards to buy and how they are sawn."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ..boards.stock import JOINTED, PLANING, SQUARED
from .blocks import HALF, Block, Heading, Lines, Table
from .boards_to_buy import KNOTS, Bought
from .lengths import Units, length_text, size_text
from .plan import Plan
from .stock_layout import SawnBoard
from .stock_pages import board_blocks, sawing_lines
from .titles import BUYING


def buying_pages(plan: Plan, bought: tuple[Bought, ...], units: Units) -> Iterator[Block]:
    """The boards to buy as a list for the yard, then each with its parts."""
    stock = plan.stack.design.stock
    if not bought:
        return
    kerf = plan.stack.design.workshop.saw_kerf
    yield Heading(BUYING, page=True, joins=HALF)
    yield Lines(
        (
            f"Each board is as large as the parts laid out on it below take: with {length_text(kerf, units, 1)} for "
            f"each saw cut, {length_text(PLANING, units, 1)} for planing each leaf, {length_text(JOINTED, units, 1)} "
            f"to joint one edge and {length_text(SQUARED, units, 1)} to square one end; and {KNOTS:.0%} longer for "
            "knots and splits. No other waste is in it: buy clear wood, or more. A spare for each wood of the "
            "inserts, and for grooves, is counted in. "
            + (
                "What your boards in stock give is taken off."
                if stock
                else "The design lists no boards in stock, so nothing is taken off."
            ),
            "Thickness is that in which yards sell rough wood; board feet are of that thickness. A thicker board, or "
            "one longer or wider, does as well, if its grain runs along its length.",
        )
    )
    rows = []
    for wood in bought:
        for place, sawn in enumerate(wood.boards):
            board = sawn.board
            feet = f"{wood.board_feet:.2f}" if place == 0 else ""
            size = size_text((board.length, board.width), units, 0)
            rows.append((wood.wood, f"{size} × {_rough(board.thickness, units)}", _leaves(sawn, units), feet))
    header = ("wood", "buy at least: length × width × thickness", "leaves, and what they are planed to", "board feet")
    yield Table(header, tuple(rows), (0.17, 0.4, 0.31, 0.12))
    yield Heading("How the boards to buy are sawn")
    yield Lines(tuple(sawing_lines(plan, units)))
    scale = max(sawn.board.length for wood in bought for sawn in wood.boards)
    for wood in bought:
        for sawn in wood.boards:
            name = f"{wood.wood}: {size_text((sawn.board.length, sawn.board.width), units, 0)}"
            yield from board_blocks(sawn, name, units, scale)


def _rough(thickness: float, units: Units) -> str:
    return length_text(thickness, units, 0 if units == "both" else 1)


def _leaves(sawn: SawnBoard, units: Units) -> str:
    """Such as ``2 of 8.50, 1 of 5.50 mm``."""
    counts = Counter(leaf.thickness for billet in sawn.billets for leaf in billet.leaves)
    said = [f"{counts[each]} of {length_text(each, 'inch' if units == 'inch' else 'mm')}" for each in sorted(counts)]
    return ", ".join(said[::-1]).replace(" mm,", ",")
