"""Line drawings of the sheet, in millimetres with y up, to be drawn on paper or on a screen alike."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..design import Point
from ..lines.layout import TAB, Laid
from ..stack.stack import Stack
from ..woods.species import find_wood, woods_in
from .plan import BatchWork, PieceWork, Plan

Array = npt.NDArray[np.float64]

NOT_MIRRORED = "seen from the face, not mirrored"
INK, GREY, PALE = "#1c1a18", "#8a8580", "#dedad4"
MAP_WIDTH = 170.0
"""A map is drawn about so wide on paper, mm: letters and hatches are sized for it."""
LEAST_MAP = 105.0
"""A map that is made smaller to save a page is still about so wide on paper, mm: plates are spaced for it."""
PLATE, HATCH = 2.4, 1.7
"""Radius of a number's plate, and between the lines of a hatch, mm on paper."""
LONG_PLATE = 3.7
"""Half the length of the plate of a part's number, such as 47.1, mm on paper."""
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
    left: bool = False
    """The words begin at the point instead of standing round it."""


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
    thin = shapely.simplify(shape, tolerance) if tolerance else shape
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
        Strokes((np.array([[0.0, 0.0], [12 * one, 16 * one]]),), INK, 0.4),
        Label((12 * one, 16 * one), "zero 0, 0", 2.8, plate=True),
        *_axes(one),
    ]
    for number, (x, y) in enumerate(zero.pins, 1):
        hole = shapely.Point(x, y).buffer(zero.pin_diameter / 2)
        cross = np.array([[-1.0, 0], [1, 0]]) * zero.pin_diameter, np.array([[0, -1.0], [0, 1]]) * zero.pin_diameter
        marks += [area(hole, 0.01, stroke=INK, width=0.8), Strokes(tuple(line + np.array([x, y]) for line in cross))]
        if zero.slot and number == 2:
            first, there = np.array(zero.pins[0]), np.array([x, y])
            way = (first - there) / np.hypot(*(first - there)) * zero.slot
            slot = shapely.linestrings([there - way, there + way]).buffer(zero.pin_diameter / 2)
            marks.append(area(slot, 0.01, stroke=INK, width=0.8))
        away = 18 * one if x < stack.design.panel.width / 2 else -10 * one
        up = 3.5 * one if y < stack.design.panel.height / 2 else -3.5 * one
        marks.append(Label((x + away, y + up), f"pin {number}", 2.6, plate=True))
    if zero.depth_place:
        x, y = zero.depth_place
        cross = np.array([[-2.0, 0], [2, 0]]) * one, np.array([[0, -2.0], [0, 2]]) * one
        marks.append(Strokes(tuple(line + np.array([x, y]) for line in cross), INK, 1.2))
        marks.append(Label((x, y + 5 * one), "depth spot", 2.6, plate=True))
    return Picture(stack.box.bounds, tuple(marks), "The raw panel with zero point, pins and the place for depth")


def _axes(one: float) -> list[Mark]:
    """Arrows that say which way x and y run, from zero, just inside the lower and the left edge."""
    right, up = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    x, y = np.array([44.0, 2.2]) * one, np.array([2.2, 34.0]) * one
    lines = (*_arrow(x, right, 16 * one, 2.2 * one), *_arrow(y, up, 16 * one, 2.2 * one))
    return [
        Strokes(lines, INK, 0.9),
        Label((55 * one, 2.4 * one), "x", 2.8),
        Label((2.4 * one, 45 * one), "y", 2.8),
    ]


def _arrow(middle: Array, unit: Array, length: float, head: float, *, both: bool = False) -> list[Array]:
    """An arrow of strokes; with two heads where it has no front."""
    side = np.array([-unit[1], unit[0]]) * head / 2
    ends = [(middle + unit * length / 2, unit)] + ([(middle - unit * length / 2, -unit)] if both else [])
    heads = [np.array([tip - way * head + side, tip, tip - way * head - side]) for tip, way in ends]
    return [np.array([middle - unit * length / 2, middle + unit * length / 2]), *heads]


def grey_areas(plan: Plan, batch: BatchWork) -> bool:
    """Whether a batch's map has grey pieces, which are in already."""
    return any(piece.placed.batch < batch.number for piece in plan.pieces)


def wood_key_picture(plan: Plan) -> Picture:
    """A patch of the colour of each wood of the panel, with its name."""
    stack, across, row = plan.stack, 45.0, 7.0
    woods = [part.wood for part in stack.background if part.wood]
    names = list(dict.fromkeys([*woods, *(name for placed in stack.pieces for name in woods_in(placed.piece))]))
    marks: list[Mark] = []
    for n, name in enumerate(names):
        x, y = across * (n % 4), -row * (n // 4)
        marks.append(area(shapely.box(x, y - 4, x + 8, y), 0, fill=_colour(stack, name), stroke=INK, width=0.4))
        marks.append(Label((x + 10, y - 2), name, 2.4, left=True))
    rows = max(1, math.ceil(len(names) / 4))
    return Picture((0.0, -row * rows, MAP_WIDTH + 12, 1.0), tuple(marks), "The woods and their colours")


def strips_picture(plan: Plan) -> Picture:
    """The background's strips with their numbers, its second wood and all further ones greyed."""
    stack, one = plan.stack, _paper(plan, 2.2)
    woods = list(dict.fromkeys(part.wood for part in stack.background))
    marks: list[Mark] = []
    for part in stack.background:
        fill = ("#ffffff", PALE, "#b8b2aa")[min(woods.index(part.wood), 2)]
        marks.append(area(part.box, 0, fill=fill, stroke=INK, width=0.5))
    for number, named in enumerate(_strip_boxes(plan), 1):
        for place, (x0, y0, x1, y1) in enumerate(named, 1):
            name = str(number) if len(named) == 1 else f"{number}.{place}"
            size = min(2.3, 0.8 * min((y1 - y0), (x1 - x0)) / one)
            marks.append(Label(((x0 + x1) / 2, (y0 + y1) / 2), name, size))
    words = "The strips of the background, numbered from the zero edge"
    return Picture(stack.box.bounds, tuple(marks), words)


def _strip_boxes(plan: Plan) -> list[list[tuple[float, float, float, float]]]:
    """Left, bottom, right, top of all segments, strip by strip."""
    panel, across = plan.stack.design.panel, 0.0
    found = []
    for strip in panel.strips:
        along, boxes = 0.0, []
        for segment in strip.segments:
            box = (along, across, along + segment.length, across + strip.width)
            boxes.append(box if panel.strips_along == "x" else (box[1], box[0], box[3], box[2]))
            along += segment.length
        across += strip.width
        found.append(boxes)
    return found


def legend_picture() -> Picture:
    """What the lines and arrows of an insert's drawing mean."""
    blank, insert = shapely.box(14, 0, 62, 30), shapely.Point(38, 17).buffer(1.0)
    insert = shapely.transform(insert, lambda points: (points - [38, 17]) * [18, 9] + [38, 17])
    tabs = tuple(np.array([[38 + x, 25.9], [38 + x, 28.4]]) for x in (-3.0, 3.0))
    right, up = np.array([1.0, 0.0]), np.array([0.5, 0.866])
    marks: list[Mark] = [
        area(blank, 0, stroke=INK, width=0.6),
        area(insert, 0.02, fill=PALE, stroke=INK, width=0.8),
        Strokes(tuple(_arrow(np.array([38.0, -3.0]), right, 12, 2.6, both=True)), INK, 0.9),
        Strokes(tuple(_arrow(np.array([7.0, 15.0]), up, 10, 2.6)), INK, 0.9),
        Strokes(tabs, INK, 0.9),
    ]
    told = (
        (29.0, (61.0, 29.0), "box: the blank, sawn to the size on the card"),
        (23.2, (51.0, 23.2), "grey: the insert, cut exactly along its outline"),
        (17.4, (41.0, 27.4), "two short lines: leave a tab between them, or put tape there"),
        (11.6, (44.0, -2.4), "arrow with two heads: the grain, along the blank"),
        (5.8, (9.4, 18.5), "arrow with one head: this way is up (y) on the panel"),
    )
    for y, (x0, y0), words in told:
        marks.append(Strokes((np.array([[x0, y0], [68.0, y]]),), GREY, 0.4))
        marks.append(Label((70.0, y), words, 2.5, left=True))
    return Picture((0.0, -5.0, MAP_WIDTH + 12, 31.0), tuple(marks), "; ".join(words for _, _, words in told))


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
    """A number for each piece, or for each of its parts: in it where it has room, else beside it with a line to it."""
    panel = plan.stack.design.panel
    one *= MAP_WIDTH / LEAST_MAP
    named = [(name, shape) for piece in batch.pieces for name, shape in _parts(piece)]
    sheet = shapely.box(0, 0, panel.width, panel.height).buffer(-PLATE * one)
    shapes = shapely.simplify([shape for _, shape in named], 0.3 * one)
    shapely.prepare(shapes)
    leaders, labels, taken = [], [], np.empty(0, dtype=object)
    for k, (name, _) in enumerate(named):
        radius = (PLATE if len(name) < 3 else LONG_PLATE) * one
        others = np.concatenate([np.delete(shapes, k), taken])
        mark, plate = _place(shapes[k], others, sheet, radius)
        taken = np.append(taken, shapely.Point(plate).buffer(1.1 * radius))
        leaders.append(np.array([mark, plate]))
        labels.append(Label(plate, name, 2.9, plate=True))
    return [Strokes(tuple(leaders), INK, 0.6), *labels]


def _parts(piece: PieceWork) -> list[tuple[str, BaseGeometry]]:
    """The parts of a piece on the panel, and what they are called."""
    parts = [blank.laid.cut.shape for blank in piece.blanks]
    if len(parts) < 2:
        return [(str(piece.number), piece.placed.pocket)]
    return [(f"{piece.number}.{n}", shape) for n, shape in enumerate(parts, 1)]


_AROUND = np.array([[math.cos(math.radians(a)), math.sin(math.radians(a))] for a in range(20, 380, 30)])


def _place(
    shape: BaseGeometry, others: npt.NDArray[np.object_], sheet: BaseGeometry, radius: float
) -> tuple[Point, Point]:
    """Where a leader ends in a piece, and where its plate lies: clear of the other pieces and plates if it can be."""
    roomy = shapely.intersection(shapely.buffer(shape, -radius, quad_segs=4), sheet)
    if not roomy.is_empty:
        here = _point(shapely.point_on_surface(max(shapely.get_parts(roomy), key=shapely.area)))
        if not shapely.dwithin(shapely.Point(here), others, radius).any():
            return here, here
    within = shapely.intersection(shape, sheet.buffer(radius))
    mark = _point(shapely.point_on_surface(shape if within.is_empty else within))
    tried = np.concatenate([mark + _AROUND * radius * far for far in (1.6, 2.2, 3.0, 4.2, 5.6)])
    points = shapely.points(tried)
    good = shapely.contains_xy(sheet, *tried.T)
    good &= ~shapely.dwithin(points[:, None], others[None, :], radius).any(axis=1)
    clear = good & ~shapely.dwithin(points, shape, 0.9 * radius)
    for some in (clear, good):
        if some.any():
            x, y = tried[np.argmax(some)].tolist()
            return mark, (x, y)
    x, y = np.clip(mark, sheet.bounds[:2], sheet.bounds[2:]).tolist()
    return mark, (x, y)


def _point(point: BaseGeometry) -> Point:
    x, y = shapely.get_coordinates(point)[0].tolist()
    return x, y


def blank_picture(laid: Laid, name: str = "") -> Picture:
    """An insert on its blank: the arrow with two heads is the grain along it, the other one points up on the panel."""
    left, bottom, right, top = laid.blank
    size = max(right - left, top - bottom)
    one = size / (17.0 if name else 36.0)  # several parts share the room of one drawing
    up = laid.turn @ np.array([0.0, 1.0])
    foot = np.array([(left + right) / 2, bottom - 2.6 * one])
    aside = np.array([left - 5.0 * one, (bottom + top) / 2])
    marks: list[Mark] = [
        area(laid.shape, size / 600, fill=PALE, stroke=INK, width=0.7),
        area(shapely.box(*laid.blank), 0, stroke=INK, width=0.5),
        Strokes(tuple(_arrow(foot, np.array([1.0, 0.0]), 9 * one, 2 * one, both=True)), INK, 0.8),
        Strokes(tuple(_arrow(aside, up, 7.5 * one, 2.4 * one)), INK, 1.0),
        Strokes(tuple(line for at, out in laid.tabs for line in _tab(at, out, one)), INK, 0.7),
    ]
    high = 4.0 * one if name else one
    if name:
        marks.append(Label(((left + right) / 2, top + 2.0 * one), name, 2.0))
    words = f"{laid.cut.name} on its blank, grain along the blank"
    box = (left - 9.0 * one, bottom - 4.2 * one, right + one, top + high)
    return Picture(box, tuple(marks), words, laid.cut.face_down)


def _tab(at: Array, out: Array, one: float) -> tuple[Array, Array]:
    along = np.array([-out[1], out[0]]) * TAB / 2
    return np.array([at + along, at + along + 2 * one * out]), np.array([at - along, at - along + 2 * one * out])
