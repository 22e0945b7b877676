"""Full-size templates for those who trace and saw by hand, and what proves the lines: all as one PDF.

Lines are those at the face, where one saws along them. Pockets are hatched inside and inserts outside: that is waste.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..pages.pdf import FADED, RULE, Paper
from ..stack.stack import PlacedPiece, Stack
from ..views.exploded import glue_numbers
from ..witness import inside
from .cuts import InsertCut, PocketCut
from .drawing import ARROW, arrow
from .paper import THIN, Sheets, Tile, rings_of, slanting, thinned
from .proof import Proof, points_along

POCKET, INSERT, WASTE, SWEPT = "#b00020", "#0040c0", "#8a8a8a", "#f0d9a8"
MARGIN = 8.0
"""Round an insert on its sheet, mm."""
WASTE_SHOWN = 3.5
"""So much of the waste round an insert is hatched, mm."""
GAP = 9.0
WORDS = 6.5
"""Size of words beside shapes, points."""
LABEL_BELOW = 7.0
"""How far below the grain arrow its label stands, mm."""
DISC_STEP = 6.0
"""The cutter's disc is drawn so far apart along its way, mm."""


@dataclass(frozen=True, eq=False)
class _Shown:
    """What a sheet shows of a piece."""

    placed: PlacedPiece
    number: int
    shape: BaseGeometry
    part: str = ""
    """Which part of the piece it is, where there are several."""


def templates_pdf(stack: Stack, proofs: Sequence[Proof], paper: Paper) -> bytes:
    """The PDF: for each batch its pockets, its inserts and its proof."""
    title = stack.design.title or "Panel"
    sheets, numbers = Sheets(paper, f"{title}: full-size templates"), glue_numbers(stack)
    for number in range(1, len(stack.batches) + 1):
        pieces = [_Shown(stack.pieces[i], numbers[i], stack.pieces[i].pocket) for i in stack.batches[number - 1]]
        heading = f"{title}: batch {number} of {len(stack.batches)}"
        _pockets(sheets, stack, pieces, heading)
        _inserts(sheets, pieces, heading)
        own = [proof for proof in proofs if proof.cut.placed.batch == number]
        _proof_sheet(sheets, stack, own, heading)
    return sheets.finish()


# --- Pockets --------------------------------------------------------------------------------------------------------


def _pockets(sheets: Sheets, stack: Stack, pieces: Sequence[_Shown], heading: str) -> None:
    panel = stack.design.panel
    tiles = list(sheets.tiles(panel.width, panel.height))
    thin = shapely.simplify([piece.shape for piece in pieces], THIN)
    for tile in tiles:
        seen = shapely.intersection(thin, shapely.box(*tile.box))
        here = [replace(piece, shape=part) for piece, part in zip(pieces, seen, strict=True) if not part.is_empty]
        if here:
            words = (
                "Pockets at full size: red is the pocket, hatched is cut away; blue is the insert. "
                f"Sheet {tile.name} of {tile.rows} × {tile.columns}: lay its crosses on those of its neighbours."
            )
            sheets.sheet(f"{heading}, pockets, sheet {tile.name}", words, lambda: _tile(sheets, stack, here, tile),  # noqa: B023 - drawn at once
                         tile.box[:2])  # fmt: skip


def _tile(sheets: Sheets, stack: Stack, pieces: Sequence[_Shown], tile: Tile) -> None:
    """A sheet with the pockets of pieces, of which this much is seen."""
    panel = stack.design.panel
    corners = [(0.0, 0.0), (panel.width, 0.0), (panel.width, panel.height), (0.0, panel.height), (0.0, 0.0)]
    sheets.stroke(np.array(corners), FADED, 0.5)
    for piece in pieces:
        sheets.hatch(piece.placed.pocket, WASTE)
    for piece in pieces:
        placed = piece.placed
        sheets.outline(placed.insert, INSERT, 0.3)
        sheets.outline(placed.pocket, POCKET, 0.5)
        if placed.piece.is_groove and placed.centre_line is not None:
            sheets.stroke(placed.centre_line, POCKET, 0.3, (6, 2, 1, 2))
        x, y = inside(piece.shape)
        _grain(sheets, placed, (x, y))
        sheets.middle_words(x, y - LABEL_BELOW, _said(piece), WORDS, tile.box[0], tile.box[2])
    sheets.seams(tile)


def _said(shown: _Shown) -> str:
    piece = shown.placed.piece
    leans = f", walls lean {piece.taper:g}°" if piece.taper else ""
    return f"{shown.number}  {piece.id}  {piece.pocket_depth:.2f} deep{leans}"


def _grain(sheets: Sheets, placed: PlacedPiece, at: tuple[float, float]) -> None:
    if placed.piece.is_groove:
        return
    angle = math.radians(placed.grain)
    sheets.strokes(arrow(np.array(at), np.array([math.cos(angle), math.sin(angle)]), ARROW, both=True), FADED, 0.4)


# --- Inserts --------------------------------------------------------------------------------------------------------


def _inserts(sheets: Sheets, pieces: Sequence[_Shown], heading: str) -> None:
    """Inserts seen from their faces, as many on a sheet as fit; one larger than a sheet over several."""
    cut_out = [part for piece in pieces if not piece.placed.piece.is_groove for part in _parts(piece)]
    across, up = sheets.room
    needs = [(_needs(sheets, one), one) for one in cut_out]
    small = [(need, one) for need, one in needs if need[0] <= across and need[1] <= up]
    large = [one for need, one in needs if not (need[0] <= across and need[1] <= up)]
    words = (
        "Inserts at full size, seen from the face, as they lie on the panel: blue is the saw line, hatched is waste. "
        "One that leans gets narrower downwards."
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


def _parts(piece: _Shown) -> list[_Shown]:
    parts = shapely.get_parts(piece.placed.insert)
    names = [f" ({number} of {len(parts)})" if len(parts) > 1 else "" for number in range(1, len(parts) + 1)]
    return [replace(piece, shape=part, part=name) for part, name in zip(parts, names, strict=True)]


Size = tuple[float, float]


def _needs(sheets: Sheets, one: _Shown) -> Size:
    """Width and height on a sheet, mm, with its words."""
    left, bottom, right, top = one.shape.bounds
    words = sheets.width(_insert_said(one), WORDS)
    return max(right - left + 2 * MARGIN, words + 3), top - bottom + 2 * MARGIN + GAP


def _packed(parts: Sequence[tuple[Size, _Shown]], across: float, up: float) -> list[list[_Shown]]:
    """Parts in rows from above, page after page."""
    pages: list[list[_Shown]] = []
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


def _insert_page(sheets: Sheets, page: Sequence[_Shown]) -> None:
    for one in page:
        _insert(sheets, one)
        left, bottom, right, _ = one.shape.bounds
        sheets.middle_words((left + right) / 2, bottom - MARGIN - 2.5, _insert_said(one), WORDS, left=0.0)


def _large(sheets: Sheets, one: _Shown, tile: Tile) -> None:
    _insert(sheets, one)
    x, y = inside(shapely.intersection(one.shape, shapely.box(*tile.box)))
    sheets.middle_words(x, y - LABEL_BELOW, _insert_said(one), WORDS, tile.box[0], tile.box[2])
    sheets.seams(tile)


def _insert(sheets: Sheets, one: _Shown) -> None:
    rings = sheets.rings(one.shape)
    round_it = shapely.buffer(shapely.polygons(rings[0], rings[1:] or None), WASTE_SHOWN, quad_segs=8)
    sheets.strokes(slanting([*rings, *rings_of(round_it)], 2.0), WASTE, 0.2)
    sheets.outline(one.shape, INSERT, 0.5)
    _grain(sheets, one.placed, inside(one.shape))


def _insert_said(shown: _Shown) -> str:
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
            _discs(sheets, proof)
            sheets.outline(proof.cut.shape, POCKET if kind is PocketCut else INSERT, 0.25 / scale)
        sheets.canvas.restoreState()


def _discs(sheets: Sheets, proof: Proof) -> None:
    """The cutter's disc here and there along its way."""
    radius = proof.cut.placed.piece.cutter_radius
    for line in thinned(shapely.get_parts(proof.path)):
        sheets.circles(points_along(line, DISC_STEP), radius, WASTE, 0.2)
