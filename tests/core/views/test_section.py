"""The section: any line cuts the panel, and its marks say what closed forms say."""

import math

import numpy as np
import pytest
import shapely

from core.errors import UnusableInput
from core.solids.panel_solids import build_solids
from core.stack.stack import build_stack
from core.views.exploded import ELEVATION, exploded_lifts, glue_order, share_lifted, turns
from core.views.section import line_across, section_cut

from ..designs import disc, make_design, make_panel, make_piece, rectangle, total_volume

PANEL = make_panel(120, 80, 19, face_trim=0.5)


def two_deep():
    """A bar 9 deep across a slab 6 deep: along y at x = 50 the cut runs 20 mm through both."""
    slab = make_piece("slab", rectangle(60, 40, 20, 20))
    bar = make_piece("bar", rectangle(20, 20, 40, 30), pocket_depth=9.0, insert_thickness=10.5)
    return build_stack(make_design([slab, bar], PANEL))


@pytest.mark.parametrize("angle", [0, 30, 90, 135, 180, 270, -45])
def test_the_line_runs_across_the_panel_in_its_direction(angle):
    (x0, y0), (x1, y1) = line_across(two_deep(), (60, 40), angle)
    assert math.degrees(math.atan2(y1 - y0, x1 - x0)) % 360 == pytest.approx(angle % 360)
    for x, y in ((x0, y0), (x1, y1)):
        assert min(abs(x), abs(x - 120), abs(y), abs(y - 80)) == pytest.approx(0, abs=1e-9)
    # Through the middle at an angle a the chord of a box is min(w / |cos a|, h / |sin a|).
    ways = abs(math.cos(math.radians(angle))), abs(math.sin(math.radians(angle)))
    across = [size / way for size, way in zip((120, 80), ways, strict=True) if way > 1e-9]
    assert math.hypot(x1 - x0, y1 - y0) == pytest.approx(min(across))


@pytest.mark.parametrize(("at", "angle"), [((60, -1), 0), ((200, 40), 90), ((0, 0), 135)])
def test_a_line_beside_the_panel_is_refused_in_words(at, angle):
    with pytest.raises(UnusableInput, match="lies beside the panel"):
        line_across(two_deep(), at, angle)


@pytest.mark.parametrize("angle", [0, 25, 90, 160, 180, 250])
def test_the_left_half_stays_and_both_halves_make_the_whole(angle):
    stack = two_deep()
    halves = [
        section_cut(stack, line_across(stack, (60, 40), turned)).keep & stack.box for turned in (angle, angle + 180)
    ]
    for half in halves:
        assert half.area == pytest.approx(4800)  # a line through the middle halves a box
    assert shapely.intersection(*halves).area == pytest.approx(0, abs=1e-6)
    way = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
    left = np.array([60, 40]) + 5 * np.array([-way[1], way[0]])
    assert halves[0].contains(shapely.Point(left))


@pytest.mark.parametrize("angle", [90, 270])
def test_marks_of_an_upright_cut_say_every_depth_and_whose_it_is(angle):
    stack = two_deep()
    cut = section_cut(stack, line_across(stack, (50, 40), angle))
    told = sorted((mark.kind, mark.piece or "", mark.text, round(mark.x, 6)) for mark in cut.marks)
    # The slab's floor is seen beside the bar; under the bar, 9 deep, nothing of it is left. 19 - 6 and 19 - 9 stay.
    assert told == [
        ("floor", "", "10.00", 50.0),
        ("floor", "", "13.00", 50.0),
        ("pocket", "bar", "9.00", 50.0),
        ("pocket", "slab", "6.00", 50.0),
        ("proud", "bar", "1.50", 50.0),
        ("proud", "slab", "1.50", 50.0),
    ]
    ys = [mark.y for mark in cut.marks]
    assert ys == sorted(ys, reverse=angle == 270)


def test_a_skin_is_marked_under_a_shallower_later_pocket():
    slab = make_piece("slab", rectangle(60, 40, 20, 20), pocket_depth=8.0, insert_thickness=9.5)
    bar = make_piece("bar", rectangle(20, 20, 40, 30), pocket_depth=3.0, insert_thickness=4.5)
    stack = build_stack(make_design([slab, bar], PANEL))
    cut = section_cut(stack, line_across(stack, (50, 40), 60))
    assert [(m.text, m.z_top, m.z_bottom) for m in cut.marks if m.kind == "skin"] == [("5.00", -3.0, -8.0)]


def test_each_overlap_says_what_it_leaves():
    """Two bars over one slab: a skin under each, not only under the wider one."""
    slab = make_piece("slab", rectangle(80, 40, 20, 20), pocket_depth=8.0, insert_thickness=9.5)
    bars = [
        make_piece("wide", rectangle(30, 20, 25, 30), pocket_depth=3.0, insert_thickness=4.5),
        make_piece("narrow", rectangle(10, 20, 70, 30), pocket_depth=6.5, insert_thickness=8.0),
    ]
    stack = build_stack(make_design([slab, *bars], PANEL))
    cut = section_cut(stack, line_across(stack, (60, 40), 0))
    skins = [(mark.text, mark.x) for mark in cut.marks if mark.kind == "skin"]
    assert skins == [("5.00", pytest.approx(40)), ("1.50", pytest.approx(75))]
    assert [mark.text for mark in cut.marks if mark.kind == "floor"] == ["11.00"]


@pytest.mark.parametrize("angle", [0, 37, 90, 200])
def test_two_halves_of_the_solids_have_the_volume_of_the_whole(angle):
    stack = two_deep()
    cuts = [section_cut(stack, line_across(stack, (50, 40), turned)) for turned in (angle, angle + 180)]
    halves = [total_volume(build_solids(stack, "proud", clip=cut.keep)) for cut in cuts]
    assert sum(halves) == pytest.approx(total_volume(build_solids(stack, "proud")), rel=1e-9)


def test_solids_that_the_cut_leaves_whole_are_those_of_the_whole_panel():
    pieces = [make_piece(f"dot-{n}", disc(5, 20 + 20 * n, 40)) for n in range(5)]
    stack = build_stack(make_design(pieces, PANEL))
    whole = build_solids(stack, "proud", soften=0.2)
    cut = section_cut(stack, line_across(stack, (60, 40), 90))
    opened = build_solids(stack, "proud", clip=cut.keep, soften=0.2, previous=whole)
    same = {solid.name for solid in opened for other in whole if solid.vertices is other.vertices}
    assert same == {"dot-0", "dot-1"}  # the left side stays
    assert {solid.name for solid in opened} == {"background-1-1", "dot-0", "dot-1", "dot-2"}
    alone = build_solids(stack, "proud", clip=cut.keep, soften=0.2)
    for one, other in zip(opened, alone, strict=True):
        assert np.array_equal(one.vertices, other.vertices)


# The exploded view's slider


def test_turns_follow_the_glue_and_the_last_glued_leaves_first():
    stack = two_deep()
    assert glue_order(stack) == (0, 1)
    assert turns(stack, "together") == ((0, 1), (0, 1))
    assert turns(stack, "batches") == turns(stack, "pieces") == ((0, 2), (1, 2))
    steps = [[share_lifted(e, turn, 2) for turn in (0, 1)] for e in (0, 0.25, 0.5, 0.75, 1)]
    # Half-way through a turn 3 x² - 2 x³ is 1/2.
    assert steps == [[0, 0], [0, 0.5], [0, 1], [0.5, 1], [1, 1]]
    assert share_lifted(0.3, 0, 1) == 0.3


@pytest.mark.parametrize("unfolding", ["together", "batches", "pieces"])
def test_nothing_hides_anything_whenever_all_pieces_are_up_or_down(unfolding):
    pieces = [
        make_piece("a", disc(14, 30, 30)), make_piece("b", disc(14, 48, 36)), make_piece("c", disc(9, 42, 40)),
        make_piece("d", disc(10, 90, 40)), make_piece("e", disc(6, 92, 52)),
    ]  # fmt: skip
    stack = build_stack(make_design(pieces, PANEL))
    lifts, own = exploded_lifts(stack), turns(stack, unfolding)
    count = own[0][1]
    for step in range(count + 1):
        shares = [share_lifted(step / count, *turn) for turn in own]
        assert set(shares) <= {0.0, 1.0}
        pockets = shapely.union_all([placed.pocket for placed in stack.pieces])
        seen = [
            shapely.affinity.translate(placed.pocket, 0, lift / math.tan(math.radians(ELEVATION)))
            for placed, lift, share in zip(stack.pieces, lifts, shares, strict=True)
            if share
        ]
        areas = sum(shape.area for shape in seen)
        assert shapely.union_all([pockets, *seen]).area == pytest.approx(pockets.area + areas, rel=1e-9)
