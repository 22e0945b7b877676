"""Full-size templates for those who trace and saw by hand, and what proves the lines: all as one PDF.

Lines are those where one saws along them: a pocket's at the raw face, an insert's at its own upper side. Pockets are
hatched inside and inserts outside: that is waste.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..cutter.taper import section_at
from ..pages.pdf import FADED, INK, RULE, Paper
from ..stack.stack import PlacedPiece, Stack
from ..views.exploded import glue_numbers
from .cuts import InsertCut, PocketCut
from .labels import Room
from .marked import ARROW_BESIDE, Marked, Shown, arrow_beside, grain_arrow, marked
from .paper import THIN, Sheets, Tile, rings_of, thinned
from .proof import Proof, points_along
from .slanting import slanting

Array = npt.NDArray[np.float64]

POCKET, INSERT, WASTE, SWEPT = "#b00020", "#0040c0", "#8a8a8a", "#f0d9a8"
MARGIN = 8.0
"""Round an insert on its sheet, mm."""
WASTE_SHOWN = 3.5
"""Width of the waste that is hatched round an insert, mm."""
GAP = 9.0
WORDS = 6.5
"""Size of words beside shapes, points."""
SLIVER = 0.5
"""A smaller part of a piece, mm², at the rim of a sheet is left to the neighbouring sheet, which shows it whole."""
SCRAP = 40.0
"""A smaller part of a piece, mm², has its line on the sheet, but its label on the neighbouring sheet alone."""
DISC_STEP = 6.0
"""The cutter's disc is drawn so far apart along its way, mm."""


def templates_pdf(stack: Stack, proofs: Sequence[Proof], paper: Paper) -> bytes:
    """The PDF: for each batch its pockets, its inserts and its proof."""
    title = stack.design.title or "Panel"
    sheets, numbers = Sheets(paper, f"{title}: full-size templates"), glue_numbers(stack)
    for number in range(1, len(stack.batches) + 1):
        pieces = [Shown(stack.pieces[i], numbers[i], stack.pieces[i].pocket) for i in stack.batches[number - 1]]
        heading = f"{title}: batch {number} of {len(stack.batches)}"
        _pockets(sheets, stack, pieces, heading)
        _inserts(sheets, pieces, heading)
        own = [proof for proof in proofs if proof.cut.placed.batch == number]
        _proof_sheet(sheets, stack, own, heading)
    return sheets.finish()


# --- Pockets --------------------------------------------------------------------------------------------------------


def _pockets(sheets: Sheets, stack: Stack, pieces: Sequence[Shown], heading: str) -> None:
    panel = stack.design.panel
    thin = shapely.simplify([piece.shape for piece in pieces], THIN)
    for tile in sheets.tiles(panel.width, panel.height):
        seen = shapely.intersection(thin, shapely.box(*tile.box))
        here = [
            replace(piece, shape=part)
            for piece, parts in zip(pieces, seen, strict=True)
            for part in shapely.get_parts(parts)
            if shapely.area(part) > min(SLIVER, shapely.area(piece.placed.pocket) / 2)
        ]
        if here:
            signs = tile_marks(sheets, stack, here, tile)
            head, words = f"{heading}, pockets, sheet {tile.name}", pocket_words(tile, signs)
            sheets.sheet(head, words, lambda: _tile(sheets, stack, here, signs, tile), tile.box[:2])  # noqa: B023 - drawn at once


def pocket_words(tile: Tile, signs: Sequence[Marked]) -> str:
    """What is said at the head of a sheet of pockets."""
    unnamed = sum(one.spot is None for one in signs)
    return (
        "Pockets at full size: the red line is a pocket's edge at the face, hatched is cut away. Inserts have sheets "
        f"of their own. Sheet {tile.name} of {tile.rows} × {tile.columns}: lay its crosses on those of its neighbours."
        + (f" No room for the words of {unnamed} pieces: the map in the bench sheet numbers them." if unnamed else "")
    )


def tile_marks(sheets: Sheets, stack: Stack, pieces: Sequence[Shown], tile: Tile) -> list[Marked]:
    """Labels and arrows of the pockets on a sheet, of which this much is seen; none meets a line."""
    dashed, crosses = sheets.seam_lines(tile)
    rings = pocket_rings(sheets, pieces)
    room = Room(tile.box, [*rings, *_middle_lines(pieces)], rings, [*dashed, *crosses, _border(stack)])
    named = [one for one in pieces if one.shape.area > min(SCRAP, one.placed.pocket.area / 4)]
    return marked(room, named, _said, lambda text: sheets.width(text, WORDS))


def tile_lines(sheets: Sheets, stack: Stack, pieces: Sequence[Shown], tile: Tile) -> list[Array]:
    """All lines of a sheet of pockets but for hatching, labels and arrows."""
    dashed, crosses = sheets.seam_lines(tile)
    return [*pocket_rings(sheets, pieces), *_middle_lines(pieces), *dashed, *crosses, _border(stack)]


def _middle_lines(pieces: Sequence[Shown]) -> list[Array]:
    """Those of grooves."""
    return [one.placed.centre_line for one in pieces if one.placed.centre_line is not None]


def pocket_rings(sheets: Sheets, pieces: Sequence[Shown]) -> list[Array]:
    """The edges of pockets, whole and each once."""
    return [ring for placed in _placed(pieces) for ring in sheets.rings(placed.pocket)]


def _placed(pieces: Sequence[Shown]) -> list[PlacedPiece]:
    return list({one.placed.index: one.placed for one in pieces}.values())


def _border(stack: Stack) -> Array:
    panel = stack.design.panel
    return np.array([(0.0, 0.0), (panel.width, 0.0), (panel.width, panel.height), (0.0, panel.height), (0.0, 0.0)])


def _tile(sheets: Sheets, stack: Stack, pieces: Sequence[Shown], signs: Sequence[Marked], tile: Tile) -> None:
    """A sheet with pockets, their labels and arrows."""
    sheets.stroke(_border(stack), FADED, 0.5)
    placed_here = _placed(pieces)
    for placed in placed_here:
        free = [ring for one in signs if one.shown.placed is placed for ring in one.free]
        sheets.hatch(placed.pocket, WASTE, free)
    for placed in placed_here:
        sheets.outline(placed.pocket, POCKET, 0.6)
        if placed.piece.is_groove and placed.centre_line is not None:
            sheets.stroke(placed.centre_line, POCKET, 0.3, (6, 2, 1, 2))
    sheets.seams(tile)
    for one in signs:
        _mark(sheets, one)


def _mark(sheets: Sheets, one: Marked) -> None:
    sheets.strokes(one.arrow, INK, 0.5)
    if one.spot is None:
        return
    if one.spot.leader is not None:
        sheets.stroke(one.spot.leader, INK, 0.25)
        sheets.circles(one.spot.leader[1:], 0.25, INK, 0.4)
    sheets.words(*one.text_at, one.text, WORDS)


def _said(shown: Shown) -> str:
    piece = shown.placed.piece
    leans = f", walls lean {piece.taper:g}°" if piece.taper else ""
    return f"{shown.number}  {piece.id}  {piece.pocket_depth:.2f} deep{leans}"


# --- Inserts --------------------------------------------------------------------------------------------------------


def _inserts(sheets: Sheets, pieces: Sequence[Shown], heading: str) -> None:
    """Inserts seen from their faces, as many on a sheet as fit; one larger than a sheet over several."""
    cut_out = [part for piece in pieces if not piece.placed.piece.is_groove for part in insert_parts(piece)]
    across, up = sheets.room
    needs = [(_needs(sheets, one), one) for one in cut_out]
    small = [(need, one) for need, one in needs if need[0] <= across and need[1] <= up]
    large = [one for need, one in needs if not (need[0] <= across and need[1] <= up)]
    words = (
        "Inserts at full size, seen from the face, as they lie on the panel: the blue line is the edge of their upper "
        "sides, hatched is waste. One that leans gets narrower downwards."
    )
    pages = _packed(small, across, up)
    for number, page in enumerate(pages, 1):
        sheets.sheet(
            f"{heading}, inserts, sheet {number} of {len(pages)}",
            words,
            lambda: _insert_page(sheets, page),  # noqa: B023
        )
    for one in large:
        left, bottom, right, top = one.shape.bounds
        shape = shapely.transform(one.shape, lambda points: points - [left, bottom] + MARGIN)  # noqa: B023
        for tile in sheets.tiles(right - left + 2 * MARGIN, top - bottom + 2 * MARGIN):
            if shapely.intersects(shapely.box(*tile.box), shape):
                head = f"{heading}, insert {one.placed.piece.id}, sheet {tile.name}"
                said = f"{words} Sheet {tile.name} of {tile.rows} × {tile.columns}: lay its crosses on its neighbours'."
                sheets.sheet(head, said, lambda: _large(sheets, replace(one, shape=shape), tile), tile.box[:2])  # noqa: B023


def insert_parts(piece: Shown) -> list[Shown]:
    """The parts of an insert, each with its upper side, along whose edge it is sawn."""
    placed = piece.placed
    parts = shapely.get_parts(section_at(placed.insert, placed.piece.taper, -placed.top))
    names = [f" ({number} of {len(parts)})" if len(parts) > 1 else "" for number in range(1, len(parts) + 1)]
    return [replace(piece, shape=part, part=name) for part, name in zip(parts, names, strict=True)]


Size = tuple[float, float]


def _needs(sheets: Sheets, one: Shown) -> Size:
    """Width and height on a sheet, mm, with its words."""
    left, bottom, right, top = one.shape.bounds
    words = sheets.width(_insert_said(one), WORDS) + 2 * (ARROW_BESIDE + 2)
    return max(right - left + 2 * MARGIN, words), top - bottom + 2 * MARGIN + GAP


def _packed(parts: Sequence[tuple[Size, Shown]], across: float, up: float) -> list[list[Shown]]:
    """Parts in rows from above, page after page."""
    pages: list[list[Shown]] = []
    x, y, row = math.inf, up, 0.0
    for (wide, high), one in sorted(parts, key=lambda each: -each[0][1]):
        part = one.shape
        if x + wide > across:
            x, y, row = 0.0, y - row, high
            if y - high < 0 or not pages:
                pages.append([])
                y = up
        left, _, right, top = part.bounds
        shift = np.array([x + (wide - right - left) / 2, y - MARGIN - top])
        pages[-1].append(replace(one, shape=shapely.transform(part, lambda points: points + shift)))  # noqa: B023
        x += wide
    return pages


def _insert_page(sheets: Sheets, page: Sequence[Shown]) -> None:
    for one in page:
        _insert(sheets, one.shape)
        left, bottom, right, _ = one.shape.bounds
        text, y = _insert_said(one), bottom - MARGIN
        wide, (strokes, _) = sheets.width(text, WORDS), grain_arrow(one)
        x = max((left + right - wide) / 2, ARROW_BESIDE + 2)
        sheets.words(x, y - 0.8, text, WORDS)
        sheets.strokes(strokes or arrow_beside(one, np.array([x - ARROW_BESIDE / 2 - 1.5, y])), INK, 0.5)


def _large(sheets: Sheets, one: Shown, tile: Tile) -> None:
    seen = replace(one, shape=shapely.intersection(one.shape, shapely.box(*tile.box)))
    dashed, crosses = sheets.seam_lines(tile)
    room = Room(tile.box, sheets.rings(one.shape), sheets.rings(one.shape), [*dashed, *crosses])
    _insert(sheets, one.shape)
    sheets.seams(tile)
    for each in marked(room, [seen], _insert_said, lambda text: sheets.width(text, WORDS)):
        _mark(sheets, each)


def _insert(sheets: Sheets, shape: BaseGeometry) -> None:
    rings = sheets.rings(shape)
    round_it = shapely.buffer(shapely.polygons(rings[0], rings[1:] or None), WASTE_SHOWN, quad_segs=8)
    sheets.strokes(slanting([*rings, *rings_of(round_it)], 2.0), WASTE, 0.2)
    sheets.outline(shape, INSERT, 0.5)


def _insert_said(shown: Shown) -> str:
    piece = shown.placed.piece
    leans = f", leans {piece.taper:g}°" if piece.taper else ""
    return f"{shown.number}  {piece.id}{shown.part}  {piece.wood}  {piece.insert_thickness:.2f} thick{leans}"


# --- Proof ----------------------------------------------------------------------------------------------------------


def _proof_sheet(sheets: Sheets, stack: Stack, proofs: Sequence[Proof], heading: str) -> None:
    """What the cutter leaves, small: its disc along each line, and how far that is from the solids."""
    pockets = [proof for proof in proofs if isinstance(proof.cut, PocketCut)]
    inserts = [proof for proof in proofs if isinstance(proof.cut, InsertCut)]
    worst = max((proof.difference for proof in proofs), default=0.0)
    words = (
        f"Not at full size. The cutter was run along {len(pockets)} pockets and {len(inserts)} inserts: what it leaves "
        f"is within {worst:.3f} mm of the solids."
    )
    sheets.sheet(f"{heading}, proof", words, lambda: _proof(sheets, stack, proofs), full_size=False)


def _proof(sheets: Sheets, stack: Stack, proofs: Sequence[Proof]) -> None:
    panel = stack.design.panel
    across, up = sheets.room
    half = (up - 20) / 2
    scale = min(across / panel.width, half / panel.height)
    for place, kind in enumerate((PocketCut, InsertCut)):
        own = [proof for proof in proofs if isinstance(proof.cut, kind)]
        foot = up - (place + 1) * (scale * panel.height + 8)
        name = (
            "Pockets: sand is what is cleared"
            if kind is PocketCut
            else "Inserts, where they will lie: sand is what is left"
        )
        sheets.words(0, foot + scale * panel.height + 2, name, 8)
        sheets.canvas.saveState()
        sheets.canvas.translate(0, foot * 72 / 25.4)
        sheets.canvas.scale(scale, scale)
        sheets.stroke(np.array(shapely.box(0, 0, panel.width, panel.height).exterior.coords), RULE, 0.5 / scale)
        for proof in own:
            sheets.fill(proof.swept, SWEPT)
            _discs(sheets, proof, 0.2 / scale)
            sheets.outline(proof.cut.shape, POCKET if kind is PocketCut else INSERT, 0.4 / scale)
        sheets.canvas.restoreState()


def _discs(sheets: Sheets, proof: Proof, width: float) -> None:
    """The cutter's disc here and there along its way."""
    radius = proof.cut.placed.piece.cutter_radius
    for line in thinned(shapely.get_parts(proof.path)):
        sheets.circles(points_along(line, DISC_STEP), radius, WASTE, width)
