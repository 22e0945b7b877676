"""Gaps between two walls of a piece that its cutter does not get through: what is lost there is no tip of its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..cutter.rounding import opening
from ..design import Point
from ..kept import Kept
from ..stack.stack import PlacedPiece

_BESIDE = 0.02
"""A wall that lies so near to what fills a gap, mm, is a wall of it."""


@dataclass(frozen=True)
class Gap:
    """Where two parts of one outline lie too near to each other."""

    parts: tuple[int, int]
    """Which of the outline's parts; twice the same where one part folds back on itself."""
    width: float | None
    """Least distance of two parts, mm; of one part it is not known."""
    at: Point


def gap_beside(placed: PlacedPiece, lost: BaseGeometry, at: Point, radius: float) -> Gap | None:
    """The gap that costs a piece some of its outline; None where the cutter would not get in there without it either.

    Args:
        placed: the piece.
        lost: what of its outline is lost at one place.
        at: that place.
        radius: of the cutter, mm.
    """
    (opened,) = _OPENED.of([(placed.outline, radius)], lambda _: [opening(placed.outline, radius)])
    if shapely.difference(lost, opened).area > 0.5 * lost.area:
        return None
    parts = shapely.get_parts(placed.outline)
    own = int(np.argmin(shapely.distance(parts, lost)))
    others = np.flatnonzero(np.arange(len(parts)) != own)
    near = others[shapely.distance(parts[others], lost) < 2 * radius]
    if not len(near):
        return Gap((own, own), None, at)
    other = int(near[np.argmin(shapely.distance(parts[near], parts[own]))])
    line = shapely.shortest_line(parts[own], parts[other])
    x, y = shapely.get_coordinates(line).mean(axis=0).tolist()
    return Gap((min(own, other), max(own, other)), float(line.length), (x, y))


_OPENED: Kept[BaseGeometry] = Kept()


def width_between(filled: BaseGeometry, outline: BaseGeometry) -> float | None:
    """The least distance between the two walls of a gap that is filled, mm; None where it has only one wall."""
    walls = shapely.intersection(shapely.boundary(outline), shapely.buffer(filled, _BESIDE, quad_segs=4))
    lines = shapely.get_parts(shapely.line_merge(walls))
    lines = lines[(shapely.get_dimensions(lines) == 1) & (shapely.length(lines) > 4 * _BESIDE)]
    first, second = np.triu_indices(len(lines), 1)
    apart = shapely.distance(lines[first], lines[second])
    return float(apart.min()) if len(apart) and apart.min() > _BESIDE else None
