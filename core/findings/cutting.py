"""Findings of cutting: what the cutter does to outlines, how deep it goes, and the wood that is laid under it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import cast

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import NOISE_AREA
from ..cutter.sizes import diameter_text, suggest_for
from ..design import Point
from ..measures.all_measures import Measures
from ..measures.blanks import board_needed, leaves, too_deep_cuts, too_wide_blanks
from ..measures.gaps import Gap, gap_beside, width_between
from ..measures.rounded_places import TIP_SHOWS, Loss, Place, corner_radius, furthest, is_tip
from ..stack.stack import PlacedPiece, grain_direction
from .causes import CORNERS
from .finding import Finding, Step, below, of

# --- What the cutter does to outlines -------------------------------------------------------------------------------


def cutter_too_big(m: Measures) -> Iterator[Finding]:
    """A part or a neck of the outline is lost, or more than 2 mm of a tip sharper than 60°."""
    tips: list[Place] = []
    gaps: dict[tuple[int, tuple[int, int], Point | None], list[tuple[Place, Gap]]] = {}
    for place in m.cut:
        gap = _gap(place) if place.loss is Loss.TIP else None
        if gap is None:
            tips.append(place)
        elif not _hidden(m, place):
            folded = gap.at if gap.width is None else None
            gaps.setdefault((place.placed.index, gap.parts, folded), []).append((place, gap))
    yield from _losses(m, "cutter-too-big", tips, _CUT)
    for some in gaps.values():
        yield _lost_beside(some)


def notch_filled(m: Measures) -> Iterator[Finding]:
    """A hole, a gap or more than 2 mm of a notch sharper than 60° is filled, since the insert cannot be cut there."""
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
        "{gap} is closed: {cutter} does not get through",
        "Draw the gap {wide} wide, make two pieces of it, or use a smaller cutter",
    ),
    Loss.TIP: (
        "a notch is filled {reach} deep, {area}: {cutter} does not get in",
        "Draw the notch wider at its end, hide it under a later piece, or use a smaller cutter",
    ),
}


def _losses(m: Measures, code: str, places: list[Place], told: dict[Loss, tuple[str, str]]) -> Iterator[Finding]:
    """A finding for each place that is no plain corner; tips of one piece have one cause."""
    seen = [place for place in places if place.loss in told and not _hidden(m, place)]
    tips: dict[int, list[Place]] = {}
    for place in seen:
        tips.setdefault(place.placed.index, []).extend([place] if place.loss is Loss.TIP else [])
    for place in seen:
        piece = place.placed.piece
        width = width_between(place.shape, place.placed.outline) if place.loss is Loss.NECK else None
        words, remedy = (
            text.format(
                area=f"{place.area:.2f} mm²",
                reach=f"{place.reach:.2f} mm",
                cutter=f"the {diameter_text(piece.cutter_diameter)} cutter",
                gap=f"a gap of {place.area:.2f} mm²" if width is None else f"a gap {width:.2f} mm wide",
                wide=_passes(place),
            )
            for text in told[place.loss]
        )
        alike = tips[place.placed.index] if place.loss is Loss.TIP else [place]
        step = _finer_cutter(m, place)
        remedy += _of_size(step)
        if place is not max(alike, key=lambda one: one.area):
            step = None  # one try for all of them
        cause = f"{'tips' if code == 'cutter-too-big' else 'notches'} of {piece.id}" if alike[1:] else None
        yield of("warning", code, place.placed, place.at, words, remedy, step, value=place.area, cause=cause)


def _passes(place: Place) -> str:
    """How wide a gap must be for the cutter, in words."""
    return f"{math.ceil(200 * corner_radius(place.placed) - 1e-6) / 100:.2f} mm"


def _gap(place: Place) -> Gap | None:
    return gap_beside(place.placed, place.shape, place.at, corner_radius(place.placed))


def _lost_beside(some: Sequence[tuple[Place, Gap]]) -> Finding:
    """What is lost beside one gap of a piece."""
    place, gap = some[0]
    area = sum(one.area for one, _ in some)
    cutter = f"the {diameter_text(place.placed.piece.cutter_diameter)} cutter"
    if gap.width is None:
        words = f"a gap there is too narrow for {cutter}: {area:.2f} mm² beside it are lost"
    else:
        words = f"two parts of it lie only {gap.width:.2f} mm apart, too near for {cutter}: {area:.2f} mm² are lost"
    remedy = f"Draw them {_passes(place)} apart, make two pieces of it, or use a smaller cutter"
    return of("warning", "cutter-too-big", place.placed, gap.at, words, remedy, value=area)


def _hidden(m: Measures, place: Place) -> bool:
    """Whether a part, or all of a tip that counts, lies under later pieces or in the trimmed edge."""
    if place.loss is Loss.NECK:
        return False
    trim = m.panel.face_trim
    seen = shapely.intersection(place.shape, m.stack.finished_box)
    for later in m.later_at(place.placed, place.shape):
        if seen.area <= NOISE_AREA:
            break
        seen = shapely.difference(seen, later.pocket_at(trim))
    if seen.area <= NOISE_AREA or place.loss is not Loss.TIP:
        return bool(seen.area <= NOISE_AREA)
    return seen.area < place.shape.area - NOISE_AREA and not is_tip(place.placed, _reach(seen, place), seen)


def _reach(seen: BaseGeometry, place: Place) -> float:
    """How far what is seen of a tip reaches from the pocket's wall, mm."""
    wall = shapely.boundary(place.placed.pocket)
    reach, _ = furthest(np.array([seen], dtype=object), np.array([wall], dtype=object))
    return float(reach[0])


def _finer_cutter(m: Measures, place: Place) -> Step | None:
    """The largest common cutter that keeps the piece's detail, where that brings back what is lost.

    For a tip it is one that stops nowhere more than 2 mm short. A part nearer to the wall than the detail that is kept
    may stay lost.
    """
    piece, detail = place.placed.piece, TIP_SHOWS if place.loss is Loss.TIP else m.workshop.detail
    nearby = place.loss is Loss.PART and place.reach <= detail
    if nearby or below(piece.radius_at_face, piece.corner_radius):
        return None
    cutter = suggest_for(place.placed.outline, piece, detail)
    if cutter is None or not piece.side_clearance < cutter.diameter / 2 < piece.cutter_radius:
        return None
    return Step(piece.id, "cutter_diameter", cutter.diameter)


def _of_size(step: Step | None) -> str:
    return "" if step is None else f" such as one of {diameter_text(cast(float, step.value))}"


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
