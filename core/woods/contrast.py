"""How well two woods are told apart: cut and aged, by normal eyes and by those that confuse colours.

The difference is CIEDE2000 between the finished colours. From `LOW` on two woods read as two: boards of one wood
differ among themselves by about as much. Of spruce, L*, a* and b* were measured to vary with standard deviations of
3.70, 2.13 and 1.79 (SEEN in a journal's abstract), so that two of its boards lie 6.5 apart in L*a*b* (DERIVED) and a
good 4 by CIEDE2000. That 6 is enough for a picture is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from . import colour, vision
from .finish import AGED, CUT, FINISHES, at_age, finished
from .species import Species

Array = NDArray[np.float64]

LOW = 6.0
TIMES = (CUT, AGED)
FINISH = FINISHES["oil"]
"""The finish under which woods are compared. It brings them nearer together than bare wood or any other finish does."""


@lru_cache(maxsize=1024)
def _seen(wood: Species) -> Array:
    """L*a*b* of a finished wood, for each of `TIMES` and each of `vision.EYES`: (2, 4, 3)."""
    linear = np.stack([finished(at_age(wood.fresh_colour, wood.aged_colour, time), FINISH) for time in TIMES])
    seen = np.stack([vision.seen_by(linear, eyes) for eyes in vision.EYES], axis=1)
    return colour.lab_from_linear(np.clip(seen, 0, 1))


@lru_cache(maxsize=4096)
def contrast(one: Species, other: Species) -> Array:
    """CIEDE2000 between two woods, for each of `TIMES` and each of `vision.EYES`: (2, 4)."""
    return colour.difference(_seen(one), _seen(other))


def reads(one: Species, other: Species) -> bool:
    """Whether everyone tells two woods apart, cut and aged."""
    return bool((contrast(one, other) >= LOW).all())


def lightness(wood: Species) -> float:
    """L* of the bare, fresh wood."""
    return float(colour.lab_from_hex(wood.fresh_colour)[0])


def better_wood(instead: Species, beside: Iterable[Species], in_hand: Mapping[str, Species]) -> str | None:
    """Name the wood most like `instead`, of those that everyone can tell from all its neighbours.

    Args:
        instead: the wood that it would take the place of.
        beside: what the piece touches.
        in_hand: to choose from, by the names that the maker gives them.

    Returns:
        None where no other wood is told from all of them.
    """
    neighbours = list(beside)
    fit = [
        (float(contrast(instead, wood)[0, 0]), name)
        for name, wood in in_hand.items()
        if wood != instead and all(reads(wood, neighbour) for neighbour in neighbours)
    ]
    return min(fit)[1] if fit else None
