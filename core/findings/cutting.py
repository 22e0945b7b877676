"""Findings of cutting: what the cutter does to outlines, how deep it goes, and the wood that is laid under it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import cast

import shapely

from ..areas import NOISE_AREA
from ..cutter.sizes import diameter_text, suggest_for
from ..measures.all_measures import Measures
from ..measures.blanks import board_needed, leaves, too_deep_cuts, too_wide_blanks
from ..measures.rounded_places import Loss, Place
from ..stack.stack import PlacedPiece, grain_direction
from .causes import CORNERS
from .finding import Finding, Step, below, of

# --- What the cutter does to outlines -------------------------------------------------------------------------------


def cutter_too_big(m: Measures) -> Iterator[Finding]:
    """A part or a neck of the outline is lost, or a tip sharper than 60°."""
    yield from _losses(m, "cutter-too-big", m.cut, _CUT)


def notch_filled(m: Measures) -> Iterator[Finding]:
    """A hole, a gap or a notch sharper than 60° is filled, since the insert cannot be cut there."""
    yield from _losses(m, "notch-filled", m.filled, _FILLED)


_CUT = {
    Loss.PART: (
        "a part of {area} is lost: {cutter} does not get in",
        "Draw that part wider, leave it out, or use a smaller cutter",
    ),
    Loss.NECK: (
        "a neck of {area} is lost: {cutter} does not get through",
        "Draw the neck wider, make two pieces of it, or use a smaller cutter",
    ),
    Loss.TIP: (
        "{cutter} stops {reach} short of a tip and leaves out {area}",
        "Draw the tip round or blunter, hide it under a later piece, or use a smaller cutter",
    ),
}
_FILLED = {
    Loss.PART: (
        "a hole of {area} is filled: {cutter} does not get in",
        "Draw the hole larger, leave it out, or use a smaller cutter",
    ),
    Loss.NECK: (
        "a gap of {area} is closed: {cutter} does not get through",
        "Draw the gap wider, or use a smaller cutter",
    ),
    Loss.TIP: (
        "a notch is filled {reach} deep, {area}: {cutter} does not get in",
        "Draw the notch wider at its end, hide it under a later piece, or use a smaller cutter",
    ),
}


def _losses(m: Measures, code: str, places: list[Place], told: dict[Loss, tuple[str, str]]) -> Iterator[Finding]:
    """A finding for each place that is no plain corner."""
    for place in places:
        if place.loss in told and not _hidden(m, place):
            words, remedy = told[place.loss]
            words = words.format(
                area=f"{place.area:.2f} mm²",
                reach=f"{place.reach:.2f} mm",
                cutter=f"the {diameter_text(place.placed.piece.cutter_diameter)} cutter",
            )
            step = _finer_cutter(m, place)
            yield of("warning", code, place.placed, place.at, words, remedy + _of_size(step), step, value=place.area)


def _hidden(m: Measures, place: Place) -> bool:
    """Whether a tip or a part that is lost or filled lies all under later pieces or in the trimmed edge, as advised."""
    if place.loss is Loss.NECK:
        return False
    trim = m.panel.face_trim
    seen = shapely.intersection(place.shape, m.stack.finished_box)
    for index in place.placed.under:
        if seen.area <= NOISE_AREA:
            break
        seen = shapely.difference(seen, m.stack.pieces[index].pocket_at(trim))
    return bool(seen.area <= NOISE_AREA)


def _finer_cutter(m: Measures, place: Place) -> Step | None:
    """The largest common cutter that keeps the piece's detail, where that brings back what is lost.

    A tip stays a tip with any cutter, and a part nearer to the wall than the detail that is kept may stay lost.
    """
    piece, detail = place.placed.piece, m.workshop.detail
    nearby = place.loss is Loss.PART and place.reach <= detail
    if place.loss is Loss.TIP or nearby or below(piece.radius_at_face, piece.corner_radius):
        return None
    cutter = suggest_for(place.placed.outline, piece, detail)
    if cutter is None or not piece.side_clearance < cutter.diameter / 2 < piece.cutter_radius:
        return None
    return Step(piece.id, "cutter_diameter", cutter.diameter)


def _of_size(step: Step | None) -> str:
    return "" if step is None else f", such as one of {diameter_text(cast(float, step.value))}"


def corners_rounded(m: Measures) -> Iterator[Finding]:
    """Plain corners of a rounded fit: one note per piece, at the corner that changes most."""
    corners: dict[int, list[Place]] = {}
    for place in (*m.cut, *m.filled):
        if place.loss is Loss.CORNER and place.placed.piece.fit == "rounded":
            corners.setdefault(place.placed.index, []).append(place)
    for places in corners.values():
        worst = max(places, key=lambda place: (round(place.reach, 3), place.at))
        radius = worst.placed.piece.corner_radius
        count = f"{len(places)} corners are" if len(places) > 1 else "1 corner is"
        words = f"{count} rounded to a radius of {radius:.2f} mm, by up to {worst.reach:.2f} mm"
        remedy = "Nothing to do; a smaller cutter leaves corners sharper"
        yield of("note", CORNERS, worst.placed, worst.at, words, remedy, value=worst.reach, cause="rounded corners")


def binds(m: Measures) -> Iterator[Finding]:
    """Fitted as drawn: a corner where the sawn insert reaches beyond its pocket."""
    for place in m.binding:
        piece = place.placed.piece
        words = f"fitted as drawn, the insert binds: it reaches {place.interference:.2f} mm beyond its pocket"
        remedy = (
            f"Set its fit to rounded, round the corner to {piece.cutter_radius:.2f} mm, use a smaller cutter, "
            f"or more side clearance than {piece.side_clearance:.2f} mm"
        )
        step, over = Step(piece.id, "fit", "rounded"), place.interference
        yield of("warning", "binds", place.placed, place.at, words, remedy, step, value=over)


# --- How deep the cutter goes, and the wood -------------------------------------------------------------------------


def too_deep_for_cutter(m: Measures) -> Iterator[Finding]:
    """A pocket deeper, or an insert thicker, than the cutter's `cutter_length`, where that is given."""
    reach = m.workshop.cutter_length
    cuts = too_deep_cuts(m.stack, reach)
    for index in dict.fromkeys(cut.piece for cut in cuts):
        assert reach is not None
        placed, own = m.stack.pieces[index], [cut for cut in cuts if cut.piece == index]
        said = {"pocket": "a pocket {:.2f} mm deep", "insert": "an insert {:.2f} mm thick"}
        what = " and ".join(said[cut.what].format(cut.depth) for cut in own)
        words = f"{what}, deeper than the {reach:.2f} mm that the cutter reaches"
        piece = placed.piece
        follows = math.isclose(piece.insert_thickness, piece.pocket_depth + m.workshop.proud)
        depth = reach - (piece.insert_thickness - piece.pocket_depth if own[-1].what == "insert" else 0.0)
        step = Step(piece.id, "pocket_depth", round(depth, 6)) if follows and depth > m.panel.face_trim else None
        remedy = "Use a longer cutter"
        remedy += ", or saw the insert with a scroll saw" if {cut.what for cut in own} == {"insert"} else ""
        if step is not None:
            remedy += f", or cut the pocket at most {depth:.2f} mm deep"
            remedy += f" and saw the insert {reach:.2f} mm thick" if own[-1].what == "insert" else ""
        yield of("warning", "too-deep-for-cutter", placed, own[0].at, words, remedy, step, value=own[-1].depth - reach)


def blank_too_narrow(m: Measures) -> Iterator[Finding]:
    """A part of an insert is wider across the grain than `board_width`, or than the leaves it is glued from."""
    board = m.workshop.board_width
    for blank in too_wide_blanks(m.stack, board):
        placed, count = m.stack.pieces[blank.piece], leaves(blank, board)
        boards = f"{placed.piece.leaves} boards" if placed.piece.leaves > 1 else "a board"
        words = f"its blank is {blank.across:.2f} mm wide across the grain, wider than {boards} of {board:.2f} mm"
        remedy = "Book-match it from two leaves" if count == 2 else f"Glue its blank up from {count} leaves"
        along = _narrower(m, placed)
        if along is not None:
            remedy += f", or turn its grain to {along:.0f}°"
        step, over = Step(placed.piece.id, "leaves", count), blank.across - placed.piece.leaves * board
        yield of("warning", "blank-too-narrow", placed, blank.at, words, remedy, step, value=over)


def _narrower(m: Measures, placed: PlacedPiece) -> float | None:
    """The grain along the piece's own length, if a board is wide enough then and no neck gets short grain."""
    along = grain_direction(placed.outline) % 180
    good = not placed.piece.is_groove and not below(m.workshop.board_width, board_needed(placed, along))
    return along if good and not m.has_short_grain(placed, along) else None
