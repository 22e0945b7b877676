"""What to watch for at the bench in each piece: what the findings say of it, and what none of them speaks of."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import shapely

from ..areas import without_noise
from ..design import Point
from ..findings.causes import Group, grouped
from ..findings.finding import Finding, listed, xy
from ..lines.layout import HANDLING, SAW, Laid
from ..lines.notes import wedge_words
from ..stack.pocket_pairs import FLUSH
from ..stack.stack import PlacedPiece, Stack

TINY = 20.0
"""An insert that is nowhere longer than this, mm, comes loose easily as it is sawn (common practice)."""
TIP = 0.5
"""Where a disc of this radius, mm, does not reach, wood ends in a thin point that chips (common practice)."""
TIP_REACH = 1.5
"""Such a point is told if it is longer than this, mm (common practice)."""
AT_EDGE = 0.3
"""A pocket, or the edge of the trimmed panel, this near to a thin point, mm, has made it."""
MOST_PLACES = 3
_OF_THE_DESIGN = ("corners-rounded", "low-contrast", "many-thicknesses")
"""Findings that say how the panel will look, or what could be changed before: at the bench there is nothing to do."""
_AT_BENCH = {
    "movement": "movement: its grain crosses the background's. Use dry wood, finish both faces",
    "moisture-play": "moisture: damp air swells it by more than its play. Cut pocket and insert on one day",
    "dust-stain": "dust: a dark wood stains its pores. Scrape, do not sand; seal it only at the face trim",
    "colour-bleed": "colour: a strong wood stains a pale one. Scrape, do not sand; seal only at the face trim",
}
"""What to do at the bench about findings on a piece that tell of measures; they speak of the whole panel at length."""
_TAPE = "hold it with tape or on a carrier board"


# --- Findings -------------------------------------------------------------------------------------------------------


def watched(stack: Stack, findings: Sequence[Finding]) -> dict[str, tuple[str, ...]]:
    """What the findings say of each piece, one entry for each cause and piece, the worst first."""
    told = [f for f in findings if f.code not in _OF_THE_DESIGN]
    said: dict[str, list[str]] = {placed.piece.id: [] for placed in stack.pieces}
    for piece in said:
        own = [f for f in told if piece in (f.piece, f.other, *f.also)]
        said[piece] = list(dict.fromkeys(in_words(group) for group in grouped(own)))
    return {piece: tuple(words) for piece, words in said.items()}


def in_words(group: Group) -> str:
    """Findings of one cause with what to do about them."""
    worst = group.worst
    if worst.piece is not None and worst.code in _AT_BENCH:
        return _AT_BENCH[worst.code]
    return f"{worst.code.replace('-', ' ')}: {group.text}. {worst.remedy}."


# --- What no finding speaks of --------------------------------------------------------------------------------------


def own_watch(stack: Stack, placed: PlacedPiece, laid: Sequence[Laid]) -> list[str]:
    """How to hold it, which way it leans, what stays standing in its pocket, and how near it comes to the raw edge."""
    words = [*_leaning(placed), *_islands(placed), *_margin(stack, placed)]
    if laid and is_tiny(laid):
        words.append(f"tiny: {_TAPE}, never by hand, until it is sawn off")
    elif any(not one.tabs for one in laid):
        words.append(f"no straight edge along the grain for a tab: {_TAPE}")
    return words


def is_tiny(laid: Sequence[Laid]) -> bool:
    """Whether none of the parts of an insert is large enough to be held well."""
    return max(max(one.length, one.width) for one in laid) < TINY + 2 * (SAW + HANDLING)


def _leaning(placed: PlacedPiece) -> list[str]:
    taper = placed.piece.taper
    if not taper:
        return []
    return [
        f"leaning walls, {taper:g}° on each side: the pocket is wider at the face than at its floor, so cut it with a "
        f"cutter that leans by {taper:g}° a side and has the size above at its tip",
        f"saw its insert face down, from the mirrored drawing, whose line is its edge at the face, down on the table; "
        f"tilt saw or cutter by {taper:g}° so that the upper side, the back, comes out smaller",
        _lower_first(wedge_words(placed)),
    ]


def _lower_first(words: str) -> str:
    return words[:1].lower() + words[1:]


def _islands(placed: PlacedPiece) -> list[str]:
    words = []
    for part in shapely.get_parts(placed.pocket):
        for ring in part.interiors:
            left, bottom, right, top = ring.bounds
            at = ((left + right) / 2, (bottom + top) / 2)
            words.append(
                f"an island of {right - left:.1f} × {top - bottom:.1f} mm stays standing in its pocket at {xy(at)}: "
                "cut round it. Cut the hole for it in the insert before the outline"
            )
    return words


def _margin(stack: Stack, placed: PlacedPiece) -> list[str]:
    """A pocket that runs into what is trimmed off: little wood, or none, is left at the raw edge."""
    if shapely.covers(stack.finished_box, placed.pocket):
        return []
    off = _runs_off(stack, placed)
    if off:
        return [
            f"its pocket runs off the {listed(off)} edge{'s' if off[1:] else ''} of the raw panel: keep clamps off "
            "there, put a straight strip of waste against the edge, and cut on through it until the cutter is out"
        ]
    wall = float(shapely.distance(placed.pocket, shapely.boundary(stack.box)))
    if wall < stack.design.workshop.min_wall:
        return [
            f"it runs into what is trimmed off, and leaves only {wall:.1f} mm of wood at the raw edge: clamp a "
            "straight strip against the edge while you cut and glue"
        ]
    return [f"it runs into what is trimmed off; {wall:.1f} mm of wood stays at the raw edge until then"]


def _runs_off(stack: Stack, placed: PlacedPiece) -> list[str]:
    """The edges of the raw panel that its pocket crosses."""
    x0, y0, x1, y1 = placed.pocket.bounds
    left, bottom, right, top = stack.box.bounds
    beyond = {"left": left - x0, "right": x1 - right, "bottom": bottom - y0, "top": y1 - top}
    return [side for side, reach in beyond.items() if reach > FLUSH]


# --- Thin points ----------------------------------------------------------------------------------------------------


def thin_points(stack: Stack, number: Mapping[int, int]) -> dict[int, list[str]]:
    """Where wood ends in a thin point, told of the piece whose pocket makes it, or of the piece itself.

    Args:
        stack: the panel.
        number: of each piece in the order of gluing, by its index.
    """
    places: dict[tuple[int, int | None], list[Point]] = {}
    for placed in stack.pieces:
        for part in _tips(stack, placed):
            maker = _maker(stack, placed, part)
            if maker != "edge":
                by = placed.index if maker is None else maker
                key = (int(by), None if maker is None else placed.index)
                places.setdefault(key, []).append((float(part.centroid.x), float(part.centroid.y)))
    said: dict[int, list[str]] = {}
    for (by, other), at in places.items():
        where = ", ".join(xy(each) for each in at[:MOST_PLACES])
        where += f" and {len(at) - MOST_PLACES} more places" if len(at) > MOST_PLACES else ""
        if other is None:
            words = f"it ends in a thin point at {where}: saw from the point towards its wide part"
        else:
            words = (
                f"its pocket leaves a thin point of {number[other]} {stack.pieces[other].piece.id} at {where}: cut "
                "there in shallow passes, from the point towards the wide part"
            )
        said.setdefault(by, []).append(words)
    return said


def _tips(stack: Stack, placed: PlacedPiece) -> list[shapely.Geometry]:
    """Parts of what is seen of a piece that are too fine to be worked carelessly."""
    seen = stack.remnants[placed.index]
    if placed.piece.is_groove or seen.is_empty:
        return []
    blunt = shapely.buffer(shapely.buffer(seen, -TIP, quad_segs=4), TIP + 0.05, quad_segs=4)
    parts = shapely.get_parts(without_noise(shapely.difference(seen, blunt)))
    return [part for part in parts if math.hypot(*np.ptp(np.reshape(part.bounds, (2, 2)), axis=0)) > TIP_REACH]


def _maker(stack: Stack, placed: PlacedPiece, tip: shapely.Geometry) -> int | str | None:
    """The last pocket that bounds a thin point, "edge" where the edge trim does; None: its own outline alone."""
    cut = [stack.pieces[i] for i in placed.cut_by]
    beside = [one for one in cut if shapely.dwithin(one.pocket, tip, AT_EDGE)]
    if beside:
        return max(beside, key=lambda one: (one.batch, one.index)).index
    return "edge" if shapely.dwithin(shapely.boundary(stack.finished_box), tip, AT_EDGE) else None
