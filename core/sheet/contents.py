"""What stands on the sheet, in the order of the work, whatever it is printed or shown on."""

from __future__ import annotations

from collections.abc import Iterator

from ..stack.batch_reasons import waits_of
from ..stack.long_chains import long_chains
from .background_pages import background_pages, zero_pages
from .batch_pages import batch_pages
from .blocks import Block, Drawn, Heading, Lines, PieceRow, Table
from .boards_to_buy import Bought, boards_to_buy
from .end_pages import end_pages
from .lengths import Units, length_text, size_text
from .order_pages import order_pages
from .picture import NOT_MIRRORED, panel_picture, wood_key_picture
from .plan import PieceWork, Plan
from .stock_layout import StockLayout, stock_layout
from .stock_pages import missing_lines, stock_pages
from .wood_pages import buying_pages

__all__ = ["STEPS", "Block", "Drawn", "Heading", "Lines", "PieceRow", "Table", "contents"]

STEPS = {"pocket": "pocket cut", "insert": "insert cut", "fit": "dry fit", "glued": "glued"}
"""What is ticked of each piece, in the order of work."""
Wood = tuple[StockLayout, tuple[Bought, ...]]
"""What the boards in stock give, and the boards to buy."""


def wood_of(plan: Plan) -> Wood:
    """The wood of a plan: laid out on the boards in stock, and on boards to buy."""
    layout = stock_layout(plan)
    return layout, boards_to_buy(plan.stack.design, layout.missing)


def contents(plan: Plan, units: Units, wood: Wood | None = None) -> tuple[Block, ...]:
    """All blocks of the sheet; `wood` is that of the plan, if it is there already."""
    layout, bought = wood_of(plan) if wood is None else wood
    return (
        *_cover(plan, layout, bought, units),
        *order_pages(plan, layout, units),
        *buying_pages(plan, bought, units),
        *stock_pages(plan, layout, units),
        *background_pages(plan, units),
        *zero_pages(plan, units),
        *(block for batch in plan.batches for block in batch_pages(plan, batch, units)),
        *end_pages(plan, units),
    )


def _cover(plan: Plan, layout: StockLayout, bought: tuple[Bought, ...], units: Units) -> Iterator[Block]:
    panel = plan.stack.design.panel
    left, bottom, right, top = plan.stack.finished_box.bounds
    amounts = plan.amounts
    pieces = plan.pieces
    yield Drawn(panel_picture(plan), f"The finished face, {NOT_MIRRORED}")
    yield Drawn(wood_key_picture(plan), "Its woods, in the colour that they have when cut")
    yield Table(
        ("key sizes", ""),
        (
            ("raw panel", size_text((panel.width, panel.height, panel.thickness), units)),
            ("finished panel", size_text((right - left, top - bottom, panel.thickness - panel.face_trim), units)),
            ("pieces and batches", f"{len(pieces)} pieces in {amounts.glue_days} batches. Each batch is a glue day: "
             "its glue must be hard before the next batch begins"),
            ("background", _background(plan)),
            ("thicknesses", _thicknesses(pieces, units)),
            *_chain_row(plan),
        ),
        (0.22, 0.78),
    )  # fmt: skip
    if plan.stack.design.stock:
        yield Lines(missing_lines(layout, bought), strong=bool(layout.missing))
    yield Lines(("Begin with the page “The whole order of work”.",), strong=True)


def _background(plan: Plan) -> str:
    glued = plan.glue_up
    if not glued.strips:
        return f"plain {glued.wood}"
    return f"{len(glued.strips)} strips, {plan.amounts.background_clampings} clampings"


def _chain_row(plan: Plan) -> Iterator[tuple[str, str]]:
    """What forces the number of glue days."""
    chains = long_chains(waits_of(plan.stack))
    if chains.days > 1:
        number = {piece.placed.index: f"{piece.number} {piece.id}" for piece in plan.pieces}
        count, one = len(chains.examples), ", ".join(number[i] for i in chains.examples[0])
        such = one if count == 1 else f"{count} chains of pieces that wait for each other, such as {one}"
        yield "what forces the days", f"{such}: each cuts into the one before it, whose glue must be hard"


def _thicknesses(pieces: tuple[PieceWork, ...], units: Units) -> str:
    found = {round(blank.thickness, 6) for piece in pieces for blank in piece.blanks}
    combined = {(blank.woods, round(blank.thickness, 6)) for piece in pieces for blank in piece.blanks}
    each = ", ".join(length_text(thickness, units) for thickness in sorted(found))
    return f"{len(found)} of inserts ({each}), in {len(combined)} combinations of wood and thickness" if found else "–"
