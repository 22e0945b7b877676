"""What the sheet says of a panel that is being made: how far along it is, what is wrong, and how to mend it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..errors import UnusableInput
from ..findings.finding import Finding
from .as_built import Problem
from .as_it_stands import standing_picture
from .blocks import Block, Drawn, Heading, Lines
from .plan import Plan
from .progress import progress
from .tracking import Bench, bench_path, compared, read_bench

CAPTION = (
    "The raw panel as it stands, seen from the face, not mirrored. Grey: glued in. Hatched: pockets that stand open. "
    "Thin lines: still to do"
)


def bench_beside(plan: Plan) -> Bench | None:
    """The tracking file beside the plan's design; None where there is none.

    Raises:
        UnusableInput: it is damaged, or of another design. It stays as it is.
    """
    design = plan.stack.design
    path = bench_path(design.folder / f"{plan.name}.panel.json")
    if not design.file or not path.exists():
        return None
    bench = read_bench(path)
    if bench.design != plan.name:
        problem = f'it tracks another design, "{bench.design}", not "{plan.name}"'
        raise UnusableInput(str(path), "design", problem, "Move it elsewhere, or give it that design's name")
    try:
        compared(bench, plan, beside=True)
    except UnusableInput as refused:
        raise UnusableInput(str(path), refused.place, refused.problem, "Move it elsewhere to begin anew") from None
    return bench


def standing_blocks(plan: Plan, bench: Bench, found: Sequence[Problem]) -> tuple[Block, ...]:
    """How far along it is, the panel as it stands today, and what is wrong between bench and design."""
    return tuple(_blocks(plan, bench, found))


def _blocks(plan: Plan, bench: Bench, found: Sequence[Problem]) -> Iterator[Block]:
    along = progress(plan, bench)
    yield Heading("How far along it is", page=True)
    yield Drawn(standing_picture(plan, bench), CAPTION)
    yield Lines((along.words + ".",), strong=True)
    yield Lines((f"Next: {along.next_words}.",))
    yield from problem_blocks(found)


def problem_blocks(found: Sequence[Problem]) -> tuple[Block, ...]:
    """What is wrong between bench and design, and how to mend it; nothing where all is as planned."""
    if not found:
        return ()
    words = tuple(problem_words(problem.finding) for problem in found)
    return Heading("What came out otherwise, or has changed since it was cut"), Lines(words)


def problem_words(finding: Finding) -> str:
    """A finding at the bench in one paragraph."""
    return f"{finding.level.capitalize()}, {finding.code.replace('-', ' ')}: {finding.text}. {finding.remedy}."
