"""Words and lines on a picture: depths in a section, the key of a map, labels.

They are drawn on a sheet that hangs in front of the studio's camera (see `sheet.py`), once the view is set up.
Points of the panel are in mm.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from . import studio
from .sheet import INK, PAPER, Pixels, Sheet

DepthMark = tuple[float, float, float, float, str]
"""x, y, z of the top, z of the bottom, and the words, such as "pocket 6.00"."""
Label = tuple[float, float, float, str]
"""x, y, z and the words."""
KeyEntry = tuple[str, str]
"""Colour as hex, and the words."""


def section_marks(sheet: Sheet, marks: Sequence[DepthMark]) -> None:
    """Mark depths on the cut face.

    Marks at one place make a column: a bar from top to bottom of each, side by side where they overlap, and one
    leader to a plate below the panel with their words, from the top down. Plates never overlap.
    """
    columns = _columns(marks)
    if not columns:
        return
    text = sheet.unit
    feet = [sheet.project((*place, min(bottom for _, bottom, _ in bars))) for place, bars in columns]
    order = sorted(range(len(columns)), key=lambda i: feet[i][0])
    widths = [max(sheet.text_width(words, text) for _, _, words in columns[i][1]) + 1.5 * text for i in order]
    centres = spread([feet[i][0] for i in order], widths, sheet.width)
    y = min(foot[1] for foot in feet) - 3.2 * text
    for i, centre in zip(order, centres, strict=True):
        place, bars = columns[i]
        sheet.line([feet[i], (centre, y)], PAPER, 1.3, lift=1)
        for lane, (top, bottom, _) in zip(_lanes(bars), bars, strict=True):
            _depth_bar(sheet, place, top, bottom, lane)
        sheet.plate([words for _, _, words in bars], (centre, y), text)


def _columns(marks: Sequence[DepthMark]) -> list[tuple[Pixels, list[tuple[float, float, str]]]]:
    """Marks by their place in the plane: (x, y) and [(top, bottom, words)] from the top down."""
    found: dict[Pixels, list[tuple[float, float, str]]] = {}
    for x, y, top, bottom, words in marks:
        found.setdefault((round(x, 2), round(y, 2)), []).append((top, bottom, words))
    return [(place, sorted(bars, key=lambda bar: (-bar[0], -bar[1]))) for place, bars in found.items()]


def _lanes(bars: Sequence[tuple[float, float, str]]) -> list[int]:
    """For each bar, from the top down, the first lane where it overlaps no other."""
    ends: list[float] = []
    lanes = []
    for top, bottom, _ in bars:
        lane = next((k for k, end in enumerate(ends) if top <= end + 1e-6), len(ends))
        ends[lane : lane + 1] = [bottom]
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


def batch_labels(sheet: Sheet, batches: Sequence[tuple[str, Sequence[float]]]) -> None:
    """Words at the left, level with each batch, and a line from them to a place (x, y, z) of the batch."""
    text = sheet.unit * 1.05
    ends = [sheet.project(place) for _, place in batches]
    heights = spread([y for _, y in ends], [1.9 * text] * len(ends), sheet.height)
    for (words, _), end, y in zip(batches, ends, heights, strict=True):
        left = 0.03 * sheet.width
        start = left + sheet.text_width(words, text) + 0.6 * text
        sheet.line([(start, y), (max(start, end[0] - abs(end[1] - y)), y), end], PAPER, 1.2)
        sheet.text(words, (left, y - 0.35 * text), text, PAPER)


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
