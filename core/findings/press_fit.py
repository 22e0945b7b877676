"""Findings of the fit: wedges that cannot be pressed home, and clearances that are none or too wide."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..cutter.taper import lean, stands_proud
from ..design import Piece
from ..measures.all_measures import Measures
from ..witness import inside
from .finding import Finding, Step, below, of

PRESSED_SHARE = 0.5
"""A wedge is pressed home where so much of its pocket's depth, at most, is left to press (common practice)."""
WOOD_GIVES = 0.3
"""Oversize that can be pressed into wood, mm on each side (common practice)."""
BOTTOM_ROOM = 0.1
"""Room that a wedge needs under it when it gets tight, mm: pockets come out no truer than that (common practice)."""
GOOD_GAP = 0.3
"""Floor gap that is offered, mm (common practice)."""
WIDEST_CLEARANCE = 0.5
"""A wider gap beside an insert shows in the finished face, mm (common practice)."""
USUAL_CLEARANCE = 0.1
"""Clearance that is offered, mm: the workshop's default (common practice)."""


def wedge_stuck(m: Measures) -> Iterator[Finding]:
    """A tapered insert that cannot be pressed home (warning), or that rests on its floor before it is tight (note)."""
    for placed in m.sound:
        piece = placed.piece
        if piece.taper <= 0 or piece.is_groove:
            continue
        oversize = max(0.0, -piece.side_clearance)
        proud = stands_proud(oversize, piece.taper)
        at = inside(placed.insert)
        if below(PRESSED_SHARE * placed.depth, proud) or below(WOOD_GIVES, oversize):
            words = (
                f"its insert is {oversize:.2f} mm larger than its pocket on each side, and with {piece.taper:g}° of "
                f"taper it stops {proud:.2f} mm above its place in a pocket {placed.depth:.2f} mm deep: it can "
                f"hardly be pressed home"
            )
            good = _pressable(piece, placed.depth)
            remedy = f"Make it at most {-good:.2f} mm larger on each side: set its side clearance to {good:.2f} mm"
            step = Step(piece.id, "side_clearance", good)
            yield of("warning", "wedge-stuck", placed, at, words, remedy, step, value=proud)
            continue
        room = piece.floor_gap - piece.side_clearance / math.tan(math.radians(piece.taper))
        if below(room, BOTTOM_ROOM):
            when = "just as it gets tight" if room >= 0 else "before its walls touch"
            words = (
                f"its insert rests on the floor of its pocket {when}, so that its {piece.taper:g}° of taper "
                f"cannot close the gap beside it: only {max(room, 0.0):.2f} mm are left under it then"
            )
            if piece.side_clearance > 0:
                remedy = (
                    f"Set its side clearance to 0 and leave a floor gap of {GOOD_GAP:.2f} mm, or give it upright walls"
                )
                yield of("note", "wedge-stuck", placed, at, words, remedy, value=-room)
            else:
                gap = round(max(GOOD_GAP, piece.floor_gap + GOOD_GAP - room), 2)
                remedy = f"Leave a floor gap of {gap:.2f} mm under it"
                yield of(
                    "note", "wedge-stuck", placed, at, words, remedy, Step(piece.id, "floor_gap", gap), value=-room
                )


def _pressable(piece: Piece, depth: float) -> float:
    """The side clearance, in hundredths, of the largest wedge up to the usual oversize that can be pressed home."""
    most = min(USUAL_CLEARANCE, WOOD_GIVES, lean(piece.taper, PRESSED_SHARE * depth))
    return -math.floor(100 * most + 1e-9) / 100 + 0.0  # + 0.0: no minus zero


def odd_clearance(m: Measures) -> Iterator[Finding]:
    """No clearance between upright walls, or a gap so wide that it shows."""
    for placed in m.sound:
        piece, at = placed.piece, inside(placed.insert)
        clearance = piece.strip_clearance if piece.is_groove else piece.side_clearance
        key = "strip_clearance" if piece.is_groove else "side_clearance"
        if below(WIDEST_CLEARANCE, clearance):
            words = (
                f"a gap of {clearance:.2f} mm is left beside it all round, wider than {WIDEST_CLEARANCE:.2f} mm: it "
                f"shows as a dark line of glue"
            )
        elif clearance == 0 and piece.taper == 0 and not piece.is_groove:
            words = (
                "it is exactly as large as its pocket, and both have upright walls: it does not go in, or scrapes off "
                "its glue on the way"
            )
        else:
            continue
        usual = m.workshop.side_clearance if 0 < m.workshop.side_clearance <= WIDEST_CLEARANCE else USUAL_CLEARANCE
        good = 0.03 if piece.is_groove else usual
        remedy = f"Leave {good:.2f} mm on each side"
        cause = f"a clearance of {clearance:.2f} mm"
        step = Step(piece.id, key, good)
        yield of("warning", "odd-clearance", placed, at, words, remedy, step, value=clearance, cause=cause)
