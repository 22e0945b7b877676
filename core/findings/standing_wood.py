"""Findings of wood that pockets leave standing: peninsulas and pillars, and slivers along the panel's edges."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..measures.all_measures import Measures
from ..measures.edge_slivers import EdgeSliver
from ..stack.stack import PlacedPiece
from .finding import Finding, Step, below, listed, of
from .strength import sound_depth

_WAY = {"left": (1, 0), "bottom": (0, 1), "right": (-1, 0), "top": (0, -1)}
"""Into the panel, from each of its sides."""
ROOM = 0.5
"""mm that are left beyond the least width where a piece is moved off an edge (common practice)."""


def fragile_peninsula(m: Measures) -> Iterator[Finding]:
    """A fin of wood in a pocket, or a pillar among several, narrower than `min_island` or than it is high."""
    least = m.workshop.min_island
    for fin in m.peninsulas:
        placed, needed = m.stack.pieces[fin.piece], max(least, fin.height)
        words = (
            f"a tongue of wood {fin.width:.2f} mm wide and {fin.length:.2f} mm long is left standing in its pocket, "
            f"{fin.height:.2f} mm high: it breaks off"
        )
        step = None
        remedy = f"Draw that tongue of wood {needed:.2f} mm wide, or fill its place with a piece of its own"
        if not below(fin.width, least):
            depth = math.floor(100 * fin.width) / 100
            step = Step(placed.piece.id, "pocket_depth", depth) if sound_depth(m, placed, depth) else None
            remedy = f"Cut the pocket at most {depth:.2f} mm deep, or draw that tongue of wood {needed:.2f} mm wide"
        yield of("warning", "fragile-peninsula", placed, fin.at, words, remedy, step, value=needed - fin.width)
    for pillar in m.pillars:
        pieces = [m.stack.pieces[i] for i in pillar.pieces]
        names = [placed.piece.id for placed in pieces]
        words = f"a pillar {pillar.width:.2f} mm wide and {pillar.height:.2f} mm high is left between {listed(names)}"
        if pillar.one_batch:
            words += ", and it stands alone while their pockets are open: it breaks off"
        else:
            words += ": it crumbles"
        remedy = "Let one of the pieces cover it, or move them farther apart"
        first, last = pieces[0], pieces[-1]
        yield of("warning", "fragile-peninsula", last, pillar.at, words, remedy, other=first, value=-pillar.width)


def edge_sliver(m: Measures) -> Iterator[Finding]:
    """A thin strip of the panel between a pocket and an edge, or of a piece that just reaches into the face."""
    glued, alone = m.workshop.min_neck_glued, m.workshop.min_wall
    for sliver in m.edge_slivers:
        placed = m.stack.pieces[sliver.piece]
        if sliver.own:
            yield _own(sliver, placed, glued)
            continue
        width, edge = sliver.width, f"the {sliver.side} edge"
        least = alone if sliver.edge == "raw" else glued
        step = _moved(placed, sliver, least + ROOM - width)
        remedy = f"Move it so that {least:.2f} mm or more are left there"
        remedy += "" if sliver.edge == "raw" else ", or let it run off the edge"
        words = (
            f"the strip of wood between its pocket and {edge} is only {width:.2f} mm wide, less than {least:.2f} mm: "
        )
        words += (
            "nothing holds it while the pocket is open" if sliver.edge == "raw" else "trimming that edge tears it out"
        )
        yield of("warning", "edge-sliver", placed, sliver.at, words, remedy, step, value=-width)


def _own(sliver: EdgeSliver, placed: PlacedPiece, glued: float) -> Finding:
    words = (
        f"it just reaches into the finished face: a sliver {sliver.width:.2f} mm wide and {sliver.length:.2f} mm long "
        f"is left at the {sliver.side} edge, which trimming that edge tears out"
    )
    remedy = f"Move it off that edge, or so that {glued:.2f} mm or more show"
    step = _moved(placed, sliver, glued + ROOM - sliver.width)
    return of("warning", "edge-sliver", placed, sliver.at, words, remedy, step, value=-sliver.width)


def _moved(placed: PlacedPiece, sliver: EdgeSliver, by: float) -> Step:
    """The piece moved into the panel."""
    x, y = (at + by * way for at, way in zip(placed.piece.at, _WAY[sliver.side], strict=True))
    return Step(placed.piece.id, "at", (round(x, 3), round(y, 3)))
