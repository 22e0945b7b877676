"""How far a strip of a wood bends before it breaks: strength, stiffness, and the least radius that follows."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from ..assets import asset
from ..design import OwnWood
from .species import find_wood


@dataclass(frozen=True)
class BendingFigures:
    """How much a wood bends: its bending strength and its stiffness at 12 % moisture content."""

    strength: float
    """Modulus of rupture, MPa."""
    stiffness: float
    """Modulus of elasticity, MPa."""

    @property
    def strain(self) -> float:
        """What the outer fibre is taken to bear: strength / stiffness.

        That is the breaking strain of a beam that stays stiff until it breaks. Wood yields first and bends further:
        by its work to maximum load hard maple bends at least 1.6 times as far (tests/core/measures/test_grooves.py),
        and that is the safety factor against breaking of an average, straight-grained, dry strip. None is put on top.
        """
        return self.strength / self.stiffness


@lru_cache(maxsize=1)
def bending_table() -> Mapping[str, BendingFigures]:
    """Bending figures by common name, from assets/bending.csv, where each has its source and mark."""
    path = asset("bending.csv")
    with path.open(encoding="utf-8", newline="") as file:
        rows = {
            row["common_name"]: BendingFigures(float(row["rupture_MPa"]), 1000 * float(row["elasticity_GPa"]))
            for row in csv.DictReader(file)
        }
    return MappingProxyType(rows)


def bending_figures(wood: str, own: Sequence[OwnWood] = ()) -> BendingFigures:
    """Figures of a wood by any of its names; those of the species that it is like for one of the maker's `own`.

    One that the table does not have gets those at the lower quartile of its strains: a guess on the safe side.
    """
    species = find_wood(wood, own)
    table = bending_table()
    if species is not None and species.kind in table:
        return table[species.kind]
    return sorted(table.values(), key=lambda figures: figures.strain)[len(table) // 4]


def least_bend_radius(wood: str, thickness: float, own: Sequence[OwnWood] = ()) -> float:
    """The least radius, mm, to which a dry strip of that thickness may be bent cold.

    Bending to radius R stretches the outer fibre by thickness / (2 R) (beam theory); allowed is
    `BendingFigures.strain`.
    """
    return thickness / (2 * bending_figures(wood, own).strain)


def pliable_thickness(wood: str, radius: float, own: Sequence[OwnWood] = ()) -> float:
    """The thickest strip, mm, that may be bent to a radius: the inverse of `least_bend_radius`."""
    return 2 * radius * bending_figures(wood, own).strain
