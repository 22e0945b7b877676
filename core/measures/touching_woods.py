"""Where two woods meet in the finished face, and for how long: the edges by which a picture is read.

A later piece's edge is the wall of its pocket, where no pocket that is cut after it takes it away. Along it lies the
latest of the earlier pieces that its pocket cuts into, or else the background; or a piece whose pocket shares the wall.
Side clearances are thinner than any eye sees, so that an insert is taken to reach its wall.

Edges are first looked at every few millimetres, all of them at once; only those that matter are measured.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..design import Panel, Point
from ..kept import Kept
from ..stack.pocket_pairs import FLUSH
from ..stack.stack import BackgroundPiece, PlacedPiece, Stack, background_pieces
from ..witness import lines_of

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Shapes = npt.NDArray[np.object_]

STEP = 4.0
"""Edges are looked at every so many mm."""
BESIDE = 0.01
"""A line within this of a wall, mm, lies on it."""

Side = PlacedPiece | BackgroundPiece
Wanted = Callable[[Side, Side], bool]
"""Whether two neighbours are of interest, the later one first."""


@dataclass(frozen=True)
class Meeting:
    """A piece and what it meets, or two woods of the background. Pieces are indices into the stack."""

    later: int | None
    """None for two woods of the background."""
    earlier: int | None
    """None for the background."""
    woods: tuple[str, str]
    """The later one's first."""
    length: float
    """Length of the edge that they share and that is seen, mm; until it is measured within some mm."""
    at: Point | None = None
    """Middle of its longest stretch; None until it is measured."""


def wood_of(side: Side) -> str:
    """The wood of a piece or of a part of the background."""
    return side.wood if isinstance(side, BackgroundPiece) else side.piece.wood


class Face:
    """The finished face of a stack: what meets what in it."""

    def __init__(self, stack: Stack) -> None:
        self.stack = stack
        trim = stack.design.panel.face_trim
        self.pockets: Shapes = np.array([placed.pocket_at(trim) for placed in stack.pieces], dtype=object)
        shapely.prepare(self.pockets)
        self.seen = [p for p in stack.pieces if not stack.remnants[p.index].is_empty]
        self.grounds = {part.wood: part for part in stack.background}
        """One part of the background for each of its woods."""

    @cached_property
    def outlines(self) -> Array:
        """For each piece the length of its outline that is seen, mm."""
        return np.asarray(shapely.length(shapely.boundary(np.array(self.stack.remnants, dtype=object))))

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(self.pockets)

    # Who meets whom, and about for how long

    def meetings(self, wanted: Wanted) -> list[Meeting]:
        """Neighbours of interest: pieces in design order, then the background's own woods."""
        pieces = self.stack.pieces
        under = {p.index: [j for j in p.over if wanted(p, pieces[j])] for p in self.seen}
        grounds = {p.index: [wood for wood, part in self.grounds.items() if wanted(p, part)] for p in self.seen}
        looked = self._look([i for i in under if under[i] or grounds[i]])
        flush = self._flush(wanted)
        found = []
        for i, lengths in looked.items():
            own = pieces[i].piece.wood
            on = [Meeting(i, j, (own, pieces[j].piece.wood), lengths[j]) for j in under[i] if j in lengths]
            beside = [Meeting(i, None, (own, wood), lengths[wood]) for wood in grounds[i] if wood in lengths]
            found += on + beside
        return found + flush + self._joints(wanted)

    def measured(self, meeting: Meeting) -> Meeting | None:
        """The meeting with its length and place; None where they meet nowhere in plain sight."""
        if meeting.at is not None or meeting.later is None:
            return meeting
        placed = self.stack.pieces[meeting.later]
        if meeting.earlier is not None:
            between = [k for k in self.stack.pieces[meeting.earlier].under if k < meeting.later]
            return self._along(meeting, self.pockets[meeting.earlier], [*placed.under, *between])
        boxes = shapely.union_all([part.box for part in self.stack.background if part.wood == meeting.woods[1]])
        touching = self._tree.query(self.pockets[placed.index], predicate="dwithin", distance=FLUSH).tolist()
        walls = [j for j in touching if j not in (placed.index, *placed.over, *placed.under)]
        ground = shapely.difference(boxes, shapely.union_all(shapely.buffer(self.pockets[walls], BESIDE)))
        return self._along(meeting, ground, [*placed.under, *placed.over])

    def _along(self, meeting: Meeting, ground: BaseGeometry, others: Sequence[int]) -> Meeting | None:
        """The wall of a pocket within `ground`, where no other pocket takes it away."""
        wall = shapely.boundary(self.pockets[meeting.later])
        shared = lines_of(shapely.intersection(lines_of(shapely.intersection(wall, ground)), self.stack.finished_box))
        for other in self.pockets[list(others)]:
            shared = shapely.difference(shared, other)
        return _measured(shared, meeting)

    def _look(self, of: Sequence[int]) -> dict[int, dict[int | str, float]]:
        """For each piece about how much of its edge lies on each earlier piece, and on each wood of the background."""
        background, panel = self.stack.background, self.stack.design.panel
        pieces = [self.stack.pieces[i] for i in of]
        subjects = [
            [*self.pockets[[p.index, *p.under]], None, *self.pockets[list(p.over)], background, *panel.edge_trim]
            for p in pieces
        ]
        looks = _LOOKS.of(subjects, lambda new: self._look_again([pieces[n] for n in new]))
        return {
            p.index: {(key if isinstance(key, str) else p.over[key]): length for key, length in look.items()}
            for p, look in zip(pieces, looks, strict=True)
        }

    def _look_again(self, pieces: Sequence[PlacedPiece]) -> list[dict[int | str, float]]:
        """Meetings with earlier pieces counted as their piece has them in its list."""
        points, owner, weight = _walk(self.pockets[[p.index for p in pieces]])
        shown = self._within(points, owner, [p.under for p in pieces]) < 0
        shown &= shapely.contains_xy(self.stack.finished_box, *points.T)
        points, owner, weight = points[shown], owner[shown], weight[shown]
        earlier = self._within(points, owner, [p.over for p in pieces])
        ground = _parts_at(self.stack, points)
        looks: list[dict[int | str, float]] = [{} for _ in pieces]
        for i, j, part, length in zip(owner.tolist(), earlier.tolist(), ground.tolist(), weight.tolist(), strict=True):
            key = self.stack.background[part].wood if j < 0 else j
            looks[i][key] = looks[i].get(key, 0.0) + length
        return looks

    def _within(self, points: Array, owner: Ints, neighbours: Sequence[Sequence[int]]) -> Ints:
        """For each point which of its owner's neighbours, the last one, has it in its pocket; -1 where none has."""
        top = np.full(len(points), -1)
        count = np.array([len(some) for some in neighbours], dtype=int)
        if not len(points) or not count.any():
            return top
        flat = np.array([j for some in neighbours for j in some], dtype=int)
        point = np.repeat(np.arange(len(points)), count[owner])
        place = np.arange(len(point)) - np.repeat(np.cumsum(count[owner]) - count[owner], count[owner])
        pocket = flat[(np.cumsum(count) - count)[owner[point]] + place]
        xy, bounds = points[point], shapely.bounds(self.pockets)[pocket]
        near = np.flatnonzero(((xy >= bounds[:, :2]) & (xy <= bounds[:, 2:])).all(axis=1))
        within = near[shapely.contains_xy(self.pockets[pocket[near]], *xy[near].T)]
        np.maximum.at(top, point[within], place[within])
        return top

    # Shared walls and joints, which are measured at once since they are few

    def _flush(self, wanted: Wanted) -> list[Meeting]:
        """Pieces of interest whose pockets share a wall and do not overlap."""
        pieces = self.stack.pieces
        first, second = self._tree.query(self.pockets) if pieces else np.empty((2, 0), int)
        seen = {p.index for p in self.seen}
        apart = [
            (i, j)
            for i, j in zip(first.tolist(), second.tolist(), strict=True)
            if i > j and i in seen and j in seen and j not in pieces[i].over and wanted(pieces[i], pieces[j])
        ]
        later, earlier = self.pockets[[i for i, _ in apart]], self.pockets[[j for _, j in apart]]
        near = _FLUSH.of(
            list(zip(later, earlier, strict=True)),
            lambda new: shapely.dwithin(later[new], earlier[new], FLUSH).tolist(),
        )
        found = []
        for (i, j), touches in zip(apart, near, strict=True):
            if touches:
                meeting = Meeting(i, j, (pieces[i].piece.wood, pieces[j].piece.wood), 0.0)
                others = {*pieces[i].under, *pieces[j].under}
                found.append(self._along(meeting, shapely.buffer(self.pockets[j], BESIDE), sorted(others)))
        return [meeting for meeting in found if meeting is not None]

    def _joints(self, wanted: Wanted) -> list[Meeting]:
        """Two woods of the background whose joints are seen."""
        joints: dict[tuple[str, str], list[BaseGeometry]] = {}
        for one, other, line in _background_joints(self.stack.design.panel):
            if one.wood != other.wood and wanted(one, other):
                joints.setdefault((min(one.wood, other.wood), max(one.wood, other.wood)), []).append(line)
        if not joints:
            return []
        pockets = shapely.union_all(self.pockets)
        found = []
        for woods, lines in joints.items():
            shared = lines_of(shapely.intersection(shapely.union_all(lines), self.stack.finished_box))
            found.append(_measured(shapely.difference(shared, pockets), Meeting(None, None, woods, 0.0)))
        return [meeting for meeting in found if meeting is not None]


_LOOKS: Kept[dict[int | str, float]] = Kept()
_FLUSH: Kept[bool] = Kept(16384)


def _walk(shapes: Shapes) -> tuple[Array, Ints, Array]:
    """Points (n, 2) about every 4 mm along the edges of shapes, whose edge each is of, and the length it stands for."""
    edges = shapely.segmentize(shapely.boundary(shapes), STEP)
    rings, owner = shapely.get_parts(edges, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    if not len(points):
        return points, np.empty(0, int), np.empty(0)
    ahead = np.hypot(*np.diff(points, axis=0, append=points[:1]).T) * (np.diff(ring, append=-1) == 0)
    stretch = np.floor((np.cumsum(ahead) - ahead) / STEP)
    first = np.flatnonzero((np.diff(stretch, prepend=-1) != 0) | (np.diff(ring, prepend=-1) != 0))
    return points[first], owner[ring[first]], np.add.reduceat(ahead, first)


def _parts_at(stack: Stack, points: Array) -> Ints:
    """Index of the part of the background at each point: parts come strip by strip, each from its lower end."""
    panel = stack.design.panel
    across = 1 if panel.strips_along == "x" else 0
    corners = shapely.bounds([part.box for part in stack.background])[:, :2]
    strips, strip = np.unique(corners[:, across], return_inverse=True)
    span = 2 * max(panel.width, panel.height)
    starts = strip * span + corners[:, 1 - across]
    at = np.searchsorted(strips, points[:, across], side="right") - 1
    return np.asarray(np.searchsorted(starts, at * span + points[:, 1 - across], side="right") - 1)


def _measured(shared: BaseGeometry, meeting: Meeting) -> Meeting | None:
    stretches = shapely.get_parts(shapely.line_merge(lines_of(shared)))
    lengths = shapely.length(stretches)
    if not lengths.sum() > 0:
        return None
    middle = shapely.line_interpolate_point(stretches[np.argmax(lengths)], 0.5, normalized=True)
    at = (float(middle.x), float(middle.y))
    return Meeting(meeting.later, meeting.earlier, meeting.woods, float(lengths.sum()), at)


@lru_cache(maxsize=8)
def _background_joints(panel: Panel) -> list[tuple[BackgroundPiece, BackgroundPiece, BaseGeometry]]:
    """Each two neighbours of the background, with the line between them."""
    parts = background_pieces(panel)
    tree = shapely.STRtree([part.box for part in parts])
    first, second = tree.query(tree.geometries)
    lines = shapely.intersection(tree.geometries[first], tree.geometries[second])
    found = zip(first.tolist(), second.tolist(), lines, strict=True)
    return [(parts[i], parts[j], line) for i, j, line in found if i < j and shapely.get_dimensions(line) == 1]
