"""Results are kept for the same objects and no others, and findings come out the same as from scratch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely
from hypothesis import given
from hypothesis import strategies as st

from core.design import Design
from core.findings.all_findings import find_all
from core.kept import Kept
from core.stack.stack import build_stack
from tests.core.designs import designs, fewer


class Areas:
    """Measures areas and remembers how many it took."""

    def __init__(self, most: int = 100) -> None:
        self.kept: Kept[float] = Kept(most)
        self.taken: list[int] = []

    def of(self, shapes: Sequence[shapely.Polygon], factor: float = 1.0) -> list[float]:
        def measure(new: list[int]) -> list[float]:
            self.taken += new
            return [factor * shapes[i].area for i in new]

        return self.kept.of([(shape, factor) for shape in shapes], measure)


def test_only_what_is_new_is_measured() -> None:
    areas, one, two = Areas(), shapely.box(0, 0, 1, 2), shapely.box(0, 0, 3, 1)
    assert areas.of([one]) == [2]
    assert areas.of([two, one, two]) == [3, 2, 3]
    assert areas.of([one], factor=2.0) == [4]
    assert areas.taken == [0, 2, 0]  # what comes twice is measured once


def test_equal_shapes_are_not_the_same() -> None:
    areas = Areas()
    assert areas.of([shapely.box(0, 0, 1, 2)]) == areas.of([shapely.box(0, 0, 1, 2)])
    assert areas.taken == [0, 0]


def test_old_results_make_room_and_a_new_object_never_gets_them() -> None:
    """A shape that was thrown away may leave its identity to another one: held shapes cannot."""
    areas = Areas(most=10)
    for size in range(1, 200):
        assert areas.of([shapely.box(0, 0, size, 1)]) == [size]
    assert len(areas.kept._results) <= 10


@given(designs(most=5), st.integers(0, 4), st.tuples(st.integers(-9, 9), st.integers(-9, 9)), st.booleans())
@fewer(2)
def test_findings_after_a_move_are_those_from_scratch(
    design: Design, which: int, by: tuple[int, int], deeper: bool
) -> None:
    before = build_stack(design)
    find_all(before)
    moved = design.pieces[which % len(design.pieces)]
    moved = replace(moved, at=(moved.at[0] + by[0], moved.at[1] + by[1]))
    if deeper:
        moved = replace(moved, pocket_depth=moved.pocket_depth + 0.5, insert_thickness=moved.insert_thickness + 0.5)
    pieces = tuple(moved if piece.id == moved.id else piece for piece in design.pieces)
    changed = replace(design, pieces=pieces)
    assert find_all(build_stack(changed, before)) == find_all(build_stack(changed))
