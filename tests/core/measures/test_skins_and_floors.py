"""Skins under shallower pockets and the thinnest floor: closed forms, thresholds, and a raster.

Skins of 1 mm and floors of 5 mm are common practice, no published source; thicknesses are plane geometry (DERIVED).
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from core.measures.skins_and_floors import Skin, thin_skins, thinnest_floor
from core.stack.stack import Stack, build_stack

from ..designs import POINT_CUTTER, blob, disc, make_design, make_panel, make_piece, rectangle
from ..rasters import grid_over, widest


def stack_of(*pieces, **panel) -> Stack:
    return build_stack(make_design(pieces, make_panel(200, 150, **panel)))


def body(depth=6.0, **changes):
    return make_piece("body", disc(20), at=(60, 70), pocket_depth=depth, **changes)


def patch(depth, name="patch", x=75.0, radius=12.0, **changes):
    return make_piece(name, disc(radius), at=(x, 70), pocket_depth=depth, **changes)


@pytest.mark.parametrize(("depth", "found"), [(5.01, 1), (5.0, 0), (5.9, 1), (6.0, 0), (6.2, 0), (3.0, 0)])
def test_a_skin_is_as_thick_as_the_depths_differ(depth, found):
    skins = thin_skins(stack_of(body(), patch(depth)), 1.0)
    assert len(skins) == found
    for skin in skins:
        assert (skin.earlier, skin.later) == (0, 1)
        assert skin.thickness == pytest.approx(6 - depth, abs=1e-12)
        assert np.hypot(skin.at[0] - 60, skin.at[1] - 70) < 20
        assert np.hypot(skin.at[0] - 75, skin.at[1] - 70) < 12


@pytest.mark.parametrize(("gap", "found"), [(0.45, 1), (0.5, 0)])
def test_a_floor_gap_is_not_wood(gap, found):
    """A pocket 6 deep with a gap under its insert: 0.5 less the gap is left under a pocket of 5.5."""
    skins = thin_skins(stack_of(body(floor_gap=gap), patch(5.5)), 1.0)
    assert len(skins) == found
    assert all(skin.thickness == pytest.approx(0.5 - gap, abs=1e-12) for skin in skins)


def test_a_deeper_pocket_takes_the_skin_with_it():
    assert thin_skins(stack_of(body(), patch(5.5), patch(8, "deep", radius=14)), 1.0) == []
    (left,) = thin_skins(stack_of(body(), patch(5.5), patch(8, "deep", radius=6, x=68)), 1.0)
    assert np.hypot(left.at[0] - 68, left.at[1] - 70) > 6


def test_what_a_deeper_pocket_leaves_but_a_hair_of_is_no_skin():
    assert thin_skins(stack_of(body(), patch(5.5), patch(8, "deep", radius=11.8)), 1.0) == []


def test_two_shallow_pockets_leave_the_skin_under_the_deeper_of_them():
    found = thin_skins(stack_of(body(), patch(5.2), patch(5.6, "second", radius=12.5)), 1.0)
    assert [(skin.earlier, skin.later) for skin in found] == [(0, 2)]


def test_a_skin_in_the_trimmed_edge_does_not_count():
    assert thin_skins(stack_of(body(), patch(5.5), edge_trim=(0, 0, 0, 0)), 1.0)
    assert thin_skins(stack_of(body(), patch(5.5), edge_trim=(90, 0, 0, 0)), 1.0) == []


def test_an_insert_that_ends_below_the_later_floor_has_no_skin():
    assert thin_skins(stack_of(body(insert_thickness=0.4), patch(5.5)), 1.0) == []


def test_a_tapered_pocket_is_smaller_at_its_floor():
    """Square edges of body and patch overlap by 0.6 at the face and by 0.6 - 5.5 tan 5° - 5.5 tan 5° at 5.5."""
    sharp = {"cutter_diameter": POINT_CUTTER, "side_clearance": 0.0}
    upright = [make_piece("a", rectangle(20, 20, 10, 10), **sharp)]
    upright += [make_piece("b", rectangle(20, 20, 29.4, 10), pocket_depth=5.5, **sharp)]
    assert len(thin_skins(stack_of(*upright), 1.0)) == 1
    leaning = [make_piece("a", rectangle(20, 20, 10, 10), taper=5.0, **sharp)]
    leaning += [make_piece("b", rectangle(20, 20, 29.4, 10), taper=5.0, pocket_depth=5.5, **sharp)]
    assert thin_skins(stack_of(*leaning), 1.0) == []


def test_the_thinnest_floor_lies_under_the_deepest_pocket():
    floor = thinnest_floor(stack_of(body(), patch(8.5)))
    assert floor is not None
    assert (floor.piece, floor.thickness) == (1, 10.5)
    assert np.hypot(floor.at[0] - 75, floor.at[1] - 70) < 12
    assert thinnest_floor(stack_of()) is None
    through = thinnest_floor(stack_of(body(depth=25.0)))
    assert through is not None
    assert through.thickness == 0


def raster_skins(stack: Stack, min_skin: float) -> dict[tuple[int, int], float]:
    """Paint the deepest later pocket into each insert's pixels, and what it leaves; with the widest disc."""
    grid = grid_over(0, 0, 120, 80)
    pockets = [grid.paint(p.pocket) for p in stack.pieces]
    found = {}
    for i, placed in enumerate(stack.pieces):
        later = [np.where(pockets[j], p.depth, 0.0) for j, p in enumerate(stack.pieces) if j > i]
        if not later:
            continue
        deepest = np.max(later, axis=0)
        owner = np.argmax(later, axis=0) + i + 1
        wood = grid.paint(placed.insert) & (deepest > 0)
        left = -placed.bottom - deepest
        thin = wood & (left > 1e-9) & (left < min_skin) & (placed.top > -deepest)
        for j in np.unique(owner[thin]):
            found[i, int(j)] = widest(thin & (owner == j))
    return found


@pytest.mark.parametrize("seed", [0, 1, 3])
def test_skins_of_random_blobs_agree_with_a_raster(seed):
    random = np.random.default_rng(seed)
    pieces = [
        make_piece(
            f"p{i}",
            blob(100 * seed + i, random.uniform(8, 20)),
            at=tuple(random.uniform(25, (95, 55))),
            pocket_depth=float(random.choice([4.0, 4.6, 5.3, 6.0])),
        )
        for i in range(7)
    ]
    stack = build_stack(make_design(pieces))
    found = {(s.earlier, s.later): s for s in thin_skins(stack, 1.0)}
    painted = raster_skins(stack, 1.0)
    assert {pair for pair, width in painted.items() if width > 0.65} <= set(found)
    assert set(found) <= {pair for pair, width in painted.items() if width > 0.35}
    for (i, j), skin in found.items():
        assert isinstance(skin, Skin)
        assert skin.thickness == pytest.approx(stack.pieces[i].depth - stack.pieces[j].depth, abs=1e-12)
        assert stack.pieces[i].insert.contains(shapely.Point(skin.at))
        assert stack.pieces[j].pocket.contains(shapely.Point(skin.at))
    assert found
