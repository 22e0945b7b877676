"""Islands inside pockets and the parts that later pockets leave of inserts.

Islands of 3 mm, as wide as their pocket is deep, and remnants of 25 mm² are common practice, no published source;
widths and areas are plane geometry (DERIVED).
"""

from __future__ import annotations

import math

import pytest

from core.design import PathOutline, PolygonOutline
from core.measures.islands_and_remnants import fragile_islands, islands, loose_remnants
from core.stack.stack import Stack, build_stack

from ..designs import POINT_CUTTER, disc, make_design, make_panel, make_piece, rectangle, ring

SHARP = {"cutter_diameter": POINT_CUTTER, "side_clearance": 0.0}


def stack_of(*pieces, **panel) -> Stack:
    return build_stack(make_design(pieces, make_panel(200, 150, **panel)))


def frame(hole, **changes):
    """A plate of 60 by 60 with one hole, its middle at (60, 70)."""
    outline = PolygonOutline(tuple(rectangle(60, 60, -30, -30)), (tuple(hole),))
    return make_piece("frame", outline, at=(60, 70), **(SHARP | changes))


# Width


@pytest.mark.parametrize(("radius", "fragile"), [(2.99, 1), (3.01, 0)])
def test_a_round_island_is_fragile_when_narrower_than_its_pocket_is_deep(radius, fragile):
    found = fragile_islands(stack_of(make_piece("ring", ring(30, radius), at=(60, 70))), 3.0)
    assert len(found) == fragile
    for island in found:
        assert island.width == pytest.approx(2 * radius, abs=2e-3)
        assert island.at == pytest.approx((60, 70), abs=0.01)
        assert island.area == pytest.approx(math.pi * radius**2, rel=1e-3)
        assert (island.piece, island.height) == (0, 6.0)


@pytest.mark.parametrize(("radius", "fragile"), [(1.49, 1), (1.51, 0)])
def test_a_round_island_is_fragile_when_narrower_than_min_island(radius, fragile):
    thin = make_piece("ring", ring(30, radius), at=(60, 70), pocket_depth=2.0, cutter_diameter=1.0)
    assert len(fragile_islands(stack_of(thin), 3.0)) == fragile


def test_a_bar_is_as_wide_as_its_short_side_and_a_point_makes_no_island_narrower():
    (bar,) = islands(stack_of(frame(rectangle(40, 4, -20, -2))))
    assert bar.width == pytest.approx(4, abs=2e-3)
    kite = [(-20, 0), (0, -7), (7, 0), (0, 7)]
    assert fragile_islands(stack_of(frame(kite)), 3.0) == []


def test_a_thin_crescent_is_as_wide_as_its_wall():
    """Its outer arc of radius 12 and inner arc of radius 10 keep 2 mm apart over half a turn."""
    angles = [math.pi * k / 90 for k in range(91)]
    outer = [(12 * math.cos(a), 12 * math.sin(a)) for a in angles]
    inner = [(10 * math.cos(a), 10 * math.sin(a)) for a in reversed(angles)]
    (crescent,) = fragile_islands(stack_of(frame(outer + inner)), 3.0)
    assert crescent.width == pytest.approx(2, abs=0.05)


# Filled holes


def hole_of(size: float):
    return frame(rectangle(size, size, -size / 2, -size / 2))


def filler(size, **changes):
    return make_piece("filler", rectangle(size, size, -size / 2, -size / 2), at=(60, 70), **(SHARP | changes))


def test_a_hole_that_another_piece_fills_is_no_island():
    assert len(list(islands(stack_of(hole_of(5))))) == 1
    for size in (5.0, 6.0, 4.6):
        assert list(islands(stack_of(hole_of(5), filler(size)))) == []
    assert len(list(islands(stack_of(hole_of(5), filler(2.0, after=("frame",)))))) == 1


def test_an_earlier_insert_stands_in_a_hole_as_the_panel_does():
    ground = make_piece("ground", rectangle(100, 100, 10, 20), **SHARP)
    (island,) = fragile_islands(stack_of(ground, hole_of(5)), 3.0)
    assert island.piece == 1


def test_what_runs_round_a_pocket_of_the_same_batch_is_a_wall_and_not_an_island():
    assert list(islands(stack_of(hole_of(12), filler(8.0)))) == []


def test_an_island_in_the_trimmed_edge_or_under_a_later_pocket_does_not_count():
    assert list(islands(stack_of(hole_of(5), edge_trim=(70, 0, 0, 0)))) == []
    cover = make_piece("cover", disc(10), at=(60, 70))
    assert list(islands(stack_of(hole_of(5), cover))) == []


def test_a_part_of_the_piece_itself_inside_its_hole_leaves_a_wall():
    nested = "M -30 -30 H 30 V 30 H -30 Z M -6 -6 V 6 H 6 V -6 Z M -2 -2 H 2 V 2 H -2 Z"
    piece = make_piece("nested", PathOutline(nested), at=(60, 70), **SHARP)
    stack = stack_of(piece)
    assert len(stack.pieces[0].pocket.geoms) == 2
    assert list(islands(stack)) == []


# Remnants


@pytest.mark.parametrize(("width", "loose"), [(1.24, 1), (1.26, 0)])
def test_a_part_below_25_mm2_is_loose(width, loose):
    """A bar of 20 by 30, cut through so that a strip of 20 by `width` is left at its end."""
    bar = make_piece("bar", rectangle(20, 30, 40, 40), **SHARP)
    cut = make_piece("cut", rectangle(40, 10, 30, 40 + width), **SHARP)
    found = loose_remnants(stack_of(bar, cut))
    assert len(found) == loose
    for part in found:
        assert (part.piece, part.cut_by, part.trimmed) == (0, (1,), False)
        assert part.area == pytest.approx(20 * width)
        assert part.width == pytest.approx(width, abs=2e-3)
        assert 40 < part.at[1] < 40 + width


def test_a_small_piece_that_is_whole_is_no_loose_remnant():
    dot = make_piece("dot", disc(2), at=(60, 70))
    assert loose_remnants(stack_of(dot)) == []


def test_a_sliver_left_by_the_edge_trim_is_loose():
    bar = make_piece("bar", rectangle(20, 30, 40, 40), **SHARP)
    (part,) = loose_remnants(stack_of(bar, edge_trim=(59, 0, 0, 0)), 31)
    assert (part.trimmed, part.cut_by) == (True, ())
    assert part.area == pytest.approx(30)
