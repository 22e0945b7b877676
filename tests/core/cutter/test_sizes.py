"""Common cutter sizes, and the one suggested for an outline: the closed form of a corner, and a plain search."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from core.cutter.rounding import boundaries_within, rounded_fit
from core.cutter.sizes import standard_cutters, suggest_cutter, suggest_for
from core.design import LineOutline

from ..designs import blob, comb, dumbbell, make_piece, rectangle, star


def test_sizes_carry_source_and_mark_and_inches_are_exact():
    path = Path(__file__).parents[3] / "assets" / "cutters.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(standard_cutters()) == 20
    for row in rows:
        assert row["source"]
        assert row["provenance"] == "DERIVED"
        if row["name"].endswith(" in"):
            top, bottom = map(int, row["name"].removesuffix(" in").split("/"))
            assert float(row["diameter_mm"]) == pytest.approx(25.4 * top / bottom, abs=1e-12)
    assert [c.diameter for c in standard_cutters()] == sorted(c.diameter for c in standard_cutters())


@pytest.mark.parametrize("tolerance", [0.11, 0.17, 0.3, 0.655, 0.66, 1.0, 2.0])
def test_a_square_corner_lets_the_cutter_come_as_near_as_its_gap(tolerance):
    """A disc of radius r stays (√2 - 1) r short of a right angle's corner (plane geometry)."""
    gaps = {cutter: (math.sqrt(2) - 1) * (cutter.diameter / 2 - 0.001) for cutter in standard_cutters()}
    expected = max((c for c, gap in gaps.items() if gap <= tolerance), key=lambda c: c.diameter)
    assert suggest_cutter(shapely.Polygon(rectangle(60, 40)), tolerance) == expected


@pytest.mark.parametrize("points", [star(5, 30, 12), comb(4, 6, 5, 20), dumbbell(16, 3.0, 8), blob(3, 22), blob(8, 9)])
@pytest.mark.parametrize("tolerance", [0.1, 0.5])
def test_halving_finds_what_trying_each_size_finds(points, tolerance):
    shape = shapely.Polygon(points)
    kept = []
    for cutter in standard_cutters():
        fit = rounded_fit(shape, cutter.diameter / 2)
        if not fit.is_empty and boundaries_within(shape, fit, tolerance):
            kept.append(cutter)
    assert suggest_cutter(shape, tolerance) == (kept[-1] if kept else None)


def test_a_taper_makes_the_cutter_wider_at_the_face():
    """A square's corner allows 0.5 / (√2 - 1) = 1.207 mm of radius, of which 6 tan 3° = 0.314 is lean: tip of 0.893."""
    piece = make_piece("p", rectangle(60, 40), taper=3.0)
    found = suggest_for(shapely.Polygon(rectangle(60, 40)), piece, 0.5)
    assert found is not None
    assert found.diameter == 1.5875


def test_none_where_no_size_keeps_the_detail_and_none_for_a_groove():
    assert suggest_cutter(shapely.Polygon(star(9, 30, 2)), 0.001) is None
    assert suggest_cutter(shapely.Polygon()) is None
    line = make_piece("g", LineOutline(((0, 0), (50, 0)), 3.175))
    assert suggest_for(shapely.box(0, 0, 50, 3), line) is None


def test_a_slot_is_kept_by_a_cutter_just_as_wide():
    slot = shapely.LineString([(0, 0), (60, 0)]).buffer(1.5, quad_segs=64)
    found = suggest_cutter(slot, 0.1)
    assert found is not None
    assert found.diameter == 3.0
    assert np.isclose(found.diameter, slot.bounds[3] - slot.bounds[1])
