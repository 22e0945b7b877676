"""How far along the work is, as the sidebar shows it: read from the tracking file beside the design.

It is kept here and in that file alone, never in Blender's data: undo and redo cannot untick what is cut, and the
design's bytes stay as they are. The panel draws what is kept; only operators read, work out and write.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

import bpy

from ...core.errors import UnusableInput
from ...core.sheet.as_built import Problem, problems
from ...core.sheet.plan import PieceWork, Plan, plan_of
from ...core.sheet.progress import Progress, progress
from ...core.sheet.shared_work import Shared, shared_work
from ...core.sheet.tracking import Bench, bench_path, compared, done_now, read_bench, write_bench
from ..scene import conversion
from ..views import views


@dataclass(frozen=True, eq=False)
class Work:
    """The work on one design, as far as it is."""

    fingerprint: str
    """Fingerprint of the design that it was worked out for."""
    path: Path
    """The tracking file, which may not be there yet."""
    plan: Plan
    bench: Bench
    along: Progress
    done: dict[str, tuple[str, ...]]
    """The steps that hold, by piece."""
    shared: tuple[tuple[Shared, bool], ...]
    """Each job, and whether it is done."""
    problems: tuple[Problem, ...]


class Kept:
    """What the sidebar shows."""

    work: ClassVar[Work | None] = None
    batch: ClassVar[int] = 1
    """The batch whose pieces are listed."""


def of(scene: bpy.types.Scene) -> Work | None:
    """The work of the scene's design as it is now; None where it was not looked at since it changed. Reads no file."""
    work = Kept.work
    return work if work is not None and work.fingerprint == scene.grainstack.fingerprint else None


def piece_of(work: Work, name: str) -> PieceWork:
    """A piece of the plan.

    Raises:
        UnusableInput: there is none of that name.
    """
    found = next((piece for piece in work.plan.pieces if piece.id == name), None)
    if found is None:
        raise UnusableInput("", f'piece "{name}"', "the design has no such piece", "Press Show Progress")
    return found


def look(scene: bpy.types.Scene) -> Work:
    """Read the tracking file and work out how far along the panel is.

    Raises:
        UnusableInput: the design has no file yet, or the tracking file is damaged or of another design; it stays as
            it is.
    """
    path = _path(scene)
    opened = views.design_of(scene)
    known = Kept.work
    if known is not None and known.fingerprint == opened.content and known.path == path:
        plan = known.plan
    else:
        plan = plan_of(opened.stack, opened.findings)
    bench = read_bench(path) if path.exists() else Bench(plan.name, {})
    if bench.design != plan.name:
        problem = f'it tracks another design, "{bench.design}", not "{plan.name}"'
        raise UnusableInput(str(path), "design", problem, "Move this file elsewhere to start without ticks")
    return _keep(scene, opened.content, path, plan, bench)


def write(scene: bpy.types.Scene, work: Work, bench: Bench) -> Work:
    """Write the tracking file, and show what it says now.

    Raises:
        UnusableInput: what lies there is damaged or of another design, or the file cannot be written.
    """
    write_bench(work.path, bench)
    return _keep(scene, work.fingerprint, work.path, work.plan, bench)


def _keep(scene: bpy.types.Scene, fingerprint: str, path: Path, plan: Plan, bench: Bench) -> Work:
    try:
        held = compared(bench, plan, beside=True)
    except UnusableInput as refused:
        remedy = "Move this file elsewhere to start without ticks"
        raise UnusableInput(str(path), refused.place, refused.problem, remedy) from None
    jobs = tuple((job, job.key in held.shared) for job in shared_work(plan))
    along, wrong = progress(plan, bench), problems(plan, bench)
    Kept.work = Work(fingerprint, path, plan, bench, along, done_now(bench, plan), jobs, wrong)
    Kept.batch = min(max(Kept.batch, 1), max(len(plan.batches), 1))
    return Kept.work


def _path(scene: bpy.types.Scene) -> Path:
    path = conversion.path_of(scene)
    if not scene.grainstack.design_path or not path.is_absolute():
        problem = "ticks are kept beside the design's file, and there is none yet"
        raise UnusableInput("", "Ticks", problem, "Save the design first")
    return bench_path(path)


def forget() -> None:
    """Know nothing of any work."""
    Kept.work, Kept.batch = None, 1
