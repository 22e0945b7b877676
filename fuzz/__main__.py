"""`python -m fuzz`: thousands of random designs through the judge, a table by family, each kind of failure made small.

Exit status: 0 nothing failed; 1 something failed, and lies in the folder that is named; 2 unusable usage.
"""

from __future__ import annotations

import argparse
import itertools
import json
import signal
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic
from typing import NoReturn

from .families import FAMILIES, Document, design
from .judge import KINDS, Verdict
from .shrink import shrink
from .table import Row, text
from .workers import Worker, judge_all

PROCESSES = 2
KEPT = 2
"""Failures of one kind in one family that are made small; all are counted and listed."""
SHRINK_SECONDS = 30.0
Label = tuple[str, int]


class Parser(argparse.ArgumentParser):
    """A parser whose complaints are one line."""

    def error(self, message: str) -> NoReturn:
        """End the command with that one line."""
        self.exit(2, f"{self.prog}: {message}\n")


@dataclass
class Failure:
    """A design that failed, with its worst kind of fault."""

    family: str
    number: int
    kind: str
    words: str
    document: Document

    @property
    def name(self) -> str:
        """What its file is called."""
        return f"{self.family}-{self.number}-{self.kind}"

    def write(self, folder: Path) -> Path:
        """Write the design as it stands."""
        folder.mkdir(parents=True, exist_ok=True)
        file = folder / f"{self.name}.panel.json"
        file.write_text(json.dumps(self.document, indent=1) + "\n", encoding="utf-8")
        return file


@dataclass
class Results:
    """All that a run has found so far."""

    rows: dict[str, Row]
    failures: list[Failure] = field(default_factory=list)
    slow: list[tuple[Label, Document, Verdict]] = field(default_factory=list)
    """Designs that were too slow beside others, and are to be judged once more alone."""
    done: int = 0

    def add(self, label: Label, document: Document, verdict: Verdict) -> None:
        """Count one verdict, unless it says no more than that the design was slow: that is counted later."""
        self.done += 1
        if verdict.kinds == {"slow"}:
            self.slow.append((label, document, verdict))
        else:
            self.count(label, document, verdict)

    def count(self, label: Label, document: Document, verdict: Verdict) -> None:
        """Count a verdict that stands."""
        self.rows[label[0]].add(verdict)
        if verdict.faults:
            worst = min(verdict.faults, key=lambda fault: KINDS.index(fault.kind))
            self.failures.append(Failure(*label, worst.kind, worst.words, document))


def main(arguments: Sequence[str]) -> int:
    """Run the fuzzer and return the exit status."""
    options = _parser().parse_args(arguments)
    families = options.family or list(FAMILIES)
    results = Results({family: Row() for family in families})
    workers: list[Worker] = []
    try:
        workers += [Worker() for _ in range(PROCESSES)]
        print("Ctrl C ends it, and shows what was done so far", file=sys.stderr, flush=True)
        whole = _run(workers, families, options, results)
        print(text({name: row for name, row in results.rows.items() if row.designs}, options.markdown))
        if results.failures:
            _report(results.failures, options.out, workers[0] if whole and not options.no_shrink else None)
    except KeyboardInterrupt:  # before the first design, or while the last words are written
        return 130
    finally:
        for worker in workers:
            worker.stop()
    return 1 if results.failures else 0


def _parser() -> Parser:
    parser = Parser(prog="build.py fuzz", description=__doc__)
    parser.add_argument("--minutes", type=float, help="stop after this long (1 unless --count is given)")
    parser.add_argument("--count", type=int, help="stop after this many designs of each family")
    parser.add_argument("--family", action="append", choices=list(FAMILIES), help="this family only; may be repeated")
    parser.add_argument("--seed", type=int, default=0, help="the first design's number in each family (0)")
    parser.add_argument("--out", type=Path, default=Path("out/fuzz"), help="where failures are written (out/fuzz)")
    parser.add_argument("--no-shrink", action="store_true", help="write failures as they are")
    parser.add_argument("--markdown", action="store_true", help="print the table for docs/reliability.md")
    return parser


def _run(workers: list[Worker], families: list[str], options: argparse.Namespace, results: Results) -> bool:
    """Judge designs until count, time or the maker says stop; whether it was not the maker."""
    minutes = options.minutes or (None if options.count else 1.0)
    until = None if minutes is None else monotonic() + 60 * minutes
    with _Progress(results, until, None if options.count is None else options.count * len(families)) as progress:
        try:
            designs = _designs(families, options.seed, options.count, until)
            for label, document, verdict in judge_all(workers, designs):
                results.add(label, document, verdict)
                progress.show()
            _judge_slow_ones_again(results)
        except KeyboardInterrupt:
            print("\nstopped: what was done so far", file=sys.stderr)
            return False
        finally:
            for label, document, verdict in results.slow:
                results.count(label, document, verdict)
    return True


def _judge_slow_ones_again(results: Results) -> None:
    """Judge each slow design in a process of its own while nothing else runs: what is beside it took time, too."""
    if results.slow:
        print(f"{len(results.slow)} slow designs are judged once more, each alone", file=sys.stderr, flush=True)
    while results.slow:
        label, document, _ = results.slow[-1]
        worker = Worker()
        try:
            results.count(label, document, worker.judge(document))
        finally:
            worker.stop()
        results.slow.pop()


def _designs(
    families: list[str], first: int, count: int | None, until: float | None
) -> Iterator[tuple[Label, Document]]:
    """One design of each family after the other."""
    for number in itertools.count(first) if count is None else range(first, first + count):
        for family in families:
            if until is not None and monotonic() > until:
                return
            yield (family, number), design(family, number)


class _Progress:
    """One line on stderr that is written over."""

    def __init__(self, results: Results, until: float | None, most: int | None) -> None:
        self.results, self.until, self.most = results, until, most
        self.began = self.shown = monotonic()

    def __enter__(self) -> _Progress:
        return self

    def __exit__(self, *_: object) -> None:
        self.show(always=True)
        print(file=sys.stderr)

    def show(self, always: bool = False) -> None:
        """How far it is, now and then."""
        now = monotonic()
        terminal = sys.stderr.isatty()
        if not always and now - self.shown < (0.5 if terminal else 30):
            return
        self.shown = now
        of = f" of {self.most}" if self.most else ""
        left = f", {max(0.0, self.until - now):.0f} s left" if self.until else ""
        bad = f"{len(self.results.failures)} failed, {len(self.results.slow)} slow"
        words = f"{self.results.done}{of} designs, {bad}, {now - self.began:.0f} s{left}"
        print(f"\r{words:60}" if terminal else words, end="" if terminal else "\n", file=sys.stderr, flush=True)


def _report(failures: list[Failure], folder: Path, worker: Worker | None) -> None:
    """List all failures, write a few of each kind, and make them small if there is a worker for it."""
    folder.mkdir(parents=True, exist_ok=True)
    listed = "".join(f"{each.family}\t{each.number}\t{each.kind}\t{each.words}\n" for each in failures)
    (folder / "failures.tsv").write_text(listed, encoding="utf-8")
    written: Counter[tuple[str, str]] = Counter()
    chosen = []
    for failure in sorted(failures, key=lambda each: len(json.dumps(each.document))):
        written[failure.family, failure.kind] += 1
        if written[failure.family, failure.kind] <= KEPT:
            failure.write(folder)
            chosen.append(failure)
    print(f"{len(failures)} failures: {folder / 'failures.tsv'}, {len(chosen)} designs beside it", file=sys.stderr)
    if worker is None:
        return
    try:
        for i, failure in enumerate(chosen, 1):
            failure.document = shrink(failure.document, _failing(worker, failure.kind), SHRINK_SECONDS)
            file = failure.write(folder)
            print(f"{i} of {len(chosen)} made small: {file}", file=sys.stderr, flush=True)
    except KeyboardInterrupt:
        print("stopped: the rest stays as it was", file=sys.stderr)


def _failing(worker: Worker, kind: str):  # type: ignore[no-untyped-def]
    def fails(document: Document) -> bool:
        return kind in worker.judge(document).kinds

    return fails


if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)
    sys.exit(main(sys.argv[1:]))
