"""Finding zero again between batches: two pins in the trim margin, and a place to measure depth from."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from ..design import Point
from ..measures.movement import panel_movement, trimmed_size
from ..stack.stack import Stack
from .glue_up import runs_upright

Array = npt.NDArray[np.float64]

PINS = (8.0, 6.0, 5.0, 4.0, 3.0)
"""Diameters of pins, mm, the thickest that fits is taken (common practice)."""
ROUND_PIN = 2.0
"""Wood left round a pin's hole, mm (common practice)."""
STEP = 5.0
"""Places for pins are tried so far apart, mm."""
TOLD_APART = 15.0
"""Turned by half a turn, the panel's holes miss the pins by at least this, mm, so that it goes on one way only."""
FOOT = 6.0
"""A place to measure depth from is free of pockets for at least this radius, mm."""
UNKNOWN_MOVEMENT = 0.015
"""What wood that is in no table may move across its grain, as a share of its size (common practice)."""


@dataclass(frozen=True)
class Zero:
    """Where zero is, and how it is found again."""

    pins: tuple[Point, ...]
    """Middles of the two pin holes, mm on the raw panel; none where no margin is wide enough."""
    pin_diameter: float
    slot: float
    """The second hole is a slot that reaches so far to both sides of its middle, mm, in the direction of the first one;
    0 where both holes are round, since they lie along the grain, in which wood does not move."""
    depth_place: Point | None
    """A place of the raw face that no pocket comes near: depth is measured from here."""
    depth_room: float
    """Radius that is free of pockets round it, mm."""


def zero_of(stack: Stack) -> Zero:
    """Pins and the place for depth, of a panel."""
    pockets = shapely.union_all([placed.pocket for placed in stack.pieces if placed.sound])
    pins, diameter, slot = _pins(stack, pockets)
    free = shapely.difference(stack.box, pockets)
    place, room = _free_place(free)
    return Zero(pins, diameter, slot, place, room)


def _free_place(free: shapely.Geometry) -> tuple[Point | None, float]:
    """The middle and radius of the largest free disc."""
    best: tuple[Point | None, float] = (None, 0.0)
    for part in shapely.get_parts(free):
        circle = shapely.maximum_inscribed_circle(part, 0.5)
        if circle.length > best[1]:
            x, y = shapely.get_coordinates(circle)[0].tolist()
            best = ((x, y), float(circle.length))
    return best if best[1] >= FOOT else (None, 0.0)


def _pins(stack: Stack, pockets: shapely.Geometry) -> tuple[tuple[Point, ...], float, float]:
    """Two places in one margin, as far apart as can be, for the thickest pin that has room; its size, and the slot.

    Margins along the grain come first: wood moves across its grain, so that the distance of two holes along it stays.
    Elsewhere one hole is a slot that points to the other: the panel slides on it as it moves, and cannot turn.
    """
    margin = shapely.buffer(shapely.difference(stack.box, stack.finished_box), 1e-6)
    upright = runs_upright(stack.design.panel)
    for diameter in PINS:
        radius = diameter / 2 + ROUND_PIN
        for along_grain in (True, False):
            slot = 0.0 if along_grain else _slot(stack, upright)
            for places in _places(stack, radius, upright == along_grain):
                holes = _holes(places, radius - 1e-6, slot, upright)
                good = shapely.covered_by(holes, margin) & ~shapely.intersects(holes, pockets)
                pair = _farthest(places[good], stack)
                if pair:
                    return pair, diameter, slot
    return (), 0.0, 0.0


def _slot(stack: Stack, upright: bool) -> float:
    """How far the panel may move across its grain from season to season, between pins at its two edges, mm."""
    across = 0 if upright else 1
    size, panel = trimmed_size(stack.design)[across], stack.design.panel
    raw = (panel.width, panel.height)[across]
    moves = panel_movement(stack)
    share = UNKNOWN_MOVEMENT if moves is None else moves.frame_room[across] / size
    return math.ceil(2 * share * raw) / 2


def _holes(places: Array, radius: float, slot: float, upright: bool) -> npt.NDArray[np.object_]:
    """What each hole takes, with the wood round it; slots reach across the grain."""
    reach = np.array([slot, 0.0] if upright else [0.0, slot])
    middles = np.stack([places - reach, places + reach], axis=1)
    return np.atleast_1d(shapely.buffer(shapely.linestrings(middles), radius)) if len(places) else np.array([])


def _places(stack: Stack, radius: float, upright: bool) -> Iterator[Array]:
    """Along the middles of the two margins that run this way, where they are wide enough: the one at zero first."""
    panel = stack.design.panel
    left, right, bottom, top = panel.edge_trim
    sides = (left / 2, left), (panel.width - right / 2, right)
    if not upright:
        sides = (bottom / 2, bottom), (panel.height - top / 2, top)
    run = np.arange(radius, (panel.height if upright else panel.width) - radius + 1e-6, STEP)
    for middle, wide in sides:
        if wide >= 2 * radius:
            there = np.full(len(run), middle)
            yield np.column_stack([there, run] if upright else [run, there])


def _farthest(places: Array, stack: Stack) -> tuple[Point, ...]:
    """Two places as far apart as can be that half a turn does not bring onto each other."""
    if len(places) < 2:
        return ()
    panel = stack.design.panel
    turned = np.array([panel.width, panel.height]) - places
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    swapped = np.hypot(*(places[:, None] - turned[None]).transpose(2, 0, 1))
    apart[swapped < TOLD_APART] = 0.0
    first, second = np.unravel_index(np.argmax(apart), apart.shape)
    if apart[first, second] < min(panel.width, panel.height) / 2:
        return ()
    (x1, y1), (x2, y2) = sorted([places[first].tolist(), places[second].tolist()])
    return ((x1, y1), (x2, y2))
