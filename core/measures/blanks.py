"""Blanks: the flat pieces of wood that inserts are sawn from, and whether board and cutter are large enough."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..cutter.taper import lean
from ..design import Piece, Point
from ..stack.stack import PlacedPiece, Stack
from ..witness import inside
from .grooves import strip_length, strip_thickness

ROUNDING = 1e-9


@dataclass(frozen=True)
class Blank:
    """What one part of an insert takes, without any margin. `piece` is an index into the stack."""

    piece: int
    part: int
    """A piece of several parts needs no blank as wide as all of them."""
    along: float
    """Extent along the grain, mm."""
    across: float
    """Extent across the grain, in the board's face, mm; of a groove's strip its size across the groove."""
    thickness: float
    grain: float
    """Direction of the grain on the blank, seen from its face, degrees from +x of the drawing laid on it."""
    mirrored: bool
    """Sawn face down: outline and grain are mirrored (x to -x) on the blank."""
    is_strip: bool
    shape: BaseGeometry
    """The part, at the face, where it lies on the panel."""

    @property
    def at(self) -> Point:
        """A point inside the part, on the panel."""
        return inside(self.shape)


@dataclass(frozen=True)
class Reach:
    """A cut deeper than the cutter is long. `piece` is an index into the stack."""

    piece: int
    what: Literal["pocket", "insert"]
    depth: float
    at: Point


def blanks(stack: Stack) -> Iterator[Blank]:
    """The blanks of all inserts as sawn, by design order."""
    for placed in stack.pieces:
        if placed.sound:
            yield from _blanks(placed)


def _blanks(placed: PlacedPiece) -> Iterator[Blank]:
    return _strip(placed) if placed.piece.is_groove else _sawn(placed)


def _strip(placed: PlacedPiece) -> Iterator[Blank]:
    length, across, thickness = strip_length(placed), strip_thickness(placed), placed.piece.insert_thickness
    yield Blank(placed.index, 0, length, across, thickness, 0.0, False, True, placed.insert)


def _sawn(placed: PlacedPiece) -> Iterator[Blank]:
    """One blank per part; a tapered insert is largest at its top."""
    piece = placed.piece
    mirrored = piece.taper > 0
    grain = (180.0 - placed.grain if mirrored else placed.grain) % 180.0
    for n, part in enumerate(shapely.get_parts(placed.insert)):
        along, across = _extents(placed, part, placed.grain)
        yield Blank(placed.index, n, along, across, piece.insert_thickness, grain, mirrored, False, part)


def _extents(placed: PlacedPiece, part: BaseGeometry, grain: float) -> tuple[float, float]:
    """Along and across a grain direction; mm."""
    angle = -math.radians(grain)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    wider = 2 * lean(placed.piece.taper, placed.top)
    along, across = np.ptp(shapely.get_coordinates(part.exterior) @ turn.T, axis=0) + wider
    return float(along), float(across)


def board_needed(placed: PlacedPiece, grain: float) -> float:
    """How wide a board the insert takes, part by part, if its grain ran in that direction; mm."""
    return max(_extents(placed, part, grain)[1] for part in shapely.get_parts(placed.insert))


def too_wide_blanks(stack: Stack, board_width: float) -> list[Blank]:
    """Blanks wider across the grain than a board, or than the leaves that the piece says it is glued from."""
    pieces = [placed for placed in stack.pieces if placed.sound]
    sizes = shapely.bounds([placed.insert for placed in pieces]).reshape(-1, 4)
    longest = np.hypot(*(sizes[:, 2:] - sizes[:, :2]).T) + [2 * lean(p.piece.taper, p.top) for p in pieces]
    large = [placed for placed, size in zip(pieces, longest, strict=True) if size > board_width]
    return [
        blank
        for placed in large
        for blank in _blanks(placed)
        if _widest_part(placed.piece, blank.across) > board_width + ROUNDING
    ]


def _widest_part(piece: Piece, across: float) -> float:
    """The widest leaf or stripe that a blank so wide is glued from, mm."""
    if piece.blank is not None:
        return min(across, max(stripe.width for stripe in piece.blank.stripes))
    return across / piece.leaves


def leaves(blank: Blank, board_width: float) -> int:
    """How many leaves of a board, glued edge to edge, make the blank."""
    return max(1, math.ceil((blank.across - ROUNDING) / board_width))


def too_deep_cuts(stack: Stack, cutter_length: float | None) -> list[Reach]:
    """Pockets deeper, and inserts thicker, than the cutter's cutting length; none where that is not known."""
    if cutter_length is None:
        return []
    found = []
    for placed in stack.pieces:
        cuts: tuple[tuple[Literal["pocket", "insert"], float], ...] = (
            ("pocket", placed.piece.pocket_depth),
            ("insert", placed.piece.insert_thickness),
        )
        for what, depth in cuts:
            if placed.sound and depth > cutter_length + ROUNDING and not (what == "insert" and placed.piece.is_groove):
                found.append(Reach(placed.index, what, depth, inside(placed.insert)))
    return found
