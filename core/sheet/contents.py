"""What stands on the sheet, in the order of the work, whatever it is printed or shown on."""

from __future__ import annotations

from collections.abc import Iterator

from ..boards.stock import EDGE, PLANING
from ..cutter.sizes import diameter_text
from ..findings.finding import xy
from ..measures.cautions import BENCH, woods_used
from ..measures.trim_slack import trim_slacks
from ..solids.frame import LAP, LEDGE
from ..stack.batch_reasons import waits_of
from ..stack.long_chains import long_chains
from .blocks import HALF, THIRD, Block, Drawn, Heading, Lines, PieceRow, Table
from .buying import WASTE, items
from .glue_up import LENGTH, THICKNESS, numbers_text
from .lengths import Units, inch_text, length_text, mm_text, size_text
from .picture import batch_map, blank_picture, panel_picture, zero_picture
from .plan import BatchWork, PieceWork, Plan
from .stock_layout import StockLayout, stock_layout
from .stock_pages import missing_lines, stock_pages, thickness_table, to_plane_table

__all__ = ["STEPS", "Block", "Drawn", "Heading", "Lines", "PieceRow", "Table", "contents"]

STEPS = {"pocket": "pocket cut", "insert": "insert cut", "fit": "dry fit", "glued": "glued"}
"""What is ticked of each piece, in the order of work."""
NOT_MIRRORED, MIRRORED = "seen from the face, not mirrored", "MIRRORED: seen from the back, face down"
MOST_WATCHED = 6


def contents(plan: Plan, units: Units) -> tuple[Block, ...]:
    """All blocks of the sheet."""
    layout = stock_layout(plan)
    return (
        *_cover(plan, layout, units),
        *_before(plan, units),
        *_background(plan, units),
        *(block for batch in plan.batches for block in _batch(plan, batch, units)),
        *_end(plan, units),
        *stock_pages(plan, layout, units),
        *_wood(plan, layout, units),
    )


def _cover(plan: Plan, layout: StockLayout, units: Units) -> Iterator[Block]:
    panel = plan.stack.design.panel
    left, bottom, right, top = plan.stack.finished_box.bounds
    amounts = plan.amounts
    pieces = plan.pieces
    yield Drawn(panel_picture(plan), f"The finished face, {NOT_MIRRORED}")
    yield Table(
        ("key sizes", ""),
        (
            ("raw panel", size_text((panel.width, panel.height, panel.thickness), units)),
            ("finished panel", size_text((right - left, top - bottom, panel.thickness - panel.face_trim), units)),
            ("pieces and batches", f"{len(pieces)} pieces in {amounts.glue_days} batches: as many glue days, each with "
             "the clamp time that the label of your glue gives"),
            ("background", f"{len(plan.glue_up.strips) or 1} strips, {amounts.background_clampings} clampings"),
            ("to cut", f"{amounts.pocket_length / 1000:.1f} m of pocket edges, {amounts.pocket_volume / 1000:.0f} cm³ "
             f"to clear, {amounts.insert_length / 1000:.1f} m round inserts"),
            ("thicknesses", _thicknesses(pieces, units)),
            *_chain_row(plan),
        ),
        (0.22, 0.78),
    )  # fmt: skip
    if plan.stack.design.stock:
        yield Lines(missing_lines(layout), strong=bool(layout.missing))
    yield Lines(
        (
            "Numbers are those of the order of gluing. Lengths are in millimetres"
            + (
                ""
                if units == "mm"
                else "; inches are the nearest 64th, and the small number after it is what is left over, in inches"
            )
            + ". Sentences under Watch are those of the check, in millimetres.",
        )
    )


def _chain_row(plan: Plan) -> Iterator[tuple[str, str]]:
    """What forces the number of glue days."""
    chains = long_chains(waits_of(plan.stack))
    if chains.days > 1:
        number = {piece.placed.index: f"{piece.number} {piece.id}" for piece in plan.pieces}
        count, one = len(chains.examples), ", ".join(number[i] for i in chains.examples[0])
        such = one if count == 1 else f"{count} chains of pieces that wait for each other, such as {one}"
        yield "what forces the days", f"{such}. build.py check --plan tries what would save a day, or a thickness"


def _thicknesses(pieces: tuple[PieceWork, ...], units: Units) -> str:
    found = {round(blank.thickness, 6) for piece in pieces for blank in piece.blanks}
    combined = {(blank.woods, round(blank.thickness, 6)) for piece in pieces for blank in piece.blanks}
    each = ", ".join(length_text(thickness, units) for thickness in sorted(found))
    return f"{len(found)} of inserts ({each}), in {len(combined)} combinations of wood and thickness" if found else "–"


def _before(plan: Plan, units: Units) -> Iterator[Block]:
    yield Heading("Before you begin: zero, and how to find it again", page=True)
    yield Drawn(zero_picture(plan), f"The raw panel, {NOT_MIRRORED}. Grey: all pockets. Thin line: the trimmed edge")
    zero, panel = plan.zero, plan.stack.design.panel
    lines = [
        "Zero is the lower left corner of the raw panel, on its raw face: the same in all files of build.py lines.",
    ]
    if zero.pins:
        places = " and ".join(f"({_both(x, units)}, {_both(y, units)})" for x, y in zero.pins)
        lines.append(
            f"Pins: drill two holes of {length_text(zero.pin_diameter, units)} through panel and board below, at "
            f"{places}. They lie in what is trimmed off; turned the wrong way round the panel does not go on."
        )
    else:
        lines.append(
            "No margin is wide enough for pins: screw two stops to the table at the lower edge and one at the left "
            "edge, and push the raw panel against all three each time."
        )
    if zero.depth_place:
        lines.append(
            f"Depth is measured from the raw face at {xy(zero.depth_place)}, where no insert covers it within "
            f"{length_text(zero.depth_room, units, 0)}. Do not sand there before the last batch is in."
        )
    else:
        lines.append("Inserts come near every place of the face: take depth from a raw edge, and level inserts first.")
    lines.append(
        f"Pocket depths count from the raw face. The face trim of {length_text(panel.face_trim, units)} is last."
    )
    yield Lines(tuple(lines))
    yield Heading("Safety")
    woods = [f"{used.name}: {used.species.cautions}." for used in woods_used(plan.stack) if used.species.cautions]
    yield Lines((*BENCH, " ".join(("Woods of this panel.", *woods))))
    if plan.panel_watch:
        yield Heading("Watch, in the panel as a whole")
        yield Lines(plan.panel_watch)


def _both(value: float, units: Units) -> str:
    return length_text(value, units)


def _background(plan: Plan, units: Units) -> Iterator[Block]:
    glued = plan.glue_up
    yield Heading("The background", page=True)
    if not glued.strips:
        size = (glued.length + LENGTH, glued.across + EDGE, glued.thickness)
        yield Lines(
            (f"One board of {glued.wood}, {size_text(size, units)}, grain along its length; flatten both faces.",)
        )
        return
    rows = [
        (
            str(strip.number),
            segment.wood,
            length_text(strip.width, units, 1),
            length_text(strip.rip_width, units, 1),
            length_text(segment.cut_length, units, 1),
        )
        for strip in glued.strips
        for segment in strip.segments
    ]
    yield Lines(
        (
            f"Strip 1 lies at the {glued.zero_edge} of the panel, the zero edge; segments are listed from the "
            f"{'bottom' if glued.zero_edge == 'left edge' else 'left'}. Rip {mm_text(EDGE, 1)} wider, then plane; "
            f"each strip is {mm_text(LENGTH, 0)} longer than the panel, and {mm_text(THICKNESS, 1)} thicker "
            f"({length_text(glued.thickness, units, 1)}), to be flattened on both faces.",
        )
    )
    yield Table(("strip", "wood", "width", "rip to", "cut to length"), tuple(rows), (0.08, 0.2, 0.24, 0.24, 0.24))
    yield Heading("Glue-up in stages")
    stages = [f"☐ {n}. {stage.what}." for n, stage in enumerate(glued.stages, 1)]
    panel = plan.stack.design.panel
    last = f"☐ Last: flatten both faces to {length_text(panel.thickness, units)}, and cut square to "
    yield Lines((*stages, last + size_text((panel.width, panel.height), units) + ". This is the raw panel."))


def _batch(plan: Plan, batch: BatchWork, units: Units) -> Iterator[Block]:
    count = len(batch.pieces)
    yield Heading(
        f"Batch {batch.number} of {len(plan.batches)}: {count} {'piece' if count == 1 else 'pieces'}",
        page=True,
        joins=THIRD,
    )
    yield Drawn(
        batch_map(plan, batch),
        f"{NOT_MIRRORED.capitalize()}. Hatched: the pockets of this batch. Grey: already glued in. The angle is zero",
    )
    lines = []
    if batch.level_first:
        proud = numbers_text(batch.level_first)
        lines.append(
            f"First bring the inserts that stand proud level with the raw face ({proud}), then set zero and depth anew."
        )
    lines.append(
        f"Lines to cut: {batch.file}-pockets and {batch.file}-inserts (SVG or DXF), which build.py lines writes."
    )
    yield Lines(tuple(lines), strong=True)
    yield from (_row(plan, piece, units) for piece in batch.pieces)


def _row(plan: Plan, work: PieceWork, units: Units) -> PieceRow:
    piece = work.placed.piece
    lines = [
        f"Pocket {length_text(piece.pocket_depth, units)} deep, cutter {_cutter(piece.cutter_diameter, units)}"
        + (f", walls lean {piece.taper:g}°" if piece.taper else "")
    ]
    for blank in work.blanks:
        name = "" if len(work.blanks) == 1 else blank.name.removeprefix(piece.id).strip() + " "
        leaves = f", {blank.leaves} leaves edge to edge" if blank.leaves > 1 else ""
        lines.append(
            f"Blank {name}{size_text((blank.length, blank.width), units)}, grain along it{leaves}; "
            f"{length_text(blank.thickness, units)} thick"
        )
    if work.strip:
        strip = work.strip
        lines.append(
            f"Strip {length_text(strip.width, units)} thick, {length_text(strip.height, units)} high, groove "
            f"{length_text(strip.length, units, 0)} long: cut {length_text(strip.cut_length, units, 0)}"
        )
        lines += [f"Strip: {words}" for words in strip.hides]
    else:
        lines.append(f"Grain on the panel {work.placed.grain:.0f}° from +x, counter-clockwise")
    if work.waits_for:
        lines.append(f"Cuts into or follows {numbers_text(work.waits_for)}: those are glued in first")
    left = len(work.watch) - MOST_WATCHED
    watch = (*work.watch[:MOST_WATCHED], *([f"and {left} more: run check"] if left > 0 else []))
    pictures = tuple(blank_picture(blank.laid) for blank in work.blanks)
    mirrored = any(picture.mirrored for picture in pictures)
    caption = "no drawing: a strip" if work.strip else MIRRORED if mirrored else "not mirrored"
    return PieceRow(work, f"{work.id}, {' + '.join(work.woods)}", tuple(lines), watch, pictures, caption)


def _cutter(diameter: float, units: Units) -> str:
    said = diameter_text(diameter)
    return {"mm": said, "inch": inch_text(diameter), "both": f"{said} ({inch_text(diameter)})"}[units]


def _end(plan: Plan, units: Units) -> Iterator[Block]:
    panel = plan.stack.design.panel
    left, right, bottom, top = (length_text(trim, units, 1) for trim in panel.edge_trim)
    yield Heading("Trim and frame", page=True, joins=HALF)
    yield Lines(
        (
            "☐ Level the last inserts with the raw face.",
            f"☐ Face: take {length_text(panel.face_trim, units)} off the whole face, in light passes, towards the "
            "roots of feather tips.",
            *_slack_lines(plan, units),
            f"☐ Edges: take off left {left}, right {right}, bottom {bottom}, top {top}."
            + (" The pin holes go with them." if plan.zero.pins else ""),
        )
    )
    yield Table(
        ("frame side", "wood", "length over the outer edge", "face × depth"),
        tuple(
            (
                f"☐ {part.name}",
                part.wood,
                length_text(part.long_edge, units, 1),
                size_text((part.width, part.depth), units),
            )
            for part in plan.frame
        ),
        (0.16, 0.2, 0.3, 0.34),
    )
    ledge = size_text((LEDGE, LAP + plan.stack.design.frame.reveal), units)
    yield Lines(
        (
            f"Mitre both ends at 45°. Inside each side, at its back, runs the ledge that bears the panel, {ledge}, "
            "height × width: glue it on.",
            "Measure the trimmed panel before you cut the frame, and keep the gap round it.",
        )
    )


def _slack_lines(plan: Plan, units: Units) -> Iterator[str]:
    """How far the face may be trimmed beyond plan before something gives, in the order in which it does."""
    number = {piece.placed.index: f"{piece.number} {piece.id}" for piece in plan.pieces}
    for slack in trim_slacks(plan.stack):
        piece, under = number[slack.piece], "" if slack.under is None else number[slack.under]
        gives = {
            "skin": f"{piece} is sanded through to {under} under it",
            "floor": f"{piece} is sanded through to its pocket's floor",
            "tip": f"a feather tip of {piece} is gone",
        }[slack.gives]
        if slack.slack < 0:
            yield f"Take care: as planned, {gives} at {xy(slack.at)}."
        else:
            yield f"Slack: take off {length_text(slack.slack, units)} more than that, and {gives} at {xy(slack.at)}."


def _wood(plan: Plan, layout: StockLayout, units: Units) -> Iterator[Block]:
    cut_list, stock = items(plan), plan.stack.design.stock
    yield Heading("Buying list", page=True, joins=HALF)
    yield Lines(
        (
            f"All sizes of the cut list with their allowances, {mm_text(PLANING, 1)} for planing, one spare blank for "
            f"each wood of the inserts, and {WASTE:.0%} for waste; or the leaves that are planed whole, where they "
            "take more. Board feet are of the wood's real thickness: a yard may count wood under 1 in as 1 in thick. "
            + (
                "What your boards in stock suffice for is taken off."
                if stock
                else "The design lists no boards in stock, so nothing is taken off."
            ),
        )
    )
    rows = [(wood.wood, f"{wood.square_metres:.3f} m²", f"{wood.board_feet:.2f}") for wood in layout.to_buy]
    if rows:
        yield Table(("wood", "area", "board feet"), tuple(rows), (0.5, 0.25, 0.25))
        yield from to_plane_table(plan, layout, units)
    else:
        yield Lines(("Nothing is missing.",))
    yield from thickness_table(plan, units)
    yield Heading("Cut list")
    yield Table(
        ("for", "wood", "count", "length × width", "thickness"),
        tuple(
            (
                item.use + (f" ({item.glued} leaves edge to edge)" if item.glued > 1 else ""),
                item.wood,
                str(item.count),
                size_text((item.length, item.width), units),
                length_text(item.thickness, units),
            )
            for item in cut_list
        ),
        (0.2, 0.12, 0.06, 0.42, 0.2),
    )
    yield from _strip_sums(plan, units)


def _strip_sums(plan: Plan, units: Units) -> Iterator[Block]:
    """How much strip of each width and wood there is to rip, with the kerfs between the lengths."""
    kerf = plan.stack.design.workshop.saw_kerf
    lengths: dict[tuple[str, float, float], list[float]] = {}
    for strip in plan.glue_up.strips:
        for segment in strip.segments:
            lengths.setdefault((segment.wood, strip.rip_width, plan.glue_up.thickness), []).append(segment.cut_length)
    for work in plan.pieces:
        if work.strip is not None:
            section = (work.woods[0], work.strip.height, work.strip.width)
            lengths.setdefault(section, []).append(work.strip.cut_length)
    if lengths:
        yield Heading("Strips by wood and width")
        yield Table(
            ("wood", "width × thickness", "lengths", f"in all, with {mm_text(kerf, 1)} kerfs"),
            tuple(
                (
                    wood,
                    size_text((width, thick), units),
                    str(len(some)),
                    _both(sum(some) + kerf * (len(some) - 1), units),
                )
                for (wood, width, thick), some in sorted(lengths.items())
            ),
            (0.24, 0.36, 0.1, 0.3),
        )
