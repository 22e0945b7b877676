"""Line drawings of the sheet, in millimetres with y up, to be drawn on paper or on a screen alike."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..lines.drawing import insert_strokes
from ..lines.layout import Laid
from ..stack.stack import Stack
from ..views.exploded import place_of_number
from ..views.label_places import place_plates
from ..woods.species import find_wood, woods_in
from .plan import BatchWork, Plan

Array = npt.NDArray[np.float64]

INK, GREY, PALE = "#1c1a18", "#8a8580", "#dedad4"
MAP_WIDTH = 170.0
"""A map is drawn about so wide on paper, mm: letters and hatches are sized for it."""
PLATE, HATCH = 2.4, 1.7
"""Radius of a number's plate, and between the lines of a hatch, mm on paper."""
FINE = 0.08
"""Lines on paper may lie this far from core's, mm on paper."""


@dataclass(frozen=True, eq=False)
class Area:
    """A filled or outlined shape; widths in points."""

    rings: tuple[Array, ...]
    fill: str | None = None
    stroke: str | None = None
    width: float = 0.5


@dataclass(frozen=True, eq=False)
class Strokes:
    """Open lines."""

    lines: tuple[Array, ...]
    colour: str = INK
    width: float = 0.4


@dataclass(frozen=True)
class Label:
    """Words round a point; `size` is the height of letters on paper, mm."""

    at: tuple[float, float]
    text: str
    size: float = 2.6
    plate: bool = False


Mark = Area | Strokes | Label


@dataclass(frozen=True, eq=False)
class Picture:
    """Marks within a box, and what they show."""

    box: tuple[float, float, float, float]
    marks: tuple[Mark, ...]
    words: str
    """For those who cannot see it."""
    mirrored: bool = False


def area(shape: BaseGeometry, tolerance: float, **look: object) -> Area:
    """A shape as a mark, its points thinned."""
    thin = shapely.simplify(shape, tolerance)
    rings = tuple(shapely.get_coordinates(ring) for ring in shapely.get_rings(shapely.get_parts(thin)))
    return Area(rings, **look)  # type: ignore[arg-type]


def hatched(shape: BaseGeometry, step: float) -> tuple[Array, ...]:
    """Slanting lines across a shape."""
    if shape.is_empty:
        return ()
    left, bottom, right, top = shape.bounds
    high = top - bottom
    starts = np.arange(math.floor((left - high) / step), math.ceil(right / step) + 1) * step
    ends = np.stack([starts, np.full_like(starts, bottom), starts + high, np.full_like(starts, top)], 1)
    cut = shapely.get_parts(shapely.intersection(shape, shapely.multilinestrings(ends.reshape(-1, 2, 2).tolist())))
    return tuple(shapely.get_coordinates(part) for part in cut[shapely.get_dimensions(cut) == 1])


def panel_picture(plan: Plan) -> Picture:
    """The finished panel in the colours of its woods, seen from the face."""
    stack = plan.stack
    frame = stack.finished_box
    marks: list[Mark] = [
        area(shapely.intersection(part.box, frame), 0.01, fill=_colour(stack, part.wood), stroke=GREY, width=0.2)
        for part in stack.background
        if shapely.area(shapely.intersection(part.box, frame)) > 0
    ]
    for placed, seen in zip(stack.pieces, stack.remnants, strict=True):
        if not seen.is_empty:
            wood = woods_in(placed.piece)[0]
            marks.append(area(seen, _paper(plan, FINE), fill=_colour(stack, wood), stroke=INK, width=0.3))
    return Picture(frame.bounds, tuple(marks), f"{plan.title}, the finished face in the colours of its woods")


def _colour(stack: Stack, wood: str) -> str:
    species = find_wood(wood, stack.design.woods)
    return species.fresh_colour if species else PALE


def _paper(plan: Plan, size: float) -> float:
    """A size on paper as one on the panel, mm."""
    return size * plan.stack.design.panel.width / MAP_WIDTH


def zero_picture(plan: Plan) -> Picture:
    """The raw panel with its zero point, pins, trimmed edges, and where depth is measured."""
    stack, zero = plan.stack, plan.zero
    one = _paper(plan, 1.0)
    pockets = shapely.union_all([placed.pocket for placed in stack.pieces if placed.sound])
    marks: list[Mark] = [
        area(shapely.intersection(pockets, stack.box), one * FINE, fill=PALE),
        area(stack.box, 0, stroke=INK, width=0.9),
        area(stack.finished_box, 0, stroke=GREY, width=0.5),
        Strokes((np.array([[0, 9], [0, 0], [9, 0]]) * one,), INK, 2.0),
        Label((16 * one, 5 * one), "zero 0, 0", 2.8, plate=True),
    ]
    for number, (x, y) in enumerate(zero.pins, 1):
        hole = shapely.Point(x, y).buffer(zero.pin_diameter / 2)
        cross = np.array([[-1.0, 0], [1, 0]]) * zero.pin_diameter, np.array([[0, -1.0], [0, 1]]) * zero.pin_diameter
        marks += [area(hole, 0.01, stroke=INK, width=0.8), Strokes(tuple(line + np.array([x, y]) for line in cross))]
        away = 7 * one if x < stack.design.panel.width / 2 else -7 * one
        marks.append(Label((x + away, y + (7 * one if y < 20 * one else -5 * one)), f"pin {number}", 2.6, plate=True))
    if zero.depth_place:
        ring = shapely.Point(zero.depth_place).buffer(min(zero.depth_room, 10 * one))
        marks += [area(ring, 0.01, stroke=INK, width=0.8), Label(zero.depth_place, "depth", 2.6, plate=True)]
    return Picture(stack.box.bounds, tuple(marks), "The raw panel with zero point, pins and the place for depth")


def batch_map(plan: Plan, batch: BatchWork) -> Picture:
    """The raw panel: this batch's pockets hatched and numbered, what is already in greyed."""
    stack, one = plan.stack, _paper(plan, 1.0)
    marks: list[Mark] = []
    thin = _thin_pockets(plan)
    earlier = (piece for piece in plan.pieces if piece.placed.batch < batch.number)
    marks += [area(thin[piece.number], 0, fill=PALE, stroke=GREY, width=0.25) for piece in earlier]
    for piece in batch.pieces:
        inside = thin[piece.number]
        marks.append(area(inside, 0, fill="#ffffff"))
        marks.append(Strokes(hatched(inside, one * HATCH), INK, 0.25))
        marks.append(area(inside, 0, stroke=INK, width=0.9))
    marks += [area(stack.box, 0, stroke=INK, width=0.9), area(stack.finished_box, 0, stroke=GREY, width=0.4)]
    marks.append(Strokes((np.array([[0, 7], [0, 0], [7, 0]]) * one,), INK, 2.0))
    marks += _numbers(plan, batch, one)
    return Picture(stack.box.bounds, tuple(marks), f"Map of batch {batch.number}: its pockets hatched and numbered")


@lru_cache(maxsize=1)
def _thin_pockets(plan: Plan) -> dict[int, BaseGeometry]:
    """The pockets within the raw panel by their numbers, as fine as they are drawn: each map draws them again."""
    fine, box = _paper(plan, FINE), plan.stack.box
    pockets = [shapely.intersection(piece.placed.pocket, box) for piece in plan.pieces]
    return {
        piece.number: shape for piece, shape in zip(plan.pieces, shapely.simplify(pockets, fine).tolist(), strict=True)
    }


def _numbers(plan: Plan, batch: BatchWork, one: float) -> list[Mark]:
    panel = plan.stack.design.panel
    at = np.clip([place_of_number(piece.placed) for piece in batch.pieces], 0, [panel.width, panel.height])
    plates = place_plates(at, 0.4 * one, PLATE * one, (0.0, 0.0), (panel.width, panel.height))
    leaders = tuple(np.array([mark, plate]) for mark, plate in zip(at, plates, strict=True))
    labels = [
        Label((float(x), float(y)), str(piece.number), 2.9, plate=True)
        for piece, (x, y) in zip(batch.pieces, plates, strict=True)
    ]
    return [Strokes(leaders, INK, 0.6), *labels]


def blank_picture(laid: Laid) -> Picture:
    """An insert on its blank: the grain's arrow runs along it, the single arrow points up on the panel."""
    left, bottom, right, top = laid.blank
    size = max(right - left, top - bottom)
    marks: list[Mark] = [
        area(laid.shape, size / 600, fill=PALE, stroke=INK, width=0.7),
        Strokes(tuple(insert_strokes(laid)), INK, 0.4),
    ]
    words = f"{laid.cut.name} on its blank, grain along the blank"
    return Picture((left - 12, bottom - 1, right + 1, top + 1), tuple(marks), words, laid.cut.face_down)
