"""A drawing: outlines placed on a panel, before it is said how they are cut. Plain JSON values, as in a design file."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any

Point = tuple[float, float]
Entry = dict[str, Any]
"""One piece as the design file has it."""


@dataclass
class Drawing:
    """Pieces on a panel of this size, mm, back to front."""

    width: float
    height: float
    pieces: list[Entry]

    @property
    def middle(self) -> Point:
        """The middle of the panel."""
        return self.width / 2, self.height / 2


def polygon(points: Sequence[Point], *holes: Sequence[Point]) -> Entry:
    """An outline with straight sides."""
    made: Entry = {"polygon": [list(point) for point in points]}
    if holes:
        made["holes"] = [[list(point) for point in hole] for hole in holes]
    return made


def piece(outline: Entry, at: Point = (0.0, 0.0), turn: float = 0.0, **more: Any) -> Entry:
    """A piece without a name or a wood yet."""
    made: Entry = {"outline": outline, "at": list(at), **more}
    if turn:
        made["turn"] = turn
    return made


def turned(point: Point, degrees: float, about: Point = (0.0, 0.0)) -> Point:
    """A point turned counter-clockwise."""
    angle = math.radians(degrees)
    x, y = point[0] - about[0], point[1] - about[1]
    return (
        about[0] + math.cos(angle) * x - math.sin(angle) * y,
        about[1] + math.sin(angle) * x + math.cos(angle) * y,
    )


def map_points(outline: Entry, move: Callable[[Point], Point]) -> Entry:
    """An outline of points with each of them moved."""
    made = dict(outline)
    for key in ("polygon", "line"):
        if key in outline:
            made[key] = [list(move((x, y))) for x, y in outline[key]]
    if "holes" in outline:
        made["holes"] = [[list(move((x, y))) for x, y in hole] for hole in outline["holes"]]
    return made


def placed(entry: Entry, point: Point) -> Point:
    """Where a point of the piece's own frame lies on the panel: scale, mirror, turn, move."""
    x, y = (value * entry.get("scale", 1.0) for value in point)
    x, y = turned((-x if entry.get("mirror") else x, y), entry.get("turn", 0.0))
    return x + entry["at"][0], y + entry["at"][1]


def turn_all(drawing: Drawing, degrees: float, scale: float = 1.0, mirror: bool = False) -> None:
    """Mirror, scale and turn the whole drawing about the panel's middle, piece by piece, through their own keys."""
    middle = drawing.middle
    for entry in drawing.pieces:
        x, y = (scale * (value - centre) for value, centre in zip(entry["at"], middle, strict=True))
        at = turned((-x if mirror else x, y), degrees)
        turn = entry.get("turn", 0.0)
        entry["at"] = [at[0] + middle[0], at[1] + middle[1]]
        entry["turn"] = degrees + (-turn if mirror else turn)
        if scale != 1:
            entry["scale"] = entry.get("scale", 1.0) * scale
            if "line" in entry["outline"]:  # a groove stays as wide as its cutter
                entry["outline"]["width"] /= scale
        if mirror:
            entry["mirror"] = not entry.get("mirror", False)


def bake(drawing: Drawing) -> None:
    """Write every polygon and line in the panel's own coordinates, with no placing left."""
    for entry in drawing.pieces:
        outline = entry["outline"]
        if "path" not in outline:
            if "width" in outline:
                outline["width"] *= entry.get("scale", 1.0)
            entry["outline"] = map_points(outline, lambda point, entry=entry: placed(entry, point))  # type: ignore[misc]
            for key in ("turn", "scale", "mirror"):
                entry.pop(key, None)
            entry["at"] = [0.0, 0.0]


ROUND_TURNS = (15.0, 30.0, 45.0, 60.0, 90.0, 180.0, -120.0, 22.5)


def any_turn(random: Random) -> float:
    """An angle: none, a round one, an odd one, or one that is nearly none."""
    kind = random.randrange(10)
    if kind < 2:
        return 0.0
    if kind < 5:
        return random.choice(ROUND_TURNS)
    return random.choice([1e-9, 1e-7, 1e-4]) if kind == 9 else random.uniform(-180, 180)


def turn_somehow(random: Random, drawing: Drawing) -> None:
    """Turn the whole drawing, now and then scaled or mirrored, now and then written in the panel's coordinates."""
    scale = random.choice([1.0, 1.0, 1.0, 0.5, 0.9, 1.1, random.uniform(0.4, 1.4)])
    turn_all(drawing, any_turn(random), scale, random.random() < 0.2)
    if random.random() < 0.3:
        bake(drawing)
