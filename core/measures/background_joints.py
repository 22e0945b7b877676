"""The background's glue joints: those that run along a piece's edge, and those lined up strip by strip."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..design import Panel, Point
from ..stack.stack import PlacedPiece, Stack, background_pieces
from ..witness import lines_of

Array = npt.NDArray[np.float64]

NEAR = 1.0
"""A joint nearer to an edge than this, mm, looks like a mistake, and wood between them flakes off (common practice)."""
ALONG = 10.0
"""It counts where it runs along the edge for more than this, mm (common practice)."""
ROUNDING = 1e-9


@dataclass(frozen=True)
class Joint:
    """A straight glue joint between two strips, or between two segments of one strip."""

    line: BaseGeometry
    names: tuple[str, str]
    """The background pieces on either side; of a joint between strips the first of each."""
    between: str
    """"strips" or "segments"."""


@dataclass(frozen=True)
class EdgeJoint:
    """A joint that runs along the edge of a piece. `piece` is an index into the stack."""

    piece: int
    joint: Joint
    length: float
    """For how long it is nearer than 1 mm, mm."""
    distance: float
    """Distance of the edge from the middle of that stretch, mm."""
    outside: bool
    """The joint lies beside the pocket, and a sliver of a strip between them; else the pocket takes the joint away."""
    at: Point


def joints(stack: Stack) -> list[Joint]:
    """All joints of the background, those between strips first."""
    return _joints(stack.design.panel)


@lru_cache(maxsize=8)
def _joints(panel: Panel) -> list[Joint]:
    strips: dict[str, list[Array]] = {}
    for piece in background_pieces(panel):
        strips.setdefault(piece.name.split("-")[1], []).append(np.array(shapely.bounds(piece.box)))
    along = 1 if panel.strips_along == "y" else 0
    length = panel.height if along else panel.width
    found = [
        Joint(_across(along, float(boxes[0][3 - along]), 0.0, length), (f"{s}-1", f"{t}-1"), "strips")
        for (s, boxes), (t, _) in pairwise(strips.items())
    ]
    for s, boxes in strips.items():
        for n, box in enumerate(boxes[:-1], 1):
            low, high = float(box[1 - along]), float(box[3 - along])
            line = _across(1 - along, float(box[2 + along]), low, high)
            found.append(Joint(line, (f"{s}-{n}", f"{s}-{n + 1}"), "segments"))
    return found


def _across(along: int, at: float, start: float, end: float) -> BaseGeometry:
    """A line that runs along an axis from start to end, where the other axis is `at`."""
    ends = [(at, start), (at, end)] if along else [(start, at), (end, at)]
    return shapely.linestrings(ends)


def joints_along_edges(stack: Stack) -> list[EdgeJoint]:
    """Where a joint runs for more than 10 mm within 1 mm of an edge that is seen, on either side of it.

    An edge over an earlier insert has no joint beside it, nor one that a later pocket or the edge trim takes away.
    """
    every = joints(stack)
    pieces = [placed for placed in stack.pieces if placed.sound]
    if not every or not pieces:
        return []
    slabs = np.array([joint.line.buffer(NEAR, cap_style="square") for joint in every], dtype=object)
    edges = shapely.boundary(np.array([p.pocket for p in pieces], dtype=object))
    piece, slab = shapely.STRtree(slabs).query(edges, predicate="intersects")
    bounds = shapely.bounds(slabs)
    clipped = [shapely.clip_by_rect(edges[p], *bounds[j]) for p, j in zip(piece, slab, strict=True)]
    near = np.array(clipped, dtype=object)
    long = shapely.length(near) + 2 * NEAR * shapely.get_num_geometries(near) > ALONG
    piece, slab, near = piece[long], slab[long], near[long]
    tree = shapely.STRtree([p.pocket for p in pieces])
    found = []
    for p, j, part in zip(piece.tolist(), slab.tolist(), near, strict=True):
        if _may_run_along(part, every[j].line):
            meeting = tree.query(every[j].line, predicate="intersects").tolist()
            others = [pieces[k].pocket for k in meeting if k != p]
            found += _runs(stack, pieces[p], every[j], part, others)
    return found


def _may_run_along(edge: BaseGeometry, line: BaseGeometry) -> bool:
    """Whether stretches within 1 mm can make 10 mm in a row: an edge that only crosses the joint is soon past it."""
    x0, _, x1, _ = shapely.bounds(line)
    along = 0 if x1 > x0 else 1
    starts, ends = shapely.bounds(shapely.get_parts(shapely.line_merge(lines_of(edge))))[:, [along, 2 + along]].T
    if not len(starts):
        return False
    order = np.argsort(starts)
    starts, ends = starts[order] - NEAR, np.maximum.accumulate(ends[order]) + NEAR
    breaks = np.flatnonzero(starts[1:] > ends[:-1])
    return bool((ends[np.r_[breaks, -1]] - starts[np.r_[0, breaks + 1]]).max() > ALONG)


def _runs(
    stack: Stack, placed: PlacedPiece, joint: Joint, edge: BaseGeometry, others: list[BaseGeometry]
) -> list[EdgeJoint]:
    """The stretches of one joint that run along one piece's edge, where other pockets leave it."""
    box = stack.finished_box
    later = shapely.union_all([stack.pieces[j].pocket for j in placed.under])
    seen = shapely.difference(lines_of(shapely.intersection(lines_of(edge), box)), later)
    beside = lines_of(shapely.intersection(joint.line, shapely.buffer(seen, NEAR, quad_segs=64)))
    beside = lines_of(shapely.intersection(beside, box))
    for pocket in others:
        beside = shapely.difference(beside, pocket)
    found = []
    for stretch in shapely.get_parts(shapely.line_merge(beside)):
        if stretch.length > ALONG + ROUNDING:
            middle = shapely.line_interpolate_point(stretch, 0.5, normalized=True)
            outside = not placed.pocket.contains(middle)
            distance = float(shapely.distance(middle, seen))
            at = (float(middle.x), float(middle.y))
            found.append(EdgeJoint(placed.index, joint, float(stretch.length), distance, outside, at))
    return found


def lined_up_joints(stack: Stack, within: float = 1.0) -> list[tuple[Joint, Joint]]:
    """Segment joints of neighbouring strips that lie within so many mm of each other: together a weak line."""
    ends: dict[int, list[Joint]] = {}
    for joint in joints(stack):
        if joint.between == "segments":
            ends.setdefault(int(joint.names[0].split("-")[0]), []).append(joint)
    return [
        (one, other)
        for strip, here in ends.items()
        for one in here
        for other in ends.get(strip + 1, [])
        if shapely.distance(one.line, other.line) <= within + ROUNDING
    ]
