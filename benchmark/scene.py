"""The scene that is measured: smooth shapes of 300 vertices, laid at random over strips.

Everything is drawn from a fixed seed, so a run can be repeated, and goes through design records and the stack
like any maker's design.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import shapely

from core.design import Design, Panel, Piece, Point, PolygonOutline, Segment, Strip, Workshop
from core.stack.stack import Stack

VERTICES = 300
RADIUS = 25.0
"""A shape's radius, on average, mm."""
WAVES = range(2, 5)
"""Each shape is a circle with waves of these numbers in its radius."""
AMPLITUDE = 0.08
"""Largest of a wave, as a part of the radius: no curve gets as tight as a cutter, so rounding keeps every vertex."""
STRIP = 60.0
THICKNESS = 19.0
DEPTHS = (4.0, 7.0)
LATER = 3.0
"""Later overlaps per piece that the panel's area aims at."""
CROWDING = 1.0
"""Area that a panel needs beyond that of shapes strewn over an endless plane, where they lie thinner at the edges."""
WOODS = ("black walnut", "hard maple", "black cherry")


def blob(rng: np.random.Generator) -> npt.NDArray[np.float64]:
    """Corners (300, 2) of one shape round the origin, counter-clockwise, mm."""
    angle = np.linspace(0, 2 * math.pi, VERTICES, endpoint=False)
    waves = [rng.uniform(-AMPLITUDE, AMPLITUDE) * np.cos(k * angle + rng.uniform(0, 2 * math.pi)) for k in WAVES]
    radius = RADIUS * (1 + sum(waves))
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)


def scene(count: int, seed: int = 1) -> Design:
    """A design of `count` pieces, about three later overlaps each, on strips of 60 mm.

    Two discs overlap where their middles are nearer than 2 R, so a piece among `count` on an area A has about
    count π (2 R)² / A overlaps, half of them later ones.
    """
    rng = np.random.default_rng(seed)
    margin = 1.2 * RADIUS
    middles_area = count * math.pi * (2 * RADIUS) ** 2 / (2 * LATER) / CROWDING
    strips = max(2, round((math.sqrt(middles_area) + 2 * margin) / STRIP))
    width = strips * STRIP
    height = middles_area / (width - 2 * margin) + 2 * margin
    woods = [WOODS[i % 2] for i in range(strips)]
    panel = Panel(
        width=width,
        height=height,
        thickness=THICKNESS,
        face_trim=0.5,
        edge_trim=(0.0, 0.0, 0.0, 0.0),
        strips_along="y",
        strips=tuple(Strip(STRIP, (Segment(height, wood),)) for wood in woods),
        wood=None,
        grain=90.0,
    )
    workshop = Workshop()
    pieces = tuple(
        _piece(
            f"piece-{i + 1}",
            tuple((float(x), float(y)) for x, y in blob(rng)),
            (float(rng.uniform(margin, width - margin)), float(rng.uniform(margin, height - margin))),
            float(rng.uniform(*DEPTHS)),
            workshop,
        )
        for i in range(count)
    )
    return Design("benchmark", panel, workshop, pieces, Path())


def _piece(name: str, points: tuple[Point, ...], at: Point, depth: float, workshop: Workshop) -> Piece:
    return Piece(
        id=name,
        wood=WOODS[2],
        outline=PolygonOutline(points),
        grain=0.0,
        at=at,
        turn=0.0,
        scale=1.0,
        mirror=False,
        fit="rounded",
        after=(),
        pocket_depth=depth,
        insert_thickness=depth + workshop.proud,
        side_clearance=workshop.side_clearance,
        strip_clearance=workshop.strip_clearance,
        taper=workshop.taper,
        floor_gap=workshop.floor_gap,
        cutter_diameter=workshop.cutter_diameter,
        corner_radius=workshop.cutter_diameter / 2,
    )


def with_one_moved(design: Design, index: int, by: Point) -> Design:
    """Move one piece of a design by `by` mm to the right and up."""
    piece = design.pieces[index]
    moved = replace(piece, at=(piece.at[0] + by[0], piece.at[1] + by[1]))
    return replace(design, pieces=(*design.pieces[:index], moved, *design.pieces[index + 1 :]))


def vertices_per_piece(stack: Stack) -> float:
    """Mean count of a pocket's vertices, after rounding."""
    pockets = [placed.pocket for placed in stack.pieces]
    return float(np.mean(shapely.get_num_coordinates(pockets) - 1))


def later_overlaps_per_piece(stack: Stack) -> float:
    """Mean count of later pockets that cut into a piece."""
    return float(np.mean([len(placed.under) for placed in stack.pieces]))
