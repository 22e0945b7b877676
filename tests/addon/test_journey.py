"""The maker's journey in Blender's module: tests/journey.py says what is done, here is what must come of it."""

import bpy
import pytest
from grainstack.blender_addon.pictures import render
from grainstack.blender_addon.views import views

from core.findings.check import check_design
from tests.journey import PIECES, Journey

from .bench import ids, rest, scene, step


@pytest.fixture
def journey(addon, tmp_path):
    """Walked from the empty scene until the design is saved and a picture chosen."""

    def hand_rests() -> None:
        step("by hand")
        rest()

    walk = Journey(tmp_path, hand_rests)
    walk.new_panel()
    walk.strips()
    walk.import_drawing()
    walk.move()
    walk.reorder()
    walk.exploded()
    walk.cure()
    walk.save()
    walk.choose_picture()
    return walk


def test_the_journey_makes_a_design_that_core_finds_sound(journey, capfd):
    path = journey.folder / "journey.panel.json"
    assert ids() == PIECES
    assert scene().grainstack.trouble == ""
    found = check_design(path)
    assert found["title"] == "Journey"
    assert [each["id"] for each in found["pieces"]] == PIECES
    assert [f for f in found["findings"] if f["level"] == "error"] == []
    assert scene().grainstack.batch_count == len(found["batches"])
    first = path.read_bytes()
    bpy.ops.grainstack.open_design(filepath=str(path))
    bpy.ops.grainstack.save_design()
    assert path.read_bytes() == first
    told = "".join(capfd.readouterr())
    assert "Error" not in told
    assert "Traceback" not in told


def test_the_journey_ends_with_a_picture(journey):
    bpy.ops.grainstack.render_view()
    assert journey.pictures() == ["journey-finished.png"]
    image = bpy.data.images.load(str(journey.folder / "journey-finished.png"))
    assert tuple(image.size) == (160, 100)


def test_a_picture_of_the_journey_that_is_stopped_leaves_nothing(journey, monkeypatch):
    """Without a window nobody can press Esc, so Blender is made to end the rendering without completing it."""
    monkeypatch.setattr(render, "_blender_renders", lambda *_, **__: {"RUNNING_MODAL"})
    take = render.Take(journey.folder / "journey-finished.png", views.design_of(scene()), "finished", None, "cpu")
    job = render.Job(scene(), take)
    assert len(journey.pictures()) == 1  # under a name that says it is unfinished
    with pytest.raises(render.Stopped):
        job.finish()
    assert journey.pictures() == []
