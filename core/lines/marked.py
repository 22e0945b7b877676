"""What a sheet of templates says at each piece: its label and its grain's arrow, neither of them over a line."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from shapely.geometry.base import BaseGeometry

from ..stack.stack import PlacedPiece
from ..witness import inside
from .drawing import ARROW, arrow
from .labels import Room, Spot, arrow_place

Array = npt.NDArray[np.float64]

HIGH = 2.4
"""Height of a label, mm."""
ARROW_WIDE = 1.1
ARROW_BESIDE = 7.0
"""Length of an arrow beside a piece that has no room for one, mm; it stands left of the label."""


@dataclass(frozen=True, eq=False)
class Shown:
    """What a sheet shows of a piece."""

    placed: PlacedPiece
    number: int
    shape: BaseGeometry
    part: str = ""
    """Which part of the piece it is, where there are several."""


@dataclass(frozen=True, eq=False)
class Marked:
    """A piece with its label and arrow; places in mm on the drawing."""

    shown: Shown
    text: str
    spot: Spot | None
    """Where the label stands; None where the sheet has no room for it."""
    text_at: tuple[float, float]
    """Left end of its foot."""
    arrow: tuple[Array, ...]
    """Strokes of the grain's arrow."""
    free: tuple[Array, ...]
    """Rings in the piece that hatching leaves out, round label and arrow."""


def marked(
    room: Room, pieces: Sequence[Shown], said: Callable[[Shown], str], width: Callable[[str], float]
) -> list[Marked]:
    """Labels and arrows of pieces, arrows and labels inside pieces first.

    Args:
        room: of the sheet.
        pieces: what is seen of them there.
        said: the label of one.
        width: of a line of text, mm.
    """
    arrows = [_arrow_inside(room, one) for one in pieces]
    made: list[Marked | None] = []
    for one, (strokes, ring) in zip(pieces, arrows, strict=True):
        text = said(one)
        needs_arrow = not strokes and not one.placed.piece.is_groove
        spot = None if needs_arrow else room.inside(one.shape, (width(text) + 1, HIGH), inside(one.shape))
        made.append(None if spot is None else _labelled(one, text, spot, strokes, ring))
    for place, (one, (strokes, ring)) in enumerate(zip(pieces, arrows, strict=True)):
        if made[place] is None:
            made[place] = _beside(room, one, (said(one), str(one.number)), strokes, ring, width)
    return [each for each in made if each is not None]


Arrow = tuple[tuple[Array, ...], tuple[Array, ...]]


def _arrow_inside(room: Room, one: Shown) -> Arrow:
    """The arrow of a piece, its place taken."""
    strokes, rings = grain_arrow(one)
    room.take(rings)
    return strokes, rings


def grain_arrow(one: Shown) -> Arrow:
    """The strokes of the arrow along the grain inside a piece, and the ring round it; none for a groove or where it
    does not fit."""
    if one.placed.piece.is_groove:
        return (), ()
    found = arrow_place(one.shape, math.radians(one.placed.grain), ARROW, ARROW_WIDE, inside(one.shape))
    if found is None:
        return (), ()
    middle, length = found
    unit = _along(one)
    strokes = tuple(arrow(middle, unit, length, both=True))
    along, across = unit * (length / 2 + 0.4), np.array([-unit[1], unit[0]]) * (ARROW_WIDE * length / ARROW + 0.3)
    ring = middle + np.array([-along - across, along - across, along + across, across - along, -along - across])
    return strokes, (ring,)


def arrow_beside(one: Shown, middle: Array) -> tuple[Array, ...]:
    """The strokes of the arrow of a piece in which there is no room for it."""
    return () if one.placed.piece.is_groove else tuple(arrow(middle, _along(one), ARROW_BESIDE, both=True))


def _along(one: Shown) -> Array:
    angle = math.radians(one.placed.grain)
    return np.array([math.cos(angle), math.sin(angle)])


def _labelled(one: Shown, text: str, spot: Spot, strokes: Sequence[Array], free: Sequence[Array]) -> Marked:
    left, bottom, right, top = spot.box
    ring = np.array([[left, bottom], [right, bottom], [right, top], [left, top], [left, bottom]])
    holes = (*free, ring) if spot.leader is None else tuple(free)
    return Marked(one, text, spot, (left + 0.5, (bottom + top) / 2 - 0.8), tuple(strokes), holes)


def _beside(
    room: Room,
    one: Shown,
    texts: Sequence[str],
    strokes: Sequence[Array],
    free: Sequence[Array],
    width: Callable[[str], float],
) -> Marked:
    """The label beside its piece, or only its number where there is no more room."""
    needs_arrow = not strokes and not one.placed.piece.is_groove
    room_for_arrow = ARROW_BESIDE + 1 if needs_arrow else 0.0
    for text in texts:
        size = (width(text) + 1 + room_for_arrow, max(HIGH, room_for_arrow))
        spot = room.beside(one.shape, size)
        if spot is None:
            continue
        if needs_arrow:
            strokes = arrow_beside(one, np.array([spot.box[0] + room_for_arrow / 2, (spot.box[1] + spot.box[3]) / 2]))
        made = _labelled(one, text, spot, strokes, free)
        return replace(made, text_at=(made.text_at[0] + room_for_arrow, made.text_at[1]))
    return Marked(one, texts[0], None, (0.0, 0.0), tuple(strokes), tuple(free))
