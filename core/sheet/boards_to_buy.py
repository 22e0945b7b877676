"""Boards to buy for what the stock does not suffice for: each with length, width and thickness, laid out to be sawn.

One rule for all: a board is as large as the layout of its parts takes, kerfs, planing, jointing and squaring included,
so wide that the least wood is bought, and a tenth longer for knots and splits.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from ..boards.stock import JOINTED, PLANING, SQUARED, leaves_from, wood_key
from ..design import Design, StockBoard
from .buying import Item
from .guillotine import EXACT, shapes
from .lengths import board_feet
from .stock_layout import Missing, SawnBoard, StockLayout, laid_out

SOLD = (25.4, 31.75, 38.1, 50.8, 76.2)
"""Thicknesses that yards sell rough, mm: 1, 1 1/4, 1 1/2, 2 and 3 in (common practice, no published source)."""
KNOTS = 0.1
"""Boards are bought so much longer than their layout, as a share of it, for knots and splits (common practice, no
published source)."""
LENGTH_STEP, WIDTH_STEP = 10.0, 5.0
"""Boards to buy are so many mm long and wide."""
LEAST_WIDTH = 50.0
"""Boards to buy are at least so wide, mm: narrower ones are hard to find (common practice)."""
LONGEST = 2400.0
"""Boards to buy are thought of as no longer than this, mm (8 ft; common practice)."""
MOST_TRIED = ((30, 4), (100, 2))
"""Up to so many parts of a wood so many widths of board are tried; one for more parts, which fill wide boards well."""


@dataclass(frozen=True)
class Bought:
    """What is bought of one wood."""

    wood: str
    boards: tuple[SawnBoard, ...]
    """Each with its own size and with what is sawn from it."""

    @property
    def square_metres(self) -> float:
        """How much all boards measure."""
        return sum(sawn.board.length * sawn.board.width for sawn in self.boards) / 1e6

    @property
    def board_feet(self) -> float:
        """How much all boards are, in the thickness in which they are sold."""
        return sum(board_feet(one.board.length * one.board.width * one.board.thickness) for one in self.boards)


def boards_to_buy(design: Design, missing: Iterable[Missing]) -> tuple[Bought, ...]:
    """What to buy, wood by wood in the order of the list."""
    some: dict[str, list[Item]] = {}
    for each in missing:
        some.setdefault(wood_key(design, each.item.wood), []).append(each.item)
    return tuple(_bought(design, _whole(items)) for items in some.values())


def _whole(items: Sequence[Item]) -> list[Item]:
    """Parts with all leaves of one blank in one item, as the layout takes them."""
    counts: dict[Item, int] = {}
    for item in items:
        alone = replace(item, count=1)
        counts[alone] = counts.get(alone, 0) + item.count
    return [
        replace(item, count=count, glued=item.glued if count % item.glued == 0 else 1) for item, count in counts.items()
    ]


def _bought(design: Design, items: Sequence[Item]) -> Bought:
    thick = max(item.thickness for item in items)
    kerf = design.workshop.saw_kerf
    sold = next((each for each in SOLD if leaves_from(each, thick, kerf)), math.ceil(thick + PLANING))
    tried = [
        _on_boards(design, items, wide, float(sold), least)
        for wide in _widths(design, items)
        for least in _least_lengths(design, items)
    ]
    best = min(tried, key=lambda boards: (sum(one.used * one.board.width for one in boards), boards[0].board.width))
    return Bought(items[0].wood, tuple(map(_as_sold, best)))


def _widths(design: Design, items: Sequence[Item]) -> list[float]:
    """Widths to try, mm, from the widest part to the workshop's boards: those that promise the least."""
    least = max(LEAST_WIDTH - JOINTED, *(item.width for item in items))
    most = max(least, design.workshop.board_width - JOINTED)
    count = next((tried for parts, tried in MOST_TRIED if sum(item.count for item in items) <= parts), 1)
    if count == 1:
        return [most]
    kerf, shortest = design.workshop.saw_kerf, design.workshop.min_planing_length or 0.0
    groups = [[item for item in items if item.thickness == each] for each in {item.thickness for item in items}]
    leaves = [shapes([(item.length, item.width) for item in group[:EXACT]], kerf) for group in groups]

    def area(wide: float) -> float:
        lengths = (min(long for long, across in found if across <= wide) for found in leaves)
        return (wide + JOINTED) * (SQUARED + sum(max(long, shortest) for long in lengths))

    found = {least, most, *(across for some in leaves for _, across in some if least <= across <= most)}
    return sorted(found, key=lambda wide: (area(wide), wide))[:count]


def _least_lengths(design: Design, items: Sequence[Item]) -> list[float]:
    """How long lengths that are crosscut must be, mm: as the planer asks; or all as long as the longest part, so
    that what is left of a length's thickness can give that part too."""
    planer, longest = design.workshop.min_planing_length or 0.0, max(item.length for item in items)
    several = len({item.thickness for item in items}) > 1 and sum(item.count for item in items) <= MOST_TRIED[0][0]
    return [planer, longest] if several and longest > planer else [planer]


def _on_boards(
    design: Design, items: Sequence[Item], wide: float, thickness: float, least: float
) -> tuple[SawnBoard, ...]:
    """The parts on as many boards of that width as it takes, no length that is crosscut shorter than the least."""
    shop = replace(design.workshop, min_planing_length=least or None)
    length = max(LONGEST, *(item.length + SQUARED for item in items), least + SQUARED)
    area = sum(item.count * item.length * item.width for item in items)
    count = max(1, math.floor(area / (length * wide)) // 4)  # a board gives leaves; more boards follow as needed
    while True:
        board = StockBoard(items[0].wood, length, wide + JOINTED, thickness, count)
        layout: StockLayout = laid_out(replace(design, stock=(board,), workshop=shop), items)
        if not layout.missing:
            return layout.boards
        count += 1 + count // 4


def _as_sold(sawn: SawnBoard) -> SawnBoard:
    """The board cut down to what it is needed for, with something more for knots."""
    long = math.ceil(sawn.used * (1 + KNOTS) / LENGTH_STEP - 1e-9) * LENGTH_STEP
    wide = math.ceil(sawn.board.width / WIDTH_STEP - 1e-9) * WIDTH_STEP
    return replace(sawn, board=replace(sawn.board, length=long, width=wide, count=1))


def to_buy(bought: Iterable[Bought]) -> Iterator[StockBoard]:
    """The boards of all woods, those of one size counted together."""
    counts: dict[StockBoard, int] = {}
    for each in bought:
        for sawn in each.boards:
            counts[sawn.board] = counts.get(sawn.board, 0) + 1
    yield from (replace(board, count=count) for board, count in counts.items())
