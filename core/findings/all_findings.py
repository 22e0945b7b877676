"""What is wrong with a design, and what to do about it: one function per finding, named for it.

A finding is told to a maker: what is wrong, where on the panel, what next. `FINDINGS` lists them all;
docs/findings.md tells where each threshold comes from.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from ..design import Point
from ..errors import UnusableInput
from ..faults import during
from ..measures.all_measures import Measures
from ..stack.stack import Stack
from .accepted import with_accepted
from .background_joints import joint_under_edge
from .boards import board_photo, off_board
from .crossed_grain import cross_grain
from .cutting import binds, blank_too_narrow, corners_rounded, cutter_too_big, notch_filled, too_deep_for_cutter
from .finding import LEVELS, Finding, Level, Step
from .frame_room import frame_too_tight
from .grooves import groove_crosses, strip_bend, strip_end_shows
from .layout import (
    bad_outline,
    empty_fit,
    floor_too_thin,
    hidden_piece,
    not_proud,
    outside_panel,
    trimmed_away,
    unknown_wood,
)
from .movement import moisture_play, movement
from .press_fit import odd_clearance, wedge_stuck
from .repeats import repeated
from .small_parts import small_part, small_strip
from .sound import unsound
from .standing_wood import edge_sliver, fragile_peninsula
from .step_trials import StepTrials, with_tried_steps
from .strength import fragile_island, loose_remnant, meeting_edges, short_grain, thin_neck, thin_skin, thin_wall
from .thickness import many_thicknesses, slender_cutter, thick_insert, thin_insert
from .touching_woods import colour_bleed, dust_stain, low_contrast
from .trials import with_bites

__all__ = [
    "FINDINGS",
    "LEVELS",
    "UNBUILDABLE",
    "Finding",
    "Level",
    "Step",
    "find_all",
    "find_errors",
    "find_grave",
    "refuse_if_unusable",
    "tried",
]

UNBUILDABLE = ("bad-outline", "empty-fit", "unknown-wood", "unsound")
"""Findings with which there is nothing to show or saw: pictures, pages and solids refuse."""

FINDINGS: dict[str, Callable[[Measures], Iterable[Finding]]] = {
    "bad-outline": bad_outline,
    "empty-fit": empty_fit,
    "unknown-wood": unknown_wood,
    "unsound": unsound,
    "outside-panel": outside_panel,
    "floor-too-thin": floor_too_thin,
    "not-proud": not_proud,
    "trimmed-away": trimmed_away,
    "thin-insert": thin_insert,
    "thick-insert": thick_insert,
    "many-thicknesses": many_thicknesses,
    "wedge-stuck": wedge_stuck,
    "odd-clearance": odd_clearance,
    "cutter-too-big": cutter_too_big,
    "notch-filled": notch_filled,
    "corners-rounded": corners_rounded,
    "binds": binds,
    "meeting-edges": meeting_edges,
    "thin-wall": thin_wall,
    "thin-skin": thin_skin,
    "thin-neck": thin_neck,
    "short-grain": short_grain,
    "fragile-island": fragile_island,
    "fragile-peninsula": fragile_peninsula,
    "edge-sliver": edge_sliver,
    "hidden-piece": hidden_piece,
    "loose-remnant": loose_remnant,
    "strip-bend": strip_bend,
    "strip-end-shows": strip_end_shows,
    "groove-crosses": groove_crosses,
    "joint-under-edge": joint_under_edge,
    "small-strip": small_strip,
    "small-part": small_part,
    "repeated": repeated,
    "too-deep-for-cutter": too_deep_for_cutter,
    "slender-cutter": slender_cutter,
    "blank-too-narrow": blank_too_narrow,
    "board-photo": board_photo,
    "off-board": off_board,
    "low-contrast": low_contrast,
    "colour-bleed": colour_bleed,
    "dust-stain": dust_stain,
    "movement": movement,
    "frame-too-tight": frame_too_tight,
    "cross-grain": cross_grain,
    "moisture-play": moisture_play,
}
"""Every finding by its code."""
_ERRORS = ("bad-outline", "empty-fit", "unknown-wood", "outside-panel", "floor-too-thin", "not-proud", "trimmed-away")
"""What may be an error, but for "unsound", which takes longest to find out."""
_ONLY_NOTES = (
    "corners-rounded",
    "many-thicknesses",
    "small-part",
    "low-contrast",
    "colour-bleed",
    "dust-stain",
    "movement",
    "cross-grain",
    "moisture-play",
)


def find_all(stack: Stack, measures: Measures | None = None, *, try_steps: bool = False) -> tuple[Finding, ...]:
    """All findings of a design, sorted by level, design order, code and place; those that it accepts are marked.

    `measures` of the stack save taking them again, where they are there already. With `try_steps` as many remedies as
    do not take long are tried on copies of the design; else, and beyond those, `tried` does that for one.
    """
    measures = Measures(stack) if measures is None else measures
    found: list[Finding] = []
    for code, find in FINDINGS.items():
        with during(f"looking for {code}"):
            found += find(measures)
    with during("trying remedies"):
        found = with_bites(measures, found, find_grave)
        found = with_tried_steps(measures, found, find_grave) if try_steps else found
    found = with_accepted(found, stack.design.accepted)
    order = {placed.piece.id: placed.index for placed in stack.pieces}

    def rank(finding: Finding) -> tuple[int, int, str, Point]:
        piece = -1 if finding.piece is None else order[finding.piece]
        return LEVELS.index(finding.level), piece, finding.code, finding.at

    return tuple(sorted(found, key=rank))


def find_errors(measures: Measures) -> list[Finding]:
    """Errors of the design in the order of `FINDINGS`; whether its solids are sound is not looked at."""
    found: list[Finding] = []
    for code in _ERRORS:
        with during(f"looking for {code}"):
            found += [finding for finding in FINDINGS[code](measures) if finding.level == "error"]
    return found


def tried(stack: Stack, finding: Finding) -> Finding:
    """A finding with its step tried, for a button: without a step, and with words why, if it is not good.

    `find_all` tries only so many steps of one design.
    """
    return finding if finding.tried else StepTrials(Measures(stack), find_grave).tried(finding)


def find_grave(measures: Measures) -> Iterator[Finding]:
    """All that may be an error or a warning of the design, steps not tried; solids are proved once it is taken."""
    for code, find in FINDINGS.items():
        if code not in (*_ONLY_NOTES, "unsound"):
            yield from find(measures)


def refuse_if_unusable(stack: Stack, findings: Iterable[Finding]) -> None:
    """For pictures, solids and sheets.

    Raises:
        UnusableInput: some piece cannot be made at all, some wood is unknown, or some solid could not be proved sound.
    """
    unusable = [finding for finding in findings if finding.code in UNBUILDABLE]
    if unusable:
        first, more = unusable[0], len(unusable) - 1
        others = f" ({more} more like it: run check)" if more else ""
        raise UnusableInput(stack.design.file, first.code, first.text + others, first.remedy)
