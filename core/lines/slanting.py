"""Slanting lines that fill a shape: what is waste, or taken."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def slanting(rings: Sequence[Array], step: float) -> list[Array]:
    """Lines that slant up to the right across what lies inside an odd number of rings, cut off at them.

    They are those along which x - y is a multiple of the step: where each edge crosses them, in order, two by two.
    """
    edges = np.concatenate([np.zeros((0, 2, 2)), *(np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings)])
    place = (edges[:, :, 0] - edges[:, :, 1]) / step
    low, high = np.sort(np.ceil(place), axis=1).astype(np.int64).T  # an edge has its lower end and not its upper one
    edge = np.repeat(np.arange(len(edges)), high - low)
    line = np.arange(len(edge)) - (np.cumsum(high - low) - high)[edge]
    share = (line - place[edge, 0]) / (place[edge, 1] - place[edge, 0])
    x = edges[edge, 0, 0] + share * (edges[edge, 1, 0] - edges[edge, 0, 0])
    order = np.lexsort([x, line])
    points = np.stack([x, x - line * step], axis=1)[order]
    return list(points.reshape(-1, 2, 2))
