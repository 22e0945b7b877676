"""What a design asks for, counted before its outlines are rounded and laid over each other; limits are in `limits`."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import arc_points, quadrant_segments, turns
from ..design import Piece
from ..errors import UnusableInput
from ..limits import (
    LARGEST_PLACED,
    MOST_ARC_POINTS,
    MOST_CLOSE_CORNERS,
    MOST_COINCIDENT,
    MOST_NEAR_PAIRS,
    MOST_OVERLAPS,
    MOST_POINTS_IN_ALL,
    refuse_beyond,
)
from ..outlines.crossings import CROSSES_TOO_OFTEN, cross_too_often
from ..outlines.piece_shape import Outline
from .placing import place_points

Array = npt.NDArray[np.float64]
Couples = npt.NDArray[np.int64]

FEWER = "Take pieces away, or spread them over several designs"
SHARP = math.radians(30)
"""Corners that turn by more are no part of a flattened curve."""


def refuse_too_rough(outlines: Sequence[tuple[Piece, Outline]]) -> None:
    """Looks how far out the outlines will lie, and counts what rounding them will make on the way.

    Raises:
        UnusableInput: one lies too far out, they have too many points together, or rounding makes too many.
    """
    for piece, outline in outlines:
        _refuse_far(piece, outline.shape)
    points = sum(int(shapely.get_num_coordinates(outline.shape)) for _, outline in outlines)
    refuse_beyond(
        points, MOST_POINTS_IN_ALL, "points in all outlines", "Draw them with fewer, smoother curves", "pieces"
    )
    arcs, close = 0.0, 0.0
    counted = set()
    for piece, outline in outlines:
        radius = piece.cutter_radius if piece.fit == "as-drawn" else piece.corner_radius
        same = (piece.outline, piece.scale, radius)  # rounded once
        if piece.is_groove or same in counted:
            continue
        counted.add(same)
        more, closer = _rounding(outline.shape, radius)
        arcs, close = arcs + more, close + closer
        place = f'piece "{piece.id}".outline'
        what = "points of the arcs that round the corners, up to here,"
        refuse_beyond(arcs, MOST_ARC_POINTS, what, "Draw smoother outlines, or round less", place)
        what = "pairs of corners nearer to each other than the cutter is wide, up to here,"
        refuse_beyond(close, MOST_CLOSE_CORNERS, what, "Draw smoother outlines, or use a smaller cutter", place)


def _refuse_far(piece: Piece, shape: BaseGeometry) -> None:
    if shape.is_empty:
        return
    left, bottom, right, top = shape.bounds
    corners = [[left, bottom], [right, bottom], [right, top], [left, top]]
    if np.abs(place_points(corners, piece)).max() <= LARGEST_PLACED:
        return
    furthest = float(np.abs(place_points(shapely.get_coordinates(shape), piece)).max())
    if furthest > LARGEST_PLACED:
        problem = f"it lies up to {furthest / 1000:.3g} m from the panel's corner"
        remedy = f"Move it to the panel, or at least within {LARGEST_PLACED / 1000:g} m"
        raise UnusableInput("", f'piece "{piece.id}"', problem, remedy)


def _rounding(shape: BaseGeometry, radius: float) -> tuple[float, float]:
    """Points of the arcs of that radius at all corners, and pairs of sharp corners within about its diameter."""
    segments = quadrant_segments(radius)
    arcs, sharp = 0.0, []
    for ring in shapely.get_rings(shape):
        points = shapely.get_coordinates(ring)
        turned = np.vstack([points, points[1:2]])
        arcs += arc_points(turned, segments)
        sharp.append(turned[1:-1][turns(turned) > SHARP])
    corners = np.concatenate(sharp) if sharp else np.empty((0, 2))
    if not len(corners):
        return arcs, 0.0
    _, crowd = np.unique(np.floor(corners / (2 * radius)), axis=0, return_counts=True)
    return arcs, float(np.sum(crowd * (crowd - 1.0)) / 2)


def near_couples(shapes: npt.NDArray[np.object_], changed: npt.NDArray[np.int64]) -> Couples:
    """Couples (n, 2) of shapes, the lower index first, whose boxes meet; one of each couple is among `changed`.

    Raises:
        UnusableInput: there are too many.
    """
    tree = shapely.STRtree(shapes)
    keys = [np.empty(0, np.int64)]
    near = 0
    for first in range(0, len(changed), 256):
        asked = changed[first : first + 256]
        boxes = tree.query(shapes[asked])
        near += boxes.shape[1]
        refuse_beyond(near / 2, MOST_NEAR_PAIRS, "pairs of pieces that may overlap, or more,", FEWER, "pieces")
        couples = np.sort(np.stack([asked[boxes[0]], boxes[1]]), axis=0)
        couples = couples[:, couples[0] < couples[1]]
        keys.append(couples[0] * len(shapes) + couples[1])
    found: Couples = np.stack(np.divmod(np.unique(np.concatenate(keys)), len(shapes)), axis=1)
    return found


def refuse_many_overlaps(count: int) -> None:
    """Counts what overlaps.

    Raises:
        UnusableInput: there are too many.
    """
    refuse_beyond(count, MOST_OVERLAPS, "pairs of pieces that overlap", FEWER, "pieces")


def refuse_coincident(pieces: Sequence[Piece], shapes: npt.NDArray[np.object_], couples: Couples) -> None:
    """Counts the couples that nearly coincide but for their depths, or whose walls lean.

    Raises:
        UnusableInput: there are too many.
    """
    if len(couples) <= MOST_COINCIDENT:
        return
    bounds, one, other = shapely.bounds(shapes), couples[:, 0], couples[:, 1]
    depth, taper = (np.array([getattr(p, name) for p in pieces]) for name in ("pocket_depth", "taper"))
    apart = (depth[one] != depth[other]) | (taper[one] != 0) | (taper[other] != 0)
    close = (np.abs(bounds[one[apart]] - bounds[other[apart]]) < COINCIDENT).all(axis=1)
    what = "pairs of pieces of different depths, or with leaning walls, that nearly coincide"
    refuse_beyond(int(close.sum()), MOST_COINCIDENT, what, "Take pieces away, or give them one depth", "pieces")


COINCIDENT = 0.1
"""mm, by which the boxes of pieces that nearly coincide differ at most."""


def refuse_tangles(pieces: Sequence[Piece], shapes: npt.NDArray[np.object_], couples: Couples) -> None:
    """Counts the crossings of couples of shapes with many points.

    Raises:
        UnusableInput: two outlines cross each other too often.
    """
    count = shapely.get_num_coordinates(shapes).astype(np.int64)
    for i, j in couples[count[couples[:, 0]] * count[couples[:, 1]] > LONG]:
        one, other = ([shapely.get_coordinates(r) for r in shapely.get_rings(shapes[k])] for k in (i, j))
        if cross_too_often(one, other):
            place = f'pieces[{i}] "{pieces[i].id}" and pieces[{j}] "{pieces[j].id}"'
            raise UnusableInput("", place, CROSSES_TOO_OFTEN, "Draw them smoother, or let them not overlap")


LONG = 4_000_000
"""Couples with a smaller product of their points than this are quick, however they lie."""
