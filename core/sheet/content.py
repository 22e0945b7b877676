"""What a piece is cut as, in one short word: it changes with anything that would make another pocket or insert."""

from __future__ import annotations

import hashlib
import json

import numpy as np
import shapely

from ..stack.stack import PlacedPiece
from ..woods.species import woods_in

PLACES = 3
"""Decimals of a millimetre that count: rounding in float64 is finer by far, and a cutter coarser."""


def piece_content(placed: PlacedPiece) -> str:
    """Sixteen hexadecimal digits of the SHA-256 of all that its pocket and insert are made from.

    Outline and place, wood and grain, depths, fit, clearance and cutter count; its name and its place in the order
    do not, nor does anything that only pictures show.
    """
    piece = placed.piece
    outline = placed.outline if placed.centre_line is None else shapely.linestrings(placed.centre_line)
    rings = [(np.round(shapely.get_coordinates(part), PLACES) + 0.0).tolist() for part in _lines(outline)]
    says = {
        "outline": rings,
        "woods": woods_in(piece),
        "grain": round(placed.grain, PLACES),
        "fit": piece.fit,
        "leaves": piece.leaves,
        "numbers": [
            round(value + 0.0, 6)
            for value in (
                piece.pocket_depth,
                piece.insert_thickness,
                piece.side_clearance,
                piece.strip_clearance,
                piece.taper,
                piece.floor_gap,
                piece.cutter_diameter,
                piece.corner_radius,
            )
        ],
    }
    text = json.dumps(says, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _lines(shape: shapely.Geometry) -> list[shapely.Geometry]:
    """The rings of an area, or the line itself."""
    return list(shapely.get_rings(shapely.get_parts(shape))) if shapely.get_dimensions(shape) == 2 else [shape]
