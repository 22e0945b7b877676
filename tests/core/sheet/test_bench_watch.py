"""What a card warns of beyond the findings: each warning on the card of the piece at which there is something to do."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from core.design import PolygonOutline
from core.findings.finding import Finding
from core.sheet.bench_watch import watched
from core.sheet.plan import plan_of
from core.stack.stack import build_stack
from tests.core.designs import disc, make_design, make_panel, make_piece, rectangle


def cards(pieces, panel=None, findings=()) -> dict[str, str]:
    plan = plan_of(build_stack(make_design(pieces, panel or make_panel())), findings)
    return {work.id: " | ".join(work.watch) for work in plan.pieces}


def wedge(length: float, high: float):
    return [(0.0, 0.0), (length, 0.0), (length, high)]


def test_a_thin_point_is_told_of_the_piece_whose_pocket_leaves_it_and_not_of_the_piece_that_it_belongs_to() -> None:
    """A slanting cut, 14 mm over 70, through a bar: the rest of the bar begins in a wedge of 11°."""
    bar = make_piece("bar", rectangle(60, 12), at=(30, 30), grain=0.0)
    over = make_piece("over", [(0, 0), (70, 14), (70, 40), (0, 40)], at=(25, 28), grain=0.0)
    said = cards([bar, over])
    assert "its pocket leaves a thin point of 1 bar at (" in said["over"]
    assert "thin point" not in said["bar"]


def test_a_thin_point_of_a_pieces_own_outline_is_told_on_its_own_card() -> None:
    """A cutter of 0.4 mm leaves points that are finer than a disc of 1 mm; one of 3.175 mm leaves none."""
    said = cards([make_piece("fin", wedge(50, 20), at=(30, 30), grain=0.0, cutter_diameter=0.4)])
    assert "it ends in a thin point at (" in said["fin"]
    blunt = cards([make_piece("a", disc(15), at=(40, 40))])
    assert "thin point" not in blunt["a"]


def test_an_island_is_told_with_its_size_and_place() -> None:
    hole = ((20.0, 10.0), (30.0, 10.0), (30.0, 16.0), (20.0, 16.0))
    said = cards([make_piece("pad", PolygonOutline(tuple(rectangle(50, 30)), (hole,)), at=(30, 20), grain=0.0)])
    assert "an island of 10.0 × 6.0 mm stays standing in its pocket at (55.00, 33.00)" in said["pad"]
    assert "island" not in cards([make_piece("pad", rectangle(50, 30), at=(30, 20))])["pad"]


@pytest.mark.parametrize(
    ("x", "words"),
    [(6.0, "6.0 mm of wood stays at the raw edge"), (1.5, "leaves only 1.5 mm of wood at the raw edge"),
     (-4.0, "its pocket runs off the left edge of the raw panel: keep clamps off there"), (20.0, None)],
)  # fmt: skip
def test_a_pocket_that_runs_into_the_margin_says_how_much_wood_is_left_there(x, words) -> None:
    panel = make_panel(edge_trim=(10.0, 10.0, 10.0, 10.0))
    said = cards([make_piece("a", rectangle(30, 20), at=(x, 30), grain=0.0)], panel)["a"]
    assert (words in said) if words else ("raw" not in said)


def test_a_leaning_piece_says_which_cutter_and_which_way_the_saw_tilts() -> None:
    said = cards([make_piece("a", disc(15), at=(40, 40), taper=2.0)])["a"]
    assert "a cutter that leans by 2° a side" in said
    assert "tilt saw or cutter by 2° so that the upper side, the back, comes out smaller" in said
    # Leaning walls make a pocket narrower towards its floor: by depth x tan(taper) on each side (geometry).
    placed = build_stack(make_design([make_piece("a", disc(15, count=256), at=(40, 40), taper=2.0)])).pieces[0]
    face, floor = (placed.pocket_at(depth).bounds for depth in (0.0, 5.0))
    assert face[2] - floor[2] == pytest.approx(5.0 * math.tan(math.radians(2.0)), abs=0.01)


def test_a_finding_that_speaks_for_several_pieces_stands_on_the_card_of_each() -> None:
    pieces = [make_piece(name, disc(8), at=(20 + 30 * n, 40)) for n, name in enumerate("abc")]
    stack = build_stack(make_design(pieces))
    one = Finding("note", "moisture-play", "a", None, (20.0, 40.0), "a at (20.00, 40.00): words", "Wait")
    said = watched(stack, [replace(one, also=("c",))])
    assert said["a"] == said["c"] != ()
    assert said["b"] == ()
    assert "Cut pocket and insert on one day" in said["c"][0]
    other = watched(stack, [replace(one, code="thin-wall", level="warning")])
    assert other["a"] == ("thin wall: a at (20.00, 40.00): words. Wait.",)
