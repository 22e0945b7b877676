"""Vertices where a solid only touches itself, split so that every edge has just one twin."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

NONE = -1


def split_pinches(vertices: Array, triangles: Ints) -> tuple[Array, Ints, Ints]:
    """Give each sheet of the surface vertices of its own where sheets meet along an edge.

    Where two parts of a solid touch along an edge, four triangles share it. Walking round the edge, the two
    triangles that bound the same part belong together; corners that hang together by such pairs are one vertex.
    Two sheets that are still one at both ends of such an edge get a middle vertex each.

    Args:
        vertices: (n, 3); triangles: (m, 3), outward, each edge used as often in one direction as in the other.

    Returns:
        Vertices, the shared ones doubled; triangles (k, 3), the old ones first, in their order, though of those that
        got a middle vertex only a half, the other halves last; and (k,) of which old triangle each is a part.
    """
    twin = _twins(vertices, triangles)
    split, renumbered = _split(vertices, triangles, twin)
    source = np.arange(len(triangles))
    while shared := _still_shared(renumbered):
        for pair in shared:
            split, renumbered, source = _halved(split, renumbered, source, pair)
    return split, renumbered, source


def _twins(vertices: Array, triangles: Ints) -> Ints:
    """The opposite half-edge of each half-edge; where four or more meet, the next one round through the solid."""
    start, end = triangles.reshape(-1), np.roll(triangles, -1, axis=1).reshape(-1)
    key = np.minimum(start, end) * len(vertices) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    key = key[order]
    bounds = np.flatnonzero(np.r_[True, key[1:] != key[:-1], True])
    size = np.diff(bounds)
    twin = np.full(len(start), NONE)
    first = bounds[:-1][size == 2]
    one, other = order[first], order[first + 1]
    opposite = start[one] != start[other]
    one, other = one[opposite], other[opposite]
    twin[one], twin[other] = other, one
    for low in np.flatnonzero(size > 2).tolist():
        edges = order[bounds[low] : bounds[low + 1]]
        for one, other in _paired_round(vertices, triangles, start, edges):
            twin[one], twin[other] = other, one
    return twin


def _paired_round(vertices: Array, triangles: Ints, start: Ints, edges: Ints) -> list[tuple[int, int]]:
    """The half-edges of one edge in pairs that bound the same sector of solid; each pair runs both ways."""
    foot = vertices[start[edges[0]]]
    flat = triangles.reshape(-1)
    head = vertices[flat[(edges[0] // 3) * 3 + (edges[0] + 1) % 3]]
    axis = (head - foot) / max(float(np.linalg.norm(head - foot)), 1e-300)
    across = np.cross(axis, [1.0, 0.0, 0.0] if abs(axis[0]) < 0.9 else [0.0, 1.0, 0.0])
    up = np.cross(axis, across)
    out = vertices[flat[(edges // 3) * 3 + (edges + 2) % 3]] - foot
    angle = np.arctan2(out @ up, out @ across)
    with_axis = start[edges] == start[edges[0]]
    # A triangle that runs with the axis has its solid on the clockwise side, one against it on the other: going round
    # anticlockwise, each sector of solid starts at one against the axis and ends at the next one with it. Sectors
    # thinner than the angles tell apart may come in any order: so they are matched like brackets.
    order = np.argsort(angle, kind="stable")
    depth = np.cumsum(np.where(with_axis[order], -1, 1))
    first = int(np.argmin(depth)) + 1
    pairs, open_ones = [], []
    for edge, closes in zip(np.roll(edges[order], -first).tolist(), np.roll(with_axis[order], -first), strict=True):
        if not closes:
            open_ones.append(edge)
        elif open_ones:
            pairs.append((open_ones.pop(), edge))
    return pairs


def _split(vertices: Array, triangles: Ints, twin: Ints) -> tuple[Array, Ints]:
    """Corners joined across twin edges become one vertex each."""
    flat = triangles.reshape(-1)
    corner = np.arange(len(flat))
    following = corner - corner % 3 + (corner + 1) % 3
    met = twin != NONE
    one, other = corner[met], following[twin[met]]  # the corner at an edge's start and the one at its twin's end
    label = corner.copy()
    while True:
        lowest = label.copy()
        np.minimum.at(lowest, one, label[other])
        np.minimum.at(lowest, other, label[one])
        lowest = lowest[lowest]
        if np.array_equal(lowest, label):
            break
        label = lowest
    _, first, index = np.unique(label, return_index=True, return_inverse=True)
    return vertices[flat[first]], index.reshape(-1, 3)


def _still_shared(triangles: Ints) -> list[tuple[int, int]]:
    """A half-edge each way of edges that more than two triangles share; no triangle comes twice."""
    start, end = triangles.reshape(-1), np.roll(triangles, -1, axis=1).reshape(-1)
    key = np.minimum(start, end) * (int(end.max(initial=0)) + 1) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    bounds = np.flatnonzero(np.r_[True, key[order][1:] != key[order][:-1], True])
    pairs: list[tuple[int, int]] = []
    taken: set[int] = set()
    for low in np.flatnonzero(np.diff(bounds) > 2).tolist():
        free = [edge for edge in order[bounds[low] : bounds[low + 1]].tolist() if edge // 3 not in taken]
        ways = [[edge for edge in free if (start[edge] < end[edge]) == upward] for upward in (True, False)]
        if all(ways):
            pair = ways[0][0], ways[1][0]
            pairs.append(pair)
            taken |= {edge // 3 for edge in pair}
    return pairs


def _halved(vertices: Array, triangles: Ints, source: Ints, pair: tuple[int, int]) -> tuple[Array, Ints, Ints]:
    """Both triangles of a pair of half-edges cut in two at a vertex of its own in the middle of their edge."""
    triangles = triangles.copy()
    new = len(vertices)
    rows, places = [edge // 3 for edge in pair], [edge % 3 for edge in pair]
    ends = [triangles[row, [place, (place + 1) % 3]] for row, place in zip(rows, places, strict=True)]
    middle = vertices[ends[0]].mean(axis=0)
    halves = []
    for row, place in zip(rows, places, strict=True):
        a, b, c = np.roll(triangles[row], -place)
        triangles[row] = np.roll([a, new, c], place)
        halves.append([new, b, c])
    return (
        np.concatenate([vertices, middle[None]]),
        np.concatenate([triangles, halves]),
        np.concatenate([source, source[rows]]),
    )
