"""The panel as it is being built: changes to what is cut, what the maker tells, and repairs proved on the model."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from core.design import Piece, PolygonOutline
from core.errors import UnusableInput
from core.sheet.as_built import as_told, gap_of, problems
from core.sheet.as_it_stands import standing_picture, states
from core.sheet.contents import STEPS
from core.sheet.picture import Strokes
from core.sheet.plan import Plan, plan_of
from core.sheet.progress import progress
from core.sheet.repairs import Repair
from core.sheet.shared_work import shared_work
from core.sheet.told import Told
from core.sheet.tracking import (
    Bench,
    bench_from,
    bench_of,
    bench_text,
    compared,
    done_now,
    shared_ticked,
    ticked,
    with_news,
    without_news,
)
from core.stack.stack import build_stack
from tests.core.designs import disc, make_design, make_panel, make_piece, rectangle

ALL = tuple(STEPS)
LOW = make_piece("low", disc(15, count=96), at=(40, 40), grain=0.0)
HIGH = make_piece("high", disc(8, count=96), at=(50, 40), grain=0.0)
ASIDE = make_piece("aside", rectangle(30, 16), at=(80, 12), grain=0.0)
PIECES = (LOW, HIGH, ASIDE)
PANEL = make_panel(face_trim=0.5)


def plan_with(*pieces: Piece) -> Plan:
    return plan_of(build_stack(make_design(pieces, PANEL)), ())


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_with(*PIECES)


def only(plan: Plan, bench: Bench, code: str) -> Any:
    """The one problem of that code."""
    (found,) = [problem for problem in problems(plan, bench) if problem.finding.code == code]
    return found


def kinds(problem: Any) -> list[str]:
    return [repair.kind for repair in problem.repairs]


def repaired(plan: Plan, repair: Repair) -> Plan:
    """The design with a repair taken, by its steps and its new piece alone."""
    pieces = []
    for piece in plan.stack.design.pieces:
        steps = {step.key: step.value for step in repair.steps if step.piece == piece.id}
        pieces.append(replace(piece, **steps))
    if repair.piece is not None:
        entry = dict(repair.piece)
        ring = tuple((x, y) for x, y in entry.pop("outline")["polygon"])
        pieces.append(make_piece(entry.pop("id"), PolygonOutline(ring), **entry))
    return plan_with(*pieces)


# --- Changes to what is cut -----------------------------------------------------------------------------------------


def test_what_was_cut_as_it_is_planned_is_no_problem(plan) -> None:
    assert problems(plan, bench_of(plan, {piece.id: ALL for piece in PIECES})) == ()


def test_a_change_of_wood_asks_for_the_insert_alone_and_names_who_is_touched(plan) -> None:
    bench = bench_of(plan, {"low": ("pocket", "insert", "fit")})
    changed = plan_with(replace(LOW, wood="ebony"), HIGH, ASIDE)
    problem = only(changed, bench, "changed-after-cutting")
    assert problem.recut == ("insert of low",)
    assert problem.touched == ("high",)
    assert "holly, now ebony" in problem.finding.text
    assert kinds(problem) == ["put-back", "recut-insert"]
    assert done_now(bench, changed) == {"low": ("pocket",)}


def test_a_deeper_pocket_is_cut_again_and_a_shallower_one_cannot_be(plan) -> None:
    bench = bench_of(plan, {"aside": ("pocket",)})
    deeper = plan_with(LOW, HIGH, replace(ASIDE, pocket_depth=7.0))
    assert kinds(only(deeper, bench, "changed-after-cutting")) == ["put-back", "recut-pocket"]
    shallower = plan_with(LOW, HIGH, replace(ASIDE, pocket_depth=5.0, insert_thickness=6.5))
    assert kinds(only(shallower, bench, "changed-after-cutting")) == ["put-back"]


def test_what_was_cut_comes_back_by_the_steps_that_put_it_back(plan) -> None:
    bench = bench_of(plan, {"aside": ALL})
    for change in (
        {"pocket_depth": 5.0, "insert_thickness": 6.5},
        {"wood": "ebony"},
        {"at": (86, 15)},
        {"grain": 30.0},
        {"side_clearance": 0.2},
    ):
        changed = plan_with(LOW, HIGH, replace(ASIDE, **change))
        problem = only(changed, bench, "changed-after-cutting")
        repair = next(each for each in problem.repairs if each.kind == "put-back")
        assert problems(repaired(changed, repair), bench) == ()


def test_a_glued_piece_that_is_larger_now_gets_a_deeper_pocket_through_the_old_glue(plan) -> None:
    bench = bench_of(plan, {"aside": ALL})
    changed = plan_with(LOW, HIGH, replace(ASIDE, outline=PolygonOutline(tuple(rectangle(34, 20, -2, -2)))))
    problem = only(changed, bench, "changed-after-cutting")
    assert problem.recut == ("pocket of aside", "insert of aside")
    repair = next(each for each in problem.repairs if each.kind == "deeper-pocket")
    made = repaired(changed, repair)
    new = next(work for work in made.pieces if work.id == "aside").placed
    assert new.depth > 6.0
    assert shapely.covers(shapely.buffer(new.pocket, 0.1), bench.pieces["aside"].cut.shape)


def test_a_pocket_that_was_cut_elsewhere_is_covered_by_a_later_patch(plan) -> None:
    """Moved 5 mm to the right: the left 5 mm of the old pocket stay open; the patch takes all of that."""
    bench = bench_of(plan, {"aside": ("pocket",)})
    changed = plan_with(LOW, HIGH, replace(ASIDE, at=(85, 12)))
    problem = only(changed, bench, "changed-after-cutting")
    patch = next(each for each in problem.repairs if each.kind == "patch")
    made = repaired(changed, patch)
    cover = next(work for work in made.pieces if work.id == "aside-patch").placed
    assert cover.index == 3
    cut = [work.placed.pocket for work in made.pieces] + [shapely.buffer(cover.pocket, 0.1)]
    open_still = shapely.difference(bench.pieces["aside"].cut.shape, shapely.union_all(cut))
    assert open_still.area < 0.5
    assert cover.depth >= 6.0


def test_a_piece_that_is_cut_and_gone_from_the_design_is_told_and_covered(plan) -> None:
    bench = bench_of(plan, {"aside": ALL, "low": ("pocket",)})
    problem = only(plan_with(LOW, HIGH), bench, "gone-after-cutting")
    assert problem.finding.piece == "aside"
    assert kinds(problem) == ["patch"]
    assert problems(plan_with(LOW, HIGH), bench_of(plan, {"aside": ("insert",), "low": ("pocket",)})) == ()


def test_a_deeper_pocket_is_not_offered_where_a_later_piece_is_glued_in_over_it(plan) -> None:
    bench = bench_of(plan, {"low": ALL, "high": ALL})
    changed = plan_with(replace(LOW, wood="ebony"), HIGH, ASIDE)
    problem = only(changed, bench, "changed-after-cutting")
    assert "deeper-pocket" not in kinds(problem)
    assert "high (glued in)" in problem.finding.text


def test_a_pocket_cut_before_the_piece_that_it_cuts_into_is_told(plan) -> None:
    problem = only(plan, bench_of(plan, {"high": ("pocket",)}), "out-of-order")
    assert (problem.finding.piece, problem.touched) == ("high", ("low",))


# --- What is told ---------------------------------------------------------------------------------------------------


def test_an_insert_that_is_not_cut_follows_a_pocket_of_another_depth(plan) -> None:
    bench = bench_of(plan, {"low": ("pocket",)}, {"low": (Told("depth", 5.2),)})
    built = as_told(plan, bench).pieces[0]
    assert (built.depth, built.piece.insert_thickness) == (5.2, pytest.approx(6.7))
    problem = only(plan, bench, "other-depth")
    assert "6.70 mm thick" in problem.finding.text
    assert len(problems(plan, bench)) == 1


def test_findings_follow_a_pocket_cut_too_deep(plan) -> None:
    """19 - 15 leaves 4 mm of floor; an insert cut 7.5 mm thick before lies 7.5 mm below the raw face."""
    bench = bench_of(plan, {"low": ("pocket", "insert")}, {"low": (Told("depth", 15.0),)})
    codes = {problem.finding.code for problem in problems(plan, bench)}
    assert codes == {"other-depth", "not-proud", "floor-too-thin"}
    assert next(iter(problems(plan, bench))).finding.level == "error"


def test_a_depth_that_is_told_and_then_written_into_the_design_is_no_change(plan) -> None:
    bench = bench_of(plan, {"low": ("pocket",)}, {"low": (Told("depth", 5.2),)})
    followed = plan_with(replace(LOW, pocket_depth=5.2, insert_thickness=6.7), HIGH, ASIDE)
    assert compared(bench, followed).changed == ()
    assert "changed-after-cutting" not in {problem.finding.code for problem in problems(followed, bench)}


def test_a_break_that_is_glued_back_names_what_will_cut_it_again(plan) -> None:
    bench = bench_of(plan, {"low": ALL}, {"low": (Told("broke", glued_back=True),)})
    problem = only(plan, bench, "broke")
    assert problem.finding.level == "note"
    assert "high" in problem.finding.text
    assert problem.recut == ()


def test_a_lost_part_is_sawn_anew_or_once_it_is_glued_cut_out_or_covered(plan) -> None:
    lost = {"aside": (Told("broke", glued_back=False),)}
    loose = only(plan, bench_of(plan, {"aside": ("insert",)}, lost), "broke")
    assert (loose.recut, kinds(loose)) == (("insert of aside",), ["recut-insert"])
    glued = only(plan, bench_of(plan, {"aside": ALL}, lost), "broke")
    assert glued.recut == ("pocket of aside", "insert of aside")
    assert set(kinds(glued)) == {"deeper-pocket", "patch"}


def test_a_gap_is_as_large_as_geometry_says_and_lies_on_its_side(plan) -> None:
    """A rectangle 16 mm high that is 3 mm short leaves 48 mm²; a disc of radius r moved by g leaves a lune.

    Lune: pi r² less the lens of two equal discs, 2 r² acos(g / 2r) - g/2 sqrt(4r² - g²) (E. W. Weisstein,
    "Circle-Circle Intersection", MathWorld; from memory).
    """
    work = {piece.id: piece for piece in plan.pieces}
    left = gap_of(work["aside"], Told("gap", 3.0, "left"))
    assert left.area == pytest.approx(48.0, abs=3.0)  # its corners are round
    assert left.bounds[2] == pytest.approx(83.0 + 3.175 / 2, abs=1.6)
    r, g = 15.0, 3.0
    lens = 2 * r * r * math.acos(g / 2 / r) - g / 2 * math.sqrt(4 * r * r - g * g)
    assert gap_of(work["low"], Told("gap", 3.0, "top")).area == pytest.approx(math.pi * r * r - lens, rel=2e-3)
    assert gap_of(work["low"], Told("gap", 3.0, "top")).centroid.y > 40


def test_a_gap_in_sight_is_warned_about_and_one_that_a_later_piece_takes_is_not(plan) -> None:
    seen = only(plan, bench_of(plan, {"low": ALL}, {"low": (Told("gap", 3.0, "left"),)}), "gap")
    assert seen.finding.level == "warning"
    assert kinds(seen) == ["deeper-pocket", "patch"]
    wide = replace(HIGH, outline=PolygonOutline(tuple(rectangle(40, 40, -10, -20))))
    covered = plan_with(LOW, wide, ASIDE)
    hidden = only(covered, bench_of(covered, {"low": ALL}, {"low": (Told("gap", 3.0, "right"),)}), "gap")
    assert hidden.finding.level == "note"
    assert "high will take its place" in hidden.finding.text


def test_the_patch_over_a_gap_takes_all_that_is_in_sight_of_it(plan) -> None:
    bench = bench_of(plan, {"aside": ALL}, {"aside": (Told("gap", 3.0, "right"),)})
    problem = only(plan, bench, "gap")
    patch = next(each for each in problem.repairs if each.kind == "patch")
    work = next(piece for piece in plan.pieces if piece.id == "aside")
    cover = next(piece for piece in repaired(plan, patch).pieces if piece.id == "aside-patch").placed.pocket
    assert shapely.difference(gap_of(work, Told("gap", 3.0, "right")), shapely.buffer(cover, 0.1)).area < 0.5


# --- Ticked ---------------------------------------------------------------------------------------------------------


def test_all_that_is_told_and_done_is_read_back_from_the_file(plan) -> None:
    told = {"low": (Told("depth", 5.2), Told("gap", 3.0, "left"), Told("broke", glued_back=True))}
    bench = bench_of(plan, {"low": ALL, "aside": ("pocket",)}, told, ("flat", "pins")[:1])
    assert bench_from(bench_text(bench).encode()) == bench


def test_what_is_told_is_done_with_that_and_forgotten_when_it_is_undone(plan) -> None:
    work = next(piece for piece in plan.pieces if piece.id == "low")
    bench = with_news(Bench("sample", {}), work, Told("depth", 5.2))
    bench = with_news(bench, work, Told("depth", 5.4))
    assert (bench.pieces["low"].steps, bench.pieces["low"].told) == (("pocket",), (Told("depth", 5.4),))
    bench = with_news(bench, work, Told("gap", 3.0, "left"))
    assert bench.pieces["low"].steps == ("pocket", "insert")
    bench = ticked(bench, work, "insert", False)
    assert bench.pieces["low"].told == (Told("depth", 5.4),)
    assert without_news(bench, "low").pieces["low"].told == ()


def test_a_pocket_cut_for_an_older_state_is_not_forgotten_by_ticking_something_else(plan) -> None:
    bench = bench_of(plan, {"aside": ("pocket", "insert")})
    moved = plan_with(LOW, HIGH, replace(ASIDE, at=(85, 12)))
    work = next(piece for piece in moved.pieces if piece.id == "aside")
    with pytest.raises(UnusableInput, match="would be forgotten"):
        ticked(bench, work, "insert", True)
    assert ticked(bench, work, "pocket", True).pieces["aside"].steps == ("pocket",)


def test_shared_work_goes_in_its_order_and_counts(plan) -> None:
    jobs = [job.key for job in shared_work(plan)]
    assert jobs[-6:] == ["face", "edges", "frame-lower", "frame-upper", "frame-left", "frame-right"]
    bench = Bench(plan.name, {})
    start = progress(plan, bench)
    assert [job.key for job in start.next_shared] == ["flat"]
    assert not start.next_steps["pocket"]
    bench = shared_ticked(bench, plan, "flat", True)
    ready = progress(plan, bench)
    assert (ready.steps_done, ready.steps) == (1, 12 + len(jobs))
    assert ready.next_steps["pocket"]
    assert shared_ticked(bench, plan, "flat", False).shared == {}


def test_inserts_that_stand_proud_are_levelled_before_the_next_batch_and_the_face_comes_last(plan) -> None:
    jobs = {job.key: job for job in shared_work(plan)}
    half = bench_of(plan, {"low": ALL, "aside": ALL}, shared=tuple(key for key in jobs if key in ("flat", "pins")))
    assert "level-2" in [job.key for job in progress(plan, half).next_shared]
    done = bench_of(plan, {piece.id: ALL for piece in PIECES}, shared=tuple(half.shared))
    assert [job.key for job in progress(plan, done).next_shared] == ["face"]
    finished = bench_of(plan, {piece.id: ALL for piece in PIECES}, shared=tuple(jobs))
    assert progress(plan, finished).next_words == "nothing: the panel is done"


def test_shared_work_of_another_size_does_not_hold(plan) -> None:
    bench = bench_of(plan, {"low": ("pocket",)}, shared=("flat", "face"))
    thicker = plan_of(build_stack(make_design(PIECES, replace(PANEL, thickness=22))), ())
    assert compared(bench, thicker).shared == ("face",)


def test_the_panel_is_drawn_as_it_stands_today(plan) -> None:
    bench = bench_of(plan, {"low": ALL, "aside": ("pocket",)})
    assert states(plan, bench) == {"low": "glued", "aside": "open", "high": "to do"}
    hatches = [mark for mark in standing_picture(plan, bench).marks if isinstance(mark, Strokes)]
    ends = np.concatenate([line for mark in hatches for line in mark.lines])
    assert ends[:, 0].min() > 79
    assert not any(isinstance(m, Strokes) for m in standing_picture(plan, bench_of(plan, {"low": ALL})).marks)
