"""Narrow places of shapes whose necks are known in closed form, and of random ones by a raster's distances."""

from __future__ import annotations

import math
import time

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from scipy import ndimage
from shapely import LineString, Point, Polygon
from shapely.affinity import rotate, scale, translate
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from core.measures.necks import Neck, find_necks, long_lever
from tests.core.rasters import PIXEL, grid_over


def disc(radius: float, x: float = 0.0, y: float = 0.0) -> Polygon:
    return Point(x, y).buffer(radius, quad_segs=256)


def wedge(degrees: float, length: float = 60.0) -> Polygon:
    """A triangle with its tip at the origin that opens along +x."""
    half = length * math.tan(math.radians(degrees / 2))
    return Polygon([(0, 0), (length, -half), (length, half)])


def the_one(shape: BaseGeometry, narrower_than: float = 9.0) -> Neck:
    (neck,) = find_necks(shape, narrower_than)
    return neck


def apart(one: float, other: float) -> float:
    return abs((one - other + 90) % 180 - 90)


# Necks between wider parts, by formula (DERIVED: plane geometry)


@pytest.mark.parametrize("turn", [0, 17, 90, 133])
@pytest.mark.parametrize("width", [0.4, 1.0, 2.9, 4.0, 8.5])
def test_a_dumbbell_is_as_narrow_as_its_bar(width: float, turn: float) -> None:
    shape = disc(12).union(disc(12, 40)).union(box(0, -width / 2, 40, width / 2))
    neck = the_one(rotate(shape, turn, origin=(20, 0)))
    assert neck.kind == "between"
    assert neck.width == pytest.approx(width, abs=0.002)
    assert neck.at == pytest.approx((20, 0), abs=1)
    assert apart(neck.run, turn) < 0.5
    assert math.dist(*neck.walls) == pytest.approx(neck.width)


@pytest.mark.parametrize("waist", [0.5, 3.0, 7.0])
def test_an_hourglass_is_as_narrow_as_its_waist(waist: float) -> None:
    far = 18 + waist / 2
    shape = box(-15, -14, 15, 14).difference(disc(18, -far)).difference(disc(18, far))
    waists = [neck for neck in find_necks(shape, 9) if neck.kind == "between"]
    assert len(waists) == 1
    assert waists[0].width == pytest.approx(waist, abs=0.002)
    assert waists[0].at == pytest.approx((0, 0), abs=0.01)
    assert apart(waists[0].run, 90) < 0.1
    x, y, width, _ = waists[0].course[np.abs(waists[0].course[:, 1]) < 8].T  # further out the ends come near
    assert np.ptp(y) > 10, "the course runs on where the neck widens"
    assert x == pytest.approx(0, abs=0.02)
    assert width == pytest.approx(2 * (np.hypot(far, y) - 18), abs=0.03), "discs on the axis touch both arcs"


def test_two_sharp_notches_make_a_neck_from_tip_to_tip() -> None:
    below = [(-20, -15), (-4, -15), (0, -1.25), (4, -15), (20, -15)]
    above = [(20, 15), (6, 15), (2, 1.75), (-2, 15), (-20, 15)]
    shape = Polygon(below + above)
    neck = the_one(shape)
    assert neck.width == pytest.approx(math.hypot(2, 3), abs=1e-6)
    assert neck.at == pytest.approx((1, 0.25), abs=1e-6)
    assert apart(neck.run, math.degrees(math.atan2(-2, 3))) < 0.01


def test_a_hole_near_the_edge_leaves_a_neck() -> None:
    shape = box(0, 0, 60, 60).difference(disc(12, 30, 14.5))
    neck = the_one(shape)
    assert (neck.kind, neck.width) == ("between", pytest.approx(2.5, abs=0.002))
    assert neck.at == pytest.approx((30, 1.25), abs=0.02)


def test_an_eccentric_ring_is_narrowest_where_the_circles_come_near() -> None:
    neck = the_one(disc(20).difference(disc(14, 3)))
    assert (neck.kind, neck.width) == ("between", pytest.approx(3, abs=0.002))
    assert neck.at == pytest.approx((18.5, 0), abs=0.6)


def test_an_even_ring_is_one_neck_all_round() -> None:
    neck = the_one(disc(20).difference(disc(15)))
    assert (neck.kind, neck.width) == ("between", pytest.approx(5, abs=0.005))
    assert neck.length == pytest.approx(2 * math.pi * 17.5, rel=0.02)
    angle = np.degrees(np.arctan2(neck.course[:, 1], neck.course[:, 0]))
    assert np.diff(np.sort(angle)).max() < 5, "its course goes all round"


def test_the_sides_of_a_frame_are_a_neck_each() -> None:
    necks = find_necks(box(0, 0, 60, 40).difference(box(6, 6, 54, 34)), 9)
    assert [n.width for n in necks] == pytest.approx([6] * 4)
    assert sorted(round(n.run) for n in necks) == [0, 0, 90, 90]
    assert find_necks(box(0, 0, 60, 40).difference(box(10, 10, 50, 30)), 9) == ()


def test_a_chain_of_beads_has_a_neck_between_each_two() -> None:
    shape = shapely.union_all([disc(4, 10 * i) for i in range(5)] + [box(0, -1, 40, 1)])
    necks = find_necks(shape, 9)
    assert [(n.kind, round(n.width, 3)) for n in necks] == [("between", 2.0)] * 4
    assert [n.at[0] for n in necks] == pytest.approx([5, 15, 25, 35], abs=1)


def test_a_small_head_on_a_neck_counts() -> None:
    shape = box(-30, -20, 0, 20).union(box(-1, -1.5, 3, 1.5)).union(disc(4, 6))
    for limit in (3.5, 9):
        assert the_one(shape, limit).kind == "between"
        assert the_one(shape, limit).width == pytest.approx(3)


# Fins and tips


def test_a_bar_on_a_body_is_a_fin() -> None:
    neck = the_one(box(-30, -20, 0, 20).union(box(-1, -1.5, 12, 1.5)))
    assert (neck.kind, neck.width) == ("fin", pytest.approx(3))
    assert apart(neck.run, 0) < 0.5
    assert 0 < neck.at[0] < 6, "two widths or more from its end"


@pytest.mark.parametrize(("length", "found"), [(4.5, False), (7.5, True)])
def test_a_stub_is_no_fin_until_it_is_twice_as_long_as_wide(length: float, found: bool) -> None:
    shape = box(-30, -20, 0, 20).union(box(-1, -1.5, length, 1.5))
    assert bool(find_necks(shape, 9)) is found


@pytest.mark.parametrize("degrees", [90, 60, 45, 36, 30])
def test_a_pointed_tip_is_nothing(degrees: float) -> None:
    assert find_necks(wedge(degrees), 9) == ()


@pytest.mark.parametrize("degrees", [26, 15, 8])
def test_a_needle_is_a_fin_but_for_its_last_3_mm(degrees: float) -> None:
    neck = the_one(wedge(degrees))
    sine = math.sin(math.radians(degrees / 2))
    assert neck.kind == "fin"
    assert neck.width == pytest.approx(2 * sine * neck.at[0], rel=0.04), "the disc on the axis, at that place"
    assert 3 <= neck.at[0] + neck.width / 2 < 5
    assert apart(neck.run, 0) < 0.5
    x, _, width, _ = neck.course.T
    assert width == pytest.approx(2 * sine * x, abs=0.04), "the chord at the chosen place is that much shorter"


def test_stars_leaves_and_ellipses_have_tips_alone() -> None:
    angle = np.pi * np.arange(10) / 5
    radius = np.where(np.arange(10) % 2, 15.0, 38.0)
    star = Polygon(np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1))
    leaf = disc(50, 0, -42).intersection(disc(50, 0, 42))
    for shape in (star, leaf, scale(disc(1), 20, 6), disc(3), box(0, 0, 5, 5), box(0, 0, 40, 12)):
        assert find_necks(shape, 9) == ()


def test_a_thin_bar_by_itself_is_a_fin_if_it_is_slender() -> None:
    neck = the_one(box(0, 0, 30, 3))
    assert (neck.kind, neck.width, neck.at) == ("fin", pytest.approx(3), pytest.approx((15, 1.5), abs=1))
    assert neck.length == pytest.approx(30, abs=1.5)
    assert find_necks(box(0, 0, 10, 3), 9) == ()


def test_each_arm_of_a_cross_and_of_a_comb_is_a_fin() -> None:
    cross = box(-30, -4, 30, 4).union(box(-4, -30, 4, 30))
    assert sorted((n.kind, round(n.width, 6), round(n.run) % 180) for n in find_necks(cross, 9)) == [
        ("fin", 8, 0), ("fin", 8, 0), ("fin", 8, 90), ("fin", 8, 90),
    ]  # fmt: skip
    comb = shapely.union_all([box(0, 0, 59, 15)] + [box(x, 14, x + 4, 35) for x in range(3, 50, 9)])
    teeth = find_necks(comb, 9)
    assert [(n.kind, n.width, n.run) for n in teeth] == [("fin", pytest.approx(4), pytest.approx(90, abs=0.5))] * 6


def test_a_tee_all_narrow_is_three_fins() -> None:
    tee = box(-30, 0, 30, 6).union(box(-3, -30, 3, 1))
    assert sorted(round(n.run) % 180 for n in find_necks(tee, 9)) == [0, 0, 90]


def test_a_bent_bar_is_one_fin_whose_run_turns() -> None:
    angle = np.radians(np.linspace(20, 340, 160))
    bend = LineString(15 * np.stack([np.cos(angle), np.sin(angle)], axis=1)).buffer(2, cap_style="flat", quad_segs=64)
    neck = the_one(bend)
    assert (neck.kind, neck.width) == ("fin", pytest.approx(4, abs=0.01))
    assert np.ptp(np.unwrap(neck.course[:, 3], period=180)) > 180


# Robust


def test_turning_and_moving_changes_nothing_but_the_place() -> None:
    shape = disc(12).union(box(0, -2, 30, 2)).union(disc(5, 31)).difference(disc(4, -6))
    still = find_necks(shape, 9)
    assert len(still) >= 2
    moved = find_necks(translate(rotate(shape, 71, origin=(0, 0)), 500, 300), 9)
    assert [n.width for n in moved] == pytest.approx([n.width for n in still], abs=0.01)
    assert all(apart(b.run, a.run + 71) < 3 for a, b in zip(still, moved, strict=True))


@pytest.mark.parametrize("seed", range(4))
def test_noise_of_a_micrometre_is_not_seen(seed: int) -> None:
    shape = box(-20, -15, 0, 15).union(box(0, -2, 25, 2)).union(disc(10, 30))
    ring = shapely.get_coordinates(shapely.segmentize(shape, 0.05).exterior)[:-1]
    noisy = Polygon(ring + np.random.default_rng(seed).uniform(-0.001, 0.001, ring.shape))
    neck = the_one(noisy)
    assert (neck.kind, neck.width) == ("between", pytest.approx(4, abs=0.01))


def test_parts_are_looked_at_one_by_one() -> None:
    near = box(0, 0, 30, 30).union(box(30.2, 0, 60, 30))
    assert near.geom_type == "MultiPolygon"
    assert find_necks(near, 9) == ()
    both = box(0, 0, 30, 3).union(box(0, 3.2, 30, 5.2))
    assert [n.width for n in find_necks(both, 9)] == pytest.approx([2, 3])


def test_a_gap_is_no_neck() -> None:
    assert find_necks(box(0, 0, 60, 40).difference(box(28, -1, 30, 25)), 9) == ()


def test_nothing_has_no_neck() -> None:
    assert find_necks(Polygon(), 9) == ()


def test_only_what_is_narrower_than_asked_is_found() -> None:
    shape = disc(12).union(disc(12, 40)).union(box(0, -2, 40, 2))
    assert find_necks(shape, 3.99) == ()
    assert the_one(shape, 4.01).width == pytest.approx(4)


# Random shapes against a raster of 0.05 mm, painted by scan lines


def lumps(seed: int) -> BaseGeometry:
    """A few discs joined by bars, as smooth as a cutter leaves them."""
    random = np.random.default_rng(seed)
    middles = np.cumsum(random.normal(0, 9, (random.integers(2, 6), 2)), axis=0)
    discs = [Point(*xy).buffer(random.uniform(3, 9)) for xy in middles]
    rough = shapely.union_all([*discs, LineString(middles).buffer(random.uniform(1.5, 3.5))])
    smooth = rough.buffer(2).buffer(-3.6, quad_segs=32).buffer(1.6, quad_segs=32)
    return max(shapely.get_parts(smooth), key=shapely.area)


def distances(shape: BaseGeometry) -> tuple[npt.NDArray[np.float64], float, float]:
    """Distance of each pixel to the outside, mm, and the grid's corner."""
    grid = grid_over(*shapely.buffer(shape, 1).bounds)
    return ndimage.distance_transform_edt(grid.paint(shape)) * PIXEL, grid.left, grid.bottom


def least_radius_that_parts(depth: npt.NDArray[np.float64], most: float) -> float | None:
    """Least radius at which what lies deeper falls into two parts, each a quarter deeper still."""
    for radius in np.arange(0.5, most, PIXEL / 2):
        parts, count = ndimage.label(depth > radius)
        inside = parts > 0
        deepest = ndimage.maximum(depth[inside], parts[inside], range(1, count + 1)) if count > 1 else []
        if np.sum(np.asarray(deepest) > 1.25 * radius) > 1:
            return float(radius)
    return None


def test_widths_agree_with_a_raster_on_random_shapes() -> None:
    parted = whole = 0
    for seed in range(10):
        shape = lumps(seed)
        necks = find_necks(shape, 9)
        depth, left, bottom = distances(shape)
        for neck in necks:
            row, column = int((neck.at[1] - bottom) / PIXEL), int((neck.at[0] - left) / PIXEL)
            assert 2 * depth[row, column] == pytest.approx(neck.width, abs=0.1), (seed, neck.kind, neck.at)
        radius = least_radius_that_parts(depth, 4.45)
        if radius is None:
            whole += 1
        else:
            parted += 1
            assert min(abs(neck.width - 2 * radius) for neck in necks) < 0.1, (seed, radius)
    assert min(parted, whole) >= 4, "both kinds are tried"


def test_a_large_outline_takes_no_time_to_speak_of() -> None:
    angle = np.linspace(0, 2 * np.pi, 5000, endpoint=False)
    radius = 150 + 40 * np.cos(5 * angle) + 3 * np.sin(60 * angle)
    shape = Polygon(np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1))
    slit = shape.difference(box(0, -1, 400, 1)).difference(box(-4, 3, 200, 5))
    start = time.process_time()
    necks = find_necks(slit, 9)
    assert time.process_time() - start < 1.0, "measured: 0.1 s"
    assert min(n.width for n in necks) == pytest.approx(2, abs=0.01)


@pytest.mark.parametrize(("held", "reach"), [(14.99, 0.0), (15.01, 84.99)])
def test_the_longer_side_is_a_lever_where_the_shorter_can_be_held(held: float, reach: float) -> None:
    bar = shapely.box(0, -3, 100, 3)
    assert long_lever(bar, (held, 0.0), 6.0, 0.0) == pytest.approx(reach, abs=0.01)
    assert long_lever(bar, (100 - held, 0.0), 6.0, 0.0) == pytest.approx(reach, abs=0.01)


def test_a_ring_that_a_cut_does_not_part_has_no_longer_side() -> None:
    ring = shapely.difference(shapely.Point(0, 0).buffer(40), shapely.Point(0, 0).buffer(34))
    assert long_lever(ring, (37.0, 0.0), 6.0, 90.0) == 0.0
