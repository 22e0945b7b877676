"""The boards as the sheet shows them: each with what is sawn from it, and what is missing."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely

from ..boards.stock import JOINTED, PLANING
from .blocks import HALF, Block, Drawn, Heading, Lines, Table
from .boards_to_buy import Bought
from .buying import items
from .lengths import Units, length_text, near_inch_text, size_text
from .picture import INK, PALE, Area, Label, Mark, Picture, Strokes, area
from .plan import Plan
from .stock_layout import Leaf, Missing, Part, SawnBoard, StockLayout
from .titles import BOARDS, BUYING

WIDE = 182.0
"""A board is drawn about so long on paper, mm."""
LETTERS = (1.9, 2.6)
"""Least and greatest height of a part's name, mm on paper."""
LEAST_NAMED = 1.6
"""A part that is narrower on paper, mm, has its name in the table alone."""
MOST_WORDS = 6
THIN = 6.0
"""Leaves thinner than this, mm, are planed on a carrier board (common practice, no published source)."""


def missing_lines(layout: StockLayout, bought: Sequence[Bought]) -> tuple[str, ...]:
    """What the cover says: wood by wood what is missing, and what is too thick or too long for the boards there are."""
    if not layout.missing:
        return ("Your boards in stock suffice, spares included.",)
    each = (f"{wood.wood} {wood.square_metres:.3f} m², {wood.board_feet:.2f} board feet" for wood in bought)
    start = f"Missing from your stock (sizes under “{BUYING}”)"
    return (f"{start}: {'; '.join(each)}.", *_reasons(layout.missing))


def _reasons(missing: Iterable[Missing]) -> Iterator[str]:
    """A line for each reason that the buying list cannot tell: none for boards that are there no more."""
    uses: dict[tuple[str, str], list[str]] = {}
    for each in missing:
        if ":" in each.why:
            uses.setdefault((each.item.wood, each.why), []).append(each.item.use)
    for (wood, why), some in uses.items():
        yield f"{wood}, {why} ({_few(some)})."


def _few(words: Iterable[str]) -> str:
    """Words once each, cut short where there are many."""
    once = list(dict.fromkeys(words))
    more = len(once) - MOST_WORDS
    return ", ".join(once[:MOST_WORDS]) + (f" and {more} more" if more > 0 else "")


def stock_pages(plan: Plan, layout: StockLayout, units: Units) -> Iterator[Block]:
    """A picture and a table for each board that is sawn; nothing where the design lists no stock."""
    design = plan.stack.design
    if not design.stock:
        return
    yield Heading(f"{BOARDS}, and what is sawn from them", page=True, joins=HALF)
    if layout.boards and not layout.missing:
        yield Lines(tuple(sawing_lines(plan, units)))
    scale = max((sawn.board.length for sawn in layout.boards), default=0.0)
    for sawn in layout.boards:
        board = sawn.board
        which = f", board {sawn.number} of {board.count}" if board.count > 1 else ""
        size = size_text((board.length, board.width, board.thickness), units)
        photo = f", see {board.photo}" if board.photo else ""
        yield from board_blocks(sawn, f"{board.wood}{which}: {size}{photo}", units, scale)
    whole = sum(board.count for board in design.stock) - len(layout.boards)
    if whole:
        yield Lines((f"{whole} of your boards {'stays' if whole == 1 else 'stay'} whole.",))


def sawing_lines(plan: Plan, units: Units) -> Iterator[str]:
    """How a board is sawn into its leaves, and those into their parts."""
    kerf, least = plan.stack.design.workshop.saw_kerf, plan.stack.design.workshop.min_planing_length
    yield (
        f"Joint one edge ({length_text(JOINTED, units, 1)} for that, drawn at the bottom), square the left end, and "
        f"crosscut the board at the thick lines. Resaw each length into its leaves, {length_text(PLANING, units, 1)} "
        f"thicker than they are planed, with {length_text(kerf, units, 1)} for each saw cut. Plane each leaf whole, "
        "and only then saw it along the thin lines: each cut goes straight through what is left. Grain runs along "
        "the board; no part is turned. Rows below each other in a drawing are the leaves of one length, from the "
        "board's face down. Grey is left over: keep it until the panel is done."
    )
    planing = (
        f"No length is shorter than {length_text(least, units, 0)}, which is the least that goes through your planer."
        if least
        else "Look up in your planer's manual how short wood may be, and keep shorter parts on a longer leaf till then."
    )
    thinnest = min((item.thickness for item in items(plan)), default=THIN)
    if thinnest < THIN:
        planing += (
            f" The thinnest leaf here is {length_text(thinnest, units)}: many planers take nothing thinner than "
            f"{length_text(THIN, units, 0)}. Plane what is thinner on a flat carrier board, as the manual says, or "
            "with a hand plane."
        )
    yield (
        f"{planing} Resawing and planing short wood is where hands come near knives: use the guards, push blocks and a "
        "fence as your machine's manual says."
    )


def board_blocks(sawn: SawnBoard, name: str, units: Units, scale: float) -> Iterator[Block]:
    """A board's picture and table; all boards of one `scale`, a length in mm, are drawn alike."""
    rows = []
    for place, billet in enumerate(sawn.billets, 1):
        for number, leaf in enumerate(billet.leaves, 1):
            first = f"{place}: {length_text(billet.length, units, 1)}" if number == 1 else ""
            inside = sorted(leaf.parts, key=lambda part: (part.y, part.x))
            parts = "; ".join(f"{part.use} {_sides(part, units)}" for part in inside)
            unit = "in" if units == "inch" else "mm"
            rows.append((first, f"{number}: {length_text(leaf.thickness, units)}", f"{parts} {unit}"))
    yield Heading(name)
    yield Drawn(board_picture(sawn, scale), "")
    header = ("length, from the left", "leaf, planed to", "parts from the bottom up, length × width")
    yield Table(header, tuple(rows), (0.22, 0.2, 0.58))


def _sides(part: Part, units: Units) -> str:
    if units != "inch":
        return f"{part.length:.1f} × {part.width:.1f}"
    return " × ".join(near_inch_text(side).removesuffix(" in") for side in (part.length, part.width))


def board_picture(sawn: SawnBoard, scale: float = 0.0) -> Picture:
    """The board once for each leaf, below each other; parts with their numbers, the rest grey."""
    board = sawn.board
    long = max(board.length, scale)
    one = long / WIDE
    gap = 3 * one
    count = max(len(billet.leaves) for billet in sawn.billets)
    marks: list[Mark] = []
    for row in range(count):
        foot = -row * (board.width + gap)
        for billet in sawn.billets:
            box = shapely.box(billet.start, foot, billet.start + billet.length, foot + board.width)
            marks += _leaf(billet.leaves[row], billet.start, foot, box, one) if row < len(billet.leaves) else []
    marks.append(area(shapely.box(0, 0, board.length, board.width), 0, stroke=INK, width=0.9))
    high = count * (board.width + gap) - gap
    bounds = (0.0, board.width - high, long, board.width)
    words = f"{board.wood} board {sawn.number}, {board.length:g} by {board.width:g} mm, in {count} leaves"
    return Picture(bounds, tuple(marks), words)


def _leaf(leaf: Leaf, start: float, foot: float, box: shapely.Polygon, one: float) -> list[Mark]:
    """One leaf of a billet; its parts lie beyond the edge that is jointed."""
    marks: list[Mark] = [area(box, 0, fill=PALE)]
    for part in leaf.parts:
        x, y = start + part.x, foot + JOINTED + part.y
        marks.append(area(shapely.box(x, y, x + part.length, y + part.width), 0, fill="#ffffff", stroke=INK, width=0.5))
        marks += _named(part, x, y, one)
    marks.append(Area(area(box, 0).rings, None, INK, 1.4))
    return marks


def _named(part: Part, x: float, y: float, one: float) -> list[Mark]:
    """The part's name, as long as there is room for, and an arrow along the grain under it."""
    name, size = "", 0.0
    if part.width / one < LEAST_NAMED:
        return []
    for name in part_names(part.use):
        size = min(LETTERS[1], 0.6 * part.width / one, part.length / one / (0.62 * max(len(name), 1)))
        if part.length / one >= 0.62 * LETTERS[0] * len(name):
            size = max(size, LETTERS[0])
            break
    middle = (x + part.length / 2, y + part.width / 2)
    marks: list[Mark] = [Label(middle, name, size)]
    if part.width / one > 7:
        half, low = 0.3 * part.length, y + 0.18 * part.width
        head = min(1.6 * one, 0.2 * half)
        line = np.array([[middle[0] - half, low], [middle[0] + half, low]])
        tips = [np.array([line[end] + [way * head, head / 2], line[end], line[end] + [way * head, -head / 2]])
                for end, way in ((0, 1), (1, -1))]  # fmt: skip
        marks.append(Strokes((line, *tips), INK, 0.6))
    return marks


def part_names(use: str) -> tuple[str, str]:
    """A part's name, and a shorter one where that has no room."""
    words = use.replace(",", "").split()
    part = re.search(r"\((\d+) of \d+\)", use)
    if words[0].isdigit():
        number = words[0] + (f".{part[1]}" if part else "")
        return number, number
    if words[0] == "strip":
        number = ".".join(word for word in words if word.isdigit())
        return f"strip {number}", number
    return (words[0], words[0]) if words[0] == "spare" else (" ".join(words[:2]), words[-1])
