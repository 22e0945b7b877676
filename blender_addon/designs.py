"""The designs that scenes show: read from their file, checked, and their solids kept for the next view.

Nothing here knows Blender's data. A scene stores the fingerprint of the design that it shows; where memory has lost
it (after undo, in a .blend opened later) the scene's own data say it again.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

from ..core.boards.figure import Lay, lays, photo_boards
from ..core.boards.place_on_photo import PhotoBoard
from ..core.design import Design, Point
from ..core.errors import UnusableInput
from ..core.findings.all_findings import Finding, find_all, refuse_if_unusable
from ..core.solids.panel_solids import Solid, State, build_solids
from ..core.stack.loading import load_stack
from ..core.stack.stack import Stack, build_stack
from ..core.views.detail import CloseUp, close_up
from ..core.views.exploded import Thread, exploded_lifts, threads
from ..core.views.overlap_map import OverlapRegion, overlap_regions
from ..core.views.section import SectionCut, section_cut

SOFT_EDGE = 0.2
"""Millimetres: the softened top edges of displayed solids, so that pieces catch light."""

SUFFIX = ".panel.json"


Line = tuple[Point, Point]


class Made(NamedTuple):
    """Solids, and the clip that they were made with."""

    clip: object
    """A polygon of `core.views.section`, or None."""
    solids: tuple[Solid, ...]


@dataclass(frozen=True)
class OpenDesign:
    """A design ready to be shown: sound enough to have solids."""

    path: Path
    stack: Stack
    content: str = ""
    """What it is known by where it was read from a scene."""
    whole: OpenDesign | None = None
    """The design that it is a step of: its findings and lifts are those of the whole."""
    _solids: dict[tuple[State, bool], Made] = field(default_factory=dict, compare=False)
    _before: dict[tuple[State, bool], tuple[Solid, ...]] = field(default_factory=dict, compare=False)
    """Solids of an earlier state of the design, for those that did not change to be taken over."""
    _steps: dict[int, OpenDesign] = field(default_factory=dict, compare=False)
    _cuts: dict[Line, SectionCut] = field(default_factory=dict, compare=False)

    @property
    def name(self) -> str:
        """What its pictures are called: the file's name without its ending."""
        return self.path.name.removesuffix(SUFFIX)

    @property
    def title(self) -> str:
        """What the maker calls it."""
        return self.stack.design.title or self.name

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What is wrong with it."""
        return self.whole.findings if self.whole else find_all(self.stack)

    @cached_property
    def regions(self) -> tuple[OverlapRegion, ...]:
        """Where pockets lie over each other."""
        return tuple(overlap_regions(self.stack))

    @cached_property
    def cut(self) -> SectionCut:
        """Where the section view cuts the panel open."""
        return section_cut(self.stack)

    @cached_property
    def close_up(self) -> CloseUp:
        """The place that the detail looks at."""
        return close_up(self.stack)

    @cached_property
    def lifts(self) -> tuple[float, ...]:
        """How high the exploded view lifts each piece, mm."""
        if self.whole is None:
            return exploded_lifts(self.stack)
        by_id = {placed.piece.id: lift for placed, lift in zip(self.whole.stack.pieces, self.whole.lifts, strict=True)}
        return tuple(by_id[placed.piece.id] for placed in self.stack.pieces)

    @cached_property
    def threads(self) -> tuple[Thread, ...]:
        """The ways of the lifted inserts."""
        return threads(self.stack, self.lifts)

    @cached_property
    def lays(self) -> dict[str, Lay]:
        """How each solid lies in its wood, by its name: the same however the solid is cut."""
        return lays(self.stack)

    @cached_property
    def boards(self) -> dict[str, PhotoBoard]:
        """The photos of its own boards that can be used, by the folded name of their wood."""
        return photo_boards(self.stack.design)[0]

    def cut_along(self, line: Line) -> SectionCut:
        """The panel cut open along a line; the last one is kept."""
        if line not in self._cuts:
            self._cuts.clear()
            self._cuts[line] = section_cut(self.stack, line)
        return self._cuts[line]

    def solids(self, state: State, *, cut: SectionCut | None = None, draft: bool = False) -> tuple[Solid, ...]:
        """The solids in a state, with softened top edges; `cut`: opened along it.

        draft: what changed has sharp edges yet, which is quicker.
        """
        key, clip = (state, cut is not None), cut and cut.keep
        made = self._solids.get(key)
        if made is not None and made.clip == clip:
            return made.solids
        before = self._before.get(key, ()) + (made.solids if made else ())
        if cut is not None:
            before += self._kept((state, False))
        fresh = tuple(build_solids(self.stack, state, clip=clip, soften=SOFT_EDGE, previous=before, draft=draft))
        if draft:
            self._before[key] = fresh
        else:
            self._solids[key] = Made(clip, fresh)
            self._before.pop(key, None)
        return fresh

    def _kept(self, key: tuple[State, bool]) -> tuple[Solid, ...]:
        """The newest solids there are, of this state of the design or an earlier one."""
        made = self._solids.get(key)
        return made.solids if made else self._before.get(key, ())

    def after_batch(self, batch: int) -> OpenDesign:
        """The panel as it stands after a batch: only the pieces cut and glued until then; 0 is the bare background.

        Raises:
            UnusableInput: the design has no such batch.
        """
        count = len(self.stack.batches)
        if not 0 <= batch <= count:
            raise UnusableInput(
                str(self.path), "batches", f"there is no batch {batch}", f"Give a batch from 0 to {count}"
            )
        if batch not in self._steps:
            pieces = tuple(placed.piece for placed in self.stack.pieces if placed.batch <= batch)
            stack = build_stack(replace(self.stack.design, pieces=pieces), self.stack)
            before = {key: self._kept(key) for key in {*self._solids, *self._before}}
            content = f"{self.fingerprint} after {batch}"
            self._steps[batch] = OpenDesign(self.path, stack, content, whole=self, _before=before)
        return self._steps[batch]

    @cached_property
    def fingerprint(self) -> str:
        """A fingerprint: equal for equal designs, wherever their files lie."""
        if self.content:
            return self.content
        digest = hashlib.sha256(repr(replace(self.stack.design, folder=Path(), file="")).encode())
        for placed in self.stack.pieces:
            digest.update(placed.outline.wkb)
        return digest.hexdigest()


MOST_KNOWN = 8
"""Designs kept in memory: what undo and redo step between, and other scenes."""

_known: dict[str, OpenDesign] = {}


def read(path: Path) -> OpenDesign:
    """Read and check a design file.

    Raises:
        UnusableInput: the file cannot be used, or has pieces that cannot be made.
    """
    opened = OpenDesign(path, load_stack(path))
    refuse_if_unusable(opened.stack, opened.findings)
    return remember(opened)


def build(design: Design, path: Path, content: str, previous: OpenDesign | None) -> OpenDesign:
    """The design as a scene says it; what has not changed since `previous` is taken over from there.

    Pieces that cannot be made have no solid; the findings tell of them.

    Raises:
        UnusableInput: artwork cannot be read, or the order asked for makes a ring.
    """
    if previous is None:
        return remember(OpenDesign(path, build_stack(design), content))
    before = {key: previous._kept(key) for key in {*previous._solids, *previous._before}}
    return remember(OpenDesign(path, build_stack(design, previous.stack), content, _before=before))


def remember(opened: OpenDesign) -> OpenDesign:
    """Keep it for `known`."""
    _known.pop(opened.fingerprint, None)
    _known[opened.fingerprint] = opened
    for oldest in list(_known)[:-MOST_KNOWN]:
        del _known[oldest]
    return opened


def known(fingerprint: str) -> OpenDesign | None:
    """The design that was read or built before."""
    return _known.get(fingerprint)


def forget_all() -> None:
    """Free what is kept."""
    _known.clear()
