"""What touches: shared edges within a cutter's runout, what they cost, the one step that cures them, what is dust.

0.01 mm is common practice, without a published source. Sizes are plane geometry (DERIVED) from the outlines alone.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from core.areas import NOISE_AREA
from core.design import Piece
from core.errors import UnusableInput
from core.findings.all_findings import find_all
from core.findings.check import check_stack
from core.findings.finding import Finding
from core.measures.islands_and_remnants import loose_remnants
from core.measures.walls import shared_edges
from core.stack.batch_reasons import WorkOrder
from core.stack.batches import longest_chains
from core.stack.pocket_pairs import pocket_pairs
from core.stack.stack import Stack, build_stack
from core.stack.workload import near_couples
from tests.core.designs import POINT_CUTTER, disc, fewer, make_design, make_panel, make_piece, rectangle, ring

SHARP = {"cutter_diameter": POINT_CUTTER, "side_clearance": 0.0}


def tile(name: str, x: float, y: float = 30.0, width: float = 20.0, height: float = 20.0, **changes: object) -> Piece:
    return make_piece(name, rectangle(width, height, x, y), **(SHARP | changes))


def centred(name: str, x: float, y: float, size: float = 20.0, **changes: object) -> Piece:
    """A square whose origin is its middle."""
    return make_piece(name, rectangle(size, size, -size / 2, -size / 2), at=(x, y), **changes)


def stack_of(*pieces: Piece, **panel: object) -> Stack:
    return build_stack(make_design(pieces, make_panel(300, 300, **panel)))


def meeting(*pieces: Piece, **panel: object) -> list[Finding]:
    return [finding for finding in find_all(stack_of(*pieces, **panel)) if finding.code == "meeting-edges"]


def tiles(count: int, bite: float = 0.0) -> list[Piece]:
    """A square of squares of 25 mm, each of which reaches `bite` over the edges to its left and below."""
    made = []
    for i in range(count):
        for j in range(count):
            left, low = bite * (i > 0), bite * (j > 0)
            outline = rectangle(25 + left, 25 + low, 20 + 25 * i - left, 20 + 25 * j - low)
            made.append(make_piece(f"t{i}-{j}", outline))
    return made


# What is an overlap, and what is cut


@pytest.mark.parametrize(
    ("bite", "over", "cut"), [(0.02, True, True), (0.0101, True, True), (0.0099, False, True), (1e-6, False, True)]
)
def test_an_overlap_begins_at_a_cutters_runout_but_all_that_is_shared_is_cut(
    bite: float, over: bool, cut: bool
) -> None:
    one, other = stack_of(tile("one", 10), tile("other", 30 - bite)).pieces
    assert other.over == ((0,) if over else ())
    assert one.under == ((1,) if over else ())
    assert one.cut_by == ((1,) if cut else ())
    assert other.batch == (2 if over else 1)


def test_a_shared_edge_and_a_gap_cut_nothing() -> None:
    for gap in (0.0, 0.001):
        assert stack_of(tile("one", 10), tile("other", 30 + gap)).pieces[0].cut_by == ()


def test_a_small_overlap_wider_than_the_runout_counts_as_one() -> None:
    """A tip of 0.02 × 0.02 mm is 0.0004 mm², as wide as two runouts."""
    stack = stack_of(tile("one", 10), tile("other", 29.98, 49.98))
    assert stack.overlaps == {("one", "other")}


@pytest.mark.parametrize("bite", [0.0, 1e-5, 0.009])
def test_volumes_add_up_where_pockets_share_an_edge_but_for_a_hair(bite: float) -> None:
    found = check_stack(stack_of(tile("one", 10), tile("other", 30 - bite)))
    panel, pieces = found["panel"], found["pieces"]
    wood = panel["background_volume"] + sum(piece["insert_volume"] for piece in pieces)
    assert (wood + panel["gap_volume"]) / panel["volume"] == pytest.approx(1, abs=1e-9)
    assert pieces[0]["insert_volume"] == pytest.approx(6 * 20 * (20 - bite), rel=1e-6)
    assert pieces[1]["over"] == []


@given(st.lists(st.tuples(*[st.integers(0, 60)] * 2, *[st.integers(4, 30)] * 2), min_size=2, max_size=12), st.data())
@fewer(2)
def test_pairs_agree_with_rectangles_own_arithmetic_whatever_changed(
    boxes: list[tuple[int, int, int, int]], data: st.DataObject
) -> None:
    """On a grid of 0.003 mm, so that overlaps are often just on either side of 0.01."""
    step = data.draw(st.sampled_from([1.0, 0.003]))
    corners = np.array([(x * step, y * step, x * step + w, y * step + h) for x, y, w, h in boxes])
    pockets = np.array(shapely.box(*corners.T), dtype=object)
    changed = np.array(sorted(data.draw(st.sets(st.integers(0, len(boxes) - 1), min_size=1))))
    found = pocket_pairs(pockets, near_couples(pockets, changed))
    expected = {}
    for j in range(len(boxes)):
        for i in range(j):
            width, height = np.minimum(corners[i, 2:], corners[j, 2:]) - np.maximum(corners[i, :2], corners[j, :2])
            if min(width, height) > 1e-9 and (i in changed or j in changed):
                expected[i, j] = bool(min(width, height) > 0.01 + 1e-6)
    assert dict(zip(map(tuple, found.pairs.tolist()), found.overlap.tolist(), strict=True)) == expected


def test_a_stack_made_from_an_earlier_one_knows_its_hairs() -> None:
    pieces = [tile("a", 10), tile("b", 30 - 0.005), tile("c", 49.9), tile("d", 200)]
    before = stack_of(*pieces)
    reordered = [pieces[1], replace(pieces[3], at=(5.0, 0.0)), pieces[2], pieces[0]]
    design = make_design(reordered, before.design.panel)
    grown, anew = build_stack(design, before), build_stack(design)
    facts = [[(p.over, p.under, p.cut_by, p.batch) for p in stack.pieces] for stack in (grown, anew)]
    assert facts[0] == facts[1]
    assert grown.pieces[0].cut_by == (2, 3)


def test_pieces_of_one_outline_at_one_place_lie_each_over_all_before() -> None:
    stack = stack_of(*(tile(f"p{i}", 50) for i in range(60)))
    assert [placed.batch for placed in stack.pieces] == list(range(1, 61))
    assert all(placed.over == tuple(range(placed.index)) for placed in stack.pieces)
    assert [shape.is_empty for shape in stack.remnants] == [True] * 59 + [False]
    found = [finding for finding in find_all(stack) if finding.code == "hidden-piece"]
    assert len(found) == 59
    assert found[0].text.endswith("p6 and 53 more")


# The finding


@pytest.mark.parametrize(
    ("gap", "level"),
    [
        (0.5, None), (0.4999, "warning"), (0.0101, "warning"), (0.0099, "note"), (0.0, "note"),
        (-0.0099, "note"), (-0.0101, "warning"), (-0.4999, "warning"), (-0.51, None),
    ],
)  # fmt: skip
def test_how_near_two_pockets_of_one_batch_may_come(gap: float, level: str | None) -> None:
    found = meeting(tile("one", 10), tile("other", 30 + gap))
    assert [(f.level, f.piece, f.other) for f in found] == ([(level, "other", "one")] if level else [])


def test_the_note_says_how_long_the_edge_is_and_how_wide_its_glue_line() -> None:
    (edge,) = shared_edges(stack_of(tile("one", 10), tile("other", 30, 35)))
    assert edge.length == pytest.approx(15, abs=0.03)  # and up to 0.011 mm round each end
    assert edge.at == pytest.approx((30, 42.5), abs=0.02)
    (found,) = meeting(tile("one", 10, side_clearance=0.15), tile("other", 30, 35, side_clearance=0.2))
    assert "an edge of 15.0" in found.text
    assert "0.35 mm wide" in found.text


def test_pockets_of_two_batches_may_share_an_edge() -> None:
    assert meeting(tile("one", 10), tile("other", 30, after=("one",))) == []


def test_an_edge_counts_as_far_as_it_is_seen() -> None:
    pair = tile("one", 10), tile("other", 30)
    (edge,) = shared_edges(stack_of(*pair, tile("cross", 26, 34, 8, 8)))
    assert edge.length == pytest.approx(12, abs=0.03)
    assert shared_edges(stack_of(*pair, tile("cover", 26, 25, 8, 30))) == []
    (edge,) = shared_edges(stack_of(*pair, edge_trim=(0.0, 0.0, 36.0, 0.0)))
    assert edge.length == pytest.approx(14, abs=0.03)
    assert shared_edges(stack_of(*pair, edge_trim=(31.0, 0.0, 0.0, 0.0))) == []


def test_a_filled_hole_shares_its_whole_rim() -> None:
    (edge,) = shared_edges(
        stack_of(make_piece("ring", ring(20, 10), at=(60, 60)), make_piece("in", disc(10), at=(60, 60)))
    )
    assert edge.length == pytest.approx(2 * np.pi * 10, rel=1e-4)


# Causes and glue days


@pytest.mark.parametrize("count", [2, 3, 6])
def test_a_mosaic_has_one_cause_and_takes_the_days_of_its_longest_way(count: int) -> None:
    """From corner to corner of n × n tiles a way through shared edges has 2n - 1 of them."""
    found = meeting(*tiles(count))
    assert len(found) == 2 * count * (count - 1)
    assert len({finding.cause for finding in found}) == 1
    assert all(finding.cause for finding in found)
    told = [finding.remedy for finding in found if finding.step is None]
    assert all(f"{2 * count - 1} glue days instead of 1" in remedy for remedy in told)
    assert told or count == 2


def test_a_mosaic_of_36_tiles_that_bite_as_told_has_no_such_note_and_takes_as_many_days_as_told() -> None:
    (told,) = {finding.remedy for finding in meeting(*tiles(6))}
    assert "each later one of these 36 pieces bite 0.55 mm" in told
    assert "this takes 11 glue days instead of 1" in told
    stack = stack_of(*tiles(6, bite=0.55))
    assert len(stack.batches) == 11
    assert [finding for finding in find_all(stack) if finding.code == "meeting-edges"] == []


def test_two_regions_have_two_causes_and_a_pair_alone_has_none() -> None:
    left = [tile(f"a{i}", 10 + 20 * i) for i in range(3)]
    right = [tile(f"b{i}", 120 + 20 * i) for i in range(3)]
    found = meeting(*left, *right)
    assert Counter(finding.cause for finding in found) == {"an edge of a0 and a1": 2, "an edge of b0 and b1": 2}
    assert [finding.cause for finding in meeting(*left[:2])] == [None]


def test_gaps_of_one_width_between_neighbours_have_one_cause_and_others_their_own() -> None:
    even = meeting(tile("a", 10), tile("b", 30.2), tile("c", 50.4))
    assert len({finding.cause for finding in even}) == 1
    assert even[0].cause is not None
    assert [f.cause for f in meeting(tile("a", 10), tile("b", 30.2), tile("c", 50.5))] == [None, None]


# Other orders


@st.composite
def orders(draw: st.DrawFn) -> tuple[Stack, int, int]:
    """A stack, and two pieces of one batch."""
    count = draw(st.integers(2, 12))
    made = []
    for i in range(count):
        corner = draw(st.tuples(st.integers(0, 90), st.integers(0, 60)))
        after = draw(st.lists(st.sampled_from([f"p{j}" for j in range(i)]), max_size=2, unique=True)) if i else []
        made.append(make_piece(f"p{i}", rectangle(15, 15, *corner), **SHARP, after=tuple(after)))
    stack = build_stack(make_design(made))
    batch = draw(st.sampled_from([some for some in stack.batches if len(some) > 1] or [(0, 0)]))
    first, then = draw(st.permutations(batch))[:2]
    return stack, first, then


@given(orders())
def test_what_another_wish_moves_is_what_building_anew_gives(order: tuple[Stack, int, int]) -> None:
    stack, first, then = order
    if first == then:
        return
    pieces = list(stack.design.pieces)
    pieces[then] = replace(pieces[then], after=(*pieces[then].after, pieces[first].id))
    try:
        anew = build_stack(replace(stack.design, pieces=tuple(pieces)))
    except UnusableInput:
        raise AssertionError("pieces of one batch never wait for each other") from None
    moved = {p.index: p.batch for p in anew.pieces if p.batch != stack.pieces[p.index].batch}
    assert WorkOrder(stack).moved_if(then, first) == moved
    assert WorkOrder(stack).days_if([(first, then)]) == len(anew.batches)


def test_the_longest_chain_counts_the_pairs_that_join() -> None:
    stack = stack_of(*(tile(f"p{i}", 10 + 40 * i) for i in range(4)))
    pairs = [(0, 1), (1, 2), (0, 3)]
    waits = {0: set(), 1: {0}, 2: {1}, 3: {0}}
    assert WorkOrder(stack).days_if(pairs) == max(longest_chains(waits).values()) == 3


# The step


def with_step(pieces: list[Piece], finding: Finding) -> list[Piece]:
    assert finding.step is not None
    return [
        replace(piece, **{finding.step.key: finding.step.value}) if piece.id == finding.step.piece else piece
        for piece in pieces
    ]


def grave(pieces: list[Piece]) -> Counter[tuple[str, str | None, str | None]]:
    return Counter((f.code, f.piece, f.other) for f in find_all(stack_of(*pieces)) if f.level != "note")


def test_a_piece_at_the_end_of_a_row_moves_by_the_least_bite() -> None:
    (found,) = meeting(tile("one", 10), tile("two", 30))
    assert found.step is not None
    assert (found.step.piece, found.step.key, found.step.value) == ("two", "at", (-0.55, 0.0))
    assert (
        "bite 0.55 mm into one, the smallest bite tried that works: this takes 2 glue days instead of 1" in found.remedy
    )


def test_a_piece_between_two_others_grows_since_moved_it_would_gape_on_the_other_side() -> None:
    pieces = [centred("left", 30, 40), centred("right", 70, 40), centred("middle", 50, 40)]
    found = meeting(*pieces)
    assert [(f.piece, f.step.key, f.step.value) for f in found if f.step] == [("middle", "scale", 1.055)] * 2
    assert meeting(*with_step(pieces, found[0])) == []


def test_a_piece_that_fills_a_hole_grows() -> None:
    pieces = [make_piece("ring", ring(20, 10), at=(60, 60)), make_piece("in", disc(10), at=(60, 60))]
    (found,) = meeting(*pieces)
    assert found.step is not None
    assert found.step.key == "scale"
    assert meeting(*with_step(pieces, found)) == []


def test_where_no_step_is_good_there_is_none() -> None:
    """Its origin is its lower left corner, so that growing moves the shared edge on the left by nothing."""
    pieces = [tile("left", 10), tile("right", 50), make_piece("mid", rectangle(20, 20), at=(30, 30), **SHARP)]
    found = {f.other: f for f in meeting(*pieces)}
    assert found["left"].step is None
    assert "Let each later one of these 3 pieces bite" in found["left"].remedy


def test_a_step_that_brings_a_warning_is_not_offered() -> None:
    """0.60 mm beside the later one stands a post: each bite that is tried leaves a hair to it, or bites but a hair."""
    pair = tile("one", 10), tile("other", 30, height=30)
    (free,), (held,) = meeting(*pair), meeting(*pair, tile("post", 28.4, 52, 1, 6))
    assert free.step is not None
    assert (held.step, held.other) == (None, "one")


def test_every_step_that_is_offered_cures_and_brings_nothing_graver() -> None:
    """Rows of three tiles of several sizes, each with its origin in its middle."""
    offered = 0
    for seed in range(4):
        random = np.random.default_rng(seed)
        pieces = []
        for left, right in pairwise(np.cumsum([20, *random.uniform(15, 30, 3)])):
            width, height, middle = right - left, random.uniform(20, 40), random.uniform(50, 60)
            outline = rectangle(width, height, -width / 2, -height / 2)
            pieces.append(make_piece(f"t{len(pieces)}", outline, at=((left + right) / 2, middle)))
        before = grave(pieces)
        for finding in meeting(*pieces):
            if finding.step is not None:
                changed = with_step(pieces, finding)
                assert not grave(changed) - before
                assert all({f.piece, f.other} != {finding.piece, finding.other} for f in meeting(*changed))
                offered += 1
    assert offered >= 4


# Dust


@pytest.mark.parametrize(("width", "parts"), [(0.0099, 0), (0.0101, 1), (0.5, 1)])
def test_a_sliver_narrower_than_the_runout_is_dust(width: float, parts: int) -> None:
    """What is left of a bar of 20 mm beside a later pocket; 0.198 mm² of it are no noise."""
    bar, cut = tile("bar", 50, 50), tile("cut", 30, 45, 40 - width, 30)
    stack = stack_of(bar, cut)
    assert 20 * width > NOISE_AREA
    assert shapely.get_num_geometries(stack.remnants[0]) == 1 if parts else stack.remnants[0].is_empty
    assert len(loose_remnants(stack)) == parts
    found = check_stack(stack)
    assert found["pieces"][0]["remnant_parts"] == parts
    codes = {finding["code"] for finding in found["findings"] if finding["piece"] == "bar"}
    assert ("hidden-piece" in codes) == (parts == 0)


def test_dust_beside_real_wood_is_no_part_and_no_neck() -> None:
    """The later pocket leaves half of the bar and a sliver at its other side, which its ends part or do not part."""
    bar = tile("bar", 50, 50)
    through = stack_of(bar, tile("cut", 60, 45, 9.995, 30))
    assert [part.area for part in shapely.get_parts(through.remnants[0])] == pytest.approx([200], rel=1e-3)
    inside = stack_of(bar, tile("cut", 60, 52, 9.995, 16))
    assert [f.code for f in find_all(inside) if f.code in ("thin-neck", "loose-remnant")] == []
