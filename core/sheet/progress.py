"""How far along the work is, and what can be done next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .contents import STEPS
from .glue_up import numbers_text
from .plan import PieceWork, Plan
from .shared_work import Shared, shared_work
from .tracking import Bench, compared, done_now

NEXT = {"pocket": "pockets to cut", "insert": "inserts to cut", "fit": "dry fits", "glued": "to glue"}


@dataclass(frozen=True)
class Progress:
    """How far along it is."""

    steps_done: int
    steps: int
    """All steps of all pieces, and one for each job of the shared work."""
    glued: int
    pieces: int
    next_shared: tuple[Shared, ...]
    next_steps: Mapping[str, tuple[int, ...]]
    """For each step the numbers of the pieces."""

    @property
    def words(self) -> str:
        """How far."""
        return f"{self.steps_done} of {self.steps} steps done, {self.glued} of {self.pieces} pieces glued in"

    @property
    def next_words(self) -> str:
        """What can be done next."""
        jobs = [job.words for job in self.next_shared]
        steps = [f"{NEXT[step]} {numbers_text(numbers)}" for step, numbers in self.next_steps.items() if numbers]
        return "; ".join((*jobs, *steps)) or "nothing: the panel is done"


def progress(plan: Plan, bench: Bench) -> Progress:
    """How far along a panel is.

    Raises:
        UnusableInput: the tracking file belongs to another design.
    """
    held = compared(bench, plan, beside=True)
    done = done_now(bench, plan)
    shared = next_shared(plan, held.shared, done)
    jobs = shared_work(plan)
    return Progress(
        steps_done=sum(map(len, done.values())) + len(held.shared),
        steps=len(STEPS) * len(plan.pieces) + len(jobs),
        glued=sum("glued" in steps for steps in done.values()),
        pieces=len(plan.pieces),
        next_shared=shared,
        next_steps=next_steps(plan, done, raw_is_ready=bool(done) or "flat" in held.shared),
    )


def next_shared(plan: Plan, done: tuple[str, ...], steps: Mapping[str, tuple[str, ...]]) -> tuple[Shared, ...]:
    """Shared work that can be done next: what was before it is done, and what must be in is glued in."""
    glued = {piece.number for piece in plan.pieces if "glued" in steps.get(piece.id, ())}
    raw = {job.key for job in shared_work(plan) if job.is_raw} if steps or "flat" in done else set()
    past = raw | set(done)

    def ready(job: Shared) -> bool:
        return job.key not in past and set(job.after) <= past and set(job.glued) <= glued

    jobs = [job for job in shared_work(plan) if ready(job)]
    later = {batch.number for batch in plan.batches if {piece.number for piece in batch.pieces} <= glued}
    return tuple(job for job in jobs if not (job.key.startswith("level-") and int(job.key[6:]) in later))


def next_steps(
    plan: Plan, done: Mapping[str, tuple[str, ...]], *, raw_is_ready: bool = True
) -> dict[str, tuple[int, ...]]:
    """For each step the numbers of the pieces with which it can be done next.

    A pocket is cut when the raw panel is ready and all that it waits for is glued in; an insert may be sawn at any
    time; a piece is fitted dry when both are cut, and glued when it fits.
    """
    glued = {piece.number for piece in plan.pieces if "glued" in done.get(piece.id, ())}

    def ready(piece: PieceWork, step: str) -> bool:
        steps = done.get(piece.id, ())
        if step in steps or "glued" in steps:
            return False
        before = {"pocket": (), "insert": (), "fit": ("pocket", "insert"), "glued": ("fit",)}[step]
        return set(before) <= set(steps) and (step != "pocket" or (raw_is_ready and set(piece.waits_for) <= glued))

    return {step: tuple(piece.number for piece in plan.pieces if ready(piece, step)) for step in STEPS}
