"""Steps that may cure a finding where its own does not, or has none: to be tried before they are offered."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt
import shapely

from ..design import Point
from ..measures.all_measures import Measures
from ..measures.outside import room_for
from ..measures.walls import HAIR
from ..stack.stack import PlacedPiece
from .finding import Finding, Step
from .strength import BITE, LEAST_BITE
from .trials import outward

Array = npt.NDArray[np.float64]

ROOM = 0.1
"""Room beyond the least that is left where pieces are moved, mm (common practice)."""
DEEP_ENOUGH = (2.0, 1.0, 0.6)
"""A pocket that trimming would take off goes so much deeper than that, mm: from 0.5 on its insert is not too thin."""
MOST_MOVED = 5.0
"""A piece is not moved farther than this to cure anything but that it leaves the panel, mm: it is drawn where it is."""


def other_steps(m: Measures, finding: Finding, placed: PlacedPiece, other: PlacedPiece | None) -> Iterator[Step]:
    """Steps for one finding, the likeliest first."""
    if finding.code in _OF_PAIRS and other is not None:
        yield from _OF_PAIRS[finding.code](m, finding, placed, other)
    if finding.code in _OF_ONE:
        yield from _OF_ONE[finding.code](m, finding, placed)


def _moved(placed: PlacedPiece, way: Array, by: float) -> Step:
    x, y = (np.array(placed.piece.at) + by * way).tolist()
    return Step(placed.piece.id, "at", (round(x, 3), round(y, 3)))


def _meeting(m: Measures, finding: Finding, later: PlacedPiece, earlier: PlacedPiece) -> Iterator[Step]:
    """Either one moved towards the other, or the later made larger, until it bites; or one moved off the other."""
    if finding.level == "note":
        return
    way = outward(later, finding.at)
    gap = float(shapely.distance(later.pocket, earlier.pocket))
    short = gap if gap > 0 else finding.value  # the overlap has a minus
    reach = float(np.dot(np.subtract(finding.at, later.piece.at), way))
    for bite in (BITE, LEAST_BITE, 1.0):
        yield _moved(later, way, bite + short)
        yield _moved(earlier, way, -bite - short)
        if reach > 10 * (bite + short):
            grown = math.ceil(1e4 * later.piece.scale * (1 + (bite + short) / reach)) / 1e4
            yield Step(later.piece.id, "scale", grown)
    needed = (m.workshop.min_wall if later.batch == earlier.batch or gap == 0 else HAIR) + ROOM
    yield _moved(later, way, short - needed)
    yield _moved(earlier, way, needed - short)


def _wall(m: Measures, finding: Finding, later: PlacedPiece, earlier: PlacedPiece) -> Iterator[Step]:
    """Either one moved off the other."""
    line = shapely.get_coordinates(shapely.shortest_line(earlier.pocket, later.pocket))
    way = (line[1] - line[0]) / max(float(np.hypot(*(line[1] - line[0]))), 1e-9)
    by = m.workshop.min_wall + ROOM + finding.value  # the gap has a minus
    if 0 < by <= MOST_MOVED:
        yield _moved(later, way, by)
        yield _moved(earlier, way, -by)


def _joint(m: Measures, finding: Finding, placed: PlacedPiece) -> Iterator[Step]:
    """The other way: the joint then lies under the piece, or beside it."""
    if finding.step is not None and isinstance(finding.step.value, tuple):
        by = np.subtract(finding.step.value, placed.piece.at)
        size = float(np.hypot(*by))
        for far in (3.0, 3.5):
            if 0 < size < far:
                yield _moved(placed, by / size, -(far - size))


def _too_shallow(m: Measures, finding: Finding, placed: PlacedPiece) -> Iterator[Step]:
    """Deeper than the face trim, by less and less."""
    for more in DEEP_ENOUGH:
        depth = m.panel.face_trim - m.workshop.depth_error + more
        yield Step(placed.piece.id, "pocket_depth", round(depth, 2))


def _outside(m: Measures, finding: Finding, placed: PlacedPiece) -> Iterator[Step]:
    """Moved in by the least that brings it inside; or until a wall is left beside it, or all of it shows."""
    x0, y0, x1, y1 = placed.pocket.bounds
    left, bottom, right, top = room_for(m.stack, placed)
    inner = m.stack.finished_box.bounds
    wall = m.workshop.min_wall + ROOM
    for (low_x, low_y, high_x, high_y), room in (
        ((left, bottom, right, top), 0.0),
        ((left, bottom, right, top), wall),
        (inner, 0.0),
        (inner, wall),
    ):
        by = (_into(x0, x1, low_x + room, high_x - room), _into(y0, y1, low_y + room, high_y - room))
        if None not in by:
            yield Step(placed.piece.id, "at", _place(placed, (by[0] or 0.0, by[1] or 0.0)))


def _into(low: float, high: float, least: float, most: float) -> float | None:
    """How far to move what reaches from low to high to lie in least to most; None where it is too large."""
    if high - low > most - least:
        return None
    if low < least:
        return least - low
    return most - high if high > most else 0.0


def _place(placed: PlacedPiece, by: Point) -> Point:
    x, y = placed.piece.at
    return (round(x + by[0], 3), round(y + by[1], 3))


def _skin(m: Measures, finding: Finding, later: PlacedPiece, earlier: PlacedPiece) -> Iterator[Step]:
    """As deep as the earlier one, so that nothing is left under it."""
    yield Step(later.piece.id, "pocket_depth", round(earlier.depth, 6))


_OF_PAIRS: dict[str, Callable[[Measures, Finding, PlacedPiece, PlacedPiece], Iterator[Step]]] = {
    "meeting-edges": _meeting,
    "thin-wall": _wall,
    "thin-skin": _skin,
}
_OF_ONE: dict[str, Callable[[Measures, Finding, PlacedPiece], Iterator[Step]]] = {
    "joint-under-edge": _joint,
    "trimmed-away": _too_shallow,
    "outside-panel": _outside,
}
CURABLE = frozenset((*_OF_PAIRS, *_OF_ONE))
"""Codes of findings for which there are such steps."""
