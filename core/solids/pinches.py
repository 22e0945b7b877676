"""Vertices where a solid only touches itself, split so that every edge has just one twin."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


def split_pinches(vertices: Array, triangles: Ints) -> tuple[Array, Ints]:
    """Give each sheet of the surface vertices of its own where sheets meet along an upright edge.

    Where two parts of a solid touch along an edge, four triangles share it. Walking round the edge, the two
    triangles that bound the same part belong together; corners that hang together by such pairs are one vertex.

    Args:
        vertices: (n, 3); triangles: (m, 3), outward, each undirected edge used an even number of times.

    Returns:
        Vertices, the shared ones doubled, and triangles.
    """
    start, end = triangles.reshape(-1), np.roll(triangles, -1, axis=1).reshape(-1)
    key = np.minimum(start, end) * len(vertices) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    sorted_key = key[order]
    twin = _twins(vertices, triangles, start, order, sorted_key)
    return _split(vertices, triangles, twin)


def _twins(vertices: Array, triangles: Ints, start: Ints, order: Ints, key: Ints) -> Ints:
    """The opposite half-edge of each half-edge; where four or more meet, the next one round through the solid."""
    twin = np.full(len(start), -1)
    bounds = np.flatnonzero(np.r_[True, key[1:] != key[:-1], True])
    for low, high in pairwise(bounds.tolist()):
        edges = order[low:high]
        if high - low > 2:
            edges = _paired_round(vertices, triangles, start, edges)
        for one, other in edges.reshape(-1, 2):
            twin[one], twin[other] = other, one
    return twin


def _paired_round(vertices: Array, triangles: Ints, start: Ints, edges: Ints) -> Ints:
    """The half-edges of one edge in pairs that bound the same sector of solid."""
    foot = vertices[start[edges[0]]]
    flat = triangles.reshape(-1)
    head = vertices[flat[(edges[0] // 3) * 3 + (edges[0] + 1) % 3]]
    axis = (head - foot) / np.linalg.norm(head - foot)
    across = np.cross(axis, [1.0, 0.0, 0.0] if abs(axis[0]) < 0.9 else [0.0, 1.0, 0.0])
    across /= np.linalg.norm(across)
    up = np.cross(axis, across)
    out = vertices[flat[(edges // 3) * 3 + (edges + 2) % 3]] - foot
    angle = np.arctan2(out @ up, out @ across)
    with_axis = start[edges] == start[edges[0]]
    # A triangle that runs with the axis has its solid on the clockwise side, one against it on the other:
    # going round anticlockwise, each sector of solid starts at one against the axis and ends at one with it.
    order = np.argsort(angle, kind="stable")
    first = int(np.argmin(with_axis[order]))
    return np.roll(edges[order], -first)


def _split(vertices: Array, triangles: Ints, twin: Ints) -> tuple[Array, Ints]:
    """Corners joined across twin edges become one vertex each."""
    flat = triangles.reshape(-1)
    corner = np.arange(len(flat))
    following = corner - corner % 3 + (corner + 1) % 3
    label = corner.copy()
    while True:  # the corner at an edge's start and the one at its twin's end are the same vertex
        lowest = np.minimum(label, label[following[twin]])
        np.minimum.at(lowest, following[twin], label)
        lowest = lowest[lowest]
        if np.array_equal(lowest, label):
            break
        label = lowest
    _, first, index = np.unique(label, return_index=True, return_inverse=True)
    return vertices[flat[first]], index.reshape(-1, 3)
