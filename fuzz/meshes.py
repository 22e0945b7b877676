"""What a mesh must be, by counts of our own that share nothing with core."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Triangles = npt.NDArray[np.int32] | npt.NDArray[np.int64]


def faulty_edges(triangles: Triangles) -> int:
    """Directed edges that are there twice, have no opposite, or run from a vertex to itself; 0 for a closed mesh."""
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]).astype(np.int64)
    if not len(edges):
        return 0
    count = int(triangles.max()) + 1
    forward = np.sort(edges[:, 0] * count + edges[:, 1])
    back = np.sort(edges[:, 1] * count + edges[:, 0])
    doubled = int(np.count_nonzero(forward[1:] == forward[:-1]))
    place = np.minimum(np.searchsorted(back, forward), len(back) - 1)
    return doubled + int(np.count_nonzero(back[place] != forward)) + int(np.count_nonzero(edges[:, 0] == edges[:, 1]))


def enclosed(vertices: Array, triangles: Triangles) -> float:
    """The volume that a mesh encloses, mm³, negative where it is turned inside out.

    The divergence theorem: a sixth of the sum of a · (b × c), taken from a corner of the mesh so as to lose no digits.
    """
    corners = (vertices - vertices[0])[triangles]
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6
