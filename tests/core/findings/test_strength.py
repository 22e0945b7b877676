"""Wood too thin, too narrow, too small or cut across its grain: just on either side of each threshold.

All thresholds are common practice without a published source, unless said; the places' sizes are plane geometry
(DERIVED), worked beside each test from the outlines alone.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from core.design import LineOutline, Piece
from core.findings.all_findings import Finding, find_all, tried
from core.stack.stack import build_stack
from tests.core.designs import disc, dumbbell, fin, make_design, make_panel, make_piece, rectangle, ring

RADIUS = 1.5875
"""The usual cutter's, mm."""


def told(code: str, *pieces: Piece, workshop: dict[str, float] | None = None, **panel: object) -> list[Finding]:
    design = make_design(pieces, make_panel(**panel))
    design = replace(design, workshop=replace(design.workshop, **(workshop or {})))
    return [finding for finding in find_all(build_stack(design)) if finding.code == code]


def box(name: str, x: float, y: float, width: float, height: float, **changes: object) -> Piece:
    return make_piece(name, rectangle(width, height), at=(x, y), **changes)


# Walls and meeting edges


@pytest.mark.parametrize(("gap", "told_"), [(0.011, True), (0.499, True), (0.501, False)])
def test_edges_that_nearly_meet(gap: float, told_: bool) -> None:
    findings = told("meeting-edges", box("one", 20, 20, 20, 30), box("two", 40 + gap, 25, 20, 20))
    assert [(f.level, f.piece, f.other) for f in findings] == ([("warning", "two", "one")] if told_ else [])
    if told_:
        assert f"only {gap:.2f} mm of wood is left" in findings[0].text
        days = "this takes 2 glue days instead of 1"
        apart = "or move them until 3.00 mm of wood is left"
        assert f"bite 0.55 to 1.00 mm into one ({days}), {apart}" in findings[0].remedy
        assert findings[0].at[0] == pytest.approx(40 + gap / 2)


def test_edges_nearly_meet_across_batches_too() -> None:
    """No thin wall stands between pockets that are not open at the same time, so they need not be moved so far."""
    (finding,) = told("meeting-edges", box("one", 20, 20, 20, 30), box("two", 40.3, 25, 20, 20, after=("one",)))
    assert "or move them until 0.50 mm of wood is left" in finding.remedy


@pytest.mark.parametrize(("bite", "told_"), [(0.49, True), (0.51, False)])
def test_a_bite_that_a_slip_of_the_cutter_undoes(bite: float, told_: bool) -> None:
    findings = told("meeting-edges", box("one", 20, 20, 20, 30), box("two", 40 - bite, 25, 20, 20))
    assert [(f.piece, f.other) for f in findings] == ([("two", "one")] if told_ else [])
    if told_:
        assert "bites only 0.49 mm" in findings[0].text


@pytest.mark.parametrize(("gap", "told_"), [(0.499, False), (0.5, True), (2.99, True), (3.0, False)])
def test_thin_walls(gap: float, told_: bool) -> None:
    findings = told("thin-wall", box("one", 20, 20, 20, 30), box("two", 40 + gap, 25, 20, 20))
    assert [(f.level, f.piece, f.other) for f in findings] == ([("warning", "two", "one")] if told_ else [])
    if told_:
        assert f"only {gap:.2f} mm thick, less than 3.00 mm, and 6.00 mm high" in findings[0].text


def test_a_wall_between_pockets_of_two_batches_is_not_thin() -> None:
    assert told("thin-wall", box("one", 20, 20, 20, 30), box("two", 41, 25, 20, 20, after=("one",))) == []


def test_another_order_that_opens_another_thin_wall_is_no_remedy() -> None:
    """Three in a row, the middle one cut first by wish: the last joins the first's batch only if that is no harm."""
    row = [box("a", 10, 20, 20, 20), box("b", 31, 20, 20, 20), box("c", 52, 20, 20, 20, after=("b",))]
    (finding,) = told("thin-wall", *row)
    assert (finding.other, finding.piece) == ("a", "b")
    assert finding.step is not None
    assert (finding.step.piece, finding.step.key, finding.step.value) == ("b", "after", ("a",))


# Skins


@pytest.mark.parametrize(("depth", "told_"), [(6.0, False), (6.01, True), (6.99, True), (7.0, False)])
def test_thin_skins(depth: float, told_: bool) -> None:
    findings = told(
        "thin-skin", box("one", 20, 20, 40, 40, pocket_depth=7.0), box("two", 30, 30, 15, 15, pocket_depth=depth)
    )
    assert [(f.level, f.piece, f.other) for f in findings] == ([("warning", "two", "one")] if told_ else [])
    if told_:
        assert f"a skin of one only {7 - depth:.2f} mm thick" in findings[0].text
        assert findings[0].step is not None
        assert findings[0].step.value == 7.2


def test_where_the_floor_is_too_thin_for_deeper_shallower_is_the_step() -> None:
    pieces = box("one", 20, 20, 40, 40, pocket_depth=7.0), box("two", 30, 30, 15, 15, pocket_depth=6.5)
    (finding,) = told("thin-skin", *pieces, thickness=12.1)
    assert finding.step is not None
    assert finding.step.value == 6.0


# Necks; the insert is drawn in by a clearance of 0.1 mm


@pytest.mark.parametrize(("neck", "told_"), [(3.19, True), (3.21, False)])
def test_thin_necks_of_inserts_as_sawn(neck: float, told_: bool) -> None:
    findings = told("thin-neck", make_piece("bone", dumbbell(14, neck, 8), at=(30, 30), cutter_diameter=2.0))
    assert [(f.level, f.piece) for f in findings] == ([("warning", "bone")] if told_ else [])
    if told_:
        assert f"a neck {neck - 0.2:.2f} mm wide" in findings[0].text
        assert findings[0].at == pytest.approx((48, 37), abs=4)


@pytest.mark.parametrize(("left", "told_"), [(0.99, True), (1.01, False)])
def test_thin_necks_of_remnants(left: float, told_: bool) -> None:
    """The later box covers the middle of the bar but for `left` along its lower edge, which lies 0.1 mm inside."""
    bar = box("bar", 20, 20, 60, 20)
    findings = told("thin-neck", bar, box("pad", 40, 20.1 + left, 20, 25))
    assert [(f.level, f.piece) for f in findings] == ([("warning", "bar")] if told_ else [])
    if told_:
        assert "0.99 mm wide" in findings[0].text
        assert findings[0].at[1] == pytest.approx(20.1 + left / 2, abs=0.01)


def test_a_neck_that_the_insert_had_already_is_told_once() -> None:
    bone = make_piece("bone", dumbbell(14, 1.0, 8), at=(30, 30), cutter_diameter=0.8)
    assert len(told("thin-neck", bone, box("pad", 60, 30, 20, 10))) == 1


def test_a_pointed_tip_alone_is_no_neck() -> None:
    kite = [(0.0, 0.0), (20.0, -8.0), (30.0, 0.0), (20.0, 8.0)]  # 44 degrees at its tip
    assert told("thin-neck", make_piece("kite", kite, at=(40, 40), cutter_diameter=1.0)) == []


def test_a_strip_in_its_groove_has_no_neck() -> None:
    reed = make_piece("reed", LineOutline(((60.0, 5.0), (60.0, 75.0)), 2.0), cutter_diameter=2.0)
    assert told("thin-neck", reed) == told("short-grain", reed) == []


# Short grain. That wood breaks far more easily across than along its grain is in the Wood Handbook, chapter 5 (from
# memory); the constants of Hankinson's formula are tested in test_grain_strength.py.


@pytest.mark.parametrize(
    ("grain", "told_"), [(0.0, False), (44.0, False), (46.0, True), (90.0, True), (134.0, True), (136.0, False)]
)
def test_short_grain_where_it_lies_off_the_run(grain: float, told_: bool) -> None:
    findings = told("short-grain", make_piece("bone", dumbbell(30, 6, 10), at=(20, 20), grain=grain))
    assert [(f.level, f.piece) for f in findings] == ([("warning", "bone")] if told_ else [])
    if told_:  # the neck runs straight along x
        assert f"its grain runs {min(grain, 180 - grain):.0f}° off its length" in findings[0].text


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0, 90.0, 120.0])
def test_a_straight_neck_runs_as_its_axis_does(turn: float) -> None:
    (finding,) = told("short-grain", make_piece("bone", dumbbell(14, 4, 12), at=(60, 35), turn=turn, grain=turn + 46))
    assert "grain runs 46° off its length" in finding.text
    assert told("short-grain", make_piece("bone", dumbbell(14, 4, 12), at=(60, 35), turn=turn, grain=turn + 44)) == []


@pytest.mark.parametrize(("end", "told_"), [(25.0, False), (29.0, True)])
def test_short_grain_counts_where_the_wood_beyond_is_long_beside_the_neck(end: float, told_: bool) -> None:
    """A neck 5.8 mm wide and 7.5 mm thick: 8 x 5.8² x 7.5 / 60 = 33.6 mm, and the neck itself is 7.3 mm of that."""
    findings = told("short-grain", make_piece("bone", dumbbell(end, 6, 10), at=(20, 20), grain=90.0))
    assert len(findings) == told_


LETTERS = {
    "E": [(0, 0, 5, 36), (0, 0, 20, 5), (0, 15.5, 18, 5), (0, 31, 20, 5)],
    "F": [(0, 0, 5, 36), (0, 15.5, 16, 5), (0, 31, 20, 5)],
    "H": [(0, 0, 5, 36), (19, 0, 5, 36), (0, 15.5, 24, 5)],
    "L": [(0, 0, 5, 36), (0, 0, 20, 5)],
    "T": [(0, 31, 24, 5), (9.5, 0, 5, 36)],
}


@pytest.mark.parametrize("letter", LETTERS)
def test_ordinary_letters_have_no_short_grain(letter: str) -> None:
    """Stems of 5 mm, 36 mm high, the grain up the letter."""
    shape = shapely.union_all([shapely.box(x, y, x + w, y + h) for x, y, w, h in LETTERS[letter]])
    points = [(x, y) for x, y in shapely.get_coordinates(shape)[:-1].tolist()]
    assert told("short-grain", make_piece("letter", points, at=(50, 20), grain=90.0)) == []


def test_a_letter_with_long_thin_arms_has_it_in_its_bar_and_not_at_its_crossing() -> None:
    bar, stem = shapely.box(0, 50, 80, 55), shapely.box(37.5, 0, 42.5, 55)
    points = [(x, y) for x, y in shapely.get_coordinates(shapely.union(bar, stem))[:-1].tolist()]
    findings = told("short-grain", make_piece("T", points, at=(20, 10), grain=90.0))
    assert len(findings) == 2
    for finding in findings:
        assert abs(finding.at[0] - 60) > 4  # in an arm
        assert "4.80 mm wide" in finding.text
        assert any(f"grain runs {degrees}° off its length" in finding.text for degrees in (89, 90))


@pytest.mark.parametrize(("neck", "told_"), [(9.19, True), (9.21, False)])
def test_short_grain_up_to_three_times_the_least_neck(neck: float, told_: bool) -> None:
    findings = told(
        "short-grain", make_piece("bone", dumbbell(46, neck, 10), at=(10, 20), grain=90.0, pocket_depth=3.0)
    )
    assert len(findings) == told_


@pytest.mark.parametrize("run", [0.0, 52.4, 57.0, 178.0])
def test_grain_is_turned_in_fives_of_degrees(run: float) -> None:
    (finding,) = told("short-grain", make_piece("bone", dumbbell(14, 4, 12), at=(60, 35), turn=run, grain=run + 90))
    assert finding.step is not None
    assert isinstance(finding.step.value, float)
    assert finding.step.value % 5 == 0
    assert abs((finding.step.value - run + 90) % 180 - 90) <= 5


@pytest.mark.parametrize(("grain", "told_"), [(90.0, True), (0.0, False)])
def test_a_tapering_hand_with_its_grain_across_has_short_grain_near_its_narrow_end(grain: float, told_: bool) -> None:
    """A clock hand held by its tip: nowhere is the wood towards the tip long beside the width, but the rest is."""
    hand = [(0.0, -2.85), (90.0, -5.6), (90.0, 5.6), (0.0, 2.85)]
    findings = told("short-grain", make_piece("hand", hand, at=(15, 40), grain=grain))
    assert bool(findings) == told_


def test_short_grain_in_a_fin_across_the_grain_and_not_in_one_along_it() -> None:
    along, across = (
        told("short-grain", make_piece("fish", fin(60, 8), at=(20, 20), grain=g, cutter_diameter=1.0))
        for g in (0.0, 90.0)
    )
    assert along == []
    (finding,) = across
    assert "a tongue" in finding.text
    assert finding.step is not None
    assert finding.step.key == "grain"


def test_the_weakest_of_several_is_named() -> None:
    strong = make_piece("strong", dumbbell(14, 4.6, 10), at=(10, 10), grain=90.0)
    weak = make_piece("weak", dumbbell(14, 4, 10), at=(60, 40), grain=90.0)
    texts = {f.piece: f.text for f in told("short-grain", strong, weak)}
    assert "it is the weakest of 2 such places on this panel" in texts["weak"]
    assert "weakest" not in texts["strong"]


def test_no_direction_suits_a_cross() -> None:
    horizontal, vertical = shapely.box(0, 37, 80, 43), shapely.box(37, 0, 43, 80)
    arms = [(x, y) for x, y in shapely.get_coordinates(shapely.union(horizontal, vertical))[:-1].tolist()]
    findings = told("short-grain", make_piece("cross", arms, at=(20, 0), grain=0.0))
    assert findings
    assert all(f.step is None and "two pieces" in f.remedy for f in findings)


# Islands and remnants


@pytest.mark.parametrize(("radius", "told_"), [(2.99, True), (3.01, False)])
def test_an_island_narrower_than_its_pocket_is_deep(radius: float, told_: bool) -> None:
    findings = told("fragile-island", make_piece("eye", ring(14, radius), at=(50, 40)))
    assert [(f.level, f.piece) for f in findings] == ([("warning", "eye")] if told_ else [])
    if told_:
        assert findings[0].at == pytest.approx((50, 40), abs=0.01)


@pytest.mark.parametrize(("radius", "told_"), [(1.49, True), (1.51, False)])
def test_an_island_narrower_than_the_least(radius: float, told_: bool) -> None:
    piece = make_piece("eye", ring(14, radius), at=(50, 40), cutter_diameter=2.0, pocket_depth=2.0)
    assert len(told("fragile-island", piece)) == told_


@pytest.mark.parametrize(("area", "told_"), [(24.95, True), (25.05, False)])
def test_loose_remnants(area: float, told_: bool) -> None:
    """Left of a bar 9.8 mm high is its end with two corners of 1.4875 mm, each of which takes (1 - pi/4) r²."""
    width = (area + 2 * (1 - math.pi / 4) * (RADIUS - 0.1) ** 2) / 9.8
    findings = told("loose-remnant", box("bar", 20, 20, 60, 10), box("pad", 20.1 + width, 10, 70, 30))
    assert [(f.level, f.piece) for f in findings] == ([("warning", "bar")] if told_ else [])
    if told_:
        assert findings[0].text.startswith("bar at (")
        assert "pad leaves a part of only 24.95 mm²" in findings[0].text


def test_a_small_piece_left_whole_is_not_loose() -> None:
    assert told("loose-remnant", make_piece("eye", disc(2.5), at=(50, 40))) == []


# What is told once, and cures


@pytest.mark.parametrize(
    ("room", "words"), [(1.5, "Make top smaller"), (2.5, "Move top so that 1.00 mm of wood is left")]
)
def test_a_rim_all_round_is_cured_by_making_the_later_piece_smaller(room: float, words: str) -> None:
    """Moved, it leaves the rim wider on one side alone: room is what is left on both together."""
    base = box("base", 20, 20, 60, 40, cutter_diameter=1.0, side_clearance=0.0)
    top = box("top", 20.7, 28, 60 - room, 24, cutter_diameter=1.0)
    necks = [f for f in told("thin-neck", base, top) if f.piece == "base"]
    assert necks
    assert all(words in finding.remedy for finding in necks)


def test_a_thin_wall_in_an_insert_is_told_once() -> None:
    base = box("base", 15, 10, 90, 60)
    pair = box("one", 30, 20, 25, 40), box("two", 55.7, 20, 25, 40)
    assert len(told("thin-wall", base, *pair)) == 1
    assert told("thin-neck", base, *pair) == []
    (after,) = told("thin-neck", base, pair[0], replace(pair[1], after=("one",)))
    assert after.piece == "base"


@pytest.mark.parametrize(("off", "loose"), [(0.0, False), (1.0, True)])
def test_a_short_strip_as_wide_as_its_groove_is_held_and_one_cut_along_is_not(off: float, loose: bool) -> None:
    """Two pieces leave 1 mm of a strip 3.115 mm wide between them; or one leaves only a part of its width."""
    reed = make_piece("reed", LineOutline(((10.0, 40.0), (110.0, 40.0)), 3.175))
    left, right = box("left", 2, 30, 50, 20, cutter_diameter=0.5), box("right", 53, 30, 60, 20, cutter_diameter=0.5)
    side = box("side", 45, 40.2, 20, 9, cutter_diameter=0.5) if off else box("side", 45, 60, 20, 9)
    crumbs = [f for f in told("loose-remnant", reed, left, right, side) if f.piece == "reed"]
    assert bool(crumbs) == loose


def test_where_the_later_piece_cannot_go_the_earlier_one_moves_towards_it_and_is_not_torn_off() -> None:
    """A stem between two leaves that it hardly bites into: what it gains on one side it loses on the other."""
    leaves = box("left", 20, 20, 30.3, 12), box("right", 56.7, 20, 30, 12)
    stack = build_stack(make_design((*leaves, box("stem", 50, 10, 7, 60))))
    steps = [tried(stack, finding).step for finding in told("meeting-edges", *leaves, box("stem", 50, 10, 7, 60))]
    assert {(step.piece, step.value) for step in steps if step is not None} == {
        ("left", (20.45, 20.0)), ("right", (56.25, 20.0))
    }  # fmt: skip
