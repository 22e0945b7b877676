"""Families of pieces that lie over, in and nearly on each other."""

from __future__ import annotations

import copy
from collections.abc import Callable
from random import Random

from .drawing import Drawing, Entry, Point, any_turn, map_points, piece, polygon, turn_somehow
from .shapes import blob, comb, crescent, groove, leaf, letter, rectangle, regular, round_path, star

SYMMETRIC: dict[str, tuple[int, Callable[[float], Entry]]] = {
    "triangle": (3, lambda r: polygon(regular(3, r))),
    "square": (4, lambda r: polygon(rectangle(2 * r, 2 * r, -r, -r))),
    "rectangle": (2, lambda r: polygon(rectangle(2.2 * r, 1.4 * r, -1.1 * r, -0.7 * r))),
    "hexagon": (6, lambda r: polygon(regular(6, r))),
    "octagon": (8, lambda r: polygon(regular(8, r))),
    "dodecagon": (12, lambda r: polygon(regular(12, r))),
    "ring": (24, lambda r: polygon(regular(24, r), regular(24, r / 2))),
    "star": (5, lambda r: polygon(star(5, r, r / 2))),
    "frame": (4, lambda r: polygon(rectangle(2 * r, 2 * r, -r, -r), rectangle(r, r, -r / 2, -r / 2))),
    "cross": (4, lambda r: polygon(_cross(r))),
}
"""Outlines about the origin, with the number of turns that bring each onto itself."""


def _cross(r: float) -> list[Point]:
    w = r / 3
    return [
        (w, -r), (w, -w), (r, -w), (r, w), (w, w), (w, r), (-w, r), (-w, w), (-r, w), (-r, -w), (-w, -w), (-w, -r),
    ]  # fmt: skip


def _shape(random: Random) -> tuple[int, Entry]:
    count, make = SYMMETRIC[random.choice(sorted(SYMMETRIC))]
    return count, make(random.choice([16.0, 20.0, 22.0, random.uniform(12, 26)]))


def _place(random: Random) -> Point:
    x = random.choice([60.0, 59.0, 60.5, 60.9, random.uniform(40, 80)])
    return x, random.choice([40.0, 43.1, 46.1, random.uniform(25, 55)])


def island_fill(random: Random) -> Drawing:
    """A ring and the piece that fills its island, whose outline is the island's own."""
    _, inner = _shape(random)
    hole = inner["polygon"]
    grow = random.choice([1.3, 1.4, 1.5, 2.0])
    outer = map_points(polygon([(x, y) for x, y in hole]), lambda p: (p[0] * grow, p[1] * grow))
    ring: Entry = {"polygon": outer["polygon"], "holes": [copy.deepcopy(hole)]}
    at, turn = _place(random), any_turn(random)
    fill = {"polygon": copy.deepcopy(hole)} if random.random() < 0.8 else inner
    made = [piece(ring, at, turn), piece(fill, at, turn)]
    if random.random() < 0.3:
        made.reverse()
    if random.random() < 0.2:
        made.append(piece(polygon(rectangle(70, 8, -35, -4)), at, turn + random.choice([0, 45, 90])))
    return Drawing(120.0, 80.0, made)


def same_outline(random: Random) -> Drawing:
    """One outline twice or three times in its place, at several depths."""
    _, outline = _shape(random)
    if random.random() < 0.3:
        outline = random.choice(
            [crescent(15.0), leaf(40.0), round_path(18.0, random.choice([0.0, 8.0])), letter(random, 30)]
        )
    at, turn = _place(random), any_turn(random)
    depths = random.choice([(6.0, 3.0), (3.0, 6.0), (6.0, 6.0), (7.0, 5.0, 2.0), (4.0, 4.0, 6.0)])
    return Drawing(120.0, 80.0, [piece(outline, at, turn, pocket_depth=depth) for depth in depths])


def symmetric(random: Random) -> Drawing:
    """A shape and the same turned by its own symmetry, so that rounding alone tells their corners apart."""
    count, outline = _shape(random)
    at, turn = _place(random), any_turn(random)
    made = [piece(outline, at, turn)]
    for _ in range(random.choice([1, 1, 1, 2])):
        steps = random.randint(1, count)
        half = random.choice([0.0, 0.0, 0.0, 0.5])
        made.append(piece(outline, at, turn + 360 / count * (steps + half)))
        if random.random() < 0.2:
            made[-1]["mirror"] = True
    if random.random() < 0.5:
        made[-1]["pocket_depth"] = random.choice([3.0, 4.0, 8.0])
    return Drawing(120.0, 80.0, made)


def shallow(random: Random) -> Drawing:
    """A shape and a shallow later one over it: the same, a smaller one, or one that shares an edge's line."""
    _, outline = _shape(random)
    at, turn = _place(random), any_turn(random)
    over = piece(outline, at, turn, pocket_depth=random.choice([1.0, 2.0, 3.0, 4.0, 5.0]))
    kind = random.randrange(4)
    if kind == 1:
        over["scale"] = random.choice([0.9, 0.5, 0.99, 0.999999])
    elif kind == 2:
        over["at"] = [at[0] + random.choice([5.0, 0.1, 1e-6]), at[1] + random.choice([0.0, 3.0])]
    elif kind == 3:
        over["outline"] = _shape(random)[1]
    made = [piece(outline, at, turn), over]
    if random.random() < 0.3:
        made.insert(0, piece(_shape(random)[1], _place(random), any_turn(random), pocket_depth=8.0))
    return Drawing(120.0, 80.0, made)


def _offset(random: Random) -> float:
    return float(random.choice([-1, 1]) * 10.0 ** random.uniform(-12, -2))


def nearly(random: Random) -> Drawing:
    """Pieces that nearly coincide, or nearly meet: moved, turned, scaled or with one corner off by 1e-12 to 1e-2 mm."""
    _, outline = _shape(random)
    at, turn = _place(random), any_turn(random)
    first = piece(outline, at, turn)
    made = [first]
    for _ in range(random.choice([1, 1, 2, 3])):
        twin = copy.deepcopy(first)
        off = _offset(random)
        kind = random.randrange(5)
        if kind == 0:
            twin["at"] = [at[0] + off, at[1] + random.choice([0.0, off])]
        elif kind == 1:
            twin["turn"] = turn + off
        elif kind == 2:
            twin["scale"] = 1 + off
        elif kind == 3:
            corner = random.choice(twin["outline"]["polygon"])
            corner[random.randrange(2)] += off
        else:
            wide = max(x for x, _ in outline["polygon"]) - min(x for x, _ in outline["polygon"])
            twin = piece(outline, (at[0] + wide + off, at[1]), turn)
        twin["pocket_depth"] = random.choice([6.0, 6.0, 4.0, 7.0])
        made.append(twin)
    return Drawing(120.0, 80.0, made)


def flush(random: Random) -> Drawing:
    """Pieces whose edges lie on strips' joints, on the panel's edges or on the trim, or a hair from them."""
    made = []
    for _ in range(random.randint(1, 5)):
        wide, tall = random.choice([10.0, 20.0, 40.0]), random.choice([10.0, 20.0, 40.0])
        x, y = random.choice([0, 20, 40, 60, 80, 100]), random.choice([0, 10, 20, 30, 40, 60])
        off = random.choice([0.0, 0.0, 0.0, _offset(random)])
        kind = random.randrange(4)
        if kind == 0:
            outline = polygon(regular(6, wide / 2))
            made.append(piece(outline, (x + off, float(y))))
        elif kind == 1:
            made.append(
                piece(polygon([(0, 0), (wide, 0), (0, tall)]), (x + off, float(y)), random.choice([0.0, 90.0, 180.0]))
            )
        else:
            made.append(
                piece(
                    polygon(rectangle(wide, tall)),
                    (x + off, y + random.choice([0.0, off])),
                    random.choice([0.0, 0.0, 90.0]),
                )
            )
    return Drawing(120.0, 80.0, made)


def any_outline(random: Random, size: float) -> Entry:
    """Any kind of outline about as large as this, mm."""
    thin = random.choice([3.1749, 3.175, 3.1751, 3.2, 1.0, 0.001, 1e-5, 12.0])
    near = random.choice([0.0, 1e-12, 1e-9, 1e-6, 0.001])
    kinds: list[Callable[[], Entry]] = [
        lambda: polygon(blob(random, size / 2, random.choice([8, 24, 48]))),
        lambda: polygon(star(random.randint(3, 7), size / 2, size / random.choice([4.0, 6.0, 8.0]))),
        lambda: letter(random, size),
        lambda: polygon(rectangle(size, thin)),
        lambda: polygon(
            comb(random.randint(2, 4), random.choice([2.0, 3.175, 4.0]), random.choice([1.0, 3.174, 5.0]), size / 2)
        ),
        lambda: polygon([(0, 0), (size * 1.7, random.choice([1, 20])), (random.uniform(-3, 5), 10)]),
        lambda: polygon([(0, 0), (size + near, 0), (size, size / 2 + near), (0, size / 2)]),
        lambda: crescent(size / 2),
        lambda: leaf(size),
        lambda: round_path(size / 2, random.choice([0.0, size / 4])),
        lambda: {
            "path": f"M 0 0 Q {size / 4} {size / 2} {size / 2} 0 T {size} 0 L {size} {-size / 4} L 0 {-size / 4} Z"
        },
        lambda: polygon(regular(random.choice([3, 4, 5, 6, 8, 12]), size / 2)),
        lambda: polygon(regular(6, size / 2), regular(6, size / 2 * random.choice([0.4, 0.7, 0.78]))),
    ]
    return random.choice(kinds)()


def mix(random: Random) -> Drawing:
    """Blobs, letters, stars, thin bars, paths and grooves anywhere, some of them again with something changed."""
    width, height = random.choice([(120.0, 80.0), (60.0, 60.0), (120.0, 80.0), (300.0, 200.0)])
    made: list[Entry] = []
    for _ in range(random.randint(2, 7)):
        if made and random.random() < 0.35:
            made.append(_again(random, random.choice(made)))
            continue
        x = random.choice([random.uniform(0, width), 10.0 * random.randrange(13)])
        y = random.choice([random.uniform(0, height), 5.0 * random.randrange(17)])
        outline = (
            groove(random, _width(random)) if random.random() < 0.15 else any_outline(random, random.uniform(10, 45))
        )
        made.append(piece(outline, (x, y), any_turn(random)))
        if random.random() < 0.1:
            made[-1]["mirror"] = True
        if random.random() < 0.1:
            made[-1]["pocket_depth"] = random.choice([1.0, 6.2, 8.0, 9.0, 12.0])
    if random.random() < 0.1 and "polygon" in made[0]["outline"]:  # an outline drawn far from its own origin
        made[0]["outline"] = map_points(made[0]["outline"], lambda p: (p[0] - 900_000.0, p[1]))
        made[0]["turn"], made[0]["at"] = 0.0, [900_000.0 + width / 2, height / 2]
        made[0].pop("mirror", None)
    return Drawing(width, height, made)


def _again(random: Random, entry: Entry) -> Entry:
    """A piece once more with one thing changed."""
    twin = copy.deepcopy(entry)
    kind = random.randrange(6)
    if kind == 0:
        twin["mirror"] = not twin.get("mirror", False)
    elif kind == 1:
        twin["turn"] = twin.get("turn", 0.0) + random.choice([90.0, 180.0, 1e-9, 1e-7])
    elif kind == 2 and "line" not in twin["outline"]:
        twin["scale"] = twin.get("scale", 1.0) * random.choice([0.5, 0.9])
    elif kind == 3:
        twin["at"] = [twin["at"][0] + random.choice([1e-7, 0.001, 3.0]), twin["at"][1]]
    elif kind == 4:
        twin["pocket_depth"] = random.choice([1.0, 5.0, 8.0, 9.0])
    return twin


def _width(random: Random) -> float:
    return random.choice([3.175, 3.175, 3.17, 3.18, 3.2, 0.8])


def grooves(random: Random) -> Drawing:
    """Grooves that cross, meet and mirror each other, over a piece or two."""
    made: list[Entry] = []
    if random.random() < 0.6:
        made.append(piece(any_outline(random, 40.0), (50.0, 40.0), any_turn(random)))
    for _ in range(random.randint(1, 4)):
        if made and "line" in made[-1]["outline"] and random.random() < 0.4:
            made.append(_again(random, made[-1]))
        else:
            made.append(
                piece(
                    groove(random, _width(random)), (random.uniform(20, 100), random.uniform(15, 65)), any_turn(random)
                )
            )
    return Drawing(120.0, 80.0, made)


OVERLYING: dict[str, Callable[[Random], Drawing]] = {
    "island-fill": island_fill,
    "same-outline": same_outline,
    "symmetric": symmetric,
    "shallow": shallow,
    "nearly": nearly,
    "flush": flush,
    "mix": mix,
    "grooves": grooves,
}


def layered(random: Random, families: dict[str, Callable[[Random], Drawing]]) -> Drawing:
    """One family's drawing laid over another's."""
    below, above = (families[random.choice(sorted(families))](random) for _ in range(2))
    if random.random() < 0.5:
        turn_somehow(random, above)
    return Drawing(
        max(below.width, above.width), max(below.height, above.height), [*below.pieces[:6], *above.pieces[:4]]
    )
