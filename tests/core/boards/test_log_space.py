"""The map from panel to log is exact, stable, and different for every piece."""

from __future__ import annotations

import numpy as np
import pytest

from core.boards import log_space

RANDOM = np.random.default_rng(5)


def test_a_name_has_one_board_for_ever() -> None:
    """Pinned: were this to change, every panel ever pictured would change its figure."""
    board = log_space.board_for("koi-1")
    assert board == log_space.board_for("koi-1")
    assert (round(board.cut, 6), round(board.roll, 6), round(board.tone, 6)) == (80.590676, 62.530193, 1.000275)


def test_boards_differ_and_stay_within_the_log() -> None:
    boards = [log_space.board_for(f"piece-{i}") for i in range(400)]
    assert len({board.place for board in boards}) == 400
    for board in boards:
        x, y, z = board.place
        assert 0 <= x < 2500
        assert abs(y) <= 35
        assert 70 <= z <= 190
        assert 0.93 <= board.tone <= 1.07
        assert 4 <= abs(board.cut) <= 85
    flat = sum(abs(board.cut) < 20 for board in boards) / 400
    assert 0.45 < flat < 0.65


def test_distances_are_kept_so_nothing_stretches() -> None:
    points = RANDOM.uniform(-300, 300, (50, 3))
    straight, _ = log_space.lay_straight(points, 37.0, (12.0, -5.0))
    log = log_space.log_from_board(straight, log_space.board_for("pad-1"))
    before = np.linalg.norm(points[:, None] - points[None], axis=2)
    after = np.linalg.norm(log[:, None] - log[None], axis=2)
    assert after == pytest.approx(before, abs=1e-9)


@pytest.mark.parametrize("grain", [0.0, 30.0, 90.0, 217.0])
def test_going_along_the_grain_goes_along_the_log(grain: float) -> None:
    along = np.array([np.cos(np.radians(grain)), np.sin(np.radians(grain)), 0.0])
    points = np.array([[40.0, 70.0, -2.0], [40.0, 70.0, -2.0] + 25 * along])
    straight, fibre = log_space.lay_straight(points, grain, (0.0, 0.0))
    log = log_space.log_from_board(straight, log_space.board_for("any"))
    assert log[1] - log[0] == pytest.approx((25, 0, 0), abs=1e-9)
    assert fibre[0] == pytest.approx(along)


def test_moving_a_piece_with_its_anchor_moves_its_wood_along() -> None:
    points = RANDOM.uniform(-20, 20, (10, 3))
    here, _ = log_space.lay_straight(points, 15.0, (0.0, 0.0))
    there, _ = log_space.lay_straight(points + np.array([100, 50, 0]), 15.0, (100.0, 50.0))
    assert there == pytest.approx(here, abs=1e-9)


def test_a_straight_strip_is_laid_as_a_straight_piece() -> None:
    line = np.array([[10.0, 5.0], [40.0, 5.0], [110.0, 5.0]])
    points = np.column_stack([RANDOM.uniform(0, 120, 30), RANDOM.uniform(3, 7, 30), RANDOM.uniform(-6, 0, 30)])
    bent, fibre = log_space.lay_along(points, line)
    straight, _ = log_space.lay_straight(points, 0.0, (60.0, 5.0))
    assert bent == pytest.approx(straight, abs=1e-9)
    assert fibre == pytest.approx(np.tile([1.0, 0.0, 0.0], (30, 1)))


def test_a_strip_bent_to_an_arc_is_straightened() -> None:
    """On a circle of radius R, x is R times the angle and y the distance inwards (geometry)."""
    radius, angles = 80.0, np.radians(np.linspace(0, 120, 4001))
    line = radius * np.column_stack([np.cos(angles), np.sin(angles)])
    at, off = np.radians(RANDOM.uniform(1, 119, 40)), RANDOM.uniform(-1.5, 1.5, 40)
    points = np.column_stack([(radius - off) * np.cos(at), (radius - off) * np.sin(at), np.zeros(40)])
    straight, fibre = log_space.lay_along(points, line)
    assert straight[:, 0] == pytest.approx(radius * (at - np.radians(60)), abs=0.02)
    assert straight[:, 1] == pytest.approx(off, abs=1e-3)
    assert fibre[:, :2] == pytest.approx(np.column_stack([-np.sin(at), np.cos(at)]), abs=1e-3)
