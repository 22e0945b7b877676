"""The lines of a report that people read: long texts wrapped, and notes in few lines, one entry for each kind.

Errors and warnings are printed in full. Of notes there may be dozens, so a report has the worst place of each kind,
how many more there are, and what to do; the JSON has all places and all words.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence

from .causes import Group

WIDTH = 110
LINES = 2
"""What a note says, and what to do about it, is cut to so many lines where that can be."""
NAMED = 3
"""Other pieces that are named."""
BEWARE = re.compile(r"\b(fingers?|hands?|lungs|mask|fire)\b")
"""Words of safety; the clause in which one stands is never cut away."""
ALSO = ". Also at "
"""Begins the last sentence of a text that speaks of several pieces."""
_PAIRS = ("low-contrast", "colour-bleed", "dust-stain")
"""Notes of two woods, one for each pair."""


def wrapped(text: str) -> list[str]:
    """A text in lines, all but the first indented."""
    return textwrap.wrap(text, WIDTH, subsequent_indent="    ", break_long_words=False, break_on_hyphens=False)


def ended(text: str) -> str:
    """A text with the stop or question mark that ends it."""
    return text if text.endswith(("?", ".")) else f"{text}."


def note_lines(groups: Iterable[Group]) -> list[str]:
    """Lines of all notes: one entry for each code, of pieces and of the panel apart."""
    kinds: dict[tuple[str, bool], list[Group]] = {}
    for group in groups:
        kinds.setdefault((group.worst.code, group.worst.piece is None), []).append(group)
    return [line for some in kinds.values() for line in _entry(some)]


def _entry(groups: Sequence[Group]) -> list[str]:
    told = max(groups, key=lambda group: group.worst.value)  # the first of those that are as bad
    worst = told.worst
    text = f"note {worst.code}: {told.text if told.counted else worst.text}"
    if worst.remedy.startswith("Nothing to do"):
        return wrapped(f"{text.partition('): ')[0]}). Nothing to do.")
    words, _, also = text.partition(ALSO)
    others = _others(told, groups, also)
    whole = [
        f"{ended(cut + other)} {ended(remedy)}"
        for other in others
        for cut in _clauses(words, after="): ")
        for remedy in _clauses(worst.remedy)
    ]
    return min((wrapped(each) for each in whole), key=lambda lines: max(len(lines), LINES))


def _others(told: Group, groups: Sequence[Group], also: str) -> list[str]:
    """How many more places have a finding of this kind, with names of some and without."""
    here = () if told.counted else told.places[1:]
    more = [*here, *(place for group in groups if group is not told for place in group.places)]
    first = ALSO + also if also else ""
    listed = re.fullmatch(r"([^,]*), (.*?)(?: and (\d+) more)?", also)
    rest = len(listed[2].split(", ")) + int(listed[3] or 0) if listed else 0
    short = f"{ALSO}{listed[1]} and {rest} more" if listed else first
    if not more:
        return [first, short]
    notes = f". {_count(len(more), told.worst.code)}"
    names = list(dict.fromkeys(place.piece for place in more if place.piece and place.piece != told.worst.piece))
    named = f"{notes}, at {', '.join(names[:NAMED])}{' and others' * (len(names) > NAMED)}" if names else notes
    return [first + named, first + notes, short + notes, short]


def _count(more: int, code: str) -> str:
    """Says how many more notes there are, by what they are about."""
    several = "s" * (more > 1)
    if code in _PAIRS:
        return f"{more} other pair{several} of woods too"
    return f"{more} other wood{several} too" if code == "many-thicknesses" else f"{more} more such note{several}"


def _clauses(text: str, after: str = "") -> list[str]:
    """The whole text, then ever fewer of its clauses, but one at least; none ends before `after` or words of safety."""
    start = text.find(after) + len(after) if after in text else 0
    start = max([start, *(match.end() for match in BEWARE.finditer(text))])
    ends = [match.start() for match in re.finditer(r"[,;] (?=[a-z])(?![^(]*\))", text) if match.start() > start]
    return [text[:end].rstrip(".") for end in [len(text), *reversed(ends)]]
