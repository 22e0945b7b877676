"""Where a shape is narrow: necks between wider parts, and fins.

Along the boundary, the largest disc that touches a point from inside and meets another wall tells how wide the
wood is there (the medial axis, seen from the wall). A neck is where that width has a minimum; a fin has none, it
only ends. The search samples the boundary; the narrowest width of a neck is then taken from the very boundary.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..cutter.taper import oriented_rings

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Point = tuple[float, float]
End = Literal["open", "tip", "narrower"]

SLENDER = 2.0
"""A narrow end is a fin from where what lies beyond is so many times as long as the wood is wide; else it is a tip.
A pointed tip becomes a fin below 28° (common practice: what breaks off a blunter one is a crumb)."""
CRUMB = 3.0
"""What breaks off shorter than this, mm, is a crumb and no fin (common practice)."""
GRIP = 15.0
"""A piece can be held by so much of its length, mm (common practice)."""
WIDER = 1.1
"""A place is wider than another from this ratio on; where three arms of one width meet, it is at least 1.15."""

_STEP = 0.6
"""Samples lie at most so many mm apart: short against every neck's length."""
_SMOOTH = 0.005
"""Noise of the boundary that the search does not look at, mm."""
_ROUGH = 0.05
"""Noise that the first quick look leaves out, mm."""
_CORNER = math.radians(20)
"""Vertices that turn more are corners; the others belong to flattened curves."""
_FAN = math.radians(15)
_PLATEAU = 0.01
"""Widths that differ by less, mm, are the same narrow place."""
_EQUAL = 0.001
_ROWS = 64


@dataclass(frozen=True, eq=False)
class Neck:
    """One narrow place."""

    at: Point
    """The middle between the walls."""
    width: float
    """mm from wall to wall, at the narrowest."""
    run: float
    """Degrees in [0, 180): the direction along the neck, of its middle line within a width about the place."""
    kind: Literal["between", "fin"]
    length: float
    """mm along the neck that are narrower than was asked for."""
    walls: tuple[Point, Point]
    course: Array
    """(n, 4): x, y, width, run of places along the neck, the narrowest included: it may bend and widen."""


def find_necks(shape: BaseGeometry, narrower_than: float, *, crumb: float = CRUMB) -> tuple[Neck, ...]:
    """The necks and fins of a shape that are narrower than some width, narrowest first.

    Between: wood that gets wider both ways, or that has no end because it runs round a hole. Fin: wood that ends
    one way (a bar: both ways), measured at its narrowest place that has an end beyond it at least `SLENDER` times
    as long as the wood is wide there and at least `crumb` mm long. A tip that is not so long is nothing, nor is a
    whole piece that is small but not slender.

    Args:
        shape: polygon or multipolygon, mm, valid.
        narrower_than: mm, > 0.
        crumb: shortest end that counts, mm.

    Returns:
        One `Neck` per place; widths of necks are exact, those of a tapering fin within 0.02 mm.
    """
    return find_all_necks([shape], narrower_than, crumb=crumb)[0]


def find_all_necks(
    shapes: Sequence[BaseGeometry], narrower_than: float, *, crumb: float = CRUMB
) -> list[tuple[Neck, ...]]:
    """`find_necks` of each of many shapes: the quick look at all of them at once is much quicker than one by one."""
    parts, owner = shapely.get_parts(np.array(shapes, dtype=object), return_index=True)
    slender = np.flatnonzero(~_stout(parts, narrower_than / 2, crumb))
    found: list[list[Neck]] = [[] for _ in shapes]
    for part, shape in zip(parts[slender], owner[slender].tolist(), strict=True):
        walls = _measured(_sampled(part), narrower_than)
        found[shape] += _necks_of(walls, part, narrower_than, crumb)
    return [_one_per_place(necks) for necks in found]


def _stout(parts: npt.NDArray[np.object_], radius: float, crumb: float) -> Bools:
    """Parts that certainly have no neck: made narrower all round they stay whole, and stay near all of the boundary.

    Only a quick look: fins and lumps longer than a crumb lie at least that much further off than the radius.
    """
    rough = shapely.simplify(parts, _ROUGH, preserve_topology=False)
    drawn_in = shapely.buffer(rough, -radius - _ROUGH, quad_segs=2)
    shapely.prepare(drawn_in)
    stout = shapely.get_type_id(drawn_in) == shapely.GeometryType.POLYGON
    stout &= shapely.get_num_interior_rings(drawn_in) == shapely.get_num_interior_rings(parts)
    corners, owner = shapely.get_coordinates(rough[stout], return_index=True)
    far = ~shapely.dwithin(drawn_in[stout][owner], shapely.points(corners), radius + 0.9 * crumb)
    stout[np.flatnonzero(stout)[owner[far]]] = False
    return np.asarray(stout)


def _one_per_place(necks: list[Neck]) -> tuple[Neck, ...]:
    """Each place was seen from both its walls: the narrower view is kept."""
    kept: list[Neck] = []
    for neck in sorted(necks, key=lambda neck: (round(neck.width, 2), -neck.length, neck.at)):
        if not any(_on_course(neck.at, other) or _on_course(other.at, neck) for other in kept):
            kept.append(neck)
    return tuple(sorted(kept, key=lambda neck: (neck.width, neck.at)))


def lever(shape: BaseGeometry, neck: Neck, width: float) -> float:
    """How far the wood on the shorter side of a neck reaches along its run, the neck itself included, mm.

    Shorter is the side with less wood. That is the arm with which a push at its end bends the neck. A neck that parts
    nothing, since the wood runs round a hole, has all that lies along its run. Looked at are the first and the last
    place of the neck that are not wider than `width` mm, but for 5 %.
    """
    parts = shapely.get_parts(shape)
    part = parts[np.argmin(shapely.distance(parts, shapely.points(neck.at)))]
    ends = neck.course[neck.course[:, 2] <= max(1.05 * width, neck.course[:, 2].min())][[0, -1]]
    sides = [side for end, other in zip(ends, ends[::-1], strict=True) for side in _beyond(part, end, other)]
    return min(sides)[1]


def long_lever(shape: BaseGeometry, at: Point, width: float, run: float) -> float:
    """How far the wood on the longer side of one place reaches along its run, mm; 0 where nobody can hold the shorter.

    Whoever holds a long piece near its narrow end pushes with all the rest of it.
    """
    parts = shapely.get_parts(shape)
    part = parts[np.argmin(shapely.distance(parts, shapely.points(at)))]
    place = np.array([*at, width, run])
    reaches = [reach for _, reach in _beyond(part, place, place)]
    return max(reaches) if len(reaches) == 2 and min(reaches) >= GRIP else 0.0


def _beyond(part: BaseGeometry, end: Array, other: Array) -> list[tuple[float, float]]:
    """Area and reach along the run of the wood that lies from one end of a neck towards the other, mm² and mm.

    Where the neck is one place, and so has no other end, of the wood on both its sides.
    """
    x, y, width, run = end.tolist()
    along = np.array([math.cos(math.radians(run)), math.sin(math.radians(run))])
    across = np.array([-along[1], along[0]]) * (0.75 * width)
    line = np.array([x, y]) + np.array([-across, across])
    cut = shapely.buffer(shapely.linestrings(line), _EQUAL, cap_style="flat")
    sides = shapely.get_parts(shapely.difference(part, cut))
    beside = shapely.dwithin(sides, cut, _EQUAL)
    beyond = beside & shapely.dwithin(sides, shapely.points(other[:2]), 2 * _EQUAL)
    one_place = math.dist(end[:2], other[:2]) < _STEP or not beyond.any()
    return [
        (float(side.area), float(np.abs((shapely.get_coordinates(side) - (x, y)) @ along).max()))
        for side in (sides[beside] if one_place else sides[beyond])
    ] or [(0.0, 0.0)]


def _on_course(at: Point, neck: Neck) -> bool:
    return bool(np.hypot(*(neck.course[:, :2] - at).T).min() < 0.3 * neck.width + _STEP)


# --- The boundary, sampled ------------------------------------------------------------------------------------------


class _Samples(NamedTuple):
    """Short pieces of wall, in order round each ring, the wood to their left."""

    middle: Array  # (n, 2) on the boundary
    normal: Array  # (n, 2) unit, into the wood
    half: Array  # (n,) half length; 0 for the normals at a corner that sticks into the wood
    first: Ints  # (n,) index of the first sample on the same ring
    size: Ints  # (n,) how many samples that ring has


class _Walls(NamedTuple):
    """Samples with the discs that touch them."""

    samples: _Samples
    radius: Array  # (n,) of the largest disc in the wood that touches here; inf where that is much too wide to matter
    partner: Ints  # (n,) the sample that the disc meets
    contact: Array  # (n, 2) the point where it meets it
    narrow: Bools  # (n,) whether two walls face each other here, nearer than asked for


def _sampled(polygon: BaseGeometry) -> _Samples:
    calm = shapely.simplify(polygon, _SMOOTH, preserve_topology=False)
    sound = calm.is_valid and not calm.is_empty
    rings = [_sampled_ring(ring) for ring in oriented_rings(calm if sound else polygon)]
    middle, normal, half = (np.concatenate(arrays) for arrays in zip(*rings, strict=True))
    counts = np.array([len(ring[2]) for ring in rings])
    first = np.repeat(np.cumsum(counts) - counts, counts)
    return _Samples(middle, normal, half, first, np.repeat(counts, counts))


def _sampled_ring(ring: Array) -> tuple[Array, Array, Array]:
    """Middles, inward normals and half lengths of pieces of a closed ring; corners lie between pieces."""
    edges = np.diff(ring, axis=0)
    reach = np.concatenate([[0.0], np.cumsum(np.hypot(edges[:, 0], edges[:, 1]))])
    heading = np.arctan2(edges[:, 1], edges[:, 0])
    corners = np.flatnonzero(np.abs(_turn(np.roll(heading, 1), heading)) > _CORNER)
    marks = reach[:-1][corners] if len(corners) else reach[:1]
    spans = np.diff(marks, append=marks[0] + reach[-1])
    pieces = np.ceil(spans / _STEP).astype(int)
    within = np.arange(pieces.sum()) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    length = np.repeat(spans / pieces, pieces)
    start = np.repeat(marks, pieces) + within * length
    ends, middle = _along(ring, reach, start), _along(ring, reach, start + length / 2)
    heading = np.arctan2(*(np.roll(ends, -1, axis=0) - ends).T[::-1])
    return _with_fans(ends, middle, heading, length / 2)


def _with_fans(ends: Array, middle: Array, heading: Array, half: Array) -> tuple[Array, Array, Array]:
    """Where the wall turns away from the wood, one point faces many ways: normals between those of its sides."""
    before = np.roll(heading, 1)
    turn = _turn(before, heading)
    extra = np.maximum(np.ceil(-turn / _FAN).astype(int) - 1, 0)
    at = np.repeat(np.arange(len(extra)), extra)
    nth = np.arange(len(at)) - np.repeat(np.cumsum(extra) - extra, extra) + 1
    fan = before[at] + turn[at] * nth / (extra[at] + 1)
    heading = np.insert(heading, at, fan)
    normal = np.stack([-np.sin(heading), np.cos(heading)], axis=1)
    return np.insert(middle, at, ends[at], axis=0), normal, np.insert(half, at, 0.0)


def _turn(before: Array, after: Array) -> Array:
    """Angles from one heading to the next, in [-pi, pi)."""
    return (after - before + math.pi) % (2 * math.pi) - math.pi


def _along(ring: Array, reach: Array, at: Array) -> Array:
    """Points of a closed ring at lengths along it; `reach` is the length at each vertex."""
    at = at % reach[-1]
    return np.stack([np.interp(at, reach, ring[:, 0]), np.interp(at, reach, ring[:, 1])], axis=1)


# --- How wide the wood is -------------------------------------------------------------------------------------------


def _measured(samples: _Samples, narrower_than: float) -> _Walls:
    middle, normal = samples.middle, samples.normal
    radius, partner = _discs(middle, normal, 1.25 * narrower_than)
    contact = middle[partner]
    agree = np.sum(normal * normal[partner], axis=1)
    for shift in (-1, 0, 1):  # the disc may well meet the wall beside the middle of the piece that was chosen
        touching, foot = _tangent_discs(samples, _next(samples, partner, shift))
        better = np.isfinite(radius) & (touching < radius)
        radius = np.where(better, touching, radius)
        contact = np.where(better[:, None], foot, contact)
    # Two walls face each other where disc and walls part by 120° or more.
    chord = contact - middle
    inward = np.sum(chord * normal, axis=1)
    opposite = (agree <= -0.5) | (inward >= math.sqrt(0.75) * np.hypot(chord[:, 0], chord[:, 1]))
    return _Walls(samples, radius, partner, contact, opposite & (2 * radius < narrower_than))


def _tangent_discs(samples: _Samples, partner: Ints) -> tuple[Array, Array]:
    """Radius of the disc that touches each sample and its partner's piece of wall, and where; inf where none does."""
    away = samples.middle - samples.middle[partner]
    own, facing = samples.normal, samples.normal[partner]
    agree = np.sum(own * facing, axis=1)
    radius = np.sum(away * facing, axis=1) / (1 - np.minimum(agree, 0.5))
    foot = samples.middle + radius[:, None] * (own - facing)
    slide = np.sum((foot - samples.middle[partner]) * facing[:, ::-1] * [1, -1], axis=1)
    touches = (agree < 0) & (radius > 0) & (np.abs(slide) <= 1.05 * samples.half[partner])
    return np.where(touches, radius, np.inf), foot


def _next(samples: _Samples, at: Ints, shift: int) -> Ints:
    """The samples so many further round their rings."""
    first = samples.first[at]
    return first + (at - first + shift) % samples.size[at]


def _discs(middle: Array, normal: Array, widest: float) -> tuple[Array, Ints]:
    """Radius of the disc that touches each sample and meets another one, and which; (inf, 0) if none within reach.

    The disc through p (normal n) and q has the radius |q - p|^2 / (2 n (q - p)). Samples less than 60° further
    round the disc belong to the same wall, unless they face the other way. Single precision is enough to choose.
    """
    p = (middle - middle.mean(axis=0)).astype(np.float32)
    n = normal.astype(np.float32)
    radius, partner = np.full(len(p), np.inf), np.zeros(len(p), np.int64)
    for start in range(0, len(p), _ROWS):
        rows = slice(start, start + _ROWS)
        low, high = p[rows].min(axis=0) - widest, p[rows].max(axis=0) + widest
        near = np.flatnonzero(((p >= low) & (p <= high)).all(axis=1))
        dx, dy = p[near, 0] - p[rows, 0, None], p[near, 1] - p[rows, 1, None]
        nx, ny = n[rows, 0, None], n[rows, 1, None]
        inward = nx * dx + ny * dy
        bend = inward / np.maximum(dx * dx + dy * dy, np.float32(1e-12))
        bend[(inward * bend < 0.25) & (nx * n[near, 0] + ny * n[near, 1] > -0.5)] = 0
        best = np.argmax(bend, axis=1)
        most = bend[np.arange(len(best)), best]
        met = most > 1 / widest
        radius[rows][met] = 0.5 / most[met]
        partner[rows][met] = near[best[met]]
    return radius, partner


# --- Necks ----------------------------------------------------------------------------------------------------------


def _necks_of(walls: _Walls, part: BaseGeometry, narrower_than: float, crumb: float) -> Iterator[Neck]:
    """Necks of one polygon; some twice, seen from either wall."""
    done = np.zeros(len(walls.narrow), dtype=bool)
    for run in _runs(walls):
        for low, best, high in _valleys(walls.radius[run]):
            stretch = run[low : high + 1]
            if np.mean(done[stretch]) > 0.5:
                continue
            _mark(done, walls.samples, walls.partner[stretch])
            neck = _neck(walls, part, stretch, int(run[best]), narrower_than, crumb)
            if neck is not None:
                yield neck


def _mark(done: Bools, samples: _Samples, partner: Ints) -> None:
    """The samples that a wall faces, and their neighbours, need not be looked at again."""
    for shift in (-2, -1, 0, 1, 2):
        done[_next(samples, partner, shift)] = True


def _runs(walls: _Walls) -> list[Ints]:
    """Unbroken stretches of narrow wall, longest first; where a wall turns round a tip, it is broken."""
    runs: list[Ints] = []
    first, count = walls.samples.first, walls.samples.size
    for start in np.unique(first[walls.narrow]).tolist():
        size = int(count[start])
        ring = np.arange(start, start + size)
        narrow = walls.narrow[ring]
        ahead = np.where(first[walls.partner[ring]] == start, (walls.partner[ring] - ring) % size, 0)
        joined = narrow & np.roll(narrow, -1) & ~(np.roll(ahead, -1) - ahead > size / 2)
        breaks = np.flatnonzero(~joined)
        if not len(breaks):
            runs.append(ring)
            continue
        order = np.roll(ring, -(int(breaks[0]) + 1))
        pieces = np.split(order, np.cumsum(np.diff(np.append(breaks, breaks[0] + size)))[:-1])
        runs += [piece for piece in pieces if walls.narrow[piece[0]]]
    return sorted(runs, key=len, reverse=True)


def _valleys(radius: Array) -> list[tuple[int, int, int]]:
    """(low, best, high): stretches of a profile about each minimum, parted where it is `WIDER` than both sides."""
    minima, tops = [0], [0]
    best = top = 0
    rising = False
    for i, value in enumerate(radius.tolist()):
        if rising:
            if value > radius[top]:
                top = i
            elif value * WIDER < radius[top]:
                tops.append(top)
                best, rising = i, False
                minima.append(i)
        elif value < radius[best]:
            best = minima[-1] = i
        elif value > WIDER * radius[best]:
            top, rising = i, True
    tops.append(len(radius) - 1)
    return list(zip(tops[:-1], minima, tops[1:], strict=True))


def _neck(
    walls: _Walls, part: BaseGeometry, stretch: Ints, best: int, narrower_than: float, crumb: float
) -> Neck | None:
    """The neck of one stretch of wall with its narrowest sample, if it is one."""
    backward, forward = _end(walls, best, -1), _end(walls, best, 1)
    if "narrower" in (backward, forward):
        return None
    centre = walls.samples.middle[stretch] + walls.radius[stretch, None] * walls.samples.normal[stretch]
    width = 2 * walls.radius[stretch]
    steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(centre, axis=0).T))])
    good = np.ones(len(stretch), dtype=bool)
    length = float(steps[-1])
    for end, edge, sign in ((backward, 0, -1), (forward, -1, 1)):
        if end == "tip":
            cap = _reach(walls, stretch[edge], centre[edge], sign)
            beyond = np.abs(steps - steps[edge]) + cap
            good &= beyond >= np.maximum(SLENDER * width, crumb)
            length += cap
    if not good.any():
        return None
    kept = np.flatnonzero(good)
    flat = kept[width[kept] <= width[kept].min() + _PLATEAU]
    chosen = int(flat[len(flat) // 2])
    mouths = [steps[edge] for end, edge in ((backward, 0), (forward, -1)) if end == "open"]
    clear = kept[(kept == chosen) | _clear_of(mouths, steps[kept], width[kept])]
    run = _across(walls.contact[stretch] - walls.samples.middle[stretch])
    run[clear] = _axis(centre[clear], steps[clear], width[clear], run[clear])
    run[kept] = run[clear[np.abs(steps[clear] - steps[kept, None]).argmin(axis=1)]]  # at a mouth that of the nearest
    courses = np.column_stack([centre, width, run])
    ends = np.stack([walls.samples.middle[stretch[chosen]], walls.contact[stretch[chosen]]])
    between = "tip" not in (backward, forward)
    ends = _on_boundary(part, ends, search=between or 0 < chosen - kept[0] < len(kept) - 1)
    courses[chosen, :3] = [*ends.mean(axis=0), math.dist(*ends)]
    found = courses[chosen]
    if found[2] >= narrower_than:
        return None
    a, b = ends.tolist()
    kind: Literal["between", "fin"] = "between" if between else "fin"
    at = (float(found[0]), float(found[1]))
    return Neck(at, float(found[2]), float(found[3]), kind, length, ((a[0], a[1]), (b[0], b[1])), courses[kept])


def _clear_of(mouths: Sequence[float], steps: Array, width: Array) -> Bools:
    """Which places lie farther from where a narrow stretch opens than half their width: at a mouth walls lean."""
    away = np.array([np.abs(steps - mouth) for mouth in mouths]).reshape(len(mouths), len(steps))
    return np.asarray((away >= width / 2).all(axis=0))


def _axis(centre: Array, steps: Array, width: Array, across: Array) -> Array:
    """Degrees in [0, 180) along the middle line at each of its places (n, 2), as it goes within a width about them.

    Where that is shorter than half a width, as in the waist of an hourglass, the line across the walls tells the run.
    """
    near = np.abs(steps - steps[:, None]) <= width[:, None]
    count = near.sum(axis=1)
    x, y = (near @ part / count for part in centre.T)
    dx, dy = centre[:, 0] - x[:, None], centre[:, 1] - y[:, None]
    xx, yy, xy = ((near * one * other).sum(axis=1) / count for one, other in ((dx, dx), (dy, dy), (dx, dy)))
    run = np.degrees(0.5 * np.arctan2(2 * xy, xx - yy)) % 180
    spread = np.sqrt(12 * (xx + yy))  # the length of a straight line that spreads so far
    run = np.where(run > 180 - 1e-6, 0.0, run)
    return np.where(spread < width / 2, across, run)


def _beside(walls: _Walls, at: int, sign: int) -> Ints:
    """The samples that follow one along its ring, half way round to its partner where that is on the same ring."""
    first, count, partner = int(walls.samples.first[at]), int(walls.samples.size[at]), int(walls.partner[at])
    same = walls.samples.first[partner] == first
    steps = (sign * (partner - at) % count) // 2 if same else count - 1
    return np.asarray(first + (at - first + sign * np.arange(1, steps + 1)) % count)


def _end(walls: _Walls, at: int, sign: int) -> End:
    """What lies one way from a narrow place: wood that gets wider, only narrower first, or just an end."""
    partner = int(walls.partner[at])
    seen = {_way(walls, int(at), sign), _way(walls, partner, -sign, float(walls.radius[at]))}
    if "open" in seen or walls.samples.first[partner] != walls.samples.first[at]:
        return "open"
    return "narrower" if "narrower" in seen else "tip"


def _way(walls: _Walls, at: int, sign: int, radius: float | None = None) -> End:
    """How it ends along one of the two walls."""
    here = walls.radius[at] if radius is None else radius
    beside = _beside(walls, at, sign)
    profile = walls.radius[beside]
    wider = np.flatnonzero(profile >= WIDER * here)
    narrower = np.flatnonzero(walls.narrow[beside] & (profile < here / WIDER))
    if len(wider) and not (len(narrower) and narrower[0] < wider[0]):
        return "open"
    if len(narrower) and (profile[narrower[0] :] > here - _PLATEAU).any():
        return "narrower"
    return "tip"


def _reach(walls: _Walls, at: int, centre: Array, sign: int) -> float:
    """How far the wood goes on beyond the last place of a fin's wall, mm."""
    first, count = int(walls.samples.first[at]), int(walls.samples.size[at])
    steps = sign * (int(walls.partner[at]) - at) % count
    beyond = walls.samples.middle[first + (at - first + sign * np.arange(steps + 1)) % count]
    return float(np.hypot(*(beyond - centre).T).max())


def _across(chord: Array) -> Array:
    """Degrees in [0, 180) of the directions square to chords (..., 2)."""
    degrees = np.degrees(np.arctan2(-chord[..., 0], chord[..., 1])) % 180
    return np.where(degrees > 180 - 1e-9, 0.0, degrees)


def _on_boundary(part: BaseGeometry, ends: Array, search: bool) -> Array:
    """A line (2, 2) between two walls moved onto the true boundary, and to the shortest near it if wanted."""
    rings = shapely.get_rings(part)
    points = shapely.points(ends)
    rings = rings[np.argmin(shapely.distance(rings, points[:, None]), axis=1)]
    place = shapely.line_locate_point(rings, points)
    moved: Array = shapely.get_coordinates(shapely.line_interpolate_point(rings, place))
    if not search:
        return moved
    half = 1.5 * _STEP
    if rings[0] is rings[1]:
        around = abs(place[0] - place[1])
        half = min(half, around / 4, (rings[0].length - around) / 4)
    one, other = (_stretch(ring, s - half, s + half) for ring, s in zip(rings, place, strict=True))
    shortest: Array = shapely.get_coordinates(shapely.shortest_line(one, other))
    return shortest if math.dist(*shortest) < math.dist(*moved) - _EQUAL else moved


def _stretch(ring: BaseGeometry, start: float, stop: float) -> BaseGeometry:
    """The part of a closed ring between two lengths along it, either of which may lie beyond its ends."""
    points = shapely.get_coordinates(ring)
    reach = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    vertices = (reach[:-1] - start) % reach[-1] + start
    inner = np.sort(vertices[vertices < stop])
    return shapely.linestrings(_along(points, reach, np.concatenate([[start], inner, [stop]])))
