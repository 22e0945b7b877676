"""Families of pieces that share edges."""

from __future__ import annotations

import math
from collections.abc import Callable
from random import Random

from .drawing import Drawing, Entry, Point, piece, polygon, turn_somehow, turned
from .shapes import rectangle, regular

Lattice = list[list[Point]]


def _lattice(random: Random, columns: int, rows: int, cell: float, jitter: float) -> Lattice:
    """Corners of a grid, each moved a little, from (0, 0)."""
    return [
        [
            (i * cell + random.uniform(-jitter, jitter) * cell, j * cell + random.uniform(-jitter, jitter) * cell)
            for i in range(columns + 1)
        ]
        for j in range(rows + 1)
    ]


def mosaic(random: Random) -> Drawing:
    """Regions of a jittered grid that share all their corners; some are joined, some left out, some split."""
    columns, rows, cell = random.randint(1, 4), random.randint(1, 3), random.uniform(14, 22)
    corners = _lattice(random, columns, rows, cell, random.choice([0.0, 0.15, 0.3]))
    digits = random.choice([2, 2, 6, None])
    made: list[Entry] = []
    for j in range(rows):
        for i in range(columns):
            a, b, c, d = corners[j][i], corners[j][i + 1], corners[j + 1][i + 1], corners[j + 1][i]
            kind = random.random()
            if kind < 0.1:
                continue
            rings = [[a, b, c], [a, c, d]] if kind < 0.25 else [[a, b, c, d]]
            for ring in rings:
                points = [(round(x, digits), round(y, digits)) for x, y in ring] if digits else ring
                made.append(piece(polygon(points), (20.0, 15.0)))
    drawing = Drawing(columns * cell + 40, rows * cell + 30, made)
    if random.random() < 0.5:
        turn_somehow(random, drawing)
    return drawing


def sunburst(random: Random) -> Drawing:
    """Rays about a middle, with or without a disc in it."""
    rays, reach = random.randint(3, 12), random.uniform(25, 45)
    middle = (60.0 + random.choice([0, 0.3, 1 / 3]), 50.0 + random.choice([0, 0.1, 1 / 7]))
    inner = random.choice([0.0, 0.0, 8.0, 10.5])
    cuts = [360 * i / rays + random.choice([0, 0, random.uniform(-5, 5)]) for i in range(rays)]

    def at(angle: float, radius: float) -> Point:
        return (
            middle[0] + radius * math.cos(math.radians(angle)),
            middle[1] + radius * math.sin(math.radians(angle)),
        )

    made = []
    for i, start in enumerate(cuts):
        end = cuts[(i + 1) % rays] + (360 if i == rays - 1 else 0)
        tip = [at(end, inner), at(start, inner)] if inner else [middle]
        if random.random() < 0.9:
            made.append(piece(polygon([*tip, at(start, reach), at((start + end) / 2, reach * 1.05), at(end, reach)])))
    if inner and random.random() < 0.7:
        made.append(piece(polygon([at(angle, inner) for angle in cuts])))
    drawing = Drawing(120.0, 100.0, made)
    if random.random() < 0.3:
        turn_somehow(random, drawing)
    return drawing


def hexagons(random: Random) -> Drawing:
    """A honeycomb of whole hexagons, each placed by itself."""
    radius = random.choice([8.0, 10.0, 12.0, random.uniform(7, 13)])
    outline = polygon(regular(6, radius, random.choice([0.0, 30.0])))
    flat = abs(outline["polygon"][0][1]) < 1e-9
    made = []
    for i in range(-1, 2):
        for j in range(-1, 2):
            along, across = 1.5 * radius * i, math.sqrt(3) * radius * (j + (0.5 if i % 2 else 0))
            if random.random() < 0.8:
                made.append(piece(outline, (60 + along, 45 + across) if flat else (60 + across, 45 + along)))
    drawing = Drawing(120.0, 90.0, made)
    turn_somehow(random, drawing)
    return drawing


def parquet(random: Random) -> Drawing:
    """Herringbone or basket weave of equal staves, each placed and turned by itself."""
    wide = random.choice([6.0, 8.0, random.uniform(5, 9)])
    long = wide * random.choice([2, 3])
    stave = polygon(rectangle(long, wide))
    made = []
    ratio = round(long / wide)
    for i in range(3):
        for j in range(3):
            if random.random() < 0.15:
                continue
            if random.random() < 0.5:  # a square of staves that lie one way
                x, y = 25 + i * long, 15 + j * long
                for k in range(ratio):
                    if (i + j) % 2:
                        made.append(piece(stave, (x + (k + 1) * wide, y), 90.0))
                    else:
                        made.append(piece(stave, (x, y + k * wide)))
            else:
                made.append(piece(polygon(rectangle(long, long)), (25 + i * long, 15 + j * long)))
            if len(made) > 10:
                break
    drawing = Drawing(120.0, 100.0, made[:12])
    turn_somehow(random, drawing)
    return drawing


def bars(random: Random) -> Drawing:
    """Bars side by side, of one length or of several, their ends flush or not."""
    made, x = [], 0.0
    for _ in range(random.randint(2, 7)):
        wide = random.choice([5.0, 6.0, 8.0, random.uniform(4, 12)])
        tall = random.choice([40.0, 40.0, random.uniform(20, 45)])
        made.append(piece(polygon(rectangle(wide, tall)), (35 + x, 20 + random.choice([0, 0, 5.0]))))
        x += wide
    drawing = Drawing(120.0, 80.0, made)
    turn_somehow(random, drawing)
    return drawing


def tiles(random: Random) -> Drawing:
    """Two equal tiles that share one side, each placed and turned by itself."""
    count = random.choice([3, 4, 4, 6, 8, 0])
    turn = random.choice([15.0, 30.0, 45.0, random.uniform(0, 90), 0.0])
    if count == 0:
        wide, tall = random.choice([(44.0, 28.0), (30.0, 20.0), (random.uniform(15, 40), random.uniform(15, 30))])
        one, step = polygon(rectangle(wide, tall, -wide / 2, -tall / 2)), (wide, 0.0)
        other_turn = random.choice([0.0, 180.0])
    else:
        radius = random.uniform(12, 20)
        one, inner = polygon(regular(count, radius)), 2 * radius * math.cos(math.pi / count)
        step = turned((inner, 0.0), 180 / count)
        other_turn = 180.0 if count == 3 else 0.0
    x, y = turned(step, turn)
    at = (random.choice([47.3, 50.0, random.uniform(40, 60)]), random.choice([43.2, 40.0, random.uniform(30, 50)]))
    share = random.choice([1.0, 1.0, 1.0, 0.5])  # half a side along, or the whole
    slide = turned((0.0, step[0] * (1 - share)), turn)
    return Drawing(
        120.0, 80.0, [piece(one, at, turn), piece(one, (at[0] + x + slide[0], at[1] + y + slide[1]), turn + other_turn)]
    )


def bands(random: Random) -> Drawing:
    """Bands one above the other whose common borders are the same wavy line of points, or the same path."""
    count, points = random.randint(2, 5), random.randint(2, 12)
    tall = random.uniform(9, 14)
    phases = [random.uniform(0, 6.3) for _ in range(count + 1)]
    sway = random.choice([0.0, 1.0, 3.0])

    def border(k: int) -> list[Point]:
        xs = [90 * i / (points - 1) for i in range(points)]
        return [(15 + x, 12 + k * tall + sway * math.sin(x / 9 + phases[k])) for x in xs]

    made = []
    for k in range(count):
        low, high = border(k), border(k + 1)
        if random.random() < 0.3:
            made.append(piece({"path": _curved_band(low, high)}))
        else:
            made.append(piece(polygon([*low, *high[::-1]])))
    drawing = Drawing(120.0, 24 + count * tall, made)
    if random.random() < 0.6:
        turn_somehow(random, drawing)
    return drawing


def _curved_band(low: list[Point], high: list[Point]) -> str:
    """Two Bézier borders through the ends of two lines, the upper one run backwards."""

    def curve(points: list[Point]) -> str:
        a, b = points[len(points) // 3], points[2 * len(points) // 3]
        return f"C {a[0]} {a[1] + 3} {b[0]} {b[1] - 3} {points[-1][0]} {points[-1][1]}"

    def back(points: list[Point]) -> str:
        a, b = points[len(points) // 3], points[2 * len(points) // 3]
        return f"C {b[0]} {b[1] - 3} {a[0]} {a[1] + 3} {points[0][0]} {points[0][1]}"

    return f"M {low[0][0]} {low[0][1]} {curve(low)} L {high[-1][0]} {high[-1][1]} {back(high)} Z"


def skyline(random: Random) -> Drawing:
    """Houses of unequal heights and depths side by side, or one outline of them and the sky that fits on it."""
    if random.random() < 0.5:
        made, x = [], 0.0
        for _ in range(random.randint(2, 5)):
            wide, tall = float(random.randint(8, 32)), float(random.randint(20, 57))
            depth = float(random.choice([4, 5, 6, 7]))
            made.append(piece(polygon(rectangle(wide, tall)), (30 + x, 20.0), pocket_depth=depth))
            x += wide
        drawing = Drawing(180.0, 120.0, made)
    else:
        roofs: list[Point] = []
        x = 20.0
        for _ in range(random.randint(2, 5)):
            wide, tall = random.uniform(6, 16), random.uniform(15, 45)
            roofs += [(x, 10 + tall), (x + wide, 10 + tall)]
            x += wide
        houses = [(20.0, 10.0), (x, 10.0), *roofs[::-1]]
        sky = [*roofs, (x, 70.0), (20.0, 70.0)]
        drawing = Drawing(120.0, 80.0, [piece(polygon(houses)), piece(polygon(sky))])
    turn_somehow(random, drawing)
    return drawing


def chessboard(random: Random) -> Drawing:
    """Squares that touch at corners only, or along all sides, on a grid that may lie on the joints."""
    cell = random.choice([10.0, 10.0, 8.0, 20 / 3])
    columns, rows = random.randint(2, 5), random.randint(2, 4)
    every = random.random() < 0.3
    start = random.choice([(20.0, 20.0), (20.0, 15.0), (17.3, 11.1), (0.0, 0.0)])
    made = [
        piece(polygon(rectangle(cell, cell)), (start[0] + i * cell, start[1] + j * cell))
        for j in range(rows)
        for i in range(columns)
        if every or (i + j) % 2 == 0
    ][:12]
    drawing = Drawing(120.0, 80.0, made)
    if random.random() < 0.5:
        turn_somehow(random, drawing)
    return drawing


ADJOINING: dict[str, Callable[[Random], Drawing]] = {
    "mosaic": mosaic,
    "sunburst": sunburst,
    "hexagons": hexagons,
    "parquet": parquet,
    "bars": bars,
    "tiles": tiles,
    "bands": bands,
    "skyline": skyline,
    "chessboard": chessboard,
}
