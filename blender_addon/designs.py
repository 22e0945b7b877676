"""The designs that scenes show: read from their file, checked, and their solids kept for the next view.

Nothing here knows Blender's data. A scene stores the fingerprint of the design that it shows; where memory has lost
it (after undo, in a .blend opened later) the scene's own data say it again.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

from .core.board_layout import PhotoBoard
from .core.commands import load_stack
from .core.design import Design
from .core.errors import UnusableInput
from .core.exploded import Thread, exploded_lifts, threads
from .core.figure import Lay, lays, photo_boards
from .core.findings import Finding, find_all, refuse_if_unusable
from .core.overlap_map import OverlapRegion, overlap_regions
from .core.section import SectionCut, section_cut
from .core.solids import Solid, State, build_solids
from .core.stack import Stack, build_stack

SOFT_EDGE = 0.2
"""Millimetres: the softened top edges of displayed solids, so that pieces catch light."""

SUFFIX = ".panel.json"


@dataclass(frozen=True)
class OpenDesign:
    """A design ready to be shown: sound enough to have solids."""

    path: Path
    stack: Stack
    content: str = ""
    """What it is known by where it was read from a scene."""
    told: tuple[Finding, ...] | None = None
    """Its findings, where they are those of the whole design that it is a part of."""
    _solids: dict[tuple[State, bool], tuple[Solid, ...]] = field(default_factory=dict, compare=False)
    _before: dict[tuple[State, bool], tuple[Solid, ...]] = field(default_factory=dict, compare=False)
    """Solids of an earlier state of the design, for those that did not change to be taken over."""

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
        return find_all(self.stack) if self.told is None else self.told

    @cached_property
    def regions(self) -> tuple[OverlapRegion, ...]:
        """Where pockets lie over each other."""
        return tuple(overlap_regions(self.stack))

    @cached_property
    def cut(self) -> SectionCut:
        """Where the section view cuts the panel open."""
        return section_cut(self.stack)

    @cached_property
    def lifts(self) -> tuple[float, ...]:
        """How high the exploded view lifts each piece, mm."""
        return exploded_lifts(self.stack)

    @cached_property
    def threads(self) -> tuple[Thread, ...]:
        """The ways of the lifted inserts."""
        return threads(self.stack, self.lifts)

    @cached_property
    def lays(self) -> dict[str, Lay]:
        """By solid: how it lies in its wood, the same however the solid is cut."""
        return lays(self.stack)

    @cached_property
    def boards(self) -> dict[str, PhotoBoard]:
        """The photos of its own boards that can be used, by the folded name of their wood."""
        return photo_boards(self.stack.design)[0]

    def solids(self, state: State, *, opened: bool = False, draft: bool = False) -> tuple[Solid, ...]:
        """The solids in a state, with softened top edges; `opened`: cut along the section.

        draft: what changed has sharp edges yet, which is quicker.
        """
        key = (state, opened)
        if key not in self._solids:
            clip = self.cut.keep if opened else None
            before = self._before.get(key, ())
            made = build_solids(self.stack, state, clip=clip, soften=SOFT_EDGE, previous=before, draft=draft)
            if draft:
                self._before[key] = tuple(made)
                return self._before[key]
            self._solids[key] = tuple(made)
            self._before.pop(key, None)
        return self._solids[key]

    def after_batch(self, batch: int) -> OpenDesign:
        """The panel as it stands after a batch: only the pieces cut and glued until then.

        Raises:
            UnusableInput: the design has no such batch.
        """
        count = len(self.stack.batches)
        if not 1 <= batch <= count:
            raise UnusableInput(
                str(self.path), "batches", f"there is no batch {batch}", f"Give a batch from 1 to {count}"
            )
        pieces = tuple(placed.piece for placed in self.stack.pieces if placed.batch <= batch)
        return OpenDesign(self.path, build_stack(replace(self.stack.design, pieces=pieces)), told=self.findings)

    @cached_property
    def fingerprint(self) -> str:
        """The same for the same design wherever its file lies; another for any other design."""
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
    before = {**previous._before, **previous._solids}
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
