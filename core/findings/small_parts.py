"""Findings of what is too small to hold: narrow strips and short segments of the background, tiny inserts."""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from ..measures.all_measures import Measures
from ..witness import inside
from .finding import Finding, below, of, xy

NARROWEST_STRIP = 1.5
"""A narrower strip of the background, mm, is a veneer, and is sawn and clamped as one (common practice)."""
SHORTEST_SEGMENT = 5.0
"""A shorter segment cannot be held while it is sawn, nor kept square in a clamp, mm (common practice)."""
SMALLEST_INSERT = 12.0
"""A part of an insert smaller than this, mm², slips from its clamp or tape while it is cut (common practice)."""


def small_strip(m: Measures) -> Iterator[Finding]:
    """A strip of the background too narrow, or a segment too short, to be sawn and clamped."""
    along_y = m.panel.strips_along == "y"
    for number, strip in enumerate(m.panel.strips, 1):
        parts = [part for part in m.stack.background if part.name.split("-")[1] == str(number)]
        if below(strip.width, NARROWEST_STRIP):
            at = inside(parts[0].box)
            words = (
                f"background strip {number} at {xy(at)}: it is {strip.width:.2f} mm wide, less than "
                f"{NARROWEST_STRIP:.2f} mm, too narrow to be sawn from a board and clamped straight"
            )
            remedy = "Make it wider, or leave it out and inlay a strip in a groove there"
            yield Finding("warning", "small-strip", None, None, at, words, remedy, value=NARROWEST_STRIP - strip.width)
        for part in parts if len(parts) > 1 else ():
            x0, y0, x1, y1 = part.box.bounds
            length = y1 - y0 if along_y else x1 - x0
            if below(length, SHORTEST_SEGMENT):
                at = inside(part.box)
                segment = part.name.split("-")[2]
                words = (
                    f"background strip {number}, segment {segment} at {xy(at)}: it is {length:.2f} mm long, less than "
                    f"{SHORTEST_SEGMENT:.2f} mm, too short to be held while it is sawn and to be clamped square"
                )
                remedy = "Make it longer, or glue longer blocks up first and saw the strip from them"
                yield Finding("warning", "small-strip", None, None, at, words, remedy, value=SHORTEST_SEGMENT - length)


def small_part(m: Measures) -> Iterator[Finding]:
    """An insert, or a part of it, too small to be held while it is cut: one note for each piece."""
    for placed in m.sound:
        if placed.piece.is_groove:
            continue
        parts = shapely.get_parts(placed.insert)
        least = min(parts, key=lambda part: float(part.area), default=None)
        if least is not None and below(least.area, SMALLEST_INSERT):
            words = f"a part of its insert is only {least.area:.2f} mm², too small to clamp"
            if len(parts) == 1:
                words = f"its insert is only {least.area:.2f} mm², too small to clamp"
            remedy = (
                "Hold it in its blank by tabs, or by tape under all of it, until every other cut is done; never by hand"
            )
            yield of(
                "note", "small-part", placed, inside(least), words, remedy, value=-least.area, cause="small inserts"
            )
