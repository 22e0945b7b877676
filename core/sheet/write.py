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
from .as_built import problems
from .blocks import Block, Heading
from .boards_to_buy import to_buy
from .buying import buying_csv
from .contents import contents, wood_of
from .cover import cover_photo, picture_there
from .html_sheet import html_sheet
from .lengths import Units
from .pdf_sheet import pdf_sheet
from .plan import Plan, plan_of
from .standing import bench_beside, problem_blocks, standing_blocks


@dataclass(frozen=True)
class SheetChoices:
    """How a sheet is written."""

    paper: Paper = "a4"
    units: Units = "both"
    picture: Path | None = None
    """A rendered picture of the finished panel, for the cover."""


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

    The cover shows the picture that is chosen, or NAME-finished.png (or .jpg) where that lies in the folder and is not
    older than the design, or else a drawing. Where NAME.bench.json lies beside the design, the sheet tells how far
    along the work is.

    Args:
        stack: the panel.
        folder: where to; it is made if needed.
        choices: how.
        findings, measures: of the stack, if they are there already.
        progress: is told each step; what it raises stops the work, and nothing is written.

    Returns:
        The path of the PDF.

    Raises:
        UnusableInput: the design has errors, the tracking file or the picture cannot be used, or the folder cannot be
            written. Nothing has changed then.
    """
    measures = Measures(stack) if measures is None else measures
    found = find_all(stack, measures) if findings is None else findings
    found = [finding for finding in found if finding.accepted is None]
    refuse_if_wrong(stack, found)
    progress("order of work and blanks")
    plan = plan_of(stack, found, measures)
    bench, wood = bench_beside(plan), wood_of(plan)
    blocks = _with_picture(contents(plan, choices.units, wood), plan, folder, choices)
    wrong = () if bench is None else problems(plan, bench)
    progress("PDF")
    standing = () if bench is None else standing_blocks(plan, bench, wrong)
    files = {f"{plan.name}-sheet.pdf": pdf_sheet(plan.title, _after_cover(blocks, standing), choices.paper)}
    progress("page for a tablet")
    files[f"{plan.name}-sheet.html"] = html_sheet(plan, _after_cover(blocks, problem_blocks(wrong)), bench).encode()
    files[f"{plan.name}-buying.csv"] = buying_csv(plan, to_buy(wood[1])).encode()
    try:
        replace_files(folder, files)
    except OSError as error:
        where = getattr(error, "filename", None) or folder
        problem = f"the sheet cannot be written ({error.strerror or error}); the old one is unchanged"
        raise UnusableInput(str(where), "", problem, "Close programs that use it, or name another folder") from None
    return folder / f"{plan.name}-sheet.pdf"


def _with_picture(blocks: tuple[Block, ...], plan: Plan, folder: Path, choices: SheetChoices) -> tuple[Block, ...]:
    """The blocks with a rendered picture in place of the drawn one, where there is one."""
    design = plan.stack.design
    there = choices.picture or picture_there(folder, plan.name, design.folder / Path(design.file).name)
    return blocks if there is None else (cover_photo(there), *blocks[1:])


def _after_cover(blocks: tuple[Block, ...], more: tuple[Block, ...]) -> tuple[Block, ...]:
    """The blocks with more of them after the cover."""
    after = next(n for n, block in enumerate(blocks) if isinstance(block, Heading) and block.page)
    return (*blocks[:after], *more, *blocks[after:])
