"""Volumes by exact rational arithmetic: convex outlines, upright walls, no play. Shares nothing with core or GEOS.

A convex polygon less another is cut along one side of the other after the next, and what lies outside kept: half-plane
clipping after Sutherland and Hodgman, "Reentrant polygon clipping", Communications of the ACM 17 (1974), here in
fractions, so that no digit is lost. Areas by the shoelace formula.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

Point = tuple[Fraction, Fraction]
Convex = list[Point]
"""Counter-clockwise."""


@dataclass(frozen=True)
class Pocket:
    """A piece without play: its insert fills the outline from `depth` up to `depth - thickness`."""

    outline: Convex
    depth: Fraction
    thickness: Fraction


@dataclass(frozen=True)
class Exact:
    """mm³ of each strip, of each insert, and of the voids."""

    strips: list[Fraction]
    inserts: list[Fraction]
    voids: Fraction


def convex(points: Iterable[Sequence[float]]) -> Convex:
    """Points of a design file as fractions: floats are exact."""
    return [(Fraction(x), Fraction(y)) for x, y in points]


def box(left: float, bottom: float, right: float, top: float) -> Convex:
    return convex([(left, bottom), (right, bottom), (right, top), (left, top)])


def area(polygon: Convex) -> Fraction:
    return sum((a[0] * b[1] - a[1] * b[0] for a, b in _sides(polygon)), Fraction(0)) / 2


def _sides(polygon: Convex) -> Iterable[tuple[Point, Point]]:
    return zip(polygon, [*polygon[1:], *polygon[:1]], strict=True)


def _left_of(point: Point, start: Point, end: Point) -> Fraction:
    """Positive on the left of a line, zero on it."""
    return (end[0] - start[0]) * (point[1] - start[1]) - (end[1] - start[1]) * (point[0] - start[0])


def clipped(polygon: Convex, start: Point, end: Point) -> Convex:
    """What of a convex polygon lies on the left of a line."""
    kept: Convex = []
    for a, b in _sides(polygon):
        side_a, side_b = _left_of(a, start, end), _left_of(b, start, end)
        if side_a >= 0:
            kept.append(a)
        if side_a * side_b < 0:
            part = side_a / (side_a - side_b)
            kept.append((a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])))
    return kept if len(kept) > 2 and area(kept) > 0 else []


def without(polygons: Iterable[Convex], cutter: Convex) -> list[Convex]:
    """Convex polygons less one more, in convex parts that overlap nowhere."""
    parts = []
    for polygon in polygons:
        if any(all(_left_of(point, *side) <= 0 for point in polygon) for side in _sides(cutter)):
            parts.append(polygon)  # a side of the cutter parts the two
            continue
        rest = polygon
        for start, end in _sides(cutter):
            outside = clipped(rest, end, start)
            if outside:
                parts.append(outside)
            rest = clipped(rest, start, end)
            if not rest:
                break
    return parts


def within(polygon: Convex, clip: Convex) -> list[Convex]:
    """The part of a polygon in another, as a list of one or none."""
    for start, end in _sides(clip):
        polygon = clipped(polygon, start, end) if polygon else []
    return [polygon] if polygon else []


def exact_volumes(strips: Sequence[Convex], thickness: Fraction, pockets: Sequence[Pocket]) -> Exact:
    """Who owns how much: at each depth the last pocket that is there owns a point, be it wood or void."""
    strip_volumes, insert_volumes = [Fraction(0)] * len(strips), [Fraction(0)] * len(pockets)
    left, bottom = strips[0][0]
    panel = [(left, bottom), (strips[-1][2][0], bottom), strips[-1][2], (left, strips[-1][2][1])]
    floors = [min(pocket.depth, thickness) for pocket in pockets]
    tops = [floor - pocket.thickness for floor, pocket in zip(floors, pockets, strict=True)]
    levels = sorted({Fraction(0), thickness, *(level for level in [*floors, *tops] if 0 <= level <= thickness)})
    for high, low in pairwise(levels):
        middle, height = (high + low) / 2, low - high
        there = [i for i, floor in enumerate(floors) if middle < floor]
        for s, strip in enumerate(strips):
            strip_volumes[s] += height * _area_left([strip], [pockets[i].outline for i in there])
        for n, i in enumerate(there):
            if middle > tops[i]:
                later = [pockets[j].outline for j in there[n + 1 :]]
                insert_volumes[i] += height * _area_left(within(pockets[i].outline, panel), later)
    voids = area(panel) * thickness - sum(strip_volumes) - sum(insert_volumes)
    return Exact(strip_volumes, insert_volumes, voids)


def _area_left(polygons: list[Convex], cutters: Iterable[Convex]) -> Fraction:
    for cutter in cutters:
        polygons = without(polygons, cutter)
    return sum(map(area, polygons), Fraction(0))
