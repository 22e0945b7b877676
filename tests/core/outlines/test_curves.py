"""Flattening and smooth lines, against closed forms (DERIVED in each test)."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon

from core.outlines.curves import FLATTENING, arc_cubics, flatten, line_cubics, quadratic_cubic, smooth_cubics

hundredths = st.integers(-10_000, 10_000).map(lambda n: n / 100)
points = st.tuples(hundredths, hundredths)


def bezier(cubic, t):
    """De Casteljau's construction, written out."""
    level = np.repeat(cubic[None], len(t), axis=0)
    while level.shape[1] > 1:
        level = level[:, :-1] * (1 - t)[:, None, None] + level[:, 1:] * t[:, None, None]
    return level[:, 0]


def green(cubics):
    """Area inside closed cubics by Green's theorem, each term x dy - y dx integrated exactly by Gauss-Legendre."""
    nodes, weights = np.polynomial.legendre.leggauss(4)  # exact to degree 7; the integrand has degree 5
    t = (nodes + 1) / 2
    total = 0.0
    for cubic in cubics:
        x, y = bezier(cubic, t).T
        dx, dy = bezier(3 * np.diff(cubic, axis=0), t).T
        total += np.sum(weights / 2 * (x * dy - y * dx)) / 2
    return total


@given(st.lists(points, min_size=4, max_size=4, unique=True))
def test_the_polyline_stays_within_the_tolerance_of_its_curve(controls):
    cubic = np.array(controls)
    line = LineString(flatten(cubic[None]))
    on_curve = shapely.points(bezier(cubic, np.linspace(0, 1, 400)))
    assert shapely.distance(line, on_curve).max() <= FLATTENING * (1 + 1e-6)


@pytest.mark.parametrize("radius", [0.5, 5.0, 20.0, 250.0])
def test_a_circle_loses_no_more_area_than_its_flattening_allows(radius):
    ring = flatten(arc_cubics(np.zeros(2), np.array([radius, 0]), np.array([0, radius]), 0.0, math.tau))
    lost = math.pi * radius**2 - Polygon(ring).area
    # Every chord lies within the tolerance inside the circle: less than a band of that width is lost.
    assert 0 < lost < math.tau * radius * FLATTENING
    assert np.abs(np.hypot(*ring.T) - radius).max() < radius * 1e-8


def test_arc_cubics_enclose_an_ellipse():
    cubics = arc_cubics(np.array([3.0, -2.0]), np.array([30.0, 10.0]), np.array([-4.0, 12.0]), 0.7, math.tau)
    # The unit circle's area times the determinant of the axes.
    assert green(cubics) == pytest.approx(math.pi * (30 * 12 + 4 * 10), rel=1e-8)


def test_a_flattened_bezier_keeps_the_area_of_greens_theorem():
    # M 0 0 C 10 20 30 20 40 0 Z: y = 60 t (1 - t), x = 30 t + 30 t² - 20 t³, area = the integral of y dx
    # = 60 × the integral of (t - t²)(30 + 60 t - 60 t²) dt = 60 (30/6 + 60/30) = 420.
    cubic = np.array([[[0, 0], [10, 20], [30, 20], [40, 0]]], float)
    closed = np.vstack([cubic, line_cubics(np.array([[40.0, 0], [0, 0]]))])
    assert -green(closed) == pytest.approx(420, rel=1e-12)
    assert Polygon(flatten(closed)).area == pytest.approx(420, abs=2 / 3 * FLATTENING * 60)


def test_a_quadratic_is_raised_to_a_cubic_exactly():
    p, q, r = np.array([[1.0, 2.0], [5.0, 9.0], [8.0, -3.0]])
    t = np.linspace(0, 1, 11)[:, None]
    expected = (1 - t) ** 2 * p + 2 * t * (1 - t) * q + t**2 * r
    assert np.allclose(bezier(quadratic_cubic(p, q, r)[0], t[:, 0]), expected, atol=1e-13)


def test_lines_are_not_cut():
    corners = np.array([[0.0, 0], [100, 0], [100, 50]])
    assert np.array_equal(flatten(line_cubics(corners)), corners)


def catmull_rom(p, t):
    """The pyramid of interpolations over knots spaced by the square roots of the chords, for the middle span."""
    knots = np.concatenate([[0], np.cumsum(np.sqrt(np.hypot(*np.diff(p, axis=0).T)))])
    u = knots[1] + t * (knots[2] - knots[1])

    def between(a, b, i, j):
        w = ((u - knots[i]) / (knots[j] - knots[i]))[:, None]
        return (1 - w) * a + w * b

    first = [between(p[i], p[i + 1], i, i + 1) for i in range(3)]
    second = [between(first[i], first[i + 1], i, i + 2) for i in range(2)]
    return between(second[0], second[1], 1, 2)


@given(st.lists(points, min_size=4, max_size=4))
def test_a_smooth_line_is_the_centripetal_catmull_rom_curve(through):
    p = np.array(through)
    if np.hypot(*np.diff(p, axis=0).T).min() < 1e-3:
        return
    t = np.linspace(0, 1, 21)
    assert np.allclose(bezier(smooth_cubics(p)[1], t), catmull_rom(p, t), atol=1e-7)


def test_a_smooth_line_passes_through_its_points_and_starts_along_its_first_chord():
    p = np.array([[50.0, 20], [60, 120], [90, 200]])
    cubics = smooth_cubics(p)
    assert np.array_equal(cubics[:, 0], p[:-1])
    assert np.array_equal(cubics[:, 3], p[1:])
    start, chord = cubics[0, 1] - p[0], p[1] - p[0]
    assert np.cross(np.append(start, 0), np.append(chord, 0))[2] == pytest.approx(0, abs=1e-9)


def test_a_closed_smooth_line_has_no_corner_where_it_closes():
    p = np.array([[0.0, 0], [40, 0], [50, 30], [0, 0]])
    cubics = smooth_cubics(p)
    arriving, leaving = cubics[-1, 3] - cubics[-1, 2], cubics[0, 1] - cubics[0, 0]
    cosine = arriving @ leaving / np.hypot(*arriving) / np.hypot(*leaving)
    assert cosine == pytest.approx(1, abs=1e-12)
