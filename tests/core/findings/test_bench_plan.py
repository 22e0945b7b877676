"""Fewer evenings, fewer thicknesses, the slack in face trim: what is told holds, and what is offered was proved."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.commands import main
from core.design import LineOutline
from core.findings.all_findings import find_grave
from core.findings.bench_plan import bench_plan, offer_lines, offers, plan_lines, slack_words
from core.findings.check import check_stack, check_text
from core.findings.fewer_days import fewer_days
from core.findings.fewer_thicknesses import MOST, _middle, _targets, fewer_thicknesses
from core.findings.thickness import thin_insert
from core.measures.all_measures import Measures
from core.measures.leaf_kinds import leaf_kinds, thicknesses
from core.measures.trim_slack import LEAST_LEFT, RECEDES, trim_slacks
from core.stack.loading import load_stack
from core.stack.long_chains import long_chains
from core.stack.stack import build_stack
from tests.core.designs import disc, fewer, make_design, make_panel, make_piece, rectangle

ROOT = Path(__file__).parents[3]
KOI_POND = ROOT / "assets/koi-pond/koi-pond.panel.json"


def graves(design):
    return sorted((f.level, f.code, f.piece, f.other) for f in find_grave(Measures(build_stack(design))))


# --- The slack in face trim -----------------------------------------------------------------------------------------


@given(st.floats(1.5, 9.0), st.floats(1.5, 9.0), st.floats(0.0, 0.9), st.sampled_from([0.0, 0.3, -0.3]))
@fewer(5)
def test_trimming_as_far_as_the_slack_goes_brings_no_finding_and_a_hair_more_does(one, two, trim, error) -> None:
    pieces = [make_piece("a", disc(12), at=(30, 40), pocket_depth=one),
              make_piece("b", disc(12), at=(80, 40), pocket_depth=two)]  # fmt: skip
    design = make_design(pieces, make_panel(face_trim=trim))
    design = replace(design, workshop=replace(design.workshop, depth_error=error))
    first = trim_slacks(build_stack(design))[0]
    assert first.left == pytest.approx(min(one, two) + error - trim)
    assert first.slack == pytest.approx(first.left - LEAST_LEFT)
    if first.slack > 0.02:
        for more, told in ((first.slack - 0.01, False), (first.slack + 0.01, True)):
            further = replace(design, panel=replace(design.panel, face_trim=trim + more))
            assert bool(list(thin_insert(Measures(build_stack(further))))) == told


def test_where_an_earlier_insert_lies_under_a_shallower_one_its_skin_gives() -> None:
    deep = make_piece("deep", disc(20), at=(40, 40), pocket_depth=8.0)
    shallow = make_piece("shallow", disc(6), at=(40, 40), pocket_depth=4.0)
    stack = build_stack(make_design([deep, shallow], make_panel(face_trim=0.5)))
    (skin, floor) = trim_slacks(stack)
    assert (skin.gives, skin.piece, skin.under, skin.slack) == ("skin", 1, 0, pytest.approx(4.0 - 0.5 - LEAST_LEFT))
    assert (floor.gives, floor.piece, floor.under, floor.slack) == ("floor", 0, None, pytest.approx(7.0))
    assert math.dist(skin.at, (40, 40)) < 6
    words = slack_words(bench_plan(stack)["trim_slack"][0])
    assert words.startswith(
        "3.00 mm may come off beyond the planned face trim before only 0.50 mm of shallow is left above deep"
    )


def test_a_thin_tip_beside_a_leaning_wall_gives_before_the_floor() -> None:
    """Between a wall that leans and an upright one a tip of angle a recedes by trim x tan(taper) / sin(a): DERIVED."""
    angle, taper = math.radians(8), 5.0
    long = make_piece("long", rectangle(80, 20), at=(10, 20), taper=taper, cutter_diameter=0.4)
    edge = [(0.0, 0.0), (90.0, 90 * math.tan(angle)), (90.0, 40.0), (0.0, 40.0)]
    over = make_piece("over", edge, at=(15, 14), cutter_diameter=0.4, pocket_depth=9.0)
    (placed, _) = (stack := build_stack(make_design([long, over], make_panel(face_trim=0.5)))).pieces
    tip = next(slack for slack in trim_slacks(stack) if slack.gives == "tip")
    assert stack.pieces[tip.piece] is placed
    assert tip.slack == pytest.approx(RECEDES * math.sin(angle) / math.tan(math.radians(taper)), rel=0.05)
    assert tip.slack < 6.0 - 0.5 - LEAST_LEFT
    assert math.dist(tip.at, (15 + 6 / math.tan(angle), 20)) < 4


def test_what_nobody_sees_has_no_slack() -> None:
    hidden = make_piece("hidden", disc(5), at=(40, 40), pocket_depth=2.0)
    over = make_piece("over", disc(12), at=(40, 40), pocket_depth=6.0)
    assert [slack.piece for slack in trim_slacks(build_stack(make_design([hidden, over])))] == [1]


# --- The longest chains ---------------------------------------------------------------------------------------------


@given(st.lists(st.sets(st.integers(0, 6), max_size=3), min_size=1, max_size=7))
@fewer(1)
def test_the_longest_chains_are_those_that_brute_force_finds(drawn) -> None:
    waits = {n: {i for i in before if i < n} for n, before in enumerate(drawn)}

    def chains(piece):
        longer = [(*chain, piece) for first in waits[piece] for chain in chains(first)]
        return longer or [(piece,)]

    every = [chain for piece in waits for chain in chains(piece)]
    longest = [chain for chain in every if len(chain) == max(map(len, every))]
    found = long_chains(waits)
    assert found.days == len(longest[0])
    assert set(found.pieces) == set.intersection(*map(set, longest))
    assert set(found.pairs) == set.intersection(*(set(pairwise(chain)) for chain in longest))
    assert set(found.examples) <= set(longest)
    assert sum(map(len, found.examples)) == len({piece for chain in found.examples for piece in chain})
    assert found.examples


# --- A day saved ----------------------------------------------------------------------------------------------------


def saved(pieces, panel=None):
    """The offers for a design; each proved again: fewer days, nothing wrong that was not."""
    design = make_design(pieces, panel)
    stack = build_stack(design)
    found = fewer_days(Measures(stack))
    for offer in found.offers:
        after = build_stack(offer.design)
        assert len(after.batches) == offer.days < len(stack.batches)
        assert set(graves(offer.design)) <= set(graves(design))
    return found


def test_a_wish_without_an_overlap_is_the_first_that_is_taken_back() -> None:
    a, b = make_piece("a", disc(8), at=(20, 40)), make_piece("b", disc(8), at=(60, 40), after=("a",))
    (offer,) = saved([a, b]).offers
    assert (offer.kind, offer.piece, offer.value, offer.days) == ("after", "b", (), 1)


def test_a_wish_that_keeps_a_thin_wall_from_breaking_is_not_taken_back() -> None:
    a, b = make_piece("a", disc(8), at=(20, 40)), make_piece("b", disc(8), at=(37, 40), after=("a",))
    found = saved([a, b])
    assert not any(offer.kind == "after" for offer in found.offers)


def test_a_groove_that_ends_sooner_saves_a_day() -> None:
    pad = make_piece("pad", disc(10), at=(60, 40))
    reed = make_piece("reed", LineOutline(((60.0, 4.0), (60.0, 35.0)), 3.175))
    panel = make_panel(edge_trim=(5.0, 5.0, 5.0, 5.0))
    offers = saved([pad, reed], panel).offers
    ends = [offer for offer in offers if offer.kind == "end"]
    assert [offer.piece for offer in ends] == ["reed"]
    ((_, start), (_, end)) = ends[0].value
    assert start == 4.0
    assert end <= 40 - 10 - 3 - 3.175 / 2 + 1e-6
    assert "end the line of reed" in ends[0].text


def test_two_pieces_that_hardly_overlap_are_moved_apart() -> None:
    a, b = make_piece("a", rectangle(20, 20), at=(20, 20)), make_piece("b", rectangle(20, 20), at=(39, 20))
    (offer,) = (offer for offer in saved([a, b]).offers if offer.kind == "place")
    assert offer.piece == "b"
    assert offer.value[0] >= 43.0
    assert offer.value[1] == pytest.approx(20.0, abs=0.01)


def test_another_order_saves_a_day_and_says_what_changes_in_the_picture() -> None:
    row = [make_piece(name, disc(12), at=(20 + 18 * n, 40)) for n, name in enumerate("abc")]
    found = saved(row)
    orders = [offer for offer in found.offers if offer.kind == "order"]
    assert orders
    assert all(offer.days == 2 and "lies" in offer.text for offer in orders)
    assert [piece.id for piece in orders[0].design.pieces].index(orders[0].piece) == orders[0].value


def test_chains_that_share_no_piece_have_no_single_change() -> None:
    pairs = [
        make_piece(f"{name}{n}", disc(9), at=(25 + 50 * k, 30 + 8 * n)) for k, name in enumerate("ab") for n in (0, 1)
    ]
    found = saved(pairs)
    assert found.offers == ()
    assert "2 chains that share no piece force the 2 days" in found.why_none
    assert len(found.chains.examples) == 2


# --- Thicknesses ----------------------------------------------------------------------------------------------------

WEIGHTS = st.dictionaries(st.integers(10, 40).map(lambda n: n / 4), st.integers(1, 4), min_size=2, max_size=7)


@given(WEIGHTS, st.integers(1, 4))
@fewer(1)
def test_thicknesses_change_as_little_as_brute_force_over_all_runs_finds(weights, count) -> None:
    weights = dict(sorted(weights.items()))
    count = min(count, len(weights))
    targets = _targets(weights, count, _middle)
    assert len(set(targets.values())) <= count
    cost = sum(weights[value] * abs(target - value) for value, target in targets.items())
    values = list(weights)
    least = math.inf
    for ends in combinations(range(1, len(values)), count - 1):
        runs = [values[a:b] for a, b in pairwise((0, *ends, len(values)))]
        all_of = [[value for value in run for _ in range(weights[value])] for run in runs]
        least = min(least, sum(min(sum(abs(v - t) for v in run) for t in run) for run in all_of))
    assert cost == pytest.approx(least)


def row_of(depths, **panel):
    pieces = [make_piece(f"p{n}", disc(6), at=(15 + 18 * n, 30), pocket_depth=depth) for n, depth in enumerate(depths)]
    return make_design(pieces, make_panel(width=20 + 18 * len(depths), **panel))


@pytest.mark.slow
@given(st.lists(st.floats(3.0, 8.0).map(lambda depth: round(depth, 1)), min_size=5, max_size=7))
@fewer(5)
def test_levelled_inserts_have_few_thicknesses_and_stand_as_proud_and_nothing_new_is_wrong(depths) -> None:
    design = row_of(depths)
    stack = build_stack(design)
    found = fewer_thicknesses(Measures(stack))
    if len(set(depths)) <= MOST:
        assert found.offer is None
        return
    offer = found.offer
    assert offer is not None
    after = build_stack(offer.design)
    assert len(thicknesses(after)) <= MOST
    assert tuple(thicknesses(after)) == offer.thicknesses
    assert len(leaf_kinds(after)) == offer.kinds
    assert graves(offer.design) == graves(design)
    assert [p.top for p in after.pieces] == pytest.approx([p.top for p in stack.pieces])
    changed = {change.piece: change for change in offer.changes}
    for before, now in zip(stack.pieces, after.pieces, strict=True):
        change = changed.get(before.piece.id)
        now_is = (now.piece.insert_thickness, now.piece.pocket_depth)
        assert now_is == (
            (change.thickness, change.depth) if change else (before.piece.insert_thickness, before.piece.pocket_depth)
        )


def test_levelling_leaves_the_floor_as_thick_as_it_must_be() -> None:
    """A floor of just `min_floor` under the deepest: levelling upwards would thin it."""
    design = row_of([6.0, 6.1, 6.5, 6.6, 7.0, 7.1], thickness=12.1)
    offer = fewer_thicknesses(Measures(build_stack(design))).offer
    assert offer is not None
    assert min(12.1 - piece.pocket_depth for piece in offer.design.pieces) >= 5.0 - 1e-9
    assert graves(offer.design) == []


# --- What check tells -----------------------------------------------------------------------------------------------


def test_the_check_tells_combinations_days_chains_and_slack() -> None:
    pieces = [make_piece("a", disc(9), at=(30, 30)), make_piece("b", disc(9), at=(30, 40), wood="wenge"),
              make_piece("c", disc(9), at=(80, 40), pocket_depth=4.0)]  # fmt: skip
    stack = build_stack(make_design(pieces, make_panel(face_trim=0.5)))
    found = check_stack(stack)
    bench = found["work"]
    assert bench["thicknesses"] == [5.5, 7.5]
    assert bench["combinations"] == [
        {"woods": ["holly"], "thickness": 5.5, "pieces": ["c"]},
        {"woods": ["holly"], "thickness": 7.5, "pieces": ["a"]},
        {"woods": ["wenge"], "thickness": 7.5, "pieces": ["b"]},
    ]
    assert (bench["glue_days"], bench["longest_chains"], bench["in_every_chain"]) == (2, [["a", "b"]], ["a", "b"])
    assert bench["trim_slack"][0]["piece"] == "c"
    assert "plan" not in found
    report = check_text(stack, found)
    assert "3 combinations of wood and thickness, 2 thicknesses" in report
    assert "glue days       2, one for each batch" in report
    assert "To save work" not in report
    json.dumps(found)


@pytest.mark.slow
def test_the_koi_ponds_plan_is_offered_in_words() -> None:
    stack = load_stack(KOI_POND)
    bench, plan = bench_plan(stack), offers(Measures(stack))
    assert max(map(len, plan_lines(bench))) <= 110
    said = " ".join(" ".join(offer_lines(plan, bench)).split())
    assert f"Thicknesses: 4 instead of {len(bench['thicknesses'])}" in said
    assert "3 chains that share no piece force the 6 days" in said
    json.dumps(plan)


def test_what_is_tried_is_tried_only_when_asked_for(tmp_path, capsys) -> None:
    pieces = [{"id": name, "wood": "holly", "outline": {"polygon": rectangle(15, 15)}, "at": [20 * n + 10, 20]}
              for n, name in enumerate("ab")]  # fmt: skip
    pieces[1]["after"] = ["a"]
    panel = {"width": 100, "height": 80, "thickness": 19, "wood": "sapele"}
    path = tmp_path / "two.panel.json"
    path.write_text(json.dumps({"format": "grainstack-panel/1", "panel": panel, "pieces": pieces}))
    assert main(["check", str(path), "--json", "--plan"]) == 0
    (change,) = json.loads(capsys.readouterr().out)["plan"]["glue_day"]["changes"]
    assert (change["kind"], change["piece"], change["value"], change["glue_days"]) == ("after", "b", [], 1)
    assert main(["check", str(path), "--json"]) == 0
    assert "plan" not in json.loads(capsys.readouterr().out)


def test_a_bare_panel_has_nothing_to_plan() -> None:
    stack = build_stack(make_design([]))
    bench, plan = bench_plan(stack), offers(Measures(stack))
    assert (bench["glue_days"], bench["combinations"], bench["trim_slack"]) == (0, [], [])
    assert offer_lines(plan, bench)[2:] == [
        "  Thicknesses: the inserts have no more than 4 thicknesses.",
        "  Glue days: one glue day is the least.",
    ]
