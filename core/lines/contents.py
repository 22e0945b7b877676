"""The table of contents of a set of lines: what each file holds, for programs that read it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from ..stack.stack import Stack
from ..views.exploded import glue_numbers
from .cuts import LAYERS, Batch, PocketCut, Setup
from .drawing import Drawing
from .layout import Laid
from .notes import CLEARANCE_WORDS

FORMAT = "grainstack-lines/1"
PLACES = 4


def contents_text(
    stack: Stack, batches: Sequence[Batch], drawn: Sequence[Drawing], names: Iterable[str], curves: str
) -> str:
    """The table as a JSON text; lengths in mm, angles in degrees.

    Args:
        stack: the panel.
        batches: what is cut.
        drawn: the drawings of the batches: of each its pockets, then its inserts.
        names: of all files.
        curves: how curves are written.
    """
    panel = stack.design.panel
    numbers = glue_numbers(stack)
    inserts = drawn[1::2]
    whole: dict[str, Any] = {
        "format": FORMAT,
        "title": stack.design.title,
        "units": "mm",
        "zero": "lower left corner of the raw panel, on its raw face",
        "panel": {"width": panel.width, "height": panel.height, "thickness": panel.thickness},
        "allowance": CLEARANCE_WORDS,
        "curves": curves,
        "layers": dict(LAYERS),
        "page": [drawn[0].width, drawn[0].height] if drawn else None,
        "files": sorted(names),
        "batches": [
            {
                "batch": batch.number,
                "pockets": [_pocket(cut, numbers[cut.placed.index]) for cut in batch.pockets],
                "inserts": [_insert(one, numbers[one.cut.placed.index]) for one in drawing.blanks],
            }
            for batch, drawing in zip(batches, inserts, strict=True)
        ],
    }
    return json.dumps(whole, indent=1) + "\n"


def _pocket(cut: PocketCut, number: int) -> dict[str, Any]:
    return {
        "piece": cut.placed.piece.id,
        "number": number,
        "lines": [line.name for line in cut.lines],
        "depth": cut.depth,
        "cutter": _cutter(cut.setup),
    }


def _insert(one: Laid, number: int) -> dict[str, Any]:
    left, bottom, _, _ = one.blank
    return {
        "piece": one.cut.placed.piece.id,
        "part": one.cut.part + 1,
        "parts": one.cut.parts,
        "number": number,
        "lines": [line.name for line in one.lines],
        "blank": {
            "along_grain": round(one.length, PLACES),
            "across_grain": round(one.width, PLACES),
            "thickness": one.cut.thickness,
            "corner": [left, bottom],
            "leaves": one.leaves,
        },
        "mirrored": one.cut.face_down,
        "cutter": _cutter(one.cut.setup),
    }


def _cutter(setup: Setup) -> dict[str, float]:
    return {"diameter": setup.diameter, "taper": setup.taper}
