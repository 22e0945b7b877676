"""The test-fit coupon: a small panel made from the workshop's values, to be cut before any panel wood is.

Five inserts of one size at five clearances, an inside corner, a groove for a strip, a leaning piece. What is measured
on it is put into the workshop by hand: see docs/lines.md.
"""

from __future__ import annotations

import math
from dataclasses import fields
from pathlib import Path
from typing import Any

from ..design import Design, Workshop
from ..design_file.reading import FORMAT as DESIGN_FORMAT
from ..design_file.reading import VERSION, design_of
from ..design_file.writing import Document, design_text
from ..stack.stack import build_stack
from .write import Choices, Progress, write_lines

FOLDER, FILE = "coupon", "coupon.panel.json"
COUNT = 5
STEP = 0.05
"""Between two clearances, mm (common practice, no published source)."""
EDGE = 10.0
"""Trimmed off the coupon's edges, mm: in it the groove's ends are out of sight."""
TAPER, PRESSED, GAP_BELOW = 2.0, -0.05, 0.3
"""Taper of the leaning piece where the workshop has none, degrees; its oversize and floor gap, mm (common practice)."""
_OWN = ("depth_error", "taper", "side_clearance", "pocket_depth", "in_hand", "corner_radius")
"""What the coupon says for itself."""


def write_coupon(design: Design, folder: Path, choices: Choices, *, progress: Progress) -> Path:
    """Write a design's coupon and its lines into FOLDER/coupon; returns the path of their table of contents.

    Raises:
        UnusableInput: the workshop's values leave no sound coupon, or the folder cannot be written.
    """
    document = coupon_document(design)
    place = folder / FOLDER
    stack = build_stack(design_of(document, place / FILE))
    return write_lines(stack, place, choices, progress=progress, beside={FILE: design_text(document).encode()})


def clearances(workshop: Workshop) -> list[float]:
    """Five side clearances round the workshop's own, or from 0 where that is small, mm."""
    largest = 0.9 * workshop.cutter_diameter / 2
    step = min(STEP, largest / (COUNT - 1))
    first = max(0.0, min(workshop.side_clearance, largest - 2 * step) - 2 * step)
    return [round(first + n * step, 4) for n in range(COUNT)]


def coupon_document(design: Design) -> Document:
    """The coupon as a design file's JSON value, in the woods of the design."""
    shop = design.workshop
    depth = _depth(shop)
    size = _size(shop)
    gap = max(8.0, shop.min_wall + 4.0)
    width = math.ceil(2 * EDGE + COUNT * size + (COUNT + 1) * gap)
    height = math.ceil(2 * EDGE + 2 * size + 4 * gap + shop.cutter_diameter)
    thickness = max(design.panel.thickness, math.ceil(depth + shop.min_floor))
    panel = {
        "width": width, "height": height, "thickness": thickness, "face_trim": min(design.panel.face_trim, depth / 2),
        "edge_trim": EDGE, "wood": _woods(design)[0],
    }  # fmt: skip
    document: Document = {
        "format": f"{DESIGN_FORMAT}/{VERSION}",
        "title": "Test-fit coupon",
        "panel": panel,
        "workshop": _workshop(shop, depth),
        "pieces": _pieces(design, size, gap, width),
    }
    return document


def _depth(shop: Workshop) -> float:
    """The workshop's pocket depth, or what its cutter reaches."""
    if shop.cutter_length is None:
        return shop.pocket_depth
    return min(shop.pocket_depth, max(0.5, shop.cutter_length - shop.proud))


def _size(shop: Workshop) -> float:
    """Width of a piece, mm: wide enough to measure, and that no part of it is a neck."""
    return float(math.ceil(max(24.0, 8 * shop.cutter_diameter, 7 * shop.min_neck)))


def _workshop(shop: Workshop, depth: float) -> dict[str, Any]:
    values = {
        each.name: getattr(shop, each.name)
        for each in fields(Workshop)
        if each.name not in _OWN and getattr(shop, each.name) != each.default
    }
    return values | {"pocket_depth": depth, "side_clearance": clearances(shop)[2]}


def _woods(design: Design) -> list[str]:
    """The background's first wood, then those of the pieces; of a wood of the maker's own the species it is like."""
    like = {wood.name: wood.looks_like for wood in design.woods}
    panel = design.panel
    first = panel.wood or (panel.strips[0].segments[0].wood if panel.strips else "")
    named = dict.fromkeys(like.get(wood, wood) for wood in (first, *(piece.wood for piece in design.pieces)))
    return list(named)


def _pieces(design: Design, size: float, gap: float, width: float) -> list[dict[str, Any]]:
    shop = design.workshop
    woods = _woods(design)[1:] or _woods(design)
    square = [[0, 0], [size, 0], [size, size], [0, size]]
    corner = [[0, 0], [size, 0], [size, size / 2], [size / 2, size / 2], [size / 2, size], [0, size]]
    low, high = EDGE + gap, EDGE + 2 * gap + size
    pieces: list[dict[str, Any]] = [
        {
            "id": f"gap-{clearance:.4f}".rstrip("0").replace(".", "-").rstrip("-"),
            "outline": {"polygon": square},
            "at": [round(EDGE + gap + number * (size + gap), 4), high],
            "side_clearance": clearance,
        }
        for number, clearance in enumerate(clearances(shop))
    ]
    pieces.append({"id": "inside-corner", "outline": {"polygon": corner}, "at": [EDGE + gap, low]})
    pieces.append(
        {"id": "leaning", "outline": {"polygon": square}, "at": [EDGE + 2 * gap + size, low], **_leaning(shop)}
    )
    for piece, number in zip(pieces, range(len(pieces)), strict=True):
        piece |= {"wood": woods[number % len(woods)], "grain": 0}
    y = high + size + gap + shop.cutter_diameter / 2
    inset = shop.cutter_diameter / 2 + 1
    line = [[inset, y], [width - inset, y]]
    groove = {"id": "groove", "wood": woods[-1], "outline": {"line": line, "width": shop.cutter_diameter}}
    return [*pieces, groove]


def _leaning(shop: Workshop) -> dict[str, float]:
    """The leaning piece: as the workshop leans, or else a little oversize, to be pressed in."""
    if shop.taper:
        return {"taper": shop.taper, "side_clearance": shop.side_clearance, "floor_gap": max(shop.floor_gap, GAP_BELOW)}
    return {"taper": TAPER, "side_clearance": PRESSED, "floor_gap": max(shop.floor_gap, GAP_BELOW)}
