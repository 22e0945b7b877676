"""Finding zero again between batches: two pins in the trim margin, and a place to measure depth from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from ..design import Point
from ..stack.stack import Stack

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


@dataclass(frozen=True)
class Zero:
    """Where zero is, and how it is found again."""

    pins: tuple[Point, ...]
    """Middles of the two pin holes, mm on the raw panel; none where no margin is wide enough."""
    pin_diameter: float
    depth_place: Point | None
    """A place of the raw face that no pocket comes near: depth is measured from here."""
    depth_room: float
    """Radius that is free of pockets round it, mm."""


def zero_of(stack: Stack) -> Zero:
    """Pins and the place for depth, of a panel."""
    pockets = shapely.union_all([placed.pocket for placed in stack.pieces if placed.sound])
    pins, diameter = _pins(stack, pockets)
    free = shapely.difference(stack.box, pockets)
    place, room = _free_place(free)
    return Zero(pins, diameter, place, room)


def _free_place(free: shapely.Geometry) -> tuple[Point | None, float]:
    """The middle and radius of the largest free disc."""
    best: tuple[Point | None, float] = (None, 0.0)
    for part in shapely.get_parts(free):
        circle = shapely.maximum_inscribed_circle(part, 0.5)
        if circle.length > best[1]:
            x, y = shapely.get_coordinates(circle)[0].tolist()
            best = ((x, y), float(circle.length))
    return best if best[1] >= FOOT else (None, 0.0)


def _pins(stack: Stack, pockets: shapely.Geometry) -> tuple[tuple[Point, ...], float]:
    """The two places farthest apart in the margins, for the thickest pin that has room in them."""
    margin = shapely.difference(stack.box, stack.finished_box)
    for diameter in PINS:
        radius = diameter / 2 + ROUND_PIN
        places = _places(stack, radius)
        good = shapely.contains_xy(shapely.buffer(margin, 1e-6), *places.T) if len(places) else np.array([], bool)
        discs = shapely.buffer(shapely.points(places), radius - 1e-6)
        good &= shapely.covered_by(discs, shapely.buffer(margin, 1e-6)) & ~shapely.intersects(discs, pockets)
        pair = _farthest(places[good], stack)
        if pair:
            return pair, diameter
    return (), 0.0


def _places(stack: Stack, radius: float) -> Array:
    """Along the middles of the four margins, where they are wide enough."""
    panel = stack.design.panel
    left, right, bottom, top = panel.edge_trim
    xs, ys = (np.arange(radius, side - radius + 1e-6, STEP) for side in (panel.width, panel.height))
    rows = [(xs, y) for y, wide in ((bottom / 2, bottom), (panel.height - top / 2, top)) if wide >= 2 * radius]
    columns = [(x, ys) for x, wide in ((left / 2, left), (panel.width - right / 2, right)) if wide >= 2 * radius]
    places = [np.column_stack([x, np.full(len(x), y)]) for x, y in rows]
    places += [np.column_stack([np.full(len(y), x), y]) for x, y in columns]
    return np.concatenate(places) if places else np.empty((0, 2))


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
