"""The add-on's tests run on the staged build (build/stage), in a real Blender module."""

import copy
import json

import bpy
import grainstack
import pytest
from grainstack.blender_addon import memory

COASTER = {
    "format": "grainstack-panel/1",
    "title": "Coaster",
    "panel": {
        "width": 120,
        "height": 80,
        "thickness": 19,
        "face_trim": 0.5,
        "edge_trim": 5,
        "strips_along": "y",
        "strips": [
            {"width": 60, "wood": "black walnut"},
            {"width": 60, "segments": [{"length": 24, "wood": "cherry"}, {"length": 56, "wood": "sapele"}]},
        ],
    },
    "pieces": [
        {"id": "moon", "wood": "hard maple", "outline": {"path": "M -20 0 A 20 20 0 0 0 20 0 A 20 20 0 0 0 -20 0 Z"},
         "at": [40, 40]},
        {"id": "bar", "wood": "padauk", "pocket_depth": 9, "at": [50, 30],
         "outline": {"polygon": [[0, 0], [50, 0], [50, 16], [0, 16]]}},
    ],
}  # fmt: skip


@pytest.fixture
def coaster() -> dict:
    """A small sound design: a disc under a deeper bar, on three background pieces."""
    return copy.deepcopy(COASTER)


@pytest.fixture
def save(tmp_path):
    """Writes a design file and returns its path."""

    def save(design: dict, name: str = "coaster"):
        path = tmp_path / f"{name}.panel.json"
        path.write_text(json.dumps(design), encoding="utf-8")
        return path

    return save


@pytest.fixture(autouse=True)
def remembered(tmp_path_factory, monkeypatch):
    """What the add-on remembers of this machine: nothing, and never the user's own."""
    folder = tmp_path_factory.mktemp("remembered")
    monkeypatch.setattr(memory, "folder", lambda: folder)
    return folder


@pytest.fixture
def empty_file():
    bpy.ops.wm.read_factory_settings(use_empty=True)


@pytest.fixture
def addon(empty_file):
    """The add-on enabled in an empty file; disabled afterwards, as Blender 4.2 needs it before it ends."""
    grainstack.register()
    yield grainstack
    grainstack.unregister()


@pytest.fixture
def opened(addon, coaster, save):
    """The scene after opening the coaster."""
    bpy.ops.grainstack.open_design(filepath=str(save(coaster)))
    return bpy.context.scene


@pytest.fixture
def bench(addon):
    """A new panel of 300 x 200 mm with four strips, made by its button; undo goes back to before it."""
    bpy.ops.ed.undo_push(message="start")
    bpy.ops.grainstack.new_panel(
        "EXEC_DEFAULT", True, title="Bench", width=0.3, height=0.2, thickness=0.019, strip_count=4
    )
    return bpy.context.scene
