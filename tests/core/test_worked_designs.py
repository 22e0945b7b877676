"""Panels worked out by hand: closed forms of discs, squares and rings, carried through to the check's numbers.

Source: DERIVED, worked by hand from plane geometry and checked numerically to 1e-6 where they were written down; each
number below is computed here from its closed form, and the figure that was written down stands beside it.
Circles hold to 1e-6 relative, rounded corners to 1e-5 in area and 0.003 mm in interference, since radii are taken
0.001 mm smaller.
"""

from __future__ import annotations

import math
from math import acos, asin, pi, sqrt, tan
from typing import Any

import pytest

from core.design import Design
from core.findings.all_findings import find_all
from core.findings.check import check_stack
from core.stack.stack import build_stack
from tests.core.designs import disc, make_design, make_panel, make_piece, rectangle, ring

PANEL = make_panel(600, 400, 19)
V = 600.0 * 400.0 * 19.0
CUTTER = 1.5875
TAN3 = tan(math.radians(3))
CIRCLES = {"rel": 1e-6}
CORNERS = {"rel": 1e-5}


def check(design: Design) -> dict[str, Any]:
    return check_stack(build_stack(design))


def lens(big: float, small: float, apart: float) -> float:
    """Area that two discs share."""
    kite = sqrt((big + small - apart) * (apart + big - small) * (apart - big + small) * (big + small + apart))
    return (
        big**2 * acos((apart**2 + big**2 - small**2) / (2 * apart * big))
        + small**2 * acos((apart**2 + small**2 - big**2) / (2 * apart * small))
        - kite / 2
    )


def two_discs(clearance: float, depth_a: float, depth_b: float, count: int = 4096, **changes: Any) -> Design:
    a = make_piece("A", disc(20, count=count), at=(200, 200), pocket_depth=depth_a, side_clearance=clearance, **changes)
    b = make_piece("B", disc(15, count=count), at=(225, 200), pocket_depth=depth_b, side_clearance=clearance, **changes)
    return make_design([a, b], PANEL)


def test_lens_has_the_areas_that_were_written_down() -> None:
    assert lens(20, 15, 25) == pytest.approx(166.041868, abs=1e-6)
    assert lens(19.9, 15, 25) == pytest.approx(163.474320, abs=1e-6)


@pytest.mark.parametrize(
    ("clearance", "depth_a", "depth_b", "written"),
    [
        (0.0, 6, 4, (6875.654898, 2827.433388, 4550296.911713, 0)),
        (0.0, 4, 6, (4362.380775, 4241.150082, 4551396.469142, 0)),
        (0.1, 6, 4, (6810.715359, 2789.859940, 4550296.911713, 102.512987)),
        (0.1, 4, 6, (4322.511146, 4184.789910, 4551396.469142, 96.229802)),
    ],
)
def test_two_overlapping_discs(clearance: float, depth_a: float, depth_b: float, written: tuple[float, ...]) -> None:
    shared, shared_insert, both = lens(20, 15, 25), lens(20 - clearance, 15, 25), min(depth_a, depth_b)
    insert_a = depth_a * pi * (20 - clearance) ** 2 - both * shared_insert
    insert_b = depth_b * pi * (15 - clearance) ** 2
    background = V - depth_a * pi * 20**2 - depth_b * pi * 15**2 + both * shared
    gap = (
        depth_a * pi * (20**2 - (20 - clearance) ** 2)
        - both * (shared - shared_insert)
        + depth_b * pi * (15**2 - (15 - clearance) ** 2)
    )
    assert (insert_a, insert_b, background, gap) == pytest.approx(written, abs=1e-6)

    found = check(two_discs(clearance, depth_a, depth_b))
    a, b = found["pieces"]
    assert a["insert_volume"] == pytest.approx(insert_a, **CIRCLES)
    assert b["insert_volume"] == pytest.approx(insert_b, **CIRCLES)
    assert found["panel"]["background_volume"] == pytest.approx(background, **CIRCLES)
    assert found["panel"]["gap_volume"] == pytest.approx(gap, **CIRCLES, abs=1e-6)
    assert found["panel"]["volume"] == V
    assert (a["batch"], b["batch"], b["over"]) == (1, 2, ["A"])


@pytest.mark.parametrize(("depth_a", "depth_b"), [(6, 4), (4, 6)])
@pytest.mark.parametrize(("clearance", "written"), [(0.0, 1090.595194), (0.1, 1080.627786)])
def test_what_is_seen_of_an_overlapped_disc(clearance: float, written: float, depth_a: float, depth_b: float) -> None:
    seen = pi * (20 - clearance) ** 2 - lens(20 - clearance, 15, 25)
    assert seen == pytest.approx(written, abs=1e-6)
    assert check(two_discs(clearance, depth_a, depth_b))["pieces"][0]["visible_area"] == pytest.approx(seen, **CIRCLES)


def square(**changes: Any) -> Design:
    return make_design([make_piece("square", rectangle(40, 40), at=(200, 200), **changes)], PANEL)


def test_a_square_as_drawn() -> None:
    r, c = CUTTER, 0.1
    pocket, sawn = 40**2 - (4 - pi) * r**2, (40 - 2 * c) ** 2
    e = r - c
    s = sqrt(r**2 - e**2)
    clipped = sawn - 4 * (e**2 - e * s - r**2 / 2 * (pi / 2 - 2 * asin(s / r)))
    assert (pocket, sawn, clipped) == pytest.approx((1597.836679, 1584.04, 1582.809017), abs=1e-6)

    found = check(square(fit="as-drawn"))["pieces"][0]
    assert found["outline_area"] == pytest.approx(1600)
    assert found["fit_area"] == pytest.approx(pocket, **CORNERS)
    assert found["insert_area"] == pytest.approx(sawn, **CORNERS)
    assert found["visible_area"] == pytest.approx(clipped, **CORNERS)
    assert found["insert_volume"] == pytest.approx(6 * clipped, **CORNERS)
    assert found["pocket_volume"] == pytest.approx(6 * pocket, **CORNERS)


def test_a_square_as_drawn_binds_at_its_corners() -> None:
    interference = sqrt(2) * (CUTTER - 0.1) - CUTTER
    assert interference == pytest.approx(0.516143, abs=1e-6)
    found = [finding for finding in find_all(build_stack(square(fit="as-drawn"))) if finding.level != "note"]
    assert [finding.code for finding in found] == ["binds"] * 4
    corners = [(200.1, 200.1), (200.1, 239.9), (239.9, 200.1), (239.9, 239.9)]
    for finding, corner in zip(found, corners, strict=True):
        assert finding.at == pytest.approx(corner, abs=0.003)
        assert f"{interference:.2f} mm" in finding.text


def test_a_concave_corner_as_drawn_binds_less() -> None:
    interference = (1 - 1 / sqrt(2)) * CUTTER - 0.1
    assert interference == pytest.approx(0.364968, abs=1e-6)
    bracket = [(0, 0), (40, 0), (40, 20), (20, 20), (20, 40), (0, 40)]
    design = make_design([make_piece("bracket", bracket, at=(200, 200), fit="as-drawn")], PANEL)
    found = [finding for finding in find_all(build_stack(design)) if finding.code == "binds"]
    concave = [finding for finding in found if math.dist(finding.at, (220, 220)) < 1]
    assert len(found) == 6
    assert len(concave) == 1
    assert f"{interference:.2f} mm" in concave[0].text


def test_the_same_square_rounded() -> None:
    sawn = (40 - 0.2) ** 2 - (4 - pi) * (CUTTER - 0.1) ** 2
    assert sawn == pytest.approx(1582.140640, abs=1e-6)
    found = check(square())["pieces"][0]
    assert found["insert_area"] == pytest.approx(sawn, **CORNERS)
    assert found["fit_area"] == pytest.approx(40**2 - (4 - pi) * CUTTER**2, **CORNERS)


def test_a_ring() -> None:
    pocket, gap = 6 * pi * (30**2 - 12**2), 2 * pi * 6 * 0.1 * (30 + 12)
    assert (pocket, gap, pocket - gap) == pytest.approx((14250.264277, 158.336270, 14091.928007), abs=1e-6)
    found = check(make_design([make_piece("ring", ring(30, 12), at=(200, 200))], PANEL))
    assert found["pieces"][0]["pocket_volume"] == pytest.approx(pocket, **CIRCLES)
    assert found["pieces"][0]["insert_volume"] == pytest.approx(pocket - gap, **CIRCLES)
    assert found["panel"]["gap_volume"] == pytest.approx(gap, **CIRCLES)


# Leaning walls


LEANING = 2048
"""Corners of a disc whose walls lean: half of the others', for a quarter of the time and the same figures."""


def frustum(radius: float, depth: float, lean: float) -> float:
    """Volume of a disc of a radius at the face whose wall leans in, `lean` mm per mm of depth."""
    floor = radius - depth * lean
    return pi * depth / 3 * (radius**2 + radius * floor + floor**2)


def test_a_tapered_disc() -> None:
    pocket, insert = frustum(20, 6, TAN3), frustum(19.9, 6, TAN3)
    seen = pi * (20 - 0.1 - 0.5 * TAN3) ** 2
    written = (7421.900025, 7347.283015, 74.617010, 1240.827850)
    assert (pocket, insert, pocket - insert, seen) == pytest.approx(written, abs=1e-6)
    panel = make_panel(600, 400, 19, face_trim=0.5)
    found = check(make_design([make_piece("disc", disc(20, count=LEANING), at=(200, 200), taper=3.0)], panel))
    piece = found["pieces"][0]
    assert piece["pocket_volume"] == pytest.approx(pocket, **CIRCLES)
    assert found["panel"]["gap_volume"] == pytest.approx(pocket - insert, **CIRCLES)
    assert piece["visible_area"] == pytest.approx(seen, **CIRCLES)
    assert piece["insert_volume"] == pytest.approx(insert, **CIRCLES)


def test_a_tapered_ring_has_a_hole_that_grows() -> None:
    pocket = frustum(30, 6, TAN3) - frustum(12, 6, -TAN3)
    insert = frustum(29.9, 6, TAN3) - frustum(12.1, 6, -TAN3)
    assert (pocket, insert) == pytest.approx((14001.322709, 13842.986439), abs=1e-6)
    found = check(make_design([make_piece("ring", ring(30, 12, LEANING), at=(200, 200), taper=3.0)], PANEL))
    assert found["pieces"][0]["pocket_volume"] == pytest.approx(pocket, **CIRCLES)
    assert found["panel"]["gap_volume"] == pytest.approx(pocket - insert, **CIRCLES)
    assert found["pieces"][0]["insert_volume"] == pytest.approx(insert, **CIRCLES)


def test_tapered_discs_that_overlap() -> None:
    def shared(depth: float) -> float:
        return lens(20 - depth * TAN3, 15 - depth * TAN3, 25)

    steps = 400
    simpson = sum(
        (1, 4, 2)[0 if i in (0, steps) else 1 + (i % 2 == 0)] * shared(4 * i / steps) for i in range(steps + 1)
    )
    lost = 4 / steps / 3 * simpson
    insert = frustum(20, 6, TAN3) - lost
    assert (lost, insert) == pytest.approx((641.921836, 6779.978189), abs=1e-5)
    found = check(two_discs(0.0, 6, 4, LEANING, taper=3.0))
    assert found["pieces"][0]["insert_volume"] == pytest.approx(insert, **CIRCLES)
    assert found["panel"]["gap_volume"] == pytest.approx(0, abs=1e-4)
