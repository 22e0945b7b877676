"""Findings of grooves that cross: themselves, or each other at a small angle."""

from __future__ import annotations

from collections.abc import Iterator

from ..measures.all_measures import Measures
from ..measures.groove_crossings import SHARP, near_turns, sharp_crossings
from .finding import Finding, of


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
            remedy = f"Draw its turns {least:.2f} mm apart, or make two pieces of it, one cut after the other"
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
