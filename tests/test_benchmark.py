"""The benchmark itself, on a scene of few pieces: it measures, agrees with its peer and says so."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from benchmark import table
from benchmark.measure import (
    MOVED_SOLIDS,
    MOVED_STACK,
    SOLIDS,
    SOLIDS_LARGE,
    STACK,
    VOLUME_TOLERANCE,
    Results,
    Trial,
    largest_difference,
    measure,
)
from benchmark.peers import Manifold, booleans_of
from benchmark.scene import VERTICES, later_overlaps_per_piece, scene, vertices_per_piece, with_one_moved
from core.solids.panel_solids import build_solids
from core.stack.stack import build_stack


@pytest.fixture(scope="module")
def results() -> Results:
    return measure(small=6, large=12, rounds=1, solvers=(), renders=False)


def test_the_scene_is_the_one_promised() -> None:
    stack = build_stack(scene(100))
    assert vertices_per_piece(stack) == VERTICES == 300
    assert 2.5 <= later_overlaps_per_piece(stack) <= 3.5
    assert all(placed.sound and 4 <= placed.depth <= 7 for placed in stack.pieces)
    assert all(placed.pocket.equals(placed.outline) for placed in stack.pieces)
    assert {strip.width for strip in stack.design.panel.strips} == {60.0}
    assert scene(100) == scene(100)


def test_manifold_cuts_the_same_solids_in_double_precision() -> None:
    stack = build_stack(scene(12))
    peer = Manifold()
    peer.prepare(booleans_of(stack))
    peer.cut()
    theirs = peer.volumes()
    ours = {solid.name: solid.volume for solid in build_solids(stack)}
    assert len(theirs) >= len(ours) > 12
    assert largest_difference(ours, theirs) < 1e-9  # corners lie on a grid of 2^-30 mm


def test_after_a_move_the_solids_are_those_from_scratch() -> None:
    design = scene(12)
    stack = build_stack(design)
    moved = with_one_moved(design, 4, (3.0, 2.0))
    again = build_solids(build_stack(moved, stack), previous=build_solids(stack))
    scratch = build_solids(build_stack(moved))
    assert [(solid.name, solid.volume) for solid in again] == [(solid.name, solid.volume) for solid in scratch]
    assert moved.pieces[4] != design.pieces[4]


def test_a_run_measures_all_that_the_table_says(results: Results) -> None:
    assert all(value > 0 for value in results.seconds.values())
    assert results.differences["manifold3d"] <= VOLUME_TOLERANCE
    assert results.memory is None or results.memory > 20
    shown = table.text(results)
    assert "Grainstack differ by at most" in shown
    for claim in table.claims(results):
        assert claim.words in shown
        assert claim.words in table.markdown(results)
    for word in ("Blender", "wood"):
        missing = next(claim for claim in table.claims(results) if word in claim.words)
        assert missing.verdict == "NOT MEASURED"
        assert not missing.holds


def test_wood_must_keep_its_bound_in_every_view(results: Results) -> None:
    known = replace(results, wood={"finished": 1.21, "detail": 1.31})
    verdicts = {claim.words: claim.verdict for claim in table.claims(known) if "wood" in claim.words}
    assert list(verdicts.values()) == ["PASS", "FAIL"]
    assert "1.21 ×" in table.markdown(known)


def test_ratios_come_from_the_medians_and_are_judged(results: Results) -> None:
    slow = {"manifold3d": 30.0, SOLIDS: 1.0, SOLIDS_LARGE: 13.0, STACK: 1.0, MOVED_SOLIDS: 0.2, MOVED_STACK: 0.3}
    known = replace(
        results,
        seconds=results.seconds | slow | {"Blender, exact": 4.0},
        differences=results.differences | {"Blender, exact": 1e-9},
    )
    claims = table.claims(known)
    assert [claim.value for claim in claims[:5]] == pytest.approx([30, 4, 13, 5, 4])
    short = "PASS, short of the aim"
    assert [claim.verdict for claim in claims[:5]] == ["PASS", "FAIL", short, short, short]


def test_a_solver_counts_only_with_the_right_volumes() -> None:
    assert Trial("EXACT", 1.0, 1e-7).right
    assert not Trial("FLOAT", 1.0, 0.11).right
    assert not Trial("FLOAT", math.inf, math.inf).right
    assert largest_difference({"a": 2000.0, "b": 0.5}, {"a": 2000.2}) == pytest.approx(0.0005)  # b: against 1 cm³
    assert largest_difference({"a": 2000.0}, {"a": 2000.2}) == pytest.approx(1e-4)
