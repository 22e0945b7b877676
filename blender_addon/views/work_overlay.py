"""The panel as it stands today, drawn over the viewport: what is glued in, and hatched which pockets stand open.

Nothing is put in the scene, so that undo and redo have nothing to take back.
"""

from __future__ import annotations

from typing import ClassVar

import bpy
import gpu
import numpy as np
import numpy.typing as npt
from gpu_extras.batch import batch_for_shader

from ..units import METRES

Array = npt.NDArray[np.float64]

GLUED, OPEN = (0.55, 0.95, 0.6, 1.0), (1.0, 0.8, 0.35, 1.0)
WIDTHS = {"glued": 2.0, "open": 1.2}
ABOVE = 2.0
"""Drawn so far above the raw face, mm: over inserts that stand proud."""


class Shown:
    """What the viewport shows, and for which design."""

    on: ClassVar[bool] = False
    fingerprint: ClassVar[str] = ""
    lines: ClassVar[dict[str, Array]] = {}
    """By state, ends of lines two by two (n, 3), in Blender's units."""


def show(fingerprint: str, segments: dict[str, Array]) -> None:
    """Draw these lines, mm on the panel, from now on."""
    lifted = {name: np.column_stack([ends, np.full(len(ends), ABOVE)]) * METRES for name, ends in segments.items()}
    Shown.on, Shown.fingerprint, Shown.lines = True, fingerprint, lifted


def hide() -> None:
    """Draw nothing more."""
    Shown.on, Shown.fingerprint, Shown.lines = False, "", {}


def draw() -> None:
    """Called by Blender for every viewport; off with its overlays, and once the design is another."""
    context = bpy.context
    space = context.space_data
    if not Shown.on or space is None or not space.overlay.show_overlays:
        return
    if context.scene.grainstack.fingerprint != Shown.fingerprint:
        return
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    gpu.state.blend_set("ALPHA")
    for name, colour in (("glued", GLUED), ("open", OPEN)):
        points = Shown.lines.get(name)
        if points is not None and len(points):
            shader.uniform_float("lineWidth", WIDTHS[name] * context.preferences.system.ui_scale)
            shader.uniform_float("color", colour)
            batch_for_shader(shader, "LINES", {"pos": points.astype(np.float32)}).draw(shader)
    gpu.state.blend_set("NONE")


_handle: object | None = None


def register() -> None:
    """Draw from now on."""
    global _handle
    if not bpy.app.background:
        _handle = bpy.types.SpaceView3D.draw_handler_add(draw, (), "WINDOW", "POST_VIEW")


def unregister() -> None:
    """Draw no more."""
    global _handle
    hide()
    if _handle is not None:
        bpy.types.SpaceView3D.draw_handler_remove(_handle, "WINDOW")
        _handle = None
