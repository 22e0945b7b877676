"""The exploded view's numbers: one beside each lifted insert, and a list of them, as in any assembly drawing.

Inserts are numbered in the order of gluing. The list tells of each its name and the depth of its pocket, by batches.
The numbers ride with their inserts: what is lifted alike is on one sheet, moved by a driver.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from ...core.views.exploded import glue_numbers, glue_order, place_of_number
from ...core.views.label_places import place_plates
from ..designs import OpenDesign
from ..studio import studio
from ..studio.sheet import INK, PAPER, Pixels, Sheet
from . import lifting
from .lifting import Lift

TITLE, NOTE = "In the order of gluing", "pocket depth below the face, mm"
PLATE, DOT = 0.6, 0.16
"""Radii of a number's plate and of the dot at its insert, in heights of a line."""
LETTER = 0.52
"""Width of a common letter, in heights."""


@dataclass(frozen=True)
class Row:
    """A line of the list: a batch, or an insert with its number."""

    words: str
    number: str = ""
    depth: str = ""
    dark: bool = False
    """Whether its number stands on a dark plate: batches take turns, so that each is seen to be one."""


def numbers(opened: OpenDesign) -> dict[str, int]:
    """Number of each piece by id, from 1, in the order of gluing, however far the batches are stepped through."""
    stack = (opened.whole or opened).stack
    return {stack.pieces[index].piece.id: number for index, number in glue_numbers(stack).items()}


def mark(sheet: Sheet, opened: OpenDesign, stamp: str) -> bool:
    """Number the lifted inserts, and list them at the right; returns whether all could be hung."""
    left = sheet.width * (1 - studio.SETTINGS["exploded"].key_share)
    number = numbers(opened)
    _list(sheet, _rows(opened, number), left)
    riding = _numbered(sheet, opened, number, lifting.lifts(sheet.scene, opened), left)
    names = {each.layer for each in riding}
    done = [each.hang(stamp) for each in (sheet, *riding)]
    return all(done) and not [layer for layer in sheet.layers() if layer and layer not in names]


def _rows(opened: OpenDesign, number: dict[str, int]) -> list[Row]:
    rows = []
    for count, batch in enumerate(opened.stack.batches, 1):
        rows.append(Row(f"Batch {count}"))
        for placed in (opened.stack.pieces[i] for i in batch):
            name = placed.piece.id
            rows.append(Row(name, str(number[name]), f"{placed.depth:.2f}", is_dark(count)))
    return rows


def is_dark(batch: int) -> bool:
    """Whether a batch's numbers stand on dark plates."""
    return batch % 2 == 0


def _list(sheet: Sheet, rows: list[Row], left: float) -> None:
    """Write the list in as few columns as there is room for."""
    if not rows:
        return
    room, high = sheet.width * 0.985 - left, 0.92 * sheet.height
    longest = max(len(row.words) + len(row.depth) for row in rows) + 5
    for columns in (1, 2, 3):
        lines = -(-len(rows) // columns)
        step = min(1.7 * sheet.unit, high / (lines + 2))
        text = min(step / 1.45, room / columns / (LETTER * longest))
        if step > 1.3 * sheet.unit:
            break
    top = (sheet.height + (lines + 2) * step) / 2 - step
    sheet.text(
        f"{TITLE}, with {NOTE}", (left, top), min(1.1 * text, room / LETTER / len(TITLE + NOTE)), PAPER, bold=True
    )
    for place, row in enumerate(rows):
        x = left + place // lines * room / columns
        y = top - (place % lines + 1.6) * step
        _write(sheet, row, x, y, text, room / columns)


def _write(sheet: Sheet, row: Row, x: float, y: float, text: float, width: float) -> None:
    if not row.number:
        sheet.text(row.words, (x, y), text, PAPER, bold=True)
        return
    _plate(sheet, (x + 0.8 * text, y + 0.32 * text), 0.62 * text, row.number, row.dark)
    sheet.text(row.words, (x + 1.9 * text, y), text, PAPER)
    sheet.text(row.depth, (x + width - 3.4 * text, y), text, PAPER)


def _plate(sheet: Sheet, at: Pixels, radius: float, number: str, dark: bool) -> None:
    ink, paper = (PAPER, INK) if dark else (INK, PAPER)
    sheet.disc(at, radius * 1.12, ink, 32, lift=4)
    sheet.disc(at, radius, paper, 32, lift=5)
    size = radius * (1.3 if len(number) < 2 else 1.15 if len(number) < 3 else 0.85)
    sheet.text(number, (at[0], at[1] - 0.35 * size), size, ink, "CENTER", lift=6, bold=True)


def _numbered(sheet: Sheet, opened: OpenDesign, number: dict[str, int], lifts: list[Lift], right: float) -> list[Sheet]:
    """A sheet for all that is lifted alike."""
    pieces = [opened.stack.pieces[i] for i in glue_order(opened.stack)]
    places = [sheet.project((*place_of_number(p), lifts[p.index].height + p.top)) for p in pieces]
    radius = PLATE * sheet.unit
    plates = place_plates(places, DOT * sheet.unit, radius, (0.0, 0.0), (right, sheet.height))
    riding: dict[Lift, Sheet] = {}
    alike: dict[Lift, list[int]] = defaultdict(list)
    for place, placed in enumerate(pieces):
        alike[lifts[placed.index]].append(place)
    for layer, (lift, some) in enumerate(alike.items(), 1):
        own = riding[lift] = sheet.riding(str(layer), lift.on_sheet)
        for place in some:
            at, plate = places[place], (float(plates[place][0]), float(plates[place][1]))
            for ink, width, above in ((INK, 2.6, 1), (PAPER, 1.2, 2)):
                own.line([at, plate], ink, width, above)
                own.disc(at, DOT * own.unit + width / 4, ink, 16, lift=above)
            _plate(own, plate, radius, str(number[pieces[place].piece.id]), is_dark(pieces[place].batch))
    return list(riding.values())
