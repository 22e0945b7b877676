"""Marks at the places of the listed findings, drawn over the viewport; nothing in the scene.

Level is told by shape as well as by colour, as in the findings picture. What is chosen gets a ring and its name; the
others are small. Pixels count from the viewport's lower left corner.
"""

from __future__ import annotations

from dataclasses import dataclass

import blf
import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from numpy.typing import NDArray

from ...core.findings.finding import LEVELS
from ...core.woods import colour
from ..studio.sheet import INK, PAPER, corners_of
from ..units import METRES
from . import finding_items
from .findings_picture import LOOKS

DOT, RING, TEXT = 4.5, 15.0, 12.0
"""Radii of a quiet mark and of the ring round the chosen place, size of its words; pixels at a scale of 1."""
EDGE = 1.5
"""Dark edge round all that is drawn, so that it is seen on light wood as on dark."""
BEFORE = 1e-6
"""What lies nearer to the eye than this, as a share, is behind it."""

Floats = NDArray[np.float64]
Shape = tuple[str, Floats]
"""A colour as hex, and triangles (n, 3, 2) in pixels."""


@dataclass(frozen=True)
class Marks:
    """What is to be marked: places (n, 3) in Blender's units with their levels, and which of them is chosen."""

    places: Floats
    levels: tuple[str, ...]
    chosen: int
    words: str


def marks_of(settings: bpy.types.PropertyGroup, active: bpy.types.Object | None) -> Marks:
    """The listed findings' marks, the gravest last, so that it lies on top; what is chosen is always among them."""
    shown = finding_items.listed(settings, active)
    index = finding_items.chosen(settings)
    if index >= 0:
        shown[index] = True
    kept = [place for place in reversed(range(len(shown))) if shown[place]]
    at: list[tuple[float, float, float]] = []
    levels: list[str] = []
    marked = -1
    for item in (settings.findings[place] for place in kept):
        every = finding_items.places(item)
        if index >= 0 and item == settings.findings[index]:
            marked = len(at) + settings.chosen_place % len(every)
        at += [(x, y, 0.0) for x, y, _ in every]
        levels += [item.level] * len(every)
    words = settings.findings[index].heading if index >= 0 else ""
    return Marks(np.array(at).reshape(-1, 3) * METRES, tuple(levels), marked, words)


def to_pixels(places: Floats, matrix: Floats, size: tuple[int, int]) -> tuple[Floats, NDArray[np.bool_]]:
    """Where places (n, 3) are seen through a (4, 4) perspective matrix, and whether they lie before the eye."""
    seen = np.hstack([places, np.ones((len(places), 1))]) @ matrix.T
    ahead = seen[:, 3] > BEFORE
    share = seen[:, :2] / np.where(ahead, seen[:, 3], 1.0)[:, None]
    return (share + 1) / 2 * np.array(size, float), ahead


def shapes_of(marks: Marks, pixels: Floats, ahead: NDArray[np.bool_], scale: float) -> list[Shape]:
    """What to fill, from the lowest layer to the highest: dots of all places, then the ring of the chosen one."""
    shapes: list[Shape] = []
    for level in reversed(LEVELS):
        own = [i for i, each in enumerate(marks.levels) if each == level and ahead[i] and i != marks.chosen]
        if own:
            shapes += [
                (INK, _discs(pixels[own], level, (DOT + EDGE) * scale)),
                (LOOKS[level].fill, _discs(pixels[own], level, DOT * scale)),
            ]
    if marks.chosen >= 0 and ahead[marks.chosen]:
        chosen, place = marks.levels[marks.chosen], pixels[marks.chosen]
        for tone, half in ((INK, 3.2), (PAPER, 2.0), (LOOKS[chosen].fill, 1.4)):
            shapes.append((tone, _ring(place, chosen, RING * scale, half * scale)))
    return shapes


def _discs(places: Floats, level: str, radius: float) -> Floats:
    """An even polygon of the level's shape at each place."""
    corners = _corners((0.0, 0.0), level, radius)
    fan = np.stack([np.zeros_like(corners), corners, np.roll(corners, -1, axis=0)], axis=1)
    return (places[:, None, None, :] + fan).reshape(-1, 3, 2)


def _ring(place: Floats, level: str, radius: float, half: float) -> Floats:
    """A band of a width round a place, in the level's shape."""
    wider = half / np.cos(np.pi / LOOKS[level].sides)
    inner, outer = (_corners(tuple(place), level, r) for r in (radius - wider, radius + wider))
    next_inner, next_outer = np.roll(inner, -1, axis=0), np.roll(outer, -1, axis=0)
    return np.concatenate(
        [np.stack([inner, outer, next_outer], axis=1), np.stack([inner, next_outer, next_inner], axis=1)]
    )


def _corners(at: tuple[float, ...], level: str, radius: float) -> Floats:
    look = LOOKS[level]
    return np.array(corners_of((at[0], at[1]), radius * look.size, look.sides, look.first))


def plate_of(place: Floats, words: tuple[float, float], scale: float, size: tuple[int, int]) -> tuple[Floats, Floats]:
    """Lower left and upper right corner of the plate for words of that width and height: at the ring's right, or at
    its left where there is no room, and never beyond the viewport's upper and lower edge."""
    pad, reach = 0.5 * TEXT * scale, 1.5 * RING * scale
    width, height = words[0] + 2 * pad, words[1] + 2 * pad
    left = place[0] + reach if place[0] + reach + width <= size[0] else place[0] - reach - width
    low = min(max(place[1] - height / 2, 0.0), max(size[1] - height, 0.0))
    return np.array([left, low]), np.array([left + width, low + height])


# --- Drawing ----------------------------------------------------------------------------------------------


class _Kept:
    """What was gathered last, and for which state of the scene; nothing of Blender's."""

    state: tuple[object, ...] = ()
    marks: Marks | None = None
    handle: object | None = None


def wanted(context: bpy.types.Context) -> Marks | None:
    """What to mark in the viewport of this context; None where nothing is."""
    scene, space = context.scene, context.space_data
    if scene is None or space is None or not space.overlay.show_overlays:
        return None
    settings = scene.grainstack
    if not settings.fingerprint or not settings.show_marks or not settings.findings:
        return None
    active = context.active_object
    name = active.grainstack.id if active is not None and active.grainstack.kind == "outline" else ""
    switches = tuple(getattr(settings, f"show_{level}s") for level in LEVELS)
    only = name if settings.only_active_piece else None
    chosen = (settings.chosen_finding, settings.chosen_place)
    state = (scene.name, settings.checked, len(settings.findings), chosen, switches, only)
    if _Kept.state != state or _Kept.marks is None:
        _Kept.state, _Kept.marks = state, marks_of(settings, active)
    return _Kept.marks


def draw() -> None:
    """Called by Blender for every viewport."""
    context = bpy.context
    marks = wanted(context)
    region, view = context.region, context.region_data
    if marks is None or region is None or view is None:
        return
    size, scale = (region.width, region.height), context.preferences.system.ui_scale
    pixels, ahead = to_pixels(marks.places, np.array(view.perspective_matrix), size)
    for tone, triangles in shapes_of(marks, pixels, ahead, scale):
        _fill(tone, triangles)
    if marks.chosen >= 0 and ahead[marks.chosen]:
        _name(marks.words, pixels[marks.chosen], scale, (size[0] - _covered(context), size[1]))


def _covered(context: bpy.types.Context) -> int:
    """How many pixels of the viewport's right side the sidebar lies over."""
    overlaid = context.preferences.system.use_region_overlap
    return next((region.width for region in context.area.regions if overlaid and region.type == "UI"), 0)


def _fill(tone: str, triangles: Floats) -> None:
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    shader.bind()
    shader.uniform_float("color", _rgba(tone))
    corners = np.zeros((triangles.size // 2, 3), np.float32)
    corners[:, :2] = triangles.reshape(-1, 2)
    batch_for_shader(shader, "TRIS", {"pos": corners}).draw(shader)


def _name(words: str, place: Floats, scale: float, size: tuple[int, int]) -> None:
    """The chosen finding's name on a plate."""
    blf.size(0, TEXT * scale)
    low, high = plate_of(place, blf.dimensions(0, words), scale, size)
    for tone, grown in ((INK, EDGE * scale), (PAPER, 0.0)):
        (x0, y0), (x1, y1) = low - grown, high + grown
        _fill(tone, np.array([[(x0, y0), (x1, y0), (x1, y1)], [(x0, y0), (x1, y1), (x0, y1)]]))
    blf.color(0, *_rgba(INK))
    blf.position(0, *(low + 0.5 * TEXT * scale), 0)
    blf.draw(0, words)


def _rgba(tone: str) -> tuple[float, ...]:
    return (*colour.srgb_from_hex(tone).tolist(), 1.0)


def register() -> None:
    """Draw from now on."""
    if not bpy.app.background:
        _Kept.handle = bpy.types.SpaceView3D.draw_handler_add(draw, (), "WINDOW", "POST_PIXEL")


def unregister() -> None:
    """Draw no more, and keep nothing."""
    if _Kept.handle is not None:
        bpy.types.SpaceView3D.draw_handler_remove(_Kept.handle, "WINDOW")
    _Kept.handle, _Kept.marks, _Kept.state = None, None, ()
