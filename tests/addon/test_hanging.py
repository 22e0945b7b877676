"""The listing picture and the detail: the frame is there, well within the picture in every shape, and in focus."""

import json

import bpy
import numpy as np
import pytest
from bpy_extras.object_utils import world_to_camera_view
from grainstack.blender_addon.studio import studio
from grainstack.blender_addon.views import views
from grainstack.core.solids.frame import back_of, frame_depth, framed_box
from grainstack.core.views.detail import close_up
from mathutils import Vector

from .bench import rest

SHAPES = {"square": (600, 600), "4:5": (480, 600), "3:2": (600, 400), "16:9": (640, 360)}


def studio_objects(scene) -> dict:
    return {item.name.removeprefix(f"{studio.NAME} "): item for item in studio.stage_of(scene).objects}


def show(scene, view, size=(160, 100)):
    settings = scene.grainstack
    settings.picture_width, settings.picture_height = size
    settings.view = view
    assert settings.shown == view, settings.trouble
    bpy.context.view_layer.update()


def corners_in_picture(scene) -> np.ndarray:
    """The frame's eight corners, in pixels from the picture's lower left."""
    design = views.design_of(scene).stack.design
    left, low, right, high = framed_box(design)
    back = back_of(design)
    render = scene.render
    points = [
        Vector((x, y, z)) / 1000 for x in (left, right) for y in (low, high) for z in (back, back + frame_depth(design))
    ]
    seen = np.array([world_to_camera_view(scene, scene.camera, point)[:2] for point in points])
    return seen * [render.resolution_x, render.resolution_y]


@pytest.mark.parametrize("shape", SHAPES)
def test_the_frame_is_within_the_picture_with_even_margins(opened, shape):
    size = np.array(SHAPES[shape])
    show(opened, "listing", SHAPES[shape])
    seen = corners_in_picture(opened)
    below, above = seen.min(axis=0), size - seen.max(axis=0)
    assert below == pytest.approx(above, abs=0.5)
    least = min(below)
    assert 0.06 * min(size) < least < 0.14 * min(size)


def test_the_frame_has_four_sides_of_its_wood_in_front_of_the_wall(opened):
    show(opened, "listing")
    objects = studio_objects(opened)
    sides = [objects[f"frame-{name}"] for name in ("left", "lower", "right", "upper")]
    assert {side.data.materials[0].name for side in sides} == {"Grainstack black walnut"}
    lowest = min(vertex.co.z for side in sides for vertex in side.data.vertices)
    assert objects["wall"].data.vertices[0].co.z < lowest
    assert len({tuple(side.data.attributes["board_tone"].data[0].value for _ in (0,)) for side in sides}) == 4
    show(opened, "finished")
    assert not [name for name in studio_objects(opened) if "frame" in name or name == "wall"]


def test_the_detail_is_focused_on_the_busiest_place(opened):
    show(opened, "detail")
    place = close_up(views.design_of(opened).stack)
    camera = opened.camera
    across, up, away = world_to_camera_view(opened, camera, Vector((place.x, place.y, -0.5)) / 1000)
    assert camera.data.dof.use_dof
    assert camera.data.dof.focus_distance == pytest.approx(away, rel=1e-3)
    assert 0.4 < across < 0.6
    assert 0.4 < up < 0.6
    show(opened, "listing")
    assert not camera.data.dof.use_dof


def test_the_sidebar_edits_the_frame(opened):
    settings = opened.grainstack
    settings.frame_wood, settings.frame_profile, settings.frame_width = "hard maple", "bevel", 0.025
    settings.frame_wall = (1.0, 0.5, 0.0)
    assert json.loads(settings.document)["frame"] == {
        "wood": "hard maple",
        "profile": "bevel",
        "width": 25,
        "wall": "#ff8000",
    }
    assert settings.frame_width == pytest.approx(0.025)
    assert tuple(settings.frame_wall) == pytest.approx((1.0, 128 / 255, 0.0), abs=1e-6)
    rest()
    show(opened, "listing")
    assert studio_objects(opened)["frame-left"].data.materials[0].name == "Grainstack hard maple"


@pytest.mark.parametrize(
    ("field", "value", "words"), [("frame_wood", "unobtainium", "wood"), ("frame_depth", 0.002, "depth")]
)
def test_a_frame_that_cannot_be_is_refused_and_nothing_changes(opened, field, value, words):
    settings = opened.grainstack
    before = settings.document
    setattr(settings, field, value)
    assert settings.document == before
    assert f"frame.{words}" in settings.trouble


def test_an_edited_frame_is_hung_at_once(opened):
    show(opened, "listing")
    before = len(studio_objects(opened))
    opened.grainstack.frame_width = 0.05
    side = studio_objects(opened)["frame-left"]
    assert min(vertex.co.x for vertex in side.data.vertices) == pytest.approx(0.005 - 0.004 - 0.05, abs=1e-6)
    assert len(studio_objects(opened)) == before
    assert not views.marks_are_old(opened)
