"""Remedies of one step, tried before they are offered: what cures and brings nothing graver gets a button.

Where a step would bring another error or warning, two requirements conflict, and the text says which.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ..design import Piece, Workshop, radius_at_face
from ..kept import Kept
from ..measures.all_measures import Measures
from .finding import LEVELS, Finding, Step
from .other_steps import CURABLE, other_steps
from .remedy_buttons import step_words
from .strength import days_words
from .trials import Find, Trials

MOST_TRIALS = 12
"""Steps tried for one design when `check` asks for it. A button is tried when its finding is chosen, and if pressed."""
MOST_PLACED = 400
"""Pieces placed in all these trials together, so that a large design is not looked at for long."""
MEANT_TO_MEET = ("meeting-edges", "thin-wall", "joint-under-edge")
"""What touches another piece is not torn off it to cure these."""
MAKES_DAYS = ("after", "at", "scale", "cutter_diameter", "fit")
"""Keys of steps that may change what lies over what, or what waits for what."""


@dataclass(frozen=True)
class Verdict:
    """What became of trying a finding's steps."""

    step: Step | None
    """The first that cures and brings nothing graver."""
    own: bool
    """It is the one that the finding names itself."""
    fights: Finding | None
    """Where none does: what the first that cures would bring."""
    fighting: Step | None
    """The step that would bring it."""


def with_tried_steps(m: Measures, findings: Sequence[Finding], find: Find) -> list[Finding]:
    """The findings, each with a step that was tried and is good, or with none, as far as a check takes the time."""
    if all(finding.level == "note" for finding in findings):
        return list(findings)
    trials = StepTrials(m, find, min(MOST_TRIALS, MOST_PLACED // max(1, len(m.stack.pieces))))
    return [trials.tried(finding) for finding in findings]


class StepTrials:
    """Steps of findings tried on copies of one design."""

    def __init__(self, m: Measures, find: Find, most: float = math.inf) -> None:
        self._m, self._left = m, most
        self._trials = Trials(m, find)
        self._placed = {placed.piece.id: placed for placed in m.stack.pieces}

    def tried(self, finding: Finding) -> Finding:
        """The finding with the step that is good, or with words of what conflicts; as it was where no time is left."""
        curable = finding.step is not None or (finding.code in CURABLE and finding.level != "note")
        if not curable or finding.tried or finding.piece is None or _harmless(finding):
            return finding
        verdict = self._verdict(finding)
        if verdict is None:
            return finding
        told = _told(finding, verdict, self._placed)
        return told if verdict.step is None else self._with_days(told, verdict.step)

    def _with_days(self, finding: Finding, step: Step) -> Finding:
        """A finding with the glue days that its step takes, where these change and it does not say so yet."""
        if step.key not in MAKES_DAYS:
            return finding
        days = self._trials.days_if(changed(self._placed[step.piece].piece, step, self._m.workshop))
        if days is None:
            return replace(finding, step=None)
        words = days_words(*days)
        if days[0] == days[1] or words in finding.remedy:
            return finding
        return replace(finding, remedy=f"{finding.remedy}; {words}")

    def _verdict(self, finding: Finding) -> Verdict | None:
        """None where the trials are used up."""
        placed = self._placed[finding.piece or ""]
        near = [self._m.stack.pieces[i] for i in self._trials.around([placed.index])]
        about = [finding.code, finding.other, repr(finding.step), *finding.at, finding.value]
        subject = [placed, *near, *about, repr(self._m.workshop), repr(self._m.panel)]
        kept = _VERDICTS.known(subject)
        if kept is not None:
            return kept
        verdict = self._try_all(finding)
        if verdict is not None:
            _VERDICTS.of([subject], lambda _: [verdict])
        return verdict

    def _try_all(self, finding: Finding) -> Verdict | None:
        fights: Finding | None = None
        fighting: Step | None = None
        for step in self._steps(finding):
            if self._left <= 0:
                return None
            self._left -= 1
            cured, brought = self._outcome(finding, step)
            if cured and brought is None:
                return Verdict(step, step == finding.step, None, None)
            if cured and fights is None:
                fights, fighting = brought, step
        return Verdict(None, False, fights, fighting)

    def _steps(self, finding: Finding) -> Iterator[Step]:
        """Without doubles: the finding's own, then others."""
        seen: set[Step] = set()
        other = self._placed.get(finding.other or "")
        own = [finding.step] if finding.step is not None else []
        for step in (*own, *other_steps(self._m, finding, self._placed[finding.piece or ""], other)):
            if step not in seen:
                seen.add(step)
                yield step

    def _outcome(self, finding: Finding, step: Step) -> tuple[bool, Finding | None]:
        """Whether a step cures a finding, and the gravest that it brings."""
        compared = self._trials.compared(changed(self._placed[step.piece].piece, step, self._m.workshop), finding.code)
        if compared is None:
            return False, None
        was, now = (Counter(map(_about, some)) for some in (compared.before, compared.after))
        wanted = _about(finding)
        cured = now[wanted] < was[wanted] and not (compared.opens and finding.code in MEANT_TO_MEET)
        new = now - was
        brought = [found for found in compared.after if _about(found) in new]
        return cured, min(brought, key=lambda found: LEVELS.index(found.level), default=None)


_VERDICTS: Kept[Verdict] = Kept()


def _harmless(finding: Finding) -> bool:
    """A note whose step changes no wood that is left or taken away: another wood, or a wait taken out."""
    return finding.level == "note" and finding.step is not None and finding.step.key in ("wood", "after")


def _about(finding: Finding) -> tuple[str, str | None, str | None]:
    return finding.code, finding.piece, finding.other


def changed(piece: Piece, step: Step, workshop: Workshop) -> Piece:
    """A piece after a step, with what follows from it as the reader of designs lets it follow."""
    values: dict[str, Any] = {step.key: step.value}
    if math.isclose(piece.insert_thickness, piece.pocket_depth + workshop.proud):
        depth = values.get("pocket_depth", piece.pocket_depth)
        values.setdefault("insert_thickness", depth + workshop.proud)
    if math.isclose(piece.corner_radius, piece.radius_at_face):
        diameter, depth = values.get("cutter_diameter", piece.cutter_diameter), values.get("pocket_depth")
        depth = piece.pocket_depth if depth is None else depth
        values["corner_radius"] = radius_at_face(diameter, depth, piece.taper)
    return replace(piece, **values)


def _told(finding: Finding, verdict: Verdict, placed: dict[str, Any]) -> Finding:
    """The finding in the light of what was tried."""
    step = verdict.step
    if step is not None:
        if verdict.own:
            return replace(finding, tried=True)
        words = step_words(step, placed[step.piece].piece)
        return replace(
            finding, step=step, tried=True, remedy=f"{words}: tried, it cures this and brings no new warning"
        )
    remedy = finding.remedy
    if verdict.fights is not None and verdict.fighting is not None:
        words = step_words(verdict.fighting, placed[verdict.fighting.piece].piece)
        names = [name for name in (verdict.fights.other, verdict.fights.piece) if name]
        bring = verdict.fights.code.replace("-", " ") + (f" of {' and '.join(names)}" if names else "")
        remedy += f". Two requirements conflict here: “{words}” would bring {bring}"
    return replace(finding, step=None, tried=True, remedy=remedy)
