"""The panel as it stands today, drawn over the viewport: what is glued in, and hatched which pockets stand open."""

from __future__ import annotations

from typing import ClassVar

import bpy
import numpy as np
import numpy.typing as npt

from .viewport_lines import Drawing, above_the_panel, draw_lines, has_overlays

Array = npt.NDArray[np.float64]

LOOKS = {"glued": ((0.55, 0.95, 0.6, 1.0), 2.0), "open": ((1.0, 0.8, 0.35, 1.0), 1.2)}
"""Colour and width in pixels of each state's lines."""


class Shown:
    """What the viewport shows, and for which design."""

    on: ClassVar[bool] = False
    fingerprint: ClassVar[str] = ""
    lines: ClassVar[dict[str, Array]] = {}
    """By state, ends of lines two by two (n, 3), in Blender's units."""


def show(fingerprint: str, segments: dict[str, Array]) -> None:
    """Draw these lines, mm on the panel, from now on."""
    lifted = {name: above_the_panel(ends) for name, ends in segments.items()}
    Shown.on, Shown.fingerprint, Shown.lines = True, fingerprint, lifted


def hide() -> None:
    """Draw nothing more."""
    Shown.on, Shown.fingerprint, Shown.lines = False, "", {}


def draw() -> None:
    """Called by Blender for every viewport; off with its overlays, and once the design is another."""
    context = bpy.context
    if not Shown.on or not has_overlays(context) or context.scene.grainstack.fingerprint != Shown.fingerprint:
        return
    draw_lines([(Shown.lines[name], *look) for name, look in LOOKS.items() if name in Shown.lines])


drawing = Drawing(draw)


def register() -> None:
    """Draw from now on."""
    drawing.register()


def unregister() -> None:
    """Draw no more, and keep nothing."""
    hide()
    drawing.unregister()
