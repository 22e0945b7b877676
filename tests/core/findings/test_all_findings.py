"""Each finding just on either side of its threshold, with its place and words, and silence where a design is sound."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from core.design import Design, LineOutline, PathOutline, Piece, PolygonOutline, Segment, Strip, SvgOutline
from core.errors import UnusableInput
from core.findings.all_findings import FINDINGS, LEVELS, Finding, find_all, refuse_if_unusable
from core.stack.stack import build_stack
from tests.core.designs import (
    EIGHTH_INCH,
    POINT_CUTTER,
    Points,
    comb,
    disc,
    dumbbell,
    fin,
    make_design,
    make_panel,
    make_piece,
    rectangle,
    ring,
    star,
)

RADIUS = 1.5875


def found(*pieces: Piece, **panel: object) -> tuple[Finding, ...]:
    return find_all(build_stack(make_design(pieces, make_panel(**panel))))


def codes(*pieces: Piece, **panel: object) -> list[str]:
    return [finding.code for finding in found(*pieces, **panel)]


def only(code: str, *pieces: Piece, **panel: object) -> list[Finding]:
    return [finding for finding in found(*pieces, **panel) if finding.code == code]


def at_middle(
    outline: Points | PolygonOutline | PathOutline | LineOutline, name: str = "koi", **changes: object
) -> Piece:
    return make_piece(name, outline, at=(50.0, 35.0), **changes)


# The whole list


def test_each_finding_has_one_function_named_for_it() -> None:
    assert all(function.__name__ == code.replace("-", "_") for code, function in FINDINGS.items())
    assert all(function.__doc__ for function in FINDINGS.values())


def test_sorted_by_level_design_order_code_and_place() -> None:
    first = at_middle(star(5, 20, 8), "first", pocket_depth=15.0, insert_thickness=14.0)
    second = make_piece("second", rectangle(20, 20), at=(110, 10), wood="unobtainium")
    findings = found(first, second, wood="nowood")
    order = {None: -1, "first": 0, "second": 1}
    keys = [(LEVELS.index(f.level), order[f.piece], f.code, f.at) for f in findings]
    assert keys == sorted(keys)
    assert [(f.piece, f.code) for f in findings if f.level == "error"] == [
        (None, "unknown-wood"),
        ("first", "not-proud"),
        ("second", "outside-panel"),
        ("second", "unknown-wood"),
    ]


def test_texts_tell_piece_and_place_and_remedies_what_next() -> None:
    pieces = [
        at_middle(star(5, 20, 8), pocket_depth=19.0),
        at_middle(rectangle(20, 20), "box", fit="as-drawn", wood="x"),
    ]
    findings = found(*pieces)
    assert {f.code for f in findings} >= {
        "cutter-too-big",
        "binds",
        "floor-too-thin",
        "unknown-wood",
        "corners-rounded",
    }
    for finding in findings:
        x, y = finding.at
        assert finding.text.startswith(f"{finding.piece} at ({x:.2f}, {y:.2f}): ")
        assert finding.remedy
        for number in re.findall(r"(\S+) mm\b(?! cutter)", finding.text):
            assert re.fullmatch(r"\d+\.\d\d", number), finding.text


@pytest.mark.parametrize(
    "pieces",
    [
        [],
        [at_middle(disc(12))],
        [at_middle(ring(20, 8)), at_middle(disc(8.75), "eye")],
        [at_middle(disc(20)), at_middle(disc(10), "patch", pocket_depth=4.0)],
        [make_piece("a", disc(15), at=(30, 40)), make_piece("b", disc(15), at=(55, 40), pocket_depth=5.0)],
        [at_middle(rectangle(60, 20, -30, -10))],
    ],
    ids=["plain panel", "disc", "ring filled", "patch", "crossing", "plain corners"],
)
def test_sound_designs_get_no_error_and_no_warning(pieces: list[Piece]) -> None:
    assert [f for f in found(*pieces) if f.level != "note"] == []


# Pieces and woods that cannot be used

BOW_TIE = [(0, 0), (10, 10), (10, 0), (0, 10)]


def test_bad_outline_names_the_crossing() -> None:
    (finding,) = found(make_piece("bow", BOW_TIE, at=(20, 30)))
    assert (finding.level, finding.code, finding.piece) == ("error", "bad-outline", "bow")
    assert finding.at == pytest.approx((25, 35))
    assert "crosses itself" in finding.text


def test_bad_outline_of_no_area() -> None:
    assert codes(make_piece("line", [(0, 0), (10, 0), (20, 0)], at=(20, 30))) == ["bad-outline"]


def test_an_outline_that_touches_nothing_of_itself_is_good() -> None:
    assert "bad-outline" not in codes(at_middle([(0, 0), (20, 0), (20, 20), (10, 0.5)]))


@pytest.mark.parametrize(("width", "empty"), [(3.17, True), (3.18, False)])
def test_empty_fit_where_no_cutter_gets_in(width: float, empty: bool) -> None:
    findings = only("empty-fit", at_middle(rectangle(40, width), side_clearance=0.0))
    assert len(findings) == empty
    if empty:
        assert findings[0].level == "error"
        assert "pocket" in findings[0].text
        assert "3.17 mm" in findings[0].text


@pytest.mark.parametrize(("clearance", "empty"), [(1.56, False), (1.5694, True)])
def test_empty_fit_where_clearance_takes_all_of_the_insert(clearance: float, empty: bool) -> None:
    findings = only("empty-fit", at_middle(disc(1.5695), cutter_diameter=3.14, side_clearance=clearance))
    assert [f.code for f in findings] == (["empty-fit"] if empty else [])
    if empty:
        assert "insert" in findings[0].text


@pytest.mark.parametrize(
    ("piece", "words", "remedy"),
    [
        (
            at_middle(rectangle(40, 10), corner_radius=6.0),
            "rounded to a radius of 6.00 mm",
            "radius of less than 5.00 mm",
        ),
        (at_middle(rectangle(40, 3.3), taper=5.0), "cutter needs 4.22 mm at the face", "a tip of less than 2.25 mm"),
        (at_middle(LineOutline(((-20, 0), (20, 0)), EIGHTH_INCH), taper=20.0), "meet 4.36 mm down", "less taper"),
        (at_middle(ring(20, 5), taper=3.0, insert_thickness=110.0), "sides of a gap or a hole", "Move them apart"),
    ],
    ids=["corners too round", "tapered cutter", "groove closes", "hole closes"],
)
def test_an_empty_fit_tells_what_leaves_nothing(piece: Piece, words: str, remedy: str) -> None:
    """(DERIVED) 2 (1.5875 + 6 tan 5°) = 4.22 and 3.3 - 12 tan 5° = 2.25; 3.175 / (2 tan 20°) = 4.36."""
    (finding,) = only("empty-fit", piece)
    assert words in finding.text
    assert remedy in finding.remedy


def test_unknown_wood_offers_names_that_are_near() -> None:
    (finding,) = found(at_middle(disc(12), wood="paduk"))
    assert (finding.level, finding.code, finding.piece) == ("error", "unknown-wood", "koi")
    assert '"paduk"' in finding.text
    assert "African padauk" in finding.remedy
    assert finding.step is not None
    assert finding.step.value == "African padauk"


def test_known_woods_by_any_name_are_no_finding() -> None:
    assert only("unknown-wood", at_middle(disc(12), wood="Padauk")) == []


def test_unknown_wood_of_a_strip_has_no_piece_and_lies_in_the_strip() -> None:
    strips = (Strip(60, (Segment(80, "ash"),)), Strip(60, (Segment(30, "ash"), Segment(50, "zzz"))))
    (finding,) = found(strips=strips, wood=None)
    assert (finding.code, finding.piece, finding.at) == ("unknown-wood", None, (90, 55))
    assert "strip 2, segment 2" in finding.text
    assert "species table" in finding.remedy


# Panel and depth


@pytest.mark.parametrize(("x", "outside"), [(9.992, False), (9.988, True)])
def test_outside_panel(x: float, outside: bool) -> None:
    findings = [f for f in found(make_piece("koi", disc(10), at=(x, 40))) if f.level == "error"]
    assert [f.code for f in findings] == (["outside-panel"] if outside else [])


def test_outside_panel_tells_how_far_beyond_which_edge_part_by_part() -> None:
    arch = [(-12, 0), (12, 0), (12, 20), (6, 20), (6, 10), (-6, 10), (-6, 20), (-12, 20)]
    piece = make_piece("arch", arch, at=(60, 65), cutter_diameter=1.0)
    findings = [f for f in found(piece) if f.code == "outside-panel"]
    assert [round(f.at[1], 2) for f in findings] == [85.0, 85.0]
    assert all("5.00 mm beyond the top edge of the panel" in f.text for f in findings)


def test_over_a_corner_outside_panel_tells_how_far_beyond_each_edge_square_to_it() -> None:
    (finding,) = [f for f in found(make_piece("koi", rectangle(30, 30), at=(-4, -3))) if f.code == "outside-panel"]
    assert "4.00 mm beyond the left edge and 3.00 mm beyond the bottom edge" in finding.text
    assert finding.value == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("x", "y", "trim", "left_by"),
    [
        (-12, 25, (8, 0, 0, 0), None),  # it runs off the edge that is trimmed, and shows inside
        (-12, 25, (0, 8, 8, 8), "left"),  # it runs off the only edge that is not
        (-12, -5, (8, 0, 0, 0), "bottom"),  # over a corner: one edge cuts it off, the other does not
        (-12, -5, (8, 0, 8, 0), None),
        (-21.9, 25, (8, 0, 0, 0), None),  # 0.1 mm of it shows
        (-22.1, 25, (8, 0, 0, 0), "left"),  # nothing of it shows: nobody draws that on purpose
        (-40, 25, (8, 0, 0, 0), "left"),
    ],
)
def test_a_piece_may_run_off_an_edge_that_is_trimmed(
    x: float, y: float, trim: tuple[float, float, float, float], left_by: str | None
) -> None:
    piece = make_piece("koi", rectangle(30, 30), at=(x, y), cutter_diameter=POINT_CUTTER, side_clearance=0.0)
    findings = [finding for finding in found(piece, edge_trim=trim) if finding.level == "error"]
    assert {f.code for f in findings} <= {"outside-panel"}  # and so the solids are sound
    assert [f.text.split(" edge of the panel")[0].split()[-1] for f in findings] == ([left_by] if left_by else [])


def test_a_piece_off_the_panel_is_moved_in_by_no_more_than_needed() -> None:
    stack = build_stack(make_design([make_piece("koi", rectangle(30, 30), at=(-1.59, 25))], make_panel()))
    (finding,) = [f for f in find_all(stack, try_steps=True) if f.code == "outside-panel"]
    assert finding.step is not None
    assert finding.step.value == (0.0, 25)


@pytest.mark.parametrize(("trim", "offered"), [(8.0, True), (0.0, False)])
def test_nothing_is_advised_to_run_off_an_edge_that_is_not_trimmed(trim: float, offered: bool) -> None:
    groove = make_piece("reed", LineOutline(((30, 40), (60, 40)), EIGHTH_INCH))
    ends = only("strip-end-shows", groove, edge_trim=(trim,) * 4)
    assert ends
    assert all(("trimmed edge" in end.remedy) == offered for end in ends)
    beside = make_piece("koi", rectangle(30, 30), at=(trim + 0.6, 25))
    slivers = only("edge-sliver", beside, edge_trim=(trim,) * 4)
    assert slivers
    assert all(("run off the edge" in sliver.remedy) == offered for sliver in slivers)


@pytest.mark.parametrize(
    ("depth", "level"), [(14.0, None), (14.01, "warning"), (18.99, "warning"), (19.0, "error"), (25.0, "error")]
)
def test_floor_too_thin(depth: float, level: str | None) -> None:
    findings = only("floor-too-thin", at_middle(disc(12), pocket_depth=depth))
    assert [(f.level, f.code) for f in findings] == ([(level, "floor-too-thin")] if level else [])


def test_a_floor_of_just_the_least_is_enough_whatever_the_rounding() -> None:
    assert 12.7 - 7.7 < 5
    assert codes(at_middle(disc(12), pocket_depth=7.7), thickness=12.7) == []


@pytest.mark.parametrize(("thickness", "proud"), [(5.5, True), (5.49, False)])
def test_not_proud(thickness: float, proud: bool) -> None:
    findings = found(at_middle(disc(12), insert_thickness=thickness), face_trim=0.5)
    assert [(f.level, f.code) for f in findings] == ([] if proud else [("error", "not-proud")])
    if not proud:
        assert "0.01 mm below the finished face" in findings[0].text


@pytest.mark.parametrize(("trim", "gone"), [(5.99, False), (6.0, True)])
def test_trimmed_away(trim: float, gone: bool) -> None:
    findings = only("trimmed-away", at_middle(disc(12)), face_trim=trim)
    assert [(f.level, f.code) for f in findings] == ([("error", "trimmed-away")] if gone else [])


@pytest.mark.parametrize(("radius", "hidden"), [(12.0, True), (11.8, False)])
def test_hidden_piece(radius: float, hidden: bool) -> None:
    findings = only("hidden-piece", at_middle(disc(12)), at_middle(disc(radius), "pad"))
    assert [(f.level, f.code, f.piece) for f in findings] == ([("warning", "hidden-piece", "koi")] if hidden else [])
    if hidden:
        assert "pad" in findings[0].text


@pytest.mark.parametrize(("y", "hidden"), [(6.09, True), (6.11, False)])
def test_a_piece_in_the_trimmed_edge_is_hidden(y: float, hidden: bool) -> None:
    """Its insert reaches 5.9 mm up from y, the trim 12 mm."""
    findings = only("hidden-piece", make_piece("koi", disc(6), at=(50, y)), edge_trim=(0.0, 0.0, 12.0, 0.0))
    assert [f.code for f in findings] == (["hidden-piece"] if hidden else [])
    if hidden:
        assert "trimmed edge" in findings[0].text


# What the cutter does to outlines


def arrow(angle: float) -> Points:
    """A kite with one corner of an angle at the origin, the others blunt."""
    half = math.radians(angle / 2)
    x, y = 20 * math.cos(half), 20 * math.sin(half)
    return [(0, 0), (x, -y), (x + y, 0), (x, y)]


def notched(angle: float) -> Points:
    """A square with a notch of an angle that ends at the origin."""
    half = 15 * math.tan(math.radians(angle / 2))
    return [(half, 15), (0, 0), (-half, 15), (-20, 15), (-20, -20), (20, -20), (20, 15)]


SHARP = [(3.175, 52.3, True), (3.175, 52.6, False), (3.175, 60.0, False), (6.0, 59.0, True), (6.0, 60.0, False)]
"""At 52.37° the usual cutter loses 2.01 mm, r (1 / sin(angle / 2) - 1), DERIVED; a thick one loses more at 60° too."""


@pytest.mark.parametrize(("cutter", "angle", "sharp"), SHARP)
def test_a_tip_is_too_sharp_below_60_degrees_if_it_comes_out_more_than_2_mm_short(
    cutter: float, angle: float, sharp: bool
) -> None:
    findings = [f for f in found(at_middle(arrow(angle), cutter_diameter=cutter)) if f.level == "warning"]
    assert [f.code for f in findings] == (["cutter-too-big"] if sharp else [])
    if sharp:
        assert findings[0].at == pytest.approx((50, 35), abs=1e-9)
        missing = cutter / 2 * (1 / math.sin(math.radians(angle / 2)) - 1)
        assert f"{missing:.2f} mm short" in findings[0].text


@pytest.mark.parametrize(("cutter", "angle", "sharp"), SHARP)
def test_a_notch_is_filled_below_60_degrees_if_that_is_more_than_2_mm_deep(
    cutter: float, angle: float, sharp: bool
) -> None:
    findings = [f for f in found(at_middle(notched(angle), cutter_diameter=cutter)) if f.level == "warning"]
    assert [f.code for f in findings] == (["notch-filled"] if sharp else [])
    if sharp:
        assert findings[0].at == pytest.approx((50, 35), abs=1e-9)


def test_a_tip_of_less_is_one_of_the_rounded_corners() -> None:
    (note,) = only("corners-rounded", at_middle(arrow(59)))
    assert note.value == pytest.approx(RADIUS * (1 / math.sin(math.radians(29.5)) - 1), abs=0.01)


@pytest.mark.parametrize("outline", [arrow(40), notched(40)], ids=["tip", "notch"])
def test_the_smaller_cutter_that_is_offered_for_a_tip_or_a_notch_cures_it(outline: Points) -> None:
    """At 40° a radius of 2 / (1 / sin 20° - 1) = 1.04 mm loses 2 mm: the largest common cutter below 2.08 mm."""
    (finding,) = [f for f in found(at_middle(outline)) if f.code in ("cutter-too-big", "notch-filled")]
    assert finding.step is not None
    assert finding.step.value == pytest.approx(2.0)
    cured = found(at_middle(outline, cutter_diameter=2.0))
    assert [f.code for f in cured if f.code in ("cutter-too-big", "notch-filled")] == []


def test_tips_of_one_piece_have_one_cause_and_one_step() -> None:
    tips = only("cutter-too-big", at_middle(star(8, 30, 16), cutter_diameter=6.0))
    assert len(tips) == 8
    assert {tip.cause for tip in tips} == {"tips of koi"}
    assert sum(tip.step is not None for tip in tips) <= 1


@pytest.mark.parametrize(("hidden", "told"), [(0.9, True), (1.6, False)])
def test_a_tip_of_which_no_more_than_2_mm_show_is_none(hidden: float, told: bool) -> None:
    """A tip of 40° loses 3.05 mm; a later piece covers the outer ones."""
    cover = at_middle(rectangle(20, 20, -20 + hidden, -10), "cover", wood="cherry", cutter_diameter=0.5)
    tips = [f for f in found(at_middle(arrow(40)), cover) if (f.code, f.piece) == ("cutter-too-big", "koi")]
    assert bool(tips) == told


@pytest.mark.parametrize(("gap", "told"), [(2.8, True), (3.2, False)])
def test_what_two_parts_lose_where_they_lie_too_near_is_told_as_the_gap_between_them(gap: float, told: bool) -> None:
    """A stroke beside a pair that crosses, as in the numeral IX: their ends are round, and no tips."""
    stroke = shapely.LineString([(0, 0), (24, 0)]).buffer(2.1)
    y = 4.2 + gap
    cross = shapely.union_all([shapely.LineString([(0, y + a), (24, y + 12 - a)]).buffer(2.1) for a in (0, 12)])
    drawn = " ".join(
        "M " + " L ".join(f"{a:.4f} {b:.4f}" for a, b in part.exterior.coords[:-1]) + " Z" for part in (stroke, cross)
    )
    findings = only("cutter-too-big", make_piece("IX", PathOutline(drawn), at=(20, 20), side_clearance=0.05))
    assert all("tip" not in finding.text for finding in findings)
    assert [f"only {gap:.2f} mm apart" in finding.text for finding in findings] == ([True] if told else [])


def test_a_gap_that_is_closed_is_told_with_its_width_and_how_wide_it_must_be() -> None:
    bars = PathOutline("M 0 0 L 5 0 L 5 40 L 0 40 Z M 7.8 0 L 12.8 0 L 12.8 40 L 7.8 40 Z")
    (finding,) = only("notch-filled", at_middle(bars))
    assert "a gap 2.80 mm wide is closed" in finding.text
    assert "Draw the gap 3.18 mm wide, make two pieces of it" in finding.remedy


@pytest.mark.parametrize(("neck", "lost"), [(3.17, True), (3.175, False)])
def test_a_neck_narrower_than_the_cutter_is_lost(neck: float, lost: bool) -> None:
    findings = only("cutter-too-big", make_piece("bone", dumbbell(14, neck, 6), at=(30, 30)))
    assert [f.code for f in findings] == (["cutter-too-big"] if lost else [])
    if lost:
        assert findings[0].at == pytest.approx((47, 37), abs=1)
        assert "a neck of " in findings[0].text
        assert "the 3.175 mm cutter does not get through" in findings[0].text


def two_rings(radius: float) -> PathOutline:
    """A disc of 8 and a small one 20 mm to its right, as one path."""

    def circle(r: float, x: float) -> str:
        return f"M {x - r} 0 A {r} {r} 0 0 0 {x + r} 0 A {r} {r} 0 0 0 {x - r} 0 Z"

    return PathOutline(f"{circle(8, 0)} {circle(radius, 20)}")


@pytest.mark.parametrize(("radius", "lost"), [(1.58, True), (1.59, False)])
def test_a_part_that_the_cutter_does_not_get_into_is_lost(radius: float, lost: bool) -> None:
    findings = only("cutter-too-big", at_middle(two_rings(radius)))
    assert [f.code for f in findings] == (["cutter-too-big"] if lost else [])
    if lost:
        assert f"a part of {math.pi * radius**2:.2f} mm²" in findings[0].text
        assert math.dist(findings[0].at, (70, 35)) < radius


@pytest.mark.parametrize(("radius", "filled"), [(1.58, True), (1.59, False)])
def test_a_hole_smaller_than_the_cutter_is_filled(radius: float, filled: bool) -> None:
    findings = only("notch-filled", at_middle(ring(12, radius, count=400)))
    assert [f.code for f in findings] == (["notch-filled"] if filled else [])
    if filled:
        assert f"a hole of {math.pi * radius**2:.2f} mm²" in findings[0].text


@pytest.mark.parametrize(("gap", "filled"), [(3.0, 2), (3.2, 0)])
def test_gaps_between_teeth_narrower_than_the_cutter_are_filled_one_finding_each(gap: float, filled: int) -> None:
    assert codes(make_piece("comb", comb(3, 6.0, gap, 15), at=(20, 20))).count("notch-filled") == filled


def test_a_slit_along_an_edge_is_told_though_the_edge_is_near() -> None:
    slit = [(0, 0), (40, 0), (40, 1.2), (10, 1.2), (10, 1.5), (40, 1.5), (40, 20), (0, 20)]
    assert "notch-filled" in codes(make_piece("slit", slit, at=(20, 20), cutter_diameter=1.0))


def test_corners_rounded_is_one_note_with_count_and_radius() -> None:
    (finding,) = found(at_middle(rectangle(20, 20)))
    assert (finding.level, finding.code) == ("note", "corners-rounded")
    assert "4 corners are rounded to a radius of 1.59 mm" in finding.text
    assert finding.at in [(50, 35), (70, 35), (50, 55), (70, 55)]
    assert f"{(math.sqrt(2) - 1) * RADIUS:.2f} mm" in finding.text


def test_corners_as_round_as_the_cutter_are_no_finding() -> None:
    corners = "M 2 0 H 18 A 2 2 0 0 1 20 2 V 18 A 2 2 0 0 1 18 20 H 2 A 2 2 0 0 1 0 18 V 2 A 2 2 0 0 1 2 0 Z"
    assert codes(at_middle(PathOutline(corners))) == []


def test_concave_corners_count_too() -> None:
    (finding,) = found(at_middle([(0, 0), (30, 0), (30, 15), (15, 15), (15, 30), (0, 30)]))
    assert "6 corners" in finding.text


def test_a_fin_is_told_at_its_tip_and_nowhere_else() -> None:
    warnings = [f for f in found(make_piece("fish", fin(30, 4), at=(20, 20))) if f.level == "warning"]
    assert [(f.code, f.at) for f in warnings] == [("cutter-too-big", (70, 30))]


# As drawn


def test_binds_at_right_angles_until_clearance_makes_room() -> None:
    """At a convex right angle sqrt(2) (r - c) - r: no more interference from c = r (1 - 1 / sqrt(2)) on. DERIVED."""
    free = RADIUS * (1 - 1 / math.sqrt(2))
    tight = codes(at_middle(rectangle(20, 20), fit="as-drawn", side_clearance=free - 0.02))
    loose = codes(at_middle(rectangle(20, 20), fit="as-drawn", side_clearance=free + 0.001))
    assert tight == ["binds"] * 4
    assert loose == []


def test_round_outlines_as_drawn_do_not_bind() -> None:
    assert codes(at_middle(disc(12), fit="as-drawn")) == []


# Remedies that are one step


@pytest.mark.parametrize(
    ("piece", "panel"),
    [
        (at_middle(disc(12), pocket_depth=15.0, cutter_diameter=6.0), {}),
        (at_middle(disc(12), pocket_depth=19.0, cutter_diameter=6.0), {}),
        (at_middle(disc(12), insert_thickness=5.0), {"face_trim": 0.5}),
        (at_middle(disc(12), wood="paduk"), {}),
        (at_middle(disc(12), floor_gap=1.0, insert_thickness=4.0), {}),
        (at_middle(rectangle(20, 20), fit="as-drawn"), {}),
    ],
)
def test_a_step_taken_removes_its_finding_and_brings_none(piece: Piece, panel: dict[str, object]) -> None:
    finding = next(f for f in found(piece, **panel) if f.step)
    assert finding.step is not None
    assert finding.step.piece == piece.id
    mended = replace(piece, **{finding.step.key: finding.step.value})
    assert [f for f in found(mended, **panel) if f.level != "note"] == []


# Refusing


def stack_of(*pieces: Piece) -> Design:
    return replace(make_design(pieces), file="pond.panel.json")


def test_refuse_if_unusable_names_file_and_piece() -> None:
    design = stack_of(make_piece("bow", BOW_TIE, at=(20, 30)), at_middle(disc(9), wood="zzz"))
    stack = build_stack(design)
    with pytest.raises(UnusableInput, match=r"pond\.panel\.json: .*bow at .*crosses itself \(1 more"):
        refuse_if_unusable(stack, find_all(stack))


def test_errors_in_the_work_are_not_refused() -> None:
    stack = build_stack(stack_of(at_middle(disc(9), pocket_depth=25.0)))
    refuse_if_unusable(stack, find_all(stack))


def test_svg_source_without_area_is_a_bad_outline(tmp_path: Path) -> None:
    drawing = '<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"><path d="M 0 0 L 5 5 Z"/></svg>'
    (tmp_path / "a.svg").write_text(drawing)
    design = replace(make_design([replace(at_middle(disc(9)), outline=SvgOutline("a.svg"))]), folder=tmp_path)
    assert [f.code for f in find_all(build_stack(design))] == ["bad-outline"]


@pytest.mark.parametrize(("x", "told_"), [(60, True), (84, False)])
def test_a_tip_that_lies_under_a_later_piece_is_not_missed(x: float, told_: bool) -> None:
    """The kite's right tip, at 90 mm, has 28 degrees; the cutter leaves out its last 5 mm."""
    kite = make_piece("kite", [(0, 0), (10, -7.5), (40, 0), (10, 7.5)], at=(50, 40))
    lid = make_piece("lid", disc(10), at=(x, 40))
    findings = find_all(build_stack(make_design([kite, lid])))
    assert any(f.code == "cutter-too-big" for f in findings) is told_
