"""What time and finish do to a wood's colour: cut, settled, aged; bare, waxed, lacquered, oiled.

Time runs from 0 (just cut) by 0.5 (settled) to 1 (aged), straight through L*a*b*: the table knows only the two ends,
and the middle is `colour.settled`.

A finish wets the wood: once a film fills the surface, light that the wood scatters is thrown back into it at the film's
upper face, and has another chance to be absorbed. Of diffuse light inside a film of index 1.5 the share 0.596 comes
back (Saunderson 1942, J. Opt. Soc. Am. 32, 727; the figure from memory), so that a reflectance R becomes
R (1 - k) / (1 - k R): pale woods darken little, saturated ones deepen. Finishes differ in how much of the surface
they wet. Wax is fitted: one coat moves black cherry by 8.4 and white oak by 5.6 (dE*ab, read in abstracts), and lets
lightness and hue fall. No measurement was found for oil and lacquer on planed wood: oil is taken to wet all,
lacquer nearly all; their amber and all gloss are set by eye.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import colour

Array = NDArray[np.float64]

CUT, SETTLED, AGED = 0.0, 0.5, 1.0
THROWN_BACK = 0.596
"""Share of the diffuse light inside the film that its upper face reflects."""
AMBER = np.array([0.0, 0.05, 0.22])
"""What a film of full amber takes from linear red, green and blue."""


@dataclass(frozen=True)
class Finish:
    """A finish of the trade.

    Attributes:
        name: as makers call it.
        depth: share of the surface that is wetted, 0 to 1.
        amber: yellowness of the film, 0 to 1.
        gloss: strength of the clear reflection, 0 to 1.
    """

    name: str
    depth: float
    amber: float
    gloss: float


FINISHES = {
    finish.name: finish
    for finish in (
        Finish("bare", 0.0, 0.0, 0.0),
        Finish("wax", 0.5, 0.0, 0.3),
        Finish("oil", 1.0, 0.6, 0.5),
        Finish("lacquer", 0.85, 0.25, 0.9),
    )
}


def at_age(fresh: str, aged: str, age: float, settled: str | None = None) -> Array:
    """Linear light, shape (3,), of bare wood at an age from 0 to 1, between two colours ``#rrggbb``.

    With a settled colour it runs straight to that one first, and on from there.
    """
    start, end = colour.lab_from_hex(fresh), colour.lab_from_hex(aged)
    if settled is not None:
        middle = colour.lab_from_hex(settled)
        start, end, age = (start, middle, age / SETTLED) if age < SETTLED else (middle, end, age / SETTLED - 1)
    return np.clip(colour.linear_from_lab(start + age * (end - start)), 0, 1)


def finished(linear: ArrayLike, finish: Finish) -> Array:
    """Linear light of wood whose bare colour is `linear` (..., 3), under a finish; without its gloss."""
    bare = np.asarray(linear, float)
    wetted = bare * ((1 - THROWN_BACK) / (1 - THROWN_BACK * bare))
    film = 1 - finish.amber * AMBER
    result: Array = (bare + finish.depth * (wetted - bare)) * film
    return result
