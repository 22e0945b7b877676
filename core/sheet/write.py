"""The bench sheet of a design: PDF, page for a tablet and buying list, written together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import UnusableInput
from ..findings.all_findings import find_all
from ..findings.finding import Finding
from ..lines.write import Progress, refuse_if_wrong, silent
from ..measures.all_measures import Measures
from ..pages.pdf import Paper
from ..stack.stack import Stack
from ..whole_files import replace_files
from .buying import buying_csv
from .contents import contents
from .html_sheet import html_sheet
from .lengths import Units
from .pdf_sheet import pdf_sheet
from .plan import plan_of
from .stock_layout import stock_layout


@dataclass(frozen=True)
class SheetChoices:
    """How a sheet is written."""

    paper: Paper = "a4"
    units: Units = "both"


def write_sheet(
    stack: Stack,
    folder: Path,
    choices: SheetChoices = SheetChoices(),
    *,
    findings: Sequence[Finding] | None = None,
    measures: Measures | None = None,
    progress: Progress = silent,
) -> Path:
    """Write NAME-sheet.pdf, NAME-sheet.html and NAME-buying.csv into a folder, in place of older ones.

    Args:
        stack: the panel.
        folder: where to; it is made if needed.
        choices: how.
        findings, measures: of the stack, if they are there already.
        progress: is told each step; what it raises stops the work, and nothing is written.

    Returns:
        The path of the PDF.

    Raises:
        UnusableInput: the design has errors, or the folder cannot be written. Nothing has changed then.
    """
    measures = Measures(stack) if measures is None else measures
    found = find_all(stack, measures) if findings is None else findings
    refuse_if_wrong(stack, found)
    progress("order of work and blanks")
    plan = plan_of(stack, found, measures)
    blocks = contents(plan, choices.units)
    progress("PDF")
    files = {f"{plan.name}-sheet.pdf": pdf_sheet(plan.title, blocks, choices.paper)}
    progress("page for a tablet")
    files[f"{plan.name}-sheet.html"] = html_sheet(plan, blocks).encode()
    missing = tuple(each.item for each in stock_layout(plan).missing)
    files[f"{plan.name}-buying.csv"] = buying_csv(plan, missing).encode()
    try:
        replace_files(folder, files)
    except OSError as error:
        where = getattr(error, "filename", None) or folder
        problem = f"the sheet cannot be written ({error.strerror or error}); what lay there is as it was"
        raise UnusableInput(str(where), "", problem, "Close programs that use it, or name another folder") from None
    return folder / f"{plan.name}-sheet.pdf"
