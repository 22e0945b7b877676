"""Where glue is seen: the gaps between inserts and their pockets in the finished face, as wide as they are."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import EMPTY, NOISE_AREA
from ..stack.stack import Stack


def glue_lines(stack: Stack) -> BaseGeometry:
    """All glue in the finished face, inside the edge trim, mm: each pocket less its insert and the later pockets."""
    trim = stack.design.panel.face_trim
    pockets = np.array([placed.pocket_at(trim) for placed in stack.pieces], dtype=object)
    inserts = np.array([placed.insert_at(trim) for placed in stack.pieces], dtype=object)
    later = [shapely.union_all(pockets[list(placed.cut_by)]) if placed.cut_by else EMPTY for placed in stack.pieces]
    gaps = shapely.difference(shapely.difference(pockets, inserts), np.array(later, dtype=object))
    parts = shapely.get_parts(shapely.intersection(gaps, stack.finished_box))
    kept = (shapely.get_dimensions(parts) == 2) & (shapely.area(parts) > NOISE_AREA)
    lines: BaseGeometry = shapely.multipolygons(parts[kept])
    return lines
