"""All lines of a panel as one set of files: cut files for each batch, full-size templates, and what they are."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from ..errors import UnusableInput
from ..findings.all_findings import find_errors
from ..findings.finding import Finding
from ..findings.sound import unsound
from ..measures.all_measures import Measures
from ..pages.pdf import Paper
from ..stack.stack import Stack
from .curve import Curve, moved
from .cuts import LAYERS, Batch, all_cuts
from .drawing import CLEARANCE_WORDS, Drawing, drawings
from .dxf_file import dxf_text
from .files import CONTENTS, replace_set
from .fitting import Pieces, fit_rings
from .proof import line_differs, prove
from .svg_file import svg_text
from .templates import templates_pdf

FORMAT = "grainstack-lines/1"
FileKind = Literal["svg", "dxf"]
Curves = Literal["arcs", "splines", "polylines"]

Progress = Callable[[str], None]


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
) -> Path:
    """Write all lines of a panel into a folder, as one set that takes the place of an older one.

    Args:
        stack: the panel.
        folder: where to; it is made if needed.
        choices: how.
        findings: of the stack, if they are there already; else errors alone are looked for.
        progress: is told each step; what it raises stops the work, and nothing is written.
        beside: more files of the same set.

    Returns:
        The path of the table of contents.

    Raises:
        UnusableInput: the design has errors, or the folder cannot be written. Nothing has changed then.
    """
    measures = Measures(stack)
    refuse_if_wrong(stack, find_errors(measures) if findings is None else findings)
    progress("lines and blanks")
    batches = all_cuts(stack)
    drawn = drawings(stack, batches)
    wanted = list(dict.fromkeys(_pieces(kind, choices.curves) for kind in choices.formats))
    # Threads, since most of the time goes into libraries that let others run meanwhile; processes would have to be
    # started anew, which takes as long as they save. Only the first of them touches what is kept between calls.
    with ThreadPoolExecutor(3) as pool:
        sound = pool.submit(lambda: list(unsound(measures)) if findings is None else [])
        fitted = dict(zip(wanted, pool.map(lambda pieces: _fitted(batches, pieces), wanted), strict=True))
        progress("proof")
        cuts = [cut for batch in batches for cut in batch.cuts]
        jobs = [(cut, [fitted[pieces][id(line.source)] for line in cut.lines]) for pieces in wanted for cut in cuts]
        proofs = list(pool.map(lambda job: prove(*job), jobs))
        refuse_if_wrong(stack, [*sound.result(), *line_differs(proofs)])
        progress("templates")
        templates = pool.submit(templates_pdf, stack, proofs[: len(cuts)], choices.paper)
        files: dict[str, bytes] = dict(beside or {})
        for kind in choices.formats:
            progress(f"{kind} files")
            files |= _cut_files(drawn, fitted[_pieces(kind, choices.curves)], kind, choices)
        files["templates.pdf"] = templates.result()
    files[CONTENTS] = _contents(stack, drawn, files, choices).encode()
    return replace_set(folder, files)


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


def _fitted(batches: Sequence[Batch], pieces: Pieces) -> dict[int, Curve]:
    """The curve of each line on the panel, by the line's identity."""
    sources = [line.source for batch in batches for cut in batch.cuts for line in cut.lines]
    return {id(source): curve for source, curve in zip(sources, fit_rings(sources, pieces), strict=True)}


def _cut_files(
    drawn: Sequence[Drawing], fitted: Mapping[int, Curve], kind: FileKind, choices: Choices
) -> dict[str, bytes]:
    files = {}
    for drawing in drawn:
        curves = [moved(fitted[id(line.source)], line.turn, line.shift) for line in drawing.lines]
        splines = choices.curves == "splines"
        text = svg_text(drawing, curves) if kind == "svg" else dxf_text(drawing, curves, splines=splines)
        files[f"{drawing.name}.{kind}"] = text.encode()
    return files


def _contents(stack: Stack, drawn: Sequence[Drawing], files: Mapping[str, bytes], choices: Choices) -> str:
    whole: dict[str, Any] = {
        "format": FORMAT,
        "title": stack.design.title,
        "units": "mm",
        "zero": "lower left corner of the raw panel, on its raw face",
        "allowance": CLEARANCE_WORDS,
        "curves": choices.curves,
        "layers": dict(LAYERS),
        "page": [drawn[0].width, drawn[0].height] if drawn else None,
        "files": sorted(files),
    }
    return json.dumps(whole, indent=1) + "\n"
