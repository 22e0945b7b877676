"""Wood between two pockets: walls too thin to stand, and edges that nearly meet.

A wall counts only where it still stands when all is cut: a third pocket that is cut in the same batch or later
takes it away or hides it, and so does the edge trim. A patch inside a body is an overlap and makes no wall; what
it leaves of the body is a remnant. Flush pockets, which share an edge within 0.01 mm, have no wood between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import NOISE_AREA, without_noise
from ..design import Point
from ..kept import Kept
from ..stack.pocket_pairs import FLUSH, ROUNDING
from ..stack.stack import PlacedPiece, Stack
from ..witness import anywhere_wider, common_points, widest_place

Ints = npt.NDArray[np.int64]
Shapes = npt.NDArray[np.object_]

HAIR = 0.5
"""Wood thinner than this, mm, is no wall but a hair that crumbles (common practice)."""
_NOTHING = shapely.LineString()


@dataclass(frozen=True)
class Wall:
    """What stands between two pockets at its thinnest place. Pieces are indices into the stack, in design order."""

    earlier: int
    later: int
    gap: float
    """Least distance of the two pockets at the face, mm, exact for their straight edges."""
    height: float
    """Down to the shallower pocket's floor, mm."""
    at: Point
    """Middle of the shortest connection."""
    one_batch: bool
    """Both pockets are open at the same time."""


@dataclass(frozen=True)
class SharedEdge:
    """An edge that two pockets of one batch share: each is cut away by the other's cutter, so no wood parts them."""

    earlier: int
    later: int
    length: float
    """Length of all that they share, mm."""
    at: Point
    """Middle of its longest stretch."""


@dataclass(frozen=True)
class Bite:
    """An overlap that is nowhere wider than a hair."""

    earlier: int
    later: int
    width: float
    """Diameter of the largest disc in the overlap, mm."""
    at: Point


def walls(stack: Stack, below: float) -> list[Wall]:
    """Everything thinner than `below` mm that stands between two pockets, one wall per pair, by design order."""
    pieces = [placed for placed in stack.pieces if placed.sound]
    if len(pieces) < 2:
        return []
    pockets = np.array([p.pocket for p in pieces], dtype=object)
    shapely.prepare(pockets)
    tree = shapely.STRtree(pockets)
    first, second = _near_and_apart(stack, pieces, tree, below)
    lines = _connections(pockets[first], pockets[second])
    found = []
    for i, j, line, in_the_way in zip(first, second, lines, _meeting(tree, lines), strict=True):
        pair = (pieces[i], pieces[j])
        others = [pieces[k].pocket for k in in_the_way if k not in (i, j) and _counts(pieces[k], *pair)]
        if line.length > FLUSH + ROUNDING and (others or not stack.finished_box.covers(line)):
            line = _standing_connection(stack, tree, pieces, (int(i), int(j)), below)
        if FLUSH + ROUNDING < line.length < below - ROUNDING:
            found.append(_wall(*pair, line))
    return sorted(found, key=lambda wall: (wall.later, wall.earlier))


def _near_and_apart(
    stack: Stack, pieces: Sequence[PlacedPiece], tree: shapely.STRtree, below: float
) -> tuple[Ints, Ints]:
    """Pairs of pockets that do not overlap, nearer than `below`. Looked at closely are those alone whose boxes are."""
    pockets = tree.geometries
    low, high = np.split(shapely.bounds(pockets), 2, axis=1)
    around = shapely.box(*(low - below).T, *(high + below).T)
    first, second = tree.query(around)
    first, second = first[first < second], second[first < second]
    index = np.array([p.index for p in pieces])
    apart = ~np.isin(_pair_numbers(stack, index[first], index[second]), _overlaps(stack, pieces))
    first, second = first[apart], second[apart]
    near = _NEAR.of(
        [(pockets[i], pockets[j], below) for i, j in zip(first, second, strict=True)],
        lambda new: shapely.dwithin(pockets[first[new]], pockets[second[new]], below).tolist(),
    )
    kept = np.array(near, dtype=bool)
    return first[kept], second[kept]


def _pair_numbers(stack: Stack, earlier: Ints, later: Ints) -> Ints:
    """One number for each pair of pieces."""
    return earlier * len(stack.pieces) + later


def _overlaps(stack: Stack, pieces: Sequence[PlacedPiece]) -> Ints:
    """The numbers of all pairs that overlap."""
    earlier = np.repeat([p.index for p in pieces], [len(p.under) for p in pieces])
    return _pair_numbers(stack, earlier, np.array([j for p in pieces for j in p.under], dtype=np.int64))


def _connections(one: Shapes, other: Shapes) -> Shapes:
    """The shortest line between each two shapes."""
    pairs = list(zip(one, other, strict=True))
    lines = _LINES.of(pairs, lambda new: list(shapely.shortest_line(one[new], other[new])))
    return np.array(lines, dtype=object)


_NEAR: Kept[bool] = Kept(16384)
_LINES: Kept[BaseGeometry] = Kept()


def _wall(one: PlacedPiece, other: PlacedPiece, line: BaseGeometry) -> Wall:
    (x0, y0), (x1, y1) = shapely.get_coordinates(line).tolist()
    return Wall(
        earlier=one.index,
        later=other.index,
        gap=float(line.length),
        height=min(one.depth, other.depth),
        at=((x0 + x1) / 2, (y0 + y1) / 2),
        one_batch=one.batch == other.batch,
    )


def _meeting(tree: shapely.STRtree, shapes: Shapes) -> list[list[int]]:
    """For each shape the pockets that it meets."""
    met: list[list[int]] = [[] for _ in shapes]
    for shape, pocket in tree.query(shapes, predicate="intersects").T.tolist():
        met[shape].append(pocket)
    return met


def _counts(placed: PlacedPiece, *pair: PlacedPiece) -> bool:
    """Whether a third pocket takes away what stands between a pair: one cut before both is but their ground."""
    return placed.batch >= min(one.batch for one in pair)


def _standing_connection(
    stack: Stack, tree: shapely.STRtree, pieces: Sequence[PlacedPiece], pair: tuple[int, int], below: float
) -> BaseGeometry:
    """The shortest connection of two pockets' edges where neither is cut away; of no length where none is left."""
    i, j = pair
    bounds = shapely.bounds([pieces[i].pocket, pieces[j].pocket])
    low, high = bounds[:, :2].max(axis=0) - below, bounds[:, 2:].min(axis=0) + below
    bounds = shapely.bounds(stack.finished_box)
    low, high = np.maximum(low, bounds[:2]), np.minimum(high, bounds[2:])  # no short connection leaves this rectangle
    if (low >= high).any():
        return _NOTHING
    near = tree.query(shapely.box(*low, *high), predicate="intersects").tolist()
    others = [pieces[k].pocket for k in near if k not in pair and _counts(pieces[k], pieces[i], pieces[j])]
    edges = np.array([shapely.clip_by_rect(pieces[k].pocket.boundary, *low, *high) for k in pair], dtype=object)
    for pocket in others:
        edges = shapely.difference(edges, pocket)
        if shapely.is_empty(edges).any():
            return _NOTHING
    line: BaseGeometry = shapely.shortest_line(*edges)
    if line is None or (shapely.length(shapely.intersection(line, others)) > FLUSH).any():
        return _NOTHING
    return line


# --- Shared edges ---------------------------------------------------------------------------------------------------

_BESIDE = 0.001
"""How much farther than `FLUSH` an edge may run and still be shared, mm: so much are curves flattened."""


def shared_edges(stack: Stack) -> list[SharedEdge]:
    """Edges that pockets of one batch share within 0.01 mm, as far as they are seen; one per pair, by design order."""
    pieces = [placed for placed in stack.pieces if placed.sound]
    if len(pieces) < 2:
        return []
    pockets = np.array([p.pocket for p in pieces], dtype=object)
    shapely.prepare(pockets)
    first, second = _near_and_apart(stack, pieces, shapely.STRtree(pockets), FLUSH + ROUNDING)
    batch = np.array([p.batch for p in pieces])
    at_once = batch[first] == batch[second]
    first, second = first[at_once], second[at_once]
    kept = _SHARED.of(
        [(pockets[i], pockets[j]) for i, j in zip(first, second, strict=True)],
        lambda new: list(_shared_lines(pockets[first[new]], pockets[second[new]])),
    )
    lines = _seen(stack, [(pieces[i], pieces[j]) for i, j in zip(first, second, strict=True)], kept)
    stretches, owner = shapely.get_parts(shapely.line_merge(lines), return_index=True)
    if not len(stretches):
        return []
    lengths = shapely.length(stretches)
    whole = np.bincount(owner, lengths, len(lines))
    longest = np.full(len(lines), -1)
    order = np.argsort(lengths, kind="stable")
    longest[owner[order]] = order
    middles = shapely.get_coordinates(shapely.line_interpolate_point(stretches[longest], 0.5, normalized=True)).tolist()
    found = [
        SharedEdge(pieces[i].index, pieces[j].index, length, (x, y))
        for i, j, length, (x, y) in zip(first, second, whole.tolist(), middles, strict=True)
        if length > ROUNDING
    ]
    return sorted(found, key=lambda edge: (edge.later, edge.earlier))


_SHARED: Kept[BaseGeometry] = Kept(16384)


def _shared_lines(earlier: Shapes, later: Shapes) -> Shapes:
    """Where the later pocket's edge runs along the earlier one."""
    room = FLUSH + _BESIDE
    low = np.maximum(shapely.bounds(earlier)[:, :2], shapely.bounds(later)[:, :2]) - 2 * room
    high = np.minimum(shapely.bounds(earlier)[:, 2:], shapely.bounds(later)[:, 2:]) + 2 * room
    windows = shapely.box(*low.T, *high.T)
    edges = shapely.intersection(shapely.boundary(later), windows)
    along = shapely.buffer(shapely.intersection(shapely.boundary(earlier), windows), room, quad_segs=4)
    return _lines(shapely.intersection(edges, along))


def _lines(shapes: Shapes) -> Shapes:
    """The lines of each shape, without points."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    straight = (shapely.get_dimensions(parts) == 1) & ~shapely.is_empty(parts)
    parts, owner = parts[straight], owner[straight]
    lines = np.full(len(shapes), _NOTHING, dtype=object)
    if len(parts):
        owners = np.unique(owner)
        lines[owners] = shapely.multilinestrings(parts, indices=np.searchsorted(owners, owner))
    return lines


def _seen(stack: Stack, pairs: Sequence[tuple[PlacedPiece, PlacedPiece]], lines: Sequence[BaseGeometry]) -> Shapes:
    """The part of each pair's shared edge that lies inside the edge trim and no later pocket takes away."""
    seen = np.array([*lines, None], dtype=object)[:-1]
    box = stack.finished_box
    shapely.prepare(box)
    outside = ~shapely.covers(box, seen)
    seen[outside] = _lines(shapely.intersection(seen[outside], box))
    for n, (earlier, later) in enumerate(pairs):
        for k in sorted({*earlier.cut_by, *later.cut_by} - {later.index}):
            seen[n] = shapely.difference(seen[n], stack.pieces[k].pocket)
    return _lines(seen)


# --- Overlaps -------------------------------------------------------------------------------------------------------


def shallow_bites(stack: Stack) -> list[Bite]:
    """Overlaps nowhere wider than 0.5 mm, as far as they are not cut away or trimmed off."""
    pairs = [(placed.index, j) for placed in stack.pieces for j in placed.under]
    if not pairs:
        return []
    pockets = np.array([p.pocket for p in stack.pieces], dtype=object)
    shapely.prepare(pockets)
    earlier, later = np.array(pairs).T
    unsure = np.isnan(common_points(pockets[earlier], pockets[later], HAIR / 2)[:, 0])
    earlier, later = earlier[unsure], later[unsure]
    shared = shapely.intersection(pockets[earlier], pockets[later])
    thin = ~anywhere_wider(shared, HAIR + ROUNDING)
    found = []
    for i, j, overlap in zip(earlier[thin].tolist(), later[thin].tolist(), shared[thin], strict=True):
        seen = _seen_overlap(stack, i, j, overlap)
        if seen.area > NOISE_AREA:
            width, at = widest_place(overlap)
            cut_down = overlap.area - seen.area > NOISE_AREA
            found.append(Bite(i, j, width, widest_place(seen)[1] if cut_down else at))
    return sorted(found, key=lambda bite: (bite.later, bite.earlier))


def _seen_overlap(stack: Stack, i: int, j: int, overlap: BaseGeometry) -> BaseGeometry:
    """The overlap inside the edge trim, without what other pockets take of the earlier piece there."""
    others = [stack.pieces[k].pocket for k in stack.pieces[i].under if k != j]
    seen = without_noise(shapely.intersection(overlap, stack.finished_box))
    return shapely.difference(seen, shapely.union_all(others)) if others else seen
