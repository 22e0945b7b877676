"""Finding of the frame: the panel needs more room in it than its reveal leaves."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..measures.all_measures import Measures
from ..measures.movement import panel_movement
from ..witness import inside
from .finding import Finding, below, xy


def frame_too_tight(m: Measures) -> Iterator[Finding]:
    """The frame leaves less room than the panel grows from the dry season to the damp one."""
    moved = panel_movement(m.stack)
    if moved is None:
        return
    reveal = m.design.frame.reveal
    side = 0 if moved.frame_room[0] >= moved.frame_room[1] else 1
    needed, name = moved.frame_room[side], ("width", "height")[side]
    if below(2 * reveal, needed):
        at = inside(m.stack.finished_box)
        air = moved.climate
        good = math.ceil(50 * needed - 1e-9) / 100
        words = (
            f"panel at {xy(at)}: its frame leaves {2 * reveal:.2f} mm of room in its {name}, a reveal of "
            f"{reveal:.2f} mm on either side, and the panel grows by {needed:.2f} mm from {air.humidity_low:g} to "
            f"{air.humidity_high:g} % humidity: it pushes the frame apart"
        )
        remedy = f"Give the frame a reveal of {good:.2f} mm or more, or make the panel of wood that moves less"
        yield Finding("warning", "frame-too-tight", None, None, at, words, remedy, value=needed - 2 * reveal)
