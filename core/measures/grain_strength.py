"""How grain direction weakens a narrow place: a rank among places, never a force.

Hankinson's formula (Air Service Information Circular 259, 1921; general exponent as in the Wood Handbook, ch. 5)
between the strengths along (P) and across (Q) the grain. Narrow places break by bending, so the ratio and the
exponent are the middles of the handbook's ranges for bending strength: Q/P 0.04 to 0.10, n 1.5 to 2 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .necks import Neck, Point

Array = npt.NDArray[np.float64]

CROSS_RATIO = 0.07
"""Bending strength across the grain over that along it."""
EXPONENT = 1.75
PUSH = 10.0
"""A careless push of a hand, N: about the weight of one kilogram (common practice, no published source)."""
BEARS_ACROSS = 8.0
"""Bending strength across the grain, N/mm²: `CROSS_RATIO` of some 110 along it (Wood Handbook, from memory)."""
NO_BETTER = 1.01
"""A grain direction is better than another only if it makes the weakest place stronger by this ratio."""


@dataclass(frozen=True)
class WeakPlace:
    """The place of a neck that ranks lowest."""

    at: Point
    width: float
    """mm"""
    run: float
    """Degrees in [0, 180): the direction along the neck here."""
    off_grain: float
    """Degrees in [0, 90] between run and grain."""
    rank: float


def hankinson(along: float, across: float, degrees: npt.ArrayLike, exponent: float = 2.0) -> Array:
    """Strength at an angle to the grain, N = P Q / (P sin^n t + Q cos^n t), in the unit of P and Q.

    Args:
        along: P, strength along the grain, > 0.
        across: Q, strength across the grain, > 0.
        degrees: angle(s) between load and grain, any.
        exponent: n.
    """
    t = np.radians(degrees)
    sine, cosine = np.abs(np.sin(t)) ** exponent, np.abs(np.cos(t)) ** exponent
    strength: Array = along * across / (along * sine + across * cosine)
    return strength


def grain_factor(degrees: npt.ArrayLike) -> Array:
    """Strength at an angle to the grain over that along it, in (0, 1]."""
    return hankinson(1.0, CROSS_RATIO, degrees, EXPONENT)


def rank(width: npt.ArrayLike, thickness: float, degrees: npt.ArrayLike) -> Array:
    """What orders narrow places from weak to strong: width² × thickness × grain factor (mm³; no force)."""
    ranks: Array = np.square(np.asarray(width, dtype=float)) * thickness * grain_factor(degrees)
    return ranks


def snapping_lever(width: float, thickness: float) -> float:
    """From how long a lever on a careless push may snap a neck that lies across its grain, mm.

    A beam's stress 6 F a / (w² t) is then what it bears (beam theory). It only sorts long thin necks from short stout
    ones and is no promise.
    """
    return BEARS_ACROSS * width**2 * thickness / (6 * PUSH)


def off_grain(run: npt.ArrayLike, grain: npt.ArrayLike) -> Array:
    """The angle between two directions without a sense, degrees in [0, 90]."""
    apart = np.abs(np.asarray(run, dtype=float) - np.asarray(grain, dtype=float)) % 180
    angle: Array = np.minimum(apart, 180 - apart)
    return angle


def weakest_place(neck: Neck, thickness: float, grain: float) -> WeakPlace:
    """Where a neck breaks first: not always at its narrowest, since it may bend across the grain elsewhere."""
    return min(places_of(neck.course, thickness, grain), key=lambda place: place.rank)


def places_of(course: Array, thickness: float, grain: float) -> list[WeakPlace]:
    """Places of a neck's course (n, 4), each with its angle to the grain and its rank."""
    width, run = course[:, 2], course[:, 3]
    angle = off_grain(run, grain)
    told = np.column_stack([course, angle, rank(width, thickness, angle)]).tolist()
    return [WeakPlace((x, y), w, r, a, ranked) for x, y, w, r, a, ranked in told]


def suggest_grain(necks: Sequence[Neck], present: float) -> float:
    """The grain direction of a piece that keeps its weakest narrow place strongest.

    All places of a piece are equally thick, so thickness does not matter.

    Args:
        necks: those of the piece.
        present: its grain now, degrees from +x.

    Returns:
        Whole degrees in [0, 180); of directions that are as good within 1 % the one that turns the grain least;
        `present` as it is where none is better.
    """
    if not necks:
        return present
    courses = np.concatenate([neck.course for neck in necks])
    directions = np.append(np.arange(180.0), present)
    ranks = rank(courses[:, 2], 1.0, off_grain(courses[:, 3], directions[:, None])).min(axis=1)
    good = directions[ranks * NO_BETTER >= ranks.max()]
    return float(good[np.argmin(off_grain(good, present) - 1e-9 * (good == present))])
