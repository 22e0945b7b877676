"""Who owns each point of the panel: a slow raster against the solids and the remnants, sharing no code with GEOS.

The raster paints pockets and inserts on a grid of 0.05 mm, depth by depth, with an even-odd test of its own. The
solids are asked by shooting upright lines through their triangles. Every point of every depth must agree.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.solids.panel_solids import build_solids
from core.stack.stack import build_stack
from tests.core.designs import (
    POINT_CUTTER,
    designs,
    fewer,
    grid_designs,
    make_design,
    make_panel,
    make_piece,
    rectangle,
)
from tests.core.oracles import VOID, Owners, inside_solid, slab_depths, solid_columns

STEP = 0.05
OFF = 0.0171341  # the raster's points lie on no line of a drawing in whole millimetres


def grid(left, right, bottom, top, step=STEP):
    return np.arange(left + OFF, right, step), np.arange(bottom + OFF * 1.3, top, step)


def assert_solids_agree(design, xs, ys):
    """The owner of each point by the rule is the one solid that covers it."""
    __tracebackhide__ = True
    stack = build_stack(design)
    names = [p.piece.id for p in stack.pieces] + [b.name for b in stack.background]
    owners = Owners(stack, xs, ys)
    columns = {s.name: solid_columns(s, xs, ys) for s in build_solids(stack)}
    depths = slab_depths(stack)
    for depth in (depths[:-1] + depths[1:]) / 2:
        painted = owners.at(depth).reshape(-1)
        for i, name in enumerate(names):
            covered = inside_solid(columns[name], painted.size, -depth) if name in columns else np.zeros(painted.size)
            assert np.array_equal(covered, painted == i), (name, depth, np.flatnonzero(covered != (painted == i))[:5])


def shrunk(design, scale=0.2):
    """Make a design five times smaller across, so that a raster of 0.05 mm covers it."""
    pieces = [
        replace(
            p, scale=p.scale * scale, at=(p.at[0] * scale, p.at[1] * scale), side_clearance=min(p.side_clearance, 0.2),
            cutter_diameter=p.cutter_diameter * scale, corner_radius=p.corner_radius * scale,
        )
        for p in design.pieces
    ]  # fmt: skip
    return replace(design, pieces=tuple(pieces), panel=make_panel(24, 16))


@given(design=designs(most=4))
@fewer(8)
def test_random_designs_are_owned_as_the_rule_says(design):
    assert_solids_agree(shrunk(design), *grid(0, 24, 0, 16))


@given(design=grid_designs())
@fewer(4)
def test_rectangles_on_a_grid_are_owned_as_the_rule_says(design):
    assert_solids_agree(design, *grid(0, 12, 0, 8))


@given(design=grid_designs(), trim=st.sampled_from([0.0, 0.5, 2.0]))
@fewer(4)
def test_remnants_are_what_the_raster_sees_in_the_finished_face(design, trim):
    """Areas of whole millimetres: each cell of the raster is one side or the other, so the counts are exact."""
    design = replace(design, panel=replace(design.panel, face_trim=trim))
    stack = build_stack(design)
    xs, ys = grid(0, 12, 0, 8, 0.25)
    seen = Owners(stack, xs, ys).at(trim + 1e-6)
    for placed, remnant in zip(stack.pieces, stack.remnants, strict=True):
        assert remnant.area == pytest.approx(np.count_nonzero(seen == placed.index) * 0.25**2, abs=1e-9)


def test_the_raster_knows_a_drawing_worked_by_hand():
    """The oracle itself: two squares, the second over the first's corner, shallower."""
    plain = {"cutter_diameter": POINT_CUTTER, "side_clearance": 0.0}
    a = make_piece("a", rectangle(4, 4), at=(1, 1), pocket_depth=3.0, **plain)
    b = make_piece("b", rectangle(4, 4), at=(3, 3), pocket_depth=2.0, insert_thickness=1.0, **plain)
    stack = build_stack(make_design([a, b], make_panel(8, 8, 5)))
    xs, ys = np.arange(0.5, 8), np.arange(0.5, 8)
    counts = {}
    for depth in (0.5, 1.5, 2.5, 4.0):
        owner, number = np.unique(Owners(stack, xs, ys).at(depth), return_counts=True)
        counts[depth] = dict(zip(owner.tolist(), number.tolist(), strict=True))
    assert counts[0.5] == {VOID: 16, 0: 12, 2: 64 - 28}
    assert counts[1.5] == {0: 12, 1: 16, 2: 64 - 28}
    assert counts[2.5] == {0: 16, 2: 48}
    assert counts[4.0] == {2: 64}
