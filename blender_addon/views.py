"""What each view shows: in which state the solids are, whether they are cut open or lifted, and what is marked.

A view never changes the design. Showing one refills our own meshes within the step of whoever asks, so undo and redo
take meshes and property back and forth together.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import bpy
import numpy as np
from numpy.typing import NDArray

from . import annotations, studio
from . import scene as scenes
from .core.errors import UnusableInput
from .core.exploded import exploded_lifts
from .core.solids import Solid, State
from .designs import OpenDesign, find


@dataclass(frozen=True)
class View:
    """One way to look at the panel. `number` is its value in drivers and saved files: never reuse one."""

    name: str
    label: str
    number: int
    description: str
    state: State
    opened: bool = False
    lifted: bool = False


VIEWS = {
    view.name: view
    for view in (
        View("finished", "Finished", 0, "Show the panel trimmed to its finished face and edges", "finished"),
        View("proud", "Proud", 1, "Show the panel glued up, with its inserts standing proud before trimming", "proud"),
        View(
            "exploded",
            "Exploded",
            scenes.EXPLODED,
            "Lift the inserts batch by batch above the pockets they drop into",
            "proud",
            lifted=True,
        ),
        View(
            "section",
            "Section",
            3,
            "Cut the panel open through its deepest overlaps, with depths marked",
            "proud",
            opened=True,
        ),
        View("overlap", "Overlap", 4, "Map how many layers lie over each other, and how deep", "finished"),
    )
}


def open_design(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Let the scene show this design, in the view it shows now, instead of any other."""
    settings = scene.grainstack
    scenes.build(scene, opened)
    panel = opened.stack.design.panel
    settings.design_path = str(opened.path)
    settings.fingerprint = opened.fingerprint
    settings.title = opened.title
    settings.size_text = f"{panel.width:.5g} × {panel.height:.5g} × {panel.thickness:.5g} mm"
    settings.piece_count = len(opened.stack.pieces)
    settings.batch_count = len(opened.stack.batches)
    settings.findings.clear()
    for finding in opened.findings:
        item = settings.findings.add()
        item.level, item.text, item.remedy = finding.level, finding.text, finding.remedy
    if not settings.folder:
        settings.folder = str(opened.path.parent)
    show(scene, opened, VIEWS[settings.view])


def show(scene: bpy.types.Scene, opened: OpenDesign, view: View) -> None:
    """Fill the scene's meshes for a view, mark what it marks, and light and frame it."""
    solids = opened.solids(view.state, opened=view.opened)
    scenes.fill_objects(scene, solids)
    _mark(scene, opened, view)
    settings = scene.grainstack
    settings.shown = view.name  # before `view`, whose update asks whether there is anything to do
    settings.view = view.name
    settings.trouble = ""
    stage(scene, opened)


def stage(scene: bpy.types.Scene, opened: OpenDesign, samples: int | None = None) -> None:
    """Light and frame the view that is shown, for the picture's size."""
    settings = scene.grainstack
    view = VIEWS[settings.shown]
    size = (settings.picture_width, settings.picture_height)
    solids = opened.solids(view.state, opened=view.opened)
    studio.set_up(scene, view.name, _panel_box(opened, view), _solids_box(opened, view, solids), size, samples)
    scene.update_tag()


def refresh(scene: bpy.types.Scene) -> None:
    """Catch up with the chosen view; what stands in the way is kept in words for the sidebar.

    Raises nothing: property updates call it.
    """
    settings = scene.grainstack
    if settings.shown == settings.view or not scenes.is_ours(scene):
        return
    if any(item.mode != "OBJECT" for item in scenes.own_objects(scene)):
        settings.trouble = "Leave Edit Mode, then show the view"  # Blender loses a mesh filled in Edit Mode
        return
    try:
        show(scene, design_of(scene), VIEWS[settings.view])
    except UnusableInput as error:
        settings.trouble = str(error)


def design_of(scene: bpy.types.Scene) -> OpenDesign:
    """The design that the scene shows.

    Raises:
        UnusableInput: its file is gone or has changed, and nothing remembers it.
    """
    return find(Path(scene.grainstack.design_path), scene.grainstack.fingerprint)


def _mark(scene: bpy.types.Scene, opened: OpenDesign, view: View) -> None:
    """Replace the marks of the view before by those of this one."""


def _panel_box(opened: OpenDesign, view: View) -> NDArray[np.float64]:
    """Lower and upper corner (2, 3) of the panel in the view's state."""
    panel = opened.stack.design.panel
    finished = view.state == "finished"
    left, low, right, high = (opened.stack.finished_box if finished else opened.stack.box).bounds
    top = -panel.face_trim if finished else 0.0
    return np.array([(left, low, -panel.thickness), (right, high, top)])


def _solids_box(opened: OpenDesign, view: View, solids: tuple[Solid, ...]) -> NDArray[np.float64]:
    """Lower and upper corner (2, 3) of all that is shown, lifted as far as the slider goes."""
    lifts = exploded_lifts(opened.stack)
    corners = []
    for solid in solids:
        lift = lifts[solid.piece] if view.lifted and solid.piece is not None else 0.0
        corners += [solid.vertices.min(axis=0) + (0, 0, lift), solid.vertices.max(axis=0) + (0, 0, lift)]
    return np.array([np.min(corners, axis=0), np.max(corners, axis=0)])
