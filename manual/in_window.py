"""Works through a panel in Blender's own window, as docs/bench.md tells it, and takes a picture of each step.

Blender runs this file, as `window.py` asks it to. Each step waits for the window to have drawn the one before, so all
of it is one generator that a timer runs on. The pictures are taken by who started Blender: a file NAME.wanted in FOLDER
says where on the screen the window is, and is gone once that is done.
"""

from __future__ import annotations

import contextlib
import math
import sys
import traceback
from collections.abc import Iterator
from pathlib import Path

import bpy

ZIP, POND, FOLDER = (Path(text) for text in sys.argv[sys.argv.index("--") + 1 :])
DRAWN = 1.5
"""Seconds for the window to draw what a step did."""
SETTLED = 3.0
"""Seconds for the window to begin with what a step changed; who takes the picture waits until it has come to rest."""
LOOK = 0.1
"""Seconds between looks whether a picture has been taken."""
SLIDES = 30
"""Drawings of the sidebar in which panels slide to their places: each moves them a little."""
MOST_LOOKS = 20
"""For the sidebar to have drawn its tabs."""
TURNS = 40
"""Clicks of the wheel that bring a sidebar from its top to its end."""

Steps = Iterator[float]


def steps() -> Steps:
    """All of it; yields how many seconds to wait before it goes on."""
    bpy.ops.extensions.package_install_files(repo="user_default", filepath=str(ZIP), enable_on_install=True)
    yield DRAWN
    if not hasattr(bpy.types, "GRAINSTACK_PT_design"):
        raise RuntimeError(f"{ZIP} cannot be installed")
    yield from _sidebar()
    yield from _picture("start")
    yield from _new_panel()
    yield from _pieces()
    yield from _findings()
    yield from _views()


def _sidebar() -> Steps:
    space = _area().spaces.active
    space.show_region_ui = True
    space.shading.type = "MATERIAL"
    for _ in range(MOST_LOOKS):  # a tab can be chosen once it has been drawn
        yield DRAWN
        with contextlib.suppress(TypeError):
            _region("UI").active_panel_category = "Grainstack"
        _area().tag_redraw()
        yield DRAWN
        if _region("UI").active_panel_category == "Grainstack":
            return
    raise RuntimeError("the tab Grainstack cannot be chosen")


def _new_panel() -> Steps:
    with _viewport():
        bpy.ops.grainstack.new_panel(
            "EXEC_DEFAULT", True, title="Leaves", width=0.3, height=0.2, strip_count=4, wood="black walnut"
        )
    yield from _picture("new-panel")


def _pieces() -> Steps:
    with _viewport():
        bpy.ops.grainstack.import_pieces("EXEC_DEFAULT", True, filepath=str(POND / "lotus.svg"), wood="holly")
        bpy.ops.grainstack.add_piece("EXEC_DEFAULT", True, shape="leaf", size=0.09, wood="padauk")
        leaf = bpy.context.active_object
        leaf.location.x, leaf.location.y, leaf.rotation_euler.z = 0.21, 0.07, math.radians(35)
        bpy.ops.ed.undo_push(message="Move")
    yield from _picture("pieces")
    with _viewport():
        bpy.ops.object.mode_set(mode="EDIT")
        bpy.ops.curve.select_all(action="SELECT")  # handles are drawn of chosen points alone
    yield from _picture("outline")
    with _viewport():
        bpy.ops.object.mode_set(mode="OBJECT")
    yield DRAWN


def _findings() -> Steps:
    settings = _open(POND / "first-draft.panel.json")
    yield 2 * DRAWN
    cured = [number for number, item in enumerate(settings.findings) if item.step]
    settings.active_finding = cured[0]
    yield from _picture("finding")
    with _viewport():
        bpy.ops.grainstack.take_remedy("EXEC_DEFAULT", True, finding=settings.findings[cured[0]].identity)
    yield from _picture("remedy")


def _views() -> Steps:
    settings = _open(POND / "koi-pond.panel.json")
    yield DRAWN
    for view in ("exploded", "section", "overlap"):
        settings.view = view
        _through_the_camera()
        yield from _picture(f"view-{view}")
    settings.view, settings.folder = "finished", "//pictures"  # no folder of this computer in the picture
    _through_the_camera()
    yield DRAWN
    with _viewport("UI"):
        for _ in range(TURNS):
            bpy.ops.view2d.scroll_down(deltay=200)
    yield from _picture("render")


def _open(design: Path) -> bpy.types.PropertyGroup:
    with _viewport():
        bpy.ops.grainstack.open_design("EXEC_DEFAULT", True, filepath=str(design))
    return bpy.context.window_manager.windows[0].scene.grainstack


def _through_the_camera() -> None:
    _area().spaces.active.region_3d.view_perspective = "CAMERA"


def _picture(name: str) -> Steps:
    yield SETTLED
    for _ in range(SLIDES):
        _region("UI").tag_redraw()
        yield LOOK
    window, wanted = bpy.context.window_manager.windows[0], FOLDER / f"{name}.wanted"
    begun = wanted.with_suffix(".begun")
    begun.write_text(f"{window.x} {window.y} {window.width} {window.height}", encoding="utf-8")
    begun.rename(wanted)  # whole from the first look on
    while wanted.exists():
        yield LOOK


def _area() -> bpy.types.Area:
    window = bpy.context.window_manager.windows[0]
    return next(area for area in window.screen.areas if area.type == "VIEW_3D")


def _region(kind: str) -> bpy.types.Region:
    return next(region for region in _area().regions if region.type == kind)


def _viewport(kind: str = "WINDOW") -> contextlib.AbstractContextManager[None]:
    window = bpy.context.window_manager.windows[0]
    return bpy.context.temp_override(window=window, area=_area(), region=_region(kind))


def _run(work: Steps) -> None:
    def go_on() -> float | None:
        try:
            return next(work)
        except StopIteration:
            bpy.ops.wm.quit_blender()
        except Exception:
            traceback.print_exc()
            sys.stderr.flush()
            bpy.ops.wm.quit_blender()
        return None

    bpy.app.timers.register(go_on, first_interval=DRAWN, persistent=True)


bpy.context.preferences.view.show_splash = False  # before the first drawing
_run(steps())
