"""What is wrong with a design, and what to do about it: one function per finding, named for it.

A finding is told to a maker: what is wrong, where on the panel, what next. `FINDINGS` lists them all;
docs/findings.md tells where each threshold comes from.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

import shapely

from .areas import NOISE_AREA
from .design import Point
from .errors import UnusableInput
from .measures import Loss, Measures, Place, inside, overshoot
from .stack import PlacedPiece, Stack
from .woods import find_wood, near_woods

Level = Literal["error", "warning", "note"]
LEVELS: tuple[Level, ...] = ("error", "warning", "note")
UNBUILDABLE = ("bad-outline", "empty-fit", "unknown-wood")
"""Findings with which there is nothing to show or saw: pictures, solids and sheets refuse."""
ROUNDING = 1e-9
"""Lengths that differ by less, mm, are equal: 12.7 - 7.7 is less than 5 in floating point."""


@dataclass(frozen=True)
class Step:
    """A remedy that is one change of the design file: set that key of that piece to that value."""

    piece: str
    key: str
    value: float | str


@dataclass(frozen=True)
class Finding:
    """One thing that a maker should know of one place."""

    level: Level
    code: str
    piece: str | None
    """The later one of a pair; None for the panel and its background."""
    other: str | None
    """The earlier one of a pair."""
    at: Point
    text: str
    remedy: str
    step: Step | None = None


def find_all(stack: Stack) -> tuple[Finding, ...]:
    """All findings of a design, sorted by level, design order, code and place."""
    measures = Measures(stack)
    found = [finding for find in FINDINGS.values() for finding in find(measures)]
    order = {placed.piece.id: placed.index for placed in stack.pieces}

    def rank(finding: Finding) -> tuple[int, int, str, Point]:
        piece = -1 if finding.piece is None else order[finding.piece]
        return LEVELS.index(finding.level), piece, finding.code, finding.at

    return tuple(sorted(found, key=rank))


def refuse_if_unusable(stack: Stack, findings: Iterable[Finding]) -> None:
    """For pictures, solids and sheets.

    Raises:
        UnusableInput: some piece cannot be made at all, or some wood is unknown.
    """
    unusable = [finding for finding in findings if finding.code in UNBUILDABLE]
    if unusable:
        first, more = unusable[0], len(unusable) - 1
        others = f" ({more} more like it: run check)" if more else ""
        raise UnusableInput(stack.design.file, first.code, first.text + others, first.remedy)


# --- Pieces and woods that cannot be used ---------------------------------------------------------------------------


def bad_outline(m: Measures) -> Iterator[Finding]:
    """A ring crosses itself, or has no area."""
    for placed in m.stack.pieces:
        if placed.problem is not None and placed.outline.is_empty:
            at = placed.problem_at or placed.piece.at
            remedy = "Draw it again, so that no ring crosses or touches itself or another"
            yield _of("error", "bad-outline", placed, at, placed.problem, remedy)


def empty_fit(m: Measures) -> Iterator[Finding]:
    """Nothing of the pocket or of the insert is left after rounding and clearance."""
    for placed in m.stack.pieces:
        if placed.problem is None or placed.outline.is_empty:
            continue
        width = 2 * shapely.maximum_inscribed_circle(placed.outline, 0.001).length
        words = f"nothing of the {_empty_part(placed)} is left: the piece is {width:.2f} mm wide at its widest place"
        remedy = f"Draw it wider, or use a cutter of less than {width:.2f} mm and less clearance"
        yield _of("error", "empty-fit", placed, inside(placed.outline), words, remedy)


def _empty_part(placed: PlacedPiece) -> str:
    return "pocket" if placed.pocket.is_empty else "insert"


def unknown_wood(m: Measures) -> Iterator[Finding]:
    """A wood that is not in the species table."""
    for background in m.stack.background:
        if find_wood(background.wood) is None:
            name = background.name.replace("background-", "background strip ").replace("-", ", segment ")
            words, remedy = _no_such_wood(background.wood)
            at = inside(background.box)
            yield Finding("error", "unknown-wood", None, None, at, f"{name} at {_xy(at)}: {words}", remedy)
    for placed in m.stack.pieces:
        wood = placed.piece.wood
        if find_wood(wood) is None:
            words, remedy = _no_such_wood(wood)
            near = near_woods(wood)
            step = Step(placed.piece.id, "wood", near[0]) if near else None
            yield _of("error", "unknown-wood", placed, _somewhere(placed), words, remedy, step)


def _no_such_wood(name: str) -> tuple[str, str]:
    near = near_woods(name)
    remedy = f"Did you mean {' or '.join(near)}?" if near else "Choose one from the species table"
    return f'no wood is called "{name}"', remedy


# --- Panel and depth ------------------------------------------------------------------------------------------------


def outside_panel(m: Measures) -> Iterator[Finding]:
    """A pocket reaches beyond the raw panel."""
    box = m.stack.box
    shapely.prepare(box)
    for placed in m.sound:
        if box.covers(placed.pocket):
            continue
        for part in shapely.get_parts(shapely.difference(placed.pocket, box)):
            if part.area <= NOISE_AREA:
                continue
            reach, at = overshoot(part, box)
            words = f"its pocket reaches {reach:.2f} mm beyond the panel's {_edge_near(m, at)} edge"
            yield _of(
                "error", "outside-panel", placed, at, words, "Move it inward, make it smaller, or take a larger panel"
            )


def _edge_near(m: Measures, at: Point) -> str:
    x, y = at
    beyond = {"left": -x, "right": x - m.panel.width, "bottom": -y, "top": y - m.panel.height}
    return max(beyond, key=lambda edge: beyond[edge])


def floor_too_thin(m: Measures) -> Iterator[Finding]:
    """A pocket goes through the panel (error), or leaves a floor below `min_floor` (warning)."""
    least, thickness = m.workshop.min_floor, m.panel.thickness
    for placed in m.sound:
        depth, at = placed.piece.pocket_depth, inside(placed.pocket)
        floor = thickness - depth
        good = thickness - least
        step = Step(placed.piece.id, "pocket_depth", good) if good > 0 else None
        remedy = f"Cut it {good:.2f} mm deep at most, or take a thicker panel" if step else "Take a thicker panel"
        if not _below(0, floor):
            words = f"a pocket {depth:.2f} mm deep goes through the {thickness:.2f} mm panel"
            yield _of("error", "floor-too-thin", placed, at, words, remedy, step)
        elif _below(floor, least):
            words = f"a pocket {depth:.2f} mm deep leaves a floor of {floor:.2f} mm, less than {least:.2f} mm"
            yield _of("warning", "floor-too-thin", placed, at, words, remedy, step)


def not_proud(m: Measures) -> Iterator[Finding]:
    """An insert's top lies below the finished face; where the face trim takes the whole pocket, that is told."""
    face = -m.panel.face_trim
    for placed in m.sound:
        if _below(placed.top, face) and not _trimmed_away(m, placed):
            thickness = placed.piece.insert_thickness + face - placed.top + m.workshop.proud
            words = f"the insert's top lies {face - placed.top:.2f} mm below the finished face"
            remedy = f"Saw it {thickness:.2f} mm thick, or cut its pocket shallower"
            step = Step(placed.piece.id, "insert_thickness", thickness)
            yield _of("error", "not-proud", placed, inside(placed.insert), words, remedy, step)


def trimmed_away(m: Measures) -> Iterator[Finding]:
    """The face trim reaches a pocket's floor."""
    trim = m.panel.face_trim
    for placed in m.sound:
        if _trimmed_away(m, placed):
            words = f"a face trim of {trim:.2f} mm takes off all of a pocket {placed.depth:.2f} mm deep"
            remedy = f"Cut it deeper than {trim:.2f} mm, or trim the face less"
            yield _of("error", "trimmed-away", placed, inside(placed.pocket), words, remedy)


def _trimmed_away(m: Measures, placed: PlacedPiece) -> bool:
    return not _below(m.panel.face_trim, placed.depth)


def hidden_piece(m: Measures) -> Iterator[Finding]:
    """Nothing of a piece is seen, though it stands high enough."""
    for placed in m.sound:
        low = _trimmed_away(m, placed) or _below(placed.top, -m.panel.face_trim)
        if low or not m.stack.remnants[placed.index].is_empty:
            continue
        if not placed.insert.intersects(m.stack.finished_box):
            words, remedy = "nothing of it is seen: it lies in the trimmed edge", "Move it inward, or leave it out"
        elif placed.under:
            covers = " and ".join(m.stack.pieces[j].piece.id for j in placed.under)
            words = f"nothing of it is seen: cut away by {covers}"
            remedy = "Leave it out, move it, or list it later"
        else:
            words, remedy = "nothing of it is seen", "Leave it out, or move it inward"
        yield _of("warning", "hidden-piece", placed, inside(placed.insert), words, remedy)


# --- What the cutter does to outlines -------------------------------------------------------------------------------


def cutter_too_big(m: Measures) -> Iterator[Finding]:
    """A part or a neck of the outline is lost, or a tip sharper than 60°."""
    for place in m.cut:
        cutter = f"the {place.placed.piece.cutter_diameter:.2f} mm cutter"
        area = f"{place.area:.2f} mm²"
        words = {
            Loss.PART: f"a part of {area} is lost: {cutter} does not get in",
            Loss.NECK: f"a neck of {area} is lost: {cutter} does not get through",
            Loss.TIP: f"{cutter} stops {place.reach:.2f} mm short of a tip and leaves out {area}",
        }
        remedy = {
            Loss.PART: "Draw that part wider, leave it out, or use a smaller cutter",
            Loss.NECK: "Draw the neck wider, make two pieces of it, or use a smaller cutter",
            Loss.TIP: "Draw the tip round or blunter, hide it under a later piece, or use a smaller cutter",
        }
        if place.loss in words:
            yield _of("warning", "cutter-too-big", place.placed, place.at, words[place.loss], remedy[place.loss])


def notch_filled(m: Measures) -> Iterator[Finding]:
    """A hole, a gap or a notch sharper than 60° is filled, since the insert cannot be cut there."""
    for place in m.filled:
        cutter = f"the {place.placed.piece.cutter_diameter:.2f} mm cutter"
        area = f"{place.area:.2f} mm²"
        words = {
            Loss.PART: f"a hole of {area} is filled: {cutter} does not get in",
            Loss.NECK: f"a gap of {area} is closed: {cutter} does not get through",
            Loss.TIP: f"a notch is filled {place.reach:.2f} mm deep, {area}: {cutter} does not get in",
        }
        remedy = {
            Loss.PART: "Draw the hole larger, leave it out, or use a smaller cutter",
            Loss.NECK: "Draw the gap wider, or use a smaller cutter",
            Loss.TIP: "Draw the notch wider at its end, hide it under a later piece, or use a smaller cutter",
        }
        if place.loss in words:
            yield _of("warning", "notch-filled", place.placed, place.at, words[place.loss], remedy[place.loss])


def corners_rounded(m: Measures) -> Iterator[Finding]:
    """Plain corners of a rounded fit: one note per piece, at the corner that changes most."""
    corners: dict[int, list[Place]] = {}
    for place in (*m.cut, *m.filled):
        if place.loss is Loss.CORNER and place.placed.piece.fit == "rounded":
            corners.setdefault(place.placed.index, []).append(place)
    for places in corners.values():
        worst = max(places, key=lambda place: (round(place.reach, 3), place.at))
        radius = worst.placed.piece.corner_radius
        count = f"{len(places)} corners are" if len(places) > 1 else "1 corner is"
        words = f"{count} rounded to a radius of {radius:.2f} mm, by up to {worst.reach:.2f} mm"
        remedy = "Nothing to do; a smaller cutter leaves corners sharper"
        yield _of("note", "corners-rounded", worst.placed, worst.at, words, remedy)


def binds(m: Measures) -> Iterator[Finding]:
    """Fitted as drawn: a corner where the sawn insert reaches beyond its pocket."""
    for place in m.binding:
        piece = place.placed.piece
        words = f"fitted as drawn, the insert binds: it reaches {place.interference:.2f} mm beyond its pocket"
        remedy = (
            f'Fit it "rounded", round the corner to {piece.cutter_radius:.2f} mm, use a smaller cutter, '
            f"or more side clearance than {piece.side_clearance:.2f} mm"
        )
        yield _of("warning", "binds", place.placed, place.at, words, remedy, Step(piece.id, "fit", "rounded"))


# --- Words ----------------------------------------------------------------------------------------------------------


def _of(
    level: Level, code: str, placed: PlacedPiece, at: Point, words: str, remedy: str, step: Step | None = None
) -> Finding:
    """A finding of one piece; its text begins with the piece and the place."""
    return Finding(level, code, placed.piece.id, None, at, f"{placed.piece.id} at {_xy(at)}: {words}", remedy, step)


def _xy(at: Point) -> str:
    x, y = (round(value, 2) + 0.0 for value in at)  # + 0.0: no minus zero
    return f"({x:.2f}, {y:.2f})"


def _somewhere(placed: PlacedPiece) -> Point:
    """A point inside a piece, even if it is not sound."""
    if placed.sound:
        return inside(placed.pocket)
    return placed.problem_at or placed.piece.at


def _below(one: float, other: float) -> bool:
    return one < other - ROUNDING


FINDINGS: dict[str, Callable[[Measures], Iterable[Finding]]] = {
    "bad-outline": bad_outline,
    "empty-fit": empty_fit,
    "unknown-wood": unknown_wood,
    "outside-panel": outside_panel,
    "floor-too-thin": floor_too_thin,
    "not-proud": not_proud,
    "trimmed-away": trimmed_away,
    "hidden-piece": hidden_piece,
    "cutter-too-big": cutter_too_big,
    "notch-filled": notch_filled,
    "corners-rounded": corners_rounded,
    "binds": binds,
}
"""Every finding by its code."""
