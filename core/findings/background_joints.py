"""Findings of the background's joints: those that run along a piece's edge, and those that line up."""

from __future__ import annotations

import math
from collections.abc import Iterator

import shapely

from ..measures.all_measures import Measures
from ..measures.background_joints import NEAR, EdgeJoint, Joint, joints_along_edges, lined_up_joints
from ..stack.stack import PlacedPiece
from .finding import Finding, Step, of, xy


def joint_under_edge(m: Measures) -> Iterator[Finding]:
    """A strip's joint within 1 mm of a piece's edge, and along it for more than 10 mm; a note where joints line up."""
    for run in joints_along_edges(m.stack):
        placed = m.stack.pieces[run.piece]
        where = "beside it, and leaves a sliver between" if run.outside else "inside it"
        apart = f"{run.distance:.2f} mm {where}" if run.distance >= 0.005 else "right under it"
        words = f"{_named(run.joint)} runs along its edge for {run.length:.2f} mm, {apart}"
        remedy = f"Move it so that the joint lies more than {NEAR:.2f} mm from the edge, or well under the piece"
        step = _off_the_joint(placed, run)
        yield of("warning", "joint-under-edge", placed, run.at, words, remedy, step, value=run.length)
    pairs = lined_up_joints(m.stack)
    if pairs:
        middle = pairs[0][0].line.centroid
        at = (float(middle.x), float(middle.y))
        count = f"{len(pairs)} times" if len(pairs) > 1 else "once"
        first = f"first {_named(pairs[0][0])}"
        words = f"background at {xy(at)}: segment joints of neighbouring strips line up {count}, {first}"
        remedy = "Nothing to do if you want this pattern; offset joints make a stronger panel"
        yield Finding("note", "joint-under-edge", None, None, at, words, remedy, value=len(pairs))


def _named(joint: Joint) -> str:
    (strip, segment), (other_strip, other_segment) = (name.split("-") for name in joint.names)
    if joint.between == "strips":
        return f"the joint of strips {strip} and {other_strip}"
    return f"the joint of segments {segment} and {other_segment} of strip {strip}"


def _off_the_joint(placed: PlacedPiece, run: EdgeJoint) -> Step | None:
    """The piece moved square to the joint, away from it with that edge, to 1.5 times the distance that counts."""
    x0, y0, x1, y1 = shapely.bounds(run.joint.line)
    edge = shapely.shortest_line(shapely.points(run.at), shapely.boundary(placed.pocket))
    (ax, ay), (bx, by) = shapely.get_coordinates(edge).tolist()
    x, y = placed.piece.at
    if x1 - x0 > y1 - y0:
        return Step(placed.piece.id, "at", (x, round(y + math.copysign(1.5 * NEAR - abs(by - ay), by - ay), 3)))
    return Step(placed.piece.id, "at", (round(x + math.copysign(1.5 * NEAR - abs(bx - ax), bx - ax), 3), y))
