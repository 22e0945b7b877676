"""The judge: one design through all that a maker would ask for, and what is wrong with what came out."""

from __future__ import annotations

import math
import sys
import time
import traceback
import warnings
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from core.design_file.reading import design_of
from core.errors import GrainstackError
from core.findings.all_findings import find_all
from core.findings.check import check_stack
from core.measures.all_measures import Measures
from core.solids.panel_solids import Solid, State, build_solids
from core.stack.stack import Stack, build_stack

if sys.platform != "win32":
    import resource

from .meshes import enclosed, faulty_edges

SUM_TOLERANCE = 1e-9
"""How far background, inserts and gap may be from the panel, as a part of it."""
STRAY = 1e-6
"""How far a solid may reach beyond the panel, mm."""
MOST_SECONDS = 10.0
MOST_MEGABYTES = 1500.0
STATM = Path("/proc/self/statm")
KINDS = ("open", "inward", "sum", "outside", "exception", "warning", "unsound", "slow", "memory")
"""All that can be wrong, worst first: an open solid, one turned inside out, volumes that do not add up, wood outside
the panel, an exception or a warning that is none of ours, an `unsound` finding, too slow, too much memory."""


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with what came of a design."""

    kind: str
    words: str
    amount: float = 0.0


@dataclass
class Verdict:
    """What the judge found."""

    faults: list[Fault] = field(default_factory=list)
    refused: str = ""
    """Why the design was refused, in our own words; that is no fault."""
    sum_off: float = 0.0
    """How far the volumes are from the panel, as a part of it."""
    seconds: float = 0.0
    """Processor time, so that a busy machine changes nothing."""
    megabytes: float = 0.0
    """How much this process grew meanwhile."""
    solids: int = 0

    @property
    def kinds(self) -> frozenset[str]:
        """Which kinds of fault there are."""
        return frozenset(fault.kind for fault in self.faults)


def judge(document: dict[str, Any], states: Sequence[State] = ("raw", "proud", "finished")) -> Verdict:
    """Read a design, check it, make its solids in these states, and judge them. Raises nothing."""
    verdict = Verdict()
    start, held, peak = time.process_time(), _held(), _peak()
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        try:
            stack = build_stack(design_of(document, "fuzz.panel.json"))
        except GrainstackError as refused:
            verdict.refused = str(refused)
        except Exception as error:
            verdict.faults.append(_exception(error))
        else:
            _judge_stack(stack, states, verdict)
    verdict.faults += [Fault("warning", f"{each.category.__name__}: {each.message}") for each in said[:1]]
    verdict.seconds, verdict.megabytes = time.process_time() - start, _grown(held, peak)
    if verdict.seconds > MOST_SECONDS:
        verdict.faults.append(Fault("slow", f"{verdict.seconds:.1f} s", verdict.seconds))
    if verdict.megabytes > MOST_MEGABYTES:
        verdict.faults.append(Fault("memory", f"{verdict.megabytes:.0f} MB", verdict.megabytes))
    return verdict


def _judge_stack(stack: Stack, states: Sequence[State], verdict: Verdict) -> None:
    """Findings, volumes and solids. What refuses from here on says that it could not make a sound solid."""
    try:
        measures = Measures(stack)
        findings = find_all(stack, measures)
        verdict.faults += [Fault("unsound", each.text) for each in findings if each.code == "unsound"][:1]
        raw = build_solids(stack, "raw", previous=measures.solids)
        told = check_stack(stack, findings, measures)
        panel, inserts = told["panel"], [each["insert_volume"] or 0.0 for each in told["pieces"]]
        wood = (panel["background_volume"], *inserts)
        verdict.faults += _sum_faults(wood, panel["gap_volume"], panel["volume"], raw, verdict)
        for state in states:
            solids = raw if state == "raw" else build_solids(stack, state, previous=raw)
            verdict.solids += len(solids)
            verdict.faults += solid_faults(solids, state)
            verdict.faults += _outside(stack, solids, state)
    except GrainstackError as refused:
        verdict.faults.append(Fault("unsound", str(refused)))
    except Exception as error:
        verdict.faults.append(_exception(error))


def _exception(error: Exception) -> Fault:
    """An exception that is none of ours, by its last line in core."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "core" in frame.filename] or list(frames)
    where = f"{ours[-1].filename.rsplit('/', 1)[-1]}:{ours[-1].lineno} {ours[-1].name}" if ours else ""
    return Fault("exception", " ".join(f"{type(error).__name__}: {error} ({where})".split())[:300])


def solid_faults(solids: Iterable[Solid], state: str) -> list[Fault]:
    """Solids that are open or turned inside out: the worst of each."""
    bad, inward = [], []
    for solid in solids:
        edges = faulty_edges(solid.triangles)
        if edges or not np.isfinite(solid.vertices).all():
            bad.append(Fault("open", f"{state} {solid.name}: {edges} edges without exactly one opposite", float(edges)))
        volume = enclosed(solid.vertices, solid.triangles)
        if not volume > 0:
            inward.append(Fault("inward", f"{state} {solid.name}: {volume:.3g} mm³", volume))
    return [*sorted(bad, key=lambda f: -f.amount)[:1], *sorted(inward, key=lambda f: f.amount)[:1]]


def _sum_faults(wood: Sequence[float], gap: float, panel: float, raw: Sequence[Solid], verdict: Verdict) -> list[Fault]:
    """Volumes that do not add up: with the wood as it was told, and as the solids enclose it."""
    made = [enclosed(solid.vertices, solid.triangles) for solid in raw]
    off = [abs(math.fsum([*parts, gap, -panel])) / panel for parts in (wood, made)]
    verdict.sum_off = max(off) if all(map(math.isfinite, off)) else math.inf
    if verdict.sum_off <= SUM_TOLERANCE:
        return []
    return [Fault("sum", f"off by {verdict.sum_off:.2e} of the panel", verdict.sum_off)]


def _outside(stack: Stack, solids: Sequence[Solid], state: str) -> list[Fault]:
    """Wood that reaches beyond the panel, or above its face once that is trimmed."""
    panel = stack.design.panel
    left, right, bottom, top = panel.edge_trim if state == "finished" else (0.0, 0.0, 0.0, 0.0)
    face = {"raw": 0.0, "proud": math.inf, "finished": -panel.face_trim}[state]
    low = np.array([left, bottom, -panel.thickness]) - STRAY
    high = np.array([panel.width - right, panel.height - top, face]) + STRAY
    out = [s.name for s in solids if (s.vertices < low).any() or (s.vertices > high).any()]
    return [Fault("outside", f"{state} {out[0]} reaches beyond the panel")] if out else []


def _grown(held: float, peak: float) -> float:
    """How much the process grew, MB, since it held so much and had this peak; 0 where a system does not tell.

    Where its peak has not risen since, that is what it holds more now: a design is not blamed for what was held before.
    """
    most = _peak()
    return max((most if most > peak else _held()) - held, 0.0)


def _held() -> float:
    if not STATM.is_file():
        return _peak()
    return int(STATM.read_text(encoding="ascii").split()[1]) * resource.getpagesize() / 2**20


def _peak() -> float:
    if sys.platform == "win32":  # where this is not told
        return 0.0
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (2**20 if sys.platform == "darwin" else 2**10)
