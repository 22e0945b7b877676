"""The stack: where every pocket and insert lies, what overlaps what, and in which batches to work.

`build_stack` is the one way to make one. Records are frozen; geometry objects of pieces that did not
change are the same objects in the next stack, which is how `solids` knows what it may keep.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from graphlib import CycleError, TopologicalSorter

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from ..areas import EMPTY, NOISE_AREA, without_noise
from ..cutter.fit import Fit, fit_piece, stands_at
from ..cutter.taper import section_at
from ..design import Cut, Design, Panel, Piece
from ..errors import UnusableInput
from ..kept import Kept
from ..outlines.piece_shape import Outline, load_outline
from ..witness import inside
from .placing import place, place_points

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
    cut: BaseGeometry
    filled: BaseGeometry
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
    """Earlier pieces that its pocket cuts into."""
    under: tuple[int, ...] = ()
    """Later pieces whose pockets cut into it."""

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
    overlaps: frozenset[tuple[str, str]]
    """Ids of the pairs whose pockets overlap at the face, earlier one first."""

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
        for j in placed.under:
            subject += _section_subject(self.pieces[j])
        return [*subject, panel.width, panel.height, panel.face_trim, *panel.edge_trim]

    def _remnants_of(self, indices: list[int]) -> list[BaseGeometry]:
        trim, frame = self.design.panel.face_trim, self.finished_box
        pieces = [self.pieces[i] for i in indices]
        seen = np.array([placed.insert_at(trim) for placed in pieces], dtype=object)
        later = [[self.pieces[j].pocket_at(trim) for j in placed.under] for placed in pieces]
        cut = np.array([bool(pockets) for pockets in later])
        if cut.any():
            rows = np.full((len(pieces), max(map(len, later))), None, dtype=object)
            for row, pockets in zip(rows, later, strict=True):
                row[: len(pockets)] = pockets
            seen[cut] = shapely.difference(seen[cut], shapely.union_all(rows[cut], axis=1))
        shapely.prepare(frame)
        over = ~shapely.covers(frame, shapely.envelope(seen)) & ~shapely.is_empty(seen)
        seen[over] = shapely.intersection(seen[over], frame)
        return _without_crumbs(seen)


_REMNANTS: Kept[BaseGeometry] = Kept()


def _section_subject(placed: PlacedPiece) -> list[object]:
    """What the sections of a piece depend on."""
    piece = placed.piece
    heights = (placed.depth, placed.top, placed.bottom, piece.taper)
    return [placed.pocket, placed.insert, *heights, piece.side_clearance, piece.fit, piece.is_groove, placed.sound]


def _without_crumbs(shapes: npt.NDArray[np.object_]) -> list[BaseGeometry]:
    """Of each shape the polygons that are no noise, as one multipolygon; the empty polygon where there is none."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    kept = (shapely.get_dimensions(parts) == 2) & (shapely.area(parts) > NOISE_AREA)
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
    proudest = _proudest(design)
    made = {
        piece.id: _place_piece(piece, load_outline(piece, design.folder), design.panel, proudest)
        for piece in design.pieces
        if piece.id not in kept
    }
    placed = [_having(kept.get(p.id) or made[p.id], index=i) for i, p in enumerate(design.pieces)]
    pairs = _overlapping_pairs(placed, set(made), previous)
    batches = _batches(design, placed, pairs)
    over: list[list[int]] = [[] for _ in placed]
    under: list[list[int]] = [[] for _ in placed]
    for earlier, later in sorted(pairs):
        over[later].append(earlier)
        under[earlier].append(later)
    pieces = tuple(
        _having(p, batch=batches[i], over=tuple(over[i]), under=tuple(under[i])) for i, p in enumerate(placed)
    )
    last = max(batches, default=0)
    return Stack(
        design=design,
        pieces=pieces,
        batches=tuple(tuple(i for i, b in enumerate(batches) if b == n) for n in range(1, last + 1)),
        background=_background(design.panel, previous),
        overlaps=frozenset((placed[i].piece.id, placed[j].piece.id) for i, j in pairs),
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


def _place_piece(piece: Piece, outline: Outline, panel: Panel, proudest: float) -> PlacedPiece:
    fit: Fit = fit_piece(outline, piece, proudest)
    problem_at = outline.problem_at
    if fit.problem is not None and outline.problem is None:
        problem_at = inside(outline.shape)
    depth = min(piece.pocket_depth, panel.thickness)
    bottom = -depth + piece.floor_gap
    line = outline.centre_line
    shape = place(outline.shape, piece)
    return PlacedPiece(
        index=-1,
        piece=piece,
        outline=shape,
        pocket=place(fit.pocket, piece),
        insert=place(fit.insert, piece),
        cut=place(fit.cut, piece),
        filled=place(fit.filled, piece),
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


def _overlapping_pairs(placed: list[PlacedPiece], made: set[str], previous: Stack | None) -> set[tuple[int, int]]:
    """Pairs (earlier, later) whose pockets share more than noise at the face; shared edges are no overlap."""
    index = {p.piece.id: p.index for p in placed}
    pairs = set()
    if previous is not None:
        for one, other in previous.overlaps:
            if one in index and other in index and one not in made and other not in made:
                i, j = sorted((index[one], index[other]))
                pairs.add((i, j))
    changed = np.array([p.index for p in placed if p.sound and p.piece.id in made], dtype=int)
    if not len(changed):
        return pairs
    pockets = np.array([p.pocket if p.sound else EMPTY for p in placed], dtype=object)
    query, found = shapely.STRtree(pockets).query(pockets[changed], predicate="intersects")
    couples = np.sort(np.stack([changed[query], found], axis=1), axis=1)
    couples = np.unique(couples[couples[:, 0] < couples[:, 1]], axis=0)
    shared = shapely.area(shapely.intersection(pockets[couples[:, 0]], pockets[couples[:, 1]]))
    pairs.update((int(i), int(j)) for i, j in couples[shared > NOISE_AREA])
    return pairs


def _batches(design: Design, placed: list[PlacedPiece], pairs: set[tuple[int, int]]) -> list[int]:
    """Each piece's batch, from 1: the longest chain of overlaps and `after` that ends in it; 0 if absent."""
    index = {p.piece.id: p.index for p in placed}
    before: dict[int, set[int]] = {p.index: set() for p in placed if p.sound}
    for earlier, later in pairs:
        before[later].add(earlier)
    for p in placed:
        if p.sound:
            before[p.index].update(index[i] for i in p.piece.after if placed[index[i]].sound)
    try:
        batch = longest_chains(before)
    except CycleError as error:
        ring = " > ".join(placed[i].piece.id for i in reversed(error.args[1]))
        raise UnusableInput(
            design.file,
            "pieces",
            f"These pieces wait for each other in a ring, by overlap or by their after key: {ring}",
            "Take one id out of an after list, or change the order of the pieces",
        ) from None
    return [batch.get(p.index, 0) for p in placed]


def longest_chains(before: Mapping[int, set[int]]) -> dict[int, int]:
    """For each piece, how many pieces the longest chain has that ends in it; `before` says what each waits for.

    Raises:
        graphlib.CycleError: they wait for each other in a ring.
    """
    chain: dict[int, int] = {}
    for i in TopologicalSorter(before).static_order():
        chain[i] = 1 + max((chain[j] for j in before[i]), default=0)
    return chain
