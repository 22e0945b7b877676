"""The section's light, frame and marks: where along the cut one looks, and the depths told there."""

from __future__ import annotations

import math

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.views.section import SectionCut, SectionMark
from ..designs import OpenDesign
from ..studio import picture_words, studio
from ..studio.picture_words import DepthMark
from ..studio.sheet import Sheet
from . import parts_list

CLOSE_UP = 12
"""The section shows a stretch this many times as wide as the panel is thick, or it would be a thread."""


def stage(
    scene: bpy.types.Scene,
    opened: OpenDesign,
    cut: SectionCut,
    panel: NDArray[np.float64],
    size: tuple[int, int],
    samples: int | None,
) -> None:
    """Look at the busiest stretch of the cut from in front of it; `panel` (2, 3) is the panel's box, mm."""
    start, along, facing = _axes(cut)
    thickness = opened.stack.design.panel.thickness
    marks = _busiest(cut, CLOSE_UP * thickness)
    places = [float(((m.x, m.y) - start) @ along) for m in marks] or [0.0, math.dist(*cut.line)]
    top = max([0.0, *(m.z_top for m in marks)])
    # Some face behind the cut, for the eye to know the pieces again, and below it room for the words.
    ends = min(places) - thickness / 2, max(places) + thickness / 2
    behind = min(CLOSE_UP * thickness / 2, _depth_behind(opened, start, facing))
    points = [
        (*(start + along * way - facing * back), z)
        for way in ends
        for back in (0.0, behind)
        for z in (panel[0, 2] - thickness, top)
    ]
    facing_viewer = float(facing[0]), float(facing[1])
    studio.set_up(scene, "section", panel, np.array(points), size, samples=samples, facing=facing_viewer)


def _axes(cut: SectionCut) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """The cut's start, its direction and the way to who looks at it, all (2,)."""
    start, end = np.array(cut.line)
    along = (end - start) / math.dist(*cut.line)
    return start, along, np.array([along[1], -along[0]])


def _depth_behind(opened: OpenDesign, start: NDArray[np.float64], facing: NDArray[np.float64]) -> float:
    """How far the panel reaches behind the cut."""
    left, low, right, high = opened.stack.box.bounds
    corners = np.array([(x, y) for x in (left, right) for y in (low, high)])
    return float(max((start - corners) @ facing))


def mark(sheet: Sheet, opened: OpenDesign, cut: SectionCut) -> None:
    """Tell each depth at its place."""
    number = parts_list.numbers(opened)
    marks = [
        DepthMark(
            m.x, m.y, m.z_top, m.z_bottom, f"{m.kind} {m.text}", f"{number[m.piece]} {m.piece}" if m.piece else ""
        )
        for m in _busiest(cut, CLOSE_UP * opened.stack.design.panel.thickness)
    ]
    picture_words.section_marks(sheet, marks)
    picture_words.section_legend(sheet, marks)


def _busiest(cut: SectionCut, width: float) -> list[SectionMark]:
    """The most marks that lie within a stretch of some width."""
    start, along, _ = _axes(cut)
    places = {mark: ((mark.x, mark.y) - start) @ along for mark in cut.marks}
    stretches = ([m for m in places if at <= places[m] <= at + width] for at in places.values())
    return max(stretches, key=len, default=[])
