"""What is cut: for each batch the lines of its pockets and of its inserts, in the plane that the cutter's tip runs in.

The cutter runs along one side of each line, which the line's layer names; the clearance is in the lines already. Where
walls lean, the tip of a tapered cutter cuts less than the cutter further up, so a pocket's line is its section at its
floor. A leaning insert is sawn face down: its face lies on the table, which is where the tip runs, so its line is its
section at its top, seen from the back: a mirror image.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..cutter.sizes import diameter_text
from ..cutter.taper import section_at
from ..design import Piece
from ..stack.stack import PlacedPiece, Stack

Array = npt.NDArray[np.float64]
Layer = Literal["POCKET_EDGE", "POCKET_ISLAND", "INSERT_HOLE", "INSERT_EDGE", "GROOVE_CENTRE"]
LAYERS: dict[Layer, str] = {
    "POCKET_EDGE": "cutter inside the line",
    "POCKET_ISLAND": "cutter outside the line",
    "INSERT_HOLE": "cutter inside the line, and before the edge",
    "INSERT_EDGE": "cutter outside the line",
    "GROOVE_CENTRE": "cutter's middle on the line, in as many passes of depth as the cutter's maker asks for",
}
"""Every layer that is cut, in the order of work, and the side on which its cutter runs."""
NOTES = "NOTES"
"""The layer of words and marks, which is never cut."""


PLACES = 4
"""Decimals of a depth: less is the same to every machine."""

_UPRIGHT, _THERE = np.eye(2), np.zeros(2)


@dataclass(frozen=True, order=True)
class Setup:
    """What lines have in common that are cut with one cutter to one depth."""

    depth: float
    """A pocket's below the raw face; for an insert the thickness of its blank, which the cutter goes through. mm."""
    diameter: float
    """The cutter's, of a tapered one its tip's, mm."""
    taper: float
    """The cutter's, degrees per side."""

    @property
    def name(self) -> str:
        """A part of names in files."""
        leans = f"-taper-{self.taper:g}" if self.taper else ""
        return f"{self.depth_text}-cutter-{self.diameter:g}{leans}"

    @property
    def depth_text(self) -> str:
        """With two decimals, or as many as tell it from another depth."""
        text = f"{self.depth:.{PLACES}f}"
        return text.rstrip("0") if not text.endswith("00") else text[: 2 - PLACES]

    @property
    def cutter(self) -> str:
        """The cutter in words."""
        if not self.taper:
            return f"cutter {diameter_text(self.diameter)}"
        return f"tapered cutter, {self.taper:g}° per side, {diameter_text(self.diameter)} at its tip"


@dataclass(frozen=True, eq=False)
class Line:
    """One line that is cut: where it lies on the panel, and from there to where it is drawn."""

    layer: Layer
    source: Array
    """(n, 2), mm, on the panel, seen from the face; closed (last point first) but for a groove's."""
    name: str
    """What it is and of which piece: no other line of its file has this name."""
    setup: Setup
    turn: Array = field(default_factory=lambda: _UPRIGHT)
    """(2, 2), a turn or a mirror image."""
    shift: Array = field(default_factory=lambda: _THERE)
    """(2,), mm."""

    @property
    def points(self) -> Array:
        """The line as it is drawn, (n, 2)."""
        return self.source @ self.turn.T + self.shift


@dataclass(frozen=True, eq=False)
class PocketCut:
    """One pocket, where it lies on the panel."""

    placed: PlacedPiece
    lines: tuple[Line, ...]
    shape: BaseGeometry
    """What its lines bound, in the tip's plane; of a groove the groove."""
    depth: float
    """How far the tip goes below the raw face, mm."""

    @property
    def setup(self) -> Setup:
        """How it is cut."""
        return _setup(self.depth, self.placed.piece)

    @property
    def plane(self) -> str:
        """Where the lines are the pocket's outline."""
        return "at the pocket's floor" if self.placed.piece.taper else "at every depth"


@dataclass(frozen=True, eq=False)
class InsertCut:
    """One part of an insert, where it lies on the panel, seen from the face."""

    placed: PlacedPiece
    part: int
    parts: int
    lines: tuple[Line, ...]
    shape: BaseGeometry
    """What its lines bound, in the tip's plane."""

    @property
    def name(self) -> str:
        """The piece's id, and which part of it this is, where there are several."""
        return self.placed.piece.id if self.parts == 1 else f"{self.placed.piece.id} ({self.part + 1} of {self.parts})"

    @property
    def thickness(self) -> float:
        """mm; the cut goes through."""
        return self.placed.piece.insert_thickness

    @property
    def setup(self) -> Setup:
        """How it is cut."""
        return _setup(self.thickness, self.placed.piece)

    @property
    def face_down(self) -> bool:
        """Whether it is sawn with its face on the table, and so drawn as a mirror image."""
        return self.placed.piece.taper > 0

    @property
    def plane(self) -> str:
        """Where the lines are the insert's outline."""
        return "at the insert's face, which lies on the table" if self.face_down else "at every height"


@dataclass(frozen=True, eq=False)
class Batch:
    """All that is cut for one batch."""

    number: int
    """From 1."""
    pockets: tuple[PocketCut, ...]
    inserts: tuple[InsertCut, ...]

    @property
    def cuts(self) -> tuple[PocketCut | InsertCut, ...]:
        """Pockets, then inserts."""
        return (*self.pockets, *self.inserts)


def all_cuts(stack: Stack) -> list[Batch]:
    """What is cut, batch by batch."""
    return [batch_cuts(stack, number) for number in range(1, len(stack.batches) + 1)]


def batch_cuts(stack: Stack, number: int) -> Batch:
    """What is cut for a batch (from 1)."""
    return Batch(number, tuple(pocket_cuts(stack, number)), tuple(insert_cuts(stack, number)))


def pocket_cuts(stack: Stack, batch: int) -> list[PocketCut]:
    """The pockets of a batch (from 1), in design order."""
    return [_pocket(stack.pieces[index]) for index in stack.batches[batch - 1]]


def insert_cuts(stack: Stack, batch: int) -> list[InsertCut]:
    """The inserts of a batch (from 1), part by part; strips for grooves are not sawn along lines and left out."""
    pieces = [stack.pieces[index] for index in stack.batches[batch - 1]]
    return [cut for placed in pieces if not placed.piece.is_groove for cut in _inserts(placed)]


def _pocket(placed: PlacedPiece) -> PocketCut:
    piece = placed.piece
    setup = _setup(piece.pocket_depth, piece)
    if piece.is_groove:
        assert placed.centre_line is not None
        name = _name("GROOVE_CENTRE", placed, 1)
        lines: tuple[Line, ...] = (Line("GROOVE_CENTRE", placed.centre_line, name, setup),)
        return PocketCut(placed, lines, placed.pocket, piece.pocket_depth)
    floor = section_at(placed.pocket, piece.taper, piece.pocket_depth)
    lines = tuple(_rings(floor, "POCKET_EDGE", "POCKET_ISLAND", placed, setup, Counter()))
    return PocketCut(placed, lines, floor, piece.pocket_depth)


def _setup(depth: float, piece: Piece) -> Setup:
    return Setup(round(depth, PLACES), piece.cutter_diameter, piece.taper)


def _inserts(placed: PlacedPiece) -> list[InsertCut]:
    shapes = shapely.get_parts(section_at(placed.insert, placed.piece.taper, -placed.top))
    count, setup = Counter[Layer](), _setup(placed.piece.insert_thickness, placed.piece)
    return [
        InsertCut(
            placed, part, len(shapes), tuple(_rings(shape, "INSERT_EDGE", "INSERT_HOLE", placed, setup, count)), shape
        )
        for part, shape in enumerate(shapes)
    ]


def _rings(
    shape: BaseGeometry, edge: Layer, hole: Layer, placed: PlacedPiece, setup: Setup, count: Counter[Layer]
) -> Iterator[Line]:
    """Outer rings counter-clockwise, holes clockwise; `count` goes on with each."""
    for polygon in shapely.get_parts(shapely.orient_polygons(shape)):
        for layer, ring in ((edge, polygon.exterior), *((hole, ring) for ring in polygon.interiors)):
            count[layer] += 1
            yield Line(layer, shapely.get_coordinates(ring), _name(layer, placed, count[layer]), setup)


def _name(layer: Layer, placed: PlacedPiece, number: int) -> str:
    """A name that begins with a letter, as names in XML must; an id has no dot, so that no two are the same."""
    return f"{layer.lower().replace('_', '-')}.{placed.piece.id}" + (f".{number}" if number > 1 else "")
