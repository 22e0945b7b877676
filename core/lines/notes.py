"""What the words at the top of a cut file say: zero, sides, depths, cutters, blanks."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from ..cutter.taper import stands_proud
from ..measures.grooves import strip_length, strip_thickness
from ..stack.stack import PlacedPiece, Stack
from .cuts import LAYERS, InsertCut, Layer, PocketCut, Setup
from .layout import Laid

CLEARANCE_WORDS = "clearance is already in: set allowance to 0"
MARKS = "The four angles are the raw panel's corners, the same in every file, so that all files lie on each other"


def pocket_notes(stack: Stack, pockets: Sequence[PocketCut], batch: int) -> list[str]:
    """What a machine's operator must know of a file of pockets."""
    proud = max((stack.pieces[i].top for earlier in stack.batches[: batch - 1] for i in earlier), default=0.0)
    layers = [layer for layer in LAYERS if any(line.layer == layer for cut in pockets for line in cut.lines)]
    panel = stack.design.panel
    notes = [
        f"{title(stack)}: batch {batch} of {len(stack.batches)}, pockets. Seen from the face. Millimetres. "
        f"Raw panel {panel.width:g} wide, {panel.height:g} high, {panel.thickness:g} thick.",
        "Zero: lower left corner of the raw panel, on its raw face. NOTES is never cut.",
        f"{MARKS}.",
        *_sides(layers),
    ]
    if proud > 0:
        notes.append(
            f"Depths start at the raw face. Inserts of earlier batches stand up to {proud:.2f} above it: level them "
            "with it first, and no further"
        )
    notes += _setups([(cut.setup, cut.placed.piece.id) for cut in pockets], lambda setup: f"Depth {setup.depth_text}")
    notes += _depth_error(stack.design.workshop.depth_error)
    for cut in pockets:
        piece = cut.placed.piece
        if piece.is_groove:
            notes.append(f"{piece.id}: groove {piece.cutter_diameter:.3f} wide, never a pass beside its line")
        elif piece.taper:
            notes.append(
                f"{piece.id}: its walls lean; its line is the outline {cut.plane}, where the tip of its cutter runs"
            )
    return notes


def insert_notes(stack: Stack, laid: Sequence[Laid], batch: int) -> list[str]:
    """What a machine's operator must know of a file of inserts."""
    layers = [layer for layer in LAYERS if any(line.layer == layer for one in laid for line in one.lines)]
    notes = [
        f"{title(stack)}: batch {batch} of {len(stack.batches)}, inserts, each on its blank. Millimetres.",
        "Zero: lower left corner of the page, the same point as in all files; in depth the table under the blanks: cut "
        "just through. NOTES is never cut.",
        "One blank at a time: fix it with its grain along x, and tell the machine that its lower left corner lies at "
        "the x and y written below it. All blanks of one thickness at once: tape each to a board with its corner at "
        "that x and y",
        f"{MARKS}; blanks need not keep to them.",
        *_sides(layers),
        "Blanks: length along the grain × width across it × thickness. The arrow left of a blank points up on the "
        "panel; the one with two heads is the grain. Between two short marks leave a tab, or tape; where there are "
        "none, or one pair only, tape or a carrier board",
    ]
    notes += _setups([(one.cut.setup, one.cut.name) for one in laid], lambda setup: f"Blanks {setup.depth_text} thick")
    notes += [_glued(one) for one in laid if one.leaves > 1]
    notes += [f"{_face_down(one.cut)}. {wedge_words(one.cut.placed)}" for one in laid if one.cut.face_down]
    strips = [stack.pieces[i] for i in stack.batches[batch - 1] if stack.pieces[i].piece.is_groove]
    notes += [
        f"{placed.piece.id}: no line, but a strip of {placed.piece.wood}, {strip_thickness(placed):.2f} thick, "
        f"{placed.piece.insert_thickness:.2f} wide, {strip_length(placed):.1f} long, bent into its groove"
        for placed in strips
    ]
    return notes


def wedge_words(placed: PlacedPiece) -> str:
    """How a leaning insert goes in: where it gets tight, and how far it is pressed from there."""
    piece, top = placed.piece, placed.top
    lower = piece.side_clearance / math.tan(math.radians(piece.taper))
    if piece.side_clearance < 0:
        proud = stands_proud(-piece.side_clearance, piece.taper)
        return (
            f"It is a wedge, {-piece.side_clearance:.2f} larger than its pocket on each side: by hand it goes in until "
            f"it stands {top + proud:.2f} mm above the raw face; press it {proud:.2f} mm further down, to {top:.2f} mm "
            "above the raw face" + (f"; {piece.floor_gap:.2f} mm stay free under it" if piece.floor_gap > 0 else "")
        )
    if lower <= piece.floor_gap:
        return f"It goes in by hand and gets tight where it stands {top - lower:.2f} mm above the raw face"
    return f"It rests on its pocket's floor before it gets tight, {top - piece.floor_gap:.2f} mm above the raw face"


def title(stack: Stack) -> str:
    """The panel's name."""
    return stack.design.title or "Panel"


def _sides(layers: Sequence[Layer]) -> list[str]:
    both = "POCKET_ISLAND" in layers
    return [
        *(f"{layer}: {LAYERS[layer]}" for layer in layers),
        *(["Select an edge and its islands together: they bound one pocket"] if both else []),
        CLEARANCE_WORDS,
    ]


def _setups(named: Sequence[tuple[Setup, str]], depth: Callable[[Setup], str]) -> list[str]:
    """A line for each depth and cutter, and the names of what is cut so: as many paths."""
    names: dict[Setup, list[str]] = {}
    for setup, name in named:
        names.setdefault(setup, []).append(name)
    return [f"{depth(setup)}, {setup.cutter}: {', '.join(names[setup])}" for setup in sorted(names)]


def _depth_error(error: float) -> list[str]:
    """What the workshop's pockets are off by: depths are written as designed."""
    if not error:
        return []
    way = "deeper" if error > 0 else "shallower"
    return [
        f"Depths are those of the design. By the workshop's depth_error pockets come out {abs(error):.2f} {way} than "
        "set, and the findings count on that. If you correct your machine instead, set depth_error to what is left"
    ]


def _glued(one: Laid) -> str:
    return (
        f"{one.cut.name}: glue its blank from {one.leaves} leaves edge to edge, each sawn {one.length:.1f} × "
        f"{one.leaf_width:.1f}; the line along the blank is the seam. The size below the blank is that of the glued one"
    )


def _face_down(cut: InsertCut) -> str:
    return (
        f"{cut.name}: face down on the table, so drawn as a mirror image; its walls lean; its line is the outline "
        f"{cut.plane}, where the tip of its cutter runs"
    )
