"""The plan of the work on a panel: what is sawn, cut, glued and trimmed, batch by batch; sizes with their allowances.

All of it is read off the stack, the measures and the findings; nothing is drawn here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from ..boards.stock import glued_leaves
from ..design import Design, Point
from ..findings.causes import grouped
from ..findings.finding import Finding, xy
from ..lines.cuts import InsertCut, PocketCut, batch_cuts
from ..lines.layout import Laid, on_blank
from ..measures.all_measures import Measures
from ..measures.grooves import shown_ends, strip_length, strip_thickness, tightest_bend
from ..solids.frame import LAP, frame_depth, framed_size
from ..stack.batch_reasons import batch_reasons
from ..stack.stack import PlacedPiece, Stack
from ..views.exploded import glue_numbers
from ..woods.bending import least_bend_radius
from ..woods.species import woods_in
from .bench_watch import in_words, is_tiny, own_watch, thin_points, watched
from .content import piece_content
from .glue_up import GlueUp, glue_up
from .holding import Zero, zero_of

STRIP_LENGTH = 20.0
"""A groove's strip is cut so much longer than its groove and trimmed in place, mm (common practice)."""
LEVEL = 0.01
"""An insert that stands higher above the raw face than this, mm, is levelled before the next batch."""
MITRE = 10.0
"""Sides of the frame and their ledges are cut so much longer, mm, and mitred to length (common practice)."""


@dataclass(frozen=True)
class Blank:
    """The flat piece of wood that one part of an insert is sawn from; its grain runs along its length."""

    name: str
    """The piece's id, and which part of it this is, where there are several."""
    woods: tuple[str, ...]
    """More than one where it is glued up from stripes."""
    length: float
    """Along the grain, mm, with the allowances."""
    width: float
    thickness: float
    """The insert's, as sawn, mm; plane the blank to it."""
    insert_length: float
    """What the insert itself takes of the length, mm."""
    insert_width: float
    leaves: int
    """Leaves of a board, glued edge to edge, that make it."""
    laid: Laid
    """The insert on it, as `lines` draws it."""


@dataclass(frozen=True)
class GrooveStrip:
    """The strip that fills a groove; its grain runs along it."""

    width: float
    """Across the groove, mm, clearance taken off."""
    height: float
    """From its foot to its top, mm."""
    length: float
    """Along the groove's centre line, mm."""
    cut_length: float
    """With the allowance, mm."""
    bend: float
    """The tightest radius to which it is bent, mm; endless where it is straight."""
    least_bend: float
    """To what radius a strip of this wood and width can be bent dry, mm."""
    hides: tuple[str, ...]
    """How each of its ends comes out: a sentence for each."""
    shorten: str
    """At which end it is cut to its groove's length; empty where it closes on itself."""


@dataclass(frozen=True, eq=False)
class PieceWork:
    """All that is done for one piece."""

    number: int
    """In the order of gluing, from 1, as the exploded view numbers inserts."""
    placed: PlacedPiece
    woods: tuple[str, ...]
    pocket: PocketCut
    pocket_length: float
    """All lines that the cutter follows, end to end, mm."""
    pocket_volume: float
    """mm³"""
    blanks: tuple[Blank, ...]
    """One for each part of a sawn insert; none for a groove."""
    strip: GrooveStrip | None
    waits_for: tuple[int, ...]
    """Numbers of the pieces that must be glued in before its pocket is cut."""
    watch: tuple[str, ...]
    """What to watch for, the worst first."""
    content: str
    """Tells this state of the piece from any other (`content`)."""

    @property
    def id(self) -> str:
        """The piece's name."""
        return self.placed.piece.id


@dataclass(frozen=True, eq=False)
class BatchWork:
    """Pieces that are cut and glued together."""

    number: int
    pieces: tuple[PieceWork, ...]
    level_first: tuple[int, ...]
    """Numbers of earlier inserts that stand proud, to be levelled before zero is set."""
    why: tuple[str, ...]
    """What this batch waits for: a line for each of its pieces that forces it."""

    @property
    def file(self) -> str:
        """The files of `lines` that belong to it begin so."""
        return f"batch-{self.number:02}"


@dataclass(frozen=True)
class FramePart:
    """One side of the frame, mitred at both ends."""

    name: str
    wood: str
    long_edge: float
    """Length over its outer edge, mm."""
    width: float
    depth: float
    ledge: float
    """Length of its ledge over the edge that is glued to it, mm; mitred at both ends too."""


@dataclass(frozen=True)
class Amounts:
    """How much there is to do; no feeds, no speeds, no promises."""

    pocket_length: float
    """mm"""
    pocket_volume: float
    """mm³"""
    insert_length: float
    """The lines round all inserts, end to end, mm."""
    glue_days: int
    """Batches, without the glue-up of background and frame."""
    background_clampings: int


@dataclass(frozen=True, eq=False)
class Plan:
    """The whole work on one panel."""

    stack: Stack
    name: str
    """The design file's, without its ending: files that belong to it begin so."""
    title: str
    glue_up: GlueUp
    zero: Zero
    batches: tuple[BatchWork, ...]
    frame: tuple[FramePart, ...]
    amounts: Amounts
    panel_watch: tuple[str, ...]
    """Findings of the panel as a whole."""

    @property
    def pieces(self) -> tuple[PieceWork, ...]:
        """All of them, in the order of gluing."""
        return tuple(piece for batch in self.batches for piece in batch.pieces)


def plan_of(stack: Stack, findings: Sequence[Finding], measures: Measures | None = None) -> Plan:
    """The plan of a design without errors.

    Args:
        stack: the panel; every piece is sound.
        findings: all of the design.
        measures: of the stack, if they are there already.
    """
    measures = Measures(stack) if measures is None else measures
    number = glue_numbers(stack)
    watch, points = watched(stack, findings), thin_points(stack, number)
    ends: set[tuple[int, str]] = {(end.piece, end.end) for end in shown_ends(stack)}
    work: dict[int, PieceWork] = {}
    for batch in range(1, len(stack.batches) + 1):
        cuts = batch_cuts(stack, batch)
        for pocket in cuts.pockets:
            placed = pocket.placed
            own = [cut for cut in cuts.inserts if cut.placed is placed]
            laid = [on_blank(cut, stack.design.workshop.min_neck) for cut in own]
            work[placed.index] = PieceWork(
                number=number[placed.index],
                placed=placed,
                woods=woods_in(placed.piece),
                pocket=pocket,
                pocket_length=_length([pocket]),
                pocket_volume=float(measures.volumes.pockets[placed.index]),
                blanks=tuple(_blank(stack.design, one) for one in laid),
                strip=_strip(stack, placed, ends) if placed.piece.is_groove else None,
                waits_for=tuple(sorted(number[i] for i in _before(stack, placed))),
                watch=(
                    *own_watch(stack, placed, laid),
                    *points.get(placed.index, ()),
                    *(words for words in watch.get(placed.piece.id, ()) if not _held(words, laid)),
                ),
                content=piece_content(placed),
            )
    batches = tuple(_batch(stack, n, work, number) for n in range(1, len(stack.batches) + 1))
    glued = glue_up(stack)
    return Plan(
        stack=stack,
        name=_name(stack),
        title=stack.design.title or _name(stack),
        glue_up=glued,
        zero=zero_of(stack),
        batches=batches,
        frame=_frame(stack),
        amounts=_amounts(batches, glued),
        panel_watch=tuple(in_words(group) for group in grouped(f for f in findings if f.piece is None)),
    )


def _held(words: str, laid: Sequence[Laid]) -> bool:
    """Whether a finding says what is said of a tiny piece already."""
    return words.startswith("small part") and bool(laid) and is_tiny(laid)


def _name(stack: Stack) -> str:
    name = Path(stack.design.file).name
    return name.removesuffix(".json").removesuffix(".panel") or "panel"


def _length(cuts: Sequence[PocketCut | InsertCut]) -> float:
    """Length of all lines together, mm."""
    steps = [np.diff(line.source, axis=0) for cut in cuts for line in cut.lines]
    return float(sum(np.hypot(*step.T).sum() for step in steps))


def _before(stack: Stack, placed: PlacedPiece) -> set[int]:
    """Pieces that must be in before this one's pocket is cut: those that it cuts into, and the maker's `after`."""
    by_id = {other.piece.id: other.index for other in stack.pieces}
    return {*placed.over, *(by_id[name] for name in placed.piece.after)}


def _blank(design: Design, laid: Laid) -> Blank:
    left, bottom, right, top = laid.shape.bounds
    piece = laid.cut.placed.piece
    leaves, _ = glued_leaves(design, piece.wood, laid.width, laid.cut.thickness, piece.leaves)
    return Blank(
        name=laid.cut.name,
        woods=woods_in(piece),
        length=laid.length,
        width=laid.width,
        thickness=laid.cut.thickness,
        insert_length=right - left,
        insert_width=top - bottom,
        leaves=leaves if piece.blank is None else 1,
        laid=laid,
    )


def _strip(stack: Stack, placed: PlacedPiece, shown: set[tuple[int, str]]) -> GrooveStrip:
    assert placed.centre_line is not None
    length = strip_length(placed)
    line = placed.centre_line
    shorten = ""
    if np.array_equal(line[0], line[-1]):
        hides: tuple[str, ...] = ("it closes on itself: saw the joint on a slant, where it is seen least",)
    else:
        hides = tuple(
            _end(stack, placed, end, (float(at[0]), float(at[1])), (placed.index, end) in shown)
            for end, at in (("first", line[0]), ("last", line[-1]))
        )
        in_sight = sum((placed.index, end) in shown for end in ("first", "last"))
        shorten = ("at either end", "at the end that does not stay in sight", "a little at a time")[in_sight]
    thick = strip_thickness(placed)
    return GrooveStrip(
        width=thick,
        height=placed.piece.insert_thickness,
        length=length,
        cut_length=length + STRIP_LENGTH,
        bend=tightest_bend(placed).radius,
        least_bend=least_bend_radius(placed.piece.wood, thick, stack.design.woods),
        hides=hides,
        shorten=shorten,
    )


def _end(stack: Stack, placed: PlacedPiece, end: str, at: Point, shown: bool) -> str:
    if shown:
        return f"its end at {xy(at)} stays in sight: shape it to the round end of the groove"
    over = [stack.pieces[j].piece.id for j in placed.under if shapely.intersects_xy(stack.pieces[j].pocket, *at)]
    if over:
        return f"its end at {xy(at)} hides under {', '.join(over)}"
    if not shapely.contains_xy(stack.finished_box, *at):
        return f"its end at {xy(at)} goes with the trimmed edge"
    return f"its end at {xy(at)} is hidden"


def _batch(stack: Stack, number: int, work: Mapping[int, PieceWork], numbers: Mapping[int, int]) -> BatchWork:
    pieces = tuple(work[index] for index in stack.batches[number - 1])
    earlier = [stack.pieces[i] for batch in stack.batches[: number - 1] for i in batch]
    reasons = [reason for reason in batch_reasons(stack) if stack.pieces[reason.piece].batch == number]
    why = tuple(
        f"{numbers[reason.piece]} {stack.pieces[reason.piece].piece.id} "
        f"{'cuts into' if reason.overlap else 'is to come after'} "
        f"{numbers[reason.waits_for]} {stack.pieces[reason.waits_for].piece.id}"
        for reason in reasons
    )
    proud = tuple(sorted(numbers[placed.index] for placed in earlier if placed.top > LEVEL))
    return BatchWork(number, pieces, proud, why)


# --- Frame and amounts ----------------------------------------------------------------------------------------------


def _frame(stack: Stack) -> tuple[FramePart, ...]:
    design = stack.design
    size, depth, wide = framed_size(design), frame_depth(design), design.frame.width
    return tuple(
        FramePart(name, design.frame.wood, length, wide, depth, length - 2 * wide)
        for name, length in (
            ("lower", size.width),
            ("upper", size.width),
            ("left", size.height),
            ("right", size.height),
        )
    )


def ledge_width(design: Design) -> float:
    """How far the ledge of a frame stands in, mm: under the panel, and over the gap round it."""
    return LAP + design.frame.reveal


def _amounts(batches: Sequence[BatchWork], glued: GlueUp) -> Amounts:
    pieces = [piece for batch in batches for piece in batch.pieces]
    return Amounts(
        pocket_length=sum(piece.pocket_length for piece in pieces),
        pocket_volume=sum(piece.pocket_volume for piece in pieces),
        insert_length=_length([blank.laid.cut for piece in pieces for blank in piece.blanks]),
        glue_days=len(batches),
        background_clampings=len(glued.stages),
    )
