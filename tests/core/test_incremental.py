"""Moving one piece rebuilds just what it touches, and what comes of it is what building anew gives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.design import Segment, Strip
from core.solids.panel_solids import build_solids
from core.stack.stack import build_stack
from tests.core.designs import designs, disc, fewer, make_design, make_panel, make_piece


@st.composite
def changes(draw, tapers=(0.0,)):
    """A design, and the same after a piece moved, deepened, went or changed its order, or the panel was trimmed."""
    before = draw(designs(most=5, tapers=tapers))
    pieces = list(before.pieces)
    i = draw(st.integers(0, len(pieces) - 1))
    kind = draw(st.sampled_from(["move", "deepen", "remove", "reorder", "trim", "nothing"]))
    if kind == "move":
        pieces[i] = replace(pieces[i], at=(pieces[i].at[0] + draw(st.integers(-40, 40)), pieces[i].at[1] + 3.7))
    elif kind == "deepen" and not pieces[i].taper:
        pieces[i] = replace(pieces[i], pocket_depth=pieces[i].pocket_depth + 1)
    elif kind == "remove":
        del pieces[i]
    elif kind == "reorder":
        pieces.insert(draw(st.integers(0, len(pieces) - 1)), pieces.pop(i))
    panel = replace(before.panel, face_trim=before.panel.face_trim + 0.25) if kind == "trim" else before.panel
    return before, replace(before, pieces=tuple(pieces), panel=panel)


def assert_same_as_anew(before, after, state):
    __tracebackhide__ = True
    first = build_stack(before)
    kept = build_solids(first, state)
    stack = build_stack(after, first)
    anew = build_stack(after)
    assert stack.batches == anew.batches
    assert stack.overlaps == anew.overlaps
    for one, other in zip(stack.pieces, anew.pieces, strict=True):
        assert (one.index, one.batch, one.over, one.under) == (other.index, other.batch, other.over, other.under)
        assert one.pocket.equals_exact(other.pocket)
        assert one.insert.equals_exact(other.insert)
    pairs = zip(build_solids(stack, state, previous=kept), build_solids(anew, state), strict=True)
    for one, other in pairs:
        assert (one.name, one.wood, one.grain, one.piece, one.batch) == (
            other.name, other.wood, other.grain, other.piece, other.batch,
        )  # fmt: skip
        assert measures(one) == pytest.approx(measures(other), rel=1e-9, abs=1e-7), one.name


def measures(solid):
    """Volume, area of each kind of surface, and extent; vertices may be numbered anew where pieces swap."""
    a, b, c = np.moveaxis(solid.vertices[solid.triangles], 1, 0)
    areas = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    extent = [*solid.vertices.min(axis=0), *solid.vertices.max(axis=0)]
    return [solid.volume, *np.bincount(solid.surface, weights=areas, minlength=4), *extent]


@pytest.mark.parametrize("state", ["raw", "finished"])
@given(pair=changes())
@fewer(2)
def test_incremental_equals_from_scratch(state, pair):
    assert_same_as_anew(*pair, state)


@given(pair=changes(tapers=(0.0, 3.0)))
@fewer(8)
def test_incremental_equals_from_scratch_with_leaning_walls(pair):
    assert_same_as_anew(*pair, "raw")


def test_a_move_rebuilds_the_piece_those_it_overlapped_and_the_strips_it_touches():
    strips = tuple(Strip(20, (Segment(80, wood),)) for wood in ("ash", "elm", "oak", "ash", "elm", "oak"))
    at = {"a": (12, 40), "b": (49.5, 40), "c": (70, 40), "d": (108, 40), "mover": (30.6, 40)}
    pieces = [make_piece(name, disc(11 if name != "mover" else 8, count=60), at=at[name]) for name in at]
    before = build_stack(make_design(pieces, make_panel(strips=strips, wood=None)))
    first = {s.name: s for s in build_solids(before)}
    pieces[-1] = replace(pieces[-1], at=(85.0, 40.0))
    after = build_stack(replace(before.design, pieces=tuple(pieces)), before)
    second = {s.name: s for s in build_solids(after, previous=first.values())}
    rebuilt = {name for name in second if second[name].vertices is not first[name].vertices}
    assert [before.pieces[i].piece.id for i in before.pieces[4].over] == ["a", "b"]
    assert [after.pieces[i].piece.id for i in after.pieces[4].over] == ["c"]
    # before: x from 22.6 to 38.6 is strip 2 alone; after: from 77 to 93, strips 4 and 5
    assert rebuilt == {"mover", "a", "b", "c", "background-2-1", "background-4-1", "background-5-1"}


def test_nothing_is_rebuilt_where_only_words_change():
    """Another wood for a piece changes its record, not its shape."""
    pieces = [make_piece("a", disc(11), at=(30, 40)), make_piece("b", disc(11), at=(45, 40))]
    before = build_stack(make_design(pieces))
    first = build_solids(before)
    after = build_stack(make_design([pieces[0], replace(pieces[1], wood="wenge")]), before)
    for old, new in zip(first, build_solids(after, previous=first), strict=True):
        assert np.array_equal(old.vertices, new.vertices)
    assert [s.wood for s in build_solids(after, previous=first)][-1] == "wenge"


def test_pieces_that_did_not_change_keep_their_geometry_objects():
    pieces = [make_piece("a", disc(11), at=(30, 40)), make_piece("b", disc(11), at=(45, 40))]
    before = build_stack(make_design(pieces))
    after = build_stack(make_design([pieces[0], replace(pieces[1], turn=10.0)]), before)
    assert after.pieces[0].pocket is before.pieces[0].pocket
    assert after.pieces[1].pocket is not before.pieces[1].pocket


def test_a_draft_leaves_what_changed_sharp_and_the_next_call_softens_it():
    pieces = [make_piece("a", disc(10, 30, 40)), make_piece("b", disc(10, 90, 40))]
    first = build_stack(make_design(pieces))
    kept = {s.name: s for s in build_solids(first, soften=0.2)}
    moved = build_stack(make_design([pieces[0], replace(pieces[1], at=(1.0, 0.0))]), first)
    draft = {s.name: s for s in build_solids(moved, soften=0.2, previous=kept.values(), draft=True)}
    sharp = {s.name: s for s in build_solids(moved)}
    soft = {s.name: s for s in build_solids(moved, soften=0.2)}
    assert draft["a"].vertices is kept["a"].vertices
    assert draft["b"].volume == pytest.approx(sharp["b"].volume)
    assert soft["b"].volume < sharp["b"].volume
    final = {s.name: s for s in build_solids(moved, soften=0.2, previous=draft.values())}
    assert final["a"].vertices is kept["a"].vertices
    assert final["b"].volume == pytest.approx(soft["b"].volume)
    assert [s.recipe.soften for s in final.values()] == [0.2] * 3
