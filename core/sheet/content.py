"""What a piece is cut as: one short word that tells two states of it apart, and the numbers of the cut itself."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..stack.stack import PlacedPiece
from ..woods.species import woods_in

PLACES = 3
"""Decimals of a millimetre that count: rounding in float64 is finer by far, and a cutter coarser."""
HALF = 8
"""The word's first digits tell of the pocket, as many more of the insert."""
THINNED = 0.03
"""How far the outline that is kept of a cut may lie from core's, mm."""
SAME = 0.1
"""Outlines this near to each other are one cut, mm: the thinning and a little more."""
_RING = r"M(?:-?\d+(?:\.\d+)?,-?\d+(?:\.\d+)?(?: |Z))+"


def piece_content(placed: PlacedPiece) -> str:
    """Sixteen hexadecimal digits: eight of the SHA-256 of all that the pocket is made from, eight of the insert's.

    Outline and place, wood and grain, depths, fit, clearance and cutter count; its name and its place in the order
    do not, nor does anything that only pictures show.
    """
    piece = placed.piece
    outline = placed.outline if placed.centre_line is None else shapely.linestrings(placed.centre_line)
    rings = [(np.round(shapely.get_coordinates(part), PLACES) + 0.0).tolist() for part in _lines(outline)]
    both = {"outline": rings, "fit": piece.fit, **_numbers(piece, "taper", "cutter_diameter", "corner_radius")}
    width = getattr(piece.outline, "width", None)
    pocket = both | _numbers(piece, "pocket_depth") | {"width": width}
    insert = both | {"woods": woods_in(piece), "grain": round(placed.grain, PLACES), "leaves": piece.leaves}
    insert |= _numbers(piece, "insert_thickness", "side_clearance", "strip_clearance", "floor_gap") | {"width": width}
    return _word(pocket) + _word(insert)


def _numbers(piece: object, *names: str) -> dict[str, float]:
    return {name: round(getattr(piece, name) + 0.0, 6) for name in names}


def _word(says: dict[str, Any]) -> str:
    text = json.dumps(says, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:HALF]


def _lines(shape: shapely.Geometry) -> list[shapely.Geometry]:
    """The rings of an area, or the line itself."""
    return list(shapely.get_rings(shapely.get_parts(shape))) if shapely.get_dimensions(shape) == 2 else [shape]


@dataclass(frozen=True)
class CutAs:
    """A pocket and an insert in numbers, so that they can be told from what a design says later."""

    outline: str
    """The pocket at the face: rings such as ``M0,0 10,0 10,5Z``, mm on the panel."""
    depth: float
    thickness: float
    taper: float
    clearance: float
    grain: float
    woods: tuple[str, ...]

    @property
    def shape(self) -> BaseGeometry:
        """The pocket at the face."""
        rings = [np.array([point.split(",") for point in ring.split(" ")], float) for ring in _rings(self.outline)]
        solid = [shapely.make_valid(shapely.polygons(ring)) for ring in rings if len(ring) > 2]
        area = shapely.Polygon()
        for ring in solid:  # a ring within another is an island
            area = shapely.symmetric_difference(area, ring)
        return area


def cut_as(placed: PlacedPiece) -> CutAs:
    """A sound piece as it is to be cut."""
    piece = placed.piece
    thin = shapely.simplify(placed.pocket, THINNED)
    rings = (shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(shapely.get_parts(thin)))
    outline = "".join("M" + " ".join(f"{x:.2f},{y:.2f}" for x, y in ring.tolist()) + "Z" for ring in rings)
    return CutAs(
        outline=outline,
        depth=piece.pocket_depth,
        thickness=piece.insert_thickness,
        taper=piece.taper,
        clearance=piece.strip_clearance if piece.is_groove else piece.side_clearance,
        grain=round(placed.grain, PLACES),
        woods=woods_in(piece),
    )


def is_outline(text: object) -> bool:
    """Whether this is the text of an outline."""
    return isinstance(text, str) and bool(re.fullmatch(f"(?:{_RING})*", text)) and (not text or text.endswith("Z"))


def _rings(outline: str) -> list[str]:
    return [ring.removeprefix("M") for ring in outline.split("Z") if ring]


def same_shape(one: BaseGeometry, other: BaseGeometry) -> bool:
    """Whether two pockets are one cut."""
    if one.is_empty or other.is_empty:
        return bool(one.is_empty and other.is_empty)
    return within(one, other) and within(other, one)


def within(one: BaseGeometry, other: BaseGeometry) -> bool:
    """Whether a cut lies inside another."""
    return bool(shapely.covers(shapely.buffer(other, SAME, quad_segs=8), one))
