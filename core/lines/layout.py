"""Inserts laid on their blanks, grain along the blank, with marks for tabs; blanks in rows beside each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from .cuts import InsertCut, Line

Array = npt.NDArray[np.float64]

SAW = 1.5
"""Left on each side of a blank for sawing it to size, mm (common practice, no published source)."""
HANDLING = 6.0
"""Left on each side beyond the cutter's path, to hold it by, mm (common practice, no published source)."""
ROOM_FOR_ARROW, ROOM_FOR_WORDS, GAP = 13.0, 13.0, 4.0
"""Left of a blank, below it, and round it, mm."""
TAB = 6.0
"""A tab's length along the edge, mm; so is that of a piece of tape (common practice, no published source)."""
ALONG_GRAIN = math.radians(20.0)
STRAIGHT, GENTLE = 0.17, 1.1
"""Over a tab an edge leaves its chord by no more than the first, and over `BESIDE` by the second, mm: that is an arc of
26 mm radius or more, so that no rounded end begins beside the tab."""
BESIDE = 2.5 * TAB
NEAR_HULL, BESIDE_HULL = 0.3, 0.8
"""A tab's edge lies this near to the insert's convex hull, mm, and the edge beside it nearly so: in no notch, where no
saw gets at it, and not at a notch's mouth."""
SPACING = 24.0
MOST_TABS = 4


@dataclass(frozen=True, eq=False)
class Laid:
    """An insert on its blank, on a sheet. The grain of every blank runs along x."""

    cut: InsertCut
    blank: tuple[float, float, float, float]
    """Left, bottom, right, top; mm."""
    lines: tuple[Line, ...]
    shape: BaseGeometry
    turn: Array
    """(2, 2) from the panel, seen from the face, to the sheet."""
    tabs: tuple[tuple[Array, Array], ...]
    """Middles of tabs on the edge, and the unit vectors out of the insert there."""
    leaves: int = 1
    """The blank is glued from so many, edge to edge."""
    leaf_width: float = 0.0
    """How wide each is sawn, with the allowance for jointing, mm; 0 where there is only one."""

    @property
    def length(self) -> float:
        """Length of the blank along its grain, mm."""
        return self.blank[2] - self.blank[0]

    @property
    def width(self) -> float:
        """Across the grain, mm."""
        return self.blank[3] - self.blank[1]

    @property
    def seams(self) -> tuple[Array, ...]:
        """Where its leaves are glued to each other: lines (2, 2) along the blank."""
        left, bottom, right, _ = self.blank
        places = (bottom + self.width * number / self.leaves for number in range(1, self.leaves))
        return tuple(np.array([[left, y], [right, y]]) for y in places)


def laid_out(blanks: Sequence[Laid], words: Sequence[float], width: float, start: tuple[float, float]) -> list[Laid]:
    """Blanks in rows from `start` to the right and upwards, the highest first, each in the lowest row that has room.

    Their lower left corners lie at whole millimetres, so that they are easily measured off.

    Args:
        blanks: each with its lower left corner at the origin; the result is in their order.
        words: widths of what is said below each, mm.
        width: where rows end, mm, but for one wider blank.
        start: of the first row, mm.
    """
    order = sorted(range(len(blanks)), key=lambda n: -blanks[n].width)
    across = [ROOM_FOR_ARROW + max(blanks[n].length, words[n]) + GAP for n in range(len(blanks))]
    rows: list[tuple[float, float]] = []
    laid: dict[int, Laid] = {}
    top = start[1]
    for n in order:
        row = next((k for k, (x, _) in enumerate(rows) if x + across[n] <= width), None)
        if row is None:
            row = len(rows)
            rows.append((start[0], top))
            top += math.ceil(ROOM_FOR_WORDS + blanks[n].width + GAP)
        x, y = rows[row]
        rows[row] = (x + across[n], y)
        corner = np.ceil([x + ROOM_FOR_ARROW, y + ROOM_FOR_WORDS])
        laid[n] = _shifted(blanks[n], corner)
    return [laid[n] for n in range(len(blanks))]


def on_blank(cut: InsertCut, min_neck: float) -> Laid:
    """An insert on its blank, whose lower left corner is the origin."""
    grain = math.radians(cut.placed.grain)
    mirror = np.diag([-1.0, 1.0]) if cut.face_down else np.eye(2)
    if cut.face_down:
        grain = math.pi - grain
    cos, sin = math.cos(grain), math.sin(grain)
    turn = np.array([[cos, sin], [-sin, cos]]) @ mirror
    left, bottom, right, top = shapely.transform(cut.shape, lambda points: points @ turn.T).bounds
    margin = SAW + HANDLING + cut.placed.piece.cutter_diameter + 2 * _wider_at_back(cut)
    to = np.array([margin - left, margin - bottom])
    lines = tuple(replace(line, turn=turn, shift=to) for line in cut.lines)
    shape = shapely.transform(cut.shape, lambda points: points @ turn.T + to)
    blank = (0.0, 0.0, right - left + 2 * margin, top - bottom + 2 * margin)
    return Laid(cut, blank, lines, shape, turn, _tabs(shape, min_neck))


def _wider_at_back(cut: InsertCut) -> float:
    """How much wider a tapered cutter is at the blank's upper face than at its tip, mm per side."""
    return cut.thickness * math.tan(math.radians(cut.placed.piece.taper))


def _shifted(laid: Laid, by: Array) -> Laid:
    x, y = by.tolist()
    left, bottom, right, top = laid.blank
    return replace(
        laid,
        blank=(left + x, bottom + y, right + x, top + y),
        lines=tuple(replace(line, shift=line.shift + by) for line in laid.lines),
        shape=shapely.transform(laid.shape, lambda points: points + by),
        tabs=tuple((at + by, out) for at, out in laid.tabs),
    )


# --- Tabs -----------------------------------------------------------------------------------------------------------


def _tabs(shape: BaseGeometry, min_neck: float) -> tuple[tuple[Array, Array], ...]:
    """Where tabs or tape hold the insert: on straight edges along the grain (x) on the insert's outer side, away from
    necks, from rounded ends and from each other, and in no notch.

    A place is no neck where a disc of three times `min_neck`, the width up to which necks are looked for, fits into
    the wood beside it. The first lies nearest the middle, each further one lies farthest from the others.
    """
    ring = Polygon(shape.exterior)
    line = ring.exterior
    steps = max(8, math.ceil(line.length / 1.5))
    along = np.arange(steps) * line.length / steps
    points = shapely.get_coordinates(line)
    distance = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = _points_at(points, distance, along)
    off, unit, length = _chords(points, distance, along, TAB)
    good = (off < STRAIGHT) & (np.abs(unit[:, 1]) < math.sin(ALONG_GRAIN)) & (length > 0.97 * TAB)
    further_off, _, further = _chords(points, distance, along[good], BESIDE)
    good[good] &= (further_off < GENTLE) & (further > 0.9 * BESIDE)
    wide = shapely.buffer(shapely.buffer(shape, -1.5 * min_neck, quad_segs=8), 1.5 * min_neck + 0.3, quad_segs=8)
    good &= shapely.contains_xy(wide, *at.T) if not wide.is_empty else False
    hull = shapely.boundary(shapely.convex_hull(shape))
    for shift in (0.0, TAB / 2, -TAB / 2, BESIDE / 2, -BESIDE / 2):
        places = _points_at(points, distance, along[good] + shift)
        near = NEAR_HULL if abs(shift) < TAB else BESIDE_HULL
        good[good] &= shapely.distance(hull, shapely.points(places)) < near
    ccw = 1.0 if line.is_ccw else -1.0
    out = ccw * np.stack([unit[:, 1], -unit[:, 0]], axis=1)
    left = np.flatnonzero(good)
    if not len(left):
        return ()
    chosen = [int(left[np.argmin(np.abs(at[left, 0] - ring.centroid.x))])]
    while len(chosen) < MOST_TABS:
        apart = np.min([np.hypot(*(at[left] - at[i]).T) for i in chosen], axis=0)
        if apart.max() < min(SPACING, 0.6 * max(np.ptp(at, axis=0))):
            break
        chosen.append(int(left[np.argmax(apart)]))
    return tuple((at[i], out[i]) for i in chosen)


def _chords(points: Array, distance: Array, along: Array, length: float) -> tuple[Array, Array, Array]:
    """The ring's chords over a stretch of some length round each place: how far the ring leaves them, their unit
    vectors (n, 2) and their lengths."""
    before, after = (_points_at(points, distance, along + shift) for shift in (-length / 2, length / 2))
    chord = after - before
    long = np.maximum(np.hypot(*chord.T), 1e-9)
    unit = chord / long[:, None]
    shares = (-0.25, 0.0, 0.25)
    off = np.max([_off_chord(points, distance, along + share * length, before, unit) for share in shares], axis=0)
    return off, unit, long


def _points_at(ring: Array, distance: Array, along: Array) -> Array:
    """Points of a ring (n, 2) at distances along it; `distance` (n,) is that of its vertices."""
    round_again = along % distance[-1]
    return np.stack([np.interp(round_again, distance, each) for each in ring.T], axis=1)


def _off_chord(ring: Array, distance: Array, along: Array, before: Array, unit: Array) -> Array:
    away = _points_at(ring, distance, along) - before
    off: Array = np.abs(away[:, 0] * unit[:, 1] - away[:, 1] * unit[:, 0])
    return off
