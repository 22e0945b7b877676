"""The families by name, and how a drawing becomes a whole design: background, workshop, depths."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

from .adjoining import ADJOINING
from .drawing import Drawing, Entry
from .overlying import OVERLYING, layered

Document = dict[str, Any]
"""A design as its file holds it."""
BOTH = ADJOINING | OVERLYING
FAMILIES: dict[str, Callable[[Random], Drawing]] = {**BOTH, "layered": lambda random: layered(random, BOTH)}
WOODS = ("hard maple", "padauk", "wenge", "holly")
WALLS = ("upright", "upright", "upright", "leaning", "leaning", "wedge", "wedge", "as-drawn", "each its own")


def design(family: str, number: int) -> Document:
    """The design of a family with this number: always the same."""
    return draw(family, Random(f"{family} {number}"))


def draw(family: str, random: Random) -> Document:
    """A design of a family, as random as what it is given."""
    drawing = FAMILIES[family](random)
    thickness = random.choice([19.0, 19.0, 19.0, 12.0, 6.0])
    workshop = _workshop(random, drawing, thickness)
    pieces = [{"id": f"p{i}", "wood": WOODS[i % len(WOODS)], **_tidy(entry)} for i, entry in enumerate(drawing.pieces)]
    panel = _panel(random, drawing, thickness)
    return {"format": "grainstack-panel/1", "panel": panel, "workshop": workshop, "pieces": pieces}


def _tidy(entry: Entry) -> Entry:
    """A piece without keys that say what is so anyway."""
    plain: Entry = {"at": [0.0, 0.0], "turn": 0.0, "scale": 1.0, "mirror": False}
    return {key: value for key, value in entry.items() if key not in plain or value != plain[key]}


def _panel(random: Random, drawing: Drawing, thickness: float) -> Entry:
    panel: Entry = {"width": drawing.width, "height": drawing.height, "thickness": thickness}
    along = random.choice(["plain", "y", "y", "x"])
    if along == "plain":
        panel["wood"] = "black walnut"
    else:
        if along == "x":
            panel["strips_along"] = "x"
        upright = along == "y"
        across, length = (drawing.width, drawing.height) if upright else (drawing.height, drawing.width)
        panel["strips"] = _strips(random, across, length)
    if random.random() < 0.4:
        panel["face_trim"] = min(random.choice([0.5, 0.5, 1.0, 2.0, 6.0]), thickness - 1)
        panel["edge_trim"] = random.choice([0.0, 5.0, 10.0, [0.0, 10.0, 5.0, 1e-7]])
    return panel


def _strips(random: Random, across: float, length: float) -> list[Entry]:
    """Strips of 20 mm or of any width, some of them of two segments."""
    even = random.random() < 0.7
    strips: list[Entry] = []
    left = across
    while left > 1e-9:
        width = 20.0 if even else random.uniform(5, 40)
        width = left if left - width < 3 else width
        strip: Entry = {"width": width}
        if random.random() < 0.25:
            cut = random.choice([length / 2, 30.0, random.uniform(5, length - 5)])
            strip["segments"] = [{"length": cut, "wood": "ash"}, {"length": length - cut, "wood": "cherry"}]
        else:
            strip["wood"] = random.choice(["ash", "sapele"])
        strips.append(strip)
        left -= width
    return strips


def _workshop(random: Random, drawing: Drawing, thickness: float) -> Entry:
    """Walls, fit, cutter; depths that a family has not set already."""
    walls = random.choice(WALLS)
    shop: Entry = {}
    if random.random() < 0.4:
        shop["cutter_diameter"] = random.choice([0.008, 0.5, 1.0, 2.0, 6.35])
    radius = shop.get("cutter_diameter", 3.175) / 2
    clearance = random.choice([None, None, 0.0, 0.01, 0.05])
    if walls == "wedge":
        clearance = -random.choice([0.02, 0.05, 0.1])
    elif clearance is None and radius <= 0.1:
        clearance = 0.0
    if clearance is not None:
        shop["side_clearance"] = min(clearance, radius / 2)
    if walls in ("leaning", "wedge"):
        shop["taper"] = random.choice([1.0, 2.0, 3.0, 5.0, 7.0, 8.0, round(random.uniform(0.1, 8), 3)])
    _set_depths(random, drawing, thickness)
    for entry in drawing.pieces:
        if "line" in entry["outline"]:
            if random.random() < 0.6:
                entry["cutter_diameter"] = entry["outline"]["width"] * entry.get("scale", 1.0)
                entry["side_clearance"] = shop.get("side_clearance", 0.0) if "taper" in shop else 0.0
        elif walls == "as-drawn" and random.random() < 0.8:
            entry["fit"] = "as-drawn"
        elif walls == "each its own":
            entry["taper"] = random.choice([0.0, 0.0, 2.0, 3.0, 5.0, 8.0])
    if random.random() < 0.3:
        shop["floor_gap"] = random.choice([0.3, 0.5])
    return shop


def _set_depths(random: Random, drawing: Drawing, thickness: float) -> None:
    kind = random.randrange(4)
    for entry in drawing.pieces:
        if kind == 1 and "pocket_depth" not in entry:
            entry["pocket_depth"] = random.choice([2.0, 3.0, 4.0, 5.0, 6.0, 7.0])
        if kind == 2 and random.random() < 0.3:
            entry["pocket_depth"] = random.choice([thickness, thickness + 2, 1.0])
        if random.random() < 0.08:
            entry["insert_thickness"] = random.choice([1.0, 3.0, 5.0, 6.0, 12.0])
