"""Findings of wood that moves: what the seasons do to the panel, to inserts in it, and a day's moisture to the fit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..measures.all_measures import Measures
from ..measures.movement import panel_movement, plays, strains
from ..witness import inside
from .finding import Finding, below, of, xy

SWING = 1.0
"""A panel that moves less than this, mm, from season to season has room enough in any frame (common practice)."""
STRAIN = 0.5
"""Wood and glue give so much, mm, between an insert and its background (common practice)."""
SAME_GRAIN = 15.0
"""Grain off the background's by less than so many degrees moves but little otherwise: sin² 15° is 0.07 (geometry)."""


def movement(m: Measures) -> Iterator[Finding]:
    """What the seasons do to the panel's size, and to inserts whose grain crosses that of their background."""
    yield from _panel(m)
    strained = sorted(
        (s for s in strains(m.stack) if below(STRAIN, abs(s.difference))), key=lambda s: -abs(s.difference)
    )
    if not strained:
        return
    worst = strained[0]
    placed = m.stack.pieces[worst.piece]
    more, less = ("background", "insert") if worst.difference > 0 else ("insert", "background")
    words = (
        f"from season to season the {more} moves {abs(worst.difference):.2f} mm more than the {less}, over "
        f"{worst.size:.2f} mm of the piece, which strains the glue; its grain lies {worst.off_grain:.0f}° off the "
        f"background's{_others(m, [s.piece for s in strained])}"
    )
    if worst.off_grain > SAME_GRAIN:
        remedy = "Turn its grain nearer the background's, or make it of shorter pieces"
    else:
        remedy = "Choose a wood that moves more like the background's, or make it of narrower pieces"
    remedy += "; finish both faces alike; and judge by your own woods and rooms"
    also = [m.stack.pieces[s.piece].piece.id for s in strained[1:]]
    at = inside(m.stack.remnants[worst.piece])
    yield of("note", "movement", placed, at, words, remedy, value=abs(worst.difference), also=also)


def _panel(m: Measures) -> Iterator[Finding]:
    moved = panel_movement(m.stack)
    if moved is None or below(max(moved.frame_room), SWING):
        return
    side = 0 if moved.frame_room[0] >= moved.frame_room[1] else 1
    air, name, beside = moved.climate, ("width", "height")[side], ("left and right of", "above and below")[side]
    still = ("upper and lower", "left and right")[side]
    quarter, flat = f"{moved.quarter_sawn[side]:.2f}", f"{moved.flat_sawn[side]:.2f}"
    grows = f"{flat} mm from {air.humidity_low:g} to {air.humidity_high:g} % humidity"
    if quarter != flat:
        grows += f" if its boards are flat-sawn, by {quarter} mm if they are quarter-sawn"
    words = (
        f"its {name} of {moved.size[side]:.2f} mm grows by {grows}; at {air.temperature:g} °C this air brings its wood "
        f"from {air.dry:.1f} to {air.damp:.1f} % moisture"
    )
    remedy = (
        f"Leave a total of {moved.frame_room[side]:.2f} mm of room in the frame {beside} the panel, and fasten it only "
        f"at mid-{name}, at its {still} edges; set the humidities of your own rooms if you know them"
    )
    at = inside(m.stack.finished_box)
    yield Finding(
        "note", "movement", None, None, at, f"panel at {xy(at)}: {words}", remedy, value=moved.frame_room[side]
    )


def moisture_play(m: Measures) -> Iterator[Finding]:
    """Inserts so wide across the grain that 1 % of moisture takes up all of their side clearance."""
    pieces = m.stack.pieces
    closed = [play for play in plays(m.stack) if not below(play.swelling / 2, pieces[play.piece].piece.side_clearance)]
    if not closed:
        return
    closed.sort(key=lambda play: -play.swelling)
    worst = closed[0]
    placed = pieces[worst.piece]
    words = (
        f"the insert swells {worst.swelling:.2f} mm if its moisture content rises by 1 %, and no longer drops in; it "
        f"is {worst.size:.2f} mm wide across the grain, with {placed.piece.side_clearance:.2f} mm of clearance on each "
        f"side{_others(m, [play.piece for play in closed])}"
    )
    remedy = (
        "Keep blanks and panel in one room until their weight is steady, cut pocket and insert on the same "
        "day, and try the fit before you glue"
    )
    also = [pieces[play.piece].piece.id for play in closed[1:]]
    yield of("note", "moisture-play", placed, inside(placed.insert), words, remedy, value=worst.swelling, also=also)


def _others(m: Measures, pieces: Sequence[int]) -> str:
    """Which pieces there are besides the first."""
    names = [m.stack.pieces[i].piece.id for i in pieces[1:]]
    if not names:
        return ""
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return f". Also at {', '.join(names[:3])}{more}"
