"""The sheet's pages on each batch: its map, and a card with boxes to tick for each of its pieces."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..cutter.sizes import diameter_text
from .blocks import THIRD, Block, Drawn, Heading, Lines, PieceRow
from .glue_up import numbers_text
from .lengths import Units, inch_text, length_text, near_inch_text, size_text
from .picture import NOT_MIRRORED, batch_map, blank_picture, grey_areas
from .plan import BatchWork, PieceWork, Plan
from .titles import GOES_WRONG, ZERO, batch_title

MIRRORED = "MIRRORED: seen from the back, face down"
MOST_WATCHED = 6


def batch_pages(plan: Plan, batch: BatchWork, units: Units) -> Iterator[Block]:
    """The map, what to do first, and the cards."""
    count = len(batch.pieces)
    title = batch_title(batch.number, len(plan.batches))
    yield Heading(f"{title}: {count} {'piece' if count == 1 else 'pieces'}", page=True, joins=THIRD)
    grey = " Grey: already glued in." if grey_areas(plan, batch) else ""
    yield Drawn(
        batch_map(plan, batch),
        f"{NOT_MIRRORED.capitalize()}. Hatched: the pockets of this batch.{grey} Thick angle: zero",
    )
    yield Lines((*_first(plan, batch), _cutters(batch, units)), strong=True)
    yield Lines(
        (
            f"Cut the pockets along {batch.file}-pockets and the inserts along {batch.file}-inserts (SVG or DXF), "
            "which lie in the folder of this sheet; by hand, along templates.pdf printed at 100 %. Depths count from "
            "the raw face.",
        )
    )
    yield from (_row(plan, piece, units) for piece in batch.pieces)


def _first(plan: Plan, batch: BatchWork) -> Iterator[str]:
    zero = plan.zero
    place = "Panel on its pins" if zero.pins else "Panel against its stops"
    depth = "depth touched off at the depth spot" if zero.depth_place else "depth touched off at a raw edge"
    if batch.level_first:
        before = [piece.number for piece in plan.batches[batch.number - 2].pieces]
        level = numbers_text([number for number in batch.level_first if number in before])
        yield f"☐ Level first: what stands proud of {level or 'earlier inserts'} comes down to the raw face."
        yield f"☐ Zero anew: {place[:1].lower()}{place[1:]}, {depth} (see “{ZERO}”)."
    else:
        drilled = "zero set, pins drilled, panel on them" if zero.pins else f"{place[:1].lower()}{place[1:]}, zero set"
        yield f"☐ Before the first pocket: {drilled}, raw face up, {depth} (see “{ZERO}”)."
    yield f"Then all pockets, all inserts, dry fit, glue, clamp. Something is wrong: see “{GOES_WRONG}”."


def _cutters(batch: BatchWork, units: Units) -> str:
    """Which cutters the batch takes, the one of most pieces first, and what is done after a change."""
    users: dict[tuple[float, float], list[int]] = {}
    for work in batch.pieces:
        piece = work.placed.piece
        users.setdefault((piece.taper, piece.cutter_diameter), []).append(work.number)
    said: list[str] = []
    for (taper, diameter), numbers in sorted(users.items(), key=lambda each: -len(each[1])):
        size = _cutter(diameter, units)
        words = f"tapered, {taper:g}° a side and {size} at its tip," if taper else size
        most = not said and len(numbers) > 1
        said.append(words.rstrip(",") if most else f"{words} for {numbers_text(numbers)}")
    if len(said) == 1:
        return f"Cutter of this batch: {said[0]}."
    return f"Cutters of this batch: {'; '.join(said)}. After each change of cutter touch off depth anew; leave x and y."


def _row(plan: Plan, work: PieceWork, units: Units) -> PieceRow:
    piece = work.placed.piece
    tip = " at its tip" if piece.taper else ""
    lines = [
        f"Pocket {length_text(piece.pocket_depth, units)} deep, cutter {_cutter(piece.cutter_diameter, units)}{tip}"
        + (f", insert {length_text(work.placed.top, units)} proud" if work.placed.top > 0 else "")
    ]
    lines += _blank_lines(work, units)
    if work.strip:
        lines += _strip_lines(work, units)
    else:
        lines.append(f"Grain on the panel {work.placed.grain:.0f}°")
    if work.waits_for:
        lines.append(
            f"Cut only when {numbers_text(work.waits_for)} {'is' if len(work.waits_for) == 1 else 'are'} glued in"
        )
    left = len(work.watch) - MOST_WATCHED
    watch = (*work.watch[:MOST_WATCHED], *([f"and {left} more: the check lists them"] if left > 0 else []))
    count = len(work.blanks)
    pictures = tuple(
        blank_picture(blank.laid, f"{work.number}.{part}: {part} of {count}" if count > 1 else "")
        for part, blank in enumerate(work.blanks, 1)
    )
    mirrored = any(picture.mirrored for picture in pictures)
    caption = "a strip: no drawing" if work.strip else MIRRORED if mirrored else "not mirrored, face up"
    return PieceRow(work, f"{work.id}, {' + '.join(work.woods)}", tuple(lines), watch, pictures, caption)


def _blank_lines(work: PieceWork, units: Units) -> Iterator[str]:
    """The blanks; those that are alike on one line."""
    count = len(work.blanks)
    said = [
        f"{size_text((blank.length, blank.width), units)} along × across the grain, "
        f"{length_text(blank.thickness, units)} thick"
        for blank in work.blanks
    ]
    if len(set(said)) == 1 and count > 1:
        to = "and" if count == 2 else "to"
        yield f"{count} parts, {work.number}.1 {to} {work.number}.{count}. Blank of each {said[0]}"
    else:
        for part, words in enumerate(said, 1):
            name = f"{work.number}.{part} ({part} of {count}) " if count > 1 else ""
            yield f"Blank {name}{words}"
    leaves = max((blank.leaves for blank in work.blanks), default=1)
    if leaves > 1:
        yield f"☐ Glue the blank from {leaves} leaves edge to edge, and leave it for its clamp time before you saw"


def _strip_lines(work: PieceWork, units: Units) -> Iterator[str]:
    strip = work.strip
    assert strip is not None
    yield (
        f"Strip {length_text(strip.width, units)} thick, {length_text(strip.height, units)} high, grain along it; the "
        f"groove is {length_text(strip.length, units, 0)} long: cut {length_text(strip.cut_length, units, 0)}"
        + (f", try it dry, and shorten it {strip.shorten} until it lies in the groove" if strip.shorten else "")
    )
    if strip.bend > strip.least_bend and math.isfinite(strip.bend):
        yield (
            f"It bends in dry and cold, without steam or water: to a radius of {length_text(strip.bend, units, 0)} at "
            f"the tightest, and may go down to {length_text(strip.least_bend, units, 0)}"
        )
    yield from (f"Strip: {words}" for words in strip.hides)


def _cutter(diameter: float, units: Units) -> str:
    said = diameter_text(diameter)
    return {"mm": said, "inch": inch_text(diameter), "both": f"{said} ({near_inch_text(diameter)})"}[units]
