"""Sound designs of kinds of their own: letters, flowers, boards to play on, shells, skylines, feathers, knots.

A maker drew none of them to please a check: sizes are those of a small panel with the usual cutter of 3.175 mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from core.design import Design, LineOutline, Piece, PolygonOutline, Segment, Strip
from tests.core.designs import make_design, make_panel, make_piece

TRIM = (8.0, 8.0, 8.0, 8.0)


def panel_of(pieces: Iterable[Piece], width: float = 240, height: float = 180, **changes: Any) -> Design:
    plain = {"wood": "black walnut", "grain": 0.0, "face_trim": 0.5, "edge_trim": TRIM}
    return make_design(list(pieces), make_panel(width, height, **(plain | changes)))


def drawn(name: str, shape: BaseGeometry, **changes: Any) -> Piece:
    """A piece of a shapely polygon in panel coordinates, its holes included."""
    rings = [tuple(map(tuple, shapely.get_coordinates(ring)[:-1].tolist())) for ring in shapely.get_rings(shape)]
    return make_piece(name, PolygonOutline(rings[0], tuple(rings[1:])), **changes)


def disc(x: float, y: float, radius: float) -> BaseGeometry:
    return shapely.buffer(shapely.points(x, y), radius, quad_segs=24)


def stroke(points: Sequence[tuple[float, float]], width: float) -> BaseGeometry:
    """A line of even width with round ends."""
    return shapely.buffer(shapely.linestrings(points), width / 2, quad_segs=16)


def boxes(*some: tuple[float, float, float, float]) -> BaseGeometry:
    """Boxes (x, y, width, height) united."""
    return shapely.union_all([shapely.box(x, y, x + w, y + h) for x, y, w, h in some])


def petal(x: float, y: float, degrees: float, length: float, width: float) -> BaseGeometry:
    """An ellipse that starts at a point and lies in a direction."""
    angle = np.radians(np.arange(0, 360, 5))
    along, across = length / 2 * (1 + np.cos(angle)), width / 2 * np.sin(angle)
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return shapely.polygons(np.stack([x + along * c - across * s, y + along * s + across * c], axis=1))


def letter(name: str, x: float, *parts: tuple[float, float, float, float]) -> Piece:
    """A block letter with its foot at 60 mm."""
    return drawn(name, boxes(*((x + a, 60 + b, w, h) for a, b, w, h in parts)), wood="holly", grain=90.0)


def ring(x: float, y: float, outer: float, inner: float) -> BaseGeometry:
    return disc(x, y, outer).difference(disc(x, y, inner))


def chessboard(count: int, side: float, woods: tuple[str, str]) -> dict[str, Any]:
    """A background as it is glued: strips of segments, every other one turned end for end."""
    rows = [tuple(Segment(side, woods[(i + j) % 2]) for j in range(count)) for i in range(count)]
    size = {"width": count * side, "height": count * side, "edge_trim": (0.0,) * 4}
    return {**size, "wood": None, "strips": tuple(Strip(side, row) for row in rows)}


def flower(petals: int, length: float, width: float, heart: float) -> list[Piece]:
    """Petals that bite into each other, and a heart over their feet."""
    turns = [360 / petals * i for i in range(petals)]
    made = [
        drawn(f"petal-{i}", petal(120, 90, turn, length, width), wood="holly", grain=turn)
        for i, turn in enumerate(turns)
    ]
    return [*made, drawn("heart", disc(120, 90, heart), wood="yellowheart")]


def stamens(count: int, length: float) -> list[Piece]:
    """Thin strips from under the heart outwards, each with a round anther over its end."""
    made = []
    for i in range(count):
        c, s = math.cos(2 * math.pi * (i + 0.5) / count), math.sin(2 * math.pi * (i + 0.5) / count)
        line = LineOutline(((120 + 4 * c, 90 + 4 * s), (120 + length * c, 90 + length * s)), 2.0)
        made.append(make_piece(f"stamen-{i}", line, wood="yellowheart", cutter_diameter=2.0, pocket_depth=4.0))
    for i in range(count):
        c, s = math.cos(2 * math.pi * (i + 0.5) / count), math.sin(2 * math.pi * (i + 0.5) / count)
        made.append(drawn(f"anther-{i}", disc(120 + length * c, 90 + length * s, 4.5), wood="padauk"))
    return [*made, drawn("heart", disc(120, 90, 12), wood="cherry")]


def shell(ribs: int) -> list[Piece]:
    """A fan of wedges that bite into each other, and a hinge over their feet."""
    made = []
    for i in range(ribs):
        low, high = (math.radians(30 + 120 * (i + d) / ribs) for d in (-0.05 if i else 0.0, 1.0))
        angle = np.linspace(low, high, 12)
        arc = np.stack([120 + 75 * np.cos(angle), 40 + 75 * np.sin(angle)], axis=1)
        wedge = shapely.polygons([(120, 40), *arc.tolist()])
        made.append(drawn(f"rib-{i}", wedge, wood=("holly", "cherry")[i % 2], grain=math.degrees((low + high) / 2)))
    return [*made, drawn("hinge", disc(120, 40, 26), wood="padauk")]


def skyline(roofs: Sequence[float], width: float) -> list[Piece]:
    """Houses side by side, each 0.75 mm into the one before, their feet in the edge that is trimmed."""
    return [
        drawn(f"house-{i}", shapely.box(30 + i * width - 0.75 * (i > 0), 4, 30 + (i + 1) * width, top), grain=90.0,
              wood=("hard maple", "cherry", "padauk")[i % 3])
        for i, top in enumerate(roofs)
    ]  # fmt: skip


def feather(barbs: int) -> list[Piece]:
    """A vane of two halves and a quill of strip over their joint that runs off the edge."""
    left = petal(120, 30, 90, 130, 44).intersection(shapely.box(0, 0, 120, 180))
    right = petal(120, 30, 90, 130, 44).intersection(shapely.box(119.25, 0, 240, 180))
    quill = LineOutline(((120.0, 2.0), (120.0, 150.0)), 3.175)
    tips = [
        drawn(f"bar-{i}", stroke([(108, 60 + 24 * i), (132, 68 + 24 * i)], 8), wood="wenge", grain=20.0)
        for i in range(barbs)
    ]
    cap = drawn("tip", disc(120, 153, 12), wood="padauk")
    halves = [drawn("left", left, wood="holly", grain=90.0), drawn("right", right, wood="hard maple", grain=90.0)]
    return [*halves, *tips, make_piece("quill", quill, wood="yellowheart", pocket_depth=7.2), cap]


def over_under(radius: float, width: float, x: float, apart: float) -> list[Piece]:
    """Two links of a chain: one ring over the other, and a patch of the first over the second where it comes back."""
    one, two = ring(x, 90, radius, radius - width), ring(x + apart, 90, radius, radius - width)
    upper = [part for part in shapely.get_parts(one.intersection(two)) if part.centroid.y > 90]
    patch = shapely.union_all(upper).buffer(3.0, quad_segs=16).intersection(one)
    return [
        drawn("one", one, wood="holly"),
        drawn("two", two, wood="padauk"),
        drawn("over", patch, wood="holly", grain=90.0),
    ]


LETTERS = {
    "letters H I": [
        letter("h", 40, (0, 0, 9, 50), (31, 0, 9, 50), (0, 20, 40, 10)), letter("i", 110, (0, 0, 10, 50))],
    "letter E": [letter("e", 90, (0, 0, 10, 60), (0, 0, 36, 10), (0, 25, 30, 10), (0, 50, 36, 10))],
    "letter F": [letter("f", 90, (0, 0, 10, 60), (0, 27, 28, 9), (0, 50, 34, 10))],
    "small letters L and T": [
        letter("l", 60, (0, 0, 5, 36), (0, 0, 20, 5)), letter("t", 110, (0, 31, 24, 5), (9.5, 0, 5, 36))],
    "letter O": [drawn("o", ring(120, 90, 26, 16), wood="holly")],
    "letter S": [drawn("s", stroke(
        [(120 + 16 * math.cos(math.radians(a)), 104 + 14 * math.sin(math.radians(a))) for a in range(30, 271, 10)]
        + [(120 + 16 * math.cos(math.radians(a)), 76 + 14 * math.sin(math.radians(a))) for a in range(80, -151, -10)],
        10), wood="holly")],
    "monogram on a tablet": [
        drawn("tablet", shapely.buffer(shapely.box(80, 55, 160, 125), 8), wood="cherry"),
        letter("n", 104, (0, 8, 9, 40), (24, 8, 9, 40), (0, 39, 33, 9))],
}  # fmt: skip

MORE_SOUND: dict[str, Design] = {
    **{name: panel_of(pieces) for name, pieces in LETTERS.items()},
    "flower of five": panel_of(flower(5, 60, 26, 14)),
    "flower of eight": panel_of(flower(8, 70, 24, 20)),
    "stamens": panel_of(stamens(6, 40)),
    "chessboard of 64": panel_of([], **chessboard(8, 30, ("hard maple", "black walnut"))),
    "coin on a chessboard": panel_of(
        [drawn("coin", disc(93, 77, 22), wood="padauk")], **chessboard(6, 30, ("hard maple", "black walnut"))
    ),
    "inlaid squares": panel_of(
        drawn(f"s{i}{j}", shapely.box(40 + 24 * i, 40 + 24 * j, 60 + 24 * i, 60 + 24 * j), wood="holly")
        for i in range(6)
        for j in range(4)
    ),
    "shell of five ribs": panel_of(shell(5)),
    "shell of seven ribs": panel_of(shell(7)),
    "snail": panel_of(
        [
            drawn("foot", shapely.buffer(shapely.linestrings([(70, 58), (165, 58)]), 8), wood="hard maple"),
            drawn("house", disc(115, 84, 30), wood="padauk"),
            drawn("turn", ring(115, 84, 20, 10), wood="holly"),
        ]
    ),
    "skyline": panel_of(skyline([80, 110, 95, 130, 70, 105], 28)),
    "skyline with a moon": panel_of(
        [drawn("moon", disc(160, 125, 22), wood="holly"), *skyline([80, 110, 95, 120, 70], 34)]
    ),
    "feather": panel_of(feather(3)),
    "feather without bars": panel_of(feather(0)),
    "two links": panel_of(over_under(36, 11, 100, 44)),
    "knot of a cross": panel_of(
        [
            drawn("lying", shapely.box(60, 80, 180, 100), wood="holly", grain=0.0),
            drawn("standing", shapely.box(110, 30, 130, 150), wood="padauk", grain=90.0),
        ]
    ),
    "crescent": panel_of([drawn("crescent", disc(120, 90, 40).difference(disc(138, 98, 34)).buffer(-2).buffer(2))]),
    "fish scales": panel_of(
        drawn(f"scale-{i}-{j}", disc(50 + 28 * i + 14 * (j % 2), 130 - 20 * j, 15.5), wood=("holly", "cherry")[j % 2])
        for j in range(4)
        for i in range(5)
    ),
    "waves off both edges": panel_of(
        drawn(
            f"wave-{j}",
            stroke([(x, 50 + 34 * j + 8 * math.sin(x / 20)) for x in np.arange(8, 233, 2.0)], 10),
            wood="holly",
            grain=0.0,
        )
        for j in range(3)
    ),
    "mountains": panel_of(
        [
            drawn("far", shapely.polygons([(20, 4), (90, 130), (160, 4)]).buffer(-3).buffer(3), wood="holly"),
            drawn("near", shapely.polygons([(90, 4), (160, 100), (230, 4)]).buffer(-3).buffer(3), wood="padauk"),
        ]
    ),
    "clover": panel_of(
        [
            *(drawn(f"leaf-{i}", disc(120 + 20 * c, 100 + 20 * s, 19), wood="osage orange")
              for i, (c, s) in enumerate([(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)])),
            drawn("middle", disc(120, 100, 9), wood="holly"),
        ]
    ),
}  # fmt: skip
"""By name."""
