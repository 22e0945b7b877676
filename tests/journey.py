"""The maker's journey: from an empty scene to a picture, each step by its button, in Blender's module or its window.

`test_journey.py` walks it in Blender's module. In a window Blender runs this file itself:
`blender --factory-startup --python tests/journey.py -- ZIP FOLDER`
installs the extension, walks the steps with time to draw between them, presses Esc to stop the last picture (or asks
for it, where xdotool is missing), and ends with status 0 only if all of them held.
"""

from __future__ import annotations

import json
import math
import os
import shutil
import subprocess
import sys
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path

import bpy

DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
    '<g id="fish"><path id="body" d="M10 10 C 30 0 50 0 70 10 C 50 20 30 20 10 10 Z"/>'
    '<circle cx="20" cy="60" r="8"/></g><rect id="box" x="60" y="60" width="20" height="10"/></svg>'
)
PIECES = ["body", "fish", "box", "leaf-2", "groove", "leaf"]
"""What lies on the panel in the end, back to front."""
OPS = bpy.ops.grainstack


class Journey:
    """One walk; `rest` is called where the maker's hand rests, and returns once the wood has followed."""

    def __init__(self, folder: Path, rest: Callable[[], None]) -> None:
        self.folder, self.rest = folder, rest

    @property
    def settings(self) -> bpy.types.PropertyGroup:
        """The scene's, which undo makes anew."""
        return bpy.context.scene.grainstack

    def piece(self, name: str) -> bpy.types.Object:
        """A piece's outline."""
        return next(o for o in bpy.context.scene.objects if o.grainstack.kind == "outline" and o.grainstack.id == name)

    def findings(self) -> list[tuple[str, str]]:
        """Code and piece of all but notes."""
        return [(item.code, item.piece) for item in self.settings.findings if item.level != "note"]

    def new_panel(self) -> None:
        """A bare panel of three strips."""
        OPS.new_panel(title="Journey", width=0.3, height=0.2, thickness=0.019, strip_count=3, wood="black walnut")
        self.settings.panel_face_trim = 0.0005
        self.settings.edge_trim = (0.01,) * 4
        assert self.settings.piece_count == 0

    def strips(self) -> None:
        """A strip of two woods."""
        OPS.split_strip(count=2, wood="black walnut", second_wood="cherry")
        document = json.loads(self.settings.document)
        assert [len(strip.get("segments", ())) for strip in document["panel"]["strips"]].count(2) == 1

    def import_drawing(self) -> None:
        """Three pieces from a drawing, one from a ready shape."""
        drawing = self.folder / "fish.svg"
        drawing.write_text(DRAWING, encoding="utf-8")
        OPS.import_pieces(filepath=str(drawing), wood="padauk")
        OPS.add_piece(shape="leaf", size=0.06, wood="holly")
        assert self.settings.piece_count == 4

    def move(self) -> None:
        """The leaf is moved, turned, mirrored; a groove joins them; an outline is edited."""
        leaf = self.piece("leaf")
        leaf.location.x, leaf.location.y, leaf.rotation_euler.z = 0.2, 0.12, math.radians(25)
        self.rest()
        OPS.mirror_pieces(axis="y", about="PANEL", copy=True)
        OPS.add_piece(shape="line", size=0.08, wood="holly")
        self.piece("groove").location.y = 0.17
        self.rest()
        self._select("leaf")
        bpy.ops.object.mode_set(mode="EDIT")
        self.piece("leaf").data.splines[0].bezier_points[0].co.x -= 0.004
        bpy.ops.object.mode_set(mode="OBJECT")
        self.rest()

    def reorder(self) -> None:
        """The leaf comes to lie over all others."""
        self._select("leaf")
        OPS.order_pieces(move="LAST")
        marks = sorted((o.grainstack.order, o.grainstack.id) for o in bpy.context.scene.objects if self._is_piece(o))
        assert [name for _, name in marks] == PIECES

    def exploded(self) -> None:
        """The inserts rise out of their pockets."""
        self.settings.view = "exploded"
        self.rest()
        bpy.context.view_layer.update()
        lifted = [o for o in bpy.context.scene.objects if o.grainstack.kind == "insert" and o.matrix_world[2][3] > 0]
        assert len(lifted) == len(PIECES)

    def cure(self) -> None:
        """A pocket too deep for the panel is told, and its button makes it shallower."""
        before = self.findings()
        self.piece("leaf").grainstack.pocket_depth = 0.016
        self.rest()
        self.press_remedy(before)
        assert self.findings() == before

    def press_remedy(self, before: list[tuple[str, str]]) -> None:
        """Press the one of the thin floor; beside what was told before only the cutter is told, slender for so deep."""
        new = [("floor-too-thin", "leaf"), ("slender-cutter", "leaf")]
        assert sorted(self.findings()) == sorted([*before, *new])
        told = next(item for item in self.settings.findings if item.code == "floor-too-thin")
        assert told.step
        OPS.take_remedy("EXEC_DEFAULT", True, finding=told.identity)

    def save(self) -> Path:
        """The design as a file."""
        path = self.folder / "journey.panel.json"
        OPS.save_design_as(filepath=str(path))
        return path

    def choose_picture(self) -> None:
        """Small and quick, into the folder."""
        self.settings.folder = str(self.folder)
        self.settings.view = "finished"
        self.settings.picture_width, self.settings.picture_height, self.settings.quality = 160, 100, "draft"
        self.rest()

    def pictures(self) -> list[str]:
        """All that is in the folder but drawing and design."""
        return sorted(path.name for path in self.folder.iterdir() if path.suffix not in (".svg", ".json"))

    def _select(self, name: str) -> None:
        for item in bpy.context.scene.objects:
            item.select_set(self._is_piece(item) and item.grainstack.id == name)
        bpy.context.view_layer.objects.active = self.piece(name)

    @staticmethod
    def _is_piece(item: bpy.types.Object) -> bool:
        return item.grainstack.kind == "outline"


# ---------------------------------------------------------------- in a window

LATER = 1.5
"""Seconds for the window to draw, and for the wood to follow the maker's hand."""


def in_window(package: Path, folder: Path) -> Iterator[float]:
    """The walk in Blender's window; yields how many seconds to wait."""
    bpy.ops.extensions.package_install_files(repo="user_default", filepath=str(package), enable_on_install=True)
    yield LATER
    assert hasattr(bpy.types, "GRAINSTACK_OT_new_panel"), f"{package} cannot be installed"
    walk = Journey(folder, lambda: bpy.context.view_layer.update())
    for step in (walk.new_panel, walk.strips, walk.import_drawing):
        yield from _stepped(step)
    yield from _moved(walk)
    for step in (walk.reorder, walk.exploded):
        yield from _stepped(step)
    yield from _cured(walk)
    yield from _stepped(walk.save)
    yield from _stepped(walk.choose_picture)
    yield from _rendered(walk)
    yield from _cancelled(walk)


def _stepped(step: Callable[[], object]) -> Iterator[float]:
    with _viewport():
        step()
    print(f"journey: {step.__name__.replace('_', ' ')}", file=sys.stderr, flush=True)
    yield LATER


def _moved(walk: Journey) -> Iterator[float]:
    yield from _stepped(walk.move)
    yield LATER


def _cured(walk: Journey) -> Iterator[float]:
    """In parts: the timer needs its turn before the finding is told."""
    with _viewport():
        before = walk.findings()
        walk.piece("leaf").grainstack.pocket_depth = 0.016
    yield LATER
    with _viewport():
        walk.press_remedy(before)
    yield LATER
    assert walk.findings() == before
    print("journey: cured by its button", file=sys.stderr, flush=True)


def _rendered(walk: Journey) -> Iterator[float]:
    with _viewport():
        OPS.render_view("INVOKE_DEFAULT")
    yield LATER
    while bpy.app.is_job_running("RENDER"):
        yield LATER
    yield LATER
    assert walk.pictures() == ["journey-finished.png"], walk.pictures()
    print("journey: rendered", file=sys.stderr, flush=True)


def _cancelled(walk: Journey) -> Iterator[float]:
    """A picture that takes long is stopped by Esc, and nothing of it is left."""
    walk.settings.picture_width, walk.settings.picture_height, walk.settings.quality = 1600, 1000, "best"
    walk.settings.view = "proud"
    yield LATER
    with _viewport():
        OPS.render_view("INVOKE_DEFAULT")
    yield LATER
    assert bpy.app.is_job_running("RENDER")
    _press_escape()
    for _ in range(40):
        if not bpy.app.is_job_running("RENDER"):
            break
        yield LATER
    assert not bpy.app.is_job_running("RENDER"), "Esc was not heard"
    yield 2 * LATER
    assert walk.pictures() == ["journey-finished.png"], walk.pictures()
    print("journey: stopped by Esc, nothing left", file=sys.stderr, flush=True)


def _press_escape() -> None:
    """On the keyboard itself: Blender's simulated events do not reach the renderer."""
    if shutil.which("xdotool"):
        subprocess.run(["xdotool", "key", "Escape"], check=True)
    else:
        print("journey: press Esc now", file=sys.stderr, flush=True)


def _viewport() -> bpy.types.TempOverride:
    window = bpy.context.window_manager.windows[0]
    area = next(area for area in window.screen.areas if area.type == "VIEW_3D")
    region = next(region for region in area.regions if region.type == "WINDOW")
    return bpy.context.temp_override(window=window, area=area, region=region)


def _run(work: Iterator[float]) -> None:
    def go_on() -> float | None:
        try:
            return next(work)
        except StopIteration:
            print("journey: all held", file=sys.stderr, flush=True)
            status = 0
        except BaseException:
            traceback.print_exc()
            status = 1
        sys.stderr.flush()
        os._exit(status)  # Blender's own way out has no status to give

    bpy.app.timers.register(go_on, first_interval=LATER, persistent=True)


if __name__ == "__main__" and "--" in sys.argv:
    bpy.context.preferences.view.show_splash = False
    _run(in_window(*map(Path, sys.argv[sys.argv.index("--") + 1 :])))
