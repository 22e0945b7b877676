"""The background's glue-up: strips and segments with their allowances, in stages that can be clamped at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..boards.stock import EDGE
from ..design import Panel, Strip
from ..stack.stack import Stack

STRIPS_AT_ONCE = 5
"""Strips that are glued edge to edge in one clamping, while the glue is open (common practice)."""
LENGTH = 20.0
"""Every strip is glued up so much longer than the raw panel, mm, and cut to length when the panel is one
(common practice, no published source)."""
BUTT = 1.0
"""Each end that is glued to another takes so much, mm, to be cut square (common practice, no published source)."""
OUTER = 5.0
"""The first and the last strip are so much wider on their outer edge, mm, which is cut off when the panel is cut square
(common practice, no published source)."""
THICKNESS = 2.0
"""The background is glued up so much thicker, mm, and flattened on both faces (common practice)."""


@dataclass(frozen=True)
class SegmentCut:
    """One length of wood."""

    wood: str
    length: float
    """In the raw panel, mm."""
    cut_length: float
    """As it is cut, mm: the outer ones of a strip get the allowance in length, and each glued end one."""
    end: float
    """Where it ends on the raw panel, mm along the strip from the zero end."""


@dataclass(frozen=True)
class StripCut:
    """One strip of the background; the first lies at the zero edge."""

    number: int
    width: float
    """In the raw panel, mm."""
    glue_width: float
    """As it is planed and glued up, mm: the outer strips are wider."""
    rip_width: float
    """As it is ripped, mm."""
    segments: tuple[SegmentCut, ...]


@dataclass(frozen=True)
class Stage:
    """What is glued in one clamping."""

    what: str
    flat: float = 0.0
    """To what thickness its parts are flattened before, mm; 0 where they are not."""


@dataclass(frozen=True)
class GlueUp:
    """The whole background."""

    strips: tuple[StripCut, ...]
    """Empty where the background is one plain board."""
    wood: str | None
    """The wood of a plain background, else None."""
    length: float
    """Along the strips, or the grain, mm, in the raw panel."""
    across: float
    thickness: float
    """As glued up, mm, before it is flattened to the raw panel's."""
    zero_edge: str
    """The edge of the panel at which the first strip lies."""
    stages: tuple[Stage, ...]


def glue_up(stack: Stack) -> GlueUp:
    """The glue-up of a design's background."""
    panel = stack.design.panel
    upright = runs_upright(panel)
    length, across = (panel.height, panel.width) if upright else (panel.width, panel.height)
    count = len(panel.strips)
    strips = tuple(
        _strip_cut(number, strip, OUTER * ((number == 1) + (number == count)))
        for number, strip in enumerate(panel.strips, 1)
    )
    edge = "left edge" if upright else "lower edge"
    return GlueUp(
        strips, panel.wood, length, across, panel.thickness + THICKNESS, edge, tuple(_stages(strips, panel.thickness))
    )


def runs_upright(panel: Panel) -> bool:
    """Whether the background's grain runs up the panel rather than across it."""
    return panel.strips_along == "y" if panel.strips else abs(math.sin(math.radians(panel.grain))) > 0.5


def _strip_cut(number: int, strip: Strip, outer: float) -> StripCut:
    count, end, cuts = len(strip.segments), 0.0, []
    for place, each in enumerate(strip.segments):
        outside = (place == 0) + (place == count - 1)
        end += each.length
        cuts.append(SegmentCut(each.wood, each.length, each.length + LENGTH / 2 * outside + BUTT * (2 - outside), end))
    wide = strip.width + outer
    return StripCut(number, strip.width, wide, wide + EDGE, tuple(cuts))


def _stages(strips: tuple[StripCut, ...], thickness: float) -> list[Stage]:
    stages = []
    joined = [strip.number for strip in strips if len(strip.segments) > 1]
    if joined:
        stages.append(Stage(f"Glue the segments of strips {numbers_text(joined)} end to end, each strip straight"))
    groups = [strips[k : k + STRIPS_AT_ONCE] for k in range(0, len(strips), STRIPS_AT_ONCE)] if len(strips) > 1 else []
    stages += [Stage(f"Glue strips {g[0].number} to {g[-1].number} edge to edge") for g in groups if len(g) > 1]
    rounds = math.ceil(math.log2(len(groups))) if groups else 0
    left = rounds
    while len(groups) > 1:
        pairs = [groups[k : k + 2] for k in range(0, len(groups), 2)]
        names = [f"{_span(pair[0])} to {_span(pair[1])}" for pair in pairs if len(pair) == 2]
        flat = thickness + THICKNESS * left / (rounds + 1)  # each flattening, the panel's too, takes as much
        stages.append(Stage(f"Flatten the parts and measure them again; then glue {', and '.join(names)}", flat))
        left -= 1
        groups = [sum(pair, ()) for pair in pairs]
    return stages


def _span(group: tuple[StripCut, ...]) -> str:
    return f"strip {group[0].number}" if len(group) == 1 else f"strips {group[0].number}–{group[-1].number}"


def numbers_text(numbers: Sequence[int]) -> str:
    """Rising numbers in words, such as 1–5, 12–16."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)
