"""Ways to mend what was cut otherwise than the design says, each tried on a copy of the design before it is offered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import shapely
from shapely.geometry.base import BaseGeometry

from ..areas import without_noise
from ..design import Piece, PolygonOutline
from ..errors import UnusableInput
from ..findings.all_findings import find_all
from ..findings.finding import Finding, Step, listed, xy
from ..stack.stack import Stack, build_stack
from .content import SAME, CutAs, same_shape, within
from .lengths import mm_text

Graves = Counter[tuple[str, str | None, str | None]]
"""Findings by code, piece and other, how many of each."""
Kind = Literal["put-back", "recut-insert", "recut-pocket", "deeper-pocket", "patch", "deeper-insert"]

BITE = 1.0
"""A patch reaches so far beyond what it covers, mm (common practice): both glue lines lie in whole wood then."""
DEEPER = (0.3, 0.6, 1.0)
"""A pocket cut through old wood goes so much deeper, mm, past its glue: the least that works (common practice)."""
LEAST_SEEN = 0.5
"""A mistake that shows less of itself than this, mm², is none (common practice)."""
MOST_NAMED = 6
NEAR = 5.0
"""A change is felt so far beyond the least wall, mm."""


@dataclass(frozen=True)
class Repair:
    """One way to mend it."""

    kind: Kind
    words: str
    steps: tuple[Step, ...] = ()
    """Changes of the design that belong to it; with none it is work at the bench alone."""
    piece: Mapping[str, Any] | None = field(default=None, hash=False)
    """A piece that joins the design's list, as the file says it."""


def near(stack: Stack, shape: BaseGeometry) -> list[str]:
    """Pieces that a cut touches, or from which it leaves less than the least wall."""
    reach = stack.design.workshop.min_wall
    return [p.piece.id for p in stack.pieces if p.sound and shapely.dwithin(p.pocket, shape, reach)]


def grave(stack: Stack, shape: BaseGeometry) -> Graves:
    """Errors and warnings of the pieces about a place, the others left out."""
    return Counter((f.code, f.piece, f.other) for f in found_about(stack, shape) if f.level != "note")


def found_about(stack: Stack, shape: BaseGeometry) -> tuple[Finding, ...]:
    """All findings of the pieces about a place, as if there were no others."""
    reach = stack.design.workshop.min_wall + NEAR
    about = [p for p in stack.pieces if p.sound and shapely.dwithin(p.pocket, shape, reach)]
    names = {p.piece.id for p in about}
    pieces = tuple(replace(p.piece, after=tuple(n for n in p.piece.after if n in names)) for p in about)
    part = build_stack(replace(stack.design, pieces=pieces))
    return tuple(f for f in find_all(part) if f.piece is not None)


def with_pieces(stack: Stack, changed: Iterable[Piece], new: Sequence[Piece] = ()) -> Stack | None:
    """The stack with some pieces in another form, and new ones last; None where that is no design."""
    by_id = {piece.id: piece for piece in changed}
    pieces = tuple(by_id.get(piece.id, piece) for piece in stack.design.pieces)
    try:
        return build_stack(replace(stack.design, pieces=(*pieces, *new)), previous=stack)
    except UnusableInput:
        return None


def put_back(stack: Stack, piece: Piece, cut: CutAs, depth: float, thickness: float) -> Repair | None:
    """The design brought back to what was cut, where numbers do that."""
    wanted: dict[str, Any] = {"pocket_depth": depth, "insert_thickness": thickness, "taper": cut.taper}
    placed = next(p for p in stack.pieces if p.piece.id == piece.id)
    moved = shapely.get_coordinates(shapely.centroid(cut.shape)) - shapely.get_coordinates(placed.pocket.centroid)
    wanted["strip_clearance" if piece.is_groove else "side_clearance"] = cut.clearance
    if not piece.is_groove:
        wanted["grain"] = cut.grain
    if piece.blank is None and len(cut.woods) == 1:
        wanted["wood"] = cut.woods[0]
    now = {name: placed.grain if name == "grain" else getattr(piece, name) for name in wanted}
    differing = {
        name: value
        for name, value in wanted.items()
        if (value != now[name] if isinstance(value, str) else abs(value - now[name]) > 1e-3)
    }
    if not same_shape(placed.pocket, cut.shape) and cut.taper == piece.taper:
        x, y = (moved[0] + piece.at).tolist()
        differing["at"] = (round(x, 2), round(y, 2))
    if not differing:
        return None
    made = with_pieces(stack, [reshaped(piece, **differing)])
    if made is None or not same_shape(made.pieces[placed.index].pocket, cut.shape):
        return None
    if grave(made, cut.shape) - grave(stack, cut.shape):
        return None
    words = ", ".join(f"{name.replace('_', ' ')} {_said(value)}" for name, value in differing.items())
    steps = tuple(Step(piece.id, name, value) for name, value in differing.items())
    return Repair("put-back", f"Set the design back to what is cut: {words}", steps)


def _said(value: Any) -> str:
    return xy(value) if isinstance(value, tuple) else value if isinstance(value, str) else f"{value:g}"


def deeper_pocket(stack: Stack, piece: Piece, old: BaseGeometry, depth: float) -> Repair | None:
    """The piece's pocket cut deeper, so that it takes all of an older pocket with its insert and glue."""
    placed = next(p for p in stack.pieces if p.piece.id == piece.id)
    if not within(old, placed.pocket):
        return None
    before = grave(stack, shapely.union(old, placed.pocket))
    for more in DEEPER:
        deep = round(depth + more, 3)
        proud = piece.insert_thickness - piece.pocket_depth
        if deep <= piece.pocket_depth:
            deep = piece.pocket_depth
        changed = reshaped(piece, pocket_depth=deep, insert_thickness=round(deep + proud, 3))
        made = with_pieces(stack, [changed])
        if made is None or not made.pieces[placed.index].sound or grave(made, placed.pocket) - before:
            continue
        if not within(old, made.pieces[placed.index].pocket):
            continue
        steps = () if deep == piece.pocket_depth else (
            Step(piece.id, "pocket_depth", deep), Step(piece.id, "insert_thickness", changed.insert_thickness),
        )  # fmt: skip
        words = (
            f"Cut the pocket {mm_text(deep)} deep, through what is in it ({mm_text(depth)}), for a new insert "
            f"{mm_text(changed.insert_thickness)} thick"
        )
        return Repair("deeper-pocket", words, steps)
    return None


def patch(stack: Stack, name: str, mistake: BaseGeometry, like: CutAs, depth: float) -> Repair | None:
    """A piece that is cut last and covers a mistake, where one does so without doing harm."""
    workshop = stack.design.workshop
    seen = without_noise(shapely.intersection(mistake, stack.finished_box))
    if seen.is_empty:
        return None
    about = [other for other in near(stack, seen) if other != name]
    for solid in _covers(seen, workshop.cutter_diameter / 2):
        ring = shapely.get_coordinates(shapely.simplify(solid, 0.02))[:-1]
        points = tuple((round(x, 2), round(y, 2)) for x, y in ring.tolist())
        before = grave(stack, solid)
        for deep in (round(depth + more, 3) for more in (*DEEPER, 0.0)):
            piece = _patch_piece(stack, name, points, like, deep)
            made = with_pieces(stack, (), [piece])
            if made is None or not made.pieces[-1].sound:
                continue
            left = shapely.area(shapely.difference(seen, shapely.buffer(made.pieces[-1].pocket, SAME)))
            hidden: Graves = Counter([("hidden-piece", name, None)])  # as it is meant to be
            if left < LEAST_SEEN and not grave(made, solid) - before - hidden:
                return _patch_offered(piece, about)
    return None


def _covers(seen: BaseGeometry, radius: float) -> Iterator[shapely.Polygon]:
    """Outlines that a cutter of this radius can cut and that cover a place: the tightest first, then fuller ones."""
    hull = shapely.convex_hull(seen)
    if len(shapely.get_parts(seen)) == 1:
        yield shapely.Polygon(shapely.buffer(seen, BITE + radius).buffer(-radius).exterior)
    yield shapely.buffer(hull, BITE + radius).buffer(-radius)
    middle = shapely.centroid(hull)
    yield shapely.buffer(middle, shapely.hausdorff_distance(middle, hull) + BITE, quad_segs=32)


def _patch_offered(piece: Piece, about: Sequence[str]) -> Repair:
    into = f" and cuts into or lies beside {listed(about[:MOST_NAMED])}" if about else ""
    words = (
        f"Cover it with a patch of {piece.wood}, grain {piece.grain or 0:.0f}°, {mm_text(piece.pocket_depth)} deep, "
        f"which is cut last{into}"
    )
    assert isinstance(piece.outline, PolygonOutline)
    entry = {
        "id": piece.id, "wood": piece.wood, "grain": piece.grain,
        "outline": {"polygon": [list(point) for point in piece.outline.points]},
        "pocket_depth": piece.pocket_depth, "insert_thickness": piece.insert_thickness, "taper": 0,
        "side_clearance": piece.side_clearance,
    }  # fmt: skip
    return Repair("patch", words, (), entry)


def _free_name(stack: Stack, name: str) -> str:
    taken = {piece.id for piece in stack.design.pieces}
    base = name[:54] + "-patch"
    return next(each for each in (base, *(f"{base}-{n}" for n in range(2, 99))) if each not in taken)


def _patch_piece(stack: Stack, name: str, points: tuple[tuple[float, float], ...], like: CutAs, depth: float) -> Piece:
    shop = stack.design.workshop
    return Piece(
        id=_free_name(stack, name), wood=like.woods[0], outline=PolygonOutline(points), grain=like.grain,
        at=(0.0, 0.0), turn=0.0, scale=1.0, mirror=False, fit="rounded", after=(), pocket_depth=depth,
        insert_thickness=round(depth + shop.proud, 3), side_clearance=abs(shop.side_clearance),
        strip_clearance=shop.strip_clearance, taper=0.0, floor_gap=shop.floor_gap,
        cutter_diameter=shop.cutter_diameter,
        corner_radius=max(shop.cutter_diameter / 2, shop.corner_radius or 0.0),
    )  # fmt: skip


def reshaped(piece: Piece, **numbers: Any) -> Piece:
    """A piece with other numbers; its corners are as round as its cutter makes them then."""
    made = replace(piece, **numbers)
    least = made.radius_at_face
    default = abs(piece.corner_radius - piece.radius_at_face) < 1e-9
    return replace(made, corner_radius=least if default else max(piece.corner_radius, least))
