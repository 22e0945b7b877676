"""Meshes that touch themselves in every way that unit cubes can: each edge gets exactly one twin, the body stays."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.solids.closed_mesh import ClosedMesh, volume
from core.solids.pinches import split_pinches
from core.solids.proof import is_closed
from tests.core.oracles import unmatched_edges

SIDE = 3
FACES = [  # corners of a unit cube's six faces, seen from outside anticlockwise; and the cell beyond each
    ((0, 0, -1), [(0, 0, 0), (0, 1, 0), (1, 1, 0), (1, 0, 0)]),
    ((0, 0, 1), [(0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)]),
    ((0, -1, 0), [(0, 0, 0), (1, 0, 0), (1, 0, 1), (0, 0, 1)]),
    ((0, 1, 0), [(0, 1, 0), (0, 1, 1), (1, 1, 1), (1, 1, 0)]),
    ((-1, 0, 0), [(0, 0, 0), (0, 0, 1), (0, 1, 1), (0, 1, 0)]),
    ((1, 0, 0), [(1, 0, 0), (1, 1, 0), (1, 1, 1), (1, 0, 1)]),
]


def surface_of(cells):
    """Vertices and triangles of the boundary of some unit cubes, which share all corners that they can."""
    numbers, triangles = {}, []
    for cell in cells:
        for beyond, corners in FACES:
            if tuple(np.add(cell, beyond)) in cells:
                continue
            a, b, c, d = (numbers.setdefault(tuple(np.add(cell, corner).tolist()), len(numbers)) for corner in corners)
            triangles += [(a, b, c), (a, c, d)]
    return np.array(list(numbers), dtype=float), np.array(triangles)


CELLS = st.sets(st.tuples(*[st.integers(0, SIDE - 1)] * 3), min_size=1)


@given(CELLS)
def test_any_pile_of_cubes_gets_exactly_one_twin_for_each_edge(cells):
    vertices, triangles = surface_of(cells)
    split, parted, source = split_pinches(vertices, triangles)
    assert unmatched_edges(parted.astype(np.int32)) == 0
    mesh = ClosedMesh(split, parted.astype(np.int32), np.zeros(len(parted), np.uint8))
    assert volume(mesh) == pytest.approx(len(cells), rel=1e-12)
    assert np.array_equal(source[: len(triangles)], np.arange(len(triangles)))


def test_a_ring_of_cubes_that_closes_over_one_edge_gets_middle_vertices():
    """Two cubes touch along an edge and hang together round both its ends: splitting vertices cannot part them."""
    cells = {(0, 0, 0), (0, 0, 1), (0, 0, 2), (1, 1, 0), (1, 1, 1), (1, 1, 2), (0, 1, 0), (0, 1, 2)}
    vertices, triangles = surface_of(cells)
    split, parted, source = split_pinches(vertices, triangles)
    assert len(parted) == len(triangles) + 2
    assert unmatched_edges(parted.astype(np.int32)) == 0
    assert set(source[len(triangles) :]) <= set(range(len(triangles)))
    assert len(split) == len(vertices) + 1


@given(CELLS, st.data())
def test_a_mesh_that_lacks_or_turns_or_doubles_a_triangle_is_not_closed(cells, data):
    vertices, triangles = surface_of(cells)
    split, parted, _ = split_pinches(vertices, triangles)

    def closed(some):
        return is_closed(ClosedMesh(split, np.asarray(some, np.int32), np.zeros(len(some), np.uint8)))

    assert closed(parted)
    which = data.draw(st.integers(0, len(parted) - 1))
    turned = parted.copy()
    turned[which] = turned[which, ::-1]
    moved = parted.copy()
    moved[which, 0] = (moved[which, 0] + 1) % len(split)
    assert not closed(np.delete(parted, which, axis=0))
    assert not closed(turned)
    assert not closed(np.concatenate([parted, parted[which : which + 1]]))
    assert not closed(np.concatenate([parted, parted]))
    assert closed(moved) == (unmatched_edges(moved.astype(np.int32)) == 0)
