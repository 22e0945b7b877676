"""What the cutter takes along the lines of a batch, drawn over the viewport beside what the solids say.

The cutter's disc stands here and there along its way, in the cutter's size; the edge that it leaves is drawn bright,
and red where it is not that of the solids. Nothing is put in the scene.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import bpy
import numpy as np
import numpy.typing as npt

from ...core.errors import UnusableInput
from ...core.findings.all_findings import Finding
from ...core.lines.cuts import InsertCut
from ...core.lines.proof import discs_along, edge_left, line_differs, prove_batch
from ..designs import OpenDesign
from .viewport_lines import Drawing, above_the_panel, draw_lines, has_overlays

What = Literal["pockets", "inserts"]
Array = npt.NDArray[np.float64]

TAKEN, LEFT, WRONG = (1.0, 0.8, 0.45, 0.35), (0.2, 0.9, 1.0, 1.0), (1.0, 0.15, 0.1, 1.0)
APART, CORNERS = 3.0, 24
"""Discs stand so far apart, mm, and have so many corners."""
WIDTH = 1.5


@dataclass(frozen=True, eq=False)
class CutterProof:
    """The proof of a batch, ready to be drawn."""

    fingerprint: str
    """Fingerprint of the design that it was made for."""
    findings: tuple[Finding, ...]
    count: int
    worst: float
    """The farthest that the cutter's edge lies from the solids', mm, at most."""
    taken: Array
    """(n, 3) ends of lines two by two, in Blender's units: discs along the cutter's way."""
    left: Array
    wrong: Array


class Shown:
    """The proof that the viewport shows."""

    proof: ClassVar[CutterProof | None] = None


def prove(opened: OpenDesign, number: int, what: What) -> CutterProof:
    """Run the cutter along a batch's lines (from 1), and show it from now on.

    Raises:
        UnusableInput: there is no such batch.
    """
    last = len(opened.stack.batches)
    if not 1 <= number <= last:
        remedy = f"Choose a batch from 1 to {last}" if last else "The panel has no pieces yet: add one"
        raise UnusableInput("", "Batch", f"there is no batch {number}", remedy)
    proofs = [p for p in prove_batch(opened.stack, number) if isinstance(p.cut, InsertCut) == (what == "inserts")]
    discs = [discs_along(proof, APART, CORNERS) for proof in proofs]
    edges = {good: [edge_left(p) for p in proofs if p.same == good] for good in (True, False)}
    Shown.proof = CutterProof(
        fingerprint=opened.content,
        findings=tuple(line_differs(proofs)),
        count=len(proofs),
        worst=max((proof.difference for proof in proofs), default=0.0),
        taken=_joined(discs),
        left=_joined(edges[True]),
        wrong=_joined(edges[False]),
    )
    return Shown.proof


def _joined(parts: list[Array]) -> Array:
    return above_the_panel(np.concatenate([np.zeros((0, 2)), *parts]))


def draw() -> None:
    """Called by Blender for every viewport; off with its overlays, and once the design is another."""
    context, proof = bpy.context, Shown.proof
    if proof is None or not has_overlays(context) or context.scene.grainstack.fingerprint != proof.fingerprint:
        return
    draw_lines([(proof.taken, TAKEN, WIDTH), (proof.left, LEFT, WIDTH), (proof.wrong, WRONG, WIDTH)])


drawing = Drawing(draw)


def register() -> None:
    """Draw from now on."""
    drawing.register()


def unregister() -> None:
    """Draw no more, and keep nothing."""
    Shown.proof = None
    drawing.unregister()
