"""Volumes of strips, inserts and voids against exact rational arithmetic, on hundreds of small drawings."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import cache
from itertools import pairwise
from random import Random
from typing import Any

import pytest
import shapely

from core.design_file.reading import design_of
from core.solids.panel_solids import build_solids
from core.solids.volumes import measure_volumes
from core.stack.stack import build_stack
from tests.core.exact import Exact, Pocket, area, box, convex, exact_volumes, within, without

pytestmark = pytest.mark.slow

POINT = 0.00202
"""A cutter that rounds no corner, mm: radii are taken 0.001 mm smaller, and 0.00001 mm is left of this one's."""
WIDTH, HEIGHT, THICKNESS = 48.0, 40.0, 12.0
CASES = 24
GROUPS = 10


def outlines(random: Random) -> list[list[list[float]]]:
    """Convex outlines, some of them neighbours, twins or halves of each other, on some grid."""
    made: list[list[list[float]]] = []
    grid = random.choice([8, 8, 1024, 1024, 2**44])
    for _ in range(random.randint(1, 5)):
        kind = random.randrange(6)
        if made and kind == 0:
            made.append([list(point) for point in random.choice(made)])
        elif made and kind == 1:  # the neighbour that shares a side with it
            made.append(_neighbour(random.choice(made), random))
        elif made and kind == 2 and len(made[-1]) > 3:
            made.append(made[-1][: random.randint(3, len(made[-1]) - 1)])
        elif kind == 3:
            x, y = 8.0 * random.randrange(5), 8.0 * random.randrange(4)
            w, h = 8.0 * random.randint(1, 3), 8.0 * random.randint(1, 3)
            made.append([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
        else:
            made.append(_round(random, grid))
    return made


def _round(random: Random, grid: int) -> list[list[float]]:
    """Corners on a circle, so that it is convex; their hull, since a grid moves them."""
    x, y, radius = random.uniform(0, WIDTH), random.uniform(0, HEIGHT), random.uniform(6, 18)
    angles = sorted(random.uniform(0, 2 * math.pi) for _ in range(random.randint(4, 7)))
    points = [(x + radius * math.cos(angle), y + radius * math.sin(angle)) for angle in angles]
    points = [(round(grid * x) / grid, round(grid * y) / grid) for x, y in points]
    hull = shapely.convex_hull(shapely.MultiPoint(points))
    if hull.geom_type != "Polygon" or hull.buffer(-1).is_empty:
        return _round(random, grid)
    return shapely.get_coordinates(shapely.orient_polygons(hull))[:-1].tolist()


def _neighbour(outline: list[list[float]], random: Random) -> list[list[float]]:
    """A triangle on the other side of one of its sides."""
    i = random.randrange(len(outline))
    a, b = outline[i], outline[(i + 1) % len(outline)]
    tip = [(a[0] + b[0]) / 2 + (b[1] - a[1]) / 2, (a[1] + b[1]) / 2 - (b[0] - a[0]) / 2]
    return [list(b), list(a), tip]


def has_dust(shapes: list[list[list[float]]], joints: list[float]) -> bool:
    """Whether an outline is a needle, which any cutter blunts, or the lines leave a face that is dust.

    Exact arithmetic knows neither rule.
    """
    if any(shapely.Polygon(shape).buffer(-0.3).is_empty for shape in shapes):
        return True
    lines = [shapely.box(0, 0, WIDTH, HEIGHT).exterior, *(shapely.Polygon(shape).exterior for shape in shapes)]
    lines += [shapely.LineString([(x, 0), (x, HEIGHT)]) for x in joints]
    together = shapely.union_all(lines, grid_size=1e-9)
    return any(face.buffer(-0.006).is_empty for face in shapely.get_parts(shapely.polygonize([together])))


@cache
def drawings(group: int) -> list[dict[str, Any]]:
    """Designs, always the same ones."""
    random = Random(f"exact {group}")
    made: list[dict[str, Any]] = []
    while len(made) < CASES:
        shapes = outlines(random)
        joints = random.choice([[], [16.0], [16.0, 32.0], [round(1024 * random.uniform(5, 40)) / 1024]])
        if has_dust(shapes, joints):
            continue
        edges = [0.0, *joints, WIDTH]
        panel: dict[str, Any] = {"width": WIDTH, "height": HEIGHT, "thickness": THICKNESS}
        panel["strips"] = [{"width": b - a, "wood": "ash"} for a, b in pairwise(edges)]
        pieces = [
            {
                "id": f"p{i}", "wood": "holly", "outline": {"polygon": shape},
                "pocket_depth": random.choice([2.0, 3.0, 6.0, 6.0, 6.0, 12.0, 13.0]),
                "insert_thickness": random.choice([7.5, 7.5, 6.0, 2.5]),
            }
            for i, shape in enumerate(shapes)
        ]  # fmt: skip
        shop = {"cutter_diameter": POINT, "side_clearance": 0}
        made.append({"format": "grainstack-panel/1", "panel": panel, "workshop": shop, "pieces": pieces})
    return made


def exactly(document: dict[str, Any]) -> Exact:
    strips, x = [], 0.0
    for strip in document["panel"]["strips"]:
        strips.append(box(x, 0.0, x + strip["width"], HEIGHT))
        x += strip["width"]
    strips[-1] = box(strips[-1][0][0], 0.0, WIDTH, HEIGHT)
    pockets = [
        Pocket(convex(p["outline"]["polygon"]), Fraction(p["pocket_depth"]), Fraction(p["insert_thickness"]))
        for p in document["pieces"]
    ]
    return exact_volumes(strips, Fraction(THICKNESS), pockets)


@pytest.mark.parametrize("group", range(GROUPS))
def test_each_strip_insert_and_void_has_its_exact_volume(group: int) -> None:
    """Within 1e-9 of the panel for all, and of itself for what is as big as a thimble (1 cm³)."""
    for document in drawings(group):
        exact = exactly(document)
        stack = build_stack(design_of(document, "exact.panel.json"))
        assert all(p.pocket.equals(p.outline) for p in stack.pieces), "the cutter rounds nothing"
        solids = build_solids(stack)
        volumes = measure_volumes(stack, solids)
        made = {solid.name: solid.volume for solid in solids}
        told = [made.get(strip.name, 0.0) for strip in stack.background]
        panel = WIDTH * HEIGHT * THICKNESS
        pairs = [
            *zip(told, exact.strips, strict=True),
            *zip(volumes.inserts, exact.inserts, strict=True),
            (volumes.gap, exact.voids),
        ]
        for number, true in pairs:
            assert abs(Fraction(number) - true) <= 1e-9 * (panel if true < 1000 else float(true)), document


# The oracle itself


def test_there_are_a_few_hundred_and_they_overlap_meet_and_leave_the_panel() -> None:
    documents = [document for group in range(GROUPS) for document in drawings(group)]
    assert len(documents) == 240
    shapes = [[shapely.Polygon(p["outline"]["polygon"]) for p in document["pieces"]] for document in documents]
    assert all(shape.is_valid and shape.exterior.is_ccw for some in shapes for shape in some)
    over = sum(a.intersection(b).area > 1 for some in shapes for a in some for b in some if a is not b)
    meet = sum(a.touches(b) for some in shapes for a in some for b in some if a is not b)
    leave = sum(not shapely.box(0, 0, WIDTH, HEIGHT).covers(a) for some in shapes for a in some)
    assert min(over, meet, leave) > 50


def test_clipping_by_hand() -> None:
    square, other = box(0, 0, 4, 4), box(1, 1, 6, 3)
    assert [area(part) for part in within(square, other)] == [6]
    assert sum(map(area, without([square], other))) == 10
    assert without([square], box(0, 0, 4, 4)) == []
    assert within(square, box(4, 0, 8, 4)) == []
    third = convex([(0, 0), (1, 0), (0, 1)])
    assert area(third) == Fraction(1, 2)


def test_two_squares_by_hand() -> None:
    """The second over the first's corner, shallower, its insert thinner than its pocket by 1."""
    first, second = Pocket(box(1, 1, 5, 5), Fraction(3), Fraction(9)), Pocket(box(3, 3, 7, 7), Fraction(2), Fraction(1))
    exact = exact_volumes([box(0, 0, 4, 8), box(4, 0, 8, 8)], Fraction(5), [first, second])
    assert exact.inserts == [2 * 12 + 1 * 16, 16]
    assert exact.voids == 16
    assert sum(exact.strips) == 8 * 8 * 5 - 16 * 3 - 16 * 2 + 4 * 2
    assert exact.strips[0] == 4 * 8 * 5 - 12 * 3 - 4 * 2 + 2 * 2


def test_floats_are_taken_as_they_are() -> None:
    assert area(box(0.0, 0.0, 0.1, 1.0)) == Fraction(0.1) != Fraction(1, 10)
