"""Designs in which a maker would find nothing wrong: the check must be silent on each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from core.design import Design, LineOutline, PathOutline, Piece, PolygonOutline, Segment, Strip, Workshop
from tests.core.designs import Points, disc, make_design, make_panel, make_piece, rectangle, ring, star

MIDDLE = (60.0, 40.0)


def strips(count: int, segments: Sequence[float] = ()) -> dict[str, Any]:
    """A background of equal strips up the panel, every other one of segments if wanted."""
    width = 120 / count
    whole = Strip(width, (Segment(80, "ash"),))
    parts = Strip(width, tuple(Segment(length, "ash") for length in segments)) if segments else whole
    return {"strips": tuple((whole, parts)[i % 2] for i in range(count)), "wood": None}


def leaf(length: float, width: float) -> PathOutline:
    """Two arcs that meet at rounded tips, lying along x."""
    half, bow = length / 2, width / 2
    radius = (half**2 + bow**2) / (2 * bow)
    return PathOutline(f"M {-half} 0 A {radius} {radius} 0 0 0 {half} 0 A {radius} {radius} 0 0 0 {-half} 0 Z")


def rounded(width: float, height: float, radius: float) -> PathOutline:
    """A rectangle round the origin with round corners."""
    x, y, arc = width / 2, height / 2, f"A {radius} {radius} 0 0 1"
    return PathOutline(
        f"M {-x + radius} {-y} H {x - radius} {arc} {x} {-y + radius} V {y - radius} {arc} {x - radius} {y} "
        f"H {-x + radius} {arc} {-x} {y - radius} V {-y + radius} {arc} {-x + radius} {-y} Z"
    )


def bar(length: float, width: float, degrees: float) -> Points:
    """A bar round the origin, in a direction."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    corners = ((-length, -width), (length, -width), (length, width), (-length, width))
    return [((x * c - y * s) / 2, (x * s + y * c) / 2) for x, y in corners]


def letter(*boxes: tuple[float, float, float, float]) -> Piece:
    """A letter of overlapping boxes (x, y, width, height)."""
    shape = shapely.union_all([shapely.box(x, y, x + w, y + h) for x, y, w, h in boxes])
    points = tuple(map(tuple, shapely.get_coordinates(shape.exterior)[:-1].tolist()))
    return make_piece("letter", PolygonOutline(points), at=(40.0, 20.0), grain=90.0)


def circle(radius: float) -> tuple[tuple[float, float], ...]:
    """A closed line about the panel's middle."""
    angle = np.radians(np.arange(0, 360, 2))
    xy = np.stack([60 + radius * np.cos(angle), 40 + radius * np.sin(angle)], axis=1)
    points = tuple((float(x), float(y)) for x, y in xy)
    return (*points, points[0])


def at(x: float, y: float, name: str, outline: Any, **changes: Any) -> Piece:
    return make_piece(name, outline, at=(x, y), **changes)


def made(*pieces: Piece, workshop: Workshop | None = None, **panel: Any) -> Design:
    design = make_design(pieces, make_panel(face_trim=0.5, **panel))
    return design if workshop is None else replace(design, workshop=workshop)


def checkerboard() -> dict[str, Any]:
    """A background of squares, as it is glued: strips of segments, every other one turned end for end."""
    dark = ("black walnut", "hard maple")
    return {
        "strips": tuple(Strip(20, tuple(Segment(20, dark[(i + j) % 2]) for j in range(4))) for i in range(6)),
        "wood": None,
    }


SOUND: dict[str, Design] = {
    "plain panel": made(),
    "strips and segments": made(**strips(4, (30, 50))),
    "disc over strips": made(at(*MIDDLE, "sun", disc(18)), **strips(4)),
    "ring with its panel inside": made(at(*MIDDLE, "ring", ring(24, 9))),
    "ring and a heart that bites into it": made(at(*MIDDLE, "ring", ring(26, 9)), at(*MIDDLE, "heart", disc(9.75))),
    "two rings that cross": made(at(42, 40, "left", ring(28, 16)), at(78, 40, "right", ring(28, 16))),
    "crossing bars": made(at(*MIDDLE, "one", bar(80, 14, 20)), at(*MIDDLE, "two", bar(70, 14, 110))),
    "steps that go down": made(
        at(*MIDDLE, "wide", disc(30), pocket_depth=4.0),
        at(*MIDDLE, "middle", disc(20), pocket_depth=6.0),
        at(*MIDDLE, "small", disc(10), pocket_depth=8.0),
    ),
    "a shallow patch with a sound skin": made(
        at(*MIDDLE, "body", disc(28), pocket_depth=7.0), at(*MIDDLE, "patch", disc(12), pocket_depth=5.0)
    ),
    "frame": made(
        at(*MIDDLE, "frame", PolygonOutline(tuple(rectangle(100, 64, -50, -32)), (tuple(rectangle(80, 44, -40, -22)),)))
    ),
    "leaves": made(*(at(30 + 30 * i, 40, f"leaf-{i}", leaf(60, 24), turn=70.0) for i in range(3))),
    "letter L": made(letter((0, 0, 14, 44), (0, 0, 34, 14))),
    "letter T": made(letter((12, 0, 14, 44), (0, 30, 38, 14))),
    "checkerboard": made(**checkerboard()),
    "disc on a checkerboard": made(at(57, 42, "disc", disc(16)), **checkerboard()),
    "round corners": made(at(*MIDDLE, "tablet", rounded(70, 40, 8))),
    "star": made(at(*MIDDLE, "star", star(6, 30, 20))),
    "groove off the trimmed edges": made(
        at(0, 0, "reed", LineOutline(((60.0, 2.0), (60.0, 78.0)), 3.175)), edge_trim=(6.0,) * 4
    ),
    "groove that ends under a piece": made(
        at(0, 0, "stalk", LineOutline(((60.0, 2.0), (60.0, 40.0)), 3.175)),
        at(*MIDDLE, "bud", disc(12)),
        edge_trim=(6.0,) * 4,
    ),
    "closed groove": made(
        at(20, 20, "loop", LineOutline(circle(45), 0.8), cutter_diameter=0.8, pocket_depth=2.0, wood="hickory"),
        width=160.0,
        height=120.0,
    ),
    "tapered": made(at(*MIDDLE, "wedge", disc(20), taper=3.0, side_clearance=-0.1, floor_gap=0.3)),
    "tapered over straight": made(
        at(50, 40, "under", disc(22)), at(75, 40, "over", disc(16), taper=3.0, side_clearance=0.0, pocket_depth=6.0)
    ),
    "knot over a knot hole": made(at(*MIDDLE, "knot", disc(14)), at(*MIDDLE, "eye", disc(6), pocket_depth=8.0)),
    "thin walls parted by batches": made(at(35, 40, "one", disc(14)), at(64.5, 40, "two", disc(14), after=("one",))),
    "as drawn and round": made(at(*MIDDLE, "coin", disc(16), fit="as-drawn")),
}
