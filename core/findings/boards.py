"""Findings of the maker's own boards: photos that cannot be used, inserts that do not fit on theirs."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

from ..boards.figure import Lay, lays, on_photo, photo_boards
from ..boards.place_on_photo import PhotoBoard
from ..boards.white_balance import balance_of
from ..design import Point
from ..errors import UnusableInput
from ..measures.all_measures import Measures
from ..woods.species import folded
from .finding import Finding, Step, below, of, somewhere, xy


def board_photo(m: Measures) -> Iterator[Finding]:
    """A photo is missing or cannot be used, or its grey card tells no colour."""
    boards, trouble = photo_boards(m.stack.design)
    at = (m.panel.width / 2, m.panel.height / 2)
    for error in (*trouble, *_cards(boards)):
        yield Finding("warning", "board-photo", None, None, at, f"{error.place}: {error.problem}", error.remedy)


def _cards(boards: dict[str, PhotoBoard]) -> Iterator[UnusableInput]:
    for name, board in boards.items():
        try:
            balance_of(board)
        except UnusableInput as error:
            place = f'woods "{name}".grey'
            yield UnusableInput(
                "", place, error.problem, f"{error.remedy}; until then its colours stay as photographed"
            )


def off_board(m: Measures) -> Iterator[Finding]:
    """An insert reaches beyond its board as it is laid out on the photo."""
    boards, _ = photo_boards(m.stack.design)
    if not boards:
        return
    laid = lays(m.stack)
    for placed in m.sound:
        lay = laid[placed.piece.id]
        board = boards.get(folded(lay.wood))
        if board is not None and lay.blank is None:
            _, over = on_photo(lay, board)
            if below(0, over):
                words = f"where it lies on its board, it reaches {over:.2f} mm beyond the board {lay.wood}"
                step = _moved(lay, board)
                remedy = "Take a larger board, or glue its blank up from leaves"
                if step is not None:
                    remedy = f"Lay it at {xy(step)} on the board, or take a larger one"
                known = None if step is None else Step(lay.name, "board_at", step)
                yield of("warning", "off-board", placed, somewhere(placed), words, remedy, known, value=over)
    for part in m.stack.background:
        board = boards.get(folded(part.wood))
        over = 0.0 if board is None else on_photo(laid[part.name], board)[1]
        if below(0, over):
            centre = part.box.centroid
            at = (float(centre.x), float(centre.y))
            words = f"{part.name} at {xy(at)}: it reaches {over:.2f} mm beyond the board {part.wood}"
            remedy = "Glue it up from shorter segments, or take a larger board"
            yield Finding("warning", "off-board", None, None, at, words, remedy, value=over)


def _moved(lay: Lay, board: PhotoBoard) -> Point | None:
    """The nearest place where it fits, in hundredths where they fit too; None where there is none."""
    at, _ = on_photo(lay, board)
    near = board.nearest_place(lay.leaf_extent, lay.mirrored, at)
    if near is None:
        return None
    xs, ys = ((math.floor(100 * value) / 100, math.ceil(100 * value) / 100) for value in near)
    fitting = [p for p in product(xs, ys) if not below(0, board.overhang(lay.leaf_extent, lay.mirrored, p))]
    return min(fitting, key=lambda place: math.dist(place, near), default=near)
