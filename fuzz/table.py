"""The table that a run prints: what became of each family's designs."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from .judge import KINDS, Verdict

HEADINGS = ("family", "designs", "failed", *KINDS, "refused", "worst sum", "slowest", "memory")


@dataclass
class Row:
    """One family's numbers."""

    designs: int = 0
    failed: int = 0
    refused: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    worst: float = 0.0
    slowest: float = 0.0
    megabytes: float = 0.0

    def add(self, verdict: Verdict) -> None:
        """Count one more design."""
        self.designs += 1
        self.failed += bool(verdict.faults)
        self.refused += bool(verdict.refused)
        self.kinds.update(verdict.kinds)
        self._most(verdict.sum_off, verdict.seconds, verdict.megabytes)

    def join(self, other: Row) -> None:
        """Add another family's numbers."""
        self.designs += other.designs
        self.failed += other.failed
        self.refused += other.refused
        self.kinds.update(other.kinds)
        self._most(other.worst, other.slowest, other.megabytes)

    def _most(self, worst: float, slowest: float, megabytes: float) -> None:
        self.worst, self.slowest = max(self.worst, worst), max(self.slowest, slowest)
        self.megabytes = max(self.megabytes, megabytes)


def text(rows: dict[str, Row], markdown: bool = False) -> str:
    """The table, one line a family and one for all; in Markdown for docs/reliability.md."""
    total = Row()
    for row in rows.values():
        total.join(row)
    lines = [HEADINGS, *(_cells(name, row) for name, row in rows.items()), _cells("all", total)]
    if markdown:
        marked = ["| " + " | ".join(line) + " |" for line in lines]
        return "\n".join([marked[0], "|---" + "|--:" * (len(HEADINGS) - 1) + "|", *marked[1:]])
    widths = [max(len(line[i]) for line in lines) for i in range(len(HEADINGS))]
    sides = "<" + ">" * (len(HEADINGS) - 1)
    return "\n".join(
        "  ".join(f"{cell:{side}{width}}" for cell, side, width in zip(line, sides, widths, strict=True)).rstrip()
        for line in lines
    )


def _cells(name: str, row: Row) -> tuple[str, ...]:
    return (
        name,
        str(row.designs),
        str(row.failed),
        *(str(row.kinds[kind]) for kind in KINDS),
        str(row.refused),
        f"{row.worst:.1e}",
        f"{row.slowest:.1f} s",
        f"{row.megabytes:.0f} MB",
    )
