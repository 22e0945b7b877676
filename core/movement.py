"""How wood swells and shrinks as its moisture changes, and what that does to a panel.

Formulas of the Wood Handbook, FPL-GTR-190 (2010): from the green size at 30 % down to oven-dry wood shrinks in a
straight line (chapter 4), and between 6 and 14 % one coefficient will do (chapter 13). Shrinkage is in % of the green
size, moisture in % of the dry weight, lengths in mm; a positive change is swelling.

A panel is taken to move as its background would alone: inserts are thin and glued to it. Of several woods in one
strip the mean counts, by length, and strips add up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from .design import Design, Workshop
from .moisture import equilibrium_moisture
from .stack import Stack
from .woods import Species, find_wood

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
    c, s = math.cos(math.radians(off_grain)), math.sin(math.radians(off_grain))
    return ALONG * c * c + across(wood, cut) * s * s


# --- The panel ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Climate:
    """The air that a panel lives in, dry and damp season, and what wood comes to in it."""

    humidity_low: float
    humidity_high: float
    temperature: float
    """°C"""

    @property
    def dry(self) -> float:
        """Moisture in the dry season, %."""
        return float(equilibrium_moisture(self.temperature, self.humidity_low))

    @property
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
    """Mean shrinkage of the finished panel's background in x and y, %, by area; None where a wood is unknown."""
    total, x, y = 0.0, 0.0, 0.0
    for part in stack.background:
        wood, area = find_wood(part.wood, stack.design.woods), part.box.intersection(stack.finished_box).area
        if wood is None:
            return None
        total += area
        x += area * in_direction(wood, cut, part.grain)
        y += area * in_direction(wood, cut, 90.0 - part.grain)
    return x / total, y / total
