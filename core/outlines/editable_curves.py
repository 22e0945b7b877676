"""Outlines as curves to edit, and back to path data: in a piece's own frame, mm, neither scaled nor flattened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..areas import filled
from ..design import LineOutline, OutlineSource, PathOutline, PolygonOutline
from .curves import Array, flatten, line_cubics
from .path_data import closed_subpaths
from .svg_artwork import load_artwork

STRAIGHT = 1e-9
"""A cubic is a line where its handles lie at the thirds of its chord, within so many times its length."""
ALIKE = 1e-3
"""Curves stand for artwork where they fill the same area within this share of it."""


@dataclass(frozen=True)
class Run:
    """One run of the pen: cubics (m, 4, 2) end to end, which of them are straight (m,), and whether it closes."""

    cubics: Array
    straight: npt.NDArray[np.bool_]
    closed: bool


def run_of(cubics: Array, closed: bool, within: float = 0.0) -> Run:
    """The run of these cubics, those straight whose handles are off their line by no more than `within`, mm."""
    thirds = line_cubics(cubics[:, [0, 3]].reshape(-1, 2))[::2]
    length = np.maximum(np.abs(np.diff(cubics, axis=1)).sum(axis=(1, 2)), 1e-12)
    straight = np.abs(cubics - thirds).max(axis=(1, 2)) <= np.maximum(STRAIGHT * length, within)
    moves = np.any(cubics[:, 0] != cubics[:, 3], axis=1) | ~straight
    return Run(cubics[moves], straight[moves], closed)


def line_run(points: Array, closed: bool) -> Run:
    """Straight lines through points (n, 2)."""
    ring = np.vstack([points, points[:1]]) if closed else points
    return run_of(line_cubics(ring), closed)


def outline_runs(source: OutlineSource, folder: Path) -> tuple[Run, ...]:
    """The curves of an outline, closed but for a line's.

    Raises:
        UnusableInput: path data or artwork that cannot be read.
    """
    if isinstance(source, PathOutline):
        return tuple(run_of(run.cubics, True) for run in closed_subpaths(source.data, "outline.path"))
    if isinstance(source, LineOutline):
        return (line_run(np.array(source.points, np.float64), False),)
    if isinstance(source, PolygonOutline):
        return tuple(line_run(np.array(ring, np.float64), True) for ring in (source.points, *source.holes))
    return artwork_runs(folder, source.file, source.element)


def artwork_runs(folder: Path, file: str, element: str | None) -> tuple[Run, ...]:
    """The curves of artwork. Where its shapes overlap each other, the lines of what they fill together.

    Raises:
        UnusableInput: the file cannot be used, or has no such element.
    """
    artwork = load_artwork(folder, file, "outline.svg")
    shape, _ = artwork.shape_of(element, 1.0, "outline")
    return _standing_for([cubics for drawn in artwork.drawn(element) for cubics in drawn.subpaths], shape)


def artwork_pieces(folder: Path, file: str) -> list[tuple[str, tuple[Run, ...]]]:
    """What an SVG file draws filled, each shape by itself: its id ("" where it has none) and its curves.

    Raises:
        UnusableInput: the file cannot be used, or draws nothing filled.
    """
    artwork = load_artwork(folder, file, "the import")
    artwork.shape_of(None, 1.0, "the import")  # refuses what cannot be read, and files with nothing filled
    pieces = []
    for drawn in artwork.drawn(None):
        shape = filled([_ring(cubics) for cubics in drawn.subpaths], drawn.rule)
        if not shape.is_empty:
            pieces.append((artwork.name_of(drawn), _standing_for(drawn.subpaths, shape)))
    return pieces


def _standing_for(curves: Sequence[Array], shape: BaseGeometry) -> tuple[Run, ...]:
    """The curves, turned so that the nonzero rule fills `shape`; its own lines where they cross, or none does."""
    runs = [run for cubics in curves if len(_ring((run := run_of(cubics, True)).cubics)) > 2]
    polygons = [Polygon(_ring(run.cubics)) for run in runs]
    if all(p.is_valid for p in polygons) and not any(a.overlaps(b) for a, b in combinations(polygons, 2)):
        drawn = _turned_by_depth(runs, polygons)
        fills = filled([_ring(run.cubics) for run in drawn], "nonzero")
        if shapely.area(shapely.symmetric_difference(fills, shape)) <= ALIKE * shape.area:
            return tuple(drawn)
    rings = [ring for part in shapely.get_parts(shape) for ring in (part.exterior, *part.interiors)]
    return tuple(line_run(shapely.get_coordinates(ring)[:-1], True) for ring in rings)


def _ring(cubics: Array) -> Array:
    points = flatten(cubics) if len(cubics) else np.empty((0, 2))
    return points[:-1] if len(points) and np.array_equal(points[0], points[-1]) else points


def _turned_by_depth(runs: Sequence[Run], polygons: Sequence[Polygon]) -> list[Run]:
    """Rings counter-clockwise, holes clockwise, islands in them counter-clockwise again: the nonzero rule's order."""
    turned = []
    for run, polygon in zip(runs, polygons, strict=True):
        depth = sum(other.covers(polygon) for other in polygons if other is not polygon)
        turned.append(run if polygon.exterior.is_ccw == (depth % 2 == 0) else _backwards(run))
    return turned


def _backwards(run: Run) -> Run:
    return Run(run.cubics[::-1, ::-1].copy(), run.straight[::-1].copy(), run.closed)


def centred(runs: Sequence[Run]) -> tuple[tuple[Run, ...], tuple[float, float]]:
    """The runs about their own middle, and where that was, in hundredths of a millimetre."""
    points = np.vstack([run.cubics.reshape(-1, 2) for run in runs])
    middle = np.round((points.min(axis=0) + points.max(axis=0)) / 2, 2)
    moved = tuple(Run(np.round(run.cubics - middle, 9), run.straight, run.closed) for run in runs)
    return moved, (float(middle[0]), float(middle[1]))


def bent(runs: Sequence[Run], matrix: Array) -> tuple[Run, ...]:
    """The runs stretched or sheared by a (2, 2) matrix; curves stay curves, lines lines."""
    return tuple(Run(run.cubics @ matrix.T, run.straight, run.closed) for run in runs)


def corner_points(run: Run) -> Array:
    """The points (n, 2) of a straight run; a bent one's flattened."""
    if run.straight.all():
        return np.vstack([run.cubics[:, 0], run.cubics[-1:, 3]])
    return flatten(run.cubics)


def path_data(runs: Sequence[Run]) -> str:
    """Closed runs as SVG path data; every number is written so that it reads back as the same float64."""
    return " ".join(_subpath(run) for run in runs)


def _subpath(run: Run) -> str:
    words = ["M", _point(run.cubics[0, 0])]
    back = run.closed and np.array_equal(run.cubics[-1, 3], run.cubics[0, 0])
    last = len(run.cubics) - 1
    for index, (cubic, straight) in enumerate(zip(run.cubics, run.straight, strict=True)):
        if not straight:
            words += ["C", *map(_point, cubic[1:])]
        elif index < last or not back:  # Z draws the line back to the start
            words += ["L", _point(cubic[3])]
    return " ".join([*words, "Z"] if run.closed else words)


def _point(point: Array) -> str:
    return " ".join(f"{value:.0f}" if value == round(value) else repr(float(value)) for value in point)
