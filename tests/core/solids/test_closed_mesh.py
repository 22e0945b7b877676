"""Triangles that use every corner, vertices split where a solid touches itself, and volumes of known bodies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from core.solids.arrangement import GRID, arrange
from core.solids.closed_mesh import Surface, extrude, volume
from core.solids.pinches import split_pinches
from core.solids.softened_edges import soften_top
from core.solids.triangulate import triangulate, triangulate_shape
from tests.core.designs import SHAPES
from tests.core.oracles import unmatched_edges

NO_LINES = np.empty(0, dtype=object)


def closed_rings(polygon):
    rings = [shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors)]
    return np.concatenate(rings), np.cumsum([len(ring) for ring in rings]).astype(np.uint32)


def area_of(corners, triangles):
    a, b, c = np.moveaxis(corners[triangles], 1, 0)
    return ((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])) / 2


def assert_complete(polygon):
    """n + 2 h - 2 triangles (Euler's formula for a polygon with h holes), none turned, all corners used, equal area."""
    __tracebackhide__ = True
    corners, ends = closed_rings(polygon)
    triangles = triangulate(corners, ends)
    holes = len(ends) - 1
    assert len(triangles) == len(corners) - len(ends) + 2 * holes - 2
    areas = area_of(corners, triangles)
    assert (areas >= 0).all()
    assert areas.sum() == pytest.approx(polygon.area, rel=1e-12)
    used = np.unique(corners[triangles].reshape(-1, 2), axis=0)
    assert np.array_equal(used, np.unique(corners, axis=0))


@given(SHAPES)
def test_every_corner_is_used_and_the_area_kept(outline):
    assert_complete(shapely.Polygon(outline.points, outline.holes))


@given(st.integers(1, 9), st.integers(1, 9), st.integers(0, 3))
def test_collinear_corners_are_kept(columns, rows, hole):
    """A rectangle with a corner at every millimetre of its edges, with or without a hole made likewise."""
    outer = shapely.segmentize(shapely.box(0, 0, columns + 4, rows + 4), 1.0)
    inner = shapely.segmentize(shapely.box(1, 1, 1 + hole, 1 + hole), 1.0) if hole else None
    assert_complete(outer if inner is None else shapely.Polygon(outer.exterior, [inner.exterior]))


def test_a_shape_of_several_parts_is_triangulated_part_by_part():
    shape = shapely.union_all(
        [shapely.box(0, 0, 10, 10).difference(shapely.box(2, 2, 4, 4)), shapely.box(20, 0, 25, 5)]
    )
    corners, triangles = triangulate_shape(shape)
    assert len(corners) == 12
    assert len(triangles) == 8 + 2
    assert area_of(corners, triangles).sum() == pytest.approx(121.0)
    assert sorted(set(triangles.reshape(-1).tolist())) == list(range(12))


def extruded(shape, height):
    faces = arrange([shape], NO_LINES, np.empty(0, np.int64))
    inside = shapely.contains(shape, shapely.point_on_surface(faces.polygons))
    return extrude(faces, np.array([0.0]), np.where(inside, height, -np.inf))[0]


def box_mesh(x, y, z, numbers):
    """A unit box with its lowest corner at x, y, z; `numbers` maps positions to vertices and grows."""
    corner = [numbers.setdefault((x + i, y + j, z + k), len(numbers)) for k in (0, 1) for j in (0, 1) for i in (0, 1)]
    quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    return [[corner[a], corner[b], corner[c]] for p, q, r, s in quads for a, b, c in ((p, q, r), (p, r, s))]


@pytest.mark.parametrize(
    ("second", "doubled"),
    [((1, 1, 0), 2), ((1, 1, 1), 1), ((0, 1, 1), 2), ((3, 3, 3), 0)],
    ids=["along an upright edge", "at a corner", "along a level edge", "nowhere"],
)
def test_boxes_that_touch_become_two_sheets(second, doubled):
    numbers = {}
    triangles = np.array(box_mesh(0, 0, 0, numbers) + box_mesh(*second, numbers))
    vertices = np.array(list(numbers), dtype=float)
    split, parted, _ = split_pinches(vertices, triangles)
    assert len(split) - len(vertices) == doubled
    assert unmatched_edges(parted.astype(np.int32)) == 0
    assert np.array_equal(split[parted], vertices[triangles])
    assert not set(parted[:12].reshape(-1)) & set(parted[12:].reshape(-1))


def test_three_boxes_that_touch_along_upright_edges_are_three_sheets():
    shape = shapely.union_all([shapely.box(0, 0, 1, 1), shapely.box(1, 1, 2, 2), shapely.box(2, 0, 3, 1)])
    mesh = extruded(shape, 2.0)
    assert unmatched_edges(mesh.triangles) == 0
    assert len(mesh.vertices) == 3 * 8
    assert volume(mesh) == pytest.approx(6.0)


@given(SHAPES, st.sampled_from([0.5, 3.0, 19.0]))
def test_a_prism_has_the_volume_of_its_base_times_its_height(outline, height):
    shape = shapely.Polygon(outline.points, outline.holes)
    mesh = extruded(shape, height)
    assert unmatched_edges(mesh.triangles) == 0
    on_grid = shape.length * height * GRID  # each corner moves by less than a step of the grid
    assert volume(mesh) == pytest.approx(shape.area * height, rel=1e-12, abs=on_grid)
    assert set(mesh.surface.tolist()) == {Surface.TOP, Surface.WALL, Surface.BOTTOM}


def test_stairs_have_the_volume_of_their_steps():
    """A board of 4 x 1 cut to four heights: levels meet along walls that are split where a third level ends."""
    lines = np.array([shapely.LineString([(x, -1), (x, 2)]) for x in (1, 2, 3)], dtype=object)
    faces = arrange([shapely.box(0, 0, 4, 1)], lines, np.zeros(3, np.int64))
    heights = np.floor(shapely.get_coordinates(shapely.centroid(faces.polygons))[:, 0]) + 1
    mesh = extrude(faces, np.array([0.0]), heights)[0]
    assert unmatched_edges(mesh.triangles) == 0
    assert volume(mesh) == pytest.approx(1 + 2 + 3 + 4)


def test_a_chamfer_takes_its_triangle_all_round():
    """Chamfer s on a box a x b, by the prismatoid rule s/6 (A0 + 4 Am + A1) (DERIVED, solid geometry)."""
    a, b, h, s = 20.0, 12.0, 6.0, 0.3
    mesh = soften_top(extruded(shapely.box(0, 0, a, b), h), s)
    areas = [(a - 2 * t) * (b - 2 * t) for t in (0, s / 2, s)]
    assert unmatched_edges(mesh.triangles) == 0
    assert volume(mesh) == pytest.approx(a * b * (h - s) + s / 6 * (areas[0] + 4 * areas[1] + areas[2]), rel=1e-12)


def test_noise_in_the_heights_of_a_face_does_not_break_its_chamfer():
    """A face whose corners' heights were computed is one face still: no creases run across it."""
    plain = extruded(shapely.Point(0, 0).buffer(10).difference(shapely.Point(2, 0).buffer(4)), 6.0)
    noise = np.where(plain.vertices[:, 2] == 6.0, 1e-12 * np.random.default_rng(5).random(len(plain.vertices)), 0.0)
    vertices = plain.vertices - noise[:, None] * [0.0, 0.0, 1.0]
    soft, expected = (soften_top(mesh, 0.3) for mesh in (replace(plain, vertices=vertices), plain))
    assert soft.triangles.tolist() == expected.triangles.tolist()
    assert soft.vertices == pytest.approx(expected.vertices, abs=1e-9)


def test_a_chamfer_ends_half_way_to_a_floor_just_below():
    """Where a floor lies 0.2 below the face, a chamfer of 0.3 goes 0.1 down and turns no wall round."""
    lines = np.array([shapely.LineString([(10, -1), (10, 13)])], dtype=object)
    faces = arrange([shapely.box(0, 0, 20, 12)], lines, np.zeros(1, np.int64))
    left = shapely.get_coordinates(shapely.centroid(faces.polygons))[:, 0] < 10
    mesh = soften_top(extrude(faces, np.array([0.0]), np.where(left, 6.0, 5.8))[0], 0.3)
    assert unmatched_edges(mesh.triangles) == 0
    rim = mesh.vertices[(mesh.vertices[:, 0] == 10) & (mesh.vertices[:, 2] > 5.8)]
    assert rim[:, 2].tolist() == pytest.approx([5.9, 5.9])
