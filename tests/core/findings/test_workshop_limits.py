"""Findings of single numbers, of fit, thickness, frame and what stands twice: on either side of each threshold."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from core.design import Design, Frame, LineOutline, OwnWood, Piece, Segment, Strip
from core.findings.all_findings import find_all
from core.findings.finding import Finding, Step
from core.measures.movement import panel_movement
from core.stack.stack import build_stack
from tests.core.designs import disc, make_design, make_panel, make_piece, rectangle
from tests.core.measures.test_touching_woods import box


def sun(name: str = "sun", radius: float = 18.0, x: float = 60.0, **changes: Any) -> Piece:
    return make_piece(name, disc(radius, count=90), at=(x, 40.0), **changes)


def told(code: str, *pieces: Piece, changed: dict[str, Any] | None = None, **panel: Any) -> list[Finding]:
    design = make_design(pieces, make_panel(face_trim=0.5, **panel))
    return told_of(code, replace(design, workshop=replace(design.workshop, **(changed or {}))))


def told_of(code: str, design: Design) -> list[Finding]:
    return [finding for finding in find_all(build_stack(design)) if finding.code == code]


def levels(findings: list[Finding]) -> list[str]:
    return [finding.level for finding in findings]


# Wedges: an insert larger by e on each side stands e / tan(taper) proud before it is pressed home (DERIVED).


@pytest.mark.parametrize(
    ("taper", "clearance", "level"),
    [
        (1.0, -0.5, ["warning"]),
        (3.0, -0.16, ["warning"]),
        (3.0, -0.15, []),
        (10.0, -0.3, []),
        (10.0, -0.31, ["warning"]),
    ],
)
def test_a_wedge_too_large_for_its_pocket_cannot_be_pressed_home(
    taper: float, clearance: float, level: list[str]
) -> None:
    """Half of a pocket 6 mm deep is 3 mm: 0.1572 mm at 3°."""
    wedge = sun(taper=taper, side_clearance=clearance, floor_gap=0.3)
    found = told("wedge-stuck", wedge)
    assert levels(found) == level
    if level:
        step = found[0].step
        assert step is not None
        assert step.key == "side_clearance"
        assert isinstance(step.value, float)
        assert told("wedge-stuck", replace(wedge, side_clearance=step.value)) == []


def test_an_oversize_of_half_a_millimetre_at_one_degree_stands_28_mm_proud() -> None:
    (found,) = told("wedge-stuck", sun(taper=1.0, side_clearance=-0.5, floor_gap=0.3))
    assert "it stops 28.64 mm above its place" in found.text
    assert found.value == pytest.approx(28.645, abs=0.001)


@pytest.mark.parametrize(("gap", "level"), [(0.09, ["note"]), (0.1, [])])
def test_a_wedge_needs_room_under_it_when_it_gets_tight(gap: float, level: list[str]) -> None:
    wedge = sun(taper=3.0, side_clearance=0.0, floor_gap=gap)
    found = told("wedge-stuck", wedge)
    assert levels(found) == level
    if level:
        assert found[0].step == Step("sun", "floor_gap", 0.51 if gap > 0.3 else 0.3)


def test_a_wedge_with_play_drops_to_the_floor_before_it_gets_tight() -> None:
    (found,) = told("wedge-stuck", sun(taper=3.0, side_clearance=0.1, floor_gap=0.3))
    assert found.step is None
    assert "before its walls touch" in found.text


# Clearance


@pytest.mark.parametrize(("clearance", "told_"), [(0.0, True), (0.01, False), (0.5, False), (0.51, True)])
def test_a_clearance_of_nothing_or_of_more_than_half_a_millimetre_is_odd(clearance: float, told_: bool) -> None:
    found = told("odd-clearance", sun(side_clearance=clearance))
    assert levels(found) == (["warning"] if told_ else [])
    if told_:
        assert found[0].step == Step("sun", "side_clearance", 0.1)


def test_leaning_walls_need_no_clearance_and_a_snug_strip_neither() -> None:
    reed = make_piece("reed", LineOutline(((60.0, 2.0), (60.0, 78.0)), 3.175), strip_clearance=0.0)
    assert told("odd-clearance", sun(taper=3.0, side_clearance=0.0, floor_gap=0.3), reed) == []


# Cutters


@pytest.mark.parametrize(("depth", "level"), [(6.0, []), (6.01, ["note"]), (10.0, ["note"]), (10.01, ["warning"])])
def test_a_cut_deeper_than_three_diameters_needs_a_slender_cutter(depth: float, level: list[str]) -> None:
    """With a cutter of 2 mm; the insert is cut as deep as it is thick."""
    eyes = sun(cutter_diameter=2.0, pocket_depth=depth, insert_thickness=depth)
    assert levels(told("slender-cutter", eyes)) == level
    asked = ["under Workshop" in finding.remedy for finding in told("slender-cutter", eyes)]
    assert asked == [False for _ in level]  # its length is not that of the workshop's cutter
    asked = ["under Workshop" in f.remedy for f in told("slender-cutter", eyes, changed={"cutter_diameter": 2.0})]
    assert asked == [True for _ in level]
    own = {"cutter_diameter": 2.0, "cutter_length": 12.0}
    assert told("slender-cutter", eyes, changed=own) == []
    assert levels(told("slender-cutter", eyes, changed=own | {"cutter_diameter": 3.0})) == level


@pytest.mark.parametrize(("depth", "thickness"), [(12.0, 13.5), (9.0, 10.5), (12.0, 11.0), (5.5, 6.2)])
def test_the_depth_and_the_thickness_that_a_slender_cutter_offers_cure_it(depth: float, thickness: float) -> None:
    (finding,) = told("slender-cutter", sun(cutter_diameter=2.0, pocket_depth=depth, insert_thickness=thickness))
    offered = re.search(r"the insert (\S+) mm thick at most, and cut the pocket (\S+) mm deep at most", finding.remedy)
    assert offered is not None
    thick, good = map(float, offered.groups())
    assert thick - good == pytest.approx(max(thickness - depth, 0.0))
    assert told("slender-cutter", sun(cutter_diameter=2.0, pocket_depth=good, insert_thickness=thick)) == []
    assert ("as proud as now" in finding.remedy) == (thickness > depth)
    assert ("scroll saw" in finding.remedy) == (depth <= 6.0)


def test_the_strip_of_a_groove_is_not_cut_by_the_cutter() -> None:
    reed = make_piece("reed", LineOutline(((60.0, 2.0), (60.0, 78.0)), 3.175), pocket_depth=9.5, insert_thickness=11.0)
    assert told("slender-cutter", reed) == []


# Thickness


@pytest.mark.parametrize(("depth", "told_"), [(0.5, False), (0.51, True), (0.99, True), (1.0, False)])
def test_an_insert_of_less_than_half_a_millimetre_after_trimming_is_thin(depth: float, told_: bool) -> None:
    """With 0.5 mm trimmed off; at a depth of 0.5 nothing is left, which is told as trimmed away."""
    found = told("thin-insert", sun(pocket_depth=depth))
    assert levels(found) == (["warning"] if told_ else [])
    if told_:
        assert found[0].step == Step("sun", "pocket_depth", 1.5)


def test_a_floor_gap_and_the_depth_error_make_an_insert_thinner() -> None:
    assert told("thin-insert", sun(pocket_depth=1.2)) == []
    assert levels(told("thin-insert", sun(pocket_depth=1.2, floor_gap=0.3))) == ["warning"]
    assert levels(told("thin-insert", sun(pocket_depth=1.2), changed={"depth_error": -0.3})) == ["warning"]


@pytest.mark.parametrize(("thickness", "told_"), [(25.0, False), (25.1, True)])
def test_an_insert_is_thick_from_25_mm_on(thickness: float, told_: bool) -> None:
    assert levels(told("thick-insert", sun(insert_thickness=thickness))) == (["warning"] if told_ else [])


@pytest.mark.parametrize(("count", "told_"), [(4, False), (5, True)])
def test_five_thicknesses_of_one_wood_are_many(count: int, told_: bool) -> None:
    suns = [sun(f"sun-{i}", 5.0, 14.0 + 18.0 * i, insert_thickness=7.0 + 0.5 * i) for i in range(count)]
    other = sun("moon", 5.0, 110.0, insert_thickness=9.9, wood="cherry")
    found = told("many-thicknesses", *suns, other)
    assert levels(found) == (["note"] if told_ else [])
    if told_:
        assert "7.00, 7.50, 8.00, 8.50, 9.00 mm" in found[0].text


# Twice


def test_one_piece_twice_in_one_place_is_told_and_one_beside_it_or_deeper_is_not() -> None:
    first = sun("first")
    assert [(f.piece, f.other) for f in told("repeated", first, sun("second"))] == [("second", "first")]
    assert levels(told("repeated", first, sun("second", x=60.009))) == ["warning"]
    assert told("repeated", first, sun("second", x=60.02)) == []
    assert told("repeated", first, sun("second", pocket_depth=8.0)) == []
    three = told("repeated", first, sun("second"), sun("third"))
    assert [(f.piece, f.other) for f in three] == [("second", "first"), ("third", "first")]  # once for each piece


def test_an_after_is_told_where_the_piece_waits_anyway() -> None:
    first, second = sun("first", x=40.0), sun("second", x=60.0)
    third = sun("third", x=80.0, after=("first",))
    assert told("repeated", first, sun("apart", 5.0, 100.0, after=("first",))) == []
    (over,) = told("repeated", first, replace(second, after=("first",)))
    assert over.step == Step("second", "after", ())
    (through,) = told("repeated", first, second, third)
    assert (through.level, through.piece, through.step) == ("note", "third", Step("third", "after", ()))


def test_a_wood_of_your_own_with_a_name_of_the_table_is_told() -> None:
    design = make_design([sun()])
    for name, count in (("Hard Maple", 1), ("maple from the barn", 0)):
        own = OwnWood(name, "hard maple", cut="#e0c0a0")
        assert len(told_of("repeated", replace(design, woods=(own,)))) == count


# Frame, small things


def test_a_frame_is_too_tight_where_the_panel_grows_by_more_than_its_reveal_on_both_sides() -> None:
    design = make_design([], make_panel(500, 80, wood="hard maple", grain=90.0))
    moved = panel_movement(build_stack(design))
    assert moved is not None
    room = max(moved.frame_room)
    for reveal, told_ in ((room / 2 - 0.01, True), (room / 2 + 0.01, False)):
        found = told_of("frame-too-tight", replace(design, frame=Frame(reveal=reveal)))
        assert levels(found) == (["warning"] if told_ else [])


def strips(width: float, *lengths: float) -> dict[str, Any]:
    one = Strip(width, tuple(Segment(length, "ash") for length in lengths))
    return {"strips": (one, Strip(120 - width, (Segment(80, "cherry"),))), "wood": None}


@pytest.mark.parametrize(
    ("background", "told_"),
    [(strips(1.5, 80), 0), (strips(1.4, 80), 1), (strips(20, 5, 75), 0), (strips(20, 4.9, 75.1), 1)],
)
def test_narrow_strips_and_short_segments_are_told(background: dict[str, Any], told_: int) -> None:
    found = told("small-strip", **background)
    assert levels(found) == ["warning"] * told_
    assert all(finding.piece is None and finding.at[0] < 20 and finding.at[1] <= 40 for finding in found)


@pytest.mark.parametrize(("side", "told_"), [(3.6, False), (3.3, True)])
def test_an_insert_below_12_square_millimetres_is_small(side: float, told_: bool) -> None:
    """Two tenths narrower than its pocket: 3.4 x 3.6 is 12.24 mm², 3.1 x 3.6 is 11.16."""
    tiny = make_piece("eye", rectangle(side, 3.8), at=(60, 40), cutter_diameter=0.008 * 2, side_clearance=0.0)
    tiny = replace(tiny, outline=replace(tiny.outline, points=tuple(rectangle(side - 0.2, 3.6))))  # type: ignore[type-var]
    assert levels(told("small-part", tiny)) == (["note"] if told_ else [])


# Dust


@pytest.mark.parametrize(
    ("one", "other", "count"),
    [
        ("black walnut", "white ash", 1),
        ("black walnut", "hard maple", 0),  # closed pores
        ("African ebony", "white ash", 0),  # told as colour that bleeds
        ("African ebony", "white oak", 1),
        ("black cherry", "white ash", 0),  # not dark
        ("black walnut", "teak", 0),  # not pale
    ],
)
def test_dust_of_dark_wood_gets_into_pale_open_pores(one: str, other: str, count: int) -> None:
    tile = box("tile", 40, 20, 40, 40, wood=one)
    assert levels(told("dust-stain", tile, wood=other)) == ["note"] * count
    assert told("dust-stain", box("tile", 40, 20, 1, 1, wood=one), wood=other) == []  # 4 mm of edge
