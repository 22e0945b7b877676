"""Findings of strength: wood that is too thin, too narrow, too small or cut across its grain."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import permutations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ..measures.all_measures import Measures, NarrowPlace
from ..measures.blanks import board_needed
from ..measures.grain_strength import off_grain
from ..measures.skins_and_floors import skin_thickness
from ..measures.walls import HAIR, SharedEdge, Wall
from ..stack.pocket_pairs import FLUSH
from ..stack.stack import PlacedPiece
from .causes import at_one_place, sharing_a_piece
from .finding import Finding, Step, below, listed, of

Array = npt.NDArray[np.float64]

BITE = 0.75
"""How deep a later pocket should cut into an earlier piece that it meets, mm: 0.5 to 1 (common practice)."""
LEAST_BITE = 0.55
"""The least bite that is tried, mm: one of 0.5 is a hair still, and where four tiles meet that are rounded by the usual
cutter, more than 0.57 of each leaves but a hair between two of them (geometry)."""
DEEPER = 0.2
"""A pocket cut through the insert below goes so much deeper than it, mm (common practice)."""
LEAST_TURN = 5.0
"""Grain that is turned by fewer degrees than this is laid out no better than before (common practice)."""
SHALLOWER = 1.0
"""Or it stays so much above that insert's bottom, mm (common practice); more where `min_skin` asks for more."""

# --- Walls, meeting edges, skins ------------------------------------------------------------------------------------


def meeting_edges(m: Measures) -> Iterator[Finding]:
    """Two pockets with 0.01 < gap < 0.5 mm, or an overlap nowhere wider than 0.5 mm; a note for a shared edge."""
    hairs = [wall for wall in m.walls if below(wall.gap, HAIR)]
    belong = sharing_a_piece([(w.earlier, w.later) for w in hairs], [w.gap for w in hairs], FLUSH)
    for wall, cause in zip(hairs, _causes("a gap", m, hairs, belong), strict=True):
        earlier, later = m.stack.pieces[wall.earlier], m.stack.pieces[wall.later]
        words = f"only {wall.gap:.2f} mm of wood is left between it and {earlier.piece.id}, which will crumble"
        days = _days(m, wall.earlier, wall.later) if wall.one_batch else ""
        remedy = f"Let it bite {LEAST_BITE:.2f} to 1.00 mm into {earlier.piece.id}{days}, {_apart(m, wall.one_batch)}"
        step = _bite(earlier, later)
        yield of(
            "warning", "meeting-edges", later, wall.at, words, remedy, step, other=earlier, value=-wall.gap, cause=cause
        )
    for bite in m.bites:
        earlier, later = m.stack.pieces[bite.earlier], m.stack.pieces[bite.later]
        words = f"it bites only {bite.width:.2f} mm into {earlier.piece.id}: if the cutter slips, a gap shows"
        remedy = f"Let it bite {LEAST_BITE:.2f} to 1.00 mm into {earlier.piece.id}, {_apart(m, one_batch=True)}"
        yield of("warning", "meeting-edges", later, bite.at, words, remedy, other=earlier, value=-bite.width)
    yield from _shared_edges(m)


def _apart(m: Measures, one_batch: bool) -> str:
    """Or the other way: so much wood between two pockets that it stands."""
    return f"or move them until {m.workshop.min_wall if one_batch else HAIR:.2f} mm of wood is left between them"


def _shared_edges(m: Measures) -> Iterator[Finding]:
    """One note for each edge that two pockets of one batch share; those of one tiled region have one cause."""
    edges = m.shared_edges
    belong = sharing_a_piece([(edge.earlier, edge.later) for edge in edges], [0.0] * len(edges), 0.0)
    regions: dict[int, list[SharedEdge]] = {}
    for edge, first in zip(edges, belong, strict=True):
        regions.setdefault(first, []).append(edge)
    days = {first: m.order.days_if((edge.earlier, edge.later) for edge in some) for first, some in regions.items()}
    for edge, first, cause in zip(edges, belong, _causes("an edge", m, edges, belong), strict=True):
        earlier, later = m.stack.pieces[edge.earlier], m.stack.pieces[edge.later]
        glue = max(0.0, earlier.piece.side_clearance) + max(0.0, later.piece.side_clearance)
        words = (
            f"it shares an edge of {edge.length:.2f} mm with {earlier.piece.id} and is cut on the same day: no wood is "
            f"left between them, and the glue line there gets {glue:.2f} mm wide, as wide as both clearances together"
        )
        remedy = _bite_remedy(m, earlier, regions[first], days[first])
        yield of("note", "meeting-edges", later, edge.at, words, remedy, other=earlier, value=edge.length, cause=cause)


def _bite_remedy(m: Measures, earlier: PlacedPiece, region: Sequence[SharedEdge], after: int) -> str:
    """How a shared edge is cured, with all others of its region, and what that costs."""
    days = days_words(len(m.stack.batches), after)
    if len(region) == 1:
        return f"Let it bite {LEAST_BITE:.2f} to 1.00 mm into {earlier.piece.id}: {days}"
    count = len({piece for edge in region for piece in (edge.earlier, edge.later)})
    return f"Let each later one of these {count} pieces bite {LEAST_BITE:.2f} mm into those that it meets: {days}"


def days_words(before: int, after: int) -> str:
    """What it costs in days of glueing: one for each batch."""
    count = f"{after} glue {'day' if after == 1 else 'days'}"
    return f"this takes {count} instead of {before}" if after != before else f"this still takes {count}"


def _days(m: Measures, first: int, then: int) -> str:
    """What it costs in days of glueing that one piece of a batch comes after another; nothing where it costs none."""
    before = len(m.stack.batches)
    after = max(before, *m.order.moved_if(then, first).values())
    return f" ({days_words(before, after)})" if after != before else ""


def _causes(what: str, m: Measures, pairs: Sequence[Wall | SharedEdge], belong: Sequence[int]) -> list[str | None]:
    """The name of each pair's cause, from the first pair that belongs to it; none where it stands alone."""
    count = Counter(belong)
    names = [f"{what} of {m.stack.pieces[p.earlier].piece.id} and {m.stack.pieces[p.later].piece.id}" for p in pairs]
    return [names[first] if count[first] > 1 else None for first in belong]


def _bite(earlier: PlacedPiece, later: PlacedPiece) -> Step | None:
    """The later piece moved straight towards the earlier one, until it bites."""
    if any(_surrounds(*pair) for pair in permutations((earlier, later))):
        return None
    line = shapely.shortest_line(later.pocket, earlier.pocket)
    (x0, y0), (x1, y1) = shapely.get_coordinates(line).tolist()
    if line.length <= FLUSH:
        return None
    share = 1 + BITE / line.length
    x, y = later.piece.at
    return Step(later.piece.id, "at", (round(x + share * (x1 - x0), 3), round(y + share * (y1 - y0), 3)))


def _surrounds(one: PlacedPiece, other: PlacedPiece) -> bool:
    """Whether a piece lies in a hole of another: moved to bite on one side, it would only gape on the other."""
    around = shapely.polygons(shapely.get_exterior_ring(shapely.get_parts(one.pocket)))
    return bool(shapely.covers(around, other.pocket).any())


def thin_wall(m: Measures) -> Iterator[Finding]:
    """A wall from 0.5 mm to `min_wall` between pockets of one batch; walls that meet at one place have one cause."""
    least = m.workshop.min_wall
    thin = _thin_walls(m)
    belong = at_one_place([wall.at for wall in thin], [wall.gap for wall in thin])
    by_piece: dict[int, list[Wall]] = {}
    for wall in m.walls:
        by_piece.setdefault(wall.earlier, []).append(wall)
        by_piece.setdefault(wall.later, []).append(wall)
    for wall, cause in zip(thin, _causes("a wall", m, thin, belong), strict=True):
        earlier, later = m.stack.pieces[wall.earlier], m.stack.pieces[wall.later]
        words = (
            f"the wall between it and {earlier.piece.id} is only {wall.gap:.2f} mm thick, less than {least:.2f} mm, "
            f"and {wall.height:.2f} mm high, and it stands alone while both pockets are open"
        )
        step = _one_after_the_other(m, wall, by_piece)
        remedy = f"Let the later one bite {LEAST_BITE:.2f} to 1.00 mm into the earlier, {_apart(m, one_batch=True)}"
        if step is not None:
            first = earlier if step.piece == later.piece.id else later
            days = _days(m, *((wall.earlier, wall.later) if first is earlier else (wall.later, wall.earlier)))
            remedy = f"Cut {step.piece} after {first.piece.id} is glued in{days}, {_apart(m, one_batch=True)}"
        yield of(
            "warning", "thin-wall", later, wall.at, words, remedy, step, other=earlier, value=-wall.gap, cause=cause
        )


def _thin_walls(m: Measures) -> list[Wall]:
    """Walls of one batch that are no hair and too thin."""
    least = m.workshop.min_wall
    return [w for w in m.walls if w.one_batch and not below(w.gap, HAIR) and below(w.gap, least)]


def _one_after_the_other(m: Measures, wall: Wall, by_piece: Mapping[int, Sequence[Wall]]) -> Step | None:
    """One of the pair after the other, if that opens no other thin wall's two pockets at once."""
    for first, then in permutations((wall.earlier, wall.later)):
        moved = m.order.moved_if(then, first)

        def batch(piece: int, moved: Mapping[int, int] = moved) -> int:
            return moved.get(piece, m.stack.pieces[piece].batch)

        near = (w for piece in moved for w in by_piece.get(piece, ()))
        if all(w.one_batch or batch(w.earlier) != batch(w.later) for w in near):
            piece = m.stack.pieces[then].piece
            return Step(piece.id, "after", (*piece.after, m.stack.pieces[first].piece.id))
    return None


def thin_skin(m: Measures) -> Iterator[Finding]:
    """A skin of an earlier insert, thinner than `min_skin`, is left under a shallower later pocket."""
    off = abs(m.workshop.depth_error)
    for skin in m.skins:
        earlier, later = m.stack.pieces[skin.earlier], m.stack.pieces[skin.later]
        words = (
            f"its pocket leaves a skin of {earlier.piece.id} only {max(skin.thickness - off, 0.0):.2f} mm thick, "
            f"less than {m.workshop.min_skin:.2f} mm, which peels off"
        )
        bottom = skin_thickness(earlier, later) + later.piece.pocket_depth
        through, above = bottom + DEEPER + off, bottom - max(SHALLOWER, m.workshop.min_skin + off)
        good = [round(depth, 6) for depth in (through, above) if sound_depth(m, later, depth)]
        remedy = f"Move {later.piece.id} off {earlier.piece.id}, or take a thicker panel"
        if good:
            depths = " or ".join(f"{depth:.2f} mm" for depth in good)
            remedy = f"Cut the pocket of {later.piece.id} {depths} deep"
        step = Step(later.piece.id, "pocket_depth", good[0]) if good else None
        yield of("warning", "thin-skin", later, skin.at, words, remedy, step, other=earlier, value=-skin.thickness)


def sound_depth(m: Measures, placed: PlacedPiece, depth: float) -> bool:
    """Whether a pocket may be so deep: floor, cutter, the insert's top, and skins with every piece that it meets."""
    piece = placed.piece
    error = m.workshop.depth_error
    floor = m.panel.thickness - depth - error
    reach = m.workshop.cutter_length
    top = placed.top + piece.pocket_depth - depth - error
    if depth + error <= m.panel.face_trim or below(floor, m.workshop.min_floor) or below(top, -m.panel.face_trim):
        return False
    if reach is not None and below(reach, depth):
        return False
    skins = [-m.stack.pieces[i].bottom - depth for i in placed.over]
    skins += [depth - piece.floor_gap - m.stack.pieces[j].depth for j in placed.under]
    return not any(below(0, skin) and below(skin, m.workshop.min_skin + abs(error)) for skin in skins)


# --- Necks ----------------------------------------------------------------------------------------------------------


def thin_neck(m: Measures) -> Iterator[Finding]:
    """A neck or tongue narrower than `min_neck` as sawn, or than `min_neck_glued` of a remnant or of the background."""
    least, glued = m.workshop.min_neck, m.workshop.min_neck_glued
    for narrow in m.narrow:
        neck = narrow.neck
        if below(neck.width, least):
            words = f"{_called(narrow)} {neck.width:.2f} mm wide, less than {least:.2f} mm, may snap before it is glued"
            remedy = f"Draw it at least {least:.2f} mm wide, or make two pieces of it that meet there"
            yield of(
                "warning", "thin-neck", narrow.placed, neck.at, words + _ranked(m, narrow), remedy, value=-neck.width
            )
    walls = {(wall.earlier, wall.later) for wall in _thin_walls(m)}
    for narrow in m.narrow_remnants:
        neck = narrow.neck
        if _stands_in_wall(m, narrow, walls):
            continue
        words = (
            f"what is left of it has {_called(narrow)} only {neck.width:.2f} mm wide (less than {glued:.2f} mm), which "
            f"may chip"
        )
        remedy = f"Move {_neighbours(m, narrow)} so that {glued:.2f} mm of wood is left there, or none"
        rim = _rim_cutter(m, narrow)
        if rim is not None:
            remedy = f"Make {rim.piece.id} smaller, so that {glued:.2f} mm is left all round, or so large that none is"
        yield of("warning", "thin-neck", narrow.placed, neck.at, words, remedy, value=-neck.width)
    for thin in m.background_necks:
        earlier, later = m.stack.pieces[thin.earlier], m.stack.pieces[thin.later]
        what = "the wall of the panel" if thin.kind == "between" else "the tip of the panel"
        words = (
            f"{what} between it and {earlier.piece.id} is only {thin.width:.2f} mm wide there, less than "
            f"{glued:.2f} mm, and may chip"
        )
        remedy = f"Move one of them so that {glued:.2f} mm is left, or so that nothing is left there"
        yield of("warning", "thin-neck", later, thin.at, words, remedy, other=earlier, value=-thin.width)


def short_grain(m: Measures) -> Iterator[Finding]:
    """A neck or fin of an insert, up to 3 x `min_neck` wide and long beside that, its grain over 45° off its run."""
    for narrow in m.narrow:
        snaps = narrow.snaps_at
        if snaps is not None:
            weak = snaps.place
            words = (
                f"short grain: {_called(narrow)} may snap where it is {weak.width:.2f} mm wide: its grain runs "
                f"{weak.off_grain:.0f}° off its length there, and {_reaching(narrow, snaps.lever)}"
            )
            step = _turned_grain(m, narrow.placed)
            remedy = "No grain direction suits all of it: make two pieces of it, each with its own grain"
            if step is not None:
                remedy = f"Set its grain to {step.value:.0f}° on the panel (counter-clockwise from the lower edge)"
            told = words + _ranked(m, narrow)
            yield of("warning", "short-grain", narrow.placed, weak.at, told, remedy, step, value=-weak.rank)


def _neighbours(m: Measures, narrow: NarrowPlace) -> str:
    """The later pieces that make a neck of a remnant; if none does, the edge trim made it."""
    wall = shapely.buffer(shapely.points(narrow.neck.at), narrow.neck.width)
    later = (m.stack.pieces[j] for j in narrow.placed.under)
    return " or ".join(placed.piece.id for placed in later if placed.pocket.intersects(wall)) or "it"


def _rim_cutter(m: Measures, narrow: NarrowPlace) -> PlacedPiece | None:
    """The later piece that leaves so thin a rim on both its sides that moving it helps neither."""
    across = np.subtract(*narrow.neck.walls)
    across /= max(float(np.hypot(*across)), 1e-9)
    size = _extent(narrow.placed.insert, across)
    around = shapely.polygons(shapely.get_exterior_ring(shapely.get_parts(narrow.placed.insert)))
    for j in narrow.placed.under:
        later = m.stack.pieces[j]
        left = size - _extent(later.pocket, across)
        if below(left, 2 * m.workshop.min_neck_glued) and shapely.covers(around, later.pocket).any():
            return later
    return None


def _extent(shape: BaseGeometry, along: Array) -> float:
    """How far a shape reaches in a direction, mm."""
    return float(np.ptp(shapely.get_coordinates(shape) @ along))


def _stands_in_wall(m: Measures, narrow: NarrowPlace, thin: Collection[tuple[int, int]]) -> bool:
    """Whether the walls of a neck are those of a thin wall, given by its pair of pieces, which is told as that."""
    beside = [
        {j for j in narrow.placed.under if shapely.dwithin(m.stack.pieces[j].pocket, shapely.points(wall), 2 * FLUSH)}
        for wall in narrow.neck.walls
    ]
    return any((min(i, j), max(i, j)) in thin for i in beside[0] for j in beside[1])


def _called(narrow: NarrowPlace) -> str:
    return "a neck" if narrow.neck.kind == "between" else "a tongue"


def _reaching(narrow: NarrowPlace, lever: float) -> str:
    """How far the wood reaches that may snap off at a narrow place."""
    if narrow.neck.kind == "between":
        return f"the wood reaches {lever:.2f} mm out from there (the neck included)"
    return f"it reaches {lever:.2f} mm out from there"


def _ranked(m: Measures, narrow: NarrowPlace) -> str:
    """Says which of several places is the weakest."""
    told = [n for n in m.narrow if below(n.neck.width, m.workshop.min_neck) or n.snaps_at]
    weakest = min(told, key=lambda n: n.weakest.rank)
    return f"; it is the weakest of {len(told)} such places on this panel" if narrow is weakest and told[1:] else ""


def _turned_grain(m: Measures, placed: PlacedPiece) -> Step | None:
    """The suggested grain, in fives of degrees if that does: no neck has short grain then, no board is too narrow."""
    best = m.suggested_grain[placed.index]
    for grain in (5.0 * round(best / 5) % 180, best):
        if float(off_grain(grain, placed.grain)) >= LEAST_TURN and _suits(m, placed, grain):
            return Step(placed.piece.id, "grain", grain)
    return None


def _suits(m: Measures, placed: PlacedPiece, grain: float) -> bool:
    """Whether no neck has short grain with that grain, and no board gets too narrow by it."""
    board = m.workshop.board_width
    wide = below(board, board_needed(placed, grain)) and not below(board, board_needed(placed, placed.grain))
    return not wide and not m.has_short_grain(placed, grain)


# --- Islands and remnants -------------------------------------------------------------------------------------------


def fragile_island(m: Measures) -> Iterator[Finding]:
    """An island narrower than `min_island`, or than its pocket is deep."""
    least = m.workshop.min_island
    for island in m.islands:
        placed, width = m.stack.pieces[island.piece], island.width
        needed = max(least, island.height)
        step = None
        remedy = f"Draw the island at least {needed:.2f} mm wide, or fill its place with a piece of its own"
        if not below(width, least):
            depth = int(width * 100) / 100
            remedy = f"Cut the pocket at most {depth:.2f} mm deep, or draw the island at least {needed:.2f} mm wide"
            step = Step(placed.piece.id, "pocket_depth", depth) if sound_depth(m, placed, depth) else None
        words = f"an island {width:.2f} mm wide stands in its pocket, {island.height:.2f} mm high"
        words += f": it is narrower than {least:.2f} mm" if below(width, least) else ": it is narrower than it is high"
        words += " and breaks off"
        yield of("warning", "fragile-island", placed, island.at, words, remedy, step, value=needed - width)


def loose_remnant(m: Measures) -> Iterator[Finding]:
    """A part of what is left of a piece that is smaller than 25 mm², or a crumb that is left of the background."""
    for part in m.loose:
        placed = m.stack.pieces[part.piece]
        causes = [m.stack.pieces[j].piece.id for j in part.cut_by] + (["the edge trim"] if part.trimmed else [])
        verb = "leaves" if len(causes) == 1 else "leave"
        words = f"{listed(causes)} {verb} a part of only {part.area:.2f} mm² of it, which hardly any glue holds"
        remedy = "Cover that part completely, or move one of the pieces so that more of it is left"
        yield of("warning", "loose-remnant", placed, part.at, words, remedy, value=-part.area)
    for crumb in m.background_crumbs:
        around = [m.stack.pieces[i] for i in crumb.pieces]
        causes = [placed.piece.id for placed in around] + (["the edge trim"] if crumb.trimmed else [])
        words = f"a crumb of the panel of only {crumb.area:.2f} mm² is left between {listed(causes)}, which breaks off"
        remedy = "Let one of them cover it, or move one so that more is left"
        first = around[0] if around[1:] else None
        yield of(
            "warning",
            "loose-remnant",
            around[-1],
            crumb.at,
            words,
            remedy,
            other=first,
            value=-crumb.area,
            cause=f"crumbs of {crumb.area:.2f} mm² of the panel",
        )
