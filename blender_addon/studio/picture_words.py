"""Words and lines on a picture: depths in a section, the key of a map, labels.

They are drawn on a sheet that hangs in front of the studio's camera (see `sheet.py`), once the view is set up.
Points of the panel are in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from . import studio
from .sheet import INK, PAPER, Pixels, Sheet

SMALLEST = 0.75
"""How small the words of a section get, of their usual size, before they stand in two rows."""


class DepthMark(NamedTuple):
    """A measure in a section: its place, its top and bottom, its words (such as "pocket 6.00"), whose it is."""

    x: float
    y: float
    top: float
    bottom: float
    words: str
    name: str = ""


Label = tuple[float, float, float, str]
"""x, y, z and the words."""
KeyEntry = tuple[str, str]
"""Colour as hex, and the words."""


def section_marks(sheet: Sheet, marks: Sequence[DepthMark]) -> None:
    """Mark depths on the cut face.

    Marks at one place make a column: a bar from top to bottom of each, side by side where they overlap, and one
    leader to a plate below the panel, which tells from the top down whose they are and how long. Plates never overlap:
    where there are many they get smaller, and where there are more they stand in two rows.
    """
    columns = _columns(marks)
    if not columns:
        return
    feet = [sheet.project((*place, min(bar.bottom for bar in bars))) for place, bars in columns]
    order = sorted(range(len(columns)), key=lambda i: feet[i][0])
    told = [_told(columns[i][1]) for i in order]
    need = sum(_plate_width(sheet, lines, sheet.unit) for lines in told) / sheet.width
    rows = 1 if need <= 1 / SMALLEST else 2
    text = sheet.unit * min(1.0, max(0.96 * rows / need, 0.6))
    y = min(foot[1] for foot in feet) - 3.2 * text
    for row in range(rows):
        some = range(row, len(order), rows)
        widths = [_plate_width(sheet, told[k], text) for k in some]
        centres = spread([feet[order[k]][0] for k in some], widths, sheet.width)
        for k, centre in zip(some, centres, strict=True):
            place, bars = columns[order[k]]
            sheet.line([feet[order[k]], (centre, y)], PAPER, 1.3, lift=1)
            for lane, bar in zip(_lanes(bars), bars, strict=True):
                _depth_bar(sheet, place, bar.top, bar.bottom, lane)
            names = {number for number, line in enumerate(told[k]) if any(line == bar.name for bar in bars)}
            sheet.plate(told[k], (centre, y), text, bold=names)
        y -= 1.25 * text * max(len(told[k]) for k in some) + 1.5 * text


LEGEND = {
    "pocket": "pocket: how deep it is cut, from the raw face",
    "proud": "proud: what stands above the raw face until it is trimmed",
    "skin": "skin: what is left of an insert under a later pocket",
    "floor": "floor: what is left of the panel",
}
"""What the words on the plates mean."""


def section_legend(sheet: Sheet, marks: Sequence[DepthMark]) -> None:
    """At the upper left: all in mm, and what each word on the plates of these marks means."""
    kinds = {mark.words.partition(" ")[0] for mark in marks}
    lines = ["Lengths in mm", *(text for kind, text in LEGEND.items() if kind in kinds)]
    for number, line in enumerate(lines):
        at = (1.5 * sheet.unit, sheet.height - (2.2 + 1.4 * number) * sheet.unit)
        sheet.text(line, at, 0.85 * sheet.unit, PAPER, bold=number == 0)


def _plate_width(sheet: Sheet, lines: Sequence[str], text: float) -> float:
    return max(sheet.text_width(words, text) for words in lines) + 1.5 * text


def _told(bars: Sequence[DepthMark]) -> list[str]:
    """A column's marks in lines, under the name of whose they are, which is told once."""
    lines: list[str] = []
    name = ""
    for bar in bars:
        if bar.name and bar.name != name:
            lines.append(bar.name)
        name = bar.name or name
        lines.append(bar.words)
    return lines


def _columns(marks: Sequence[DepthMark]) -> list[tuple[Pixels, list[DepthMark]]]:
    """Marks by their place in the plane, each column from the top down."""
    found: dict[Pixels, list[DepthMark]] = {}
    for mark in marks:
        found.setdefault((round(mark.x, 2), round(mark.y, 2)), []).append(mark)
    return [(place, sorted(bars, key=lambda bar: (-bar.top, -bar.bottom))) for place, bars in found.items()]


def _lanes(bars: Sequence[DepthMark]) -> list[int]:
    """For each bar, from the top down, the first lane where it overlaps no other."""
    ends: list[float] = []
    lanes = []
    for bar in bars:
        lane = next((k for k, end in enumerate(ends) if bar.top <= end + 1e-6), len(ends))
        ends[lane : lane + 1] = [bar.bottom]
        lanes.append(lane)
    return lanes


def _depth_bar(sheet: Sheet, place: Pixels, top: float, bottom: float, lane: int) -> None:
    tick = 0.26 * sheet.unit
    aside = lane * 2.6 * tick
    ends = [(x + aside, y) for x, y in (sheet.project((*place, z)) for z in (top, bottom))]
    for ink, width, grow, lift in ((INK, 3.4, 1.0, 2), (PAPER, 1.5, 0.0, 3)):
        sheet.line(ends, ink, width, lift)
        for x, y in ends:
            sheet.line([(x - tick - grow, y), (x + tick + grow, y)], ink, width, lift)


def overlap_key(sheet: Sheet, entries: Sequence[KeyEntry], title: str = "", note: str = "") -> None:
    """The key at the right of a flat view: a title, a swatch with words for each entry, and a note below."""
    text = sheet.unit * 1.05
    left = sheet.width * (1 - studio.SETTINGS["overlap"].key_share - 0.005)
    step = min(2.0 * text, 0.8 * sheet.height / max(len(entries) + 3, 1))
    y = sheet.height / 2 + step * (len(entries) + 1) / 2
    if title:
        sheet.text(title, (left, y), text * 1.2, INK)
        y -= 1.4 * step
    for hex_colour, words in entries:
        sheet.box((left, y - 0.35 * text), (left + 1.9 * text, y + 0.95 * text), INK, lift=0)
        sheet.box((left + 1, y - 0.35 * text + 1), (left + 1.9 * text - 1, y + 0.95 * text - 1), hex_colour, lift=1)
        sheet.text(words, (left + 2.5 * text, y), text, INK)
        y -= step
    for line in note.splitlines():
        sheet.text(line, (left, y - 0.2 * step), text * 0.8, INK)
        y -= 0.75 * step


def labels(sheet: Sheet, places: Sequence[Label], scale: float = 0.8) -> None:
    """Small words on paper plates, centred on places of the panel."""
    for x, y, z, words in places:
        text = sheet.unit * scale
        centre = sheet.project((x, y, z))
        sheet.plate([words], (centre[0], centre[1] + 0.78 * text), text)


def spread(wanted: Sequence[float], widths: Sequence[float], limit: float) -> list[float]:
    """Centres near the wanted ones, in their order (rising), for boxes of these widths side by side within 0 to limit.

    Boxes that collide are merged into a run whose middle is the mean of what its boxes want.
    """
    runs: list[tuple[float, list[int]]] = []
    for i in range(len(wanted)):
        members = [i]
        while True:
            offsets = np.cumsum([0.0, *(widths[k] for k in members)])
            middles = (offsets[:-1] + offsets[1:]) / 2
            start = float(np.mean([wanted[k] for k in members] - middles))
            start = min(max(start, 0.0), max(limit - offsets[-1], 0.0))
            if not runs or runs[-1][0] + sum(widths[k] for k in runs[-1][1]) <= start + 1e-9:
                break
            members = runs.pop()[1] + members
        runs.append((start, members))
    centres = []
    for start, members in runs:
        for k in members:
            centres.append(start + widths[k] / 2)
            start += widths[k]
    return centres
