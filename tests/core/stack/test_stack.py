"""Overlaps, batches and remnants: against networkx, against rectangles' own arithmetic, and by hand."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import UnusableInput
from core.stack.stack import build_stack
from tests.core.designs import (
    EIGHTH_INCH,
    POINT_CUTTER,
    designs,
    disc,
    fewer,
    make_design,
    make_panel,
    make_piece,
    rectangle,
    ring,
    star,
)


@st.composite
def ordered_rectangles(draw, backwards):
    """Rectangles on a grid, each with `after` naming others; `backwards`: also later ones, so that rings may come."""
    count = draw(st.integers(1, 12))
    made = []
    for i in range(count):
        corner = draw(st.tuples(st.integers(0, 90), st.integers(0, 60)))
        size = draw(st.tuples(st.integers(3, 40), st.integers(3, 40)))
        others = [f"p{j}" for j in range(count if backwards else i) if j != i]
        after = draw(st.lists(st.sampled_from(others), max_size=2, unique=True)) if others else []
        outline = rectangle(*size, *corner)
        made.append(make_piece(f"p{i}", outline, cutter_diameter=POINT_CUTTER, after=tuple(after)))
    return make_design(made)


def waits(design):
    """Who waits for whom, from the rectangles' numbers alone: an edge from what is worked first."""
    boxes = [(*p.outline.points[0], *p.outline.points[2]) for p in design.pieces]
    graph = nx.DiGraph()
    graph.add_nodes_from(p.id for p in design.pieces)
    for j, later in enumerate(design.pieces):
        for i, earlier in enumerate(design.pieces[:j]):
            (a, b, c, d), (e, f, g, h) = boxes[i], boxes[j]
            if min(c, g) > max(a, e) and min(d, h) > max(b, f):
                graph.add_edge(earlier.id, later.id)
        graph.add_edges_from((name, later.id) for name in later.after)
    return graph


@given(ordered_rectangles(backwards=False))
def test_batches_are_as_few_and_as_early_as_the_longest_chain_allows(design):
    """The longest path is networkx's; each piece's own is that of the graph of all that it waits for."""
    stack = build_stack(design)
    graph = waits(design)
    assert len(stack.batches) == nx.dag_longest_path_length(graph) + 1
    for placed in stack.pieces:
        before = graph.subgraph(nx.ancestors(graph, placed.piece.id) | {placed.piece.id})
        assert placed.batch == nx.dag_longest_path_length(before) + 1
    assert sorted(i for batch in stack.batches for i in batch) == list(range(len(stack.pieces)))
    assert all(stack.pieces[i].batch == number for number, batch in enumerate(stack.batches, 1) for i in batch)


@given(ordered_rectangles(backwards=True))
def test_a_ring_is_refused_and_named_and_nothing_else_is(design):
    graph = waits(design)
    if nx.is_directed_acyclic_graph(graph):
        assert len(build_stack(design).batches) == nx.dag_longest_path_length(graph) + 1
        return
    with pytest.raises(UnusableInput) as refused:
        build_stack(design)
    ring = re.findall(r"p\d+", refused.value.problem)
    assert len(ring) >= 2
    assert ring[0] == ring[-1]
    for one, other in pairwise(ring):
        assert graph.has_edge(one, other) or graph.has_edge(other, one)


def test_a_ring_through_an_overlap_and_after_names_both_pieces():
    first = make_piece("under", rectangle(20, 20), after=("over",))
    second = make_piece("over", rectangle(20, 20), at=(10, 10))
    with pytest.raises(UnusableInput, match="ring") as refused:
        build_stack(make_design([first, second]))
    assert "under" in str(refused.value)
    assert "over" in str(refused.value)


@given(designs())
@fewer(2)
def test_over_and_under_mirror_each_other_and_batches_respect_them(design):
    stack = build_stack(design)
    for placed in stack.pieces:
        assert all(j < placed.index and placed.index in stack.pieces[j].under for j in placed.over)
        assert all(stack.pieces[j].batch > placed.batch for j in placed.under)
        assert placed.batch > 0 or not placed.sound


def test_shared_edges_and_points_are_no_overlap():
    spots = {"middle": (10, 10), "right": (20, 10), "above": (10, 20), "corner": (20, 20), "apart": (40, 40)}
    pieces = [make_piece(n, rectangle(10, 10), at=at, cutter_diameter=POINT_CUTTER) for n, at in spots.items()]
    stack = build_stack(make_design(pieces))
    assert stack.overlaps == frozenset()
    assert len(stack.batches) == 1


def test_a_piece_within_an_island_overlaps_nothing():
    """It may be inlaid on the same day as the ring round it."""
    stack = build_stack(
        make_design([make_piece("a", ring(20, 10, 90), at=(50, 40)), make_piece("b", disc(9), at=(50, 40))])
    )
    assert [p.batch for p in stack.pieces] == [1, 1]


def test_absent_pieces_are_in_no_batch_and_no_overlap():
    crossing = [(0, 0), (20, 20), (20, 0), (0, 20)]
    pieces = [
        make_piece("bad", crossing),
        make_piece("thin", rectangle(30, 2)),
        make_piece("sound", rectangle(20, 20), after=("bad", "thin")),
    ]
    stack = build_stack(make_design(pieces))
    assert [p.batch for p in stack.pieces] == [0, 0, 1]
    assert [p.sound for p in stack.pieces] == [False, False, True]
    assert stack.overlaps == frozenset()
    assert stack.batches == ((2,),)


# Remnants. Discs' lens by the formula for two circles' overlap (DERIVED, plane geometry)


def lens(big: float, small: float, apart: float) -> float:
    """Area that two circles share."""
    a = big**2 * math.acos((apart**2 + big**2 - small**2) / (2 * apart * big))
    b = small**2 * math.acos((apart**2 + small**2 - big**2) / (2 * apart * small))
    kite = math.sqrt((big + small - apart) * (apart + big - small) * (apart - big + small) * (apart + big + small))
    return a + b - kite / 2


@pytest.mark.parametrize("clearance", [0.0, 0.1])
@pytest.mark.parametrize("depths", [(6.0, 4.0), (4.0, 6.0)])
def test_what_is_seen_of_a_disc_under_another(clearance, depths):
    a = make_piece("a", disc(20), at=(60, 40), side_clearance=clearance, pocket_depth=depths[0])
    b = make_piece("b", disc(15), at=(85, 40), side_clearance=clearance, pocket_depth=depths[1])
    seen = build_stack(make_design([a, b])).remnants
    assert seen[0].area == pytest.approx(math.pi * (20 - clearance) ** 2 - lens(20 - clearance, 15, 25), rel=1e-6)
    assert seen[1].area == pytest.approx(math.pi * (15 - clearance) ** 2, rel=1e-6)


def test_only_pockets_deeper_than_the_face_trim_hide_what_lies_below():
    a = make_piece("a", rectangle(20, 20), at=(20, 20), cutter_diameter=POINT_CUTTER, side_clearance=0.0)
    b = replace(a, id="b", at=(30.0, 20.0), pocket_depth=1.0, insert_thickness=2.5)
    panel = make_panel(face_trim=1.0)
    assert [r.area for r in build_stack(make_design([a, b], panel)).remnants] == [400, 0]
    panel = make_panel(face_trim=0.9)
    assert [r.area for r in build_stack(make_design([a, b], panel)).remnants] == [200, 400]


def test_nothing_is_seen_of_an_insert_that_ends_below_the_face():
    low = make_piece("a", rectangle(20, 20), at=(20, 20), insert_thickness=5.4)
    assert build_stack(make_design([low], make_panel(face_trim=0.5))).remnants[0].is_empty
    assert not build_stack(make_design([low], make_panel(face_trim=0.7))).remnants[0].is_empty


def test_a_remnant_cut_in_two_has_two_parts_and_one_at_the_margin_is_trimmed():
    bar = make_piece("bar", rectangle(100, 10), at=(0, 35), cutter_diameter=POINT_CUTTER, side_clearance=0.0)
    over = make_piece("over", rectangle(10, 40), at=(50, 20), cutter_diameter=POINT_CUTTER)
    stack = build_stack(make_design([bar, over], make_panel(edge_trim=(20.0, 0.0, 0.0, 0.0))))
    assert sorted(part.area for part in stack.remnants[0].geoms) == pytest.approx([300.0, 400.0])


# Places


@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize("turn", [0.0, 90.0, 33.3, -120.0, 450.0])
def test_rounding_never_moves_with_the_piece(turn, mirror):
    """Every vertex of the placed pocket is the rounded outline's own, mirrored, turned and moved."""
    piece = make_piece("a", star(5, 20, 8))
    still = build_stack(make_design([piece])).pieces[0]
    moved = build_stack(make_design([replace(piece, turn=turn, mirror=mirror, at=(31.7, -4.1))])).pieces[0]
    for name in ("pocket", "insert"):
        before, after = getattr(still, name), getattr(moved, name)
        angle = math.radians(turn)
        expected = [
            (
                31.7 + math.cos(angle) * (-x if mirror else x) - math.sin(angle) * y,
                -4.1 + math.sin(angle) * (-x if mirror else x) + math.cos(angle) * y,
            )
            for x, y in before.exterior.coords
        ]
        assert len(after.exterior.coords) == len(expected)
        for found, wanted in zip(after.exterior.coords, expected, strict=True):
            assert found == pytest.approx(wanted, abs=1e-12)


def test_scale_comes_before_rounding():
    """A slot drawn half as wide as the cutter, scaled by two, is as wide as the cutter and survives."""
    slot = make_piece("a", rectangle(20, EIGHTH_INCH / 2), scale=2.0)
    assert build_stack(make_design([slot])).pieces[0].sound
    assert not build_stack(make_design([replace(slot, scale=1.0)])).pieces[0].sound


@pytest.mark.parametrize(
    ("size", "turn", "grain"),
    [
        ((40, 10), 0, 0),
        ((10, 40), 0, 90),
        ((20, 20), 0, 0),
        ((40, 10), 30, 30),
        ((40, 10), 135, -45),
        ((40, 10), 180, 0),
    ],
)
def test_grain_follows_the_length_where_none_is_given(size, turn, grain):
    placed = build_stack(make_design([make_piece("a", rectangle(*size), turn=turn)])).pieces[0]
    assert placed.grain == pytest.approx(grain, abs=1e-9)


def test_depth_stops_at_the_thickness_and_the_floor_gap_lifts_the_insert():
    placed = build_stack(make_design([make_piece("a", disc(20), pocket_depth=25.0, floor_gap=0.5)])).pieces[0]
    assert (placed.depth, placed.bottom, placed.top) == (19, -18.5, 8.0)
