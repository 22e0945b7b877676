"""Work that is done for the panel as a whole: the background, pins, levelling between batches, trim and frame."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..findings.finding import xy
from .glue_up import numbers_text
from .lengths import mm_text
from .plan import Plan


@dataclass(frozen=True)
class Shared:
    """One job."""

    key: str
    words: str
    content: str
    """Tells what it is done as: other sizes, other digits."""
    after: tuple[str, ...]
    """Keys of the jobs before it."""
    glued: tuple[int, ...]
    """Numbers of the pieces that must be glued in before it."""

    @property
    def is_raw(self) -> bool:
        """Whether it makes the raw panel: it is past once anything else is done."""
        return self.key == "flat" or self.key.startswith("stage-")


def shared_work(plan: Plan) -> tuple[Shared, ...]:
    """All of it, in the order of work."""
    made: list[Shared] = []
    for key, words, says, glued in _jobs(plan):
        text = json.dumps([key, words, says], sort_keys=True)
        content = hashlib.sha256(text.encode()).hexdigest()[:16]
        before = () if key.startswith("level-") else tuple(job.key for job in made if not job.key.startswith("level-"))
        made.append(Shared(key, words, content, before[-1:], tuple(glued)))
    return tuple(made)


def _jobs(plan: Plan) -> Iterator[tuple[str, str, object, Iterable[int]]]:
    panel, glued = plan.stack.design.panel, plan.glue_up
    strips = [(strip.width, [(s.wood, s.length) for s in strip.segments]) for strip in glued.strips] or panel.wood
    for n, stage in enumerate(glued.stages, 1):
        yield f"stage-{n}", f"Background: {stage.what}", strips, ()
    size = [panel.width, panel.height, panel.thickness]
    yield "flat", f"Flatten both faces to {mm_text(panel.thickness)} and cut the panel square", size, ()
    if plan.zero.pins:
        places = " and ".join(map(xy, plan.zero.pins))
        yield "pins", f"Drill the two pin holes at {places}", [list(pin) for pin in plan.zero.pins], ()
    for batch in plan.batches:
        if batch.level_first:
            words = f"Before batch {batch.number}: level {numbers_text(batch.level_first)} with the raw face"
            yield f"level-{batch.number}", words, None, batch.level_first
    every = [piece.number for piece in plan.pieces]
    yield "face", f"Level the last inserts, then take {mm_text(panel.face_trim)} off the face", panel.face_trim, every
    yield "edges", "Trim the edges", list(panel.edge_trim), every
    for part in plan.frame:
        yield f"frame-{part.name}", f"Frame: cut the {part.name} side", [part.wood, part.long_edge, part.width], ()
