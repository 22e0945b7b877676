"""Every solid closed by three counts, and all wood and voids together the panel, on sample and random designs."""

from __future__ import annotations

from typing import get_args

import manifold3d
import numpy as np
import pytest
import shapely
from hypothesis import given

from core.design import Design, Segment, Strip
from core.solids.arrangement import GRID
from core.solids.closed_mesh import Surface
from core.solids.panel_solids import Solid, State, build_solids
from core.solids.volumes import measure_volumes
from core.stack.stack import Stack, build_stack
from tests.core.designs import (
    EIGHTH_INCH,
    POINT_CUTTER,
    designs,
    disc,
    fewer,
    grid_designs,
    lace,
    make_design,
    make_panel,
    make_piece,
    rectangle,
    ring,
    spiral,
    total_volume,
)
from tests.core.oracles import assert_closed, manifold_of, slab_volumes

WEDGE = shapely.Polygon([(-5, -5), (70, -5), (55, 41), (-5, 60)])


def build(design: Design) -> tuple[Stack, dict[str, Solid]]:
    stack = build_stack(design)
    return stack, {solid.name: solid for solid in build_solids(stack)}


def assert_volumes_add_up(design: Design) -> None:
    """Each body has the volume that painting gives it, and with the voids they fill the panel, within 1e-9."""
    __tracebackhide__ = True
    stack, solids = build(design)
    panel = design.panel
    whole = panel.width * panel.height * panel.thickness
    painted = slab_volumes(stack)
    for name, expected in (painted.background | painted.inserts).items():
        made = solids[name].volume if name in solids else 0.0
        assert abs(made - expected) <= 1e-9 * whole, name
    assert abs(total_volume(solids.values()) + painted.voids - whole) <= 1e-9 * whole


@given(designs())
@fewer(2)
def test_random_designs_are_closed_and_fill_the_panel(design):
    for solid in build_solids(build_stack(design)):
        assert_closed(solid)
    assert_volumes_add_up(design)


@given(grid_designs())
@fewer(1)
def test_rectangles_on_a_grid_are_closed_and_fill_the_panel(design):
    for solid in build_solids(build_stack(design)):
        assert_closed(solid)
    assert_volumes_add_up(design)


@given(designs(most=4, tapers=(0.0, 3.0, 8.0)))
@fewer(4)
def test_leaning_walls_are_closed_and_fill_the_panel(design):
    """The voids are integrals of plane sections, which share nothing with the meshes."""
    stack = build_stack(design)
    for state in get_args(State):
        for solid in build_solids(stack, state):
            assert_closed(solid)
    measured = measure_volumes(stack)
    wood = measured.background + sum(measured.inserts)
    assert abs(wood + measured.gap - measured.panel) <= 1e-9 * measured.panel


@given(designs(most=4, tapers=(0.0, 3.0, 8.0)))
@fewer(8)
def test_no_two_solids_share_any_wood(design):
    """manifold3d, float64: the union of all solids is as big as their sum."""
    solids = build_solids(build_stack(design))
    together = manifold3d.Manifold.batch_boolean([manifold_of(s) for s in solids], manifold3d.OpType.Add)
    assert together.volume() == pytest.approx(total_volume(solids), rel=1e-9)


@pytest.mark.parametrize("clip", [None, WEDGE], ids=["whole", "cut open"])
@pytest.mark.parametrize("soften", [0.0, 0.3])
@pytest.mark.parametrize("state", get_args(State))
@given(design=designs(most=4))
@fewer(4)
def test_every_state_is_closed_cut_open_or_softened(state, soften, clip, design):
    for solid in build_solids(build_stack(design), state, clip=clip, soften=soften):
        assert_closed(solid)


@given(design=grid_designs())
@fewer(2)
def test_grid_rectangles_stay_closed_when_cut_open_and_softened(design):
    for solid in build_solids(build_stack(design), "proud", clip=shapely.box(2, -1, 9, 5), soften=0.2):
        assert_closed(solid)


@given(design=designs(most=4))
@fewer(2)
def test_a_clip_and_its_complement_share_all_the_wood(design):
    stack = build_stack(design)
    rest = shapely.difference(shapely.box(-20, -20, 150, 110), WEDGE)
    for state in get_args(State):
        whole = total_volume(build_solids(stack, state))
        halves = [total_volume(build_solids(stack, state, clip=clip)) for clip in (WEDGE, rest)]
        assert sum(halves) == pytest.approx(whole, rel=1e-9)


@given(design=designs(most=4))
@fewer(2)
def test_softening_takes_little_and_adds_nothing(design):
    stack = build_stack(design)
    hard = {s.name: s for s in build_solids(stack, "proud")}
    soft = {s.name: s for s in build_solids(stack, "proud", soften=0.2)}
    assert set(soft) == set(hard)
    for name, solid in soft.items():
        edge = shapely.length(shapely.union_all(shapely.polygons(_tops(hard[name]))))
        lost = hard[name].volume - solid.volume
        assert -1e-9 * hard[name].volume <= lost <= 0.2 * 0.2 * edge * 2 + 1e-9, name


def _tops(solid: Solid) -> np.ndarray:
    return solid.vertices[solid.triangles[solid.surface == Surface.TOP], :2]


def test_states_trim_the_panel_as_they_say():
    panel = make_panel(face_trim=0.5, edge_trim=(10.0, 5.0, 4.0, 3.0))
    stack = build_stack(
        make_design([make_piece("a", rectangle(20, 20), at=(50, 30), cutter_diameter=POINT_CUTTER)], panel)
    )
    reach = {}
    for state in get_args(State):
        solids = build_solids(stack, state)
        points = np.concatenate([s.vertices for s in solids])
        reach[state] = np.stack([points.min(axis=0), points.max(axis=0)]).tolist()
    assert reach["raw"] == [[0, 0, -19], [120, 80, 0]]
    assert reach["proud"] == [[0, 0, -19], [120, 80, 1.5]]
    assert reach["finished"] == [[10, 4, -19], [115, 77, -0.5]]


def test_finished_wood_is_the_raw_wood_below_both_trims():
    panel = make_panel(face_trim=0.5, edge_trim=(10.0, 5.0, 4.0, 3.0))
    a = make_piece("a", disc(20, count=90), at=(12, 40))
    b = make_piece("b", disc(15, count=60), at=(30, 40), pocket_depth=4.0)
    stack = build_stack(make_design([a, b], panel))
    finished = {s.name: s.volume for s in build_solids(stack, "finished")}
    # Straight walls: below the face trim a body is as tall as its depth less the trim, wherever it is seen.
    both = shapely.intersection(stack.pieces[0].insert, stack.pieces[1].pocket)
    inside = stack.finished_box
    expected_a = (
        shapely.intersection(stack.pieces[0].insert, inside).area * 5.5 - shapely.intersection(both, inside).area * 3.5
    )
    assert finished["a"] == pytest.approx(expected_a, rel=1e-9)
    assert finished["b"] == pytest.approx(shapely.intersection(stack.pieces[1].insert, inside).area * 3.5, rel=1e-9)


def test_a_pocket_through_the_board_leaves_a_hole_in_the_background():
    stack, solids = build(make_design([make_piece("a", rectangle(20, 10), at=(50, 30), pocket_depth=25.0)]))
    pocket = stack.pieces[0].pocket.area
    assert solids["background-1-1"].volume == pytest.approx((120 * 80 - pocket) * 19, rel=1e-12)
    assert stack.pieces[0].depth == 19


def test_an_insert_thinner_than_its_pocket_leaves_a_void_above_it():
    _, solids = build(
        make_design([make_piece("a", rectangle(20, 10), at=(50, 30), insert_thickness=2.0, floor_gap=0.5)])
    )
    assert solids["a"].vertices[:, 2].min() == -5.5
    assert solids["a"].vertices[:, 2].max() == -3.5


def test_clearance_wider_than_a_remnant_leaves_none_of_it():
    """A later pocket leaves a margin of 1 mm of a square of 40; with a clearance of 1.5 its insert ends before that."""
    wide = make_piece("a", rectangle(40, 40), at=(40, 20), side_clearance=1.5, cutter_diameter=EIGHTH_INCH)
    over = make_piece("b", rectangle(38, 38), at=(41, 21), pocket_depth=7.0)
    stack, solids = build(make_design([wide, over]))
    assert set(solids) == {"background-1-1", "b"}
    assert stack.remnants[0].is_empty
    assert_volumes_add_up(stack.design)


def test_a_shallow_later_pocket_leaves_a_skin_and_an_equal_one_leaves_nothing():
    below = make_piece("a", disc(20, count=180), at=(60, 40))
    for depth, left in ((4.0, 2.0), (6.0, 0.0), (7.0, 0.0)):
        twin = make_piece("b", disc(20, count=180), at=(60, 40), pocket_depth=depth)
        stack, solids = build(make_design([below, twin]))
        skin = solids["a"].volume if "a" in solids else 0.0
        insert = stack.pieces[0].insert
        on_grid = insert.length * left * GRID  # each corner moves by less than a step of the grid
        assert skin == pytest.approx(insert.area * left, rel=1e-12, abs=on_grid)


def test_an_island_stays_and_may_be_filled_by_another_piece():
    outer = make_piece("a", ring(30, 12, 360), at=(60, 40))
    inner = make_piece("b", disc(12, count=360), at=(60, 40), side_clearance=0.0)
    stack, solids = build(make_design([outer]))
    assert solids["background-1-1"].volume == pytest.approx(120 * 80 * 19 - 6 * stack.pieces[0].pocket.area, rel=1e-12)
    _, filled = build(make_design([outer, inner]))
    assert filled["b"].volume == pytest.approx(6 * np.pi * 12**2, rel=1e-9)
    assert filled["a"].volume == pytest.approx(solids["a"].volume, rel=1e-9)
    assert_volumes_add_up(make_design([outer, inner]))


@pytest.mark.parametrize("fit", ["rounded", "as-drawn"])
def test_a_hole_flush_with_the_panels_edge_leaves_the_rest_of_its_insert(fit):
    """Clipped at the edge the insert is a U, and along its mouth a line without area."""
    plate = make_piece("a", lace(1, 1, 4, 4), at=(10, -4), side_clearance=0.0, fit=fit, cutter_diameter=POINT_CUTTER)
    _, solids = build(make_design([plate]))
    assert solids["a"].volume == pytest.approx(6 * (12 * 8 - 4 * 4), rel=1e-6)
    assert_volumes_add_up(make_design([plate]))


@pytest.mark.parametrize("taper", [0.0, 3.0])
def test_a_piece_beside_the_panel_that_touches_it_makes_no_solid(taper):
    stack, solids = build(
        make_design([make_piece("a", rectangle(20, 10), at=(-20, 30), taper=taper, side_clearance=0.0)])
    )
    assert set(solids) == {"background-1-1"}
    assert solids["background-1-1"].volume == pytest.approx(stack.box.area * 19, rel=1e-12)


def test_a_leaning_wall_across_the_panels_edge_stays_in_its_own_planes():
    """Slivers at the edge once lent a corner the next wall's plane, and insert and panel shared 0.003 mm3."""
    band = make_piece(
        "a", spiral(2.0, 4.0, 11.0), at=(3.0, 7.0), turn=33.3, taper=3.0, pocket_depth=5.5, insert_thickness=3.5,
        floor_gap=0.5, side_clearance=0.0, cutter_diameter=3.2,
    )  # fmt: skip
    panel, insert = build_solids(build_stack(make_design([band])))
    assert (manifold_of(panel) ^ manifold_of(insert)).volume() == pytest.approx(0.0, abs=1e-6)


def test_a_leaning_pocket_and_an_upright_one_along_the_same_lines_leave_the_upright_ones_floor():
    """Walls that coincide but for a last bit make slivers; the background loses the upright pocket and no more."""
    plain = {"side_clearance": 0.0, "pocket_depth": 3.0}
    leaning = make_piece("a", rectangle(4, 4), taper=3.0, cutter_diameter=3.2, **plain)
    upright = make_piece("b", rectangle(4, 4), cutter_diameter=1.5, **plain)
    stack, solids = build(make_design([leaning, upright]))
    expected = stack.box.area * 19 - 3 * stack.pieces[1].pocket.area
    assert solids["background-1-1"].volume == pytest.approx(expected, rel=1e-12)


def test_strips_are_cut_where_a_pocket_crosses_their_joint():
    strips = (Strip(60, (Segment(40, "ash"), Segment(40, "elm"))), Strip(60, (Segment(80, "oak"),)))
    piece = make_piece("a", rectangle(20, 20), at=(50, 30), cutter_diameter=POINT_CUTTER)
    _, solids = build(make_design([piece], make_panel(strips=strips, wood=None)))
    volumes = {name: round(s.volume, 6) for name, s in solids.items() if s.kind == "background"}
    assert volumes == {
        "background-1-1": 60 * 40 * 19 - 600.0,
        "background-1-2": 60 * 40 * 19 - 600.0,
        "background-2-1": 60 * 80 * 19 - 1200.0,
    }


def test_cut_faces_are_marked_where_the_panel_is_cut_open():
    stack = build_stack(make_design([make_piece("a", disc(20, count=90), at=(60, 40))]))
    for solid in build_solids(stack, clip=shapely.box(-1, -1, 60, 90)):
        corners = solid.vertices[solid.triangles]
        on_plane = (corners[:, :, 0] == 60).all(axis=1)
        assert np.array_equal(solid.surface == Surface.CUT, on_plane), solid.name
        assert on_plane.any()


def test_surfaces_say_what_they_are():
    stack = build_stack(make_design([make_piece("a", disc(20, count=90), at=(60, 40))]))
    for solid in build_solids(stack, "proud"):
        a, b, c = np.moveaxis(solid.vertices[solid.triangles], 1, 0)
        normal = np.cross(b - a, c - a)
        up = normal[:, 2] / np.linalg.norm(normal, axis=1)
        assert np.allclose(up[solid.surface == Surface.TOP], 1)
        assert np.allclose(up[solid.surface == Surface.BOTTOM], -1)
        assert np.allclose(up[solid.surface == Surface.WALL], 0)
