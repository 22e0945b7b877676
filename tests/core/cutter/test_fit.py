"""What a cutter leaves of an outline: open and closed, right in known cases, and by a raster that knows no GEOS."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from core import cores
from core.cutter.fit import drawn_in, fit_piece
from core.cutter.rounding import RADIUS_SLACK, THIN, closing, opening, rounded_fit, rounded_fits, wider_than
from core.design import PolygonOutline
from core.outlines.piece_shape import Outline
from tests.core.designs import (
    EIGHTH_INCH,
    SHAPES,
    comb,
    disc,
    dumbbell,
    fewer,
    fin,
    lace,
    make_piece,
    rectangle,
    spiral,
    star,
)
from tests.core.oracles import inside_even_odd, rings_of

RADIUS = EIGHTH_INCH / 2
RADII = st.sampled_from([0.75, RADIUS, 2.5])

TWO_DISCS = shapely.union_all([Polygon(disc(5, -6, 0, 720)), Polygon(disc(5, 6, 0, 720))])
SAMPLES = {
    "square": Polygon(rectangle(20, 20)),
    "star": Polygon(star(5, 20, 8)),
    "comb": Polygon(comb(4, 4.0, 3.0, 12)),
    "tight comb": Polygon(comb(4, 4.0, 2.0, 12)),
    "thin comb": Polygon(comb(4, 2.0, 4.0, 12)),
    "spiral": Polygon(spiral(2, 5, 10)),
    "close spiral": Polygon(spiral(2, 5, 7)),
    "fin": Polygon(fin(40, 6)),
    "lace": Polygon(lace(3, 3, 6, 4).points, lace(3, 3, 6, 4).holes),
    "thin lace": Polygon(lace(3, 3, 6, 3).points, lace(3, 3, 6, 3).holes),
    "dumbbell": Polygon(dumbbell(14, 2, 6)),
    "short dumbbell": Polygon(dumbbell(14, 3, 2)),
    "two discs": TWO_DISCS,
}
samples = pytest.mark.parametrize("shape", SAMPLES.values(), ids=SAMPLES)


def polygon(outline: PolygonOutline) -> Polygon:
    return Polygon(outline.points, outline.holes)


def assert_open_and_closed(fit, radius):
    """A disc of the radius (less what fits take off it) reaches all of it, and all around it, but hairs of 0.02 mm."""
    __tracebackhide__ = True
    assert fit.is_valid
    lost = shapely.difference(fit, opening(fit, radius - 2 * RADIUS_SLACK))
    gained = shapely.difference(closing(fit, radius - 2 * RADIUS_SLACK), fit)
    assert wider_than(lost, THIN * 1.05).is_empty, lost.area
    assert wider_than(gained, THIN * 1.05).is_empty, gained.area


@samples
@pytest.mark.parametrize("radius", [0.75, RADIUS, 2.5])
def test_samples_are_open_and_closed(shape, radius):
    assert_open_and_closed(rounded_fit(shape, radius), radius)


@given(SHAPES, RADII)
def test_random_outlines_are_open_and_closed(outline, radius):
    assert_open_and_closed(rounded_fit(polygon(outline), radius), radius)


@given(SHAPES, RADII)
@fewer(2)
def test_fitting_again_changes_nothing(outline, radius):
    fit = rounded_fit(polygon(outline), radius)
    again = rounded_fit(fit, radius)
    changed = shapely.symmetric_difference(fit, again)
    assert wider_than(changed, THIN * 1.05).is_empty


@given(SHAPES, RADII)
@fewer(2)
def test_the_insert_lies_in_its_pocket(outline, radius):
    piece = make_piece("a", outline, cutter_diameter=2 * radius)
    fit = fit_piece(Outline(polygon(outline)), piece)
    assert shapely.difference(fit.insert, fit.pocket).area < 1e-6


@given(st.lists(SHAPES, min_size=2, max_size=5), RADII)
@fewer(4)
def test_outlines_rounded_together_are_rounded_as_each_alone(outlines, radius):
    """One of two parts and one with a hole are among them; they are shared among the processor's cores."""
    square = shapely.box(-60, -60, 60, 60)
    two = shapely.union(polygon(outlines[0]), shapely.transform(polygon(outlines[1]), lambda at: at + 500.0))
    shapes = [square.difference(polygon(outlines[0])), two, *map(polygon, outlines)] * 2
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cores, "WORTH_IT", 1)
        together = rounded_fits(np.array(shapes, dtype=object), radius)
    alone = [rounded_fit(shape, radius) for shape in shapes[: len(outlines) + 2]]
    for shape, fit, each in zip(shapes, together, alone * 2, strict=True):
        assert fit is shape if each is shape else fit.equals_exact(each, 0.0)


@given(SHAPES, RADII, st.sampled_from([0.05, 0.1, 0.5]))
@fewer(2)
def test_the_insert_keeps_its_clearance_everywhere(outline, radius, clearance):
    """Least distance from insert to pocket wall; the wall's own corners are never nearer than the clearance."""
    fit = rounded_fit(polygon(outline), radius)
    insert = drawn_in(fit, clearance)
    if not insert.is_empty:
        assert shapely.distance(insert.boundary, fit.boundary) == pytest.approx(clearance, rel=1e-6)


@given(SHAPES)
@fewer(4)
def test_a_convex_outline_only_loses_and_a_bigger_cutter_loses_more(outline):
    hull = polygon(outline).convex_hull
    fits = [rounded_fit(hull, radius) for radius in (0.75, RADIUS, 2.5)]
    for smaller, bigger in zip([hull, *fits], fits, strict=False):
        assert shapely.difference(bigger, smaller).area <= 0.002 * bigger.length  # both are simplified within 0.001
        assert bigger.area <= smaller.area + 0.002 * bigger.length


def test_a_slot_exactly_as_wide_as_the_cutter_survives():
    """Its ends become half discs: w L - (4 - pi) r^2 (DERIVED, plane geometry)."""
    fit = rounded_fit(Polygon(rectangle(40, EIGHTH_INCH)), RADIUS)
    assert fit.area == pytest.approx(40 * EIGHTH_INCH - (4 - math.pi) * RADIUS**2, abs=0.02)
    assert rounded_fit(Polygon(rectangle(40, EIGHTH_INCH - 0.01)), RADIUS).is_empty


def test_a_gap_exactly_as_wide_as_the_cutter_stays_open_and_a_narrower_one_is_filled():
    back = 4 * 6 + 3 * EIGHTH_INCH
    wide = rounded_fit(Polygon(comb(4, 6.0, EIGHTH_INCH, 12)), RADIUS)
    tight = rounded_fit(Polygon(comb(4, 6.0, EIGHTH_INCH - 0.02, 12)), RADIUS)
    # each gap keeps its length but for the corners of its closed end; the teeth lose theirs
    corner = (1 - math.pi / 4) * RADIUS**2
    assert wide.area == pytest.approx(back * 5 + 4 * 6 * 12 - 10 * corner + 6 * corner, abs=0.1)
    outer = Polygon(comb(4, 6.0, EIGHTH_INCH - 0.02, 12)).convex_hull
    assert tight.area > outer.area - 4 * corner - 3 * 4 * RADIUS**2  # full, but for a dip where each gap was


def test_what_is_wide_enough_is_left_vertex_for_vertex():
    smooth = Polygon(disc(10, count=360))
    assert rounded_fit(smooth, RADIUS) is smooth
    ring = Polygon(disc(10, count=360), [disc(5, count=360)])
    assert rounded_fit(ring, 2.4) is ring


def test_a_neck_thinner_than_the_cutter_parts_a_dumbbell():
    fit = rounded_fit(SAMPLES["dumbbell"], RADIUS)
    assert shapely.get_num_geometries(fit) == 2
    assert shapely.get_num_geometries(rounded_fit(SAMPLES["dumbbell"], 0.75)) == 1


@pytest.mark.parametrize("radius", [RADIUS, 2.0, 3.0, 4.0, 4.9])
def test_two_discs_with_a_gap_of_2_come_to_rest(radius):
    """Opening and closing by turns flip for ever here: closing makes a bridge thinner than the cutter.

    The bridge and the cutter's radius round it are cut away, so the discs part. From a radius of 4 on nothing wide
    enough is left beside that cut: an empty fit, which a design is told as an error.
    """
    fit = rounded_fit(TWO_DISCS, radius)
    assert_open_and_closed(fit, radius)
    mirrored = shapely.transform(fit, lambda p: p * [-1, 1])
    # Either boundary is simplified within 0.001 mm, after six buffers with arcs within 0.0002 mm.
    assert shapely.symmetric_difference(fit, mirrored).area <= 2 * (0.001 + 6 * 0.0002) * fit.length
    assert fit.is_empty == (radius >= 4)
    if not fit.is_empty:
        assert shapely.get_num_geometries(fit) == 2
        assert shapely.distance(*shapely.get_parts(fit)) > 2 * radius - 0.01
        assert fit.area > 0.6 * TWO_DISCS.area


def test_a_cutter_that_passes_between_two_discs_leaves_them_alone():
    assert rounded_fit(TWO_DISCS, 0.9) is TWO_DISCS


# Common practice, no published source: a 1/8-inch cutter cuts no inside radius below 1/16 inch


def clear_discs(rings, radius, starts, inwards):
    """Least distance from the boundary of discs laid against it, each pushed about to find room; numpy only.

    Each disc starts touching the middle of an edge. It is moved off the nearest boundary where it overlaps it, and
    back to its edge where it has left it.
    """
    a = np.concatenate([ring[:-1] for ring in rings])
    step = np.concatenate([ring[1:] for ring in rings]) - a
    centre = starts + radius * inwards
    for _ in range(60):
        along = np.clip(np.einsum("ijk,jk->ij", centre[:, None] - a, step) / np.sum(step**2, axis=1), 0, 1)
        foot = a + along[:, :, None] * step
        distance = np.hypot(*np.moveaxis(centre[:, None] - foot, -1, 0))
        nearest = np.argmin(distance, axis=1)
        rows = np.arange(len(centre))
        gap = distance[rows, nearest]
        away = centre - foot[rows, nearest]
        centre = centre + away / gap[:, None] * np.clip(radius - gap, 0, None)[:, None]
        back = starts - centre
        reach = np.hypot(*back.T)
        centre = centre + back / reach[:, None] * np.clip(reach - radius - 0.002, 0, None)[:, None]
    return gap


def edge_middles(rings):
    a, b = np.concatenate([r[:-1] for r in rings]), np.concatenate([r[1:] for r in rings])
    along = (b - a) / np.hypot(*(b - a).T)[:, None]
    return (a + b) / 2, np.stack([-along[:, 1], along[:, 0]], axis=1)


@pytest.mark.parametrize("name", ["square", "star", "comb", "thin lace", "dumbbell", "fin"])
@pytest.mark.parametrize("side", [1, -1], ids=["pocket", "insert"])
def test_an_eighth_inch_cutter_leaves_no_radius_below_a_sixteenth(name, side):
    """A disc of 1.5875 mm, less 0.001, lies against every edge from inside (pocket) and from outside (insert)."""
    fit = shapely.orient_polygons(rounded_fit(SAMPLES[name], RADIUS))
    rings = rings_of(fit)
    starts, inwards = edge_middles(rings)
    some = slice(None, None, 1 + len(starts) // 150)
    starts, inwards = starts[some], inwards[some]
    gap = clear_discs(rings, RADIUS - 0.001, starts, side * inwards)
    assert gap.min() >= RADIUS - 0.001 - 0.003  # flattened and simplified within 0.001 mm each, met within 0.002


# As drawn: tight corners bind (common practice, no published source); how much is plane geometry (DERIVED)


def test_inside_corners_bind_when_both_parts_are_cut_from_one_line():
    """Convex right angle: sqrt(2) (r - c) - r between the sharp insert and the round pocket."""
    a, c, r = 40.0, 0.1, RADIUS
    square = PolygonOutline(tuple(rectangle(a, a)))
    fit = fit_piece(Outline(polygon(square)), make_piece("a", square, fit="as-drawn"))
    for corner in ((0, 0), (a, 0), (a, a), (0, a)):
        assert interference(fit, corner) == pytest.approx(math.sqrt(2) * (r - c) - r, abs=0.003)
    assert fit.pocket.area == pytest.approx(a**2 - (4 - math.pi) * r**2, rel=1e-5)
    assert fit.insert.area == pytest.approx((a - 2 * c) ** 2, rel=1e-5)


def test_outside_corners_bind_the_other_way_round():
    """Concave right angle: (1 - 1/sqrt(2)) r - c between the sawn fillet and the pocket's sharp corner."""
    ell = PolygonOutline(((0, 0), (40, 0), (40, 25), (25, 25), (25, 40), (0, 40)))
    fit = fit_piece(Outline(polygon(ell)), make_piece("a", ell, fit="as-drawn"))
    assert interference(fit, (25, 25)) == pytest.approx((1 - 1 / math.sqrt(2)) * RADIUS - 0.1, abs=0.003)


def interference(fit, corner):
    """The largest distance from the sawn insert to the pocket within 4 mm of a corner, by points 0.01 mm apart."""
    near = shapely.intersection(shapely.boundary(fit.insert), shapely.Point(corner).buffer(4))
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(near, 0.01)))
    return float(shapely.distance(points, fit.pocket).max())


@pytest.mark.parametrize("r", [0.75, RADIUS])
def test_an_insert_cut_on_the_wrong_side_leaves_a_gap_of_the_cutters_width(r):
    """Common practice, no published source: the cutter's far edge then runs on the line, its near one 2 r inside."""
    line = Polygon(disc(20, count=720))
    wrong = drawn_in(line, 2 * r)
    assert shapely.distance(wrong.boundary, line.boundary) == pytest.approx(2 * r, rel=1e-6)


# A raster of 0.05 mm, by distances between pixels alone


def near(mask, cells):
    """Which pixels lie within a distance (in pixels) of a set: rows' own distances, then the best of nearby rows."""
    height, width = mask.shape
    number = np.arange(width)
    left = np.maximum.accumulate(np.where(mask, number, -(10**6)), axis=1)
    right = np.minimum.accumulate(np.where(mask, number, 10**6)[:, ::-1], axis=1)[:, ::-1]
    across = np.minimum(number - left, right - number).astype(float) ** 2
    found = np.zeros_like(mask)
    for dy in range(-int(cells), int(cells) + 1):
        rows = slice(max(0, dy), min(height, height + dy))
        source = slice(max(0, -dy), min(height, height - dy))
        found[rows] |= across[source] + dy * dy <= cells * cells
    return found


@pytest.mark.parametrize("name", ["star", "comb", "tight comb", "thin comb", "fin", "close spiral", "lace"])
def test_opening_then_closing_on_a_raster_gives_the_same_fit(name):
    """Where no bridge is cut away again, F is closing(opening): pixels may differ only beside its boundary."""
    shape = SAMPLES[name]
    x0, y0, x1, y1 = shape.bounds
    step = 0.05
    xs, ys = np.arange(x0 - 3 + 0.0171, x1 + 3, step), np.arange(y0 - 3 + 0.0223, y1 + 3, step)
    mask, cells = inside_even_odd(rings_of(shape), xs, ys), RADIUS / step
    opened = near(~near(~mask, cells), cells)
    expected = ~near(~near(opened, cells), cells)
    fit = rounded_fit(shape, RADIUS)
    differs = inside_even_odd(rings_of(fit), xs, ys) != expected
    row, column = np.nonzero(differs)
    beside = shapely.distance(shapely.boundary(fit), shapely.points(xs[column], ys[row]))
    assert differs.sum() * step**2 < 0.1 * shape.length
    assert beside.max(initial=0.0) < 0.25, name
