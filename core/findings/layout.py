"""Findings of the layout: pieces and woods that cannot be used, depths, what is seen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely

from ..cutter.fit import PARTS_MEET, TOO_NARROW, WALLS_MEET
from ..cutter.taper import closing_depth, lean
from ..design import LineOutline, OwnWood
from ..measures.all_measures import Measures
from ..measures.outside import beyond_the_panel
from ..stack.stack import PlacedPiece
from ..witness import inside
from ..woods.species import find_wood, near_woods, woods_named
from .finding import Finding, Step, below, listed, of, somewhere, xy

# --- Pieces and woods that cannot be used ---------------------------------------------------------------------------


def bad_outline(m: Measures) -> Iterator[Finding]:
    """A ring crosses itself, or has no area."""
    for placed in m.stack.pieces:
        if placed.problem is not None and placed.outline.is_empty:
            at = placed.problem_at or placed.piece.at
            remedy = "Draw it again, so that no ring crosses or touches itself or another"
            yield of("error", "bad-outline", placed, at, placed.problem, remedy)


def empty_fit(m: Measures) -> Iterator[Finding]:
    """Nothing of the pocket or of the insert is left after rounding and clearance."""
    for placed in m.stack.pieces:
        if placed.problem is None or placed.outline.is_empty:
            continue
        words, remedy = _too_narrow(placed) if placed.problem == TOO_NARROW else _leaning(placed)
        yield of("error", "empty-fit", placed, inside(placed.outline), words, remedy)


def _too_narrow(placed: PlacedPiece) -> tuple[str, str]:
    piece, part = placed.piece, "pocket" if placed.pocket.is_empty else "insert"
    width = 2 * shapely.maximum_inscribed_circle(placed.outline, 0.001).length
    words = f"nothing of the {part} is left: the piece is {width:.2f} mm wide at its widest place"
    cut_at_face = 2 * (piece.cutter_radius + lean(piece.taper, piece.pocket_depth))
    if part == "pocket" and below(cut_at_face, width):
        words += f", and its corners are rounded to a radius of {piece.corner_radius:.2f} mm"
        return words, f"Draw it wider, or round its corners to a radius of less than {width / 2:.2f} mm"
    if piece.taper:
        tip = width - 2 * lean(piece.taper, piece.pocket_depth)
        words += f", where the tapered cutter needs {cut_at_face:.2f} mm at the face"
        finer = f"use a cutter with a tip of less than {tip:.2f} mm, or " if tip > 0 else ""
        return words, f"Draw it wider, {finer}cut it shallower or with less taper"
    return words, f"Draw it wider, or use a cutter of less than {width:.2f} mm and less clearance"


def _leaning(placed: PlacedPiece) -> tuple[str, str]:
    """Where it is not its width but its leaning walls that leave nothing."""
    piece = placed.piece
    if placed.problem == PARTS_MEET:
        return PARTS_MEET, "Move them apart, make two pieces of it, or give it less taper"
    words = f"{WALLS_MEET}, {piece.pocket_depth:.2f} mm down"
    if isinstance(piece.outline, LineOutline):
        depth = closing_depth(piece.outline.width * piece.scale, piece.taper)
        if below(depth, piece.pocket_depth):
            floor = f"its floor, {piece.pocket_depth:.2f} mm down"
            words = f"the walls of its groove lean by {piece.taper:g}° and meet {depth:.2f} mm down, before {floor}"
    return words, "Draw it wider, cut it shallower, or give it less taper"


def unknown_wood(m: Measures) -> Iterator[Finding]:
    """A wood that is neither in the species table nor one of the design's own."""
    own = m.stack.design.woods
    for background in m.stack.background:
        if find_wood(background.wood, own) is None:
            name = background.name.replace("background-", "background strip ").replace("-", ", segment ")
            words, remedy = _no_such_wood(background.wood, own)
            at = inside(background.box)
            yield Finding("error", "unknown-wood", None, None, at, f"{name} at {xy(at)}: {words}", remedy)
    for placed in m.stack.pieces:
        for wood in woods_named(placed.piece):
            if find_wood(wood, own) is None:
                words, remedy = _no_such_wood(wood, own)
                near = near_woods(wood, own=own)
                step = Step(placed.piece.id, "wood", near[0]) if near and wood == placed.piece.wood else None
                yield of("error", "unknown-wood", placed, somewhere(placed), words, remedy, step)


def _no_such_wood(name: str, own: Sequence[OwnWood]) -> tuple[str, str]:
    near = near_woods(name, own=own)
    remedy = f"Did you mean {' or '.join(near)}?" if near else "Choose one from the species table"
    return f'no wood is called "{name}"', remedy


# --- Panel and depth ------------------------------------------------------------------------------------------------


def outside_panel(m: Measures) -> Iterator[Finding]:
    """A pocket reaches beyond the raw panel, and not just over an edge that is trimmed off with it."""
    for part in beyond_the_panel(m.stack):
        placed = m.stack.pieces[part.piece]
        words = listed([f"{reach:.2f} mm beyond the {side} edge" for side, reach in part.sides])
        remedy = "Move it inward, make it smaller, or take a larger panel"
        reach = max(reach for _, reach in part.sides)
        yield of(
            "error", "outside-panel", placed, part.at, f"its pocket reaches {words} of the panel", remedy, value=reach
        )


def floor_too_thin(m: Measures) -> Iterator[Finding]:
    """A pocket goes through the panel (error), or leaves a floor below `min_floor` (warning)."""
    least, thickness = m.workshop.min_floor, m.panel.thickness
    for placed in m.sound:
        depth, at = placed.piece.pocket_depth, inside(placed.pocket)
        floor = thickness - depth - m.workshop.depth_error
        good = round(thickness - least - m.workshop.depth_error, 6)
        step = Step(placed.piece.id, "pocket_depth", good) if good > 0 else None
        remedy = (
            f"Cut the pocket at most {good:.2f} mm deep, or take a thicker panel" if step else "Take a thicker panel"
        )
        if not below(0, floor):
            words = f"a pocket {depth:.2f} mm deep{_error(m)} goes through the {thickness:.2f} mm panel"
            yield of("error", "floor-too-thin", placed, at, words, remedy, step, value=-floor)
        elif below(floor, least):
            words = (
                f"a pocket {depth:.2f} mm deep{_error(m)} leaves a floor of {floor:.2f} mm, less than {least:.2f} mm"
            )
            yield of("warning", "floor-too-thin", placed, at, words, remedy, step, value=-floor)


def _error(m: Measures) -> str:
    """What the workshop's depth error adds, in words."""
    error = m.workshop.depth_error
    return f", which comes out {abs(error):.2f} mm {'deeper' if error > 0 else 'shallower'}," if error else ""


def not_proud(m: Measures) -> Iterator[Finding]:
    """An insert's top lies below the finished face; where the face trim takes the whole pocket, that is told."""
    face = -m.panel.face_trim
    for placed in m.sound:
        top = _top(m, placed)
        if below(top, face) and not _trimmed_away(m, placed):
            thickness = placed.piece.insert_thickness + face - top + m.workshop.proud
            words = f"the insert's top lies {face - top:.2f} mm below the finished face"
            remedy = f"Saw the insert {thickness:.2f} mm thick, or cut its pocket shallower"
            step = Step(placed.piece.id, "insert_thickness", thickness)
            yield of("error", "not-proud", placed, inside(placed.insert), words, remedy, step, value=face - top)


def trimmed_away(m: Measures) -> Iterator[Finding]:
    """The face trim reaches a pocket's floor."""
    trim = m.panel.face_trim
    for placed in m.sound:
        if _trimmed_away(m, placed):
            words = f"a face trim of {trim:.2f} mm takes off all of a pocket {placed.depth:.2f} mm deep{_error(m)[:-1]}"
            remedy = f"Cut the pocket deeper than {trim:.2f} mm, or trim the face less"
            over = trim - placed.depth
            yield of("error", "trimmed-away", placed, inside(placed.pocket), words, remedy, value=over)


def _trimmed_away(m: Measures, placed: PlacedPiece) -> bool:
    return not below(m.panel.face_trim, placed.depth + m.workshop.depth_error)


def _top(m: Measures, placed: PlacedPiece) -> float:
    """z of an insert's top where its pocket comes out deeper or shallower than it is set."""
    return placed.top - m.workshop.depth_error


NAMED = 6
"""Pieces named that hide another; the others are counted."""


def hidden_piece(m: Measures) -> Iterator[Finding]:
    """Nothing of a piece is seen, though it stands high enough."""
    for placed in m.sound:
        low = _trimmed_away(m, placed) or below(_top(m, placed), -m.panel.face_trim)
        if low or not m.stack.remnants[placed.index].is_empty:
            continue
        if not placed.insert.intersects(m.stack.finished_box):
            words, remedy = "nothing of it shows: it lies in the trimmed edge", "Move it inward, or leave it out"
        elif placed.under:
            covers = [m.stack.pieces[j].piece.id for j in placed.under]
            most = covers if len(covers) <= NAMED else [*covers[:NAMED], f"{len(covers) - NAMED} more"]
            words = f"nothing of it shows: it is cut away by {listed(most)}"
            remedy = "Leave it out, move it, or list it later, so that it lies on top"
        else:
            words, remedy = "nothing of it shows", "Leave it out, or move it inward"
        yield of("warning", "hidden-piece", placed, inside(placed.insert), words, remedy)
