"""What each view shows: in which state the solids are, whether they are cut open or lifted, what is marked.

A view never changes the design. Showing one refills our own meshes within the step of whoever asks, so undo
and redo take meshes and property back and forth together.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.errors import UnusableInput
from ...core.solids.frame import check_frame
from ...core.solids.panel_solids import State
from ...core.views.section import SectionCut
from .. import designs
from ..designs import OpenDesign
from ..findings import finding_items, findings_picture
from ..scene import conversion, glue, section_plane
from ..scene import objects as scenes
from ..studio import hanging, picture_words, studio
from ..studio import sheet as sheets
from ..studio.sheet import RefilledSheet, Sheet
from . import lifting, overlap_view, parts_list, section_view


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
    mapped: bool = False
    numbered: bool = False
    hung: bool = False
    """In its frame, on a wall."""
    stepped: bool = True
    """Shows the panel as it stands after a batch, if that is asked for."""

    @property
    def is_marked(self) -> bool:
        """Whether words and lines on it tell of the design."""
        return self.opened or self.mapped or self.numbered or self.lifted

    @property
    def form(self) -> scenes.Form:
        """Which of its meshes an object shows."""
        return "cut" if self.opened else "proud" if self.state == "proud" else "finished"


VIEWS = {
    view.name: view
    for view in (
        View("finished", "Finished", 0, "Show the panel trimmed to its finished face and edges", "finished"),
        View(
            "proud",
            "Proud",
            1,
            "Show the panel with all inserts glued in, nothing levelled or trimmed",
            "proud",
        ),
        View(
            "exploded",
            "Exploded",
            scenes.EXPLODED,
            "Lift the inserts above the pockets they drop into, numbered in the order of gluing",
            "proud",
            lifted=True,
        ),
        View(
            "section",
            "Section",
            3,
            "Cut the panel open along a plane that you drag, with depths marked",
            "proud",
            opened=True,
        ),
        View("overlap", "Overlap", 4, "Map how many layers lie over each other, and how deep", "finished", mapped=True),
        View(
            "findings",
            "Findings",
            5,
            "Number what can go wrong, each at its place, with a key",
            "finished",
            numbered=True,
            stepped=False,
        ),
        View(
            "listing",
            "Listing",
            10,
            "Hang the trimmed panel in its frame on a wall, in good light",
            "finished",
            hung=True,
        ),
        View("detail", "Detail", 11, "Look closely at the busiest place, from low down", "finished", hung=True),
    )
}


def open_design(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Let the scene show this design, in the view it shows now, instead of any other."""
    settings = scene.grainstack
    settings.design_path = str(opened.path)
    if not settings.folder:
        settings.folder = str(opened.path.parent)
    make(scene, opened)
    settle(scene, opened)
    show(scene, opened, VIEWS[settings.view])


def make(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Bring the wood in line with the design, in the view that is shown; the quick half of an update.

    Objects, meshes and materials are created and removed, which is safe only within a step of undo.
    """
    if not scenes.matches(scene, opened):
        scenes.match(scene, opened)
    view = _begin(scene, opened)
    if view.opened:
        section_plane.aim(scene, opened)
    _make_wood(scene, opened, view)


def refill(scene: bpy.types.Scene, opened: OpenDesign, *, draft: bool = False) -> bool:
    """Bring the wood in line as far as that creates nothing: what is there is filled anew.

    draft: leave edges sharp for now. Returns whether all could be filled.
    """
    view = _begin(scene, opened)
    if view.opened and not draft:
        section_plane.aim(scene, opened)
    return _refill_wood(scene, opened, view, draft)


def _begin(scene: bpy.types.Scene, opened: OpenDesign) -> View:
    """Note which design the scene shows from now on, and return the view in which it does."""
    settings = scene.grainstack
    if settings.fingerprint != opened.fingerprint:
        settings.fingerprint = opened.fingerprint
    return VIEWS[settings.shown or settings.view]


def seen(scene: bpy.types.Scene, opened: OpenDesign, view: View) -> OpenDesign:
    """What a view shows of the design: all of it, or the panel as it stands after a batch."""
    batch = scene.grainstack.stop_after
    if batch < 0 or batch >= len(opened.stack.batches) or not view.stepped:
        return opened
    return opened.after_batch(batch)


def settle(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Do the rest of an update, for when the maker's hand rests: findings, words and lifts; within a step of undo."""
    _tell(scene, opened)
    lifting.lift(scene, seen(scene, opened, VIEWS["exploded"]))
    scene.grainstack.checked = opened.fingerprint


def settle_again(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Do the rest of an update as far as that creates nothing."""
    _tell(scene, opened)
    lifting.lift_again(scene, seen(scene, opened, VIEWS["exploded"]))
    scene.grainstack.checked = opened.fingerprint


def _tell(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Write down what the sidebar tells of the design."""
    settings = scene.grainstack
    panel = opened.stack.design.panel
    settings.title = opened.title
    settings.size_text = f"{panel.width:.5g} × {panel.height:.5g} × {panel.thickness:.5g} mm"
    settings.piece_count = len(opened.stack.pieces)
    settings.batch_count = len(opened.stack.batches)
    scenes.number_batches(scene, opened)
    finding_items.write(settings, opened)


def _staging(scene: bpy.types.Scene, opened: OpenDesign) -> str:
    """What light, frame and marks of the view that is shown depend on."""
    settings = scene.grainstack
    view = VIEWS[settings.shown or settings.view]
    on: list[object] = [settings.picture_width, settings.picture_height]
    if view.is_marked:
        on.append(opened.fingerprint)
    else:
        on += [_panel_box(opened, view).tolist(), hanging.words_of(opened, view.name) if view.hung else ""]
    if view.stepped and 0 <= settings.stop_after < len(opened.stack.batches):
        on.append(settings.stop_after)
    if view.opened:
        on.append(section_plane.pose_text(scene))
    if view.lifted:
        on.append(settings.unfolding)
    return repr(on)


def marks_are_old(scene: bpy.types.Scene) -> bool:
    """Whether the view's light, frame or marks are those of an earlier state of the design."""
    opened = designs.known(scene.grainstack.fingerprint)
    if opened is None or not scene.grainstack.shown:
        return False
    return bool(scene.grainstack.staged != _staging(scene, opened))


def restage(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Light, frame and mark the view anew, where it changed; creates objects, so only within a step of undo."""
    if scene.grainstack.shown and scene.grainstack.staged != _staging(scene, opened):
        _make_wood(scene, opened, VIEWS[scene.grainstack.shown])
        stage(scene, opened)


def show(scene: bpy.types.Scene, opened: OpenDesign, view: View, *, anew: bool = False) -> None:
    """Let the scene show a view: its meshes, its light, frame and marks, as they were left or made.

    anew: set up light, frame and marks even if they are there and right.

    Raises:
        UnusableInput: the view cannot be shown of this design; nothing is changed then.
    """
    if view.hung:
        check_frame(opened.stack.design)
    if view.opened:
        section_plane.aim(scene, opened)
    _make_wood(scene, opened, view)
    settings = scene.grainstack
    settings.shown = view.name  # before `view`, whose update asks whether there is anything to do
    settings.view = view.name
    settings.trouble = ""
    stamp = _staging(scene, opened)
    if anew or not studio.set_up_again(scene, view.name, stamp, _picture_size(scene)):
        stage(scene, opened)
    settings.staged = stamp
    scene.update_tag()


def _picture_size(scene: bpy.types.Scene) -> tuple[int, int]:
    return scene.grainstack.picture_width, scene.grainstack.picture_height


def _make_wood(scene: bpy.types.Scene, opened: OpenDesign, view: View) -> None:
    now = seen(scene, opened, view)
    cut = _cut(scene, opened, now, view)
    solids = () if view.mapped else now.solids(view.state, cut=cut)
    scenes.make_objects(scene, now, solids, view.form, _hidden(scene))
    sheet = scenes.overlap_map(scene)
    if view.mapped and sheet.mode != "EDIT":
        overlap_view.make_map(sheet, now)
    scenes.set_hidden(sheet, not view.mapped)
    _refill_rest(scene, opened, view)


def _refill_wood(scene: bpy.types.Scene, opened: OpenDesign, view: View, draft: bool) -> bool:
    now = seen(scene, opened, view)
    cut = _cut(scene, opened, now, view)
    solids = () if view.mapped else now.solids(view.state, cut=cut, draft=draft)
    done = scenes.refill_objects(scene, now, solids, _hidden(scene))
    sheet = scenes.overlap_map(scene)
    if view.mapped and sheet.mode != "EDIT" and not draft:
        overlap_view.refill_map(sheet, now)
    _refill_rest(scene, opened, view, draft=draft)
    return done


def _cut(scene: bpy.types.Scene, opened: OpenDesign, now: OpenDesign, view: View) -> SectionCut | None:
    """Where the view cuts the panel open, if it does."""
    return now.cut_along(section_plane.line_of(scene, opened)) if view.opened else None


def _hidden(scene: bpy.types.Scene) -> set[str]:
    """The pieces that the maker has hidden."""
    return {item.grainstack.id for item in conversion.piece_objects(scene) if item.hide_viewport}


def _refill_rest(scene: bpy.types.Scene, opened: OpenDesign, view: View, *, draft: bool = False) -> None:
    """Fill or hide what lies beside the wood: glue, the section plane, threads."""
    now = seen(scene, opened, view)
    lines, plane = scenes.glue_object(scene), section_plane.plane_of(scene)
    if lines is not None:
        if view.state == "finished" and not view.mapped:
            glue.fill_lines(lines, now, draft=draft)
        else:
            scenes.set_hidden(lines, True)
    if plane is not None:
        scenes.set_hidden_here(plane, not view.opened)
        cut = _cut(scene, opened, now, view)
        if cut is not None:
            section_plane.draw(plane, opened, cut.line)
    lifting.show_threads(scene, view.lifted)


def stage(scene: bpy.types.Scene, opened: OpenDesign, samples: int | None = None) -> None:
    """Light, frame and mark the view that is shown, for the picture's size."""
    settings = scene.grainstack
    view, size = VIEWS[settings.shown], _picture_size(scene)
    settings.staged = _staging(scene, opened)
    now = seen(scene, opened, view)
    if view.opened:
        cut = now.cut_along(section_plane.line_of(scene, opened))
        section_view.stage(scene, now, cut, _panel_box(opened, view), size, samples)
    elif view.hung:
        hanging.stage(scene, now, view.name, size, samples)
    else:
        panel = _panel_box(opened, view)
        framed = _raw_box(opened) if view.numbered else _solids_points(opened, view)
        studio.set_up(scene, view.name, panel, framed, size, samples=samples)
    if view.lifted:
        lifting.lift(scene, now)
    mark(scene, opened)
    studio.mark_staged(scene, settings.staged)
    scene.update_tag()


def mark(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Write and draw on the view that is shown what it has to tell; within a step of undo."""
    _mark(Sheet(scene), opened)


def _mark(sheet: Sheet, opened: OpenDesign) -> bool:
    """Draw on a sheet, and on others of its kind; returns whether all is told."""
    scene = sheet.scene
    view, stamp = VIEWS[scene.grainstack.shown], _staging(scene, opened)
    now = seen(scene, opened, view)
    if view.lifted:
        return parts_list.mark(sheet, now, stamp)
    if view.opened:
        section_view.mark(sheet, now, now.cut_along(section_plane.line_of(scene, opened)))
    if view.mapped:
        picture_words.overlap_key(
            sheet, overlap_view.key(now.regions), "Layers and depth", "Depth below the raw face, mm"
        )
    if view.numbered:
        findings_picture.mark(sheet, opened.stack, opened.findings)
    return sheet.hang(stamp)


def mark_again(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Let the marks follow, as far as that creates nothing; the frame stays, so the sidebar may offer a new one."""
    settings = scene.grainstack
    view, stamp = VIEWS.get(settings.shown), _staging(scene, opened)
    if view is None or not view.is_marked or settings.shown != settings.view or sheets.stamps(scene) == {stamp}:
        return
    if _mark(RefilledSheet(scene), opened) and (view.mapped or view.numbered):
        settings.staged = stamp  # the panel fills the picture, wherever the pieces are
        studio.mark_staged(scene, stamp)


def refresh(scene: bpy.types.Scene) -> None:
    """Catch up with the chosen view; what stands in the way is kept in words for the sidebar.

    Raises nothing: property updates call it.
    """
    settings = scene.grainstack
    if settings.shown == settings.view or not scenes.is_ours(scene):
        return
    if bpy.app.is_job_running("RENDER"):
        settings.trouble = "Wait for the picture that is rendering, then show the view"
        return
    if any(item.mode != "OBJECT" for item in scenes.wood_objects(scene).values()):
        settings.trouble = "Leave Edit Mode, then show the view"  # Blender loses a mesh filled in Edit Mode
        return
    try:
        show(scene, design_of(scene), VIEWS[settings.view])
    except UnusableInput as error:
        settings.trouble = str(error)


def design_of(scene: bpy.types.Scene) -> OpenDesign:
    """The design that the scene says now.

    Raises:
        UnusableInput: what it says cannot be one.
    """
    previous = designs.known(scene.grainstack.fingerprint)
    if not scene.grainstack.document:  # a scene that is only shown, for a picture
        if previous is None:
            raise UnusableInput("", "", "this scene holds no design", "Open the design again")
        return previous
    text = conversion.read_scene(scene)
    found = designs.known(text.content)
    return found or designs.build(text.design(), text.path, text.content, previous)


def _panel_box(opened: OpenDesign, view: View) -> NDArray[np.float64]:
    """Lower and upper corner (2, 3) of the panel in the view's state."""
    panel = opened.stack.design.panel
    finished = view.state == "finished"
    left, low, right, high = (opened.stack.finished_box if finished else opened.stack.box).bounds
    top = -panel.face_trim if finished else 0.0
    return np.array([(left, low, -panel.thickness), (right, high, top)])


def _raw_box(opened: OpenDesign) -> NDArray[np.float64]:
    """Lower and upper corner (2, 3) of the raw panel: findings may lie in what is trimmed."""
    left, low, right, high = opened.stack.box.bounds
    return np.array([(left, low, -opened.stack.design.panel.thickness), (right, high, 0.0)])


def _solids_points(opened: OpenDesign, view: View) -> NDArray[np.float64]:
    """The corners (n, 3) of the boxes of all that is shown, lifted as far as the slider goes."""
    points = []
    for solid in opened.solids(view.state):
        lift = opened.lifts[solid.piece] if view.lifted and solid.piece is not None else 0.0
        low, high = solid.vertices.min(axis=0), solid.vertices.max(axis=0)
        corners = np.array(list(itertools.product(*zip(low, high, strict=True))))
        points.append(corners + np.array([0.0, 0.0, lift]))
    return np.concatenate(points)
