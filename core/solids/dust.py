"""Hair-thin wood that no saw leaves standing: it counts as gap, and is told apart from the gap that is measured.

A face of an arrangement so thin that nothing of it is left when it is drawn in by `HAIR_HALF` stands no higher than
the highest face beside it, within its block, that is lower than itself; one that stands alone is no wood at all. Other
faces stay as they are, so does a hair with higher wood alone beside it: that is the floor of a slit.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely

from .arrangement import Faces, corner_ids, group

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

HAIR_HALF = 0.005
"""Wood thinner than twice this, mm, is dust (common practice: what a cutter's runout takes)."""


def sweep_dust(faces: Faces, bottom: Array, top: Array) -> tuple[Array, Array]:
    """Tops without hairs, and the dust that was swept off.

    Args:
        faces: the arrangements.
        bottom: (blocks,) z of each block's bottom, mm.
        top: (f,) z of each face's top; not above its bottom: the face is void; -inf: it lies outside its block.

    Returns:
        (f,) new tops, and (blocks,) mm³ of dust.
    """
    dust = np.zeros(len(bottom))
    hairs = _hairs(faces, top > bottom[faces.block])
    if not len(hairs):
        return top, dust
    floor = bottom[faces.block]
    lowered = np.maximum(top, floor)
    lowered[hairs] = np.maximum(_next_lower(faces, lowered, ~np.isneginf(top), hairs), floor[hairs])
    area = shapely.area(faces.polygons[hairs])
    np.add.at(dust, faces.block[hairs], area * (top[hairs] - lowered[hairs]))
    return lowered, dust


def _hairs(faces: Faces, wood: npt.NDArray[np.bool_]) -> Ints:
    """Faces of wood that vanish when drawn in. A disc of area / perimeter fits into every shape."""
    polygons = faces.polygons
    thin: Ints = np.flatnonzero(wood & (shapely.area(polygons) <= HAIR_HALF * shapely.length(polygons)))
    if not len(thin):
        return thin
    vanish = shapely.is_empty(shapely.buffer(polygons[thin], -HAIR_HALF, join_style="mitre"))
    return np.asarray(thin[vanish])


def _next_lower(faces: Faces, top: Array, within: npt.NDArray[np.bool_], chosen: Ints) -> Array:
    """For each chosen face the highest top below its own among those beside it within its block.

    Its own top where all beside it are higher; -inf where none is beside it.
    """
    concerned = np.isin(faces.block, np.unique(faces.block[chosen]))
    ring_face = np.repeat(np.arange(faces.count), np.diff(faces.face_rings))
    corner_face = np.repeat(ring_face, np.diff(faces.ring_starts))
    ends = np.zeros(len(corner_face), dtype=bool)
    ends[faces.ring_starts[1:] - 1] = True
    kept = np.flatnonzero(concerned[corner_face])
    corner_face, ends = corner_face[kept], ends[kept]
    _, number = corner_ids(faces.corners[kept], faces.block[corner_face])
    at = np.flatnonzero(~ends)
    one, other = number[at].astype(np.uint64), number[at + 1].astype(np.uint64)
    first, edge = group(np.minimum(one, other), np.maximum(one, other))
    face = corner_face[at]
    leader = face[first[edge]]
    pairs = np.flatnonzero(leader != face)
    mine, beside = np.concatenate([face[pairs], leader[pairs]]), np.concatenate([leader[pairs], face[pairs]])
    both = within[beside]
    mine, beside = mine[both], beside[both]
    lower = top[beside] < top[mine]
    highest = np.full(faces.count, -np.inf)
    np.maximum.at(highest, mine[lower], top[beside[lower]])
    dips = np.ones(faces.count, dtype=bool)
    dips[mine] = False
    dips[mine[lower]] = True
    return np.where(dips, highest, top)[chosen]
