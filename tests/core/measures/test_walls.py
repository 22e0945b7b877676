"""Walls between pockets and edges that nearly meet: closed forms, thresholds, and a raster.

A wall of 3 mm and a hair of 0.5 mm are common practice, no published source; widths and places are plane geometry
(DERIVED).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from core.findings.all_findings import find_all
from core.measures.walls import HAIR, shallow_bites, walls
from core.stack.stack import Stack, build_stack

from ..designs import POINT_CUTTER, blob, disc, make_design, make_panel, make_piece, rectangle
from ..rasters import distance_between, grid_over, widest

SHARP = {"cutter_diameter": POINT_CUTTER, "side_clearance": 0.0}


def stack_of(*pieces, **panel) -> Stack:
    return build_stack(make_design(pieces, make_panel(200, 150, **panel)))


def square(name, x, y=50.0, size=20.0, **changes):
    return make_piece(name, rectangle(size, size, x, y), **(SHARP | changes))


@pytest.mark.parametrize("gap", [0.1, 0.6, 2.9])
def test_gap_of_two_discs_is_their_distance_less_both_radii(gap):
    one = make_piece("one", disc(20), at=(50, 70))
    other = make_piece("other", disc(15), at=(50 + 35 + gap, 70))
    (wall,) = walls(stack_of(one, other), 3.0)
    assert wall.gap == pytest.approx(gap, abs=2e-4)  # equal-area polygons reach 1e-5 beyond the circle
    assert wall.at == pytest.approx((50 + 20 + gap / 2, 70), abs=0.1)
    assert (wall.earlier, wall.later, wall.one_batch, wall.height) == (0, 1, True, 6.0)


def test_gap_of_straight_edges_is_exact():
    (wall,) = walls(stack_of(square("a", 10), square("b", 32.5)), 3.0)
    assert wall.gap == 2.5
    assert wall.at[0] == 31.25


@pytest.mark.parametrize(("gap", "thin", "meeting"), [(0.49, 0, 1), (0.5, 1, 0), (2.99, 1, 0), (3.0, 0, 0)])
def test_thresholds_of_thin_wall_and_meeting_edges(gap, thin, meeting):
    stack = stack_of(square("a", 10), square("b", 30 + gap))
    codes = [finding.code for finding in find_all(stack)]
    assert (codes.count("thin-wall"), codes.count("meeting-edges")) == (thin, meeting)


def test_flush_and_overlapping_pockets_have_no_wall():
    assert walls(stack_of(square("a", 10), square("b", 30)), 3.0) == []
    assert walls(stack_of(square("a", 10), square("b", 28)), 3.0) == []


def test_a_patch_inside_a_body_makes_no_wall():
    patch = square("patch", 11, 51, size=6)
    assert walls(stack_of(square("body", 10), patch), 3.0) == []


def test_after_takes_the_thin_wall_away_but_not_meeting_edges():
    stack = stack_of(square("a", 10), square("b", 31, after=("a",)))
    assert [wall.one_batch for wall in walls(stack, 3.0)] == [False]
    assert "thin-wall" not in [finding.code for finding in find_all(stack)]
    near = stack_of(square("a", 10), square("b", 30.3, after=("a",)))
    assert "meeting-edges" in [finding.code for finding in find_all(near)]


def test_a_later_pocket_that_takes_the_whole_wall_leaves_none():
    cover = make_piece("cover", rectangle(10, 30, 26, 45), **SHARP)
    assert walls(stack_of(square("a", 10), square("b", 31), cover), 3.0) == []


def test_a_later_pocket_across_a_wall_leaves_the_rest_of_it():
    cross = make_piece("cross", rectangle(10, 8, 26, 56), **SHARP)
    found = walls(stack_of(square("a", 10), square("b", 31), cross), 3.0)
    assert [(wall.earlier, wall.later, wall.gap) for wall in found] == [(0, 1, 1.0)]
    assert not 56 <= found[0].at[1] <= 64


def test_an_earlier_pocket_is_but_the_ground_of_a_wall():
    ground = make_piece("ground", rectangle(60, 40, 5, 40), **SHARP)
    found = walls(stack_of(ground, square("a", 10), square("b", 31)), 3.0)
    assert [(wall.earlier, wall.later) for wall in found] == [(1, 2)]


def test_a_wall_in_the_trimmed_edge_does_not_count():
    pieces = (square("a", 10), square("b", 31))
    assert walls(stack_of(*pieces, edge_trim=(0, 0, 71, 0)), 3.0) == []
    assert walls(stack_of(*pieces, edge_trim=(32, 0, 0, 0)), 3.0) == []


# Overlaps


@pytest.mark.parametrize(("depth", "found"), [(0.2, 1), (0.49, 1), (0.52, 0), (6.0, 0)])
def test_an_overlap_counts_where_its_lens_is_nowhere_wider_than_a_hair(depth, found):
    """The largest disc in a lens touches both arcs on the line of centres: it is as wide as the overlap is deep."""
    one, other = make_piece("one", disc(20), at=(50, 70)), make_piece("other", disc(15), at=(85 - depth, 70))
    bites = shallow_bites(stack_of(one, other))
    assert len(bites) == found
    for bite in bites:
        assert bite.width == pytest.approx(depth, abs=2e-3)
        assert bite.at == pytest.approx((70 - depth / 2, 70), abs=0.5)


def test_an_overlap_along_straight_edges_has_its_exact_width():
    (bite,) = shallow_bites(stack_of(square("a", 10), square("b", 29.7)))
    assert bite.width == pytest.approx(0.3, abs=1e-3)
    assert len(shallow_bites(stack_of(square("a", 10), square("b", 29.5)))) == 1
    assert shallow_bites(stack_of(square("a", 10), square("b", 29.499))) == []


def test_an_overlap_that_a_third_pocket_hides_does_not_count():
    cover = make_piece("cover", rectangle(10, 30, 26, 45), **SHARP)
    assert shallow_bites(stack_of(square("a", 10), square("b", 29.7), cover)) == []


# A raster


@pytest.mark.parametrize("seed", range(6))
def test_walls_and_bites_of_random_blobs_agree_with_a_raster(seed):
    random = np.random.default_rng(seed)
    pieces = [
        make_piece(f"p{i}", blob(100 * seed + i, random.uniform(8, 14)), at=tuple(random.uniform(15, (105, 65))))
        for i in range(7)
    ]
    stack = build_stack(make_design(pieces))
    found = {(w.earlier, w.later): w.gap for w in walls(stack, 4.0)}
    bitten = {(b.earlier, b.later): b.width for b in shallow_bites(stack)}
    looked = 0
    for i, one in enumerate(stack.pieces):
        for j, other in list(enumerate(stack.pieces))[i + 1 :]:
            boxes = np.array([shapely.bounds(one.pocket), shapely.bounds(other.pocket)])
            low, high = boxes[:, :2].max(axis=0) - 4, boxes[:, 2:].min(axis=0) + 4
            if (high <= low).any():
                continue
            looked += 1
            grid = grid_over(*low, *high)
            a, b = grid.paint(one.pocket), grid.paint(other.pocket)
            third = [p for p in stack.pieces if p.index not in (i, j) and p.batch >= min(one.batch, other.batch)]
            cut = np.any([grid.paint(p.pocket) for p in third], axis=0)
            if (a & b).any():
                wide = widest(a & b)
                if abs(wide - HAIR) > 0.15 and not cut.any():
                    assert ((i, j) in bitten) == (wide < HAIR)
                continue
            distance = distance_between(a & ~cut, b & ~cut)
            if (i, j) in found:
                assert found[i, j] == pytest.approx(distance, abs=0.12)
            elif not cut.any():
                assert distance > 3.85
    assert looked


def test_a_raster_of_the_oracle_measures_what_is_known():
    grid = grid_over(0, 0, 30, 20)
    left, right = shapely.box(2, 2, 10, 18), shapely.Point(20, 10).buffer(6, quad_segs=64)
    assert distance_between(grid.paint(left), grid.paint(right)) == pytest.approx(4, abs=0.1)
    assert widest(grid.paint(right)) == pytest.approx(12, abs=0.1)
    assert grid.paint(right).sum() * 0.05**2 == pytest.approx(math.pi * 36, rel=1e-3)
