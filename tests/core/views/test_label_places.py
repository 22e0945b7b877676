"""Numbers beside the places that they mark: what they must keep clear of."""

from __future__ import annotations

import numpy as np
import pytest

from core.views.label_places import Array, place_plates

RING, PLATE = 14.0, 16.0
LOW, HIGH = (0.0, 0.0), (1000.0, 700.0)


def placed(marks: list[tuple[float, float]] | Array) -> Array:
    return place_plates(marks, RING, PLATE, LOW, HIGH)


def apart(one: Array, other: Array) -> Array:
    return np.asarray(np.hypot(*(one[:, None] - other[None]).transpose(2, 0, 1)))


def nearest_pair(points: Array) -> float:
    distance = apart(points, points)
    np.fill_diagonal(distance, np.inf)
    return float(distance.min(initial=np.inf))


def test_without_marks_there_are_no_plates() -> None:
    assert placed([]).shape == (0, 2)


def test_a_lone_plate_stands_at_the_upper_right_with_a_short_leader() -> None:
    reach = (RING + 1.8 * PLATE) / np.sqrt(2)
    assert placed([(500, 300)]) == pytest.approx(np.array([(500 + reach, 300 + reach)]))


@pytest.mark.parametrize("corner", [(2, 2), (998, 2), (2, 698), (998, 698), (-400, 300), (1500, 900)])
def test_plates_stay_on_the_sheet(corner: tuple[float, float]) -> None:
    plate = placed([corner])[0]
    assert (plate >= np.add(LOW, PLATE) - 1e-9).all()
    assert (plate <= np.subtract(HIGH, PLATE) + 1e-9).all()


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("count", [2, 7, 20])
def test_plates_cover_no_plate_and_no_ring(seed: int, count: int) -> None:
    marks = np.random.default_rng(seed).uniform((50, 50), (950, 650), (count, 2))
    plates = placed(marks)
    assert nearest_pair(plates) >= 2 * PLATE
    assert apart(plates, marks).min() >= RING + PLATE - 1e-9


def test_a_crowd_in_one_place_is_spread_round_it() -> None:
    marks = np.full((9, 2), (500.0, 350.0))
    plates = placed(marks)
    assert nearest_pair(plates) >= 2 * PLATE
    assert apart(plates, marks).max() < 8 * PLATE


def test_a_row_as_tight_as_plates_still_has_room() -> None:
    marks = np.stack([np.linspace(300, 500, 25), np.full(25, 350.0)], axis=1)
    plates = placed(marks)
    assert nearest_pair(plates) >= 2 * PLATE
    assert apart(plates, marks).min() >= RING + PLATE - 1e-9


def test_what_is_asked_twice_is_answered_alike() -> None:
    marks = np.random.default_rng(3).uniform((50, 50), (950, 650), (12, 2))
    assert np.array_equal(placed(marks), placed(marks))
