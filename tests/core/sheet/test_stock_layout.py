"""Parts on boards: they never overlap, come apart by straight cuts, keep their grain, and take as little as can be."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from core.boards.stock import JOINTED, PLANING, SQUARED, glued_leaves, leaves_from
from core.design import StockBoard
from core.sheet import boards_to_buy as boards_to_buy_module
from core.sheet import guillotine
from core.sheet.boards_to_buy import Bought, boards_to_buy
from core.sheet.buying import Item, items
from core.sheet.contents import Drawn, Lines, Table, contents
from core.sheet.guillotine import EXACT, Arrangement, arranged, filled, shapes
from core.sheet.plan import plan_of
from core.sheet.stock_layout import FULL, NO_WOOD, TOO_LONG, TOO_THICK, StockLayout, laid_out, stock_layout
from core.sheet.stock_pages import missing_lines
from core.stack.stack import build_stack
from tests.core.designs import disc, fewer, make_design, make_piece, rectangle

KERF = 3.0
SIZES = st.lists(st.tuples(st.integers(5, 60), st.integers(5, 40)), min_size=1, max_size=12)
FEW = st.lists(st.tuples(st.integers(2, 9), st.integers(2, 6)), min_size=1, max_size=4)


def boxes(sizes, spots):
    return [shapely.box(s.x, s.y, s.x + sizes[s.part][0], s.y + sizes[s.part][1]) for s in spots]


def comes_apart(rectangles, kerf=KERF) -> bool:
    """Whether straight cuts right through, each as wide as the kerf, part all; written apart from the packing."""
    if len(rectangles) < 2:
        return True
    for axis in (0, 1):
        for cut in (box.bounds[axis + 2] for box in rectangles):
            before = [box for box in rectangles if box.bounds[axis + 2] <= cut + 1e-9]
            after = [box for box in rectangles if box.bounds[axis] >= cut + kerf - 1e-6]
            if after and len(before) + len(after) == len(rectangles):
                return comes_apart(before, kerf) and comes_apart(after, kerf)
    return False


def look_through(sizes, made: Arrangement, width: float, left=()) -> None:
    """All of the parts lie once, within their leaf, a kerf apart and not turned; straight cuts part them."""
    assert sorted([spot.part for leaf in made.leaves for spot in leaf] + list(left)) == list(range(len(sizes)))
    for leaf in made.leaves:
        laid = boxes(sizes, leaf)
        whole = shapely.box(-1e-6, -1e-6, made.length + 1e-6, width + 1e-6)
        assert all(shapely.covers(whole, box) for box in laid)
        for n, one in enumerate(laid):
            assert not any(shapely.area(shapely.intersection(one, other)) > 1e-9 for other in laid[:n])
        assert comes_apart(laid)


# --- Packing --------------------------------------------------------------------------------------------------------


@given(SIZES, st.integers(1, 3))
@fewer(2)
def test_parts_never_overlap_come_apart_by_straight_cuts_and_are_never_turned(sizes, leaves) -> None:
    made = arranged(sizes, 60.0, KERF, 2000.0, leaves)
    assert made is not None
    assert len(made.leaves) == leaves
    look_through(sizes, made, 60.0)
    some, left = filled(sizes, 60.0, KERF, 70.0, leaves)
    look_through(sizes, some, 60.0, left)


def least_by_brute_force(sizes, width: int, kerf: int, most: int) -> int | None:
    """The least whole length from which the parts can be sawn: every whole place of every cut is tried."""

    @cache
    def goes(parts: tuple[tuple[int, int], ...], length: int, wide: int) -> bool:
        if len(parts) == 1:
            return parts[0][0] <= length and parts[0][1] <= wide
        for chosen in product((False, True), repeat=len(parts) - 1):
            one = tuple(p for p, yes in zip(parts, (True, *chosen), strict=True) if yes)
            two = tuple(p for p, yes in zip(parts, (True, *chosen), strict=True) if not yes)
            if two:
                for a, b in ((one, two), (two, one)):
                    if any(goes(a, x, wide) and goes(b, length - x - kerf, wide) for x in range(1, length - kerf)):
                        return True
                    if any(goes(a, length, y) and goes(b, length, wide - y - kerf) for y in range(1, wide - kerf)):
                        return True
        return False

    return next((length for length in range(1, most + 1) if goes(tuple(sizes), length, width)), None)


@given(FEW)
@fewer(4)
def test_few_parts_lie_as_short_as_brute_force_over_all_cuts_finds(sizes) -> None:
    made = arranged(sizes, 10.0, 1.0, 40.0)
    least = least_by_brute_force(sizes, 10, 1, 40)
    assert (None if made is None else made.length) == (None if least is None else pytest.approx(least))


@given(FEW, st.sampled_from([2, 3]))
@fewer(4)
def test_few_parts_on_several_leaves_lie_as_short_as_brute_force_finds(sizes, leaves) -> None:
    made = arranged(sizes, 10.0, 1.0, 60.0, leaves)
    shares = []
    for where in product(range(leaves), repeat=len(sizes)):
        some = [[s for s, leaf in zip(sizes, where, strict=True) if leaf == n] for n in range(leaves)]
        shares.append(max(least_by_brute_force(each, 10, 1, 60) for each in some if each))
    assert made is not None
    assert made.length == pytest.approx(min(shares))


def test_many_parts_lie_within_a_fifth_of_the_shortest_that_their_area_allows() -> None:
    """Twenty equal parts, four across a leaf: the best length is known, five of them and four kerfs."""
    made = arranged([(50.0, 20.0)] * 20, 4 * 20 + 3 * KERF, KERF, 2000.0)
    assert made is not None
    best = 5 * 50 + 4 * KERF
    assert best <= made.length + 1e-9 <= 1.2 * best


def test_very_many_parts_lie_in_rows_as_soundly(monkeypatch) -> None:
    monkeypatch.setattr(guillotine, "MANY", 20)
    sizes = [(5.0 + 7 * n % 50, 5.0 + 11 * n % 35) for n in range(60)]
    made = arranged(sizes, 60.0, KERF, 2000.0, 2)
    assert made is not None
    look_through(sizes, made, 60.0)
    some, left = filled(sizes, 60.0, KERF, 70.0, 2)
    assert left
    look_through(sizes, some, 60.0, left)


def test_what_is_wider_than_the_leaf_is_not_turned_to_make_it_fit() -> None:
    assert arranged([(20.0, 61.0)], 60.0, KERF, 100.0) is None
    assert arranged([(61.0, 20.0)], 60.0, KERF, 100.0) is not None
    many = [(20.0, 30.0)] * EXACT + [(20.0, 61.0)]
    assert arranged(many, 60.0, KERF, 1000.0) is None
    assert filled(many, 60.0, KERF, 1000.0, 1)[1] == (EXACT,)


# --- Boards ---------------------------------------------------------------------------------------------------------


def design(stock, pieces=(), **shop):
    made = make_design(list(pieces))
    return replace(made, stock=tuple(stock), workshop=replace(made.workshop, **shop))


def board(wood, length, width, thickness, count=1):
    """A board that has so much left once it is jointed and squared."""
    return StockBoard(wood, length + SQUARED, width + JOINTED, thickness, count)


def item(use, length, width, thickness=5.0, wood="holly", glued=1):
    return Item(use, wood, glued, length, width, thickness, glued)


def all_parts(layout: StockLayout | Bought):
    return [part for sawn in layout.boards for billet in sawn.billets for leaf in billet.leaves for part in leaf.parts]


# Thickness = leaves x (planed + planing) + kerfs between them: DERIVED, by counting what is sawn off.
@pytest.mark.parametrize(
    ("board", "planed", "kerf", "count"),
    [(25.4, 6.0, 3.0, 2), (25.4, 5.0, 1.5, 3), (8.0, 6.0, 3.0, 1), (7.99, 6.0, 3.0, 0), (19.0, 6.0, 3.0, 2),
     (18.99, 6.0, 3.0, 1), (16.0, 6.0, 0.0, 2)],
)  # fmt: skip
def test_a_board_gives_as_many_leaves_as_thickness_planing_and_kerf_allow(board, planed, kerf, count) -> None:
    assert leaves_from(board, planed, kerf) == count
    taken = count * (planed + PLANING) + max(count - 1, 0) * kerf
    assert taken <= board < taken + planed + PLANING + (kerf if count else 0)


BOARDS = st.lists(
    st.builds(board, st.sampled_from(["holly", "wenge"]), st.integers(60, 300), st.integers(20, 80),
              st.sampled_from([8.0, 16.0, 26.0]), st.integers(1, 2)), max_size=4
)  # fmt: skip
ITEMS = st.lists(
    st.builds(item, st.just("part"), st.integers(5, 120), st.integers(5, 50), st.sampled_from([3.0, 5.0, 9.0]),
              st.sampled_from(["holly", "Wenge", "pear"]), st.sampled_from([1, 1, 1, 2])), max_size=12
)  # fmt: skip


@given(BOARDS, ITEMS, st.sampled_from([None, 100.0]))
@fewer(2)
def test_every_part_lies_once_in_its_own_wood_and_thickness_or_is_told_as_missing(boards, wanted, least) -> None:
    wanted = [replace(each, use=f"part {n}") for n, each in enumerate(wanted)]
    layout = laid_out(design(boards, min_planing_length=least), wanted)
    placed: dict[str, int] = {}
    for sawn in layout.boards:
        board = sawn.board
        for n, billet in enumerate(sawn.billets):
            assert billet.length >= (least or 0) - 1e-9
            assert billet.start >= SQUARED
            assert billet.start + billet.length <= board.length + 1e-6
            assert n == 0 or billet.start >= sawn.billets[n - 1].start + sawn.billets[n - 1].length + KERF - 1e-9
            thick = sum(leaf.thickness + PLANING for leaf in billet.leaves) + KERF * (len(billet.leaves) - 1)
            assert thick <= board.thickness + 1e-6
            for leaf in billet.leaves:
                laid = [shapely.box(p.x, p.y, p.x + p.length, p.y + p.width) for p in leaf.parts]
                assert comes_apart(laid)
                for k, one in enumerate(laid):
                    usable = board.width - JOINTED + 1e-6
                    assert shapely.covers(shapely.box(-1e-6, -1e-6, billet.length + 1e-6, usable), one)
                    assert not any(shapely.area(shapely.intersection(one, other)) > 1e-9 for other in laid[:k])
                for part in leaf.parts:
                    want = wanted[int(part.use.split()[1])]
                    assert (part.length, part.width) == (want.length, want.width)
                    assert (want.wood.casefold(), want.thickness) == (board.wood, leaf.thickness)
                    placed[part.use] = placed.get(part.use, 0) + 1
    for each in layout.missing:
        placed[each.item.use] = placed.get(each.item.use, 0) + each.item.count
    assert placed == {each.use: each.count for each in wanted}
    bought = boards_to_buy(design(boards, min_planing_length=least), layout.missing)
    on_boards = sorted(part.use for wood in bought for part in all_parts(wood))
    assert on_boards == sorted(each.item.use for each in layout.missing for _ in range(each.item.count))


@given(
    st.lists(st.tuples(st.integers(2, 9), st.integers(2, 6)), min_size=1, max_size=3),
    st.lists(st.tuples(st.integers(4, 14), st.integers(4, 9)), min_size=1, max_size=2),
)
@fewer(4)
def test_few_parts_take_as_little_of_few_boards_as_brute_force_finds(sizes, sides) -> None:
    """Over all ways to share them among the boards: as much area as goes, then the least wood sawn into."""
    boards = [board("holly", float(length), float(width), 6.0) for length, width in sides]
    layout = laid_out(design(boards, saw_kerf=1.0), [item(f"p{n}", *size, 4.0) for n, size in enumerate(sizes)])
    best = None
    for where in product(range(-1, len(boards)), repeat=len(sizes)):
        missing = sum(a * b for (a, b), board in zip(sizes, where, strict=True) if board < 0)
        sawn = 0
        for n, (length, width) in enumerate(sides):
            some = [size for size, board in zip(sizes, where, strict=True) if board == n]
            if some:
                least = least_by_brute_force(some, width, 1, length)
                if least is None:
                    break
                sawn += least * width
        else:
            best = (missing, sawn) if best is None else min(best, (missing, sawn))
    missing = sum(each.item.length * each.item.width for each in layout.missing)
    sawn = sum(billet.length * (one.board.width - JOINTED) for one in layout.boards for billet in one.billets)
    assert (missing, sawn) == pytest.approx(best)


def test_short_parts_lie_together_on_a_length_that_may_be_planed() -> None:
    stock = [board("holly", 700.0, 60.0, 26.0)]
    parts = [item(str(n), 40.0, 25.0) for n in range(4)]
    layout = laid_out(design(stock, min_planing_length=300.0), parts)
    ((billet,),) = [sawn.billets for sawn in layout.boards]
    assert billet.length == 300.0
    assert [len(leaf.parts) for leaf in billet.leaves] == [4]
    assert laid_out(design([replace(stock[0], length=290.0)], min_planing_length=300.0), parts).missing


def bought_of(parts, **shop) -> Bought:
    made = design([], **shop)
    (bought,) = boards_to_buy(made, laid_out(made, parts).missing)
    return bought


def test_a_board_to_buy_has_room_for_all_that_is_sawn_from_it() -> None:
    """One blank of 40 x 25 mm on a length of 300 mm: the rule, worked out by hand."""
    (sawn,) = bought_of([item("a", 40, 25, 5.0)], min_planing_length=300.0).boards
    assert (sawn.board.length, sawn.board.width) == (340.0, 50.0)  # 1.1 x (5 + 300), rounded up to 10; no narrower
    (sawn,) = bought_of([item("a", 40, 61, 5.0)], min_planing_length=300.0).boards
    assert sawn.board.width == 65.0  # 3 + 61, rounded up to 5
    assert sawn.board.thickness == 25.4
    (sawn,) = bought_of([item("a", 40, 25, 5.0)]).boards
    assert sawn.board.length == 50.0
    assert bought_of([item("a", 40, 25, 30.0)]).boards[0].board.thickness == 38.1
    assert bought_of([item("a", 40, 25, 90.0)]).boards[0].board.thickness == 90 + PLANING


def test_short_parts_to_buy_lie_along_the_length_that_the_planer_asks_for_and_not_across_it() -> None:
    """Five blanks of 26 x 61 mm, which stacked across would ask for a board twice or more as wide."""
    parts = [item(str(n), 26.0, 61.0) for n in range(5)]
    (sawn,) = bought_of(parts, min_planing_length=300.0).boards
    assert sawn.board.width == 65.0
    assert len(all_parts(bought_of(parts, min_planing_length=300.0))) == 5


@given(st.lists(st.tuples(st.integers(2, 9), st.integers(2, 6)), min_size=1, max_size=3))
@fewer(4)
def test_few_parts_to_buy_take_the_least_area_that_brute_force_over_widths_and_cuts_finds(sizes) -> None:
    """Every whole width is tried, and for each the least length; a board gives one leaf, and may be narrow."""
    boards_to_buy_module.LEAST_WIDTH, before = 0.0, boards_to_buy_module.LEAST_WIDTH
    try:
        (sawn,) = bought_of([item(str(n), *size, 20.0) for n, size in enumerate(sizes)], saw_kerf=1.0).boards
    finally:
        boards_to_buy_module.LEAST_WIDTH = before
    least = min(
        (length + SQUARED) * (wide + JOINTED)
        for wide in range(max(w for _, w in sizes), sum(w + 1 for _, w in sizes))
        if (length := least_by_brute_force(sizes, wide, 1, sum(long + 1 for long, _ in sizes))) is not None
    )
    width = max(part.y + part.width for part in sawn.billets[0].leaves[0].parts)
    assert sawn.used * (width + JOINTED) == pytest.approx(least)


def test_lengths_to_buy_are_made_a_little_longer_where_what_is_left_of_their_thickness_then_gives_a_long_part() -> None:
    """A thick part of 250 mm and a thin strip of 300: a second length for the strip would take half as much again."""
    parts = [item("wide", 250.0, 60.0, 8.0), item("strip", 300.0, 8.0, 3.0)]
    (sawn,) = bought_of(parts, min_planing_length=200.0).boards
    assert sawn.used == SQUARED + 300.0
    assert [leaf.thickness for leaf in sawn.billets[0].leaves] == [8.0, 3.0]


def test_arrangements_that_no_other_beats_are_found_with_length_and_width() -> None:
    assert shapes([(10.0, 5.0), (10.0, 5.0)], 1.0) == [(10.0, 11.0), (21.0, 5.0)]


def test_what_a_book_leaves_free_of_its_leaves_is_used_before_new_wood_is_sawn() -> None:
    stock = [board("holly", 600.0, 100.0, 26.0)]
    book, small = item("book", 100.0, 50.0, 7.0, glued=2), [item(str(n), 80.0, 40.0, 7.0) for n in range(6)]
    layout = laid_out(design(stock, min_planing_length=300.0), [book, *small])
    ((billet,),) = [sawn.billets for sawn in layout.boards]
    assert len(billet.leaves) == 2
    assert len(all_parts(layout)) == 8
    for leaf in billet.leaves:
        laid = [shapely.box(p.x, p.y, p.x + p.length, p.y + p.width) for p in leaf.parts]
        assert comes_apart(laid)


def test_what_is_left_of_a_billets_thickness_gives_thinner_leaves() -> None:
    layout = laid_out(design([board("holly", 100.0, 60.0, 26.0)]), [item("a", 90, 50, 9.0), item("b", 80, 50, 5.0)])
    ((billet,),) = [sawn.billets for sawn in layout.boards]
    assert [leaf.thickness for leaf in billet.leaves] == [9.0, 5.0]


def test_leaves_of_a_book_match_lie_at_one_place_of_consecutive_leaves() -> None:
    stock = [board("holly", 300.0, 60.0, 26.0)]
    layout = laid_out(design(stock), [item("book", 90.0, 50.0, glued=2), item("other", 40.0, 20.0)])
    one, two = (leaf.parts for leaf in layout.boards[0].billets[0].leaves[:2])
    assert [(p.use, p.x, p.y) for p in one if p.use == "book"] == [(p.use, p.x, p.y) for p in two if p.use == "book"]
    assert not layout.missing


def test_where_no_board_is_wide_enough_a_blank_is_glued_from_leaves() -> None:
    made = design([board("holly", 300.0, 60.0, 26.0)])
    assert glued_leaves(made, "holly", 60.0, 5.0) == (1, 60.0)
    count, width = glued_leaves(made, "holly", 100.0, 5.0)
    assert (count, width) == (2, 51.0)
    assert glued_leaves(made, "wenge", 150 - JOINTED, 5.0)[0] == 1  # none in stock: the workshop's board_width of 150
    assert glued_leaves(made, "wenge", 151 - JOINTED, 5.0)[0] == 2
    assert glued_leaves(made, "holly", 50.0, 5.0, least=2) == (2, 26.0)
    piece = make_piece("a", rectangle(80, 60), at=(20, 10), grain=0.0)
    plan = plan_of(build_stack(design(made.stock, [piece])), ())
    assert plan.pieces[0].blanks[0].leaves == 2
    blank = next(each for each in items(plan) if each.use == "1 a")
    assert (blank.count, blank.glued) == (2, 2)
    assert 2 * blank.width >= plan.pieces[0].blanks[0].width


def test_it_is_told_why_something_is_missing() -> None:
    made = design([board("holly", 100.0, 60.0, 8.0)])
    layout = laid_out(
        made,
        [item("a", 90, 50, 6.0), item("b", 90, 50, 6.0), item("c", 90, 50, 6.5), item("d", 101, 9, 6.0),
         item("e", 10, 10, 5.0, "pear")],
    )  # fmt: skip
    why = {each.item.use: each.why for each in layout.missing}
    assert why["b" if "b" in why else "a"] == FULL
    assert why["c"].startswith(TOO_THICK)
    assert why["d"].startswith(TOO_LONG)
    assert why["e"] == NO_WOOD
    words = " ".join(missing_lines(layout, boards_to_buy(made, layout.missing)))
    assert "holly, too thick: it takes 6.50 mm and 2.0 mm for planing, the thickest board in stock has 8.00 mm" in words
    assert "pear 0.001 m²" in words


def test_a_board_is_found_by_any_name_of_its_wood() -> None:
    layout = laid_out(design([board("Hard  Maple", 100.0, 60.0, 8.0)]), [item("a", 90, 50, 6.0, "maple")])
    assert not layout.missing


# --- The sheet ------------------------------------------------------------------------------------------------------


def sheet_of(stock):
    piece = make_piece("a", disc(15), at=(40, 40))
    plan = plan_of(build_stack(design(stock, [piece])), ())
    return plan, contents(plan, "mm")


def test_the_cover_says_what_is_missing_and_the_buying_list_asks_for_no_more() -> None:
    plan, blocks = sheet_of([StockBoard("holly", 300.0, 100.0, 26.0)])
    cover = [line for block in blocks[:4] if isinstance(block, Lines) for line in block.lines]
    assert cover[0].startswith("Missing from your stock (sizes under “Boards to buy”): black walnut 0.0")
    assert "holly" not in cover[0]
    (bought,) = [b for b in blocks if isinstance(b, Table) and b.header[1].startswith("buy at least")]
    assert {row[0] for row in bought.rows} == {"sapele", "black walnut"}
    assert any(isinstance(b, Drawn) and "holly board 1" in b.picture.words for b in blocks)
    laid = [part.use for part in all_parts(stock_layout(plan))]
    assert sorted(laid) == ["1 a", "spare, holly"]


def test_stock_that_suffices_is_said_to() -> None:
    woods = ("holly", "sapele", "black walnut")
    _, blocks = sheet_of([StockBoard(wood, 900.0, 200.0, 40.0) for wood in woods])
    assert ("Your boards in stock suffice, spares included.",) in [b.lines for b in blocks if isinstance(b, Lines)]


def test_a_design_without_stock_says_nothing_of_boards_and_buys_all() -> None:
    plan, blocks = sheet_of([])
    assert not any("Missing from your stock" in line for b in blocks if isinstance(b, Lines) for line in b.lines)
    assert {each.item.use for each in stock_layout(plan).missing} == {each.use for each in items(plan)}
