"""The sheet's pages on the raw panel: the strips and their glue-up, then zero, pins and the place for depth."""

from __future__ import annotations

from collections.abc import Iterator

from ..boards.stock import EDGE
from ..findings.finding import xy
from ..measures.movement import panel_movement
from .blocks import HALF, Block, Drawn, Heading, Lines, Table
from .buying import plain_boards
from .glue_up import BUTT, LENGTH, OUTER, THICKNESS, GlueUp, Stage
from .lengths import Units, length_text, size_text
from .picture import NOT_MIRRORED, strips_picture, zero_picture
from .plan import Plan
from .titles import BACKGROUND, ZERO


def background_pages(plan: Plan, units: Units) -> Iterator[Block]:
    """The glue-up of the background."""
    glued, panel = plan.glue_up, plan.stack.design.panel
    yield Heading(BACKGROUND, page=True, joins=HALF)
    last = f"☐ Last: flatten both faces to {length_text(panel.thickness, units)}, and cut square to "
    last += size_text((panel.width, panel.height), units)
    if not glued.strips:
        size = (glued.length + LENGTH, glued.across + 2 * OUTER, glued.thickness)
        yield Lines(
            (
                f"{_plain(plan)} {glued.wood}, {size_text(size, units)} in all, grain along its length.",
                f"{last}. This is the raw panel.",
            )
        )
        return
    yield Drawn(strips_picture(plan), f"The strips in the raw panel, {NOT_MIRRORED}", most=0.5)
    first = "left" if glued.zero_edge == "left edge" else "bottom"
    begins = "bottom" if glued.zero_edge == "left edge" else "left"
    yield Lines(
        (
            f"Strip 1 lies at the {glued.zero_edge} of the panel, the zero edge; the segments of a strip are listed "
            f"from the {begins}. Sizes: each strip is {length_text(LENGTH, units, 0)} longer than the panel, half of "
            f"it at each end; each end that is glued to another has {length_text(BUTT, units, 1)} to be cut square. "
            f"Rip it {length_text(EDGE, units, 1)} wider than it is planed. The first and the last strip are "
            f"{length_text(OUTER, units, 1)} wider on their outer edge, so that there is something to cut off.",
            f"All of them are {length_text(THICKNESS, units, 1)} thicker than the panel: "
            f"{length_text(glued.thickness, units, 1)}. Plane to that while the wood is one long leaf. Plane the "
            "edges only when a strip is glued end to end and whole; a joint of end grain is weak until the strip "
            "lies between others, so plane those strips by hand on a straight board, and lift them by both ends.",
        )
    )
    yield _strip_table(glued, units)
    yield Heading("Glue-up in stages")
    stages = [f"☐ {n}. {stage.what}.{_flat(stage, units)}" for n, stage in enumerate(glued.stages, 1)]
    if any(len(strip.segments) > 1 for strip in glued.strips):
        stages.append(
            f"Line up the {begins} ends of the strips, and the joints on marks as far from these rough ends as the "
            f"table says. {length_text(LENGTH / 2, units, 1)} come off there when the panel is cut square."
        )
    cut = f"{last}. Cut {length_text(LENGTH / 2, units, 1)} off each end"
    if len(glued.strips) > 1:
        one, other = (length_text(glued.strips[n].width, units, 1) for n in (0, -1))
        count, far = len(glued.strips), "right" if first == "left" else "top"
        cut += (
            f", the {first} edge {one} from the joint of strips 1 and 2, the {far} edge {other} from that of strips "
            f"{count - 1} and {count}. If strips came out a little wide or narrow, cut to size and share what is over "
            " or missing between both edges"
        )
    yield Lines((*stages, f"{cut}. This is the raw panel."))


def _flat(stage: Stage, units: Units) -> str:
    if not stage.flat:
        return ""
    return f" Flatten all parts alike, to {length_text(stage.flat, units, 1)} and no thinner."


def _plain(plan: Plan) -> str:
    count = plain_boards(plan)
    return "One board of" if count == 1 else f"☐ Glue {count} boards edge to edge to one of"


def _strip_table(glued: GlueUp, units: Units) -> Table:
    rows = []
    for strip in glued.strips:
        for place, segment in enumerate(strip.segments, 1):
            inner = place < len(strip.segments)
            rows.append(
                (
                    str(strip.number) if len(strip.segments) == 1 else f"{strip.number}.{place}",
                    segment.wood,
                    length_text(strip.rip_width, units, 1),
                    length_text(strip.glue_width, units, 1),
                    length_text(segment.cut_length, units, 1),
                    length_text(segment.end + LENGTH / 2, units, 1) if inner else "",
                )
            )
    header = ("strip", "wood", "rip to width", "plane to width", "crosscut to", "joint, from rough end")
    return Table(header, tuple(rows), (0.08, 0.16, 0.19, 0.19, 0.19, 0.19))


def zero_pages(plan: Plan, units: Units) -> Iterator[Block]:
    """Zero, and how to find it again."""
    zero, panel = plan.zero, plan.stack.design.panel
    yield Heading(ZERO, page=True, joins=HALF)
    trimmed = " Thin line: the trimmed edge" if any(panel.edge_trim) else ""
    yield Drawn(zero_picture(plan), f"The raw panel, {NOT_MIRRORED}. Grey: all pockets.{trimmed}")
    lines = ["Zero is the lower left corner of the raw panel, on its raw face, for all files of lines."]
    if zero.pins:
        size = length_text(zero.pin_diameter, units)
        places = " and ".join(f"({length_text(x, units)}, {length_text(y, units)})" for x, y in zero.pins)
        lines.append(
            "☐ Zero first: clamp the raw panel in its place, its lower edge along the machine's x, centre the cutter "
            "over the lower left corner, and set x and y to 0 there."
        )
        lines.append(
            f"☐ Then the pins: let the machine drill {size} holes through panel and board below, at {places} from "
            "that zero, and put a pin into each. They lie in what is trimmed off. Turned the wrong way round the "
            "panel does not go on."
        )
        if zero.slot:
            lines.append(
                f"☐ Hole 2 is a slot: widen it in the panel by {length_text(zero.slot, units, 1)} to both sides, "
                "straight towards hole 1 and away from it. The panel slides on that pin as it moves with the air, "
                "and cannot turn."
            )
        else:
            lines.append(
                "Both holes lie along the grain, in which wood hardly moves: they go on fitting while the panel "
                "swells and shrinks across it."
            )
        lines.append(
            "To find zero again: wipe panel and board clean, put the panel back on its pins, raw face up, and clamp "
            "it. Zero is where it was. If the machine was switched off, centre the cutter over pin 1 and set "
            f"x = {length_text(zero.pins[0][0], units)}, y = {length_text(zero.pins[0][1], units)}."
        )
    else:
        lines.append(
            "☐ No margin is wide enough for pins: screw two stops to the table at the lower edge and one at the left "
            "edge. To find zero again, push the raw panel against all three."
        )
    lines += _depth_lines(plan, units)
    lines.append(f"The face trim, {length_text(panel.face_trim, units)}, is last: depths count from the raw face.")
    moves = panel_movement(plan.stack)
    if moves is not None and max(moves.frame_room) > 0:
        up = moves.frame_room[1] > moves.frame_room[0]
        lines.append(
            f"From a dry season to a damp one the panel gets up to {length_text(max(moves.frame_room), units, 1)} "
            f"{'higher' if up else 'wider'}: keep it in one room from the first pocket to the last, and do not let "
            "months pass between batches."
        )
    yield Lines(tuple(lines))


def _depth_lines(plan: Plan, units: Units) -> Iterator[str]:
    zero = plan.zero
    if zero.depth_place:
        yield (
            f"☐ Depth spot: mark a cross on the raw face at {xy(zero.depth_place)}. Touch the cutter off there before "
            "each batch: that is depth 0. No pocket comes near it. Do not plane or sand there before the last batch "
            "is in."
        )
    else:
        yield (
            "Pockets come near every place of the face: touch the cutter off at a raw edge, and level inserts before "
            "you do."
        )
