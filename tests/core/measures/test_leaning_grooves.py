"""Leaning walls of a groove with a sharp bend, cut through an insert that stands proud."""

from __future__ import annotations

import pytest

from core.design import LineOutline
from core.solids.panel_solids import build_solids
from core.stack.stack import build_stack
from tests.core.designs import make_design, make_piece, rectangle
from tests.core.oracles import assert_closed

BEND = LineOutline(((0.0, 2.0), (0.0, 0.0), (1.0, 0.0)), 3.175, True)


@pytest.mark.parametrize("state", ["raw", "proud", "finished"])
def test_a_sharp_bend_through_a_proud_insert_is_closed(state: str) -> None:
    groove = make_piece("groove", BEND, at=(50, 50), taper=3.0, pocket_depth=3.0, insert_thickness=3.0)
    ground = make_piece("ground", rectangle(4.0, 4.0), at=(48, 48), taper=3.0, pocket_depth=3.0, insert_thickness=4.5)
    stack = build_stack(make_design([ground, groove]))
    for solid in build_solids(stack, state):
        assert_closed(solid)
