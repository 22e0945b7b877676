"""The drawings of a panel's cut lines: for each batch its pockets and its inserts, with words and marks not cut.

All drawings of a set have the same page, zero point and registration marks: the raw panel's corners.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely

from ..boards.stock import glued_leaves
from ..stack.stack import Stack
from ..views.exploded import glue_numbers
from ..witness import inside
from .cuts import LAYERS, Batch, InsertCut, Line, PocketCut
from .labels import Box, Room, Spot
from .layout import TAB, Laid, laid_out, on_blank
from .notes import insert_notes, pocket_notes

Array = npt.NDArray[np.float64]

MARK = 10.0
"""Legs of the registration marks, mm."""
LETTER, LABEL = 3.0, 2.2
"""Heights of capital letters, at the top and beside lines, mm."""
LETTERS_ACROSS, LINE_HEIGHT = 160.0, 1.7
"""On a large page letters at the top are larger: so many heights across. Lines of them, so many heights apart."""
LONGEST_PLACE = "its corner at 000, 000"
WIDEST_LETTER = 0.85
"""Width of letters in the heights of capital ones, as most typefaces without serifs have it."""
ARROW = 9.0
ROOM = 8.0
"""Between what is cut and the words above it, mm."""
MOST_COLUMNS = 130


@dataclass(frozen=True, eq=False)
class Words:
    """A line of text: `at` is the left end of its foot, or the middle of it."""

    at: tuple[float, float]
    text: str
    height: float
    middle: bool = False


@dataclass(frozen=True, eq=False)
class Drawing:
    """One file: lines by layer, and notes."""

    name: str
    lines: tuple[Line, ...]
    words: tuple[Words, ...]
    strokes: tuple[Array, ...]
    """Open lines (n, 2) of the notes."""
    width: float
    """Size of the page, mm; the zero point is its lower left corner."""
    height: float
    blanks: tuple[Laid, ...] = ()
    """Those of inserts, as they lie on the page."""


@dataclass(frozen=True)
class _Marks:
    """What lies on the panel in every file."""

    box: Box
    """The panel."""
    strokes: tuple[Array, ...]
    words: tuple[Words, ...]


def drawings(stack: Stack, batches: Sequence[Batch]) -> list[Drawing]:
    """Pockets and inserts of each batch."""
    made: list[Drawing] = []
    notes: list[list[str]] = []
    panel, numbers, marks = stack.design.panel, glue_numbers(stack), _marks(stack)
    width = panel.width
    for batch in batches:
        blanks = [_blank(stack, cut) for cut in batch.inserts]
        said = [_blank_said(one, numbers[one.cut.placed.index]) for one in blanks]
        wide = [max(map(_wide, (*texts, LONGEST_PLACE))) for texts in said]
        laid = laid_out(blanks, wide, max(panel.width, width) - MARK, (MARK + 2, MARK))
        width = max([width, *(float(math.ceil(one.blank[2] + MARK)) for one in laid)])
        name = f"batch-{batch.number:02}"
        made += [_pockets(batch.pockets, numbers, f"{name}-pockets", marks), _inserts(laid, said, f"{name}-inserts")]
        notes += [pocket_notes(stack, batch.pockets, batch.number), insert_notes(stack, laid, batch.number)]
    return _on_one_page(stack, made, notes, width, marks)


def _on_one_page(
    stack: Stack, made: Sequence[Drawing], notes: Sequence[Sequence[str]], width: float, marks: _Marks
) -> list[Drawing]:
    """All drawings with the same page and marks, their words above what is cut."""
    letter = max(LETTER, width / LETTERS_ACROSS)
    columns = max(30, min(MOST_COLUMNS, int(width / (letter * 0.72))))
    wrapped = [
        [line for note in some for line in textwrap.wrap(note, columns, break_on_hyphens=False)] for some in notes
    ]
    step = letter * LINE_HEIGHT
    feet = [max(stack.design.panel.height, _top(drawing)) + ROOM for drawing in made]
    tops = [foot + step * len(lines) for foot, lines in zip(feet, wrapped, strict=True)]
    height = math.ceil(max(tops, default=stack.design.panel.height) + ROOM)
    result = []
    for drawing, lines, top in zip(made, wrapped, tops, strict=True):
        words = [Words((2.0, top - step * row), text, letter) for row, text in enumerate(lines, 1)]
        result.append(
            replace(
                drawing,
                words=(*words, *marks.words, *drawing.words),
                strokes=(*marks.strokes, *drawing.strokes),
                width=width,
                height=height,
            )
        )
    return result


def _top(drawing: Drawing) -> float:
    return max((float(points[:, 1].max()) for points in drawing.strokes if len(points)), default=0.0)


def _marks(stack: Stack) -> _Marks:
    """An angle in each corner of the raw panel, and the zero point."""
    panel = stack.design.panel
    corners = [(x, y) for x in (0.0, panel.width) for y in (0.0, panel.height)]
    strokes = []
    for x, y in corners:
        u, v = (MARK if x == 0 else -MARK), (MARK if y == 0 else -MARK)
        strokes.append(np.array([[x + u, y], [x, y], [x, y + v]]))
    return _Marks((0.0, 0.0, panel.width, panel.height), tuple(strokes), (Words((1.5, 1.5), "0, 0", LABEL),))


# --- Pockets --------------------------------------------------------------------------------------------------------


def _pockets(pockets: Sequence[PocketCut], numbers: Mapping[int, int], name: str, marks: _Marks) -> Drawing:
    lines = _in_order(line for cut in pockets for line in cut.lines)
    grooves = [shapely.get_coordinates(ring) for cut in pockets if cut.placed.piece.is_groove
               for ring in shapely.get_rings(shapely.get_parts(cut.shape))]  # fmt: skip
    rings = [line.points for line in lines if line.layer != "GROOVE_CENTRE"]
    room = Room(marks.box, [*(line.points for line in lines), *grooves, *marks.strokes], [*rings, *grooves])
    words, strokes = [], []
    for cut in pockets:
        said = pocket_said(cut, numbers[cut.placed.index])
        for part in _labelled_parts(cut):
            spot, text = _label_place(room, part, (said, str(numbers[cut.placed.index])))
            words.append(Words((spot.box[0] + 0.5, spot.box[1] + 0.4), text, LABEL))
            strokes += [spot.leader] if spot.leader is not None else []
    return Drawing(name, lines, tuple(words), tuple(strokes), 0.0, 0.0)


def _labelled_parts(cut: PocketCut) -> Iterable[shapely.Geometry]:
    """What is labelled of a pocket: each part; of a groove its middle line, which alone is drawn."""
    if cut.placed.centre_line is not None and cut.placed.piece.is_groove:
        return (shapely.buffer(shapely.linestrings(cut.placed.centre_line), 0.05),)
    parts: Iterable[shapely.Geometry] = shapely.get_parts(cut.shape)
    return parts


def pocket_said(cut: PocketCut, number: int) -> str:
    """What is said of a pocket beside its line."""
    leans = f", walls lean {cut.placed.piece.taper:g}°" if cut.placed.piece.taper else ""
    return f"{number}  {cut.placed.piece.id}  {cut.setup.depth_text} deep{leans}"


def _label_place(room: Room, shape: shapely.Geometry, texts: Sequence[str]) -> tuple[Spot, str]:
    """Where a label stands, in its piece or beside it; on a crowded panel its number alone, at worst over lines."""
    middle = inside(shape)
    for text in texts:
        size = (_wide(text) + 1, LABEL + 1)
        spot = room.inside(shape, size, middle) or room.beside(shape, size)
        if spot is not None:
            return spot, text
    return Spot((*middle, *middle)), texts[-1]


def _wide(text: str) -> float:
    """Width of a label, mm, at most."""
    return LABEL * WIDEST_LETTER * len(text)


def _in_order(lines: Iterable[Line]) -> tuple[Line, ...]:
    """Lines by layer, then by depth and cutter."""
    layers = list(LAYERS)
    return tuple(sorted(lines, key=lambda line: (layers.index(line.layer), line.setup)))


# --- Inserts --------------------------------------------------------------------------------------------------------


def _inserts(laid: Sequence[Laid], said: Sequence[Sequence[str]], name: str) -> Drawing:
    lines = _in_order(line for one in laid for line in one.lines)
    words: list[Words] = []
    strokes: list[Array] = []
    for one, texts in zip(laid, said, strict=True):
        left, bottom, _, _ = one.blank
        place = f"its corner at {left:g}, {bottom:g}"
        words += [Words((left, bottom - 3.6 * row), text, LABEL) for row, text in enumerate((*texts, place), 1)]
        strokes += [*insert_strokes(one), *one.seams]
    return Drawing(name, lines, tuple(words), tuple(strokes), 0.0, 0.0, tuple(laid))


def _blank(stack: Stack, cut: InsertCut) -> Laid:
    """An insert on its blank, which is glued up where no board is wide enough."""
    design, piece = stack.design, cut.placed.piece
    one = on_blank(cut, design.workshop.min_neck)
    if piece.blank is not None:
        return one
    leaves, wide = glued_leaves(design, piece.wood, one.width, cut.thickness, piece.leaves)
    return replace(one, leaves=leaves, leaf_width=wide) if leaves > 1 else one


def _blank_said(one: Laid, number: int) -> tuple[str, str]:
    """What is said of an insert below its blank."""
    piece = one.cut.placed.piece
    wood = piece.wood if one.leaves == 1 else f"{piece.wood}, {one.leaves} leaves"
    if piece.blank is not None:
        wood = " + ".join(dict.fromkeys(stripe.wood for stripe in piece.blank.stripes))
    mirrored = "  FACE DOWN, mirrored" if one.cut.face_down else ""
    size = f"blank {one.length:.1f} × {one.width:.1f} × {one.cut.thickness:.2f}"
    return f"{number}  {one.cut.name}  {wood}{mirrored}", size


def insert_strokes(one: Laid) -> list[Array]:
    """The blank, its grain arrow, the arrow that points up on the panel, and marks for tabs."""
    left, bottom, right, top = one.blank
    blank = np.array([[left, bottom], [right, bottom], [right, top], [left, top], [left, bottom]])
    strokes = [blank, *arrow(np.array([(left + right) / 2, bottom + 2.2]), np.array([1.0, 0.0]), ARROW, both=True)]
    up = one.turn @ np.array([0.0, 1.0])
    strokes += arrow(np.array([left - 6.5, (bottom + top) / 2]), up, ARROW)
    width = one.cut.placed.piece.cutter_diameter
    for at, out in one.tabs:
        along = np.array([-out[1], out[0]]) * TAB / 2
        strokes += [np.array([at + along, at + along + out * width]), np.array([at - along, at - along + out * width])]
    return strokes


def arrow(middle: Array, unit: Array, length: float, *, both: bool = False) -> list[Array]:
    """An arrow of strokes; with two heads where it has no front."""
    left = np.array([-unit[1], unit[0]])
    start, tip = middle - unit * length / 2, middle + unit * length / 2
    back = min(1.0, length / ARROW) * 2.2
    head = [tip - unit * back + left * back / 2, tip, tip - unit * back - left * back / 2]
    strokes = [np.array([start, tip]), np.array(head)]
    if both:
        strokes.append(np.array([start + unit * back + left * back / 2, start, start + unit * back - left * back / 2]))
    return strokes
