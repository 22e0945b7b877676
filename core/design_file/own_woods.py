"""Reading the maker's own woods and boards from a design: the tables of their keys."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from ..design import BoardPhoto, Box, OwnWood
from ..folders import beside
from ..woods.species import find_wood, folded, near_woods
from .json_values import (
    Key,
    any_number,
    choice,
    colour,
    distance,
    listing,
    name,
    number,
    point,
    refuse,
    size,
    table,
    text,
)

PORES = ("ring", "semi-ring", "diffuse")
POINT_SIDE = 8.0
"""A point picked on a grey card stands for a square so wide about it, pixels."""

COLOURS = {"cut": Key(colour), "settled": Key(colour, None), "aged": Key(colour)}
WOOD = {
    "name": Key(name),
    "looks_like": Key(name),
    "colours": Key(table(COLOURS), None),
    "density": Key(size, None),
    "shrinkage_tangential": Key(number(above=0, below=50), None),
    "shrinkage_radial": Key(number(above=0, below=50), None),
    "hardness": Key(size, None),
    "pores": Key(choice(*PORES), None),
    "note": Key(text, ""),
}
"""A wood that the table does not have."""

MEASURED = {"from": Key(point), "to": Key(point), "mm": Key(size)}
PHOTO = {
    "name": Key(name),
    "photo": Key(name),
    "species": Key(name),
    "mm_per_pixel": Key(size, None),
    "measured": Key(table(MEASURED), None),
    "grain": Key(any_number, 0.0),
    "crop": Key(listing(distance, 4, 4, "numbers (left, top, right, bottom)"), None),
    "grey": Key(listing(distance, 2, 4, "numbers (x and y, or left, top, right, bottom)"), None),
    "grey_reflectance": Key(number(above=0, below=1), None),
    "note": Key(text, ""),
}
"""A board from a photo, told by its photo."""


def renamed(document: dict[str, Any], before: str, now: str) -> dict[str, Any]:
    """The document with another name wherever it uses a wood: background, frame, stock, pieces, stripes."""

    def change(value: Any) -> Any:
        if isinstance(value, list):
            return [change(each) for each in value]
        if not isinstance(value, dict):
            return value
        return {
            key: now if key == "wood" and same(each) else in_hand(each) if key == "in_hand" else change(each)
            for key, each in value.items()
        }

    def in_hand(woods: Any) -> Any:
        return [now if same(wood) else wood for wood in woods] if isinstance(woods, list) else woods

    def same(wood: Any) -> bool:
        return isinstance(wood, str) and folded(wood) == folded(before)

    used = ("panel", "workshop", "frame", "stock", "pieces")
    return {key: change(value) if key in used else value for key, value in document.items()}


def wood_entry(value: Any, place: str) -> dict[str, Any]:
    """Reads a wood of whichever kind its keys tell."""
    kind = PHOTO if isinstance(value, dict) and "photo" in value else WOOD
    made: dict[str, Any] = table(kind)(value, place)
    return made


def own_woods(entries: tuple[dict[str, Any], ...], folder: Path) -> tuple[OwnWood, ...]:
    """The woods of a design in `folder`, from entries read by `wood_entry`.

    Raises:
        UnusableInput: two have one name, one is like no species, a photo leaves the folder or has no scale.
    """
    woods: list[OwnWood] = []
    for index, entry in enumerate(entries):
        place = f'woods[{index}] "{entry["name"]}"'
        if any(folded(wood.name) == folded(entry["name"]) for wood in woods):
            raise refuse(f"{place}.name", "another wood has that name", "Give each wood a name of its own")
        woods.append(_board(entry, folder, place) if "photo" in entry else _wood(entry, place))
    return tuple(woods)


def _wood(entry: dict[str, Any], place: str) -> OwnWood:
    _check_species(entry["looks_like"], f"{place}.looks_like")
    colours = entry["colours"] or {}
    return OwnWood(**{key: value for key, value in entry.items() if key != "colours"}, **colours)


def _board(entry: dict[str, Any], folder: Path, place: str) -> OwnWood:
    _check_species(entry["species"], f"{place}.species")
    beside(folder, entry["photo"], f"{place}.photo")
    photo = BoardPhoto(
        entry["photo"],
        _scale(entry, place),
        entry["grain"],
        _crop(entry["crop"], f"{place}.crop"),
        _grey(entry["grey"], f"{place}.grey"),
        entry["grey_reflectance"],
    )
    return OwnWood(entry["name"], entry["species"], note=entry["note"], photo=photo)


def _check_species(wood: str, place: str) -> None:
    if find_wood(wood) is None:
        near = near_woods(wood)
        remedy = f"Did you mean {' or '.join(near)}?" if near else "Name the one that comes nearest"
        raise refuse(place, f'the species table has no "{wood}"', remedy)


def _scale(entry: dict[str, Any], place: str) -> float:
    """mm per pixel, as it stands or by two points and their distance."""
    given, measured = entry["mm_per_pixel"], entry["measured"]
    if (given is None) == (measured is None):
        found = "no scale" if given is None else "two scales"
        raise refuse(place, f"the photo has {found}", 'Give exactly one of "mm_per_pixel" and "measured"')
    if measured is None:
        return float(given)
    pixels = math.dist(measured["from"], measured["to"])
    if pixels < 1:
        raise refuse(f"{place}.measured", "both points are the same", "Measure between two points that lie far apart")
    return float(measured["mm"] / pixels)


def _crop(crop: Box | None, place: str) -> Box | None:
    if crop is not None and (crop[2] - crop[0] < 1 or crop[3] - crop[1] < 1):
        raise refuse(place, "nothing of the photo is left", "Give left, top, right and bottom in pixels, in that order")
    return crop


def _grey(grey: tuple[float, ...] | None, place: str) -> Box | None:
    """A rectangle as it stands; a point as a small square about it."""
    if grey is None:
        return None
    if len(grey) == 2:
        x, y = grey
        return (x - POINT_SIDE / 2, y - POINT_SIDE / 2, x + POINT_SIDE / 2, y + POINT_SIDE / 2)
    if len(grey) != 4 or grey[2] <= grey[0] or grey[3] <= grey[1]:
        raise refuse(place, "this is neither a point nor a rectangle", "Give x and y, or left, top, right and bottom")
    left, top, right, bottom = grey
    return (left, top, right, bottom)
