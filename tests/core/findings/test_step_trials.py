"""Remedies of one step are tried on a copy of the design: what is offered cures and brings nothing graver."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchmark.remedies import Tally, dense_design, judge
from core.design import Piece
from core.findings.all_findings import Finding, find_all, tried
from core.findings.step_trials import changed
from core.stack.stack import Stack, build_stack
from tests.core.designs import make_design, make_panel, make_piece, rectangle


def box(name: str, x: float, y: float, width: float, height: float, **changes: object) -> Piece:
    return make_piece(name, rectangle(width, height), at=(x, y), **changes)


def told(stack: Stack, code: str) -> Finding:
    """The first finding of a code, its step tried."""
    return tried(stack, next(finding for finding in find_all(stack) if finding.code == code))


def grave_after(stack: Stack, finding: Finding) -> list[str]:
    """Codes of errors and warnings once the step is taken."""
    step = finding.step
    assert step is not None
    workshop = stack.design.workshop
    pieces = tuple(changed(p, step, workshop) if p.id == step.piece else p for p in stack.design.pieces)
    after = build_stack(replace(stack.design, pieces=pieces))
    return [found.code for found in find_all(after) if found.level != "note"]


def stack_of(*pieces: Piece, **panel: object) -> Stack:
    return build_stack(make_design(pieces, make_panel(**panel)))


def test_a_shallow_bite_gets_a_step_that_bites_deeper() -> None:
    stack = stack_of(box("one", 20, 20, 30, 30), box("two", 49.7, 25, 30, 20))
    finding = told(stack, "meeting-edges")
    assert finding.step is not None
    assert (finding.step.piece, finding.step.key) == ("two", "at")
    assert grave_after(stack, finding) == []


def test_what_trimming_takes_off_gets_a_deeper_pocket() -> None:
    stack = stack_of(box("one", 20, 20, 30, 30, pocket_depth=0.4), face_trim=0.5)
    finding = told(stack, "trimmed-away")
    assert finding.step is not None
    assert finding.step.key == "pocket_depth"
    assert grave_after(stack, finding) == []


def test_a_piece_that_runs_off_the_panel_is_moved_in() -> None:
    stack = stack_of(box("one", -4, 30, 30, 30))
    finding = told(stack, "outside-panel")
    assert finding.step is not None
    assert finding.step.key == "at"
    assert grave_after(stack, finding) == []


def test_where_two_requirements_conflict_there_is_no_button_and_the_text_says_which() -> None:
    """The cutter reaches 6 mm, and 6 mm deep the pocket leaves a skin of the insert below, which is 6.7 mm deep."""
    pieces = box("ground", 20, 10, 60, 50, pocket_depth=6.7), box("two", 30, 20, 20, 20, pocket_depth=8.0)
    design = make_design(pieces, make_panel())
    workshop = replace(design.workshop, cutter_length=7.7)
    stack = build_stack(replace(design, workshop=workshop))
    of_two = next(f for f in find_all(stack) if f.code == "too-deep-for-cutter" and f.piece == "two")
    finding = tried(stack, of_two)
    assert of_two.step is not None
    assert finding.step is None
    assert "Two requirements conflict here" in finding.remedy
    assert "would bring thin skin of ground and two" in finding.remedy


def test_what_is_tried_once_is_not_tried_again() -> None:
    stack = stack_of(box("one", 20, 20, 30, 30), box("two", 50.3, 25, 30, 20))
    finding = told(stack, "meeting-edges")
    assert finding.tried
    assert tried(stack, finding) is finding


def test_remedies_of_a_dense_random_design_cure_and_bring_nothing_graver() -> None:
    """A small share of what `python -m benchmark.remedies` does."""
    tally = Tally()
    judge(dense_design(2, count=5), tally, 8)
    assert tally.count >= 4
    assert tally.bad == []


def test_a_remedy_is_tried_beside_a_piece_that_waits_for_one_far_away() -> None:
    """Only the pieces round about are looked at then, and the one that is waited for is none of them."""
    far, one = box("far", 220, 130, 30, 30), box("one", 30, 30, 40, 40)
    stack = stack_of(far, one, box("two", 70.2, 30, 40, 40, after=("far",)), width=300, height=200)
    finding = next(f for f in find_all(stack, try_steps=True) if f.code == "meeting-edges")
    assert finding.step is not None
    assert finding.step.key in ("at", "scale")
    assert grave_after(stack, finding) == []


FAR = (box("under", 150, 20, 30, 30), box("over", 170, 30, 30, 30))
"""Two that overlap, far from all others: with them a design has two batches anyway."""


def remedies(*pieces: Piece, code: str, try_steps: bool) -> list[str]:
    stack = build_stack(make_design(pieces, make_panel(width=240)))
    return [found.remedy for found in find_all(stack, try_steps=try_steps) if found.code == code]


@pytest.mark.parametrize("try_steps", [False, True])
@pytest.mark.parametrize(("code", "gap"), [("thin-wall", 1.5), ("meeting-edges", 0.3)])
def test_a_remedy_says_how_many_glue_days_it_takes_where_that_changes(code: str, gap: float, try_steps: bool) -> None:
    """Cut one after the other, or biting, two pieces of one batch take two; where others take two anyway, no more."""
    pair = box("one", 20, 20, 30, 30), box("two", 50 + gap, 25, 30, 20)
    (remedy,) = remedies(*pair, code=code, try_steps=try_steps)
    assert remedy.count("this takes 2 glue days instead of 1") == 1
    (remedy,) = remedies(*pair, *FAR, code=code, try_steps=try_steps)
    assert "glue day" not in remedy
