"""The plan of the work: every piece once, blanks that hold their inserts, lengths as a rule reads them."""

from __future__ import annotations

import csv
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from core.boards.stock import EDGE
from core.design import LineOutline, Segment, Strip
from core.lines.layout import HANDLING, SAW
from core.measures.movement import panel_movement
from core.sheet.background_pages import zero_pages
from core.sheet.blocks import Lines
from core.sheet.content import piece_content
from core.sheet.glue_up import BUTT, LENGTH, OUTER, glue_up
from core.sheet.holding import TOLD_APART, zero_of
from core.sheet.lengths import MM3_PER_BOARD_FOOT, board_feet, fraction_of_inch, inch_text, length_text
from core.sheet.plan import plan_of
from core.stack.stack import build_stack
from tests.core.designs import disc, fewer, make_design, make_panel, make_piece, rectangle

STARTS = st.tuples(st.integers(0, 90), st.integers(0, 60))
PIECES = st.lists(st.tuples(STARTS, st.integers(8, 40), st.integers(8, 30), st.integers(0, 179)), max_size=6)


@given(PIECES)
@fewer(5)
def test_every_piece_is_in_exactly_one_batch_and_every_blank_holds_its_insert_with_allowance(drawn) -> None:
    pieces = [
        make_piece(f"p{n}", rectangle(width, height), at=at, grain=float(grain), taper=3.0 * (n % 2))
        for n, (at, width, height, grain) in enumerate(drawn)
    ]
    stack = build_stack(make_design(pieces))
    plan = plan_of(stack, ())
    assert sorted(piece.id for batch in plan.batches for piece in batch.pieces) == sorted(p.id for p in pieces)
    assert [piece.number for piece in plan.pieces] == list(range(1, len(pieces) + 1))
    for piece in plan.pieces:
        assert all(number < piece.number for number in piece.waits_for)
        batch_of = {other.number: other.placed.batch for other in plan.pieces}
        assert all(batch_of[number] < piece.placed.batch for number in piece.waits_for)
        assert len(piece.blanks) == shapely.get_num_geometries(piece.placed.insert)
        for blank in piece.blanks:
            room = shapely.box(*blank.laid.blank).buffer(-(SAW + HANDLING) + 1e-9)
            assert shapely.covers(room, blank.laid.shape)
            assert blank.length >= blank.insert_length + 2 * (SAW + HANDLING)
            assert blank.thickness == piece.placed.piece.insert_thickness


@given(PIECES, st.sampled_from([0.0, 0.8]))
@fewer(5)
def test_following_the_sheets_order_gives_the_finished_panel(drawn, trim) -> None:
    """Worked piece by piece at two depths: each pocket takes all that lies there, each insert fills its own.

    At the finished face what is then seen is what the stack says, which goes by the order of the list; deeper down it
    is each insert less the pockets of all pieces listed after it.
    """
    pieces = [
        make_piece(f"p{n}", rectangle(width, height), at=at, grain=float(grain), taper=2.0 * (n % 2),
                   pocket_depth=3.0 + n % 3, corner_radius=2.0)
        for n, (at, width, height, grain) in enumerate(drawn)
    ]  # fmt: skip
    stack = build_stack(make_design(pieces, make_panel(face_trim=trim, edge_trim=(5.0, 4.0, 3.0, 2.0))))
    for depth in (trim, 3.5):
        ground, lies = stack.box, {}
        for work in plan_of(stack, ()).pieces:
            pocket = work.placed.pocket_at(depth)
            ground = shapely.difference(ground, pocket)
            lies = {name: shapely.difference(there, pocket) for name, there in lies.items()}
            lies[work.placed.index] = work.placed.insert_at(depth)
        for placed, seen in zip(stack.pieces, stack.remnants, strict=True):
            later = shapely.union_all([other.pocket_at(depth) for other in stack.pieces[placed.index + 1 :]])
            wood = shapely.difference(placed.insert_at(depth), later)
            if depth == trim:
                wood, lies[placed.index] = seen, shapely.intersection(lies[placed.index], stack.finished_box)
            assert shapely.area(shapely.symmetric_difference(lies[placed.index], wood)) < 0.02
        pockets = shapely.union_all([placed.pocket_at(depth) for placed in stack.pieces])
        assert shapely.area(shapely.symmetric_difference(ground, shapely.difference(stack.box, pockets))) < 1e-6


def test_following_the_order_of_the_plan_never_cuts_a_pocket_before_what_it_cuts_into_is_in() -> None:
    stack = build_stack(
        make_design(
            [make_piece("a", disc(15), at=(40, 40)), make_piece("b", disc(15), at=(55, 40)),
             make_piece("c", disc(6), at=(100, 60)), make_piece("d", disc(5), at=(60, 40), after=("c",))]
        )
    )  # fmt: skip
    done: set[int] = set()
    for piece in plan_of(stack, ()).pieces:
        assert set(piece.waits_for) <= done
        overlapped = {
            other.index
            for other in stack.pieces[: piece.placed.index]
            if shapely.area(shapely.intersection(other.pocket, piece.placed.pocket)) > 1e-6
        }
        assert overlapped == set(piece.placed.over)
        done.add(piece.number)
    assert len(done) == 4


def test_a_later_batch_says_which_inserts_are_levelled_first() -> None:
    stack = build_stack(make_design([make_piece("a", disc(15), at=(40, 40)), make_piece("b", disc(9), at=(40, 40))]))
    first, second = plan_of(stack, ()).batches
    assert first.level_first == ()
    assert second.level_first == (1,)
    assert second.why == ("2 b cuts into 1 a",)


def test_a_groove_says_its_strip_and_where_each_end_goes() -> None:
    panel = make_panel(edge_trim=(10.0, 10.0, 10.0, 10.0))
    reed = make_piece("reed", LineOutline(((60, 2), (60, 40)), 3.175), cutter_diameter=3.175)
    pad = make_piece("pad", disc(8), at=(60, 40))
    plan = plan_of(build_stack(make_design([reed, pad], panel)), ())
    strip = plan.pieces[0].strip
    assert strip is not None
    assert (strip.width, strip.length) == (pytest.approx(3.115), pytest.approx(38.0))
    assert strip.cut_length > strip.length
    assert "trimmed edge" in strip.hides[0]
    assert "under pad" in strip.hides[1]


def test_strips_are_cut_with_their_allowances_and_glued_up_in_stages() -> None:
    strips = (
        Strip(40.0, (Segment(50.0, "wenge"), Segment(30.0, "holly"))),
        *(Strip(10.0, (Segment(80.0, "sapele"),)) for _ in range(8)),
    )
    glued = glue_up(build_stack(make_design([], make_panel(wood=None, strips=strips))))
    assert [s.rip_width - s.glue_width for s in glued.strips] == pytest.approx([EDGE] * 9)
    assert sum(s.glue_width for s in glued.strips) == pytest.approx(120 + 2 * OUTER)  # there is something to cut off
    assert [s.glue_width - s.width for s in glued.strips] == pytest.approx([OUTER, *[0.0] * 7, OUTER])
    lengths = [sum(each.cut_length for each in s.segments) for s in glued.strips]
    assert lengths == pytest.approx([80 + LENGTH + 2 * BUTT, *[80 + LENGTH] * 8])
    assert [each.end for each in glued.strips[0].segments] == [50.0, 80.0]
    flats = [stage.flat for stage in glued.stages if stage.flat]
    assert flats == pytest.approx([20.0])  # half way from 21 mm to the panel's 19
    words = [stage.what for stage in glued.stages]
    assert "strips 1 end to end" in words[0]
    assert [word.partition(" edge")[0] for word in words[1:3]] == ["Glue strips 1 to 5", "Glue strips 6 to 9"]
    assert "then glue strips 1–5 to strips 6–9" in words[3]
    assert glued.zero_edge == "left edge"


@given(PIECES, st.sampled_from([(12.0, 12.0, 12.0, 12.0), (0.0, 0.0, 11.0, 0.0), (8.0, 0.0, 0.0, 8.0)]))
@fewer(5)
def test_pins_lie_in_the_margin_clear_of_pockets_and_the_panel_goes_on_one_way_only(drawn, trim) -> None:
    pieces = [make_piece(f"p{n}", rectangle(w, h), at=at) for n, (at, w, h, _) in enumerate(drawn)]
    stack = build_stack(make_design(pieces, make_panel(edge_trim=trim)))
    zero = zero_of(stack)
    holes = [shapely.Point(pin).buffer(zero.pin_diameter / 2) for pin in zero.pins]
    for hole in holes:
        assert shapely.covers(stack.box, hole)
        assert not shapely.intersects(stack.finished_box, hole)
        assert not any(shapely.intersects(placed.pocket, hole) for placed in stack.pieces)
    if zero.pins:
        (x, y), other = zero.pins
        along = other[0] - x > 1e-6  # the background's grain runs along x, and wood moves across it
        assert along == (abs(other[1] - y) < 1e-6)
        assert (zero.slot == 0) == along
        assert shapely.Point(120 - x, 80 - y).distance(shapely.Point(other)) >= TOLD_APART
    if zero.depth_place:
        disc_there = shapely.Point(zero.depth_place).buffer(zero.depth_room - 0.6)
        assert not any(shapely.intersects(placed.pocket, disc_there) for placed in stack.pieces)


def test_where_only_a_margin_across_the_grain_has_room_the_second_hole_is_a_slot_towards_the_first() -> None:
    """The slot takes the movement of both seasons on either side, and stays in the margin, clear of pockets."""
    piece = make_piece("a", disc(8), at=(12, 40))
    stack = build_stack(make_design([piece], make_panel(edge_trim=(16.0, 0.0, 0.0, 0.0))))
    zero = zero_of(stack)
    (x, y), (other_x, other_y) = zero.pins
    assert x == other_x == 8.0
    assert abs(other_y - y) > 40
    moves = panel_movement(stack)
    assert moves is not None
    assert zero.slot >= moves.frame_room[1] > 0
    slot = shapely.LineString([(x, other_y - zero.slot), (x, other_y + zero.slot)]).buffer(zero.pin_diameter / 2)
    assert shapely.covers(shapely.box(0, 0, 16, 80), slot)
    assert not shapely.intersects(slot, stack.pieces[0].pocket)
    assert any("Hole 2 is a slot" in line for line in lines_of(stack))


def lines_of(stack) -> list[str]:
    return [line for block in zero_pages(plan_of(stack, ()), "mm") if isinstance(block, Lines) for line in block.lines]


def test_a_panel_without_margins_has_no_pins() -> None:
    assert zero_of(build_stack(make_design([]))).pins == ()


# --- Content --------------------------------------------------------------------------------------------------------


def test_the_content_of_a_piece_changes_with_what_it_is_cut_as_and_with_nothing_else() -> None:
    piece = make_piece("a", disc(12, count=64), at=(40, 40), grain=20.0)

    def content(changed, index=0):
        return piece_content(build_stack(make_design([changed])).pieces[index])

    same = content(piece)
    assert content(replace(piece, id="b", board=3, cut="rift")) == same
    others = [
        replace(piece, at=(40.01, 40.0)),
        replace(piece, grain=21.0),
        replace(piece, wood="ebony"),
        replace(piece, pocket_depth=5.9),
        replace(piece, insert_thickness=7.6),
        replace(piece, side_clearance=0.05),
        replace(piece, cutter_diameter=3.0),
        replace(piece, leaves=2),
        replace(piece, mirror=True, turn=3.0),
    ]
    found = [content(other) for other in others]
    assert len({same, *found}) == len(others) + 1
    under = build_stack(make_design([piece, make_piece("over", disc(5), at=(40, 40))]))
    assert piece_content(under.pieces[0]) == same


# --- Lengths --------------------------------------------------------------------------------------------------------


@given(st.integers(0, 64 * 40), st.floats(-0.0075, 0.0075))
@fewer(1)
def test_inches_are_the_nearest_64th_with_what_is_left_over(sixty_fourths: int, over: float) -> None:
    length = (Fraction(sixty_fourths, 64) + Fraction(over)) * Fraction("25.4")
    nearest, left = fraction_of_inch(float(length))
    assert nearest == Fraction(sixty_fourths, 64)
    assert left == pytest.approx(over, abs=1e-9)


@pytest.mark.parametrize(
    ("length", "words"),
    [
        (25.4, "1 in"),
        (0.0, "0 in"),
        (0.396875, "1/64 in"),
        (3.175, "1/8 in"),
        (5.5, "7/32 in less 0.002"),
        (600.0, "23 5/8 in less 0.003"),
        (-3.175, "-1/8 in"),
        (23.1, "29/32 in plus 0.003"),
    ],
)
def test_inches_read_as_on_a_rule(length: float, words: str) -> None:
    assert inch_text(length) == words


def test_lengths_come_in_the_units_that_were_asked_for() -> None:
    assert [length_text(5.5, units) for units in ("mm", "inch", "both")] == [
        "5.50 mm",
        "7/32 in less 0.002",
        "5.50 mm (7/32 in)",
    ]


TABLE = Path(__file__).parents[2] / "data" / "board_feet.csv"


def test_board_feet_are_those_of_the_table() -> None:
    """Cases and sources in the table itself; a board foot is 144 cubic inches."""
    mm = {"in": 25.4, "ft": 12 * 25.4, "mm": 1.0}
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["thickness"]]
    assert len(rows) > 10
    for row in rows:
        side = mm["mm" if row["length_unit"] == "mm" else "in"]
        thickness, width = float(row["thickness"]) * side, float(row["width"]) * side
        volume = thickness * width * float(row["length"]) * mm[row["length_unit"]]
        assert board_feet(volume) == pytest.approx(float(row["expected_board_feet"]), rel=1e-8)
    assert pytest.approx(2359737.216) == MM3_PER_BOARD_FOOT


@pytest.mark.parametrize(("x", "told"), [(-4.0, True), (0.0, False)])
def test_a_pocket_that_runs_off_the_raw_panel_says_where_clamps_are_in_the_way(x: float, told: bool) -> None:
    piece = make_piece("hill", rectangle(30, 30), at=(x, 20))
    (work,) = plan_of(build_stack(make_design([piece], make_panel(edge_trim=(8.0, 8.0, 8.0, 8.0)))), ()).pieces
    words = [words for words in work.watch if "runs off the left edge of the raw panel: keep clamps off" in words]
    assert bool(words) == told
