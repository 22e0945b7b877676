"""All lines of a panel as one set of files: cut files for each batch, full-size templates, and what they are."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Literal

from ..errors import UnusableInput
from ..findings.all_findings import find_errors
from ..findings.finding import Finding
from ..findings.sound import unsound
from ..measures.all_measures import Measures
from ..pages.pdf import Paper
from ..stack.stack import Stack
from .contents import contents_text
from .curve import Curve, moved
from .cuts import all_cuts
from .drawing import drawings
from .dxf_file import dxf_text
from .files import CONTENTS, replace_set
from .fitting import Pieces, fit_rings
from .proof import Proof, line_differs, prove
from .svg_file import svg_text
from .templates import templates_pdf

FileKind = Literal["svg", "dxf"]
Curves = Literal["arcs", "splines", "polylines"]

Progress = Callable[[str], None]
THREADS = 3


@dataclass(frozen=True)
class Choices:
    """How lines are written."""

    formats: tuple[FileKind, ...] = ("svg", "dxf")
    curves: Curves = "arcs"
    """How curves are written in DXF: polylines with bulges, splines, or straight lines only (then SVG too)."""
    paper: Paper = "a4"


def silent(_: str) -> None:
    """No progress is shown."""


def write_lines(
    stack: Stack,
    folder: Path,
    choices: Choices = Choices(),
    *,
    findings: Sequence[Finding] | None = None,
    progress: Progress = silent,
    beside: Mapping[str, bytes] | None = None,
    helper: Executor | None = None,
) -> Path:
    """Write all lines of a panel into a folder, as one set that takes the place of an older one.

    Args:
        stack: the panel.
        folder: where to; it is made if needed.
        choices: how.
        findings: of the stack, if they are there already; else errors alone are looked for.
        progress: is told each step; what it raises stops the work, and nothing is written.
        beside: more files of the same set.
        helper: does a part of the work, a thread of this process if not given.

    Returns:
        The path of the table of contents.

    Raises:
        UnusableInput: the design has errors, or the folder cannot be written. Nothing has changed then.
    """
    refuse_if_wrong(stack, find_errors(Measures(stack)) if findings is None else findings)
    progress("lines and blanks")
    first, *others = _by_pieces(choices)
    with ThreadPoolExecutor(THREADS) as pool:
        aside = [_Task(helper or pool, _unsound, stack)] if findings is None else []
        lines = _Lines(stack)
        aside += [
            _Task(helper or pool, _Lines.proved_files, lines, lines.fitted(each), each, choices) for each in others
        ]
        fitted = lines.fitted(first)
        progress("proof")
        proofs = lines.proved(fitted)
        refuse_if_wrong(stack, list(line_differs(proofs)))
        progress("templates")
        templates = pool.submit(templates_pdf, stack, proofs, choices.paper)
        progress("cut files")
        files = dict(beside or {}) | lines.files(fitted, first, choices)
        for task in aside:
            written, errors = task.result()
            refuse_if_wrong(stack, errors)
            files |= written
        files["templates.pdf"] = templates.result()
    files[CONTENTS] = contents_text(stack, lines.batches, lines.drawn, files, choices.curves).encode()
    return replace_set(folder, files)


@dataclass(frozen=True)
class _Files:
    """Kinds of files whose lines are made of the same."""

    pieces: Pieces
    kinds: tuple[FileKind, ...]


def _by_pieces(choices: Choices) -> list[_Files]:
    kinds: dict[Pieces, tuple[FileKind, ...]] = {}
    for kind in choices.formats:
        pieces = _pieces(kind, choices.curves)
        kinds[pieces] = (*kinds.get(pieces, ()), kind)
    return [_Files(*each) for each in kinds.items()]


class _Lines:
    """All lines of a panel, and where they are drawn."""

    def __init__(self, stack: Stack) -> None:
        self.batches = all_cuts(stack)
        self.drawn = drawings(stack, self.batches)
        self._cuts = [cut for batch in self.batches for cut in batch.cuts]

    def fitted(self, made_of: _Files) -> list[Curve]:
        """The curve of each line on the panel, in the order of the cuts."""
        return fit_rings([line.source for cut in self._cuts for line in cut.lines], made_of.pieces)

    def proved(self, fitted: Sequence[Curve]) -> list[Proof]:
        """What the cutter leaves along all of them."""
        curves = iter(fitted)
        return prove(self._cuts, [[next(curves) for _ in cut.lines] for cut in self._cuts])

    def files(self, fitted: Sequence[Curve], made_of: _Files, choices: Choices) -> dict[str, bytes]:
        """The cut files, by name."""
        lines = [line for cut in self._cuts for line in cut.lines]
        by_source = {id(line.source): curve for line, curve in zip(lines, fitted, strict=True)}
        files = {}
        for drawing in self.drawn:
            curves = [moved(by_source[id(line.source)], line.turn, line.shift) for line in drawing.lines]
            for kind in made_of.kinds:
                splines = choices.curves == "splines"
                text = svg_text(drawing, curves) if kind == "svg" else dxf_text(drawing, curves, splines=splines)
                files[f"{drawing.name}.{kind}"] = text.encode()
        return files

    def proved_files(self, fitted: Sequence[Curve], made_of: _Files, choices: Choices) -> Aside:
        """The cut files, and what the proof of their lines finds."""
        return self.files(fitted, made_of, choices), list(line_differs(self.proved(fitted)))


Aside = tuple[dict[str, bytes], list[Finding]]
"""Files, by name, and errors."""


def _unsound(stack: Stack) -> Aside:
    """What keeps the solids from being proved sound."""
    return {}, list(unsound(Measures(stack)))


class _Task:
    """Work for another process or thread; where that has come to an end, it is done here."""

    def __init__(self, executor: Executor, work: Callable[..., Aside], *arguments: object) -> None:
        self._here = partial(work, *arguments)
        self._there: Future[Aside] | None = None
        with contextlib.suppress(BrokenExecutor):
            self._there = executor.submit(work, *arguments)

    def result(self) -> Aside:
        """What came out, once it is done."""
        if self._there is None:
            return self._here()
        try:
            return self._there.result()
        except BrokenExecutor:
            return self._here()


def refuse_if_wrong(stack: Stack, findings: Sequence[Finding]) -> None:
    """For lines: wood would be spoilt.

    Raises:
        UnusableInput: there is an error among the findings.
    """
    errors = [finding for finding in findings if finding.level == "error"]
    if errors:
        others = f" ({len(errors) - 1} more errors: run check)" if len(errors) > 1 else ""
        raise UnusableInput(stack.design.file, errors[0].code, errors[0].text + others, errors[0].remedy)


def _pieces(kind: FileKind, curves: Curves) -> Pieces:
    """What lines of such a file are made of."""
    if curves == "polylines":
        return "polylines"
    return "arcs" if kind == "dxf" and curves == "arcs" else "curves"
