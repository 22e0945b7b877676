"""Outlines of every kind, against closed forms (DERIVED in each test)."""

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon

from core.areas import filled, winding_numbers
from core.design import LineOutline, PathOutline, Piece, PolygonOutline, SvgOutline
from core.errors import UnusableInput
from core.outlines.piece_shape import load_outline

HERE = Path(__file__).parent


def outline(source, scale=1.0, folder=HERE):
    piece = Piece(
        id="p", wood="pear", outline=source, grain=None, at=(0, 0), turn=0, scale=scale, mirror=False, fit="rounded",
        after=(), pocket_depth=6, insert_thickness=7.5, side_clearance=0.1, strip_clearance=0.03, taper=0,
        floor_gap=0, cutter_diameter=3.175, corner_radius=1.5875,
    )  # fmt: skip
    return load_outline(piece, folder)


SQUARE = ((0, 0), (80, 0), (80, 60), (0, 60))
HOLE = ((20, 20), (30, 20), (30, 30), (20, 30))


def test_a_polygon_with_a_hole():
    found = outline(PolygonOutline(SQUARE, (HOLE,)), scale=0.5)
    assert found.problem is None
    assert found.shape.area == pytest.approx((80 * 60 - 10 * 10) / 4, rel=1e-15)
    assert len(found.shape.interiors) == 1


def test_a_polygon_may_repeat_its_first_point():
    assert outline(PolygonOutline((*SQUARE, SQUARE[0]))).shape.equals(outline(PolygonOutline(SQUARE)).shape)


@pytest.mark.parametrize(
    ("points", "holes", "problem", "at"),
    [
        (((0, 0), (10, 10), (10, 0), (0, 10)), (), "the outline crosses itself", (5, 5)),
        (((0, 0), (1, 1), (2, 2)), (), "a ring has no area", (1, 1)),
        (((0, 0), (0, 0), (0, 0)), (), "a ring has no area", (0, 0)),
        (((0, 0), (4, 0), (0, 0)), (), "a ring has no area", (2, 0)),
        (((0, 0), (1e-4, 0), (0, 1e-4)), (), "a ring has no area", (5e-5, 5e-5)),
        (((0, 0), (4, 4), (8, 0), (8, 8), (4, 4), (0, 8)), (), "a ring touches itself", (4, 4)),
        (SQUARE, (((90, 0), (95, 0), (95, 5)),), "a hole lies outside the outline", (90, 0)),
        (SQUARE, (((70, 10), (90, 10), (90, 20), (70, 20)),), "the outline crosses itself", (80, 20)),
        (SQUARE, (HOLE, ((22, 22), (28, 22), (28, 28))), "a hole lies in another hole", (22, 22)),
        (SQUARE, (((20, 20), (30, 30), (30, 20), (20, 30)),), "the outline crosses itself", (25, 25)),
        (SQUARE, (((0, 30), (40, 60), (40, 30)),), "a hole cuts the outline in two", (40, 60)),
    ],
)
def test_a_bad_polygon_has_a_problem_at_its_place(points, holes, problem, at):
    found = outline(PolygonOutline(points, holes))
    assert found.problem == problem
    assert found.problem_at == pytest.approx(at)
    assert found.shape.is_empty


def test_a_path_is_flattened_after_it_is_scaled():
    # M 0 0 C 10 20 30 20 40 0 Z encloses 420 (Green's theorem, worked in test_curves); chords of a convex arc cut
    # off less than their length times the tolerance.
    for scale in (0.1, 1.0, 25.0):
        found = outline(PathOutline("M 0 0 C 10 20 30 20 40 0 Z"), scale)
        lost = 420 * scale**2 - found.shape.area
        assert 0 < lost < 0.001 * 60 * scale


def test_a_path_circle_of_two_arcs():
    found = outline(PathOutline("M -20 0 A 20 20 0 0 1 20 0 A 20 20 0 0 1 -20 0 Z"))
    assert 0 < math.pi * 400 - found.shape.area < 0.001 * math.tau * 20
    assert found.shape.bounds == pytest.approx((-20, -20, 20, 20), abs=1e-3)


OUTER = "M 0 0 H 40 V 40 H 0 Z "


@pytest.mark.parametrize(
    ("inner", "area"),
    [
        ("M 10 10 V 20 H 20 V 10 Z", 1500),  # against the outer ring's turn: a hole under the nonzero rule
        ("M 10 10 H 20 V 20 H 10 Z", 1600),  # with it: filled already
        ("M 40 10 H 50 V 20 H 40 Z", 1700),  # beside it, sharing an edge: united
        ("M 60 10 h 10 v 10 h -10 z", 1700),  # apart: a second part
    ],
)
def test_subpaths_fill_by_the_nonzero_rule(inner, area):
    found = outline(PathOutline(OUTER + inner))
    assert found.problem is None
    assert found.shape.area == pytest.approx(area)


@pytest.mark.parametrize(
    ("data", "problem", "at"),
    [
        ("M 0 0 L 10 10 L 10 0 L 0 10 Z", "the outline crosses itself", (5, 5)),
        (OUTER + "M 20 20 H 60 V 30 H 20 Z", "two rings cross each other", None),
        ("M 0 0 L 10 0 Z", "a ring has no area", (5, 0)),
        ("M 0 0 C 30 30 -20 30 10 0 Z", "the outline crosses itself", None),
    ],
)
def test_a_crossing_or_flat_path_has_a_problem(data, problem, at):
    found = outline(PathOutline(data))
    assert found.problem == problem
    assert at is None or found.problem_at == pytest.approx(at)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ("hello", "must begin with M"),
        ("L 1 1", "must begin with M"),
        ("M 0 0 L 10 0 L 10 10", "open"),
        ("M 0 0 L 10 0 X 3 Z", 'from character 14 on, "X 3 Z"'),
        ("M 0 0 C 1 1 2 2 Z", "from character 7"),
        ("M 0 0 L 1 Z", "from character 7"),
        ("M 0 0 A 5 5 0 2 1 10 0 Z", "from character 7"),
        ("M 0 0 L 1e30 0 L 0 1 Z", "too large"),
        ("M 0 0", "draws nothing"),
        ("M 0 0 L 1 1 # Z", "from character 13"),
        ("M 0 0 Z 5 5", "from character 9"),
    ],
)
def test_path_data_that_cannot_be_read_are_refused(data, says):
    with pytest.raises(UnusableInput, match=r'piece "p"\.outline\.path') as refused:
        outline(PathOutline(data))
    assert says in refused.value.problem


def test_compact_path_data_are_read():
    # Arc flags and numbers run together, as programs that shrink files write them.
    found = outline(PathOutline("m-20,0a20 20 0 0120 -20 20 20 0 01.0 40A20,20,0,0,1-20 0z"))
    spaced = outline(PathOutline("M -20 0 a 20 20 0 0 1 20 -20 a 20 20 0 0 1 0 40 A 20 20 0 0 1 -20 0 Z"))
    assert found.shape.equals(spaced.shape)


def test_a_line_is_a_stadium():
    found = outline(LineOutline(((0, 0), (10, 0), (50, 0)), 3.175))
    stadium = 50 * 3.175 + math.pi * 1.5875**2
    assert 0 < stadium - found.shape.area < 0.0002 * math.tau * 1.5875
    assert np.array_equal(found.centre_line, [[0, 0], [10, 0], [50, 0]])
    assert found.width == 3.175


def test_a_line_has_round_joins():
    found = outline(LineOutline(((0, 0), (40, 0), (40, 30)), 4.0))
    # Two rectangles, two half discs, less what the rectangles share inside the bend (2 x 2), and a quarter disc
    # outside it.
    area = 4 * 40 + 4 * 30 + math.pi * 4 - 4 + math.pi
    assert found.shape.area == pytest.approx(area, abs=0.0002 * math.tau * 2 * 1.5)


@pytest.mark.parametrize("scale", [1.0, 4.0])
def test_a_smooth_line_keeps_its_width(scale):
    found = outline(LineOutline(((50, 20), (60, 120), (90, 200)), 3.175, smooth=True), scale)
    length = LineString(found.centre_line).length
    half = 3.175 / 2 * scale
    assert found.width == 2 * half
    # Steiner's formula for a line that bends less sharply than its width: length x width and two half discs.
    assert found.shape.area == pytest.approx(length * 2 * half + math.pi * half**2, rel=1e-5)
    edge = shapely.points(shapely.get_coordinates(found.shape))
    assert np.abs(shapely.distance(LineString(found.centre_line), edge) - half).max() < 0.0012


def test_a_smooth_line_may_repeat_a_point():
    once = outline(LineOutline(((0, 0), (10, 5), (20, 0)), 2.0, smooth=True))
    twice = outline(LineOutline(((0, 0), (10, 5), (10, 5), (20, 0)), 2.0, smooth=True))
    assert np.array_equal(once.centre_line, twice.centre_line)


def test_a_line_without_length_has_a_problem():
    found = outline(LineOutline(((3, 4), (3, 4)), 2.0))
    assert (found.problem, found.problem_at) == ("the line has no length", (3, 4))


def test_svg_artwork_is_scaled(tmp_path):
    (tmp_path / "a.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10" width="10mm" height="10mm">'
        '<rect width="4" height="2"/><line stroke="black" x2="3"/></svg>'
    )
    found = outline(SvgOutline("a.svg"), 3.0, tmp_path)
    assert found.shape.bounds == pytest.approx((0, 24, 12, 30))
    assert found.notes == ("1 stroke is left out",)


integers = st.integers(-20, 20)
rings = st.lists(st.lists(st.tuples(integers, integers), min_size=3, max_size=7), min_size=1, max_size=3)


@given(rings)
def test_fill_rules_agree_with_winding_numbers_everywhere(drawn):
    # Whatever the crossings, a point off the rings is inside the result just where its winding number says so.
    arrays = [np.array(ring, float) for ring in drawn]
    probes = np.random.default_rng(1).uniform(-21, 21, (200, 2))
    winding = winding_numbers(probes, arrays)
    off = shapely.distance(shapely.union_all([shapely.linearrings(r) for r in arrays]), shapely.points(probes)) > 1e-6
    for rule, inside in (("nonzero", winding != 0), ("evenodd", winding % 2 == 1)):
        shape = filled(arrays, rule)
        assert shape.is_valid
        assert np.array_equal(shapely.contains_xy(shape, *probes[off].T), inside[off])


def test_winding_numbers_of_a_pentagram():
    # The five-pointed star drawn in one stroke winds twice round its middle and once in its points.
    angles = math.pi / 2 + np.arange(5) * 2 * math.tau / 5
    star = np.column_stack([np.cos(angles), np.sin(angles)])
    assert winding_numbers(np.array([[0, 0], [0, 0.9], [0, 2]]), [star]).tolist() == [2, 1, 0]
    # The middle is a pentagon of circumradius 1/phi²: (5/2) sin 72° R².
    pentagon = 2.5 * math.sin(math.tau / 5) * ((math.sqrt(5) - 1) / 2) ** 4
    assert filled([star], "nonzero").area - filled([star], "evenodd").area == pytest.approx(pentagon, rel=1e-12)


@given(st.lists(st.tuples(integers, integers), min_size=3, max_size=8))
def test_an_outline_is_valid_or_has_a_problem_with_a_place(points):
    found = outline(PolygonOutline(tuple(points)))
    if found.problem is None:
        assert found.shape.is_valid
        assert found.shape.equals(Polygon(points))
    else:
        assert found.shape.is_empty
        assert all(map(math.isfinite, found.problem_at))
