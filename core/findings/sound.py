"""Findings of solids that could not be proved sound: a fault of ours, told before anyone relies on them."""

from __future__ import annotations

from collections.abc import Iterator

from ..measures.all_measures import Measures
from ..witness import inside
from .finding import Finding, of, xy

_REMEDY = "This is a fault of Grainstack: please report it with the design, and move or redraw the piece meanwhile"


def unsound(m: Measures) -> Iterator[Finding]:
    """A solid that could not be proved closed, or volumes that do not add up."""
    for fault in m.faults:
        block = fault.block
        at = inside(m.stack.box if block is None else block.footprint)
        if block is not None and block.piece is not None:
            yield of("error", "unsound", block.piece, at, f"its solid cannot be relied on: {fault.why}", _REMEDY)
        else:
            name = "the panel's solids" if block is None else block.name.replace("background-", "background strip ")
            words = f"{name} at {xy(at)}: cannot be relied on: {fault.why}"
            yield Finding("error", "unsound", None, None, at, words, _REMEDY)
