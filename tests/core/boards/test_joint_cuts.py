"""Cutting meshes at joints: closed, the same volume, the same triangles on either side."""

import numpy as np
import pytest
import trimesh

from core.boards.figure import GLUE, JOINT, figure_of, lays
from core.boards.joint_cuts import cut_at
from core.design import GluedBlank, LineOutline, Stripe
from core.solids.closed_mesh import volume
from core.solids.panel_solids import build_solids
from core.stack.stack import build_stack

from ..designs import make_design, make_piece, rectangle

RANDOM = np.random.default_rng(3)


@pytest.mark.parametrize("levels", [[0.0], [-3.3, 0.1, 0.2, 4.0], [-5.0, 5.0], [100.0]])
def test_a_cut_mesh_stays_closed_and_keeps_its_volume(levels):
    """Checked by trimesh: watertight, oriented, and of the volume that it had."""
    ball = trimesh.creation.icosphere(subdivisions=2, radius=5.0)
    direction = np.array([0.36, 0.48, 0.8])
    points, faces, source, band = cut_at(ball.vertices, ball.faces.astype(np.int32), ball.vertices @ direction, levels)
    made = trimesh.Trimesh(points, faces, process=False)
    assert made.is_watertight
    assert made.is_winding_consistent
    assert made.volume == pytest.approx(ball.volume, rel=1e-12)
    heights = points[faces] @ direction
    for number in np.unique(band):
        inside = heights[band == number]
        if number:
            assert inside.min() >= levels[number - 1] - 1e-6
        if number < len(levels):
            assert inside.max() <= levels[number] + 1e-6
    areas = np.bincount(source, made.area_faces, len(ball.faces))
    assert areas == pytest.approx(ball.area_faces)


def test_a_level_through_vertices_needs_no_new_ones():
    """A square of four triangles about its middle, cut along its diagonal: only what is there already."""
    corners = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0.5, 0.5, 0)], float)
    faces = np.array([(0, 1, 4), (1, 2, 4), (2, 3, 4), (3, 0, 4)], np.int32)
    points, cut, _, band = cut_at(corners, faces, corners[:, 0] - corners[:, 1], [0.0])
    assert len(points) == 5
    assert len(cut) == 4
    assert sorted(band.tolist()) == [0, 0, 1, 1]


STRIPES = GluedBlank((Stripe("holly", 8.0), Stripe("wenge", 3.0)), shift=1.0)


def figure(**changes):
    piece = make_piece("a", rectangle(60, 30), at=(20, 20), grain=0.0, **changes)
    stack = build_stack(make_design([piece]))
    solid = next(each for each in build_solids(stack) if each.kind == "insert")
    lay = lays(stack)["a"]
    return solid, lay, figure_of(solid.mesh, lay, {})


def test_a_glued_blank_shows_its_stripes_where_they_lie():
    """The middle of the first stripe lies 1 mm to the left of (above) the piece's middle at y = 35; period 11 mm."""
    solid, lay, made = figure(blank=STRIPES)
    assert lay.woods == ("holly", "wenge", GLUE)
    assert volume(made.mesh) == pytest.approx(solid.volume)
    middle = made.mesh.vertices[made.mesh.triangles].mean(axis=1)
    across = (middle[:, 1] - 36.0 + 4.0) % 11.0
    near_joint = np.minimum(np.minimum(across, 11.0 - across), np.abs(across - 8.0)) < JOINT / 2
    wanted = np.where(near_joint, 2, np.where(across < 8.0, 0, 1))
    assert made.wood.tolist() == wanted.tolist()


def test_stripes_of_different_woods_are_cut_from_different_boards():
    _, _, made = figure(blank=STRIPES)
    tones = {int(slot): set(made.tone[made.mesh.triangles[made.wood == slot]].ravel().tolist()) for slot in (0, 1)}
    assert len(tones[0]) == len(tones[1]) == 1
    assert tones[0] != tones[1]


def test_two_leaves_are_each_others_mirror_image_at_the_joint():
    """The joint lies in the middle, at y = 35: places at equal distances from it come from one place of the log."""
    solid, lay, made = figure(leaves=2)
    assert lay.woods == ("holly", GLUE)
    assert volume(made.mesh) == pytest.approx(solid.volume)
    above, below = made.mesh.vertices[:, 1] > 35.0 + JOINT, made.mesh.vertices[:, 1] < 35.0 - JOINT
    mirrored = made.mesh.vertices * (1, -1, 1) + (0, 70, 0)
    upper, lower = affine(made.mesh.vertices[above], made.log[above]), affine(mirrored[below], made.log[below])
    assert upper == pytest.approx(lower, abs=1e-6)


def affine(points, values):
    """The affine map that gives these values at these points, and nothing is left over."""
    system = np.column_stack([points, np.ones(len(points))])
    solution = np.linalg.lstsq(system, values, rcond=None)[0]
    assert system @ solution == pytest.approx(values, abs=1e-6)
    return solution


def test_a_piece_of_one_wood_keeps_its_mesh():
    solid, lay, made = figure()
    assert lay.woods == ("holly",)
    assert made.mesh.vertices is solid.vertices
    assert not made.wood.any()


def test_only_strips_carry_grain_along_their_line():
    """A wide line is sawn from a board, whose fibres are straight; a groove's strip is bent."""
    line = ((20.0, 20.0), (60.0, 25.0), (80.0, 60.0))
    groove = make_piece("a", LineOutline(line, 3.175))
    wide = make_piece("b", LineOutline(((10.0, 60.0), (30.0, 65.0), (40.0, 72.0)), 9.0), grain=30.0)
    stack = build_stack(make_design([groove, wide]))
    made = {solid.name: figure_of(solid.mesh, lays(stack)[solid.name], {}) for solid in build_solids(stack)}
    assert np.ptp(made["a"].fibre, axis=0).max() > 0.3
    assert made["b"].fibre == pytest.approx(np.tile([np.cos(np.pi / 6), 0.5, 0.0], (len(made["b"].fibre), 1)))
