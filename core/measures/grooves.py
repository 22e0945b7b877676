"""Grooves and the strips that fill them: length, thickness, how tight they bend, which ends show."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..design import LineOutline, Point
from ..stack.stack import PlacedPiece, Stack
from ..witness import anywhere_wider
from .walls import HAIR

Array = npt.NDArray[np.float64]

_BESIDE_A_BEND = (4.0, 8.0, 12.0, 16.0)
"""mm before and after a tight stretch along which the strip may leave the line within its play."""
LEAST_PLAY = 0.01
"""A strip gives at least this much sideways, mm, however little play it was given (common practice)."""


@dataclass(frozen=True)
class Bend:
    """The tightest place of a groove's centre line."""

    radius: float
    """mm; endless for a straight line."""
    at: Point


@dataclass(frozen=True)
class StripEnd:
    """An end of a groove of which the round gap beyond the strip is seen. `piece` is an index into the stack."""

    piece: int
    end: Literal["first", "last"]
    at: Point


def strip_length(placed: PlacedPiece) -> float:
    """Length of the strip along its centre line, mm."""
    return float(shapely.length(shapely.linestrings(_line(placed))))


def strip_thickness(placed: PlacedPiece) -> float:
    """The strip's size across the groove, in the face: the line's width less the clearance on both sides, mm."""
    assert isinstance(placed.piece.outline, LineOutline)
    return placed.piece.outline.width * placed.piece.scale - 2 * placed.piece.strip_clearance


def _line(placed: PlacedPiece) -> Array:
    assert placed.centre_line is not None
    return placed.centre_line


# --- Bending --------------------------------------------------------------------------------------------------------


def tightest_bend(placed: PlacedPiece) -> Bend:
    """The least radius to which the strip must be bent to lie in its groove.

    The line is first thinned within a third of the strip's play, which takes off the wobble of flattening or
    tracing and leaves points that still lie on the line. At each point the radius is that of the circle through it
    and its neighbours: exact on arcs. A lone corner of the line, turning by angle a, may be rounded as far as the
    play p on both sides lets the strip swing: p + p = R (1 / cos(a/2) - 1).
    """
    play = max(placed.piece.strip_clearance, LEAST_PLAY)
    points = shapely.get_coordinates(shapely.simplify(shapely.linestrings(_line(placed)), play / 3))
    if len(points) > 3 and np.array_equal(points[0], points[-1]):
        points = np.vstack([points, points[1]])
    if len(points) < 3:
        x, y = points[0].tolist()
        return Bend(math.inf, (x, y))
    radii = np.minimum(circle_radii(points), _corner_radii(points, play))
    tightest = int(np.argmin(radii))
    x, y = points[tightest + 1].tolist()
    return Bend(float(radii[tightest]), (x, y))


def play_takes_up(placed: PlacedPiece, least: float) -> bool:
    """Whether the strip can lie in its groove without bending tighter than a radius, since each tight stretch is short.

    Over a stretch and some mm before and after it the strip may run along an arc of that radius, as long as it leaves
    the line by no more than its play.
    """
    play = max(placed.piece.strip_clearance, LEAST_PLAY)
    points = shapely.get_coordinates(shapely.simplify(shapely.linestrings(_line(placed)), play / 3))
    if len(points) < 3 or np.array_equal(points[0], points[-1]):
        return False
    line = shapely.linestrings(points)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    tight = np.flatnonzero(np.minimum(circle_radii(points), _corner_radii(points, play)) < least) + 1
    runs = np.split(tight, np.flatnonzero(np.diff(tight) > 1) + 1)
    return all(_follows(line, along[run[0]], along[run[-1]], least, play) for run in runs if len(run))


def _follows(line: BaseGeometry, start: float, end: float, radius: float, play: float) -> bool:
    """Whether an arc of a radius leaves a line by no more than the play, over a stretch and as much on both sides."""
    for beyond in _BESIDE_A_BEND:
        low, high = start - beyond, end + beyond
        if low < 0 or high > line.length:
            return False
        xy = shapely.get_coordinates(shapely.line_interpolate_point(line, np.linspace(low, high, 65)))
        chord = xy[-1] - xy[0]
        half = float(np.hypot(*chord)) / 2
        if not 0 < half < radius:
            return False
        square = np.array([-chord[1], chord[0]]) / (2 * half)
        bulge = float(np.sign(((xy - xy[0]) @ square).sum()))
        centre = (xy[0] + xy[-1]) / 2 - bulge * math.sqrt(radius**2 - half**2) * square
        if np.abs(np.hypot(*(xy - centre).T) - radius).max() <= play:
            return True
    return False


def circle_radii(points: Array) -> Array:
    """Radius (n - 2,) of the circle through each three neighbours of a line (n, 2); inf where they are in line."""
    before, after, across = points[1:-1] - points[:-2], points[2:] - points[1:-1], points[2:] - points[:-2]
    twice_area = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    sides = np.hypot(*before.T) * np.hypot(*after.T) * np.hypot(*across.T)
    radii = np.full(len(sides), np.inf)
    np.divide(sides, 2 * twice_area, out=radii, where=twice_area > 1e-12 * sides)
    return radii


def _corner_radii(points: Array, play: float) -> Array:
    """Radius (n - 2,) to which a strip with that play on either side may round each corner of a line (n, 2)."""
    step = np.diff(points, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs((np.diff(heading) + math.pi) % (2 * math.pi) - math.pi)
    rise = 1 - np.cos(turn / 2)
    radii = np.full(len(turn), np.inf)
    np.divide(2 * play * np.cos(turn / 2), rise, out=radii, where=rise > 0)
    return radii


# --- Ends -----------------------------------------------------------------------------------------------------------


def shown_ends(stack: Stack) -> list[StripEnd]:
    """Ends of grooves in plain sight in the finished face, by design order.

    Beyond the strip's square end the groove goes on as a half disc of gap. The end is hidden where later pockets
    and the edge trim take all of that half disc but a hair. A closed line has no ends.
    """
    found = []
    for placed in stack.pieces:
        if not placed.sound or not placed.piece.is_groove or np.array_equal(*_line(placed)[[0, -1]]):
            continue
        line = _line(placed)
        for end, vertex, inward in (("first", line[0], line[1]), ("last", line[-1], line[-2])):
            seen = _seen(stack, placed, _end_gap(placed, vertex, inward))
            if anywhere_wider(np.array([seen], dtype=object), HAIR)[0]:
                at = (float(vertex[0]), float(vertex[1]))
                found.append(StripEnd(placed.index, "first" if end == "first" else "last", at))
    return found


def _end_gap(placed: PlacedPiece, vertex: Array, inward: Array) -> BaseGeometry:
    """The half disc beyond the strip's end."""
    assert isinstance(placed.piece.outline, LineOutline)
    radius = placed.piece.outline.width * placed.piece.scale / 2
    back = math.atan2(*(inward - vertex)[::-1])
    angle = back + math.pi / 2 + np.linspace(0, math.pi, 33)
    return shapely.polygons(vertex + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1))


def _seen(stack: Stack, placed: PlacedPiece, gap: BaseGeometry) -> BaseGeometry:
    trim = stack.design.panel.face_trim
    later = [stack.pieces[j].pocket_at(trim) for j in placed.under]
    seen: BaseGeometry = shapely.intersection(gap, stack.finished_box)
    return shapely.difference(seen, shapely.union_all(later)) if later else seen
