"""The commands that need no Blender: `python -m core.commands check|solids|lines|sheet DESIGN …`.

Results go to stdout and nothing else does. Exit status: 0 done; 1 done, and there are error findings; 2 unusable
input or usage, told in one line on stderr. Inside Blender the add-on calls the same `main`.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import NoReturn, cast, get_args

from .errors import UnusableInput
from .faults import during, told
from .findings.all_findings import Finding, find_all, refuse_if_unusable
from .findings.check import check_stack, check_text
from .lines.as_cut import sawn_inserts, write_batch
from .measures.all_measures import Measures
from .solids.panel_solids import State, build_solids
from .solids.ply import write_solids
from .solids.proof import refuse_if_open
from .stack.loading import load_stack
from .stack.stack import Stack

AS_SAWN = "as-sawn"
DONE, DONE_WITH_ERRORS, UNUSABLE = 0, 1, 2


class Parser(argparse.ArgumentParser):
    """Wrong usage is unusable input, reported in one line like the rest."""

    def error(self, message: str) -> NoReturn:
        """Called by argparse."""
        raise UnusableInput(self.prog, "", message, f"Write: {self.usage}")


def main(argv: Sequence[str], *, may_start_processes: bool = False) -> int:
    """Run one command; returns the exit status, raises nothing. Inside Blender it may start no processes."""

    def run() -> int:
        options = _parser().parse_args(argv, argparse.Namespace(may_start_processes=may_start_processes))
        output, status = options.run(options)
        _print(output)
        return int(status)

    return at_the_door(run, f"grainstack {' '.join(argv)}")


def at_the_door(run: Callable[[], int], doing: str) -> int:
    """The exit status of a command; what it raises instead becomes one line on stderr.

    Args:
        run: the command.
        doing: what it does, as a fault of ours will say.
    """
    try:
        return run()
    except UnusableInput as refused:
        print(refused, file=sys.stderr)
    except SystemExit as end:  # --help, which argparse has printed
        return int(end.code or 0)
    except KeyboardInterrupt:
        print("Stopped. Nothing more was written.", file=sys.stderr)
    except Exception as fault:  # ours, whatever it is: a maker is not shown a traceback
        print(told(fault, doing), file=sys.stderr)
    return UNUSABLE


def check(options: argparse.Namespace) -> tuple[str, int]:
    """Findings and measures, as a report or as JSON."""
    stack = load_stack(options.design)
    measures = Measures(stack)
    findings = find_all(stack, measures, try_steps=True)
    with during("measuring"):
        cutters, plan = options.suggest_cutters, options.plan
        found = check_stack(stack, findings, measures, suggest_cutters=cutters, plan=plan)
    wrong = _at_the_bench(stack, findings, measures)
    if wrong:
        found["bench"] = [
            {"level": each.level, "code": each.code, "piece": each.piece, "other": each.other, "at": list(each.at),
             "text": each.text, "remedy": each.remedy}
            for each in wrong
        ]  # fmt: skip
    status = status_of([*findings, *wrong])
    if options.json:
        return json.dumps(found, indent=1), status
    lines = [f"  {each.level} {each.code}: {each.text}. {each.remedy}." for each in wrong]
    more = (
        ["", "Where the design no longer agrees with wood that is cut, by the ticks of the bench sheet:", *lines]
        if wrong
        else []
    )
    return "\n".join([check_text(stack, found), *more]), status


def _at_the_bench(stack: Stack, findings: Sequence[Finding], measures: Measures) -> list[Finding]:
    """What differs between the design and what is cut, where a tracking file lies beside it."""
    from .sheet.tracking import bench_path  # slow to load

    design = Path(stack.design.file)
    if not bench_path(design).exists() or any(finding.level == "error" for finding in findings):
        return []
    from .sheet.as_built import problems
    from .sheet.plan import plan_of
    from .sheet.standing import bench_beside

    plan = plan_of(stack, findings, measures)
    bench = bench_beside(plan)
    return [] if bench is None else [problem.finding for problem in problems(plan, bench)]


def solids(options: argparse.Namespace) -> tuple[str, int]:
    """Every solid as a file; the result is the path of their table of contents, or two with --batch."""
    if options.batch is not None and options.state is not None:
        remedy = "Leave out one of them: between two batches a panel is as glued, not yet trimmed"
        raise UnusableInput("grainstack solids", "--batch", "--batch and --state do not go together", remedy)
    stack = load_stack(options.design)
    findings = find_all(stack)
    refuse_if_unusable(stack, findings)
    if options.batch is not None:
        before, after = write_batch(stack, options.batch, options.out)
        return f"{before}\n{after}", status_of(findings)
    state = options.state or "raw"
    with during("making the solids"):
        made = sawn_inserts(stack) if state == AS_SAWN else build_solids(stack, cast(State, state))
    refuse_if_open(stack, made)
    contents = write_solids(stack, made, state, options.out)
    print(f"{len(made)} solids written", file=sys.stderr)
    return str(contents), status_of(findings)


def lines(options: argparse.Namespace) -> tuple[str, int]:
    """The cut lines of all batches and the templates, or those of a coupon; the result is their table of contents."""
    # Not at the top: what draws pages is slow to load, and the other commands do without it.
    from .lines.coupon import write_coupon
    from .lines.second_process import second_process
    from .lines.write import Choices, write_lines

    formats = tuple(dict.fromkeys(options.format.split(",")))
    if not set(formats) <= {"svg", "dxf"}:
        raise UnusableInput(
            "grainstack lines", "--format", f'"{options.format}" is no format', "Write svg, dxf or svg,dxf"
        )
    choices = Choices(formats, options.curves, options.paper)
    if options.coupon:
        stack = load_stack(options.design)
        return str(write_coupon(stack.design, options.out, choices, progress=_telling("lines"))), DONE
    with second_process() if options.may_start_processes else nullcontext() as helper:
        stack = load_stack(options.design)
        return str(write_lines(stack, options.out, choices, progress=_telling("lines"), helper=helper)), DONE


def _telling(command: str) -> Callable[[str], None]:
    """Shows each step of a command on stderr."""
    return lambda step: print(f"{command}: {step}", file=sys.stderr, flush=True)


def sheet(options: argparse.Namespace) -> tuple[str, int]:
    """The cut lines, the bench sheet and the buying list; the result is the path of the sheet."""
    from .lines.second_process import second_process
    from .lines.write import Choices, write_lines
    from .sheet.write import SheetChoices, write_sheet  # slow to load, as lines are

    tell = _telling("sheet")
    with second_process() if options.may_start_processes else nullcontext() as helper:
        stack = load_stack(options.design)
        measures = Measures(stack)
        findings = find_all(stack, measures)
        write_lines(stack, options.out, Choices(paper=options.paper), findings=findings, progress=tell, helper=helper)
    choices = SheetChoices(options.paper, options.units, options.picture)
    made = write_sheet(stack, options.out, choices, findings=findings, measures=measures, progress=tell)
    return str(made), DONE


def status_of(findings: Sequence[Finding]) -> int:
    """The exit status of a command that was done."""
    return DONE_WITH_ERRORS if any(finding.level == "error" for finding in findings) else DONE


def _print(output: str) -> None:
    """Print to stdout; a reader that has gone (`check … | head`) is no error."""
    try:
        sys.stdout.write(output + "\n")
        sys.stdout.flush()
    except UnicodeEncodeError:  # a terminal with few characters
        encoding = sys.stdout.encoding or "ascii"
        sys.stdout.write(output.encode(encoding, "replace").decode(encoding) + "\n")
    except BrokenPipeError:
        # Python flushes once more as it ends, and would complain then.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


_SOLIDS = (
    "Every solid as a PLY file. To look at a panel: finished. To compare it with a glued-up one: proud. To measure: "
    "raw. Never cut an insert from a raw, proud or finished solid: these lack what later pockets take. as-sawn gives "
    "whole inserts. For what to cut along, use the command `lines`."
)


def _parser() -> argparse.ArgumentParser:
    parser = Parser(prog="grainstack", usage="grainstack check|solids|lines|sheet DESIGN [options]", allow_abbrev=False)
    commands = parser.add_subparsers(
        required=True, prog="grainstack", metavar="check|solids|lines|sheet", parser_class=Parser
    )
    usage = "grainstack check DESIGN [--json] [--suggest-cutters] [--plan]"
    command = commands.add_parser("check", usage=usage, help="findings and measures", allow_abbrev=False)
    command.add_argument("design", type=Path, metavar="DESIGN", help="the design's file, NAME.panel.json")
    command.add_argument("--json", action="store_true", help="print one JSON object")
    command.add_argument(
        "--suggest-cutters",
        action="store_true",
        help="name the largest cutter of a standard size that will do for each piece",
    )
    command.add_argument("--plan", action="store_true", help="try changes that save thicknesses and glue days")
    command.set_defaults(run=check)
    usage = "grainstack solids DESIGN --out DIR [--state raw|proud|finished|as-sawn | --batch N]"
    command = commands.add_parser(
        "solids", usage=usage, help="every solid as a PLY file", description=_SOLIDS, allow_abbrev=False
    )
    command.add_argument("design", type=Path, metavar="DESIGN", help="the design's file, NAME.panel.json")
    command.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder to write into")
    command.add_argument(
        "--state",
        choices=(*get_args(State), AS_SAWN),
        help="raw: only the wood below the raw face, untrimmed (default); proud: as glued, with the inserts standing "
        "proud; finished: trimmed; as-sawn: each insert whole",
    )
    command.add_argument(
        "--batch",
        type=int,
        metavar="N",
        help="the panel before and after batch N, as glued, in the folders before and after",
    )
    command.set_defaults(run=solids)
    usage = "grainstack lines DESIGN --out DIR [--format svg,dxf] [--curves arcs|splines|polylines] [--coupon]"
    command = commands.add_parser("lines", usage=usage, help="the lines to cut along, as files", allow_abbrev=False)
    command.add_argument("design", type=Path, metavar="DESIGN", help="the design's file, NAME.panel.json")
    command.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder to write into")
    command.add_argument(
        "--format", default="svg,dxf", metavar="svg,dxf", help="file types of the lines (default: both)"
    )
    command.add_argument(
        "--curves",
        choices=("arcs", "splines", "polylines"),
        default="arcs",
        help="how DXF has curves: arcs (default), as true arcs; splines, as smooth curves; polylines, as short "
        "straight lines, then in SVG too",
    )
    command.add_argument("--paper", choices=("a4", "letter"), default="a4", help="paper of the templates (default: a4)")
    command.add_argument("--coupon", action="store_true", help="a test piece from the workshop's values, to DIR/coupon")
    command.set_defaults(run=lines)
    usage = "grainstack sheet DESIGN --out DIR [--paper a4|letter] [--units mm|inch|both]"
    command = commands.add_parser(
        "sheet", usage=usage, help="the bench sheet, the buying list and the cut lines", allow_abbrev=False
    )
    command.add_argument("design", type=Path, metavar="DESIGN", help="the design's file, NAME.panel.json")
    command.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder to write into")
    command.add_argument("--paper", choices=("a4", "letter"), default="a4", help="paper of the sheet (default: a4)")
    command.add_argument(
        "--units", choices=("mm", "inch", "both"), default="both", help="units of lengths (default: both)"
    )
    command.add_argument(
        "--picture", type=Path, metavar="FILE", help="a rendered picture for the cover (default: DIR/NAME-finished.png)"
    )
    command.set_defaults(run=sheet)
    return parser


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], may_start_processes=True))
