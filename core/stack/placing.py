"""Where a piece lies on the panel: mirror, turn, move. Scale is in the outline already."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..design import Piece

Array = npt.NDArray[np.float64]


def place_points(points: npt.ArrayLike, piece: Piece) -> Array:
    """Move points (n, 2) from the piece's own frame to the panel, mm: mirror, turn, move."""
    x, y = np.asarray(points, dtype=float).T
    if piece.mirror:
        x = -x
    cos, sin = _exact_turn(piece.turn)
    return np.stack([cos * x - sin * y + piece.at[0], sin * x + cos * y + piece.at[1]], axis=1)


def place(shape: BaseGeometry, piece: Piece) -> BaseGeometry:
    """Move a shape from the piece's own frame to the panel."""
    placed: BaseGeometry = shapely.transform(shape, lambda points: place_points(points, piece))
    return placed


def _exact_turn(degrees: float) -> tuple[float, float]:
    """Cosine and sine, exact at the quarter turns, so that a turned square keeps its grid."""
    quarters, rest = divmod(degrees, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
    return math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
