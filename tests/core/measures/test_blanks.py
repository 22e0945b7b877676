"""Blanks of inserts, and whether board and cutter are large enough for them."""

from __future__ import annotations

import math

import pytest

from core.design import LineOutline, PathOutline
from core.measures.blanks import blanks, leaves, too_deep_cuts, too_wide_blanks
from core.stack.stack import Stack, build_stack

from ..designs import POINT_CUTTER, disc, make_design, make_panel, make_piece, rectangle

SHARP = {"cutter_diameter": POINT_CUTTER, "side_clearance": 0.0}


def stack_of(*pieces) -> Stack:
    return build_stack(make_design(pieces, make_panel(400, 300)))


def plate(width, height, **changes):
    return make_piece("plate", rectangle(width, height), at=(100, 60), **(SHARP | changes))


@pytest.mark.parametrize("grain", [0.0, 30.0, 90.0, -20.0, 200.0])
def test_extents_of_a_rectangle_turned_against_its_grain(grain):
    """Width w and height h at angle a: w |cos a| + h |sin a| along, w |sin a| + h |cos a| across (plane geometry)."""
    (blank,) = blanks(stack_of(plate(80, 30, grain=grain)))
    cos, sin = abs(math.cos(math.radians(grain))), abs(math.sin(math.radians(grain)))
    assert blank.along == pytest.approx(80 * cos + 30 * sin)
    assert blank.across == pytest.approx(80 * sin + 30 * cos)
    assert (blank.thickness, blank.mirrored, blank.is_strip) == (7.5, False, False)


def test_a_piece_without_grain_of_its_own_lies_along_its_length():
    (blank,) = blanks(stack_of(plate(80, 30, turn=40.0)))
    assert (blank.along, blank.across) == pytest.approx((80, 30))


def test_side_clearance_makes_the_blank_smaller():
    (blank,) = blanks(stack_of(make_piece("disc", disc(20), at=(100, 100), grain=0.0)))
    assert blank.across == pytest.approx(2 * 19.9, abs=1e-3)


def test_a_tapered_insert_is_mirrored_and_as_large_as_its_top():
    """Its top stands 1.5 mm proud, so its walls are 1.5 tan 3° farther out there than at the face."""
    piece = make_piece("disc", disc(20, count=720), at=(100, 100), grain=30.0, taper=3.0, cutter_diameter=1.0)
    (blank,) = blanks(stack_of(piece))
    assert blank.across == pytest.approx(2 * (19.9 + 1.5 * math.tan(math.radians(3))), abs=1e-3)
    assert (blank.mirrored, blank.grain) == (True, 150.0)


def test_each_part_has_a_blank_of_its_own():
    parts = PathOutline("M 0 0 H 40 V 30 H 0 Z M 200 0 H 220 V 30 H 200 Z")
    found = list(blanks(stack_of(make_piece("two", parts, at=(50, 60), grain=90.0, **SHARP))))
    assert [blank.across for blank in found] == pytest.approx([40, 20])
    assert [blank.along for blank in found] == pytest.approx([30, 30])
    assert [blank.part for blank in found] == [0, 1]


def test_a_strip_is_as_long_as_its_line():
    line = LineOutline(((20, 20), (20, 120)), 3.175)
    (blank,) = blanks(stack_of(make_piece("reed", line)))
    assert (blank.along, blank.across, blank.is_strip) == (100, pytest.approx(3.115), True)


@pytest.mark.parametrize(("height", "wide"), [(150.0, 0), (150.01, 1)])
def test_a_blank_wider_than_the_board_across_the_grain(height, wide):
    found = too_wide_blanks(stack_of(plate(200, height, grain=0.0)), 150)
    assert len(found) == wide
    assert all(leaves(blank, 150) == 2 for blank in found)
    assert too_wide_blanks(stack_of(plate(200, height, grain=90.0)), 201) == []


@pytest.mark.parametrize(
    ("length", "cuts"),
    [(None, []), (8.0, []), (7.5, []), (7.4, ["insert"]), (6.0, ["insert"]), (5.9, ["pocket", "insert"])],
)
def test_cuts_deeper_than_the_cutter_is_long(length, cuts):
    assert [reach.what for reach in too_deep_cuts(stack_of(plate(40, 30)), length)] == cuts


def test_a_strip_is_not_sawn_with_the_cutter():
    line = LineOutline(((20, 20), (20, 120)), 3.175)
    assert too_deep_cuts(stack_of(make_piece("reed", line)), 6.0) == []
