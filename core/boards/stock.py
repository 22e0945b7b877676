"""The boards that the maker has: which are of a wood, how many leaves each gives, how wide a blank can be."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..design import Design, StockBoard
from ..woods.species import find_wood, folded

EDGE = 1.0
"""Strips and leaves are ripped so much wider, mm, and planed to width: half of it on each edge (common practice)."""
PLANING = 2.0
"""Wood is bought, and leaves are resawn, so much thicker than they are used, mm, and planed (common practice)."""
JOINTED = 3.0
"""One edge of a board is made straight before anything is ripped from it, which takes so much, mm (common practice)."""
SQUARED = 5.0
"""One end of a board is cut square first, which takes so much, mm (common practice); give boards without split ends."""
ROUNDING = 1e-9


def wood_key(design: Design, wood: str) -> str:
    """One text for all names of a wood."""
    species = find_wood(wood, design.woods)
    own = any(folded(each.name) == folded(wood) for each in design.woods)
    return folded(wood if own or species is None else species.common_name)


def boards_of(design: Design, wood: str) -> Iterator[tuple[int, StockBoard]]:
    """Boards in stock of that wood, with their places in the list."""
    key = wood_key(design, wood)
    for place, board in enumerate(design.stock):
        if wood_key(design, board.wood) == key:
            yield place, board


def leaves_from(board: float, thickness: float, kerf: float) -> int:
    """How many leaves of a thickness, planed, a board of a thickness gives; mm.

    Each leaf takes its thickness, what planing takes and, between two leaves, the saw's kerf.
    """
    return max(0, math.floor((board + kerf) / (thickness + PLANING + kerf) + ROUNDING))


def widest_board(design: Design, wood: str, thickness: float) -> float:
    """How wide a leaf the widest board in stock gives, jointed, mm; where there is none, the workshop's board."""
    kerf = design.workshop.saw_kerf
    widths = [board.width for _, board in boards_of(design, wood) if leaves_from(board.thickness, thickness, kerf)]
    return max(widths, default=design.workshop.board_width) - JOINTED


def glued_leaves(design: Design, wood: str, width: float, thickness: float, least: int = 1) -> tuple[int, float]:
    """How many leaves, edge to edge, make wood so wide, and how wide each is sawn, mm.

    Where it takes more than one, each gets the allowance for jointing its edges.
    """
    board = widest_board(design, wood, thickness)
    count = least
    if width / least + (EDGE if least > 1 else 0.0) > board + ROUNDING:
        count = max(least, math.ceil(width / max(board - EDGE, EDGE) - ROUNDING))
    return count, width / count + (EDGE if count > 1 else 0.0)
