"""Curves in place of short lines: near core's outlines, few nodes, corners and arcs kept."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from core.lines.curve import Kind, as_cubics, flattened, moved
from core.lines.fitting import TOLERANCE, fit_rings
from core.outlines.curves import flatten
from tests.core.designs import blob, disc, rectangle, star

CORNERS = math.radians(20)


def ring(points):
    points = np.array(points, float)
    return np.vstack([points, points[:1]])


def apart(one, other):
    """Hausdorff distance of two lines, both cut up finely."""
    lines = [shapely.segmentize(shapely.linestrings(line), 0.05) for line in (one, other)]
    return shapely.hausdorff_distance(*lines)


def smooth_blob(seed, radius=20.0):
    """A blob rounded by a disc, as the cutter leaves it."""
    shape = shapely.buffer(shapely.polygons(blob(seed, radius)), -2.0, quad_segs=40)
    shape = shapely.buffer(shapely.buffer(shape, 4.0, quad_segs=60), -2.0, quad_segs=40)
    shape = shapely.simplify(shape, 0.001)
    return shapely.get_coordinates(shapely.get_parts(shape)[0].exterior)


@pytest.mark.parametrize("pieces", ["arcs", "curves"])
@pytest.mark.parametrize("seed", range(4))
def test_a_fitted_line_keeps_within_two_thousandths_of_the_outline(pieces, seed):
    outline = smooth_blob(seed)
    (curve,) = fit_rings([outline], pieces)
    assert apart(flattened(curve), outline) <= TOLERANCE
    assert curve.closed
    assert np.array_equal(curve.nodes[0], curve.nodes[-1])


@pytest.mark.parametrize("pieces", ["arcs", "curves"])
def test_a_smooth_outline_takes_a_tenth_of_the_nodes(pieces):
    t = np.linspace(0, 2 * np.pi, 721)
    ellipse = np.stack([40 * np.cos(t), 25 * np.sin(t)], axis=1)
    ellipse[-1] = ellipse[0]
    (curve,) = fit_rings([ellipse], pieces)
    assert curve.count <= (len(ellipse) - 1) / 10


def test_a_disc_comes_out_as_one_circle():
    (curve,) = fit_rings([ring(disc(12.5, 30, 40, count=400))])
    assert curve.circle is not None
    assert curve.circle.centre == pytest.approx((30, 40), abs=1e-4)
    assert curve.circle.radius == pytest.approx(12.5, abs=TOLERANCE)


def test_rounded_corners_come_out_as_one_arc_each_of_their_radius_and_edges_as_straight_lines():
    shape = shapely.buffer(shapely.box(0, 0, 40, 20), 3.0, quad_segs=64)
    for pieces in ("arcs", "curves"):
        (curve,) = fit_rings([shapely.get_coordinates(shape.exterior)], pieces)
        assert np.count_nonzero(curve.kinds == Kind.ARC) == 4
        assert np.count_nonzero(curve.kinds == Kind.STRAIGHT) == 4
        assert np.abs(curve.bulges[curve.kinds == Kind.ARC]) == pytest.approx(
            np.full(4, math.tan(math.pi / 8)), abs=1e-3
        )


@pytest.mark.parametrize("points", [rectangle(30, 12), star(5, 20, 8), star(7, 30, 20)])
def test_corners_stay_where_they_are_and_straight_edges_straight(points):
    (curve,) = fit_rings([ring(points)])
    assert not curve.kinds.any()
    assert {tuple(node) for node in curve.nodes} == {tuple(map(float, point)) for point in points}


def test_an_arc_that_was_drawn_comes_out_as_an_arc_of_its_radius_and_angle():
    angle = np.linspace(0.2, 2.4, 300)
    arc = 15 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    (curve,) = fit_rings([arc])
    assert curve.kinds.tolist() == [Kind.ARC]
    assert 4 * math.atan(curve.bulges[0]) == pytest.approx(2.2, abs=1e-3)
    (back,) = fit_rings([arc[::-1]])
    assert 4 * math.atan(back.bulges[0]) == pytest.approx(-2.2, abs=1e-3)


def test_a_cubic_that_was_drawn_takes_few_cubics_that_follow_it():
    drawn = flatten(np.array([[[0, 0], [20, 30], [60, -30], [80, 10.0]]]))
    (curve,) = fit_rings([drawn])
    assert apart(flattened(curve), drawn) <= TOLERANCE
    assert Kind.CUBIC in curve.kinds
    assert curve.count <= len(drawn) / 10


def test_neighbouring_cubics_meet_without_a_kink():
    t = np.linspace(0, 2 * np.pi, 721)
    (curve,) = fit_rings([ring(np.stack([40 * np.cos(t), 15 * np.sin(t)], axis=1)[:-1])])
    arriving, leaving = [], []
    for i in range(len(curve.kinds) - 1):
        if curve.kinds[i] == curve.kinds[i + 1] == Kind.CUBIC:
            arriving.append(curve.nodes[i + 1] - curve.handles[i, 1])
            leaving.append(curve.handles[i + 1, 0] - curve.nodes[i + 1])
    assert arriving
    for a, b in zip(arriving, leaving, strict=True):
        assert np.dot(a, b) / np.hypot(*a) / np.hypot(*b) > math.cos(math.radians(0.01))


def test_polylines_on_request_are_core_s_own_vertices():
    outline = smooth_blob(2)
    (curve,) = fit_rings([outline], "polylines")
    assert np.array_equal(flattened(curve), outline)


def test_a_mirrored_and_turned_curve_is_the_curve_of_the_mirrored_and_turned_outline():
    outline = smooth_blob(3)
    (curve,) = fit_rings([outline], "arcs")
    turn = np.array([[0.6, 0.8], [0.8, -0.6]])
    there = moved(curve, turn, np.array([5.0, -3.0]))
    assert apart(flattened(there), outline @ turn.T + [5.0, -3.0]) <= TOLERANCE


def test_curves_as_cubics_are_the_same_curves():
    outline = smooth_blob(0)
    (curve,) = fit_rings([outline])
    assert apart(flatten(as_cubics(curve), 0.0002), flattened(curve)) < 0.0005
