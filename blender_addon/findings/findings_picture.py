"""What can go wrong, in one picture: findings numbered at their places, with a key that tells each in words.

Level is told by shape as well as by colour: a square for an error, a disc for a warning, a diamond for a note. Rings
and leaders are paper-coloured between dark edges, so that they are seen on dark wood and on light.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ...core.findings.all_findings import LEVELS, Finding
from ...core.findings.causes import Group, grouped
from ...core.stack.stack import Stack
from ...core.views.label_places import place_plates
from ..studio import studio
from ..studio.sheet import INK, PAPER, Pixels, Sheet

REMEDY_INK = "#285a41"
HARD_SPACE = "\u00a0"
RAW_EDGE = "#8a847a"


@dataclass(frozen=True)
class Look:
    """How a level is shown: the fill of its plates, the ink on them, the corners of plates and rings."""

    fill: str
    ink: str
    sides: int
    first: float
    """Degrees from +x to the first corner."""
    size: float
    """Radius against a disc's, for shapes of about the same area."""


LOOKS = {
    "error": Look("#b8291b", PAPER, 4, 45.0, 1.25),
    "warning": Look("#f3b52f", INK, 48, 0.0, 1.0),
    "note": Look("#cfe0ea", INK, 4, 0.0, 1.3),
}
RING, PLATE = 0.85, 0.78
"""Radii in heights of a line of text."""
HEAD, INDENT, LETTER = 5.0, 2.3, 0.455
"""Key, in heights of a line: its title and counts, what its numbers take, the width of a common letter."""
STEPS = ((1.25, 9, 9), (1.12, 9, 9), (1.12, 3, 2), (1.12, 2, 1), (1.0, 2, 1), (1.0, 1, 0), (1.0, 0, 0), (0.8, 0, 0))
"""Size of the key's letters, most lines of words and of the remedy for each finding: the first that has room."""


def shown(findings: Sequence[Finding]) -> list[Group]:
    """What the picture numbers, one number for each cause: errors and warnings by their gravity, or the notes where
    there is nothing else."""
    groups = grouped(findings)
    grave = [group for group in groups if group.level != "note"]
    return sorted(grave or groups, key=lambda group: LEVELS.index(group.level))  # stable: design order stays


def mark(sheet: Sheet, stack: Stack, findings: Sequence[Finding]) -> None:
    """Number the findings on the flat view of the panel, and tell them in a key at its right."""
    told = shown(findings)
    _raw_edge(sheet, stack)
    key_left = sheet.width * (1 - studio.SETTINGS["findings"].key_share)
    _marks(sheet, told, stack, key_left)
    Key(sheet, key_left, told).write(stack.design.title or "Findings", findings)


def _raw_edge(sheet: Sheet, stack: Stack) -> None:
    """A thin line where the panel ends before its edges are trimmed."""
    trimmed, raw = stack.finished_box.bounds, stack.box.bounds
    if trimmed != raw:
        corners = [(raw[i], raw[j], 0.0) for i, j in ((0, 1), (2, 1), (2, 3), (0, 3), (0, 1))]
        sheet.line([sheet.project(corner) for corner in corners], RAW_EDGE, 1.0, lift=0)


def _marks(sheet: Sheet, told: Sequence[Group], stack: Stack, right: float) -> None:
    """A ring round each place, and beside the worst of each cause its number."""
    face = -stack.design.panel.face_trim
    places = [sheet.project((*group.worst.at, face)) for group in told]
    ring, plate = RING * sheet.unit, PLATE * sheet.unit
    widest = max((LOOKS[group.level].size for group in told), default=1.0)
    plates = place_plates(places, ring, widest * plate, (0.0, 0.0), (right, sheet.height))
    for number, (group, place, middle) in enumerate(zip(told, places, plates.tolist(), strict=True), 1):
        look = LOOKS[group.level]
        radius = ring * look.size
        others = [sheet.project((*finding.at, face)) for finding in group.places[1:]]
        for ink, width, lift in ((INK, 5.6, 2), (PAPER, 2.6, 3)):
            sheet.line([_towards(place, middle, radius), middle], ink, width, lift)
            for each in (place, *others):
                sheet.ring(each, radius, ink, width, look.sides, look.first, lift)
        _plate(sheet, look, middle, plate, str(number), sheet.unit, lift=5)


def _towards(start: Pixels, end: Sequence[float], by: float) -> Pixels:
    way = np.subtract(end, start)
    x, y = np.add(start, way * by / max(np.hypot(*way), 1e-9))
    return float(x), float(y)


def _plate(
    sheet: Sheet, look: Look, at: Sequence[float], radius: float, number: str, text: float, lift: int = 1
) -> None:
    """A number on its level's shape."""
    middle = (at[0], at[1])
    edge = 0.1 * text
    sheet.disc(middle, radius * look.size, INK, look.sides, look.first, lift)
    sheet.disc(middle, radius * look.size - edge, look.fill, look.sides, look.first, lift + 1)
    size = text * (1.0 if len(number) < 2 else 0.85)
    sheet.text(number, (at[0], at[1] - 0.35 * size), size, look.ink, "CENTER", lift + 2, bold=True)


@dataclass(frozen=True)
class Entry:
    """One cause in the key."""

    group: Group
    heading: list[str]
    words: list[str]
    remedy: list[str]

    def lines(self) -> Iterator[tuple[str, str, bool]]:
        """Words, ink and whether they are bold."""
        yield from ((line, INK, True) for line in self.heading)
        yield from ((line, INK, False) for line in self.words)
        yield from ((line, REMEDY_INK, False) for line in self.remedy)


class Key:
    """The column of words at the right, as large and as full as there is room for."""

    def __init__(self, sheet: Sheet, left: float, told: Sequence[Group]) -> None:
        self.sheet, self.left = sheet, left
        self.room = 0.95 * sheet.height
        self.told = told
        for scale, words, remedy in STEPS:
            self.text = scale * sheet.unit
            self.step = 1.28 * self.text
            self.gap = 0.48 * self.step
            self.entries = [self._entry(group, words, remedy) for group in told]
            if self.height <= self.room:
                return
        kept = int((self.room - HEAD * self.text) / (self.step + self.gap)) - 1
        self.entries = self.entries[: max(kept, 0)]

    @property
    def height(self) -> float:
        lines = sum(len(list(entry.lines())) for entry in self.entries)
        return HEAD * self.text + lines * self.step + max(len(self.entries) - 1, 0) * self.gap

    def write(self, title: str, findings: Sequence[Finding]) -> None:
        sheet, text = self.sheet, self.text
        y = (sheet.height + min(self.height, self.room)) / 2 - text
        sheet.text(title, (self.left, y), 1.3 * text, INK, bold=True)
        self._counts(findings, y - 1.9 * text)
        y -= (HEAD - 1) * text
        for number, entry in enumerate(self.entries, 1):
            look = LOOKS[entry.group.level]
            _plate(sheet, look, (self.left + 0.9 * text, y + 0.3 * text), PLATE * text, str(number), text)
            for words, ink, bold in entry.lines():
                sheet.text(words, (self.left + INDENT * text, y), text, ink, bold=bold)
                y -= self.step
            y -= self.gap
        if left_out := len(self.told) - len(self.entries):
            sheet.text(f"and {left_out} more: run check", (self.left + INDENT * text, y), text, INK)

    def _counts(self, findings: Sequence[Finding], y: float) -> None:
        """Write how many findings of each level there are, behind its shape if any; a sound design says so."""
        sheet, text = self.sheet, self.text
        count = {level: sum(group.level == level for group in grouped(findings)) for level in LEVELS}
        if not count["error"] and not count["warning"]:
            sheet.text("Sound: no errors, no warnings", (self.left, y), text, INK)
            return
        x = self.left + 0.9 * text
        for level in ("error", "warning"):
            words = f"{count[level] or 'no'} {level}{'' if count[level] == 1 else 's'}"
            if count[level]:
                _plate(sheet, LOOKS[level], (x, y + 0.3 * text), 0.62 * PLATE * text, "", text)
                x += text
            else:  # a red square beside "no errors" would look like one
                x = max(x - 0.9 * text, self.left)
            sheet.text(words, (x, y), text, INK)
            x += sheet.text_width(words, text) + 1.4 * text

    def _entry(self, group: Group, most_words: int, most_remedy: int) -> Entry:
        return Entry(
            group,
            self._wrapped(group_heading(group), 1),
            self._wrapped(words_of(group.worst), most_words),
            self._wrapped(group.worst.remedy, most_remedy),
        )

    def _wrapped(self, words: str, most: int) -> list[str]:
        if most == 0 or not words:
            return []
        room = 0.985 * self.sheet.width - self.left - INDENT * self.text
        letters = int(room / (LETTER * self.text))
        return [
            line.replace(HARD_SPACE, " ") for line in lines_of(words.replace(" mm", HARD_SPACE + "mm"), letters, most)
        ]


def lines_of(words: str, letters: int, most: int) -> list[str]:
    """Words in lines: all of them, or the first clauses that there is room for, or as many as there is room for."""
    ends = [len(words), *reversed([match.start() for match in re.finditer(r"[,:;] | or ", words)])]
    for end in ends:
        lines = textwrap.wrap(words[:end], letters, break_on_hyphens=False)
        if len(lines) <= most:
            return lines
    return textwrap.wrap(words, letters, max_lines=most, placeholder=" …", break_on_hyphens=False)


def heading(finding: Finding) -> str:
    """The code's plain name and the piece, such as "Short grain: koi-tail"."""
    pieces = " and ".join(piece for piece in (finding.other, finding.piece) if piece)
    return f"{_name(finding)}: {pieces}" if pieces else _name(finding)


def group_heading(group: Group) -> str:
    """The heading of the worst, and at how many places it is so."""
    return heading(group.worst) + places_words(group)


def places_words(group: Group) -> str:
    """The number of places, where there is more than one."""
    count = len(group.places)
    return f" ({count} places)" if count > 1 else ""


def words_of(finding: Finding) -> str:
    """What is wrong, without piece and place, which the number tells."""
    _, found, words = finding.text.partition("): ")
    words = (words if found else finding.text).removeprefix(f"{_name(finding).lower()}: ")
    return words[:1].upper() + words[1:]


def _name(finding: Finding) -> str:
    return finding.code.replace("-", " ").capitalize()
