"""Proof before cutting: the cutter's disc run along every line that is written, compared with what the solids say.

The swept radius is 0.003 mm smaller than the cutter's: 0.001 as in the solids, 0.002 for the fitted curve, so that a
slot exactly as wide as the cutter survives. Where walls lean the cutter is a cone; it is looked at in the plane of its
tip and at the other face.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import EMPTY
from ..cutter.rounding import RADIUS_SLACK, all_within, grown
from ..cutter.taper import lean, section_at
from ..design import Point
from ..findings.finding import Finding, of
from ..stack.stack import Stack
from .curve import Curve, all_flattened
from .cuts import InsertCut, PocketCut, batch_cuts
from .fitting import TOLERANCE, fit_rings

Array = npt.NDArray[np.float64]
Cut = PocketCut | InsertCut

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

    cut: Cut
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
    return prove(cuts, [[next(curves) for _ in cut.lines] for cut in cuts])


def prove(cuts: Sequence[Cut], curves: Sequence[Sequence[Curve]]) -> list[Proof]:
    """Run the cutter along the lines of each cut, where they lie on the panel, as the `curves` that are written."""
    points = iter(all_flattened([curve for of_cut in curves for curve in of_cut], SWEEP))
    rings = [[next(points) for _ in of_cut] for of_cut in curves]
    runs = [_Run(cut, *_line_and_area(cut, own)) for cut, own in zip(cuts, rings, strict=True)]
    _sweep([run for run in runs if not run.in_groove])
    apart = _apart([pair for run in runs for pair in run.pairs])
    ends = np.cumsum([len(run.pairs) for run in runs])
    return [_proof(run, own) for run, own in zip(runs, np.split(apart, ends[:-1]), strict=True)]


@dataclass(eq=False)
class _Run:
    """The cutter's way along the lines of one cut, as it is worked out."""

    cut: Cut
    path: BaseGeometry
    """Where the cutter's middle runs."""
    area: BaseGeometry
    """What the lines bound."""
    swept: BaseGeometry = EMPTY
    pairs: list[tuple[BaseGeometry, BaseGeometry]] = field(default_factory=list)
    """What is left, and what the solids say, in each plane that is looked at."""

    def __post_init__(self) -> None:
        if self.in_groove:
            self.swept = grown(self.path, self.cut.placed.piece.cutter_radius)
            self.pairs = [(self.swept, self.cut.shape)]

    @property
    def in_groove(self) -> bool:
        """Whether it runs along a centre line."""
        return bool(self.area.is_empty)

    @property
    def outside(self) -> bool:
        """Whether it runs round the outside, as of inserts."""
        return isinstance(self.cut, InsertCut)


def _line_and_area(cut: Cut, rings: Sequence[Array]) -> tuple[BaseGeometry, BaseGeometry]:
    """The centre line of a groove, else what the lines bound: each edge with the islands or holes that follow it."""
    if isinstance(cut, InsertCut):
        return EMPTY, shapely.polygons(rings[0], rings[1:] or None)
    if cut.placed.piece.is_groove:
        return shapely.linestrings(rings[0]), EMPTY
    edges = [number for number, line in enumerate(cut.lines) if line.layer == "POCKET_EDGE"]
    ends = [*edges[1:], len(rings)]
    parts = [shapely.polygons(rings[a], list(rings[a + 1 : b]) or None) for a, b in zip(edges, ends, strict=True)]
    return EMPTY, parts[0] if len(parts) == 1 else shapely.multipolygons(parts)


def _sweep(runs: Sequence[_Run]) -> None:
    """Where the cutter's middle runs and what is left, all with one cutter and on one side of the line at once."""
    groups: dict[tuple[bool, float], list[_Run]] = {}
    for run in runs:
        groups.setdefault((run.outside, run.cut.placed.piece.cutter_radius), []).append(run)
    for (outside, cutter_radius), group in groups.items():
        radius = (cutter_radius - RADIUS_SLACK - TOLERANCE) * (1 if outside else -1)
        middles = grown(np.array([run.area for run in group], dtype=object), radius)
        swept, paths = grown(middles, -radius), shapely.boundary(middles)
        for run, middle, left, path in zip(group, middles, swept, paths, strict=True):
            run.swept, run.path = left, path
            run.pairs = [(left, run.cut.shape), *_other_plane(run.cut, middle, radius)]


def _other_plane(cut: Cut, middle: BaseGeometry, radius: float) -> Iterator[tuple[BaseGeometry, BaseGeometry]]:
    """Where walls lean, what is left at the face that the tip is not at, and what the solids say there."""
    taper = cut.placed.piece.taper
    if not taper:
        return
    if isinstance(cut, InsertCut):
        yield grown(middle, -radius - lean(taper, cut.thickness)), section_at(cut.shape, taper, cut.thickness)
    else:
        yield grown(middle, -radius + lean(taper, cut.depth)), cut.placed.pocket


def _proof(run: _Run, apart: Array) -> Proof:
    worst = int(np.argmax(apart))
    x, y = _where(*run.pairs[worst]) if apart[worst] > SAME else (0.0, 0.0)
    return Proof(run.cut, run.swept, run.path, float(apart[worst]), (x, y))


def _apart(pairs: Sequence[tuple[BaseGeometry, BaseGeometry]]) -> Array:
    """The Hausdorff distance (n,) of the boundaries of each pair, from their vertices; endless where one is empty.

    Rounded up to the first of `STEPS`: that a distance is within a bound is much quicker to tell than how large it is.
    """
    shapes = np.array(pairs, dtype=object).reshape(-1, 2)
    empty = shapely.is_empty(shapes)
    apart = np.where(empty.all(axis=1), 0.0, np.inf)
    left = np.flatnonzero(~empty.any(axis=1))
    thin = shapely.simplify(shapely.boundary(shapes), THINNED, preserve_topology=False)
    for step in STEPS:
        near = all_within(thin[left, 0], thin[left, 1], step - 2 * THINNED)
        apart[left[near]] = step
        left = left[~near]
    apart[left] = shapely.hausdorff_distance(*shapely.boundary(shapes[left]).T)
    return apart


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
