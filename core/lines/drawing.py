"""The drawings of a panel's cut lines: for each batch its pockets and its inserts, with words and marks not cut.

All drawings of a set have the same page, zero point and registration marks: the raw panel's corners.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ..cutter.sizes import diameter_text
from ..measures.grooves import strip_length, strip_thickness
from ..stack.stack import PlacedPiece, Stack
from ..views.exploded import glue_numbers
from ..witness import inside
from .cuts import LAYERS, Batch, InsertCut, Line, PocketCut
from .layout import TAB, Laid, laid_out

Array = npt.NDArray[np.float64]

CLEARANCE_WORDS = "clearance is already in: set allowance to 0"
MARK = 10.0
"""Legs of the registration marks, mm."""
LETTER, LINE_HEIGHT = 3.0, 5.0
LABEL = 2.2
"""Height of a capital letter, mm; so are the other two."""
WIDEST_LETTER = 0.85
"""Width of letters in the heights of capital ones, as most typefaces without serifs have it."""
ARROW = 9.0
ROOM = 8.0
"""Between what is cut and the words above it, mm."""
MOST_COLUMNS = 200


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


def drawings(stack: Stack, batches: Sequence[Batch]) -> list[Drawing]:
    """Pockets and inserts of each batch."""
    made: list[Drawing] = []
    notes: list[list[str]] = []
    width, numbers = stack.design.panel.width, glue_numbers(stack)
    for batch in batches:
        said = [_insert_said(cut, numbers[cut.placed.index]) for cut in batch.inserts]
        wide = [LABEL * WIDEST_LETTER * len(words) for words in said]
        laid = laid_out(batch.inserts, wide, width, (MARK + 8, MARK), stack.design.workshop.min_neck)
        width = max([width, *(float(math.ceil(one.blank[2] + MARK)) for one in laid)])
        name = f"batch-{batch.number:02}"
        made += [_pockets(batch.pockets, numbers, f"{name}-pockets"), _inserts(laid, said, f"{name}-inserts")]
        notes += [_pocket_notes(stack, batch.pockets, batch.number), _insert_notes(stack, laid, batch.number)]
    return _on_one_page(stack, made, notes, width)


def _on_one_page(stack: Stack, made: Sequence[Drawing], notes: Sequence[Sequence[str]], width: float) -> list[Drawing]:
    """All drawings with the same page and marks, their words above what is cut."""
    columns = max(30, min(MOST_COLUMNS, int(width / (LETTER * 0.72))))
    wrapped = [
        [line for note in some for line in textwrap.wrap(note, columns, subsequent_indent="  ")] for some in notes
    ]
    tops = [_top(drawing) for drawing in made]
    foot = max([stack.design.panel.height, *tops]) + ROOM
    height = math.ceil(foot + LINE_HEIGHT * max((len(lines) for lines in wrapped), default=0) + ROOM)
    marks, names = _marks(stack)
    result = []
    for drawing, lines in zip(made, wrapped, strict=True):
        words = [Words((2.0, height - ROOM - LINE_HEIGHT * row), text, LETTER) for row, text in enumerate(lines)]
        result.append(
            replace(
                drawing,
                words=(*words, *names, *drawing.words),
                strokes=(*marks, *drawing.strokes),
                width=width,
                height=height,
            )
        )
    return result


def _top(drawing: Drawing) -> float:
    return max((float(points[:, 1].max()) for points in drawing.strokes if len(points)), default=0.0)


def _marks(stack: Stack) -> tuple[list[Array], list[Words]]:
    """An angle in each corner of the raw panel, and the zero point."""
    panel = stack.design.panel
    corners = [(x, y) for x in (0.0, panel.width) for y in (0.0, panel.height)]
    strokes = []
    for x, y in corners:
        u, v = (MARK if x == 0 else -MARK), (MARK if y == 0 else -MARK)
        strokes.append(np.array([[x + u, y], [x, y], [x, y + v]]))
    return strokes, [Words((1.5, 1.5), "0, 0", LABEL)]


# --- Pockets --------------------------------------------------------------------------------------------------------


def _pockets(pockets: Sequence[PocketCut], numbers: Mapping[int, int], name: str) -> Drawing:
    lines = tuple(line for layer in LAYERS for cut in pockets for line in cut.lines if line.layer == layer)
    words = []
    for cut in pockets:
        x, y = inside(cut.shape)
        said = f"{numbers[cut.placed.index]}  {cut.placed.piece.id}  {cut.depth:.2f} deep"
        words.append(Words((x, y), said, LABEL, middle=True))
    return Drawing(name, lines, tuple(words), (), 0.0, 0.0)


def _pocket_notes(stack: Stack, pockets: Sequence[PocketCut], batch: int) -> list[str]:
    """What a machine's operator must know of this file."""
    proud = max((stack.pieces[i].top for earlier in stack.batches[: batch - 1] for i in earlier), default=0.0)
    layers = [layer for layer in LAYERS if any(line.layer == layer for cut in pockets for line in cut.lines)]
    notes = [
        f"{_title(stack)}: batch {batch} of {len(stack.batches)}, pockets. Seen from the face. Millimetres.",
        "Zero: lower left corner of the raw panel, on its raw face. NOTES is never cut.",
        *(f"{layer}: {LAYERS[layer]}" for layer in layers),
        CLEARANCE_WORDS,
    ]
    if proud > 0:
        notes.append(
            f"Inserts of earlier batches may stand up to {proud:.2f} above the raw face: depths start at that face"
        )
    notes += _by(pockets, lambda cut: cut.depth, lambda depth: f"Depth {depth:.2f}")
    notes += _depth_error(stack.design.workshop.depth_error)
    notes += _cutters([cut.placed for cut in pockets])
    for cut in pockets:
        piece = cut.placed.piece
        if piece.is_groove:
            notes.append(f"{piece.id}: groove {piece.cutter_diameter:.3f} wide")
        elif piece.taper:
            notes.append(
                f"{piece.id}: its walls lean; its line is the outline {cut.plane}, where the tip of its cutter runs"
            )
    return notes


def _depth_error(error: float) -> list[str]:
    """What the workshop's pockets are off by: depths are written as designed."""
    if not error:
        return []
    way = "deeper" if error > 0 else "shallower"
    return [
        f"Depths are those of the design. By the workshop's depth_error pockets come out {abs(error):.2f} {way} than "
        "set, and the findings count on that. If you correct your machine instead, set depth_error to what is left"
    ]


def _by(cuts: Sequence[PocketCut], key: Callable[[PocketCut], float], words: Callable[[float], str]) -> list[str]:
    values = sorted({round(key(cut), 6) for cut in cuts})
    return [
        f"{words(value)}: {', '.join(cut.placed.piece.id for cut in cuts if round(key(cut), 6) == value)}"
        for value in values
    ]


def _cutters(pieces: Sequence[PlacedPiece]) -> list[str]:
    """Which cutter is for which pieces; where their walls lean, a tapered one, named by its tip."""
    ids: dict[tuple[float, float], list[str]] = {}
    for piece in (placed.piece for placed in pieces):
        of = ids.setdefault((piece.taper, piece.cutter_diameter), [])
        of += [piece.id] * (piece.id not in of)
    *few, most = sorted(ids, key=lambda key: len(ids[key]))
    named = [f"{_cutter(*key)}: {', '.join(ids[key])}" for key in few]
    return [*named, f"{_cutter(*most)}: all others" if few else f"{_cutter(*most)} for all"]


def _cutter(taper: float, diameter: float) -> str:
    if not taper:
        return f"Cutter {diameter_text(diameter)}"
    return f"Tapered cutter, {taper:g}° per side, {diameter_text(diameter)} at its tip"


# --- Inserts --------------------------------------------------------------------------------------------------------


def _inserts(laid: Sequence[Laid], said: Sequence[str], name: str) -> Drawing:
    lines = tuple(line for layer in LAYERS for one in laid for line in one.lines if line.layer == layer)
    words: list[Words] = []
    strokes: list[Array] = []
    for one, first in zip(laid, said, strict=True):
        left, bottom, _, _ = one.blank
        size = f"blank {one.length:.1f} × {one.width:.1f} × {one.cut.thickness:.2f}"
        words += [Words((left, bottom - 3.4), first, LABEL), Words((left, bottom - 6.8), size, LABEL)]
        strokes += insert_strokes(one)
    return Drawing(name, lines, tuple(words), tuple(strokes), 0.0, 0.0)


def _insert_said(cut: InsertCut, number: int) -> str:
    piece = cut.placed.piece
    wood = piece.wood if piece.leaves == 1 else f"{piece.wood}, {piece.leaves} leaves"
    if piece.blank is not None:
        wood = " + ".join(dict.fromkeys(stripe.wood for stripe in piece.blank.stripes))
    return f"{number}  {cut.name}  {wood}" + ("  FACE DOWN, mirrored" if cut.face_down else "")


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


def _insert_notes(stack: Stack, laid: Sequence[Laid], batch: int) -> list[str]:
    layers = [layer for layer in LAYERS if any(line.layer == layer for one in laid for line in one.lines)]
    notes = [
        f"{_title(stack)}: batch {batch} of {len(stack.batches)}, inserts, each on its blank. Millimetres.",
        "Zero: lower left corner of the sheet; in depth the table under the blanks: cut through. NOTES is never cut.",
        *(f"{layer}: {LAYERS[layer]}" for layer in layers),
        CLEARANCE_WORDS,
        "The arrow left of a blank points up on the panel; the one with two heads is the grain, along each blank. "
        "Between two short marks leave a tab, or tape; where there are none, tape or a carrier board",
    ]
    notes += _cutters([one.cut.placed for one in laid]) if laid else []
    notes += [_face_down(one.cut) for one in laid if one.cut.face_down]
    strips = [stack.pieces[i] for i in stack.batches[batch - 1] if stack.pieces[i].piece.is_groove]
    notes += [
        f"{placed.piece.id}: no line, but a strip of {placed.piece.wood}, {strip_thickness(placed):.2f} thick, "
        f"{placed.piece.insert_thickness:.2f} wide, {strip_length(placed):.1f} long, bent into its groove"
        for placed in strips
    ]
    return notes


def _face_down(cut: InsertCut) -> str:
    return (
        f"{cut.name}: face down on the table, so drawn as a mirror image; its walls lean; its line is the outline "
        f"{cut.plane}, where the tip of its cutter runs"
    )


def _title(stack: Stack) -> str:
    return stack.design.title or "Panel"
