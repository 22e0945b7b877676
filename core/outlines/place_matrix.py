"""A piece's place as a 2 x 2 matrix and back: turn, scale, mirror, and what of it only the outline can take up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .curves import Array

EVEN = 2e-6
"""Scales that differ by no more than this share are one: about what single precision can tell."""


@dataclass(frozen=True)
class Placement:
    """Scale, then mirror (x to -x), then turn counter-clockwise. `outline` comes before all of them."""

    turn: float
    scale: float
    mirror: bool
    outline: Array | None = None
    """(2, 2): a stretch or shear for the outline itself; None where there is none (then scale is that of the matrix,
    else 1)."""


def placement_of(matrix: Sequence[Sequence[float]] | Array) -> Placement | None:
    """The placement that a 2 x 2 matrix makes; None where it flattens the piece to a line.

    A similarity is turn, scale and mirror. Of any other, the turn is that of its nearest turned mirror (its polar
    decomposition, by singular values); the symmetric rest is left to the outline, with no scale beside it.
    """
    m = np.asarray(matrix, np.float64)
    u, stretches, v = np.linalg.svd(m)
    if stretches[1] <= 1e-9 * stretches[0] or not np.all(np.isfinite(m)):
        return None
    mirror = bool(np.linalg.det(m) < 0)
    turned = u @ v @ np.diag([-1.0, 1.0]) if mirror else u @ v
    turn = math.degrees(math.atan2(turned[1, 0], turned[0, 0]))
    if stretches[0] - stretches[1] <= EVEN * stretches[0]:
        return Placement(turn, float(math.sqrt(stretches[0] * stretches[1])), mirror)
    flip = np.diag([-1.0 if mirror else 1.0, 1.0])
    return Placement(turn, 1.0, mirror, flip @ turned.T @ m)


def matrix_of(turn: float, scale: float, mirror: bool) -> Array:
    """The 2 x 2 matrix of a placement."""
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    made: Array = scale * np.array([[cos, -sin], [sin, cos]]) @ np.diag([-1.0 if mirror else 1.0, 1.0])
    return made


def mirrored(
    at: tuple[float, float], turn: float, mirror: bool, axis: str, line: float
) -> tuple[tuple[float, float], float, bool]:
    """Where a placement lies after a reflection: "x" swaps left and right about x = line, "y" up and down."""
    if axis == "x":
        return (2 * line - at[0], at[1]), -turn, not mirror
    return (at[0], 2 * line - at[1]), 180.0 - turn, not mirror


def turned_grain(grain: float, before: tuple[float, bool], after: tuple[float, bool]) -> float:
    """A grain direction that goes with its piece, as (turn, mirror) change; degrees."""
    own = grain - before[0]
    if before[1] != after[1]:
        own = -own  # 180 - own, and a direction along the grain has no sign
    return own + after[0]


def shortest(value: float, unit: float = 1.0) -> float:
    """The number with the fewest decimals that single precision cannot tell from `value` when both are in Blender.

    Args:
        value: a single-precision number, as Blender stores it.
        unit: how many of Blender's units one of ours is (0.001 for mm); the result is in ours.
    """
    stored = np.float32(value)
    for digits in range(12):
        number = round(float(stored) / unit, digits)
        if np.float32(number * unit) == stored:
            return number + 0.0  # no minus zero
    return float(stored) / unit
