"""How wood swells and shrinks as its moisture changes, and what that does to a panel.

Formulas of the Wood Handbook, FPL-GTR-190 (2010): from the green size at 30 % down to oven-dry wood shrinks in a
straight line (chapter 4), and between 6 and 14 % one coefficient will do (chapter 13). Shrinkage is in % of the green
size, moisture in % of the dry weight, lengths in mm; a positive change is swelling.

A panel is taken to move as its background would alone: inserts are thin and glued to it. Of several woods in one
strip the mean counts, by length, and strips add up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..design import Design, Workshop
from ..stack.stack import PlacedPiece, Stack
from ..woods.moisture import equilibrium_moisture
from ..woods.species import Species, find_wood, wood_of_piece
from .grain_strength import off_grain

Array = npt.NDArray[np.float64]
Cut = Literal["quarter-sawn", "flat-sawn"]
CUTS: tuple[Cut, ...] = ("quarter-sawn", "flat-sawn")

SATURATED = 30.0
"""Moisture in % from which on wood no longer swells."""
ALONG = 0.15
"""Shrinkage along the grain, %: 0.1 to 0.2 in straight-grained wood (Wood Handbook, chapter 4; from memory)."""


def coefficient(shrinkage: float) -> float:
    """Change of size per % of moisture, as a share of the size at 10 % (Wood Handbook, table 13-5)."""
    return shrinkage / 3000 / (1 - shrinkage * (SATURATED - 10) / 3000)


def change_by_coefficient(size: float, per_percent: float, before: float, after: float) -> float:
    """Change of a size between two moistures from 6 to 14 %."""
    return size * per_percent * (after - before)


def shrunk(shrinkage: float, moisture: float) -> float:
    """% of its green size that wood has lost at a moisture from 0 to 30 %."""
    return shrinkage * (SATURATED - moisture) / SATURATED


def change(size: float, shrinkage: float, before: float, after: float) -> float:
    """Change of a size that was taken at the moisture `before`; any two moistures from 0 to 30 %."""
    return size * (after - before) / (100 * SATURATED / shrinkage - SATURATED + before)


def across(wood: Species, cut: Cut) -> float:
    """Shrinkage across the width of a board: along the growth rings where it is flat-sawn, else across them."""
    return wood.shrinkage_tangential if cut == "flat-sawn" else wood.shrinkage_radial


def in_direction(wood: Species, cut: Cut, off_grain: float) -> float:
    """Shrinkage of a board in a direction so many degrees off its grain: small strains turn like a tensor."""
    return turned(across(wood, cut), off_grain)


def turned(shrinkage: float, off_grain: float) -> float:
    """What a shrinkage across the grain is in a direction so many degrees off the grain."""
    c, s = math.cos(math.radians(off_grain)), math.sin(math.radians(off_grain))
    return ALONG * c * c + shrinkage * s * s


# --- The panel ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Climate:
    """The air that a panel lives in, dry and damp season, and what wood comes to in it."""

    humidity_low: float
    humidity_high: float
    temperature: float
    """°C"""

    @cached_property
    def dry(self) -> float:
        """Moisture in the dry season, %."""
        return float(equilibrium_moisture(self.temperature, self.humidity_low))

    @cached_property
    def damp(self) -> float:
        """Moisture in the damp season, %."""
        return float(equilibrium_moisture(self.temperature, self.humidity_high))


@dataclass(frozen=True)
class PanelMovement:
    """How much larger the trimmed panel is in the damp season than in the dry one, mm."""

    size: tuple[float, float]
    """Trimmed, in x and y."""
    climate: Climate
    quarter_sawn: tuple[float, float]
    """In x and y, if every board of the background were quarter-sawn."""
    flat_sawn: tuple[float, float]

    @property
    def frame_room(self) -> tuple[float, float]:
        """Room in x and y, both sides together, that a frame must leave a panel put in at its driest."""
        return max(self.quarter_sawn[0], self.flat_sawn[0]), max(self.quarter_sawn[1], self.flat_sawn[1])


def climate(workshop: Workshop) -> Climate:
    """The climate that a workshop names."""
    return Climate(workshop.humidity_low, workshop.humidity_high, workshop.temperature)


def panel_movement(stack: Stack) -> PanelMovement | None:
    """What the seasons do to the trimmed panel; None where some wood of its background is unknown."""
    shrinkages = {cut: background_shrinkage(stack, cut) for cut in CUTS}
    quarter, flat = shrinkages["quarter-sawn"], shrinkages["flat-sawn"]
    if quarter is None or flat is None:
        return None
    air = climate(stack.design.workshop)
    size = trimmed_size(stack.design)

    def swelling(shrinkage: tuple[float, float]) -> tuple[float, float]:
        x, y = (change(length, each, air.dry, air.damp) for length, each in zip(size, shrinkage, strict=True))
        return x, y

    return PanelMovement(size, air, swelling(quarter), swelling(flat))


def trimmed_size(design: Design) -> tuple[float, float]:
    """The finished panel's size in x and y, mm."""
    panel = design.panel
    left, right, bottom, top = panel.edge_trim
    return panel.width - left - right, panel.height - bottom - top


def background_shrinkage(stack: Stack, cut: Cut) -> tuple[float, float] | None:
    """Mean shrinkage of the finished panel's background in x and y, %; None where a wood is unknown."""
    mean = mean_across(stack, cut)
    if mean is None:
        return None
    grain = stack.background[0].grain
    return turned(mean, grain), turned(mean, 90.0 - grain)


def mean_across(stack: Stack, cut: Cut) -> float | None:
    """Mean shrinkage across the grain of the finished panel's background, %, by area; None where a wood is unknown."""
    areas = [part.box.intersection(stack.finished_box).area for part in stack.background]
    woods = [find_wood(part.wood, stack.design.woods) for part in stack.background]
    if None in woods:
        return None
    shrinkages = [across(wood, cut) for wood in woods if wood is not None]
    return math.fsum(a * s for a, s in zip(areas, shrinkages, strict=True)) / math.fsum(areas)


# --- Inserts in their background ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Strain:
    """How much more the background wants to move than an insert in it, from season to season."""

    piece: int
    """Index into the stack."""
    size: float
    """Extent of the insert's largest part in that direction, mm."""
    difference: float
    """mm; negative where the insert wants to move more."""
    off_grain: float
    """How far the insert's grain lies off the background's, 0 to 90 degrees."""


def strains(stack: Stack) -> list[Strain]:
    """For each piece that is seen its strain along the background's grain or across it, whichever is worse.

    All wood is taken as flat-sawn, which moves most. A groove's strip is thin and bends.
    """
    mean = mean_across(stack, "flat-sawn")
    if mean is None:
        return []
    air, ground = climate(stack.design.workshop), stack.background[0].grain
    pieces = _sawn(stack)
    found = []
    for direction in (ground, ground + 90.0):
        sizes = extents([stack.remnants[p.index] for p in pieces], direction)
        for placed, size in zip(pieces, sizes, strict=True):
            wood = wood_of_piece(placed.piece, stack.design.woods)
            if wood is not None:
                own = in_direction(wood, "flat-sawn", direction - placed.grain)
                both = [change(size, each, air.dry, air.damp) for each in (turned(mean, direction - ground), own)]
                off = float(off_grain(placed.grain, ground))
                found.append(Strain(placed.index, size, both[0] - both[1], off))
    worst: dict[int, Strain] = {}
    for strain in found:
        before = worst.get(strain.piece)
        if before is None or abs(strain.difference) > abs(before.difference):
            worst[strain.piece] = strain
    return list(worst.values())


@dataclass(frozen=True)
class Play:
    """What 1 % of moisture between cutting a pocket and its insert does to the fit."""

    piece: int
    size: float
    """Extent of the insert's largest part across its grain, mm."""
    swelling: float
    """How much wider it is, mm, both sides together."""


def plays(stack: Stack) -> list[Play]:
    """For each insert that is sawn and has side clearance, as if it were flat-sawn; grain along it moves nothing."""
    pieces = [p for p in _sawn(stack) if p.piece.side_clearance > 0]
    sizes = extents([p.insert for p in pieces], [p.grain + 90.0 for p in pieces]).tolist()
    woods = [wood_of_piece(p.piece, stack.design.woods) for p in pieces]
    return [
        Play(p.index, size, change_by_coefficient(size, coefficient(across(wood, "flat-sawn")), 10.0, 11.0))
        for p, size, wood in zip(pieces, sizes, woods, strict=True)
        if wood is not None
    ]


def _sawn(stack: Stack) -> list[PlacedPiece]:
    """Pieces that are seen, but for the strips of grooves."""
    return [p for p in stack.pieces if not p.piece.is_groove and not stack.remnants[p.index].is_empty]


def extents(shapes: Sequence[BaseGeometry], degrees: npt.ArrayLike) -> Array:
    """Extent of each shape in its direction (or in one for all), by the part that extends furthest, mm."""
    parts, owner = shapely.get_parts(np.array(shapes, dtype=object), return_index=True)
    points, part = shapely.get_coordinates(parts, return_index=True)
    angle = np.radians(np.broadcast_to(degrees, len(shapes)))[owner[part]]
    reach = points[:, 0] * np.cos(angle) + points[:, 1] * np.sin(angle)
    first = np.flatnonzero(np.diff(part, prepend=-1))
    most = np.zeros(len(shapes))
    if len(first):
        np.maximum.at(most, owner, np.maximum.reduceat(reach, first) - np.minimum.reduceat(reach, first))
    return most
