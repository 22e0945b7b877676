"""A little design for each finding, which shows it and nothing else that is worse than a note, and its cure.

Where the finding has a remedy of one step, taking that is the cure; else `cured` is what its remedy says to draw.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

Entry = dict[str, Any]
Document = dict[str, Any]


@dataclass(frozen=True)
class Example:
    """A finding's design and its cure, and how to look at it."""

    design: Document
    cured: Document | None = None
    """None where the finding's step cures it, or nothing that is drawn does."""
    seen: Literal["above", "cut"] = "above"
    """From above, or cut open."""
    reach: float = 22.0
    """Half the height of what the picture shows, mm."""
    drawn: bool = False
    """Whether the outlines as drawn are laid over the wood, for what the cutter or a later piece makes of them."""


def _design(*pieces: Entry, workshop: Mapping[str, Any] | None = None, **panel: Any) -> Document:
    board = {"width": 120, "height": 80, "thickness": 19, "face_trim": 0.5, "edge_trim": 5}
    wood = {} if "strips" in panel else {"wood": "black walnut"}
    return {
        "format": "grainstack-panel/1",
        "panel": {**board, **wood, **panel},
        "workshop": dict(workshop or {}),
        "pieces": [{"wood": "hard maple", **piece} for piece in pieces],
    }


def _box(name: str, x: float, y: float, width: float, height: float, **keys: Any) -> Entry:
    corners = [[x, y], [x + width, y], [x + width, y + height], [x, y + height]]
    return {"id": name, "outline": {"polygon": corners}, **keys}


def _drawn(name: str, *points: tuple[float, float], **keys: Any) -> Entry:
    """About the panel's middle."""
    return {"id": name, "outline": {"polygon": [list(point) for point in points]}, "at": [60, 40], **keys}


def _circle(radius: float, x: float = 0, sweep: int = 0) -> str:
    left, right = x - radius, x + radius
    return f"M {left} 0 A {radius} {radius} 0 0 {sweep} {right} 0 A {radius} {radius} 0 0 {sweep} {left} 0 Z"


def _disc(name: str, radius: float, x: float = 60, y: float = 40, **keys: Any) -> Entry:
    return {"id": name, "outline": {"path": _circle(radius)}, "at": [x, y], **keys}


def _ring(name: str, outer: float, inner: float, **keys: Any) -> Entry:
    return {"id": name, "outline": {"path": f"{_circle(outer)} {_circle(inner, sweep=1)}"}, "at": [60, 40], **keys}


def _bone(name: str, neck: float, **keys: Any) -> Entry:
    """Two squares of 20 mm, 20 mm apart, and a bar between them."""
    half, end = neck / 2, 10.0
    right = [(10, -half), (10, -end), (30, -end), (30, end), (10, end), (10, half)]
    left = [(-x, -y) for x, y in right]
    return _drawn(name, *right, *left, **keys)


def _kite(angle: float, **keys: Any) -> Entry:
    """Its right tip has this angle, in degrees."""
    return _drawn("kite", (-14, 0), (-4, -9), (-4 + 9 / math.tan(math.radians(angle / 2)), 0), (-4, 9), **keys)


def _notched(angle: float) -> Entry:
    """A box with a notch of this angle, in degrees, 12 mm deep."""
    half = 12 * math.tan(math.radians(angle / 2))
    return _drawn("leaf", (-22, -14), (22, -14), (22, 14), (half, 14), (0, 2), (-half, 14), (-22, 14))


def _fork(bay: float) -> Entry:
    """Two arms of 16 mm with a bay between them, 20 mm deep."""
    half = bay / 2
    return _drawn("fork", (-half - 16, -15), (half + 16, -15), (half + 16, 15), (half, 15), (half, -5), (-half, -5),
                  (-half, 15), (-half - 16, 15))  # fmt: skip


def _hair_strip(width: float) -> list[Entry]:
    """Two wide strips with a narrow one between them."""
    woods = (("black walnut", 60.0), ("hard maple", width), ("black walnut", 60 - width))
    return [{"width": size, "wood": wood} for wood, size in woods]


def _groove(name: str, *points: tuple[float, float], **keys: Any) -> Entry:
    line = {"line": [list(point) for point in points], "width": 3.175, "smooth": True}
    return {"id": name, "outline": line, **keys}


_TWO_STRIPS = [{"width": 60, "wood": "black walnut"}, {"width": 60, "wood": "cherry"}]
_PATCH = _disc("patch", 12, pocket_depth=5.7, wood="padauk")
_BOW_TIE, _STRAIGHT = [(-20, -12), (20, 12), (20, -12), (-20, 12)], [(-20, -12), (20, -12), (20, 12), (-20, 12)]

EXAMPLES: dict[str, Example] = {
    "bad-outline": Example(_design(_drawn("bow", *_BOW_TIE)), _design(_drawn("bow", *_STRAIGHT)), drawn=True),
    "empty-fit": Example(_design(_box("reed", 30, 38.5, 60, 3)), _design(_box("reed", 30, 38.5, 60, 6)), drawn=True),
    "unknown-wood": Example(_design(_disc("moon", 16, wood="paduk"))),
    "outside-panel": Example(
        _design(_disc("moon", 16, x=10), edge_trim=0), _design(_disc("moon", 16, x=26), edge_trim=0), drawn=True
    ),
    "floor-too-thin": Example(_design(_disc("moon", 16, pocket_depth=16, cutter_diameter=6)), seen="cut"),
    "not-proud": Example(_design(_disc("moon", 16, insert_thickness=4)), seen="cut"),
    "trimmed-away": Example(
        _design(_disc("moon", 16, pocket_depth=1.5), face_trim=2),
        _design(_disc("moon", 16, pocket_depth=4), face_trim=2),
        seen="cut",
    ),
    "cutter-too-big": Example(_design(_kite(40)), _design(_kite(70)), reach=14, drawn=True),
    "notch-filled": Example(_design(_notched(35)), _design(_notched(75)), reach=14, drawn=True),
    "corners-rounded": Example(_design(_box("tile", 40, 28, 40, 24)), reach=10, drawn=True),
    "binds": Example(_design(_box("tile", 40, 28, 40, 24, fit="as-drawn")), reach=10, drawn=True),
    "meeting-edges": Example(_design(_disc("moon", 14, x=45.6), _disc("sun", 14, x=74, wood="padauk")), reach=10),
    "thin-wall": Example(_design(_disc("moon", 14, x=45), _disc("sun", 14, x=74.7, wood="padauk")), reach=12),
    "thin-skin": Example(_design(_disc("moon", 22), _PATCH), seen="cut"),
    "thin-neck": Example(
        _design(_bone("bone", 2.6), workshop={"cutter_diameter": 2}),
        _design(_bone("bone", 4), workshop={"cutter_diameter": 2}),
    ),
    "short-grain": Example(_design(_bone("bone", 5, grain=90, wood="zebrawood"))),
    "fragile-island": Example(_design(_ring("ring", 20, 2.5))),
    "hidden-piece": Example(
        _design(_disc("moon", 8), _disc("cloud", 16, wood="padauk")),
        _design(_disc("cloud", 16, wood="padauk"), _disc("moon", 8, pocket_depth=4)),
        drawn=True,
    ),
    "loose-remnant": Example(
        _design(_box("bar", 28, 35, 57, 10), _disc("moon", 30, x=60, wood="padauk")),
        _design(_box("bar", 28, 35, 57, 10), _disc("moon", 30, x=70, wood="padauk")),
        reach=34,
        drawn=True,
    ),
    "strip-bend": Example(
        _design(_groove("reed", (15, 2.5), (35, 45), (60, 58), (85, 45), (105, 2.5), wood="yellow-poplar")),
        _design(_groove("reed", (20, 2.5), (60, 40), (100, 77.5), wood="yellow-poplar")),
        reach=34,
    ),
    "strip-end-shows": Example(
        _design(_groove("reed", (20, 2.5), (60, 40))), _design(_groove("reed", (20, 2.5), (100, 77.5)))
    ),
    "joint-under-edge": Example(_design(_box("tile", 60.5, 25, 36, 30), strips=_TWO_STRIPS), reach=18),
    "too-deep-for-cutter": Example(_design(_disc("moon", 16), workshop={"cutter_length": 7}), seen="cut"),
    "blank-too-narrow": Example(
        _design(_disc("moon", 30, grain=0), workshop={"board_width": 50}), reach=34, drawn=True
    ),
    "low-contrast": Example(
        _design(_disc("moon", 16, wood="sapele"), wood="bubinga", workshop={"in_hand": ["hard maple"]})
    ),
    "colour-bleed": Example(_design(_disc("moon", 16, wood="holly"), wood="padauk")),
    "movement": Example(
        _design(_box("bar", 48, 9, 24, 62, grain=90)), _design(_box("bar", 48, 9, 24, 62, grain=0)), reach=34
    ),
    "moisture-play": Example(_design(_disc("moon", 32, grain=0)), reach=34),
    "thin-insert": Example(_design(_disc("moon", 16, pocket_depth=0.9)), seen="cut"),
    "thick-insert": Example(
        _design(_disc("moon", 16, pocket_depth=24, cutter_diameter=6), thickness=40),
        _design(_disc("moon", 16, pocket_depth=20, cutter_diameter=6), thickness=40),
        seen="cut",
    ),
    "many-thicknesses": Example(
        _design(*(_disc(f"moon-{i}", 7, x=20 + 20 * i, pocket_depth=4 + i) for i in range(5))),
        _design(*(_disc(f"moon-{i}", 7, x=20 + 20 * i, pocket_depth=6) for i in range(5))),
        seen="cut",
    ),
    "wedge-stuck": Example(_design(_disc("moon", 16, taper=1, side_clearance=-0.5)), seen="cut"),
    "odd-clearance": Example(_design(_disc("moon", 16, side_clearance=0.7)), reach=12),
    "slender-cutter": Example(
        _design(_disc("moon", 16, pocket_depth=12, cutter_diameter=2)),
        _design(_disc("moon", 16, pocket_depth=12, cutter_diameter=6)),
        seen="cut",
    ),
    "small-strip": Example(_design(strips=_hair_strip(1)), _design(strips=_hair_strip(2))),
    "small-part": Example(_design(_disc("moon", 1.9)), _design(_disc("moon", 4)), reach=10),
    "repeated": Example(_design(_disc("moon", 16, x=50), _disc("sun", 16, x=74, wood="padauk", after=["moon"]))),
    "dust-stain": Example(_design(_disc("moon", 16, wood="osage orange")), _design(_disc("moon", 16))),
    "groove-crosses": Example(
        _design(_groove("one", (2.5, 40), (117.5, 40)), _groove("two", (2.5, 25), (117.5, 55))),
        _design(_groove("one", (2.5, 40), (117.5, 40)), _groove("two", (40, 2.5), (80, 77.5))),
    ),
    "cross-grain": Example(
        _design(_disc("ground", 34, grain=0), _disc("moon", 28, grain=90, pocket_depth=4, wood="cherry")),
        _design(_disc("ground", 34, grain=0), _disc("moon", 28, grain=0, pocket_depth=4, wood="cherry")),
        reach=34,
    ),
    "frame-too-tight": Example(
        _design(_disc("moon", 16)) | {"frame": {"reveal": 0.2}}, _design(_disc("moon", 16)) | {"frame": {"reveal": 2}}
    ),
    "fragile-peninsula": Example(_design(_fork(4))),
    "edge-sliver": Example(_design(_box("tile", 30, 5.4, 60, 30)), reach=12),
}
"""Designs by the finding's code."""
WITHOUT_PICTURE = frozenset(
    {
        "thin-insert", "thick-insert", "many-thicknesses", "wedge-stuck", "odd-clearance", "slender-cutter",
        "small-strip", "small-part", "repeated", "dust-stain", "groove-crosses", "cross-grain", "frame-too-tight",
    }
)  # fmt: skip
"""Codes whose pictures are not made yet."""
