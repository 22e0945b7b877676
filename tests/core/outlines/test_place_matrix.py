"""Turn, scale and mirror as a matrix and back."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.outlines.place_matrix import matrix_of, placement_of, shortest, turned_grain

turns = st.floats(-179, 180, allow_nan=False)
scales = st.floats(0.01, 100, allow_nan=False)


@given(turns, scales, st.booleans())
def test_a_placement_comes_back_from_its_matrix(turn, scale, mirror):
    found = placement_of(matrix_of(turn, scale, mirror))
    assert found.turn == pytest.approx(turn, abs=1e-9) or abs(found.turn - turn) == pytest.approx(360)
    assert found.scale == pytest.approx(scale, rel=1e-12)
    assert (found.mirror, found.outline) == (mirror, None)


@given(turns, scales, st.booleans(), st.floats(0.05, 0.9), st.floats(-0.5, 0.5))
def test_a_stretch_is_left_to_the_outline_and_nothing_is_lost(turn, scale, mirror, stretch, shear):
    matrix = matrix_of(turn, scale, mirror) @ np.array([[1, shear], [0, stretch]])
    found = placement_of(matrix)
    assert found.scale == 1
    assert matrix_of(found.turn, 1, found.mirror) @ found.outline == pytest.approx(matrix, rel=1e-9, abs=1e-9)
    assert np.linalg.det(found.outline) > 0  # never mirrored inside


def test_what_is_flattened_has_no_placement():
    assert placement_of([[1, 0], [0, 0]]) is None
    assert placement_of([[0, 0], [0, 0]]) is None


def test_grain_goes_with_its_piece():
    assert turned_grain(30, (15, False), (45, False)) == 60
    assert turned_grain(30, (0, False), (0, True)) == -30  # mirrored left to right: 150, the same line
    assert turned_grain(30, (10, True), (25, True)) == 45


@given(turns, st.booleans(), turns, st.booleans(), turns)
def test_grain_turned_is_the_grain_of_the_turned_outline(turn, mirror, other, flipped, grain):
    """Against the matrices themselves: the grain's own direction, placed anew."""
    angle = math.radians(grain)
    own = np.linalg.inv(matrix_of(turn, 1, mirror)) @ [math.cos(angle), math.sin(angle)]
    there = matrix_of(other, 1, flipped) @ own
    wanted = math.degrees(math.atan2(there[1], there[0]))
    found = turned_grain(grain, (turn, mirror), (other, flipped))
    off = (found - wanted) % 180
    assert min(off, 180 - off) == pytest.approx(0, abs=1e-6)


@given(st.floats(-5000, 5000, allow_nan=False))
def test_the_shortest_number_has_the_same_image(value):
    stored = np.float32(value * 0.001)
    found = shortest(stored, 0.001)
    assert np.float32(found * 0.001) == stored
    assert len(repr(found)) <= 24


def test_numbers_that_a_maker_types_come_back_as_typed():
    for typed in (3.175, 12.7, 0.1, 19.05, 600, -1.5, 333.333):
        assert shortest(np.float32(typed * 0.001), 0.001) == typed
    assert math.copysign(1, shortest(np.float32(-0.0))) == 1
