"""What the cutter makes of an outline: the pocket that it can reach and the insert that it leaves.

All in the outline's own frame (scaled; not yet mirrored, turned or moved), so that moving a piece
never rounds it again. Rules: design notes on *Cutter*, *Fit outline*, *As drawn*, *Grooves*.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import EMPTY, NOISE_AREA, quadrant_segments, without_noise
from ..design import Piece
from ..outlines.piece_shape import Outline
from .taper import inset, lean, settled

RADIUS_SLACK = 0.001
"""Radii are taken this much smaller, mm, so that a slot exactly as wide as the cutter survives."""
SIMPLIFY_TOLERANCE = 0.001
LONG_EDGE = 0.2
"""Edges longer than this, mm, stay where they are when a shape is simplified."""
UNMOVED = 0.002
"""A rounding that moves the boundary nowhere further than this, mm, leaves the outline as it is."""
THIN = 0.02
"""A part that opening takes off again counts only where it is wider than this, mm."""
MAX_BRIDGES = 50

TOO_NARROW = "nothing is left of the pocket or the insert after rounding and clearance"
WALLS_MEET = "the walls of pocket or insert lean so far that they meet before the pocket's floor"
PARTS_MEET = (
    "its walls lean so far that two of its parts, or the sides of a gap or a hole in it, meet above the face, where "
    "inserts stand proud"
)


@dataclass(frozen=True)
class Fit:
    """Pocket and insert of one piece in its own frame, at the face (z = 0)."""

    pocket: BaseGeometry
    insert: BaseGeometry
    """As sawn; in a rounded fit it lies inside its pocket, drawn as drawn it may bind."""
    cut: BaseGeometry
    """Of the outline, what no pocket reaches."""
    filled: BaseGeometry
    """Of the pocket, what the outline does not have."""
    problem: str | None = None
    """Why there is no fit, in words; None where there is one."""


def grown(shape: BaseGeometry, distance: float) -> BaseGeometry:
    """Minkowski sum with a disc (distance > 0) or difference (< 0), arcs within 0.0002 mm."""
    result: BaseGeometry = shapely.buffer(shape, distance, quad_segs=quadrant_segments(abs(distance)))
    return result


def opening(shape: BaseGeometry, radius: float) -> BaseGeometry:
    """All that a disc of `radius` reaches from inside the shape: what a cutter can cut."""
    return grown(grown(shape, -radius), radius)


def closing(shape: BaseGeometry, radius: float) -> BaseGeometry:
    """The shape with all filled that a disc of `radius` cannot reach from outside."""
    return grown(grown(shape, radius), -radius)


def rounded_fit(outline: BaseGeometry, corner_radius: float) -> BaseGeometry:
    """The fit outline F that one cutter can both pocket and saw: open and closed for `corner_radius`.

    Opening, then closing. A bridge that closing made, thinner than the cutter, is cut away again with
    the cutter's own width around it, until none is left; plain alternation of the two need not end.

    Args:
        outline: polygon or multipolygon, mm, valid.
        corner_radius: rho, mm, > 0.

    Returns:
        F, simplified within 0.001 mm; the outline itself, vertex for vertex, where rounding moves its
        boundary nowhere by more than 0.002 mm; empty where nothing is wide enough.
    """
    radius = corner_radius - RADIUS_SLACK
    fit = closing(opening(outline, radius), radius)
    for _ in range(MAX_BRIDGES):
        bridges = _bridges(fit, radius)
        if bridges.is_empty:
            break
        fit = closing(opening(shapely.difference(fit, grown(bridges, corner_radius)), radius), radius)
    if not fit.is_empty and boundaries_within(outline, fit, UNMOVED):
        return outline
    return without_noise(simplified(fit))


def simplified(shape: BaseGeometry) -> BaseGeometry:
    """The shape with fewer vertices, within 0.001 mm. Long edges keep both their ends.

    Without that a straight edge loses the first vertex of its corner's arc and tilts, which changes the area
    by half a micrometre times its length, ten times what the arc itself may lose.
    """
    if shape.is_empty:
        return EMPTY
    polygons = shapely.get_parts(shape)
    rings = [_simplified_ring(shapely.get_coordinates(ring)) for ring in shapely.get_rings(polygons)]
    counts = 1 + shapely.get_num_interior_rings(polygons)
    ends = np.cumsum(counts)
    made = [shapely.polygons(rings[a], rings[a + 1 : b] or None) for a, b in zip(ends - counts, ends, strict=True)]
    result: BaseGeometry = shapely.multipolygons(made)
    return result if result.is_valid else shapely.simplify(shape, SIMPLIFY_TOLERANCE)


def _simplified_ring(ring: npt.NDArray[np.float64]) -> BaseGeometry:
    """A closed ring (n + 1, 2), simplified between the ends of its long edges."""
    long = np.hypot(*np.diff(ring, axis=0).T) > LONG_EDGE
    fixed = np.flatnonzero(long | np.roll(long, 1))
    if len(fixed) < 3:
        return shapely.simplify(shapely.linearrings(ring), SIMPLIFY_TOLERANCE)
    turned = np.concatenate([ring[fixed[0] : -1], ring[: fixed[0] + 1]])
    cuts = np.append(fixed - fixed[0], len(turned) - 1)
    counts = np.diff(cuts) + 1  # points of each run, both its ends among them
    run = np.repeat(np.arange(len(counts)), counts)
    point = np.arange(len(run)) - run + cuts[0]  # a run begins where the one before ends
    runs = shapely.simplify(shapely.linestrings(turned[point], indices=run), SIMPLIFY_TOLERANCE)
    kept, owner = shapely.get_coordinates(runs, return_index=True)
    return shapely.linearrings(kept[np.append(owner[1:] == owner[:-1], False)])


def _bridges(fit: BaseGeometry, radius: float) -> BaseGeometry:
    """What opening the fit again would still remove, where it is wider than 0.02 mm."""
    opened = opening(fit, radius)
    shapely.prepare(opened)
    if opened.covers(shapely.buffer(fit, -THIN / 2)):  # nothing that wide sticks out: the usual case, and quick
        return EMPTY
    return wider_than(shapely.difference(fit, opened), THIN)


def wider_than(shape: BaseGeometry, width: float) -> BaseGeometry:
    """The parts of a shape that a disc of diameter `width` fits into."""
    parts = shapely.get_parts(shape)
    parts = parts[shapely.area(parts) > NOISE_AREA]
    kept = parts[~shapely.is_empty(shapely.buffer(parts, -width / 2))]
    result: BaseGeometry = shapely.union_all(kept)
    return result


def boundaries_within(one: BaseGeometry, other: BaseGeometry, distance: float) -> bool:
    """Whether no vertex of either boundary (or line) is further than `distance` from the other boundary."""

    def near(from_: BaseGeometry, to: BaseGeometry) -> bool:
        boundary = shapely.boundary(to) if shapely.get_dimensions(to) == 2 else to
        shapely.prepare(boundary)
        return bool(shapely.dwithin(boundary, shapely.points(shapely.get_coordinates(from_)), distance).all())

    return near(one, other) and near(other, one)


def drawn_in(shape: BaseGeometry, clearance: float) -> BaseGeometry:
    """The shape made smaller all round by `clearance` (larger where negative); walls keep their vertices."""
    if clearance == 0:
        return shape
    return without_noise(shapely.buffer(shape, -clearance, join_style="mitre", mitre_limit=5.0))


@lru_cache(maxsize=4096)
def _rounded(outline_wkb: bytes, corner_radius: float) -> BaseGeometry | None:
    """The fit outline; None where it is the outline itself."""
    outline = shapely.from_wkb(outline_wkb)
    fit = rounded_fit(outline, corner_radius)
    return None if fit is outline else fit


def fit_piece(outline: Outline, piece: Piece, proudest: float = 0.0) -> Fit:
    """Pocket and insert of a piece by its own fit, in its own frame. Rounding is kept per outline and radius.

    `proudest` is how far above the face wood may stand, its own or what its pocket is cut through, mm.
    """
    shape = outline.shape
    if shape.is_empty:
        return Fit(EMPTY, EMPTY, EMPTY, EMPTY, outline.problem)
    if piece.is_groove:
        pocket, insert = shape, groove_strip(outline, piece)
    elif piece.fit == "as-drawn":
        pocket, insert = as_drawn_fit(shape, piece)
    else:
        rounded = _rounded(shape.wkb, piece.corner_radius)
        pocket = shape if rounded is None else rounded
        insert = EMPTY
    if piece.taper and not pocket.is_empty:
        inwards, outwards = _lean_reach(piece, proudest)
        calm = settled(pocket, inwards, outwards)
        if calm is None:
            why = PARTS_MEET if settled(pocket, inwards, 0.0) is not None else WALLS_MEET
            return Fit(EMPTY, EMPTY, shape, EMPTY, why)
        pocket = calm
        sawn = insert if insert.is_empty else settled(insert, inwards, outwards)
        if sawn is None:
            return Fit(EMPTY, EMPTY, shape, EMPTY, WALLS_MEET)
        insert = sawn
    if insert.is_empty and not piece.is_groove and not pocket.is_empty:
        insert = inset(pocket, piece.side_clearance) if piece.taper else drawn_in(pocket, piece.side_clearance)
    problem = TOO_NARROW if pocket.is_empty or insert.is_empty else None
    return Fit(pocket, insert, _parts(shape, pocket), _parts(pocket, shape), problem)


def _lean_reach(piece: Piece, proudest: float) -> tuple[float, float]:
    """How far the walls of pocket and insert lie inside and outside the outline, from floor to the highest wood, mm."""
    clearance = piece.side_clearance
    inwards = lean(piece.taper, piece.pocket_depth) + max(clearance, 0.0)
    return inwards, lean(piece.taper, max(proudest, 0.0)) + max(-clearance, 0.0)


def stands_at(piece: Piece, panel_thickness: float) -> float:
    """z of an insert's top before any trimming, mm."""
    return piece.insert_thickness + piece.floor_gap - min(piece.pocket_depth, panel_thickness)


def as_drawn_fit(outline: BaseGeometry, piece: Piece) -> tuple[BaseGeometry, BaseGeometry]:
    """Pocket and sawn insert both cut along the drawn line: (opening, closing drawn in); corners may bind."""
    radius = piece.cutter_radius - RADIUS_SLACK
    pocket = without_noise(simplified(opening(outline, radius)))
    sawn = closing(drawn_in(outline, piece.side_clearance), radius)
    return pocket, without_noise(simplified(sawn))


def groove_strip(outline: Outline, piece: Piece) -> BaseGeometry:
    """The strip in a groove: the line's width less `strip_clearance` per side, ends square."""
    assert outline.centre_line is not None
    assert outline.width is not None
    half = outline.width / 2 - piece.strip_clearance
    if half <= 0:
        return EMPTY
    line = shapely.linestrings(outline.centre_line)
    strip = shapely.buffer(line, half, quad_segs=quadrant_segments(half), cap_style="flat")
    return without_noise(strip)


def _parts(whole: BaseGeometry, taken: BaseGeometry) -> BaseGeometry:
    return EMPTY if whole is taken else _difference(whole.wkb, taken.wkb)


@lru_cache(maxsize=1024)  # pieces of one outline differ in nothing here
def _difference(whole_wkb: bytes, taken_wkb: bytes) -> BaseGeometry:
    return without_noise(shapely.difference(shapely.from_wkb(whole_wkb), shapely.from_wkb(taken_wkb)))
