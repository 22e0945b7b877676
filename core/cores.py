"""Work on long arrays of shapes, shared among the processor's cores."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

Row = npt.NDArray[Any]

WORTH_IT = 10_000
"""Shapes with fewer points than this, all together, are worked on sooner than threads start."""
MOST = 8
"""Threads, at most."""


def shared(work: Callable[..., Row], *rows: Row) -> Row:
    """What `work` makes of arrays, element by element, worked out on several cores.

    Threads gain by it since shapely's functions on arrays let other threads run meanwhile.

    Args:
        work: takes arrays of one length, returns one of that length, and touches nothing else.
        rows: the arrays, all of one length (n,), the first of shapes.
    """
    count = len(rows[0])
    threads = min(MOST, os.cpu_count() or 1, count // 2)
    if threads < 2 or shapely.get_num_coordinates(rows[0]).sum() < WORTH_IT:
        return work(*rows)
    ends = np.linspace(0, count, min(count, 4 * threads) + 1).astype(int)  # some parts take longer
    parts = [[row[a:b] for row in rows] for a, b in pairwise(ends.tolist())]
    with ThreadPoolExecutor(threads) as pool:
        return np.concatenate(list(pool.map(lambda part: work(*part), parts)))
