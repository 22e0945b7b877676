"""The lines of a report that people read: long texts wrapped, and notes in few lines, one entry for each kind.

Errors and warnings are printed in full. Of notes there may be dozens, so a report has the worst place of each kind,
how many more there are, and what to do; the JSON has all places and all words.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Iterable, Sequence

from .causes import Group

WIDTH = 110
TEXT_LINES = 2
"""Lines for what a note says; its remedy may take one more."""
NAMED = 3
"""So many other pieces are named."""
ALSO = ". Also at "
"""Begins the last sentence of a text that speaks of several pieces."""


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
    told = max(groups, key=lambda group: group.worst.value or 0.0)  # the first of those that are as bad
    worst = told.worst
    text = told.text if told.counted else worst.text
    words, found, also = f"note {worst.code}: {text}".partition(ALSO)
    others = _others(told, [group for group in groups if group is not told])
    rest = f". {'. '.join(part for part in (f'Also at {also}' if found else '', others) if part)}".rstrip(". ")
    idle = worst.remedy.startswith("Nothing to do")
    lines = 1 if idle else TEXT_LINES
    short = _first_that_fits(words, lambda cut: ended(cut + rest), lines, marks=",;:" if idle else ",;")
    return wrapped(_first_that_fits(worst.remedy, lambda cut: f"{short} {ended(cut)}", 1 if idle else lines + 1))


def _others(told: Group, groups: Sequence[Group]) -> str:
    """How many more places there are that have a finding of this kind, and some of the pieces."""
    here = () if told.counted else told.places[1:]
    others = [*here, *(place for group in groups for place in group.places)]
    if not others:
        return ""
    names = list(dict.fromkeys(place.piece for place in others if place.piece and place.piece != told.worst.piece))
    more = " and others" if len(names) > NAMED else ""
    where = f", at {', '.join(names[:NAMED])}{more}" if names else ""
    return f"{len(others)} more such {'note' if len(others) == 1 else 'notes'}{where}"


def _first_that_fits(text: str, whole: Callable[[str], str], lines: int, marks: str = ",;") -> str:
    """The whole text, or as many of its clauses as fit into so many lines, but one at least."""
    start = text.find("): ") + 3 if "): " in text and ":" not in marks else 0
    ends = [len(text), *reversed([match.start() for match in re.finditer(rf"[{marks}] (?![^(]*\))", text)])]
    cuts = [whole(text[:end]) for end in ends if end > start]
    return next((cut for cut in cuts if len(wrapped(cut)) <= lines), cuts[-1])
