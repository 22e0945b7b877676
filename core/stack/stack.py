"""The stack: where every pocket and insert lies, what overlaps what, and in which batches to work.

`build_stack` is the one way to make one. Records are frozen; geometry objects of pieces that did not
change are the same objects in the next stack, which is how `solids` knows what it may keep.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from ..areas import EMPTY, NOISE_AREA, without_noise
from ..cutter.fit import Fit, fit_pieces, stands_at
from ..cutter.taper import section_at
from ..design import Cut, Design, Panel, Piece
from ..faults import during
from ..kept import Kept
from ..outlines.piece_shape import Outline, load_outline
from ..witness import anywhere_wider, inside
from .batches import batch_numbers
from .placing import place, place_points
from .pocket_pairs import FLUSH, PocketPairs, pocket_pairs
from .workload import near_couples, refuse_coincident, refuse_many_overlaps, refuse_tangles, refuse_too_rough

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class BackgroundPiece:
    """One segment of one strip, or the whole of a plain background."""

    name: str
    wood: str
    grain: float
    box: Polygon
    cut: Cut | None = None
    board: int | None = None


@dataclass(frozen=True)
class PlacedPiece:
    """One piece on the panel. Shapes are at the face (z = 0), in panel coordinates, not clipped to the panel."""

    index: int
    piece: Piece
    outline: BaseGeometry
    pocket: BaseGeometry
    insert: BaseGeometry
    """As sawn."""
    depth: float
    """min(pocket depth, panel thickness)."""
    top: float
    """z of the insert's top before any trimming."""
    bottom: float
    grain: float
    centre_line: Array | None
    problem: str | None
    """Why this piece counts as absent (a bad outline, an empty fit); None when it is sound."""
    problem_at: tuple[float, float] | None
    notes: tuple[str, ...]
    batch: int = 0
    over: tuple[int, ...] = ()
    """Earlier pieces that its pocket overlaps; one with which it only shares an edge, within 0.01 mm, is none."""
    under: tuple[int, ...] = ()
    """Later pieces whose pockets overlap it."""
    cut_by: tuple[int, ...] = ()
    """Later pieces whose pockets take any of it: all that overlap it, and those that go a hair beyond a shared edge."""

    @property
    def sound(self) -> bool:
        """Whether it is there at all."""
        return self.problem is None

    def pocket_at(self, depth: float) -> BaseGeometry:
        """The pocket's section at a depth below the face; empty from its floor down."""
        return section_at(self.pocket, self.piece.taper, depth) if self.sound and depth < self.depth else EMPTY

    def insert_at(self, depth: float) -> BaseGeometry:
        """The insert's section at a depth, clipped to its pocket, as if no later pocket were cut."""
        if not self.sound or not self.bottom < -depth <= self.top:
            return EMPTY
        return seated(section_at(self.insert, self.piece.taper, depth), self.pocket_at(depth), self.piece)


@dataclass(frozen=True)
class Stack:
    """All placed pieces, back to front, and the order of work."""

    design: Design
    pieces: tuple[PlacedPiece, ...]
    batches: tuple[tuple[int, ...], ...]
    background: tuple[BackgroundPiece, ...]

    @cached_property
    def overlaps(self) -> frozenset[tuple[str, str]]:
        """Ids of the pairs whose pockets overlap at the face, earlier one first."""
        names = [placed.piece.id for placed in self.pieces]
        return frozenset((names[p.index], names[j]) for p in self.pieces for j in p.under)

    @property
    def box(self) -> Polygon:
        """The raw panel."""
        return box(0, 0, self.design.panel.width, self.design.panel.height)

    @cached_property
    def finished_box(self) -> Polygon:
        """The panel inside its edge trim."""
        panel = self.design.panel
        left, right, bottom, top = panel.edge_trim
        return box(left, bottom, panel.width - right, panel.height - top)

    @cached_property
    def remnants(self) -> tuple[BaseGeometry, ...]:
        """What is seen of each piece in the finished face, inside the edge trim (design notes, *Remnant*)."""
        subjects = [self._seen_subject(placed) for placed in self.pieces]
        return tuple(_REMNANTS.of(subjects, self._remnants_of))

    def _seen_subject(self, placed: PlacedPiece) -> list[object]:
        """All that the remnant of a piece depends on."""
        panel, subject = self.design.panel, _section_subject(placed)
        for later in map(self.pieces.__getitem__, placed.cut_by):
            subject += (later.pocket, later.depth, later.piece.taper)
        return [*subject, panel.width, panel.height, panel.face_trim, *panel.edge_trim]

    def _remnants_of(self, indices: list[int]) -> list[BaseGeometry]:
        trim, frame = self.design.panel.face_trim, self.finished_box
        pieces = [self.pieces[i] for i in indices]
        seen = np.array([placed.insert_at(trim) for placed in pieces], dtype=object)
        cutters = {j: self.pieces[j].pocket_at(trim) for j in sorted({j for p in pieces for j in p.cut_by})}
        later = [[cutters[j] for j in p.cut_by] for p in pieces]
        _cut_away(seen, later)
        shapely.prepare(frame)
        over = ~shapely.covers(frame, shapely.envelope(seen)) & ~shapely.is_empty(seen)
        seen[over] = shapely.intersection(seen[over], frame)
        return _without_crumbs(seen)


_REMNANTS: Kept[BaseGeometry] = Kept()
_MANY = 16
"""Where more pockets than this cut a piece, most likely a single one of the last takes all of it."""


def _cut_away(seen: npt.NDArray[np.object_], later: Sequence[Sequence[BaseGeometry]]) -> None:
    """Take from each shape the pockets that are cut into it later."""
    count = np.array([len(pockets) for pockets in later], dtype=int)
    for back in range(1, _MANY + 1):
        some = np.flatnonzero((count > _MANY) & ~shapely.is_empty(seen))
        last = np.array([later[i][-back] for i in some], dtype=object)
        shapely.prepare(last)
        seen[some[shapely.covers(last, seen[some])]] = EMPTY
    cut = np.flatnonzero((count > 0) & ~shapely.is_empty(seen))
    for few in (cut[count[cut] <= _MANY], *cut[count[cut] > _MANY, None]):
        if len(few):
            rows = np.full((len(few), count[few].max()), None, dtype=object)
            for row, i in zip(rows, few.tolist(), strict=True):
                row[: count[i]] = later[i]
            seen[few] = shapely.difference(seen[few], shapely.union_all(rows, axis=1))


def _section_subject(placed: PlacedPiece) -> list[object]:
    """What the sections of a piece depend on."""
    piece = placed.piece
    heights = (placed.depth, placed.top, placed.bottom, piece.taper)
    return [placed.pocket, placed.insert, *heights, piece.side_clearance, piece.fit, piece.is_groove, placed.sound]


def _without_crumbs(shapes: npt.NDArray[np.object_]) -> list[BaseGeometry]:
    """The polygons of each shape that are no dust, as one multipolygon; the empty polygon where there is none.

    Dust is noise, and what is nowhere wider than 0.01 mm: a sliver that two cuts along one line leave.
    """
    parts, owner = shapely.get_parts(shapes, return_index=True)
    kept = (shapely.get_dimensions(parts) == 2) & (shapely.area(parts) > NOISE_AREA)
    kept[kept] = anywhere_wider(parts[kept], FLUSH)
    whole = np.full(len(shapes), EMPTY, dtype=object)
    if kept.any():
        owners = np.unique(owner[kept])
        whole[owners] = shapely.multipolygons(parts[kept], indices=np.searchsorted(owners, owner[kept]))
    return list(whole)


def seated(insert: BaseGeometry, pocket: BaseGeometry, piece: Piece) -> BaseGeometry:
    """The insert clipped to its pocket: needless where it was drawn in from it, all of it where pressed tight."""
    if piece.side_clearance < 0:
        return pocket
    if piece.is_groove or piece.fit == "as-drawn":
        return without_noise(shapely.intersection(insert, pocket))
    return insert


def build_stack(design: Design, previous: Stack | None = None) -> Stack:
    """Place every piece, find the overlaps and the batches.

    Args:
        design: the design.
        previous: a stack of an earlier state of the design; pieces that are equal in both keep their
            geometry, and only pairs with a changed piece are looked at again.

    Raises:
        UnusableInput: artwork cannot be read, or `after` and the overlaps make a ring.
    """
    kept = _reusable(design, previous)
    made = _place_pieces(design, [piece for piece in design.pieces if piece.id not in kept])
    placed = [_having(kept.get(p.id) or made[p.id], index=i) for i, p in enumerate(design.pieces)]
    pairs = _pairs(placed, set(made), previous)
    over, (under, cut_by) = pairs.earlier_than(len(placed)), pairs.later_than(len(placed))
    batches = batch_numbers([p.piece.id for p in placed], _waits(placed, over), design.file)
    pieces = tuple(
        _having(p, batch=batches[i], over=over[i], under=under[i], cut_by=cut_by[i]) for i, p in enumerate(placed)
    )
    batch_of = np.array(batches, dtype=int)
    return Stack(
        design=design,
        pieces=pieces,
        batches=tuple(tuple(np.flatnonzero(batch_of == n).tolist()) for n in range(1, max(batches, default=0) + 1)),
        background=_background(design.panel, previous),
    )


def _having(placed: PlacedPiece, **facts: object) -> PlacedPiece:
    """The piece with these facts: itself where they hold already, since copying all of them adds up."""
    same = all(getattr(placed, name) == fact for name, fact in facts.items())
    return placed if same else replace(placed, **facts)  # type: ignore[arg-type]


def _reusable(design: Design, previous: Stack | None) -> Mapping[str, PlacedPiece]:
    if previous is None or previous.design.folder != design.folder or previous.design.panel != design.panel:
        return {}
    before = {placed.piece.id: placed for placed in previous.pieces}
    same = {p.id: before[p.id] for p in design.pieces if p.id in before and before[p.id].piece == p}
    if _proudest(design) == _proudest(previous.design):
        return same
    return {name: placed for name, placed in same.items() if not placed.piece.taper}


def _proudest(design: Design) -> float:
    """How far the proudest insert stands above the face, mm: so high do leaning walls of later pockets reach."""
    return max((stands_at(piece, design.panel.thickness) for piece in design.pieces), default=0.0)


def _place_pieces(design: Design, pieces: Sequence[Piece]) -> dict[str, PlacedPiece]:
    """Place pieces, by id; nothing is rounded before all of it is known to be bearable."""
    outlines = []
    for piece in pieces:
        with during(f'piece "{piece.id}", its outline'):
            outlines.append((piece, load_outline(piece, design.folder)))
    refuse_too_rough(outlines)
    proudest, made = _proudest(design), {}
    for (piece, outline), fit in zip(outlines, fit_pieces(outlines, proudest), strict=True):
        with during(f'piece "{piece.id}", where it lies'):
            made[piece.id] = _place_piece(piece, outline, fit, design.panel)
    return _sharing(made)


_SHAPES = ("outline", "pocket", "insert")


def _sharing(made: Mapping[str, PlacedPiece]) -> dict[str, PlacedPiece]:
    """Pieces with equal shapes in one place share the objects, so that what was found for one holds for all."""
    shapes = np.array([[getattr(placed, name) for name in _SHAPES] for placed in made.values()], dtype=object)
    known: dict[bytes, BaseGeometry] = {}
    same = [
        {name: known.setdefault(as_bytes, shape) for name, shape, as_bytes in zip(_SHAPES, row, packed, strict=True)}
        for row, packed in zip(shapes, shapely.to_wkb(shapes), strict=True)
    ]
    return {name: replace(placed, **found) for (name, placed), found in zip(made.items(), same, strict=True)}


def _place_piece(piece: Piece, outline: Outline, fit: Fit, panel: Panel) -> PlacedPiece:
    problem_at = outline.problem_at
    if fit.problem is not None and outline.problem is None:
        problem_at = inside(outline.shape)
    depth = min(piece.pocket_depth, panel.thickness)
    bottom = -depth + piece.floor_gap
    line = outline.centre_line
    shape = place(outline.shape, piece)
    moved = fit.pocket is not outline.shape
    return PlacedPiece(
        index=-1,
        piece=piece,
        outline=shape,
        pocket=place(fit.pocket, piece) if moved else shape,
        insert=place(fit.insert, piece),
        depth=depth,
        top=stands_at(piece, panel.thickness),
        bottom=bottom,
        grain=_grain(piece, shape),
        centre_line=None if line is None else place_points(line, piece),
        problem=fit.problem,
        problem_at=None if problem_at is None else tuple(place_points([problem_at], piece)[0].tolist()),
        notes=outline.notes,
    )


def _grain(piece: Piece, shape: BaseGeometry) -> float:
    """Direction of its fibres on the panel: as asked for, but turned with the insert on its board."""
    asked = grain_direction(shape) if piece.grain is None else piece.grain
    return asked + piece.board_turn if piece.laid_mirrored else asked - piece.board_turn


def grain_direction(shape: BaseGeometry) -> float:
    """Direction of the long side of the least-area rotated rectangle, degrees in (-90, 90]; ties go to +x."""
    ring = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    if len(ring) < 4:
        return 0.0
    sides = np.diff(ring[:3], axis=0)
    lengths = np.hypot(*sides.T)
    angles = [90.0 - (90.0 - math.degrees(math.atan2(dy, dx))) % 180.0 for dx, dy in sides]
    if math.isclose(lengths[0], lengths[1], rel_tol=1e-6):
        return float(min(angles, key=abs))
    return float(angles[int(np.argmax(lengths))])


def _background(panel: Panel, previous: Stack | None) -> tuple[BackgroundPiece, ...]:
    if previous is not None and previous.design.panel == panel:
        return previous.background
    return background_pieces(panel)


def background_pieces(panel: Panel) -> tuple[BackgroundPiece, ...]:
    """The strips' segments as boxes that fill the panel, from the left or the bottom."""
    if not panel.strips:
        whole = box(0, 0, panel.width, panel.height)
        return (BackgroundPiece("background-1-1", panel.wood or "", panel.grain, whole),)
    upright = panel.strips_along == "y"
    across, along = (panel.width, panel.height) if upright else (panel.height, panel.width)
    pieces = []
    sides = _fill([strip.width for strip in panel.strips], across)
    for s, (strip, low, high) in enumerate(zip(panel.strips, sides, sides[1:], strict=False), 1):
        ends = _fill([segment.length for segment in strip.segments], along)
        for t, (segment, start, end) in enumerate(zip(strip.segments, ends, ends[1:], strict=False), 1):
            shape = box(low, start, high, end) if upright else box(start, low, end, high)
            grain = 90.0 if upright else 0.0
            pieces.append(
                BackgroundPiece(f"background-{s}-{t}", segment.wood, grain, shape, segment.cut, segment.board)
            )
    return tuple(pieces)


def _fill(widths: Iterable[float], whole: float) -> list[float]:
    """Running sums from 0; the last one is the whole, whatever the rounding."""
    sums = [0.0, *np.cumsum(list(widths)).tolist()]
    return [*sums[:-1], whole]


def _pairs(placed: list[PlacedPiece], made: set[str], previous: Stack | None) -> PocketPairs:
    """The pairs whose pockets share area at the face; known ones of an earlier stack are taken over."""
    pockets = np.array([p.pocket if p.sound else EMPTY for p in placed], dtype=object)
    changed = np.array([p.index for p in placed if p.sound and p.piece.id in made], dtype=np.int64)
    couples = near_couples(pockets, changed)
    shapely.prepare(pockets)
    couples = couples[shapely.intersects(*pockets[couples.T])]
    refuse_many_overlaps(len(couples))
    refuse_coincident([p.piece for p in placed], pockets, couples)
    refuse_tangles([p.piece for p in placed], pockets, couples)
    found = pocket_pairs(pockets, couples)
    return found if previous is None else found.joined(_known_pairs(placed, made, previous))


def _known_pairs(placed: list[PlacedPiece], made: set[str], previous: Stack) -> PocketPairs:
    """Pairs of an earlier stack of which neither piece was made anew, by where they stand in the order now."""
    now = {p.piece.id: p.index for p in placed if p.piece.id not in made}
    index = np.array([now.get(p.piece.id, -1) for p in previous.pieces], dtype=np.int64)
    first = np.repeat(np.arange(len(index)), [len(p.cut_by) for p in previous.pieces])
    second = np.array([j for p in previous.pieces for j in p.cut_by], dtype=np.int64)
    overlap = np.array([j in under for p in previous.pieces for under in [set(p.under)] for j in p.cut_by], dtype=bool)
    pairs = np.sort(np.stack([index[first], index[second]], axis=1), axis=1)
    kept = pairs[:, 0] >= 0
    return PocketPairs(pairs[kept], overlap[kept])


def _waits(placed: Sequence[PlacedPiece], over: Sequence[tuple[int, ...]]) -> dict[int, set[int]]:
    """For each sound piece, by index, those that it overlaps or has in its `after` key."""
    index = {p.piece.id: p.index for p in placed}
    before = {p.index: set(over[p.index]) for p in placed if p.sound}
    for p in placed:
        if p.sound and p.piece.after:
            before[p.index].update(index[i] for i in p.piece.after if placed[index[i]].sound)
    return before
