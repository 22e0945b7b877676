"""The results as a table: every claim is a ratio of two medians of the same run."""

from __future__ import annotations

import importlib.metadata
import math
import os
import platform
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from .measure import (
    MOVED_SOLIDS,
    MOVED_STACK,
    ROUNDING,
    SOLIDS,
    SOLIDS_LARGE,
    STACK,
    STACK_LARGE,
    VOLUME_TOLERANCE,
    Results,
)

LIBRARIES = ("numpy", "shapely", "mapbox_earcut", "manifold3d", "bpy")
LATER_OVERLAPS = (2.5, 3.5)
MEMORY = 1000.0
"""Megabytes at most."""
WOOD = 1.3
"""Times the processor time of plain colours, at most."""


@dataclass(frozen=True)
class Claim:
    """A number, what it must be, and what it should be."""

    words: str
    value: float | None
    """None where it could not be measured."""
    sense: Literal["at least", "at most"]
    bound: float
    aim: float | None = None
    unit: str = "×"
    digits: int = 1

    def _reaches(self, bound: float) -> bool:
        if self.value is None:
            return False
        return self.value >= bound if self.sense == "at least" else self.value <= bound

    @property
    def holds(self) -> bool:
        """Whether it keeps its bound."""
        return self._reaches(self.bound)

    @property
    def verdict(self) -> str:
        """PASS, or how it falls short."""
        if self.value is None:
            return "NOT MEASURED"
        if not self.holds:
            return "FAIL"
        return "PASS" if self.aim is None or self._reaches(self.aim) else "PASS, short of the aim"


def claims(results: Results) -> list[Claim]:
    """What was asked for, with what was measured."""
    took = results.seconds
    blender = next((name for name in results.differences if name.startswith("Blender")), None)
    small, large = results.small, results.large
    both = took[STACK] + took[SOLIDS]
    both_moved = took[MOVED_STACK] + took[MOVED_SOLIDS]
    return [
        Claim(f"{small} pieces: faster than manifold3d", took["manifold3d"] / took[SOLIDS], "at least", 20),
        Claim(
            f"{small} pieces: faster than {blender or 'Blender'}, its fastest solver that is right",
            took[blender] / took[SOLIDS] if blender else None,
            "at least",
            5,
            10,
        ),
        Claim(f"{large} pieces: time of {small} pieces", took[SOLIDS_LARGE] / took[SOLIDS], "at most", 16, 12),
        Claim(
            f"one of {small} moved: solids faster than from scratch",
            took[SOLIDS] / took[MOVED_SOLIDS],
            "at least",
            4,
            8,
        ),
        Claim(f"one of {small} moved: stack and solids faster", both / both_moved, "at least", 4, 8),
        Claim(f"{large} pieces: peak memory", results.memory, "at most", MEMORY, unit="MB"),
        *_wood_claims(results),
    ]


def _wood_claims(results: Results) -> list[Claim]:
    """Every view keeps to the same bound."""
    if not results.wood:
        return [Claim("the pond in wood: time of plain colours", None, "at most", WOOD, digits=2)]
    return [
        Claim(f"the pond in wood, {view}: time of plain colours", ratio, "at most", WOOD, digits=2)
        for view, ratio in results.wood.items()
    ]


def timings(results: Results) -> Iterator[tuple[str, float]]:
    """What was timed, and its median in milliseconds."""
    words = {
        SOLIDS: f"{results.small} pieces: solids from their stack",
        STACK: f"{results.small} pieces: stack, outlines rounded before",
        ROUNDING: f"{results.small} pieces: rounding, done once for each outline",
        MOVED_SOLIDS: f"one of {results.small} moved: solids",
        MOVED_STACK: f"one of {results.small} moved: stack",
        SOLIDS_LARGE: f"{results.large} pieces: solids from their stack",
        STACK_LARGE: f"{results.large} pieces: stack, outlines rounded before",
    }
    for name, value in results.seconds.items():
        yield words.get(name, f"{results.small} pieces: {name}, booleans alone"), 1000 * value


def scene_lines(results: Results) -> Iterator[str]:
    """What the scene is, as measured, and whether all agree on the volumes."""
    yield (
        f"Scene: {results.vertices:.0f} vertices per piece after rounding, {results.later:.2f} later overlaps per "
        f"piece, strips of 60 mm, clearance 0.1 mm, depths 4 to 7 mm; medians of {results.rounds}."
    )
    for name, difference in results.differences.items():
        yield (
            f"Volumes: {name} and Grainstack differ by at most {difference:.1e} (allowed: {VOLUME_TOLERANCE:.0e}), "
            "relative to the solid, or to 1 cm³ where it is smaller."
        )
    for trial in results.trials:
        if math.isinf(trial.seconds):
            yield f"Blender's solver {trial.solver}: given up as too slow, or failed."
        elif not trial.right:
            yield f"Blender's solver {trial.solver}: wrong, volumes differ by up to {trial.difference:.1e}."
    for name, taken in results.prisms.items():
        yield f"Not counted: {name} took {1000 * taken:.0f} ms more to build the prisms that it cuts."


def sound(results: Results) -> bool:
    """Whether the scene is the one promised and all peers agree on the volumes: else the ratios mean nothing."""
    low, high = LATER_OVERLAPS
    agree = all(difference <= VOLUME_TOLERANCE for difference in results.differences.values())
    return agree and low <= results.later <= high


def machine() -> str:
    """The processor, the cores and the versions that the numbers belong to."""
    versions = []
    for library in LIBRARIES:
        try:
            versions.append(f"{library} {importlib.metadata.version(library)}")
        except importlib.metadata.PackageNotFoundError:
            continue
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    system = f"{platform.system()} {platform.machine()}"
    python = f"Python {platform.python_version()}"
    return f"Machine: {_processor()}, {os.cpu_count()} cores{load}, {system}; {', '.join([python, *versions])}."


def _processor() -> str:
    """The processor's model as the system names it."""
    known = Path("/proc/cpuinfo")
    for line in known.read_text(encoding="utf-8").splitlines() if known.is_file() else []:
        if line.startswith("model name"):
            return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()


def _number(claim: Claim) -> str:
    if claim.value is None:
        return "-"
    return f"{claim.value:.{claim.digits}f} {claim.unit}" if claim.unit == "×" else f"{claim.value:.0f} {claim.unit}"


def _asked(claim: Claim) -> str:
    aim = f" (aim {claim.aim:g})" if claim.aim else ""
    return f"{claim.sense} {claim.bound:g}{aim}"


def rows(results: Results) -> list[tuple[str, str, str, str]]:
    """The claims as words: what, measured, asked, verdict."""
    return [(claim.words, _number(claim), _asked(claim), claim.verdict) for claim in claims(results)]


def text(results: Results) -> str:
    """The table for a terminal."""
    body = rows(results)
    widths = [max(len(row[column]) for row in body) for column in range(4)]
    lines = [
        "  ".join(
            [row[0].ljust(widths[0]), row[1].rjust(widths[1]), row[2].ljust(widths[2]), row[3]],
        )
        for row in body
    ]
    lines += ["", *(f"{value:10.1f} ms  {words}" for words, value in timings(results)), ""]
    return "\n".join([*lines, *scene_lines(results), machine()])


def markdown(results: Results) -> str:
    """The table for DEVELOPERS.md."""
    lines = ["| | measured | asked | |", "|---|---:|---|---|"]
    lines += [f"| {' | '.join(row)} |" for row in rows(results)]
    lines += ["", "| timed | median |", "|---|---:|"]
    lines += [f"| {words} | {value:.1f} ms |" for words, value in timings(results)]
    return "\n".join([*lines, "", *(f"{line}  " for line in scene_lines(results)), machine()])
