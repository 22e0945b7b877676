"""Solids of random designs against programs and rules that share nothing with core.

- trimesh and manifold3d say of every solid that it is closed, turned outward, and how much it encloses;
- a point-in-polygon test of our own on the outlines as the design file has them says who owns a point, at five depths
  and in the middle of each layer;
- trimesh's plane sections of the meshes at five depths are the sections that the stack tells.

Sources: trimesh and manifold3d as locked in requirements/test.txt; the even-odd rule is common practice, no published
source.
"""

from __future__ import annotations

import math
from itertools import pairwise
from random import Random
from typing import Any, get_args

import numpy as np
import numpy.typing as npt
import pytest
import shapely
import trimesh
from shapely.geometry.base import BaseGeometry

from core.design_file.reading import design_of
from core.solids.panel_solids import Solid, State, build_solids
from core.stack.stack import Stack, build_stack
from fuzz.families import FAMILIES, design
from tests.core.oracles import VOID, assert_closed

Array = npt.NDArray[np.float64]
POINT = 0.00202
"""A cutter that rounds no corner, mm: radii are taken 0.001 mm smaller, and 0.00001 mm is left of this one's."""


def stack_of(document: dict[str, Any]) -> Stack:
    return build_stack(design_of(document, "outside.panel.json"))


# Closed, turned outward, as big as it says


@pytest.mark.parametrize("family", FAMILIES)
def test_trimesh_and_manifold3d_find_every_solid_closed_and_as_big_as_it_says(family: str) -> None:
    for number in (100, 101):
        stack = stack_of(design(family, number))
        for state in get_args(State):
            for solid in build_solids(stack, state):
                assert_closed(solid)


# Who owns a point

EXACT_FAMILIES = (
    "mosaic", "sunburst", "hexagons", "parquet", "bars", "tiles", "skyline", "chessboard", "island-fill",
    "same-outline", "symmetric", "shallow", "nearly", "flush",
)  # fmt: skip
MARGIN = 0.02
"""No point is asked for that lies nearer to an outline, mm: what is thinner than half of that may count as dust."""


def without_play(family: str, number: int) -> dict[str, Any]:
    """A design whose pockets and inserts are the outlines themselves: polygons, upright walls, no play."""
    document = design(family, number)
    shop = document["workshop"]
    document["workshop"] = {"cutter_diameter": POINT, "side_clearance": 0}
    if "floor_gap" in shop:
        document["workshop"]["floor_gap"] = shop["floor_gap"]
    document["pieces"] = [
        {key: value for key, value in entry.items() if key not in ("taper", "fit")}
        for entry in document["pieces"]
        if "polygon" in entry["outline"]
    ]
    return document


def rings_on_panel(entry: dict[str, Any]) -> list[Array]:
    """The rings of a piece where they lie on the panel, from the file's own numbers: scale, mirror, turn, move."""
    outline, angle = entry["outline"], math.radians(entry.get("turn", 0.0))
    matrix = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    flip = np.array([-1.0 if entry.get("mirror") else 1.0, 1.0]) * entry.get("scale", 1.0)
    rings = [outline["polygon"], *outline.get("holes", ())]
    return [np.array(ring) * flip @ matrix + np.array(entry.get("at", (0.0, 0.0))) for ring in rings]


def inside(rings: list[Array], points: Array) -> npt.NDArray[np.bool_]:
    """Which points lie in a shape."""
    return crossed(np.concatenate(rings), np.concatenate([np.roll(ring, -1, axis=0) for ring in rings]), points)


def crossed(start: Array, end: Array, points: Array) -> npt.NDArray[np.bool_]:
    """Find the points from which a ray to the right crosses an odd number of sides."""
    x, y = points[:, :1], points[:, 1:]
    across = (start[:, 1] <= y) != (end[:, 1] <= y)
    rise = np.where(end[:, 1] == start[:, 1], 1.0, end[:, 1] - start[:, 1])
    crossing = start[:, 0] + (y - start[:, 1]) / rise * (end[:, 0] - start[:, 0])
    return np.count_nonzero(across & (crossing > x), axis=1) % 2 == 1


def distance_to(rings: list[Array], points: Array) -> Array:
    """The distance of each point to the nearest side."""
    start = np.concatenate(rings)
    along = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings]) - start
    away = points[:, None] - start
    length = np.maximum((along**2).sum(axis=1), 1e-300)
    part = np.clip((away * along).sum(axis=2) / length, 0.0, 1.0)
    return np.asarray(np.linalg.norm(away - part[..., None] * along, axis=2).min(axis=1))


def asked_points(document: dict[str, Any], rings: list[list[Array]], number: int) -> Array:
    """Points all over the panel, and as many close to the outlines, but none within the margin of a line."""
    panel, random = document["panel"], np.random.default_rng(number)
    size = np.array([panel["width"], panel["height"]])
    everywhere = random.uniform(0, 1, (300, 2)) * size
    corners = np.concatenate([ring for some in rings for ring in some])
    beside = corners[random.integers(len(corners), size=300)] + random.normal(0, 0.5, (300, 2))
    sides = [(a, b) for some in rings for ring in some for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)]
    chosen = random.integers(len(sides), size=300)
    along = random.uniform(0, 1, (300, 1))
    near = np.array([sides[i][0] for i in chosen]) * along + np.array([sides[i][1] for i in chosen]) * (1 - along)
    points = np.concatenate([everywhere, beside, near + random.normal(0, 0.1, (300, 2))])
    points = points[((points > MARGIN) & (points < size - MARGIN)).all(axis=1)]
    joints = [np.array([[a, b], [c, d]]) for a, b, c, d in joint_lines(document)]
    lines = [ring for some in rings for ring in some] + joints
    return points[distance_to(lines, points) > MARGIN]


def strip_boxes(document: dict[str, Any]) -> list[tuple[float, float, float, float]]:
    """Left, bottom, right, top of each segment of the background, in the order of their names."""
    panel = document["panel"]
    upright = panel.get("strips_along", "y") == "y"
    length = panel["height"] if upright else panel["width"]
    if "strips" not in panel:
        return [(0.0, 0.0, panel["width"], panel["height"])]
    boxes, x = [], 0.0
    for strip in panel["strips"]:
        y = 0.0
        for part in [s["length"] for s in strip.get("segments", ())] or [length]:
            low, high = (x, y), (x + strip["width"], y + part)
            boxes.append((*low, *high) if upright else (*low[::-1], *high[::-1]))
            y += part
        x += strip["width"]
    return boxes


def joint_lines(document: dict[str, Any]) -> list[tuple[float, float, float, float]]:
    return [
        line
        for left, bottom, right, top in strip_boxes(document)
        for line in ((left, bottom, left, top), (left, bottom, right, bottom))
    ]


def painted(document: dict[str, Any], rings: list[list[Array]], points: Array, depth: float) -> npt.NDArray[np.int64]:
    """Who owns each point at a depth: back to front, each pocket makes a void and its insert fills it."""
    panel, shop = document["panel"], document["workshop"]
    owner = np.full(len(points), VOID)
    for i, (left, bottom, right, top) in enumerate(strip_boxes(document)):
        x, y = points.T
        owner[(x > left) & (x < right) & (y > bottom) & (y < top)] = len(rings) + i
    for i, (entry, shape) in enumerate(zip(document["pieces"], rings, strict=True)):
        asked = entry.get("pocket_depth", 6.0)
        floor = min(asked, panel["thickness"])
        low = floor - entry.get("floor_gap", shop.get("floor_gap", 0.0))
        high = low - entry.get("insert_thickness", asked + 1.5)
        if depth < floor:
            owner[inside(shape, points)] = i if high < depth < low else VOID
    return owner


def covers(solid: Solid, points: Array, heights: list[float]) -> npt.NDArray[np.int64]:
    """How often a solid covers each point at each height: upward faces above it less downward ones."""
    a, b, c = np.moveaxis(solid.vertices[solid.triangles], 1, 0)
    doubled = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    level = doubled != 0
    a, b, c, doubled = a[level], b[level], c[level], doubled[level]
    x, y = points[:, :1], points[:, 1:]
    weight_a = ((b[:, 0] - x) * (c[:, 1] - y) - (c[:, 0] - x) * (b[:, 1] - y)) / doubled
    weight_b = ((c[:, 0] - x) * (a[:, 1] - y) - (a[:, 0] - x) * (c[:, 1] - y)) / doubled
    weight_c = 1 - weight_a - weight_b
    hit = (weight_a > 0) & (weight_b > 0) & (weight_c > 0)
    z = weight_a * a[:, 2] + weight_b * b[:, 2] + weight_c * c[:, 2]
    sign = np.where(hit, np.sign(doubled), 0).astype(np.int64)
    return np.array([(sign * (z > height)).sum(axis=1) for height in heights])


def middles(document: dict[str, Any]) -> list[float]:
    """Five depths or more: the middle of each layer in which no floor lies and no insert ends, and some others."""
    panel, shop = document["panel"], document["workshop"]
    ends = {0.0, panel["thickness"]}
    for entry in document["pieces"]:
        asked = entry.get("pocket_depth", 6.0)
        floor = min(asked, panel["thickness"])
        low = floor - entry.get("floor_gap", shop.get("floor_gap", 0.0))
        ends |= {floor, low, low - entry.get("insert_thickness", asked + 1.5)}
    levels = sorted(end for end in ends if 0 <= end <= panel["thickness"])
    layers = [(high + low) / 2 for high, low in pairwise(levels)]
    return [*layers, *(panel["thickness"] * part for part in (0.01713, 0.11371, 0.23119, 0.41237, 0.71093))]


@pytest.mark.parametrize("family", EXACT_FAMILIES)
def test_a_point_belongs_to_the_one_solid_that_the_drawing_says(family: str) -> None:
    for number in range(6):
        document = without_play(family, number)
        if not document["pieces"]:
            continue
        rings = [rings_on_panel(entry) for entry in document["pieces"]]
        points, depths = asked_points(document, rings, number), middles(document)
        stack = stack_of(document)
        names = [p.piece.id for p in stack.pieces] + [b.name for b in stack.background]
        solids = {solid.name: solid for solid in build_solids(stack)}
        nothing = np.zeros((len(depths), len(points)), dtype=np.int64)
        found = [covers(solids[n], points, [-d for d in depths]) if n in solids else nothing for n in names]
        for k, depth in enumerate(depths):
            owner = painted(document, rings, points, depth)
            for i, name in enumerate(names):
                wrong = np.flatnonzero(found[i][k] != (owner == i))
                assert not len(wrong), (number, name, depth, points[wrong[:3]].tolist())


def test_the_drawing_owns_its_points_as_worked_by_hand() -> None:
    """The oracle itself: a square turned by 90 about its corner and scaled; a mirrored bar, shallow."""
    square = {"polygon": [[0, 0], [2, 0], [2, 2], [0, 2]], "holes": [[[0.5, 0.5], [1, 0.5], [1, 1], [0.5, 1]]]}
    a = {"id": "a", "outline": square, "at": [5, 1], "turn": 90, "scale": 2.0, "pocket_depth": 3.0}
    b = {
        "id": "b",
        "outline": {"polygon": [[0, 0], [3, 0], [3, 1], [0, 1]]},
        "at": [4, 1],
        "mirror": True,
        "pocket_depth": 1.0,
    }
    document = {"panel": {"width": 8, "height": 6, "thickness": 5, "wood": "ash"}, "workshop": {}, "pieces": [a, b]}
    rings = [rings_on_panel(entry) for entry in document["pieces"]]
    points = np.array([[1.2, 1.5], [2.0, 4.5], [3.5, 2.5], [7.0, 5.0], [4.5, 4.5]])
    assert painted(document, rings, points, 0.5).tolist() == [1, 0, 2, 2, 0]
    assert painted(document, rings, points, 2.0).tolist() == [0, 0, 2, 2, 0]
    assert painted(document, rings, points, 4.0).tolist() == [2, 2, 2, 2, 2]
    assert distance_to(rings[1], np.array([[0.0, 1.5], [2.5, 1.25]])).tolist() == [1.0, 0.25]


# Sections

SAME = 1e-4
"""mm²: two sections may differ by so much in all. A wall 100 mm long that is 1e-6 mm off differs by as much."""


def section_of(solid: Solid, depth: float) -> BaseGeometry:
    """A solid cut at a depth by trimesh, triangle by triangle: what all these segments enclose by the even-odd rule.

    Not trimesh's paths: where a section touches itself they go on along the wrong curve.
    """
    mesh = trimesh.Trimesh(solid.vertices, solid.triangles, process=False)
    cuts = trimesh.intersections.mesh_plane(mesh, (0.0, 0.0, 1.0), (0.0, 0.0, -depth))[:, :, :2]
    # Each triangle works out its own ends; a grid finer than anything that is measured makes neighbours meet.
    lines = shapely.union_all(shapely.linestrings(cuts), grid_size=1e-7)
    faces = shapely.get_parts(shapely.polygonize([lines]))
    points = shapely.get_coordinates(shapely.point_on_surface(faces)).reshape(-1, 2)
    return shapely.union_all(faces[crossed(cuts[:, 0], cuts[:, 1], points)])


def told_sections(stack: Stack, depth: float) -> dict[str, BaseGeometry]:
    """What the stack says of each solid at a depth: strips less all pockets, inserts less all later ones."""
    pockets = [placed.pocket_at(depth) for placed in stack.pieces]
    told = {b.name: shapely.difference(b.box, shapely.union_all(pockets)) for b in stack.background}
    for placed in stack.pieces:
        later = shapely.union_all(pockets[placed.index + 1 :])
        told[placed.piece.id] = shapely.difference(shapely.intersection(placed.insert_at(depth), stack.box), later)
    return told


def hairs(shape: BaseGeometry) -> BaseGeometry:
    """The parts that vanish when drawn in by 0.005 mm: dust, which solids leave out and count."""
    parts = shapely.get_parts(shape)
    return shapely.union_all(parts[shapely.is_empty(shapely.buffer(parts, -0.005))])


@pytest.mark.parametrize("family", FAMILIES)
def test_meshes_cut_by_trimesh_are_the_sections_that_the_stack_tells(family: str) -> None:
    for number in (200, 201):
        stack = stack_of(design(family, number))
        solids = {solid.name: solid for solid in build_solids(stack)}
        deepest = max((placed.depth for placed in stack.pieces if placed.sound), default=1.0)
        for part in (0.0513, 0.2371, 0.4703, 0.7129, 0.9317):
            for name, told in told_sections(stack, part * deepest).items():
                made = section_of(solids[name], part * deepest) if name in solids else shapely.Polygon()
                if name not in solids or solids[name].dust:
                    told = shapely.difference(told, hairs(shapely.difference(told, made)))
                apart = shapely.symmetric_difference(made, told).area
                assert apart <= SAME, (number, name, part * deepest, apart)


def test_a_section_that_is_off_is_noticed() -> None:
    stack = stack_of(design("tiles", 200))
    solid = build_solids(stack)[0]
    told = told_sections(stack, 1.0)[solid.name]
    assert shapely.symmetric_difference(section_of(solid, 1.0), told).area <= SAME
    moved = shapely.affinity.translate(told, 1e-5)
    assert shapely.symmetric_difference(section_of(solid, 1.0), moved).area > SAME


def test_the_points_asked_for_are_many_and_clear_of_all_lines() -> None:
    for family in EXACT_FAMILIES:
        document = without_play(family, Random(family).randrange(6))
        rings = [rings_on_panel(entry) for entry in document["pieces"]]
        points = asked_points(document, rings, 0)
        assert len(points) > 300
        assert distance_to([ring for some in rings for ring in some], points).min() > MARGIN
