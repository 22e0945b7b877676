"""The overlap map: how many layers lie at each place of the finished face, and how deep."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..solids.arrangement import arrange
from ..stack.stack import Stack


@dataclass(frozen=True)
class OverlapRegion:
    """All places of the finished face with the same number of layers and the same depth, mm."""

    shape: BaseGeometry
    layers: int
    """Pockets that were cut there, one above the other; 0 is bare background."""
    depth: float
    """Depth of the deepest of them, below the raw face; 0 for bare background."""


def overlap_regions(stack: Stack) -> list[OverlapRegion]:
    """Regions that fill the trimmed panel, sorted by layers, then depth."""
    trim = stack.design.panel.face_trim
    pieces = [p for p in stack.pieces if p.depth > trim]
    pockets = np.array([p.pocket_at(trim) for p in pieces], dtype=object)
    lines = shapely.boundary(pockets)
    faces = arrange([stack.finished_box], lines, np.zeros(len(lines), dtype=np.int64))
    inner = shapely.point_on_surface(faces.polygons)
    face, pocket = shapely.STRtree(pockets).query(inner, predicate="within")
    layers = np.bincount(face, minlength=faces.count)
    depth = np.zeros(faces.count)
    np.maximum.at(depth, face, np.array([p.depth for p in pieces])[pocket])
    groups: defaultdict[tuple[int, float], list[BaseGeometry]] = defaultdict(list)
    inside = shapely.covers(stack.finished_box, inner)
    for polygon, key in zip(faces.polygons[inside], zip(layers[inside], depth[inside], strict=True), strict=True):
        groups[int(key[0]), float(key[1])].append(polygon)
    return [OverlapRegion(shapely.union_all(groups[key]), *key) for key in sorted(groups)]
