"""The section: a straight cut, through the deepest overlaps or anywhere, what stays, and what to write beside it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from ..design import Point
from ..errors import UnusableInput
from ..stack.stack import PlacedPiece, Stack
from .overlap_map import OverlapRegion, overlap_regions

STEEPEST = 20.0
"""Degrees that the cut may lean from the panel's long direction."""
CANDIDATES = 24
SHORTEST = 0.01
"""A cut across less of the panel, mm, misses it."""


@dataclass(frozen=True)
class SectionMark:
    """One measure in the cut face: a vertical span at a place on the cut, mm."""

    kind: Literal["pocket", "skin", "floor", "proud"]
    x: float
    y: float
    z_top: float
    z_bottom: float
    text: str
    """The length in mm with two decimals."""
    piece: str | None


@dataclass(frozen=True)
class SectionCut:
    """Where the panel is cut open; who looks along the line sees the cut face from its right side."""

    line: tuple[Point, Point]
    """From one edge of the panel to another."""
    keep: Polygon
    """What stays: the part of the plane at the line's left, larger than the panel."""
    marks: tuple[SectionMark, ...]
    """Along the line."""


def section_cut(stack: Stack, line: tuple[Point, Point] | None = None) -> SectionCut:
    """Cut along a line, or along the one that shows most of the deepest overlaps; the line's left side stays."""
    if line is None:
        line = deepest_line(stack)
    start, end = np.array(line)
    along = (end - start) / math.dist(*line)
    left = np.array([-along[1], along[0]])
    reach = 2 * (stack.design.panel.width + stack.design.panel.height)
    front = start - reach * along, end + reach * along
    keep = Polygon([*front, front[1] + reach * left, front[0] + reach * left])
    marks = sorted(_marks(stack, line), key=lambda mark: float(along @ (mark.x, mark.y)))
    return SectionCut(line, keep, tuple(marks))


def line_across(stack: Stack, at: Point, angle: float) -> tuple[Point, Point]:
    """The line through a place, turned by an angle (degrees from +x), from where it enters the panel to its other edge.

    Raises:
        UnusableInput: it lies beside the panel.
    """
    panel = stack.design.panel
    way = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
    reach = math.dist(at, (panel.width / 2, panel.height / 2)) + panel.width + panel.height
    inside = shapely.intersection(LineString([at - reach * way, at + reach * way]), stack.box)
    if inside.length < SHORTEST:
        problem = f"the section plane at ({at[0]:.2f}, {at[1]:.2f}) lies beside the panel"
        raise UnusableInput("", "", problem, "Move it back, or use Find Busiest Cut")
    ends = shapely.get_coordinates(inside)
    order = np.argsort(ends @ way)
    (x0, y0), (x1, y1) = ends[order[[0, -1]]].tolist()
    return (x0, y0), (x1, y1)


def deepest_line(stack: Stack) -> tuple[Point, Point]:
    """The cut that runs longest through the deepest overlaps, leaning at most 20 degrees from +x."""
    regions = [r for r in overlap_regions(stack) if r.layers > 1] or overlap_regions(stack)
    weights = np.array([_weight(r) for r in regions])
    lines = list(_candidates(stack, regions))
    shapes = np.array([r.shape for r in regions], dtype=object)
    cuts = shapely.linestrings(np.array(lines))
    lengths = shapely.length(shapely.intersection(cuts[:, None], shapes[None, :]))
    return lines[int(np.argmax(lengths @ weights))]


def _weight(region: OverlapRegion) -> float:
    return region.layers**2 * region.depth


def _candidates(stack: Stack, regions: Sequence[OverlapRegion]) -> Iterable[tuple[Point, Point]]:
    parts = [(part, _weight(r)) for r in regions for part in shapely.get_parts(r.shape)]
    parts.sort(key=lambda entry: -entry[1] * math.sqrt(entry[0].area))
    points = [(p.x, p.y) for p in (shapely.point_on_surface(part) for part, _ in parts[:CANDIDATES])]
    width = stack.design.panel.width
    for _, y in points:
        yield (0.0, y), (width, y)
    for (xa, ya), (xb, yb) in combinations(points, 2):
        if abs(yb - ya) <= math.tan(math.radians(STEEPEST)) * abs(xb - xa):
            slope = (yb - ya) / (xb - xa)
            ends = ya - slope * xa, ya + slope * (width - xa)
            if all(0 < y < stack.design.panel.height for y in ends):
                yield (0.0, ends[0]), (width, ends[1])


@dataclass(frozen=True)
class _Span:
    """A stretch of the cut over which the same pockets lie, back to front."""

    start: float
    end: float
    pieces: tuple[PlacedPiece, ...]

    @property
    def width(self) -> float:
        return self.end - self.start

    @property
    def deepest(self) -> float:
        return max((p.depth for p in self.pieces), default=0.0)

    def above(self, piece: PlacedPiece) -> PlacedPiece:
        """The deepest of the later pieces here."""
        return max(self.pieces[self.pieces.index(piece) + 1 :], key=lambda p: p.depth)

    def owns_floor(self, piece: PlacedPiece) -> bool:
        """Whether the piece's own pocket floor is seen here: no later pocket is as deep."""
        return all(p.depth < piece.depth for p in self.pieces[self.pieces.index(piece) + 1 :])


def _marks(stack: Stack, line: tuple[Point, Point]) -> Iterable[SectionMark]:
    spans = _spans(stack, line)
    (x0, y0), (x1, y1) = line
    length = math.dist(*line)

    def mark(kind: Literal["pocket", "skin", "floor", "proud"], span: _Span, top: float, bottom: float,
             piece: PlacedPiece | None) -> SectionMark:  # fmt: skip
        t = (span.start + span.end) / 2 / length
        x, y = x0 + t * (x1 - x0), y0 + t * (y1 - y0)
        return SectionMark(kind, x, y, top, bottom, f"{top - bottom:.2f}", piece.piece.id if piece else None)

    for piece in stack.pieces:
        own = [s for s in spans if piece in s.pieces]
        if floors := [s for s in own if s.owns_floor(piece)]:
            widest = max(floors, key=lambda s: s.width)
            yield mark("pocket", widest, 0.0, -piece.depth, piece)
            if below := [s for s in floors if s.deepest == piece.depth]:
                place = widest if widest in below else max(below, key=lambda s: s.width)
                yield mark("floor", place, -piece.depth, -stack.design.panel.thickness, None)
        if tops := [s for s in own if s.pieces[-1] is piece and piece.top > 0]:
            yield mark("proud", max(tops, key=lambda s: s.width), piece.top, 0.0, piece)
        for span in _skins(own, piece):
            yield mark("skin", span, -span.above(piece).depth, -piece.depth, piece)


def _skins(spans: Sequence[_Span], piece: PlacedPiece) -> Iterable[_Span]:
    """For each later piece that leaves a skin of this one under it: the widest span where it does."""
    found: dict[str, _Span] = {}
    for span in spans:
        if span.pieces[-1] is not piece and span.owns_floor(piece):
            name = span.above(piece).piece.id
            if name not in found or span.width > found[name].width:
                found[name] = span
    return found.values()


def _spans(stack: Stack, line: tuple[Point, Point]) -> list[_Span]:
    cut = LineString(line)
    crossed = [p for p in stack.pieces if p.sound and p.pocket.intersects(cut)]
    ends = {0.0, cut.length}
    for piece in crossed:
        chord = shapely.intersection(piece.pocket, cut)
        ends.update(shapely.line_locate_point(cut, shapely.points(shapely.get_coordinates(chord))).tolist())
    stops = sorted(ends)
    spans = []
    for start, end in pairwise(stops):
        middle = cut.interpolate((start + end) / 2)
        over = tuple(p for p in crossed if p.pocket.contains(middle))
        if end - start > 0.05 and over:
            spans.append(_Span(start, end, over))
    return spans
