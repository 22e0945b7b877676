"""The boards in stock as the sheet shows them: each with what is sawn from it, and what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import shapely

from ..boards.stock import PLANING, boards_of, leaves_from, wood_key
from .blocks import HALF, Block, Drawn, Heading, Lines, Table
from .buying import items
from .lengths import Units, length_text, size_text
from .picture import INK, PALE, Area, Label, Mark, Picture, Strokes, area
from .plan import Plan
from .stock_layout import Leaf, Missing, Part, SawnBoard, StockLayout

SOLD = (25.4, 50.8)
"""Thicknesses that yards sell rough, mm: 1 in and 2 in, called 4/4 and 8/4 (common practice)."""
WIDE = 182.0
"""A board is drawn about so long on paper, mm."""
MOST_WORDS = 6


def missing_lines(layout: StockLayout) -> tuple[str, ...]:
    """What the cover says: wood by wood what is missing, and what is too thick or too long for the boards there are."""
    if not layout.missing:
        return ("Your boards in stock suffice, spares included.",)
    each = (f"{wood.wood} {wood.square_metres:.3f} m², {wood.board_feet:.2f} board feet" for wood in layout.to_buy)
    return (f"Missing from your stock, waste included: {'; '.join(each)}.", *_reasons(layout.missing))


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
    kerf, least = design.workshop.saw_kerf, design.workshop.min_planing_length
    yield Heading("Boards in stock, and what is sawn from them", page=True, joins=HALF)
    planing = (
        f"No piece is shorter than {length_text(least, units, 0)} when it goes through the planer: that is the "
        "workshop's min_planing_length"
        if least
        else "Look up in your planer's manual how short wood may be, and give it as the workshop's min_planing_length"
    )
    yield Lines(
        (
            f"Crosscut each board at the thick lines, resaw each length into its leaves ({length_text(kerf, units, 1)} "
            f"kerf, {length_text(PLANING, units, 1)} more than their thickness), plane each leaf whole, then saw it "
            "along the thin lines: every cut goes straight through what is left. The grain runs along the board, and "
            "no blank is turned.",
            f"{planing}. Grey: what is left over.",
            "Resawing and planing short wood is where hands come near knives: use the guards, push blocks and a fence "
            "as your machine's manual says.",
        )
    )
    for sawn in layout.boards:
        yield from _board(sawn, units)
    whole = sum(board.count for board in design.stock) - len(layout.boards)
    if whole:
        yield Lines((f"{whole} of your boards {'stays' if whole == 1 else 'stay'} whole.",))


def _board(sawn: SawnBoard, units: Units) -> Iterator[Block]:
    board = sawn.board
    which = f", board {sawn.number} of {board.count}" if board.count > 1 else ""
    size = size_text((board.length, board.width, board.thickness), units)
    photo = f", see {board.photo}" if board.photo else ""
    yield Heading(f"{board.wood}{which}: {size}{photo}")
    yield Drawn(board_picture(sawn), "Each row is one leaf, from the board's face down; grain along the board")
    rows = []
    for place, billet in enumerate(sawn.billets, 1):
        for number, leaf in enumerate(billet.leaves, 1):
            first = f"{place}: {length_text(billet.length, units, 1)}" if number == 1 else ""
            parts = "; ".join(f"{part.use} {size_text((part.length, part.width), 'mm')}" for part in leaf.parts)
            rows.append((first, f"{number}: {length_text(leaf.thickness, units)}", parts))
    yield Table(("length, from the left", "leaf, planed to", "parts"), tuple(rows), (0.22, 0.22, 0.56))


def board_picture(sawn: SawnBoard) -> Picture:
    """The board once for each leaf, below each other; parts with their numbers, the rest grey."""
    board = sawn.board
    one = board.length / WIDE
    gap = 5 * one
    count = max(len(billet.leaves) for billet in sawn.billets)
    marks: list[Mark] = []
    for row in range(count):
        foot = -row * (board.width + gap)
        for billet in sawn.billets:
            box = shapely.box(billet.start, foot, billet.start + billet.length, foot + board.width)
            marks += _leaf(billet.leaves[row], billet.start, foot, box, one) if row < len(billet.leaves) else []
    marks.append(area(shapely.box(0, 0, board.length, board.width), 0, stroke=INK, width=0.9))
    high = count * (board.width + gap) - gap
    bounds = (0.0, board.width - high, board.length, board.width)
    words = f"{board.wood} board {sawn.number}, {board.length:g} by {board.width:g} mm, in {count} leaves"
    return Picture(bounds, tuple(marks), words)


def _leaf(leaf: Leaf, start: float, foot: float, box: shapely.Polygon, one: float) -> list[Mark]:
    """One leaf of a billet."""
    marks: list[Mark] = [area(box, 0, fill=PALE)]
    for part in leaf.parts:
        x, y = start + part.x, foot + part.y
        marks.append(area(shapely.box(x, y, x + part.length, y + part.width), 0, fill="#ffffff", stroke=INK, width=0.5))
        marks += _named(part, x, y, one)
    marks.append(Area(area(box, 0).rings, None, INK, 1.4))
    return marks


def _named(part: Part, x: float, y: float, one: float) -> list[Mark]:
    """The part's short name, where it has room, and an arrow along the grain under it."""
    name = short_name(part.use)
    size = min(2.6, 0.55 * part.width / one, part.length / one / (0.62 * max(len(name), 1)))
    middle = (x + part.length / 2, y + part.width / 2)
    marks: list[Mark] = [Label(middle, name, size)]
    if part.width / one > 6:
        half, low = 0.3 * part.length, y + 0.18 * part.width
        head = min(1.2 * one, 0.2 * half)
        line = np.array([[middle[0] - half, low], [middle[0] + half, low]])
        tips = [np.array([line[end] + [way * head, head / 2], line[end], line[end] + [way * head, -head / 2]])
                for end, way in ((0, 1), (1, -1))]  # fmt: skip
        marks.append(Strokes((line, *tips), INK, 0.35))
    return marks


def short_name(use: str) -> str:
    """What fits on a small part: the piece's number, s3.2 for a segment of a strip, f for frame, x for a spare."""
    words = use.replace(",", "").split()
    if words[0].isdigit():
        return words[0]
    if words[0] == "strip":
        return "s" + ".".join(word for word in words if word.isdigit())
    return {"spare": "x", "frame": f"f {words[-1][:2]}"}.get(words[0], words[0])


def to_plane_table(plan: Plan, layout: StockLayout, units: Units) -> Iterator[Block]:
    """What is missing, as leaves to be planed whole."""
    least = plan.stack.design.workshop.min_planing_length
    yield Heading("What is missing, on leaves to plane whole")
    why = f" None is shorter than {length_text(least, units, 0)}." if least else ""
    yield Lines(
        (f"Blanks of one wood and thickness lie together on a leaf and are sawn out of it after planing.{why}",)
    )
    yield Table(
        ("wood", "leaf", "planed to", "for"),
        tuple(
            (
                leaf.wood,
                size_text((leaf.length, leaf.width), units),
                length_text(leaf.thickness, units),
                ", ".join(dict.fromkeys(part.use for part in leaf.parts)),
            )
            for leaf in layout.to_plane
        ),
        (0.11, 0.4, 0.19, 0.3),
    )


def thickness_table(plan: Plan, units: Units) -> Iterator[Block]:
    """How many leaves of each thickness a board gives: the boards in stock, or those that yards sell."""
    design = plan.stack.design
    kerf = design.workshop.saw_kerf
    counts: dict[tuple[str, float], int] = {}
    names: dict[str, str] = {}
    for item in items(plan):
        key = wood_key(design, item.wood)
        names.setdefault(key, item.wood)
        counts[key, round(item.thickness, 6)] = counts.get((key, round(item.thickness, 6)), 0) + item.count
    rows = []
    for (key, thickness), count in sorted(counts.items()):
        own = sorted({board.thickness for _, board in boards_of(design, names[key])})
        each = [(board, leaves_from(board, thickness, kerf)) for board in own or SOLD]
        said = ", ".join(f"{leaves or 'none'} from {length_text(board, units, 1)}" for board, leaves in each)
        rows.append((names[key], length_text(thickness, units), str(count), said + ("" if own else " (not in stock)")))
    yield Heading("Leaves from a board")
    yield Lines(
        (
            f"A leaf takes its thickness, {length_text(PLANING, units, 1)} for planing, and a kerf of "
            f"{length_text(kerf, units, 1)} between two.",
        )
    )
    yield Table(("wood", "planed to", "parts", "leaves"), tuple(rows), (0.2, 0.26, 0.1, 0.44))
