"""Sample designs for tests, made from records, and hypothesis strategies for random ones."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st

from core.design import Design, LineOutline, OutlineSource, Panel, Piece, PolygonOutline, Segment, Strip, Workshop
from core.solids.panel_solids import Solid

EIGHTH_INCH = 3.175
POINT_CUTTER = 0.008
"""Rounds a square corner by less than 0.002 mm, so that every outline stays as it was drawn."""
Points = Sequence[tuple[float, float]]


def fewer(share: int) -> settings:
    """The profile's number of examples, divided: for tests that are slow."""
    return settings(max_examples=max(5, settings.default.max_examples // share))


def make_panel(width: float = 120, height: float = 80, thickness: float = 19, **changes: Any) -> Panel:
    """A plain panel without trims, unless told."""
    plain = Panel(width, height, thickness, 0.0, (0.0, 0.0, 0.0, 0.0), "y", (), "sapele", 0.0)
    return replace(plain, **changes)


def make_piece(name: str, outline: OutlineSource | Points, **changes: Any) -> Piece:
    """A piece with the workshop's defaults, insert thickness and corner radius derived as the reader does."""
    source = outline if isinstance(outline, (PolygonOutline, LineOutline)) or hasattr(outline, "data") else None
    depth = changes.get("pocket_depth", 6.0)
    radius = changes.get("cutter_diameter", EIGHTH_INCH) / 2
    values: dict[str, Any] = {
        "id": name, "wood": "holly", "outline": source or PolygonOutline(tuple(outline)), "grain": None,
        "at": (0.0, 0.0), "turn": 0.0, "scale": 1.0, "mirror": False, "fit": "rounded", "after": (),
        "pocket_depth": depth, "insert_thickness": depth + 1.5, "side_clearance": 0.1, "strip_clearance": 0.03,
        "taper": 0.0, "floor_gap": 0.0, "cutter_diameter": 2 * radius,
        "corner_radius": radius + depth * math.tan(math.radians(changes.get("taper", 0.0))),
    }  # fmt: skip
    return Piece(**(values | changes))


def make_design(pieces: Sequence[Piece], panel: Panel | None = None) -> Design:
    """A design without a file."""
    return Design("sample", panel or make_panel(), Workshop(), tuple(pieces), Path())


def total_volume(solids: Iterable[Solid]) -> float:
    """mm³"""
    return float(sum(solid.volume for solid in solids))


# Outlines


def rectangle(width: float, height: float, x: float = 0.0, y: float = 0.0) -> Points:
    """Counter-clockwise from its lower left corner."""
    return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]


def disc(radius: float, x: float = 0.0, y: float = 0.0, count: int = 4096) -> Points:
    """A polygon of the same area as the disc."""
    equal = radius * math.sqrt(2 * math.pi / count / math.sin(2 * math.pi / count))
    return _polar(np.full(count, equal), x, y)


def ring(outer: float, inner: float, count: int = 4096) -> PolygonOutline:
    """A disc with a round hole, both of the right area."""
    return PolygonOutline(tuple(disc(outer, count=count)), (tuple(disc(inner, count=count)),))


def star(points: int, outer: float, inner: float) -> Points:
    """A star with its first tip on +x."""
    return _polar(np.where(np.arange(2 * points) % 2, inner, outer))


def blob(seed: int, radius: float, count: int = 48) -> Points:
    """A smooth closed curve round the origin, between 0.4 and 1.6 times its radius."""
    waves = np.random.default_rng(seed)
    angle = 2 * np.pi * np.arange(count) / count
    wobble = sum(waves.uniform(-0.3, 0.3) / k**0.5 * np.cos(k * angle + waves.uniform(0, 6.3)) for k in range(2, 6))
    return _polar(radius * np.clip(1 + wobble, 0.4, 1.6))


def comb(teeth: int, tooth: float, gap: float, length: float, back: float = 5.0) -> Points:
    """A back along x with teeth that point up."""
    points: list[tuple[float, float]] = [(0.0, 0.0), ((teeth - 1) * (tooth + gap) + tooth, 0.0)]
    for i in reversed(range(teeth)):
        left, right = i * (tooth + gap), i * (tooth + gap) + tooth
        points += [(right, back), (right, back + length), (left, back + length), (left, back)]
    return points[:2] + [p for p in points[2:] if p not in ((points[1][0], back), (0.0, back))]


def spiral(turns: float, width: float, pitch: float, count: int = 160) -> Points:
    """A band of a width that winds outwards."""
    angle = np.linspace(0, 2 * np.pi * turns, count)
    middle = width + pitch * angle / (2 * np.pi)
    out = np.concatenate([middle + width / 2, (middle - width / 2)[::-1]])
    both = np.concatenate([angle, angle[::-1]])
    return list(zip((out * np.cos(both)).tolist(), (out * np.sin(both)).tolist(), strict=True))


def lace(columns: int, rows: int, hole: float, bar: float) -> PolygonOutline:
    """A plate with a grid of square holes and bars between them."""
    pitch = hole + bar
    holes = [
        tuple(rectangle(hole, hole, bar + i * pitch, bar + j * pitch)) for i in range(columns) for j in range(rows)
    ]
    return PolygonOutline(tuple(rectangle(bar + columns * pitch, bar + rows * pitch)), tuple(holes))


def dumbbell(size: float, neck: float, length: float) -> Points:
    """Two squares joined by a straight neck along x."""
    low, high = (size - neck) / 2, (size + neck) / 2
    far = size + length
    return [
        (0, 0), (size, 0), (size, low), (far, low), (far, 0), (far + size, 0),
        (far + size, size), (far, size), (far, high), (size, high), (size, size), (0, size),
    ]  # fmt: skip


def fin(length: float, root: float) -> Points:
    """A square of 20 with a long thin triangle on its right side."""
    return [(0, 0), (20, 0), (20, 10 - root / 2), (20 + length, 10), (20, 10 + root / 2), (20, 20), (0, 20)]


def _polar(radii: np.ndarray, x: float = 0.0, y: float = 0.0) -> Points:
    angle = 2 * np.pi * np.arange(len(radii)) / len(radii)
    return list(zip((x + radii * np.cos(angle)).tolist(), (y + radii * np.sin(angle)).tolist(), strict=True))


# Random designs

whole = st.integers
SHAPES: st.SearchStrategy[PolygonOutline] = st.one_of(
    st.builds(rectangle, whole(4, 60), whole(4, 40)),
    st.builds(blob, whole(0, 999), whole(6, 22)),
    st.builds(star, whole(3, 7), whole(12, 25), whole(4, 10)),
    st.builds(comb, whole(2, 5), st.sampled_from([2.0, 3.175, 6.0]), st.sampled_from([1.0, 3.175, 5.0]), whole(5, 20)),
    st.builds(spiral, st.sampled_from([1.5, 2.0]), whole(4, 6), whole(8, 12)),
    st.builds(dumbbell, whole(10, 16), whole(1, 5), whole(2, 8)),
    st.builds(fin, whole(5, 40), whole(1, 8)),
).map(lambda points: PolygonOutline(tuple(points))) | st.one_of(
    st.builds(lace, whole(1, 3), whole(1, 3), whole(2, 9), whole(3, 6)),
    st.builds(ring, whole(12, 25), whole(3, 7), st.just(90)),
)
GROOVES = st.builds(
    LineOutline,
    st.lists(st.tuples(whole(0, 60), whole(0, 40)), min_size=2, max_size=4, unique=True).map(tuple),
    st.just(EIGHTH_INCH),
    st.booleans(),
)
TURNS = st.sampled_from([0.0, 90.0, 180.0, 33.3, -120.0])


@st.composite
def pieces(draw: st.DrawFn, name: str, tapers: Sequence[float] = (0.0,)) -> Piece:
    """One piece on a panel of 120 by 80, or partly beside it, on the grid or off it."""
    groove = draw(whole(0, 9)) == 9
    taper = 0.0 if groove else draw(st.sampled_from(list(tapers)))
    depth = draw(st.sampled_from([3.0, 4.0, 5.5, 6.0, 7.0, 19.0, 25.0]))
    if taper:
        depth = min(depth, 7.0)
    off_grid = draw(st.sampled_from([0.0, 0.0, 0.37, 0.123456789]))
    fit = "rounded" if groove or taper else draw(st.sampled_from(["rounded", "rounded", "rounded", "as-drawn"]))
    return make_piece(
        name,
        draw(GROOVES if groove else SHAPES),
        at=(draw(whole(-10, 120)) + off_grid, draw(whole(-10, 80)) + off_grid),
        turn=draw(TURNS),
        mirror=draw(st.booleans()),
        fit=fit,
        taper=taper,
        pocket_depth=depth,
        insert_thickness=draw(st.sampled_from([depth + 1.5, depth + 1.5, depth, depth - 2.0, 1.0])),
        floor_gap=draw(st.sampled_from([0.0, 0.0, 0.5])),
        side_clearance=draw(st.sampled_from([0.0, 0.1, 0.1, 1.5])),
        cutter_diameter=EIGHTH_INCH if groove else draw(st.sampled_from([POINT_CUTTER * 400, EIGHTH_INCH, 1.5])),
    )


@st.composite
def panels(draw: st.DrawFn) -> Panel:
    """A panel of 120 by 80, plain or in strips, with or without trims."""
    trims = draw(st.sampled_from([(0.0, (0.0,) * 4), (0.5, (10.0,) * 4), (5.5, (3.0, 0.0, 7.25, 1.0))]))
    along = draw(st.sampled_from(["x", "y", None]))
    if along is None:
        return make_panel(face_trim=trims[0], edge_trim=trims[1])
    across, length = (120, 80) if along == "y" else (80, 120)
    strips = (
        Strip(20, (Segment(length, "ash"),)),
        Strip(20, (Segment(30, "ash"), Segment(length - 30, "cherry"))),
        Strip(across - 40, (Segment(length, "sapele"),)),
    )
    return make_panel(face_trim=trims[0], edge_trim=trims[1], strips_along=along, strips=strips, wood=None)


@st.composite
def designs(draw: st.DrawFn, most: int = 6, tapers: Sequence[float] = (0.0,)) -> Design:
    """A random design; now and then a piece repeats an earlier outline in its place, or lies flush beside it."""
    made: list[Piece] = []
    for i in range(draw(whole(1, most))):
        piece = draw(pieces(f"p{i}", tapers))
        if made and draw(whole(0, 4)) == 4:
            twin = draw(st.sampled_from(made))
            deeper = draw(st.sampled_from([0.0, 0.0, 1.0]))
            piece = replace(
                twin,
                id=f"p{i}",
                pocket_depth=twin.pocket_depth + (0.0 if twin.taper else deeper),
                insert_thickness=twin.insert_thickness + deeper,
            )
        made.append(piece)
    return make_design(made, draw(panels()))


GRID_PANEL = make_panel(
    12,
    8,
    5,
    strips=(
        Strip(4, (Segment(8, "ash"),)),
        Strip(4, (Segment(4, "ash"), Segment(4, "elm"))),
        Strip(4, (Segment(8, "ash"),)),
    ),
    wood=None,
)


@st.composite
def grid_designs(draw: st.DrawFn) -> Design:
    """Rectangles on a grid of whole millimetres: they touch at points and along edges, joints and panel edges."""
    made = []
    for i in range(draw(whole(1, 7))):
        x, y = draw(whole(-2, 11)), draw(whole(-2, 7))
        made.append(
            make_piece(
                f"p{i}",
                rectangle(draw(whole(1, 6)), draw(whole(1, 6)), x, y),
                cutter_diameter=POINT_CUTTER,
                side_clearance=0.0,
                pocket_depth=float(draw(whole(1, 5))),
                insert_thickness=float(draw(whole(1, 6))),
            )
        )
    return make_design(made, GRID_PANEL)
