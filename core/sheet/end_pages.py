"""The sheet's last work: the trims, the finish, and the frame."""

from __future__ import annotations

from collections.abc import Iterator

from ..findings.finding import listed, xy
from ..measures.movement import panel_movement
from ..measures.trim_slack import trim_slacks
from ..solids.frame import LAP, LEDGE
from .blocks import HALF, Block, Heading, Lines, Table
from .glue_up import runs_upright
from .lengths import Units, length_text, size_text
from .plan import MITRE, Plan, ledge_width
from .titles import END

CLEAR = 1.0
"""Room between a block on the panel's back and the ledge, mm, beyond what the panel moves (common practice)."""


def end_pages(plan: Plan, units: Units) -> Iterator[Block]:
    """Face, edges, finish, frame."""
    yield Heading(END, page=True, joins=HALF)
    panel = plan.stack.design.panel
    left, right, bottom, top = (length_text(trim, units, 1) for trim in panel.edge_trim)
    lines = ["☐ Level the last inserts with the raw face."]
    if panel.face_trim:
        lines.append(
            f"☐ Face: take {length_text(panel.face_trim, units)} off the whole face, in light passes. At thin points "
            "work from the point towards the wide part of its piece, never out over the point."
        )
        lines += _left_lines(plan, units)
    lines += _sealing(plan)
    if any(panel.edge_trim):
        lines.append(
            f"☐ Edges: take off left {left}, right {right}, bottom {bottom}, top {top}, measured from the raw edges. "
            "Saw with the face up and masking tape over the line, so that inserts at the edge do not chip."
            + (" The pin holes go with them." if plan.zero.pins else "")
        )
    lines.append(
        "☐ Finish: clear all dust out of the pores, then put it on face, back and edges alike, as its label says. "
        "Try it on an offcut with the same woods first."
    )
    yield Lines(tuple(lines))
    yield from _watch(plan)
    yield from _frame(plan, units)


def _sealing(plan: Plan) -> Iterator[str]:
    """When a pale wood is sealed against a neighbour's dust and colour, where a card speaks of them."""
    if any(words.startswith(("dust:", "colour:")) for piece in plan.pieces for words in piece.watch):
        yield (
            "Where a card warns of dust or colour: level and trim nearly to depth, blow the dust out, and seal the "
            "pale wood thinly before you scrape the rest; seal it again if much comes off. Not sooner: glue does not "
            "hold on sealer, so keep it off all that is glued later."
        )


def _left_lines(plan: Plan, units: Units) -> Iterator[str]:
    """How thin inserts are after the planned trim: what there is in hand, told as a fact and not as a job."""
    number = {piece.placed.index: f"{piece.number} {piece.id}" for piece in plan.pieces}
    for slack in trim_slacks(plan.stack):
        piece, under = number[slack.piece], "" if slack.under is None else f", over {number[slack.under]}"
        if slack.slack < 0:
            left = length_text(slack.left, units)
            yield f"Take care: with this trim only {left} of {piece} are left at {xy(slack.at)}{under}."
        elif slack.gives == "tip":
            yield (
                f"For your information: a thin point of {piece} at {xy(slack.at)} is gone if "
                f"{length_text(slack.slack, units)} more comes off than planned. Take off no more than planned."
            )
        else:
            as_thin = sorted(
                int(number[i].partition(" ")[0])
                for i, left in _lefts(plan)
                if i != slack.piece and abs(left - slack.left) < 0.005
            )
            too = (
                f", and so {'is' if len(as_thin) == 1 else 'are'} {listed([*map(str, as_thin)])}"
                if as_thin and not under
                else ""
            )
            what = "the thinnest insert" if not under else "the thinnest that lies over another"
            yield (
                f"For your information: {what} after this trim is {piece}, {length_text(slack.left, units)} thick at "
                f"{xy(slack.at)}{under}{too}. Take off no more than planned."
            )


def _lefts(plan: Plan) -> Iterator[tuple[int, float]]:
    """How thick the inserts are that are seen, after the face trim, mm, by their index."""
    stack = plan.stack
    for placed, seen in zip(stack.pieces, stack.remnants, strict=True):
        if not seen.is_empty:
            yield placed.index, -placed.bottom + stack.design.workshop.depth_error - stack.design.panel.face_trim


def _watch(plan: Plan) -> Iterator[Block]:
    if plan.panel_watch:
        yield Heading("Watch, in the panel as a whole")
        yield Lines(plan.panel_watch)


def _frame(plan: Plan, units: Units) -> Iterator[Block]:
    yield Heading("Frame")
    yield Table(
        ("side", "wood", "over the outer edge, mitred", "face × depth", "its ledge, over its long edge"),
        tuple(
            (
                f"☐ {part.name}",
                part.wood,
                length_text(part.long_edge, units, 1),
                size_text((part.width, part.depth), units),
                length_text(part.ledge, units, 1),
            )
            for part in plan.frame
        ),
        (0.12, 0.16, 0.24, 0.26, 0.22),
    )
    ledge = size_text((LEDGE, ledge_width(plan.stack.design)), units)
    yield Lines(
        (
            "Measure the trimmed panel before you cut the frame, and change these lengths by what it differs. They "
            f"are laid out {length_text(MITRE, units, 0)} longer on their board: mitre both ends at 45° to the "
            "lengths given here.",
            f"The ledge, {ledge}, height × width, is glued by its long edge to the inside of each side, flush with the "
            "side's back; its ends are mitred too. The panel goes in from the front: its back lies on the ledge, "
            f"which reaches {length_text(LAP, units, 1)} under it.",
            *_hung(plan, units),
        )
    )


def _hung(plan: Plan, units: Units) -> Iterator[str]:
    """How the panel is held on its ledge: from behind, still in the middle of two edges, and free elsewhere."""
    panel, shop = plan.stack.design.panel, plan.stack.design.workshop
    room = panel_movement(plan.stack)
    swing = None if room is None else max(room.frame_room)
    upright = runs_upright(panel) if room is None else room.frame_room[0] > room.frame_room[1]
    name, still, others = ("width", "upper and lower", "left and right") if upright else (
        "height", "left and right", "upper and lower")  # fmt: skip
    moves = "" if swing is None else f" The panel's {name} changes by up to {length_text(swing, units, 1)}."
    yield (
        f"Leave a gap of {length_text(plan.stack.design.frame.reveal, units, 1)} all round between panel and "
        f"frame.{moves} Do not glue the panel to its ledge, and put no screw through the ledge into it: it could not "
        "move, and would split."
    )
    clear = CLEAR if swing is None else swing / 2 + CLEAR
    yield (
        "Hold it from behind with small wooden blocks, two or three along each edge. Each is screwed to the panel's "
        "back inside the ledge, and is notched so that one end reaches behind the ledge, with a sheet of paper's "
        f"room between. At the {others} edges leave at least {length_text(clear, units, 1)} between the foot of a "
        f"block and the ledge. At the {still} edges put one block at mid-{name} and screw it to the ledge too: there "
        f"alone the panel is held fast, so that it changes its {name} alike to both sides."
    )
    deepest = max((piece.placed.piece.pocket_depth + shop.depth_error for piece in plan.pieces), default=0.0)
    floor = length_text(panel.thickness - deepest, units)
    yield (
        f"Screws go at most half as deep into the panel as the {floor} that its deepest pocket leaves. Drill for them, "
        "with a stop on the drill."
    )
