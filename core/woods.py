"""The species table: what is known of each wood, from ``assets/species.csv``.

The file keeps source and mark (seen, derived, from memory) of every figure; the record keeps the figures.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType


@dataclass(frozen=True)
class Species:
    """One wood. Colours are estimates of bare wood, as sRGB hex such as ``#e3c9af``."""

    common_name: str
    also_named: tuple[str, ...]
    botanical_name: str
    density: float
    """kg/m³ at 12 % moisture content."""
    shrinkage_tangential: float
    """% of the green size, green to oven-dry, along the growth rings."""
    shrinkage_radial: float
    """The same, across the rings."""
    hardness: float
    """Side hardness in N."""
    pores: str
    """"ring", "semi-ring" or "diffuse", also "ring to semi-ring" and the like."""
    fresh_colour: str
    aged_colour: str
    ageing: str
    """How the colour changes, in words."""
    finish_effect: str
    note: str


def _table_file() -> Path:
    """In the repository assets/ lies beside core/, in the extension too: both are children of one folder."""
    return Path(__file__).resolve().parent.parent / "assets" / "species.csv"


def _species(row: Mapping[str, str]) -> Species:
    return Species(
        common_name=row["common_name"],
        also_named=tuple(name.strip() for name in row["also_named"].split(";") if name.strip()),
        botanical_name=row["botanical_name"],
        density=float(row["density_12pct_kg_m3"]),
        shrinkage_tangential=float(row["shrinkage_tangential_pct"]),
        shrinkage_radial=float(row["shrinkage_radial_pct"]),
        hardness=float(row["janka_N"]),
        pores=row["pores"],
        fresh_colour=row["fresh_srgb_hex_estimate"],
        aged_colour=row["aged_srgb_hex_estimate"],
        ageing=row["ageing_direction"],
        finish_effect=row["finish_effect"],
        note=row["note"],
    )


@lru_cache(maxsize=1)
def species_table() -> Mapping[str, Species]:
    """All species by common name, in the file's order; read once."""
    with _table_file().open(encoding="utf-8", newline="") as file:
        rows = [_species(row) for row in csv.DictReader(file)]
    return MappingProxyType({species.common_name: species for species in rows})


@lru_cache(maxsize=1)
def _by_any_name() -> Mapping[str, Species]:
    """Species by every name, folded. A common name comes before another wood's by-name."""
    found: dict[str, Species] = {}
    for species in species_table().values():
        found[_fold(species.common_name)] = species
    for species in species_table().values():
        for name in species.also_named:
            found.setdefault(_fold(name), species)
    return found


def _fold(name: str) -> str:
    return " ".join(name.casefold().split())


def find_wood(name: str) -> Species | None:
    """The wood of that common name or by-name, whatever its capitals and spaces; None when there is none."""
    return _by_any_name().get(_fold(name))


def near_woods(name: str, count: int = 3) -> tuple[str, ...]:
    """Common names of the woods whose names look most like `name`, best first; perhaps none."""
    matches = get_close_matches(_fold(name), _by_any_name(), n=2 * count)
    woods = dict.fromkeys(_by_any_name()[match].common_name for match in matches)
    return tuple(woods)[:count]
