"""Findings of grooves: strips bent too tight, ends in plain sight, grooves that cross themselves or each other."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..measures.all_measures import Measures
from ..measures.groove_crossings import SHARP, near_turns, sharp_crossings
from ..measures.grooves import play_takes_up, shown_ends, strip_thickness, tightest_bend
from ..woods.bending import least_bend_radius, pliable_thickness
from .finding import Finding, below, of

NEARLY = 0.95
"""A bend tighter by no more than this share is none where it is so short that the strip's play takes it up (common
practice, no published source): the least radius is known no better."""
THINNEST_PLY = 0.5
"""Strips thinner than this, mm, are no longer glued up to a thicker one (common practice)."""


def strip_bend(m: Measures) -> Iterator[Finding]:
    """A strip must be bent tighter than its wood takes, dry and cold."""
    own = m.stack.design.woods
    for placed in m.sound:
        if not placed.piece.is_groove:
            continue
        wood, thickness, bend = placed.piece.wood, strip_thickness(placed), tightest_bend(placed)
        least = least_bend_radius(wood, thickness, own)
        nearly = bend.radius >= NEARLY * least and play_takes_up(placed, least)
        if below(bend.radius, least) and not nearly:
            words = (
                f"its strip, {thickness:.2f} mm of {wood}, must bend to a radius of {bend.radius:.2f} mm, "
                f"but may break below {least:.2f} mm"
            )
            ply = math.floor(100 * pliable_thickness(wood, bend.radius, own)) / 100
            remedy = f"Draw the line to a radius of {math.ceil(100 * least) / 100:.2f} mm or more there, or "
            if ply < THINNEST_PLY:
                remedy += "end one strip there and begin another"
            else:
                plies = math.ceil(thickness / ply)
                each = math.floor(100 * thickness / plies + 1e-9) / 100
                remedy += (
                    f"glue the strip up from {plies} thin ones of {each:.2f} mm each (a strip of this wood takes this "
                    f"bend if it is no thicker than {ply:.2f} mm)"
                )
            yield of("warning", "strip-bend", placed, bend.at, words, remedy, value=least - bend.radius)


def strip_end_shows(m: Measures) -> Iterator[Finding]:
    """A groove's end is in plain sight."""
    for end in shown_ends(m.stack):
        words = f"its groove ends in plain sight at its {end.end} point, with a round gap beyond the strip's square end"
        remedy = "Let it run on under a later piece"
        remedy += " or off a trimmed edge" if any(m.panel.edge_trim) else ""
        yield of("warning", "strip-end-shows", m.stack.pieces[end.piece], end.at, words, remedy)


def groove_crosses(m: Measures) -> Iterator[Finding]:
    """A groove crosses itself or leaves a thin wall between its turns; or two cross at less than 30°."""
    least = m.workshop.min_wall
    for turn in near_turns(m.stack, least):
        placed = m.stack.pieces[turn.piece]
        if turn.wall < 0:
            words = "its groove runs into itself: one strip cannot fill it"
            remedy = "End the strip there and draw the rest as a piece of its own, cut later"
        else:
            words = f"the wall between two turns of its groove is {turn.wall:.2f} mm thin, less than {least:.2f} mm"
            remedy = (
                f"Draw its turns so that {least:.2f} mm of wood is left between them, or make two pieces of it, one "
                f"cut after the other is glued in"
            )
        yield of("warning", "groove-crosses", placed, turn.at, words, remedy, value=least - turn.wall)
    for crossing in sharp_crossings(m.stack, SHARP):
        earlier, later = m.stack.pieces[crossing.earlier], m.stack.pieces[crossing.later]
        words = (
            f"its groove crosses that of {earlier.piece.id} at only {crossing.angle:.0f}°: long, thin tips of "
            f"wood stand between them and break off"
        )
        remedy = f"Let them cross at {SHARP:.0f}° or more, or end one of them at the other"
        value = SHARP - crossing.angle
        yield of("warning", "groove-crosses", later, crossing.at, words, remedy, other=earlier, value=value)
