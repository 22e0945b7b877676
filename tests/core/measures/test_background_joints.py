"""Joints of the background that run along edges or line up: exact places, and thresholds on either side.

The limits of 1 mm beside an edge and 10 mm along it are common practice, no published source; places are plane geometry
(DERIVED).
"""

from __future__ import annotations

import math

import pytest

from core.design import Segment, Strip
from core.measures.background_joints import joints, joints_along_edges, lined_up_joints
from core.stack.stack import Stack, build_stack

from ..designs import POINT_CUTTER, disc, make_design, make_panel, make_piece, rectangle

SHARP = {"cutter_diameter": POINT_CUTTER, "side_clearance": 0.0}
STRIPS = (
    Strip(50, (Segment(150, "ash"),)),
    Strip(60, (Segment(70, "ash"), Segment(80, "cherry"))),
    Strip(90, (Segment(70.8, "sapele"), Segment(40, "ash"), Segment(39.2, "sapele"))),
)


def stack_of(*pieces, **changes) -> Stack:
    return build_stack(make_design(pieces, make_panel(200, 150, **({"strips": STRIPS, "wood": None} | changes))))


def bar(x, y=20.0, width=15.0, height=30.0, name="bar", **changes):
    return make_piece(name, rectangle(width, height, x, y), **(SHARP | changes))


def test_all_joints_lie_between_strips_and_segments():
    found = {(joint.between, joint.names): joint.line.coords[:] for joint in joints(stack_of())}
    assert found == {
        ("strips", ("1-1", "2-1")): [(50, 0), (50, 150)],
        ("strips", ("2-1", "3-1")): [(110, 0), (110, 150)],
        ("segments", ("2-1", "2-2")): [(50, 70), (110, 70)],
        ("segments", ("3-1", "3-2")): [(110, 70.8), (200, 70.8)],
        ("segments", ("3-2", "3-3")): [(110, 110.8), (200, 110.8)],
    }


def test_strips_along_x_have_joints_along_x():
    strips = (Strip(50, (Segment(80, "ash"), Segment(120, "elm"))), Strip(100, (Segment(200, "ash"),)))
    found = [joint.line.coords[:] for joint in joints(stack_of(strips=strips, strips_along="x"))]
    assert found == [[(0, 50), (200, 50)], [(80, 0), (80, 50)]]


def test_a_plain_panel_has_none():
    assert joints(stack_of(strips=(), wood="sapele")) == []
    assert joints_along_edges(stack_of(bar(50), strips=(), wood="sapele")) == []


@pytest.mark.parametrize("distance", [0.0, 0.5, 0.99])
def test_a_joint_beside_an_edge_leaves_a_sliver(distance):
    (found,) = joints_along_edges(stack_of(bar(50 + distance)))
    assert found.distance == pytest.approx(distance)
    assert found.length == pytest.approx(30 + 2 * math.sqrt(1 - distance**2), abs=2e-3)
    assert found.outside
    assert found.at == pytest.approx((50, 35))
    assert (found.piece, found.joint.names) == (0, ("1-1", "2-1"))


def test_a_joint_just_inside_an_edge_is_taken_away_but_told():
    (found,) = joints_along_edges(stack_of(bar(49.4)))
    assert not found.outside
    assert found.distance == pytest.approx(0.6)


@pytest.mark.parametrize("x", [51.01, 48.99])
def test_a_joint_farther_than_1_mm_is_none(x):
    assert joints_along_edges(stack_of(bar(x))) == []


@pytest.mark.parametrize(("height", "found"), [(8.9, 1), (8.7, 0)])
def test_it_counts_above_10_mm(height, found):
    """At 0.8 mm the joint is within 1 mm of the edge for 0.6 mm beyond either end."""
    assert len(joints_along_edges(stack_of(bar(50.8, height=height)))) == found


def test_an_edge_that_crosses_a_joint_is_none():
    assert joints_along_edges(stack_of(make_piece("disc", disc(20), at=(50, 35)))) == []


@pytest.mark.parametrize(("radius", "found"), [(24.0, 1), (11.0, 0)])
def test_a_round_edge_runs_along_a_joint_for_a_chord(radius, found):
    """Where a circle touches the joint from its left, points of the joint within 1 mm lie on a chord of the circle of
    radius R + 1 at distance R: 2 √(2 R + 1) long."""
    stack = stack_of(make_piece("disc", disc(radius), at=(50 - radius, 35)))
    along = joints_along_edges(stack)
    assert len(along) == found
    for one in along:
        assert one.length == pytest.approx(2 * math.sqrt(2 * radius + 1), abs=0.01)


def test_a_joint_that_other_pockets_take_away_is_none():
    ground = bar(20, 10, 60, 50, "ground")
    assert joints_along_edges(stack_of(ground, bar(50.5))) == []
    beside = bar(46, 10, 4.3, 50, "beside")  # takes the joint, and does not touch the bar
    assert [one.piece for one in joints_along_edges(stack_of(beside, bar(50.5)))] == [0]
    cover = bar(45, 15, 10, 40, "cover")
    assert joints_along_edges(stack_of(bar(50.5), cover)) == []


def test_an_edge_in_the_trimmed_margin_is_none():
    assert joints_along_edges(stack_of(bar(50.5), edge_trim=(0, 0, 52, 0))) == []


@pytest.mark.parametrize(("within", "found"), [(0.79, 0), (0.81, 1)])
def test_segment_joints_lined_up_in_neighbouring_strips(within, found):
    pairs = lined_up_joints(stack_of(), within)
    assert [(one.names, other.names) for one, other in pairs] == [(("2-1", "2-2"), ("3-1", "3-2"))][:found]
