"""How many remedies of one step cure their finding and bring nothing graver, in dense random designs.

    python -m benchmark.remedies 1000   # so many; exit status 1 where fewer than 99 % cure, or one brings more

What a step does is judged by all errors and warnings of the whole changed design, from scratch and not by the trial
that offered it.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from core.design import Design, LineOutline, Panel, Piece, PolygonOutline, Segment, Strip, Workshop
from core.errors import UnusableInput
from core.findings.all_findings import find_grave
from core.findings.finding import Finding
from core.findings.step_trials import StepTrials, changed
from core.measures.all_measures import Measures
from core.stack.stack import Stack, build_stack

LEAST_CURED = 0.99
WOODS = ("holly", "padauk", "wenge", "cherry", "hard maple", "purpleheart")
_DIAMETER = 3.175


def dense_design(seed: int, count: int = 12) -> Design:
    """Pieces of many kinds, so near to each other that most have something wrong."""
    random = np.random.default_rng(seed)
    width, height = 130.0, 90.0
    cuts = (0.0, 37.0, 80.0, width)
    strips = tuple(Strip(b - a, (Segment(height, "ash"),)) for a, b in pairwise(cuts))
    panel = Panel(width, height, float(random.choice([12.0, 19.0])), 0.5, (6.0,) * 4, "y", strips, None, None)
    workshop = Workshop(cutter_length=float(random.choice([7.0, 10.0, 22.0])))
    pieces = tuple(_piece(random, number, width, height, workshop) for number in range(count))
    return Design(f"dense {seed}", panel, workshop, pieces, Path())


def _piece(random: np.random.Generator, number: int, width: float, height: float, workshop: Workshop) -> Piece:
    depth = float(random.choice([4.0, 6.0, 6.0, 6.5, 7.0, 9.0, 14.5, 0.4]))
    outline = _outline(random)
    groove = isinstance(outline, LineOutline)
    drawn = not groove and random.random() < 0.2
    thickness = depth + workshop.proud if random.random() < 0.9 else depth - 0.8
    clearance = float(random.choice([0.1, 0.1, 0.1, 0.1, 0.0, 0.7]))
    grain = None if groove else float(random.choice([0.0, 45.0, 90.0]))
    at = (round(random.uniform(8, width - 30), 2), round(random.uniform(8, height - 25), 2))
    return Piece(
        f"p{number}", str(random.choice(WOODS)), outline, grain, at, 0.0, 1.0, False,
        "as-drawn" if drawn else "rounded", (), depth, max(thickness, 0.3), clearance, workshop.strip_clearance, 0.0,
        0.0, _DIAMETER, _DIAMETER / 2,
    )  # fmt: skip


def _outline(random: np.random.Generator) -> PolygonOutline | LineOutline:
    kind, a, b = random.integers(0, 6), random.uniform(8, 32), random.uniform(8, 26)
    if kind == 0:
        return LineOutline(((0.0, 0.0), (a, b), (1.6 * a, b)), _DIAMETER)
    if kind == 1:
        return PolygonOutline(tuple(_round(a / 2)))
    if kind == 2:
        return PolygonOutline(tuple(_round(a / 2)), (tuple(_round(a / 2 - random.uniform(3.5, 6))),) if a > 18 else ())
    if kind == 3:  # a bar that is narrow in its middle
        half = random.uniform(2, 5)
        return PolygonOutline(
            ((0, 0), (12, 0), (12, 10 - half), (30, 10 - half), (30, 0), (42, 0), (42, 20), (30, 20), (30, 10 + half),
             (12, 10 + half), (12, 20), (0, 20))
        )  # fmt: skip
    if kind == 4:
        return PolygonOutline(((0, 0), (a, b / 3), (a, b)))
    return PolygonOutline(((0, 0), (a, 0), (a, b), (0, b)))


def _round(radius: float) -> Iterator[tuple[float, float]]:
    for angle in np.linspace(0, 2 * math.pi, 48, endpoint=False):
        yield radius * math.cos(angle), radius * math.sin(angle)


@dataclass
class Tally:
    """What became of the remedies that were offered, by code."""

    offered: Counter[str] = field(default_factory=Counter)
    cured: Counter[str] = field(default_factory=Counter)
    graver: Counter[str] = field(default_factory=Counter)
    silent: Counter[str] = field(default_factory=Counter)
    """Errors and warnings without a step."""
    bad: list[str] = field(default_factory=list)

    @property
    def count(self) -> int:
        """Remedies offered so far."""
        return sum(self.offered.values())


def _kinds(findings: list[Finding]) -> Counter[tuple[str, str | None, str | None]]:
    return Counter((f.code, f.piece, f.other) for f in findings)


def judge(design: Design, tally: Tally, most: int) -> None:
    """Try every step of a design that is offered, and count what the whole changed design says of it."""
    stack = build_stack(design)
    measures = Measures(stack)
    told = list(find_grave(measures))
    trials, before = StepTrials(measures, find_grave), _kinds([f for f in told if f.level != "note"])
    for finding in (trials.tried(each) for each in told if each.level != "note"):
        if tally.count >= most:
            return
        if finding.step is None:
            tally.silent[finding.code] += 1
            continue
        after = _after(stack, finding)
        tally.offered[finding.code] += 1
        key = (finding.code, finding.piece, finding.other)
        good = after is not None and after[key] < before[key]
        tally.cured[finding.code] += good
        if after is None or after - before:
            tally.graver[finding.code] += 1
        if not good or after is None or after - before:
            tally.bad.append(f"{design.title}: {finding.code} {finding.piece} {finding.other} {finding.step}")


def _after(stack: Stack, finding: Finding) -> Counter[tuple[str, str | None, str | None]] | None:
    step, design = finding.step, stack.design
    assert step is not None
    pieces = tuple(changed(p, step, design.workshop) if p.id == step.piece else p for p in design.pieces)
    try:
        after = build_stack(replace(design, pieces=pieces), previous=stack)
    except UnusableInput:
        return None
    return _kinds([found for found in find_grave(Measures(after)) if found.level != "note"])


def run(most: int, first: int = 0) -> Tally:
    """Judge remedies of one dense design after another until there are so many."""
    tally, seed = Tally(), first
    while tally.count < most:
        judge(dense_design(seed), tally, most)
        seed += 1
        print(f"{tally.count} remedies in {seed - first} designs", file=sys.stderr)
    return tally


def main(most: int) -> int:
    """Print the table; 1 where the aim is missed."""
    tally = run(most)
    codes = sorted({*tally.offered, *tally.silent})
    print(f"{'finding':22}{'offered':>9}{'cured':>8}{'graver':>8}{'no step':>9}")
    for code in codes:
        print(f"{code:22}{tally.offered[code]:9}{tally.cured[code]:8}{tally.graver[code]:8}{tally.silent[code]:9}")
    cured, graver = sum(tally.cured.values()), sum(tally.graver.values())
    print(f"{'all':22}{tally.count:9}{cured:8}{graver:8}{sum(tally.silent.values()):9}")
    print("\n".join(tally.bad))
    return int(cured < LEAST_CURED * tally.count or graver > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
