"""The marks over the viewport: which places, in which shapes, and where on the screen. Drawing needs a window."""

import time
from types import SimpleNamespace

import bpy
import numpy as np
import pytest
from bpy_extras.view3d_utils import location_3d_to_region_2d
from grainstack.blender_addon.findings import findings_overlay
from grainstack.blender_addon.findings.findings_picture import LOOKS
from mathutils import Matrix, Vector

from .bench import piece, rest, scene, select

SIZE = (800, 600)


@pytest.fixture
def deep(addon, coaster, save):
    coaster["pieces"][0]["pocket_depth"] = coaster["pieces"][1]["pocket_depth"] = 15
    coaster.setdefault("workshop", {})["cutter_length"] = 20  # so that floors are all that is wrong
    bpy.ops.grainstack.open_design(filepath=str(save(coaster)))
    rest()
    return bpy.context.scene


def context(**changes):
    """Stands in for a viewport's."""
    real = bpy.context
    space = SimpleNamespace(overlay=SimpleNamespace(show_overlays=True))
    return SimpleNamespace(**{"scene": real.scene, "space_data": space, "active_object": real.active_object} | changes)


def camera_matrix() -> np.ndarray:
    """Seen from 500 mm above the coaster's middle, 90 degrees wide."""
    projection = Matrix(((1, 0, 0, 0), (0, SIZE[0] / SIZE[1], 0, 0), (0, 0, -1, -0.02), (0, 0, -1, 0)))
    return np.array(projection @ Matrix.Translation((-0.06, -0.04, -0.5)))


def test_the_listed_findings_are_marked_the_gravest_on_top(deep):
    items = deep.grainstack.findings
    marks = findings_overlay.wanted(context())
    assert marks.levels == ("warning", "warning")
    assert marks.places[1] == pytest.approx((*(v / 1000 for v in items[0].at), 0))
    assert (marks.chosen, marks.words) == (-1, "")
    deep.grainstack.show_notes = True
    assert findings_overlay.wanted(context()).levels == ("note",) * (len(items) - 2) + ("warning", "warning")


def test_the_chosen_one_is_marked_whatever_the_filters_say(deep):
    deep.grainstack.active_finding = 1
    deep.grainstack.show_warnings = False
    marks = findings_overlay.wanted(context())
    assert (marks.levels, marks.chosen, marks.words) == (("warning",), 0, "Floor too thin: bar")


def test_marks_follow_what_changes(deep):
    before = findings_overlay.wanted(context())
    assert findings_overlay.wanted(context()) is before  # gathered once
    piece("bar").location.x += 0.002
    rest()
    after = findings_overlay.wanted(context())
    assert np.abs(after.places - before.places).max() == pytest.approx(0.002, abs=1e-6)
    deep.grainstack.only_active_piece = True
    select("moon")
    assert len(findings_overlay.wanted(context()).levels) == 1


def test_nothing_is_marked_where_nothing_should_be(deep):
    hidden = SimpleNamespace(overlay=SimpleNamespace(show_overlays=False))
    assert findings_overlay.wanted(context(space_data=hidden)) is None
    assert findings_overlay.wanted(context(space_data=None)) is None
    assert findings_overlay.wanted(context(scene=bpy.data.scenes.new("Other"))) is None
    deep.grainstack.show_marks = False
    assert findings_overlay.wanted(context()) is None
    findings_overlay.draw()  # as in a window without a viewport


def test_places_are_seen_where_blender_says(deep):
    """Blender's own function is the outside check; it is right for places before the eye."""
    matrix = camera_matrix()
    places = np.array([(0.06, 0.04, 0.0), (0.0, 0.0, 0.0), (0.2, 0.3, 0.1), (0.06, 0.04, 0.9)])
    pixels, ahead = findings_overlay.to_pixels(places, matrix, SIZE)
    assert ahead.tolist() == [True, True, True, False]
    region = SimpleNamespace(width=SIZE[0], height=SIZE[1])
    view = SimpleNamespace(perspective_matrix=Matrix(matrix.tolist()))
    for place, pixel in list(zip(places, pixels, strict=True))[:3]:
        assert tuple(location_3d_to_region_2d(region, view, Vector(place))) == pytest.approx(tuple(pixel), abs=1e-3)


def areas(triangles) -> float:
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    u, v = b - a, c - a
    return float(np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]).sum() / 2)


@pytest.mark.parametrize("scale", [1.0, 2.0])
def test_marks_are_shapes_of_their_level_about_their_place(deep, scale):
    marks = findings_overlay.Marks(np.zeros((4, 3)), ("note", "warning", "error", "warning"), 3, "words")
    pixels = np.array([[100.0, 100], [300, 100], [500, 100], [300, 300]])
    shapes = findings_overlay.shapes_of(marks, pixels, np.array([True, True, True, True]), scale)
    fills = [tone for tone, _ in shapes]
    assert fills[:6:2] == [findings_overlay.INK] * 3
    assert fills[1:6:2] == [LOOKS[level].fill for level in ("note", "warning", "error")]
    for (_, triangles), place, level in zip(shapes[1:6:2], pixels, ("note", "warning", "error"), strict=False):
        assert len(triangles) == LOOKS[level].sides
        assert triangles.reshape(-1, 2).mean(axis=0) == pytest.approx(place)
    disc = findings_overlay.DOT * scale
    assert areas(shapes[3][1]) == pytest.approx(np.pi * disc**2, rel=0.01)
    tone, ring = shapes[-1]
    assert tone == LOOKS["warning"].fill
    reach = np.hypot(*(ring.reshape(-1, 2) - pixels[3]).T)
    assert reach.min() > 0.8 * findings_overlay.RING * scale  # the place itself stays free
    assert areas(ring) == pytest.approx(2 * np.pi * findings_overlay.RING * scale * 2 * 1.4 * scale, rel=0.01)


def test_what_lies_behind_the_eye_is_not_drawn(deep):
    marks = findings_overlay.Marks(np.zeros((1, 3)), ("error",), 0, "words")
    assert findings_overlay.shapes_of(marks, np.zeros((1, 2)), np.array([False]), 1.0) == []


@pytest.mark.parametrize("place", [(400, 300), (790, 300), (400, 599), (400, 0)])
def test_the_plate_stands_beside_the_ring_and_in_the_viewport(place):
    low, high = findings_overlay.plate_of(np.array(place, float), (200.0, 12.0), 1.0, SIZE)
    assert (low >= -1e-9).all()
    assert high[0] <= SIZE[0]
    assert high[1] <= SIZE[1]
    assert low[0] > place[0] + findings_overlay.RING or high[0] < place[0] - findings_overlay.RING


def test_three_hundred_marks_cost_little(deep):
    """Gathered once and then a few whole-array calls; a viewport has 16 ms for all it draws."""
    marks = findings_overlay.Marks(np.random.default_rng(1).random((300, 3)), ("warning",) * 300, 5, "words")
    times = []
    for _ in range(9):
        start = time.perf_counter()
        pixels, ahead = findings_overlay.to_pixels(marks.places, camera_matrix(), SIZE)
        findings_overlay.shapes_of(marks, pixels, ahead, 1.0)
        times.append(time.perf_counter() - start)
    assert sorted(times)[4] < 0.02


def test_after_undo_and_a_new_file_marks_are_of_what_is_there(deep):
    assert findings_overlay.wanted(context()) is not None
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert findings_overlay.wanted(context()) is None
    assert scene().grainstack.chosen_finding == ""
