"""Proof before cutting: the cutter's disc run along every line that is written, compared with what the solids say.

The swept radius is 0.003 mm smaller than the cutter's: 0.001 as in the solids, 0.002 for the fitted curve, so that a
slot exactly as wide as the cutter survives. Where walls lean the cutter is a cone; it is looked at in the plane of its
tip and at the other face.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..cutter.rounding import RADIUS_SLACK, boundaries_within, grown
from ..cutter.taper import lean, section_at
from ..design import Point
from ..findings.finding import Finding, of
from ..stack.stack import Stack
from .curve import Curve, flattened
from .cuts import InsertCut, PocketCut, batch_cuts
from .fitting import TOLERANCE, fit_rings

Array = npt.NDArray[np.float64]

SAME = 0.01
"""What the cutter leaves may differ from the solids by this, mm."""
STEPS = (0.005, SAME)
THINNED = 0.0005
"""Boundaries are compared with so many vertices left out that they move by no more than this, mm."""
SWEEP = 0.0005
"""Lines are flattened within this for the sweep, mm."""


@dataclass(frozen=True, eq=False)
class Proof:
    """What one cut leaves, beside what the solids say."""

    cut: PocketCut | InsertCut
    swept: BaseGeometry
    """All that is cleared for a pocket, or what is left standing of an insert; in the tip's plane, on the panel."""
    path: BaseGeometry
    """Where the cutter's middle runs along the lines."""
    difference: float
    """The farthest that either boundary lies from the other, mm, in the worse of the planes looked at; at most."""
    at: Point
    """Where, on the panel."""

    @property
    def same(self) -> bool:
        """Whether lines and solids agree."""
        return self.difference <= SAME


def prove_batch(stack: Stack, number: int) -> list[Proof]:
    """The proofs of all cuts of one batch (from 1), pockets first, their lines fitted as they are written."""
    cuts = batch_cuts(stack, number).cuts
    curves = iter(fit_rings([line.source for cut in cuts for line in cut.lines]))
    return [prove(cut, [next(curves) for _ in cut.lines]) for cut in cuts]


def prove(cut: PocketCut | InsertCut, curves: Sequence[Curve]) -> Proof:
    """Run the cutter along the lines of a cut, where they lie on the panel, as the `curves` that are written."""
    rings = [flattened(curve, SWEEP) for curve in curves]
    radius = cut.placed.piece.cutter_radius - RADIUS_SLACK - TOLERANCE
    if isinstance(cut, InsertCut):
        return _insert(cut, shapely.polygons(rings[0], rings[1:] or None), radius)
    if cut.placed.piece.is_groove:
        line = shapely.linestrings(rings[0])
        swept = grown(line, cut.placed.piece.cutter_radius)
        return _proof(cut, swept, line, [(swept, cut.shape)])
    return _pocket(cut, _area(cut, rings), radius)


def _area(cut: PocketCut, rings: Sequence[Array]) -> BaseGeometry:
    """What the lines of a pocket bound: each edge with the islands that follow it."""
    edges = [number for number, line in enumerate(cut.lines) if line.layer == "POCKET_EDGE"]
    ends = [*edges[1:], len(rings)]
    parts = [shapely.polygons(rings[a], list(rings[a + 1 : b]) or None) for a, b in zip(edges, ends, strict=True)]
    return parts[0] if len(parts) == 1 else shapely.multipolygons(parts)


def _pocket(cut: PocketCut, area: BaseGeometry, radius: float) -> Proof:
    middles = grown(area, -radius)
    swept = grown(middles, radius)
    pairs = [(swept, cut.shape)]
    piece = cut.placed.piece
    if piece.taper:
        pairs.append((grown(middles, radius + lean(piece.taper, cut.depth)), cut.placed.pocket))
    return _proof(cut, swept, shapely.boundary(middles), pairs)


def _insert(cut: InsertCut, area: BaseGeometry, radius: float) -> Proof:
    middles = grown(area, radius)
    kept = grown(middles, -radius)
    pairs = [(kept, cut.shape)]
    piece = cut.placed.piece
    if piece.taper:
        back = grown(middles, -radius - lean(piece.taper, cut.thickness))
        pairs.append((back, section_at(cut.shape, piece.taper, cut.thickness)))
    return _proof(cut, kept, shapely.boundary(middles), pairs)


def _proof(
    cut: PocketCut | InsertCut,
    swept: BaseGeometry,
    path: BaseGeometry,
    pairs: Sequence[tuple[BaseGeometry, BaseGeometry]],
) -> Proof:
    apart = [_apart(*pair) for pair in pairs]
    worst = int(np.argmax(apart))
    x, y = _where(*pairs[worst]) if apart[worst] > SAME else (0.0, 0.0)
    return Proof(cut, swept, path, apart[worst], (x, y))


def _apart(one: BaseGeometry, other: BaseGeometry) -> float:
    """The Hausdorff distance of two boundaries, from their vertices; endless where one is empty.

    Rounded up to the first of `STEPS`: that a distance is within a bound is much quicker to tell than how large it is.
    """
    if one.is_empty or other.is_empty:
        return 0.0 if one.is_empty and other.is_empty else float("inf")
    thin = [shapely.simplify(shapely.boundary(shape), THINNED, preserve_topology=False) for shape in (one, other)]
    for step in STEPS:
        if boundaries_within(thin[0], thin[1], step - 2 * THINNED):
            return step
    return float(shapely.hausdorff_distance(shapely.boundary(one), shapely.boundary(other)))


def _where(one: BaseGeometry, other: BaseGeometry) -> Point:
    """The vertex of either boundary that lies farthest from the other."""
    found: list[tuple[float, Point]] = []
    for a, b in ((one, other), (other, one)):
        points = shapely.get_coordinates(a)
        if len(points):
            away = shapely.distance(shapely.boundary(b), shapely.points(points)) if not b.is_empty else np.ones(1)
            x, y = points[int(np.argmax(away))].tolist()
            found.append((float(np.max(away)), (x, y)))
    return max(found)[1]


def discs_along(proof: Proof, apart: float, corners: int) -> Array:
    """The cutter's disc here and there along its way, to be drawn.

    Args:
        proof: whose way.
        apart: how far apart the discs stand, mm, at most a little more.
        corners: of a disc.

    Returns:
        (n, 2), mm: ends of the discs' edges, two by two.
    """
    angles = np.linspace(0.0, 2 * np.pi, corners + 1)
    ring = proof.cut.placed.piece.cutter_radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    middles = [np.zeros((0, 2))]
    middles += [points_along(line, apart) for line in shapely.get_parts(proof.path)]
    points: Array = (np.concatenate(middles)[:, None] + _pairs(ring)).reshape(-1, 2)
    return points


def points_along(line: BaseGeometry, apart: float) -> Array:
    """Points (n, 2) on a line, mm, about so far apart from each other, two at least."""
    along = np.linspace(0.0, line.length, max(2, round(line.length / apart)), endpoint=False)
    points: Array = shapely.get_coordinates(shapely.line_interpolate_point(line, along))
    return points


def edge_left(proof: Proof) -> Array:
    """Ends of the edges, two by two, (n, 2) in mm, of what the cutter leaves."""
    rings = [shapely.get_coordinates(ring) for ring in shapely.get_rings(shapely.get_parts(proof.swept))]
    return np.concatenate([np.zeros((0, 2)), *(_pairs(ring) for ring in rings)])


def _pairs(ring: Array) -> Array:
    """Ends of the edges of a ring (n + 1, 2), two by two, (2 n, 2)."""
    ends: Array = np.stack([ring[:-1], ring[1:]], axis=1).reshape(-1, 2)
    return ends


def line_differs(proofs: Sequence[Proof]) -> Iterator[Finding]:
    """A finding for each cut whose lines leave something else than the solids show."""
    for proof in proofs:
        if not proof.same:
            what = "insert" if isinstance(proof.cut, InsertCut) else "pocket"
            words = f"the cutter run along the line of its {what} leaves it {_length(proof.difference)} off the solid"
            remedy = "Use a smaller cutter, or a larger corner_radius; where walls lean, let it stand less proud"
            yield of("error", "line-differs", proof.cut.placed, proof.at, words, remedy)


def _length(difference: float) -> str:
    return f"{difference:.2f} mm" if np.isfinite(difference) else "altogether"
