"""The species table: what is known of each wood, from ``assets/species.csv``.

The file keeps source and mark (seen, derived, from memory) of every figure; the record keeps the figures.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import lru_cache
from types import MappingProxyType

from ..assets import asset
from ..design import BoardPhoto, OwnWood, Piece

CHECK = "check"
"""In the column on trade, of woods whose trade may be restricted. The table gives no legal advice."""
NO_REPORT = "no report found"
"""In the columns of cautions. It does not mean that a wood is harmless."""
ALL_DUST = "dust harms the lungs, as every wood's does"
"""The caution of a wood whose dust has no report of its own (common practice)."""


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
    """% of the green size, green to oven-dry, across the growth rings."""
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
    settled_colour: str | None = None
    """After its first months; None: halfway from fresh to aged."""
    looks_like: str = ""
    """For a maker's own wood, the species of the table that stands for it in other tables and in figure."""
    photo: BoardPhoto | None = None
    trade: str = ""
    """"check": trade in it may be restricted, ask before you buy or ship; else "none known"."""
    dust_cautions: str = ""
    """What its dust is said to do, such as "sensitizer: eyes, airways", or `NO_REPORT`."""
    skin_cautions: str = ""
    recalled: frozenset[str] = frozenset()
    """Which of "dust", "skin" and "trade" the table has from memory, not from a list that was read."""
    texture: str = ""
    """"fine", "medium" or "coarse"."""
    grain: str = ""
    figure: str = ""
    sapwood: str = ""

    @property
    def cautions(self) -> str:
        """One line on what to beware of in this wood. What the table has from memory comes last and says so."""
        words = {"dust": f"dust {self.dust_cautions}", "skin": f"skin {self.skin_cautions}", "trade": "trade check"}
        if self.dust_cautions in ("", NO_REPORT):
            words["dust"] = ALL_DUST
        if self.skin_cautions in ("", NO_REPORT):
            del words["skin"]
        if self.trade != CHECK:
            del words["trade"]
        recalled = [said for name, said in words.items() if name in self.recalled and said != ALL_DUST]
        lines = [said for said in words.values() if said not in recalled]
        return "; ".join([*lines, *([f"from memory: {', '.join(recalled)}"] if recalled else [])])

    @property
    def kind(self) -> str:
        """The name under which other tables know it."""
        return self.looks_like or self.common_name


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
        trade=row["trade"],
        dust_cautions=row["dust_cautions"],
        skin_cautions=row["skin_cautions"],
        recalled=frozenset(name for name in ("dust", "skin", "trade") if row[f"{name}_provenance"] == "MEMORY"),
        texture=row["texture"],
        grain=row["grain"],
        figure=row["figure"],
        sapwood=row["sapwood"],
    )


@lru_cache(maxsize=1)
def species_table() -> Mapping[str, Species]:
    """All species by common name, in the file's order; read once."""
    with asset("species.csv").open(encoding="utf-8", newline="") as file:
        rows = [_species(row) for row in csv.DictReader(file)]
    return MappingProxyType({species.common_name: species for species in rows})


@lru_cache(maxsize=1)
def _by_any_name() -> Mapping[str, Species]:
    """Species by every name, folded. A common name comes before another wood's by-name."""
    found: dict[str, Species] = {}
    for species in species_table().values():
        found[folded(species.common_name)] = species
    for species in species_table().values():
        for name in species.also_named:
            found.setdefault(folded(name), species)
    return found


def folded(name: str) -> str:
    """A wood's name as it is compared."""
    return " ".join(name.casefold().split())


def find_wood(name: str, own: Sequence[OwnWood] = ()) -> Species | None:
    """The wood of that common name or by-name, whatever its capitals and spaces; None when there is none.

    A design's own woods are looked at first, so that a table that grows changes no design.
    """
    wanted = folded(name)
    mine = next((wood for wood in own if folded(wood.name) == wanted), None)
    return _by_any_name().get(wanted) if mine is None else _own_species(mine)


@lru_cache(maxsize=512)
def _own_species(wood: OwnWood) -> Species | None:
    """What it says of itself laid over the species that it is like."""
    like = find_wood(wood.looks_like)
    if like is None:
        return None
    given: dict[str, object] = {
        "fresh_colour": wood.cut,
        "aged_colour": wood.aged,
        "settled_colour": wood.settled,
        "density": wood.density,
        "shrinkage_tangential": wood.shrinkage_tangential,
        "shrinkage_radial": wood.shrinkage_radial,
        "hardness": wood.hardness,
        "pores": wood.pores,
        "note": wood.note or None,
    }
    said: dict[str, object] = {key: value for key, value in given.items() if value is not None}
    if wood.cut is not None:
        said |= {"settled_colour": wood.settled, "ageing": ""}
    mine = replace(like, common_name=wood.name, also_named=(), looks_like=like.common_name, photo=wood.photo)
    return replace(mine, **said)  # type: ignore[arg-type]


def wood_of_piece(piece: Piece, own: Sequence[OwnWood] = ()) -> Species | None:
    """The wood of a piece; of a glued-up blank with the means of its stripes' figures, by their widths.

    Across the grain stripes move one after the other, so that the mean of their shrinkages is that of the blank.
    """
    species = find_wood(piece.wood, own)
    if piece.blank is None or species is None:
        return species
    parts = [(stripe.width, find_wood(stripe.wood, own)) for stripe in piece.blank.stripes]
    known = [(width, wood) for width, wood in parts if wood is not None]
    total = sum(width for width, _ in known)
    if not known:
        return species
    return replace(
        species,
        density=sum(width * wood.density for width, wood in known) / total,
        shrinkage_tangential=sum(width * wood.shrinkage_tangential for width, wood in known) / total,
        shrinkage_radial=sum(width * wood.shrinkage_radial for width, wood in known) / total,
    )


def woods_named(piece: Piece) -> tuple[str, ...]:
    """The names of all woods that a piece names, each once: its own, and those of its blank's stripes."""
    return tuple(dict.fromkeys((piece.wood, *woods_in(piece))))


def woods_in(piece: Piece) -> tuple[str, ...]:
    """The names of all woods that a piece is made of, each once: its own, or else those of its blank's stripes."""
    if piece.blank is None:
        return (piece.wood,)
    return tuple(dict.fromkeys(stripe.wood for stripe in piece.blank.stripes))


def near_woods(name: str, count: int = 3, own: Sequence[OwnWood] = ()) -> tuple[str, ...]:
    """Names of the woods whose names look most like `name`, best first; perhaps none."""
    known = {key: species.common_name for key, species in _by_any_name().items()}
    known |= {folded(wood.name): wood.name for wood in own}
    matches = get_close_matches(folded(name), known, n=2 * count)
    woods = dict.fromkeys(known[match] for match in matches)
    return tuple(woods)[:count]
