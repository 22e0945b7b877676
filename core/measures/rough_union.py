"""All pockets together, drawn with few corners: quick enough to look for places that are then measured exactly."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..kept import Kept
from ..stack.stack import Stack

Shapes = npt.NDArray[np.object_]

ROUGH = 0.02
"""Pockets are drawn this much more roughly, mm."""
_UNIONS: Kept[Shapes] = Kept(64)
_ROUGHLY: Kept[BaseGeometry] = Kept(16384)


def rough_union(stack: Stack) -> Shapes:
    """All that is cut from the face, part by part, within 0.02 mm."""
    pockets = [placed.pocket for placed in stack.pieces if placed.sound]
    (parts,) = _UNIONS.of([pockets], lambda _: [_together(pockets)])
    return parts


def _together(pockets: Sequence[BaseGeometry]) -> Shapes:
    rough = _ROUGHLY.of(
        [(pocket,) for pocket in pockets],
        lambda new: list(shapely.simplify(np.array([pockets[i] for i in new], dtype=object), ROUGH)),
    )
    return np.asarray(shapely.get_parts(shapely.union_all(rough)))


def holes_of(parts: Shapes) -> Shapes:
    """What is left in the midst of each part."""
    rings = [ring for part in parts for ring in shapely.get_rings(part)[1:]]
    return np.asarray(shapely.polygons(rings)) if rings else np.empty(0, dtype=object)
