"""Lines drawn over the viewport. Nothing is put in the scene, so that undo and redo have nothing to take back."""

from __future__ import annotations

from collections.abc import Callable

import bpy
import gpu
import numpy as np
import numpy.typing as npt
from gpu_extras.batch import batch_for_shader

from ..units import METRES

Array = npt.NDArray[np.float64]
Colour = tuple[float, float, float, float]

ABOVE = 2.0
"""Lines on the panel are drawn so far above the raw face, mm: over inserts that stand proud."""


def above_the_panel(ends: Array) -> Array:
    """Ends of lines two by two (n, 3) in Blender's units, from those on the panel (n, 2) in mm."""
    return np.column_stack([ends, np.full(len(ends), ABOVE)]) * METRES


def has_overlays(context: bpy.types.Context) -> bool:
    """Whether the viewport that Blender draws now shows its overlays."""
    space = context.space_data
    return space is not None and space.overlay.show_overlays


def draw_lines(lines: list[tuple[Array, Colour, float]]) -> None:
    """Draw lines: ends two by two (n, 3) in Blender's units, the colour, and the width in pixels at a scale of 1."""
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    gpu.state.blend_set("ALPHA")
    for ends, colour, width in lines:
        if len(ends):
            shader.uniform_float("lineWidth", width * bpy.context.preferences.system.ui_scale)
            shader.uniform_float("color", colour)
            batch_for_shader(shader, "LINES", {"pos": ends.astype(np.float32)}).draw(shader)
    gpu.state.blend_set("NONE")


class Drawing:
    """What Blender calls for every viewport, from `register` until `unregister`."""

    def __init__(self, draw: Callable[[], None]) -> None:
        self._draw = draw
        self._handle: object | None = None

    def register(self) -> None:
        """Draw from now on."""
        if not bpy.app.background:
            self._handle = bpy.types.SpaceView3D.draw_handler_add(self._draw, (), "WINDOW", "POST_VIEW")

    def unregister(self) -> None:
        """Draw no more."""
        if self._handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self._handle, "WINDOW")
            self._handle = None
