"""Findings of thickness: cuts too deep for so thin a cutter, inserts too thin or too thick, too many thicknesses."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..cutter.sizes import diameter_text
from ..measures.all_measures import Measures
from ..measures.blanks import Reach, too_deep_cuts
from ..stack.stack import PlacedPiece
from ..witness import inside
from .finding import Finding, Level, Step, below, of

BENDS = 3.0
"""A cutter that cuts deeper than so many of its diameters bends easily (common practice)."""
BREAKS = 5.0
"""A cutter that cuts deeper than so many of its diameters breaks easily too (common practice)."""
THINNEST = 0.5
"""An insert thinner than this, mm, when the face is trimmed is sanded through (common practice)."""
THICKEST = 25.0
"""Thicker inserts are hard to saw with a cutter or a scroll saw, and seldom bought as boards, mm (common practice)."""
MOST_THICKNESSES = 4
"""Thicknesses of one wood that are planed for a panel; more are a muddle (common practice)."""


def slender_cutter(m: Measures) -> Iterator[Finding]:
    """A cut deeper than 5 diameters of its cutter (warning) or 3 (note), where its cutting length is not given."""
    deepest: dict[int, Reach] = {}
    for cut in too_deep_cuts(m.stack, 0.0):
        if cut.piece not in deepest or cut.depth > deepest[cut.piece].depth:
            deepest[cut.piece] = cut
    known = m.workshop.cutter_diameter if m.workshop.cutter_length is not None else None
    for cut in deepest.values():
        placed = m.stack.pieces[cut.piece]
        diameter = placed.piece.cutter_diameter
        if diameter == known or not below(BENDS * diameter, cut.depth):
            continue
        breaks = below(BREAKS * diameter, cut.depth)
        what = f"its {cut.what} is {cut.depth:.2f} mm {'deep' if cut.what == 'pocket' else 'thick'}"
        words = (
            f"{what}, {cut.depth / diameter:.1f} times the diameter of its {diameter_text(diameter)} cutter: so "
            f"long a cutter bends {'and breaks ' if breaks else ''}easily"
        )
        length = ", enter its cutting length under Workshop" if diameter == m.workshop.cutter_diameter else ""
        remedy = f"Check that you have one so long{length}, and take shallow passes; or "
        remedy += _less_slender(placed, BENDS * diameter)
        level: Level = "warning" if breaks else "note"
        cause, times = f"a cutter of {diameter_text(diameter)}", cut.depth / diameter
        yield of(level, "slender-cutter", placed, cut.at, words, remedy, value=times, cause=cause)


def _less_slender(placed: PlacedPiece, most: float) -> str:
    """What else to do where a pocket is deeper, or an insert thicker, than so many mm."""
    piece = placed.piece
    proud = 0.0 if piece.is_groove else max(0.0, piece.insert_thickness - piece.pocket_depth)
    thick = math.floor(100 * most + 1e-6) / 100
    depth = thick - proud
    other = "use a thicker cutter"
    if depth > 0:
        cut = f"cut the pocket {depth:.2f} mm deep at most"
        if not piece.is_groove:
            cut = f"make the insert {thick:.2f} mm thick at most, and {cut}"
            cut += ", so that it stands as proud as now" if proud else ""
        other = f"{cut}, or {other}"
    if not below(most, piece.pocket_depth):
        other = f"saw the insert with a scroll saw, or {other}"
    return other


def thin_insert(m: Measures) -> Iterator[Finding]:
    """An insert of which trimming the face leaves less than 0.5 mm."""
    trim = m.panel.face_trim
    for placed in m.sound:
        left = _left(m, placed)
        if not (left > 0 and below(left, THINNEST)):
            continue
        words = (
            f"once {trim:.2f} mm is trimmed off the face its insert is only {left:.2f} mm thick: trimming that much "
            f"more takes it off"
        )
        deeper = round(placed.piece.pocket_depth + 1.0 - left, 2)
        step = Step(placed.piece.id, "pocket_depth", deeper) if _may_go(m, placed, deeper) else None
        remedy = f"Cut its pocket {deeper:.2f} mm deep" if step else "Trim the face less, or take a thicker panel"
        yield of("warning", "thin-insert", placed, inside(placed.insert), words, remedy, step, value=-left)


def _may_go(m: Measures, placed: PlacedPiece, depth: float) -> bool:
    """Whether a pocket may be so deep: floor and cutter allow it, and it makes no skin, since it meets no other."""
    floor, reach = m.panel.thickness - depth - m.workshop.depth_error, m.workshop.cutter_length
    deep = below(floor, m.workshop.min_floor) or (reach is not None and below(reach, depth))
    return not (deep or placed.over or placed.under)


def _left(m: Measures, placed: PlacedPiece) -> float:
    """Thickness of an insert in the finished panel, mm, with pockets as deep as they come out."""
    error = m.workshop.depth_error
    return min(placed.top - error, -m.panel.face_trim) - (placed.bottom - error)


def thick_insert(m: Measures) -> Iterator[Finding]:
    """An insert thicker than 25 mm."""
    for placed in m.sound:
        thickness = placed.piece.insert_thickness
        if below(THICKEST, thickness):
            words = (
                f"its insert is {thickness:.2f} mm thick, more than the {THICKEST:.2f} mm that is readily sawn to shape"
            )
            remedy = "Cut its pocket shallower and saw a thinner insert, or let it stand less proud"
            yield of("warning", "thick-insert", placed, inside(placed.insert), words, remedy, value=thickness)


def many_thicknesses(m: Measures) -> Iterator[Finding]:
    """Inserts of one wood in more than four thicknesses: one note for each wood, at its rarest thickness."""
    woods: dict[str, dict[float, list[PlacedPiece]]] = {}
    for placed in m.sound:
        if not placed.piece.is_groove:
            thickness = round(placed.piece.insert_thickness, 2)
            woods.setdefault(placed.piece.wood, {}).setdefault(thickness, []).append(placed)
    for wood, by_thickness in woods.items():
        if len(by_thickness) <= MOST_THICKNESSES:
            continue
        rarest = min(by_thickness.values(), key=lambda some: (len(some), some[0].index))[0]
        listed = ", ".join(f"{thickness:.2f}" for thickness in sorted(by_thickness))
        words = f"{wood} is needed in {len(by_thickness)} thicknesses, {listed} mm; each means a board to plane"
        remedy = (
            "Give those that differ little the thickness of the thickest among them; what then stands prouder is "
            "trimmed with the face"
        )
        yield of("note", "many-thicknesses", rarest, inside(rarest.insert), words, remedy, value=len(by_thickness))
