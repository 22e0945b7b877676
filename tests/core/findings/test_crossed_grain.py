"""An insert across the grain of the insert that it lies in: on either side of the threshold (Wood Handbook)."""

from __future__ import annotations

import pytest

from tests.core.findings.test_movement import HALF
from tests.core.findings.test_touching_woods import told
from tests.core.measures.test_touching_woods import box


@pytest.mark.parametrize(("length", "told_"), [(HALF - 0.1, False), (HALF + 0.1, True)])
def test_an_insert_across_the_grain_of_the_insert_that_it_lies_in(length: float, told_: bool) -> None:
    ground = box("ground", 20, 2, 80, 76, wood="hard maple", grain=0.0)
    bar = box("bar", 50, 4, 20, length, wood="hard maple", grain=90.0)
    found = told("cross-grain", ground, bar)
    assert [(f.level, f.piece, f.other) for f in found] == ([("note", "bar", "ground")] if told_ else [])
    if told_:
        assert "90° off that of ground" in found[0].text
        assert "ground wants to move 0.50 mm more" in found[0].text


def test_grain_that_runs_along_and_a_piece_that_lies_mostly_outside_are_sound() -> None:
    ground = box("ground", 20, 2, 80, 76, wood="hard maple", grain=0.0)
    assert told("cross-grain", ground, box("bar", 50, 4, 20, 72, wood="hard maple", grain=15.0)) == []
    assert told("cross-grain", ground, box("bar", 89, 4, 22.1, 72, wood="hard maple", grain=90.0)) == []
