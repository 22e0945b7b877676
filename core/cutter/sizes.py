"""Cutters in common sizes, and the largest that keeps an outline's detail."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.geometry.base import BaseGeometry

from ..assets import asset
from ..design import Piece, Workshop
from .rounding import boundaries_within, rounded_fit
from .taper import lean

DETAIL = Workshop.detail
"""How far rounding may move a boundary before the maker minds, mm, unless told (common practice)."""


@dataclass(frozen=True)
class Cutter:
    """A straight cutter in a common size."""

    name: str
    diameter: float
    """mm"""


def diameter_text(diameter: float) -> str:
    """A cutter's diameter in mm as it is sold: two decimals, or up to four where they tell more, such as 3.175."""
    whole, part = f"{diameter:.4f}".split(".")
    return f"{whole}.{part.rstrip('0').ljust(2, '0')} mm"


@lru_cache(maxsize=1)
def standard_cutters() -> tuple[Cutter, ...]:
    """Common cutters, thinnest first, from assets/cutters.csv, where each size has its source and mark."""
    path = asset("cutters.csv")
    with path.open(encoding="utf-8", newline="") as file:
        cutters = [Cutter(row["name"], float(row["diameter_mm"])) for row in csv.DictReader(file)]
    return tuple(sorted(cutters, key=lambda cutter: cutter.diameter))


def suggest_cutter(outline: BaseGeometry, tolerance: float = DETAIL, *, lean_at_face: float = 0.0) -> Cutter | None:
    """The largest common cutter whose rounded fit keeps every corner of the outline within a tolerance.

    Args:
        outline: in its own frame, mm, valid.
        tolerance: how far the boundary of the fit may lie from that of the outline, mm.
        lean_at_face: depth x tan(taper) of a tapered pocket: so much larger is the cutter's radius at the face.

    Returns:
        None where not even the thinnest keeps it.
    """
    return None if outline.is_empty else _suggest(outline.wkb, tolerance, lean_at_face)


def suggest_for(outline: BaseGeometry, piece: Piece, tolerance: float = DETAIL) -> Cutter | None:
    """`suggest_cutter` for a piece with its own taper and depth; a groove's is as wide as its line: None."""
    if piece.is_groove:
        return None
    return suggest_cutter(outline, tolerance, lean_at_face=lean(piece.taper, piece.pocket_depth))


@lru_cache(maxsize=1024)
def _suggest(outline_wkb: bytes, tolerance: float, lean_at_face: float) -> Cutter | None:
    outline = shapely.from_wkb(outline_wkb)
    cutters = standard_cutters()
    fitting, failing = -1, len(cutters)  # halving: what a cutter keeps, a thinner one keeps too
    while failing - fitting > 1:
        middle = (fitting + failing) // 2
        if _keeps(outline, cutters[middle].diameter / 2 + lean_at_face, tolerance):
            fitting = middle
        else:
            failing = middle
    return cutters[fitting] if fitting >= 0 else None


def _keeps(outline: BaseGeometry, corner_radius: float, tolerance: float) -> bool:
    fit = rounded_fit(outline, corner_radius)
    return fit is outline or (not fit.is_empty and boundaries_within(outline, fit, tolerance))
