"""Arrangements on the grid: no line crosses another but at a corner, and every face gets its own label."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from core.solids.arrangement import GRID, arrange, noded_on_grid
from core.solids.inner_points import DEEP, inner_points
from tests.core.designs import fewer

ANGLES = st.sampled_from([0.0, 1e-9, 7.0, 15.0, 45.0, 89.999999])
SHIFTS = st.sampled_from([0.0, 1e-14, 3e-12, 1e-10, 4e-10, 1e-9, 2.5e-9, 1e-7, 1e-3])


@st.composite
def close_boxes(draw):
    """A few boxes side by side, turned, some a hair apart or over each other."""
    boxes = []
    for column in range(draw(st.integers(1, 4))):
        x, y = 30.0 * column + draw(SHIFTS), draw(SHIFTS)
        boxes.append(shapely.box(x, y, x + 30.0 + draw(SHIFTS), 20.0))
    turned = [shapely.affinity.rotate(box, draw(ANGLES), origin=(17.3, 4.1)) for box in boxes]
    return np.array(turned, dtype=object)


def segments(lines):
    """Each piece of the lines as exact pairs of fractions."""
    found = set()
    for line in shapely.get_parts(lines):
        points = [tuple(map(Fraction, point)) for point in shapely.get_coordinates(line).tolist()]
        found |= {tuple(sorted(pair)) for pair in pairwise(points) if pair[0] != pair[1]}
    return sorted(found)


def side(a, b, c):
    """Sign of the turn from a over b to c, exact."""
    turn = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    return (turn > 0) - (turn < 0)


def meet_beyond_ends(one, other):
    """Whether two segments share a point that is not an end of both (by exact arithmetic)."""
    (a, b), (c, d) = one, other
    ends = {a, b} & {c, d}
    if len(ends) == 1:
        end = ends.pop()
        p, q = (b if a == end else a), (d if c == end else c)
        return side(end, p, q) == 0 and (p[0] - end[0]) * (q[0] - end[0]) + (p[1] - end[1]) * (q[1] - end[1]) > 0
    if side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0:
        return True
    on = [(a, b, c), (a, b, d), (c, d, a), (c, d, b)]
    return any(side(p, q, r) == 0 and min(p, q) <= r <= max(p, q) for p, q, r in on)


@given(close_boxes())
@fewer(2)
def test_lines_lie_on_the_grid_and_meet_at_shared_ends_alone(boxes):
    linework = shapely.multilinestrings([shapely.linestrings(shapely.get_coordinates(box)) for box in boxes])
    (noded,) = noded_on_grid(np.array([linework], dtype=object))
    corners = shapely.get_coordinates(noded)
    assert np.array_equal(np.rint(corners / GRID) * GRID, corners)
    found = segments(noded)
    for i, one in enumerate(found):
        assert not any(meet_beyond_ends(one, other) for other in found[i + 1 :])
    assert shapely.hausdorff_distance(noded, linework) < 4 * GRID


@given(close_boxes())
def test_faces_fill_the_footprint_and_each_knows_its_boxes(boxes):
    """Inclusion-exclusion by areas of the boxes, which all are 600 mm² but for their shifts."""
    footprint = shapely.box(-60, -60, 160, 120)
    lines = shapely.boundary(boxes)
    faces = arrange([footprint], lines, np.zeros(len(lines), np.int64))
    points = inner_points(faces)
    areas = shapely.area(faces.polygons)
    assert areas.sum() == pytest.approx(footprint.area, abs=1e-6)
    for box in boxes:
        inside = shapely.contains_xy(box, points)
        assert areas[inside].sum() == pytest.approx(box.area, abs=1e-6)


def test_a_hair_slit_does_not_take_the_label_from_a_face():
    """The slit runs where a point on the surface is looked for; the point found lies well inside all the same."""
    for width in (1e-9, 1e-8, 1e-7, 1e-5):
        slit = shapely.box(-1, 10 - width / 2, 39.5, 10 + width / 2)
        face = shapely.difference(shapely.box(0, 0, 40, 20), slit)
        faces = arrange([face], np.empty(0, dtype=object), np.empty(0, np.int64))
        points = inner_points(faces)
        assert (shapely.distance(shapely.boundary(faces.polygons), shapely.points(points)) > DEEP).all()
        assert shapely.contains_xy(face, points).all()


def test_a_crossing_of_nearly_parallel_lines_lies_on_both() -> None:
    """GEOS put the crossing of these two, which differ in the last digit, 5e-4 mm beside them."""
    one = [(38.569524007260696, 47.42976172524567), (67.42976172524565, 18.569524007260696), (50.0, 20.0)]
    other = [(67.42976172524567, 18.569524007260682), (38.56952400726068, 47.42976172524568), (60.0, 45.0)]
    shapes = [shapely.Polygon(one), shapely.Polygon(other)]
    lines = shapely.multilinestrings([shapely.boundary(shape) for shape in shapes])
    found = shapely.area(shapely.get_parts(shapely.polygonize(list(noded_on_grid(np.array([lines], dtype=object))))))
    assert sorted(found[found > 1e-6]) == pytest.approx(sorted(shape.area for shape in shapes), abs=1e-6)
