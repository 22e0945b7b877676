"""Measures of what wood is left, on random designs of all kinds: they hold together."""

from __future__ import annotations

import shapely
from hypothesis import given

from core.design import Design
from core.measures.background_joints import joints_along_edges
from core.measures.blanks import blanks
from core.measures.grooves import shown_ends, tightest_bend
from core.measures.islands_and_remnants import islands, loose_remnants
from core.measures.skins_and_floors import skin_thickness, thin_skins, thinnest_floor
from core.measures.walls import FLUSH, HAIR, shallow_bites, walls
from core.stack.stack import Stack, build_stack

from .designs import designs, fewer, grid_designs


def hold_together(stack: Stack) -> None:
    for wall in walls(stack, 5.0):
        one, other = stack.pieces[wall.earlier], stack.pieces[wall.later]
        assert wall.earlier < wall.later
        assert wall.later not in one.under
        assert FLUSH < wall.gap < 5.0
        assert wall.gap >= shapely.distance(one.pocket, other.pocket) - 1e-9
        assert stack.finished_box.buffer(1e-6).covers(shapely.Point(wall.at))
        assert not one.pocket.contains(shapely.Point(wall.at))
        assert not other.pocket.contains(shapely.Point(wall.at))
    for bite in shallow_bites(stack):
        assert bite.later in stack.pieces[bite.earlier].under
        assert bite.width < HAIR + 0.002
    for skin in thin_skins(stack, 1.0):
        placed, later = stack.pieces[skin.earlier], stack.pieces[skin.later]
        assert 0 < skin.thickness == skin_thickness(placed, later) < 1
        assert placed.insert.covers(shapely.Point(skin.at))
        assert later.pocket.covers(shapely.Point(skin.at))
    floor = thinnest_floor(stack)
    inside = [p for p in stack.pieces if p.sound and shapely.intersection(p.pocket, stack.box).area > 1]
    if inside and not any(p.piece.taper for p in inside):
        assert floor is not None
        assert floor.thickness <= stack.design.panel.thickness - max(p.depth for p in inside)
    for island in islands(stack):
        assert not island.shape.intersection(stack.pieces[island.piece].pocket).area > 1e-6
        assert 0 < island.width**2 <= 4 / 3 * island.area
    for part in loose_remnants(stack):
        assert part.area < 25
    for placed in stack.pieces:
        assert not placed.sound or not placed.piece.is_groove or tightest_bend(placed).radius >= 0
    for blank in blanks(stack):
        assert min(blank.along, blank.across, blank.thickness) > 0
    for joint in joints_along_edges(stack):
        assert joint.length > 10
        assert joint.distance <= 1 + 1e-6
    assert all(stack.pieces[end.piece].piece.is_groove for end in shown_ends(stack))


@fewer(2)
@given(designs(tapers=(0.0, 0.0, 3.0)))
def test_on_random_designs(design: Design):
    hold_together(build_stack(design))


@fewer(2)
@given(grid_designs())
def test_on_rectangles_that_touch_along_a_grid(design: Design):
    hold_together(build_stack(design))
