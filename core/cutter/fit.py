"""What the cutter makes of an outline: the pocket that it can reach and the insert that it leaves.

All in the outline's own frame (scaled; not yet mirrored, turned or moved), so that moving a piece
never rounds it again. Rules: design notes on *Cutter*, *Fit outline*, *As drawn*, *Grooves*.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import EMPTY, all_without_noise, quadrant_segments, without_noise
from ..cores import shared
from ..design import Piece
from ..faults import during
from ..kept import Kept
from ..outlines.piece_shape import Outline
from .rounding import RADIUS_SLACK, Shapes, closing, opening, rounded_fits, simplified
from .taper import inset, lean, settled

TOO_NARROW = "nothing is left of the pocket or the insert after rounding and clearance"
WALLS_MEET = "the walls of pocket or insert lean so far that they meet before the pocket's floor"
PARTS_MEET = (
    "its walls lean so far that two of its parts, or the sides of a gap or a hole in it, meet above the face, where "
    "inserts stand proud"
)


@dataclass(frozen=True)
class Fit:
    """Pocket and insert of one piece in its own frame, at the face (z = 0)."""

    pocket: BaseGeometry
    insert: BaseGeometry
    """As sawn; in a rounded fit it lies inside its pocket, drawn as drawn it may bind."""
    problem: str | None = None
    """Why there is no fit, in words; None where there is one."""


def drawn_in(shape: BaseGeometry, clearance: float) -> BaseGeometry:
    """The shape made smaller all round by `clearance` (larger where negative); walls keep their vertices."""
    drawn: BaseGeometry = all_drawn_in(np.array([shape], dtype=object), clearance)[0]
    return drawn


def all_drawn_in(shapes: Shapes, clearance: float) -> Shapes:
    """All of the shapes (n,) drawn in so."""
    if clearance == 0:
        return shapes
    return all_without_noise(shapely.buffer(shapes, -clearance, join_style="mitre", mitre_limit=5.0))


_ROUNDED: Kept[BaseGeometry] = Kept()


def fit_piece(outline: Outline, piece: Piece, proudest: float = 0.0) -> Fit:
    """Pocket and insert of one piece; see `fit_pieces`."""
    return fit_pieces([(piece, outline)], proudest)[0]


def fit_pieces(outlines: Sequence[tuple[Piece, Outline]], proudest: float = 0.0) -> list[Fit]:
    """Pocket and insert of each piece by its own fit, in its own frame. Rounding is kept per outline and radius.

    `proudest` is how far above the face wood may stand, its own or what its pocket is cut through, mm.
    """
    try:
        return _all_fits(outlines, proudest)
    except Exception:  # one after the other, so that a fault says of which piece it is
        fits = []
        for piece, outline in outlines:
            with during(f'piece "{piece.id}", its pocket and insert'):
                fits += _all_fits([(piece, outline)], proudest)
        return fits


def _all_fits(outlines: Sequence[tuple[Piece, Outline]], proudest: float) -> list[Fit]:
    pockets = _rounded_pockets(outlines)
    inserts = _drawn_in_inserts(outlines, pockets)
    return [
        _fit(outline, piece, proudest, pocket, insert)
        for (piece, outline), pocket, insert in zip(outlines, pockets, inserts, strict=True)
    ]


def _is_rounded(piece: Piece, outline: Outline) -> bool:
    return not (outline.shape.is_empty or piece.is_groove or piece.fit == "as-drawn")


def _rounded_pockets(outlines: Sequence[tuple[Piece, Outline]]) -> list[BaseGeometry | None]:
    """The fit outline of each piece that has a rounded fit: the very outline where rounding does not move it."""
    which = [i for i, (piece, outline) in enumerate(outlines) if _is_rounded(piece, outline)]
    shapes = np.array([outlines[i][1].shape for i in which], dtype=object)
    radii = np.array([outlines[i][0].corner_radius for i in which])

    def round_all(new: list[int]) -> list[BaseGeometry]:
        made = shapes[new]
        for radius in np.unique(radii[new]).tolist():
            same = radii[new] == radius
            made[same] = rounded_fits(made[same], radius)
        return list(made)

    subjects = list(zip(shapely.to_wkb(shapes, hex=True), radii.tolist(), strict=True))
    pockets: list[BaseGeometry | None] = [None] * len(outlines)
    for i, shape, fit in zip(which, shapes, _ROUNDED.of(subjects, round_all), strict=True):
        pockets[i] = shape if fit.equals_exact(shape, 0.0) else fit
    return pockets


def _drawn_in_inserts(
    outlines: Sequence[tuple[Piece, Outline]], pockets: Sequence[BaseGeometry | None]
) -> list[BaseGeometry | None]:
    """The insert of each piece with a rounded fit and upright walls."""
    which = [i for i, pocket in enumerate(pockets) if pocket is not None and not outlines[i][0].taper]
    clearances = np.array([outlines[i][0].side_clearance for i in which])
    inserts = np.full(len(outlines), None, dtype=object)
    for clearance in np.unique(clearances).tolist():
        same = [i for i, its in zip(which, clearances.tolist(), strict=True) if its == clearance]
        shapes = np.array([pockets[i] for i in same], dtype=object)
        inserts[same] = shared(lambda some, by=clearance: all_drawn_in(some, by), shapes)
    return list(inserts)


def _fit(
    outline: Outline, piece: Piece, proudest: float, rounded: BaseGeometry | None, upright: BaseGeometry | None
) -> Fit:
    """The fit of one piece, its rounded pocket and upright insert given, where it has them."""
    shape = outline.shape
    if shape.is_empty:
        return Fit(EMPTY, EMPTY, outline.problem)
    pocket, insert = rounded, upright or EMPTY
    if piece.is_groove:
        pocket, insert = shape, groove_strip(outline, piece)
    elif pocket is None:
        pocket, insert = as_drawn_fit(shape, piece)
    if piece.taper and not pocket.is_empty:
        inwards, outwards = _lean_reach(piece, proudest)
        calm = settled(pocket, inwards, outwards)
        if calm is None:
            why = PARTS_MEET if settled(pocket, inwards, 0.0) is not None else WALLS_MEET
            return Fit(EMPTY, EMPTY, why)
        pocket = calm
        sawn = insert if insert.is_empty else settled(insert, inwards, outwards)
        if sawn is None:
            return Fit(EMPTY, EMPTY, WALLS_MEET)
        insert = sawn
        if insert.is_empty and not piece.is_groove:
            insert = inset(pocket, piece.side_clearance)
    problem = TOO_NARROW if pocket.is_empty or insert.is_empty else None
    return Fit(pocket, insert, problem)


def _lean_reach(piece: Piece, proudest: float) -> tuple[float, float]:
    """How far the walls of pocket and insert lie inside and outside the outline, from floor to the highest wood, mm."""
    clearance = piece.side_clearance
    inwards = lean(piece.taper, piece.pocket_depth) + max(clearance, 0.0)
    return inwards, lean(piece.taper, max(proudest, 0.0)) + max(-clearance, 0.0)


def stands_at(piece: Piece, panel_thickness: float) -> float:
    """z of an insert's top before any trimming, mm."""
    return piece.insert_thickness + piece.floor_gap - min(piece.pocket_depth, panel_thickness)


def as_drawn_fit(outline: BaseGeometry, piece: Piece) -> tuple[BaseGeometry, BaseGeometry]:
    """Pocket and sawn insert both cut along the drawn line: (opening, closing drawn in); corners may bind."""
    radius = piece.cutter_radius - RADIUS_SLACK
    sawn = closing(drawn_in(outline, piece.side_clearance), radius)
    pocket, insert = all_without_noise(simplified(np.array([opening(outline, radius), sawn], dtype=object)))
    return pocket, insert


def groove_strip(outline: Outline, piece: Piece) -> BaseGeometry:
    """The strip in a groove: the line's width less `strip_clearance` per side, ends square."""
    assert outline.centre_line is not None
    assert outline.width is not None
    half = outline.width / 2 - piece.strip_clearance
    if half <= 0:
        return EMPTY
    line = shapely.linestrings(outline.centre_line)
    strip = shapely.buffer(line, half, quad_segs=quadrant_segments(half), cap_style="flat")
    return without_noise(strip)
