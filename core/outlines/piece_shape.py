"""From a piece's outline, however it is given, to its shape: scaled and flattened, in its own frame, not yet placed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.validation import explain_validity

from ..areas import EMPTY, NOISE_AREA, arc_points, filled, quadrant_segments, without_noise
from ..design import LineOutline, PathOutline, Piece, PolygonOutline, SvgOutline
from ..errors import UnusableInput
from ..limits import LARGEST, MOST_POINTS, refuse_beyond
from .crossings import CROSSES_TOO_OFTEN, cross_too_often
from .curves import Array, flatten, flattened_size, smooth_cubics
from .path_data import closed_subpaths
from .svg_artwork import load_artwork

_REASONS = {
    "Self-intersection": "the outline crosses itself",
    "Ring Self-intersection": "a ring touches itself",
    "Hole lies outside shell": "a hole lies outside the outline",
    "Holes are nested": "a hole lies in another hole",
    "Interior is disconnected": "a hole cuts the outline in two",
    "Too few points in geometry component": "a ring has no area",
    "Duplicate Rings": "two rings are the same",
}
"""What shapely says of a polygon that is not valid, in the maker's words."""


@dataclass(frozen=True)
class Outline:
    """A piece's outline in its own frame: after scale, before mirror, turn and move. Lengths in mm."""

    shape: Polygon | MultiPolygon
    """Valid, noise left out; empty when there is a problem."""
    centre_line: Array | None = None
    """Centre line of `line` pieces: (n, 2), flattened, no two neighbours alike."""
    width: float | None = None
    """Width of `line` pieces, mm."""
    problem: str | None = None
    """What is wrong with the outline, such as "the outline crosses itself"; None when it is sound."""
    problem_at: tuple[float, float] | None = None
    notes: tuple[str, ...] = ()
    """What was left out of SVG artwork, such as "2 strokes are left out"."""


def load_outline(piece: Piece, folder: Path) -> Outline:
    """The outline of a piece.

    Args:
        piece: only its `outline`, `scale` and (for messages) `id` are used.
        folder: where the design lies, and its SVG files.

    Raises:
        UnusableInput: path data or an SVG file that cannot be read, an element that is not there, or more than
            is worked on (`limits`).
            A ring that crosses itself or has no area is no such error but an outline with a `problem`.
    """
    source = piece.outline
    if isinstance(source, PolygonOutline):
        return _from_polygon(source, piece)
    if isinstance(source, PathOutline):
        return _from_path(source, piece)
    if isinstance(source, LineOutline):
        return _from_line(source, piece)
    return _from_svg(source, piece, folder)


def _refuse_beyond(piece: Piece, count: float, largest: float) -> None:
    """Refuse, before any work, too many points or too large a coordinate, mm."""
    place = f'piece "{piece.id}".outline'
    if not largest <= LARGEST:
        problem = f"it reaches {largest / 1000:.3g} m from its origin"
        raise UnusableInput("", place, problem, f"Draw or scale it within {LARGEST / 1000:g} m")
    refuse_beyond(count, MOST_POINTS, "points", "Draw it with fewer, smoother curves, or smaller", place)


def _from_polygon(source: PolygonOutline, piece: Piece) -> Outline:
    rings = [_open_ring(piece.scale * np.array(ring, np.float64)) for ring in (source.points, *source.holes)]
    _refuse_beyond(piece, sum(map(len, rings)), max(float(np.abs(ring).max()) for ring in rings))
    return _first_bad(rings) or _sound(Polygon(rings[0], rings[1:]))


def _open_ring(points: Array) -> Array:
    """The ring without a last point that repeats the first."""
    return points[:-1] if len(points) > 1 and np.array_equal(points[0], points[-1]) else points


def _first_bad(rings: Iterable[Array]) -> Outline | None:
    """The problem of the first ring that is not simple or has no area."""
    for ring in rings:
        outline = _sound(Polygon(ring)) if len(ring) >= 3 else _bad("a ring has no area", _middle(ring))
        if outline.problem:
            return outline
    return None


def _middle(points: Array) -> tuple[float, float]:
    x, y = (points.min(axis=0) + points.max(axis=0)) / 2
    return float(x), float(y)


def _sound(shape: Polygon) -> Outline:
    """The outline of that shape, or its problem."""
    if shape.convex_hull.area <= NOISE_AREA:  # all on one line, where shapely would speak of crossings
        return _bad("a ring has no area", _middle(shapely.get_coordinates(shape)))
    reason = re.fullmatch(r"(.*?)\[(\S+) (\S+)\]", explain_validity(shape))
    if reason:
        words = _REASONS.get(reason[1], "the outline crosses itself")
        return _bad(words, (float(reason[2]), float(reason[3])))
    if shape.area <= NOISE_AREA:
        return _bad("a ring has no area", _middle(shapely.get_coordinates(shape)))
    return Outline(without_noise(shape))


def _bad(problem: str, at: tuple[float, float]) -> Outline:
    return Outline(EMPTY, problem=problem, problem_at=at)


def _from_path(source: PathOutline, piece: Piece) -> Outline:
    """Rings of one path, filled by the nonzero rule, which is SVG's own where nothing else is said."""
    subpaths = closed_subpaths(source.data, f'piece "{piece.id}".outline.path')
    largest = piece.scale * max(float(np.abs(subpath.cubics).max()) for subpath in subpaths)
    _refuse_beyond(piece, sum(flattened_size(subpath.cubics, piece.scale) for subpath in subpaths), largest)
    rings = [_open_ring(_without_repeats(flatten(piece.scale * subpath.cubics))) for subpath in subpaths]
    return _first_bad(rings) or _crossing(rings) or Outline(filled(rings, "nonzero"))


def _crossing(rings: list[Array]) -> Outline | None:
    """The problem of two sound rings that cross each other."""
    if len(rings) == 1:
        return None
    polygons = [Polygon(ring) for ring in rings]
    couples = np.sort(shapely.STRtree(polygons).query(polygons, predicate="overlaps"), axis=0).T
    for i, j in np.unique(couples, axis=0):
        one, other = polygons[i], polygons[j]
        if min(one.intersection(other).area, one.difference(other).area) > NOISE_AREA:
            at = shapely.get_coordinates(one.exterior.intersection(other.exterior))[0]
            return _bad("two rings cross each other", (float(at[0]), float(at[1])))
    return None


def _without_repeats(points: Array) -> Array:
    """The points without those that repeat the one before."""
    moved = np.any(points[1:] != points[:-1], axis=1)
    kept: Array = points[np.concatenate([[True], moved])]
    return kept


def _from_line(source: LineOutline, piece: Piece) -> Outline:
    points = _without_repeats(piece.scale * np.array(source.points, np.float64))
    width = piece.scale * source.width
    reach = float(np.abs(points).max()) + width / 2
    _refuse_beyond(piece, len(points), reach)
    if len(points) < 2:
        return _bad("the line has no length", _middle(points))
    centre_line = points
    if source.smooth:
        cubics = smooth_cubics(points)
        _refuse_beyond(piece, flattened_size(cubics), reach)
        centre_line = _without_repeats(flatten(cubics))
    segments = quadrant_segments(width / 2)
    _refuse_beyond(piece, 2 * len(centre_line) + arc_points(centre_line, segments) + 4 * segments, reach)
    if cross_too_often([centre_line]):
        raise UnusableInput("", f'piece "{piece.id}".outline', CROSSES_TOO_OFTEN, "Draw it as several lines")
    shape = shapely.buffer(shapely.linestrings(centre_line), width / 2, quad_segs=segments)
    return Outline(without_noise(shape), centre_line, width)


def _from_svg(source: SvgOutline, piece: Piece, folder: Path) -> Outline:
    artwork = load_artwork(folder, source.file, f'piece "{piece.id}".outline.svg')
    shape, notes = artwork.shape_of(source.element, piece.scale, f'piece "{piece.id}"')
    if shape.is_empty:
        return Outline(shape, problem="the artwork has no area", problem_at=(0.0, 0.0), notes=notes)
    return Outline(shape, notes=notes)
