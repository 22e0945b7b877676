"""Grain strength against published and derived values of Hankinson's formula; ranks only, no force is claimed.

`data/hankinson.csv`: the worked example is SEEN (a note on wood strength, 2004), the ratios are DERIVED from the
formula, the handbook's ranges and its table of slopes of grain are MEMORY. Each row names its source and mark.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from shapely import Point
from shapely.geometry import box

from core.measures.grain_strength import (  # fmt: skip
    CROSS_RATIO,
    EXPONENT,
    grain_factor,
    hankinson,
    off_grain,
    rank,
    suggest_grain,
    weakest_place,
)
from core.measures.necks import Neck, find_necks

DATA = Path(__file__).parents[2] / "data" / "hankinson.csv"


def rows(*kinds: str) -> list[dict[str, str]]:
    with DATA.open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["kind"] in kinds]


@pytest.mark.parametrize("row", rows("worked_seen", "ratio", "ratio_by_slope"))
def test_the_formula_agrees_with_the_reference(row: dict[str, str]) -> None:
    along, across = float(row["P"]), float(row["Q"] or row["Q_over_P"])
    found = float(hankinson(along, across, float(row["angle_deg"]), float(row["n"])))
    # The tolerance is relative; slopes are given to nine decimals of a degree.
    assert found == pytest.approx(float(row["expected"]), rel=max(float(row["tolerance"]), 1e-8))


def test_all_kinds_of_rows_are_there() -> None:
    counts = [len(rows(kind)) for kind in ("worked_seen", "ratio", "ratio_by_slope", "slope_table", "parameter_range")]
    assert counts == [10, 110, 5, 12, 1]


def test_the_constants_lie_in_the_middle_of_the_ranges_for_bending() -> None:
    (row,) = rows("parameter_range")
    low, high = map(float, row["Q_over_P"].split("-"))
    assert math.isclose(CROSS_RATIO, (low + high) / 2)
    low, high = map(float, row["n"].split("-"))
    assert math.isclose(EXPONENT, (low + high) / 2)


@pytest.mark.parametrize("row", rows("ratio_by_slope"), ids=lambda row: row["note"])
def test_the_grain_factor_is_the_ratio_for_those_constants(row: dict[str, str]) -> None:
    assert float(grain_factor(float(row["angle_deg"]))) == pytest.approx(float(row["expected"]), rel=1e-8)


@pytest.mark.parametrize("kind", ["Modulus of rupture", "Impact bending"])
def test_slopes_of_grain_rank_as_in_the_handbook(kind: str) -> None:
    table = [row for row in rows("slope_table") if row["property"] == kind]
    slope = [row["angle_deg"].removeprefix("1 in ") for row in table]
    angles = [0.0 if s == "straight" else math.degrees(math.atan(1 / float(s))) for s in slope]
    percent = np.array([float(row["expected"]) for row in table])
    factor = grain_factor(angles)
    assert len(table) == 6
    assert np.array_equal(np.argsort(-factor), np.argsort(-percent))


def test_the_grain_factor_falls_from_one_to_the_cross_ratio() -> None:
    factor = grain_factor(np.arange(0, 91))
    assert factor[0] == 1
    assert math.isclose(factor[-1], CROSS_RATIO)
    assert (np.diff(factor) < 0).all()


def test_directions_have_no_sense() -> None:
    assert off_grain([0, 170, 10, 45, 200], [180, 10, 170, -45, 10]).tolist() == pytest.approx([0, 20, 20, 90, 10])


def test_rank_goes_with_the_square_of_the_width() -> None:
    assert float(rank(6, 7.5, 0)) == pytest.approx(4 * float(rank(3, 7.5, 0)))
    assert float(rank(3, 7.5, 90)) < float(rank(3, 7.5, 45)) < float(rank(3, 7.5, 0)) == 9 * 7.5


# Suggested directions


def necks_of_bars(*bars: tuple[float, float]) -> list[Neck]:
    """One straight neck per (run, width)."""
    return [
        Neck((0, 0), width, run, "between", 9, ((0, 0), (0, width)), np.array([[0, 0, width, run]]))
        for run, width in bars
    ]


def test_one_neck_takes_the_grain_along() -> None:
    assert off_grain(suggest_grain(necks_of_bars((37, 4)), 120), 37) <= 2


def test_equal_necks_at_right_angles_take_the_grain_between() -> None:
    assert suggest_grain(necks_of_bars((0, 4), (90, 4)), 30) == pytest.approx(45, abs=1)
    assert suggest_grain(necks_of_bars((0, 4), (90, 4)), 140) == pytest.approx(135, abs=1)


def test_the_narrower_neck_draws_the_grain_towards_itself() -> None:
    found = suggest_grain(necks_of_bars((0, 3), (90, 6)), 45)
    assert 0 < found < 40
    weak = [float(rank(w, 1, off_grain(r, found))) for r, w in ((0, 3), (90, 6))]
    assert weak[0] == pytest.approx(weak[1], rel=0.1), "neither could be made stronger"


def test_a_direction_that_cannot_be_bettered_stays_as_it_is() -> None:
    assert suggest_grain([], 12.5) == 12.5
    assert suggest_grain(necks_of_bars((37.25, 4)), 37.25) == 37.25
    ring = Point(0, 0).buffer(20, quad_segs=64).difference(Point(0, 0).buffer(16, quad_segs=64))
    assert suggest_grain(find_necks(ring, 9), 66.6) == 66.6, "a ring is as weak whichever way"


def test_a_bent_neck_breaks_where_it_runs_across_the_grain() -> None:
    ring = Point(0, 0).buffer(20, quad_segs=64).difference(Point(0, 0).buffer(16, quad_segs=64))
    (neck,) = find_necks(ring, 9)
    for grain in (0.0, 30.0, 90.0):
        weak = weakest_place(neck, 7.5, grain)
        assert weak.off_grain > 87
        assert math.hypot(*weak.at) == pytest.approx(18, abs=0.05)
        assert weak.rank == pytest.approx(16 * 7.5 * CROSS_RATIO, rel=0.02)


def test_a_straight_neck_breaks_at_its_narrowest() -> None:
    shape = box(-20, -15, 0, 15).union(box(0, -2, 12, 2)).union(box(12, -15, 30, 15))
    (neck,) = find_necks(shape, 9)
    weak = weakest_place(neck, 7.5, 90)
    assert weak.width == pytest.approx(4, abs=0.001)
    assert weak.off_grain == pytest.approx(90, abs=0.5)
