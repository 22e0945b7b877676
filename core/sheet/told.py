"""What a maker tells of a piece that came out otherwise than planned: another depth, a break, a gap."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

What = Literal["depth", "thickness", "broke", "gap"]
Side = Literal["left", "right", "top", "bottom"]
WHATS: tuple[What, ...] = ("depth", "thickness", "broke", "gap")
SIDES: dict[Side, tuple[float, float]] = {"left": (-1, 0), "right": (1, 0), "top": (0, 1), "bottom": (0, -1)}
"""The way from the middle of a piece to that side, seen from the face."""
MOST_MM = 1000.0
MOST_TOLD = 20
"""Things told of one piece."""


@dataclass(frozen=True)
class Told:
    """One thing that came out otherwise."""

    what: What
    mm: float | None = None
    """The pocket's depth, the insert's thickness or the gap's width."""
    side: Side | None = None
    """Where a gap is."""
    glued_back: bool | None = None
    """Whether what broke was glued back, nothing lost."""

    @property
    def words(self) -> str:
        """For lists and reports."""
        if self.what == "broke":
            return "broke, glued back" if self.glued_back else "broke, a part is lost"
        named = {"depth": "pocket cut {} mm deep", "thickness": "insert cut {} mm thick"}
        number = f"{self.mm:g}"
        if self.what == "gap":
            return f"gap of {number} mm {'on the' if self.side in ('left', 'right') else 'at the'} {self.side}"
        return named[self.what].format(number)


KEYS: dict[What, tuple[str, ...]] = {
    "depth": ("mm",),
    "thickness": ("mm",),
    "broke": ("glued_back",),
    "gap": ("mm", "side"),
}
"""What is told with each, in the file."""


def told_from(entry: Any) -> Told | None:
    """One thing told, from a file; None where it is damaged."""
    what = entry.get("what") if isinstance(entry, dict) else None
    if not isinstance(what, str) or what not in KEYS or set(entry) != {"what", *KEYS[what]}:
        return None
    mm = entry.get("mm")
    if "mm" in entry and (isinstance(mm, bool) or not isinstance(mm, (int, float)) or not is_length(mm)):
        return None
    if "side" in entry and (not isinstance(entry["side"], str) or entry["side"] not in SIDES):
        return None
    if "glued_back" in entry and not isinstance(entry["glued_back"], bool):
        return None
    return Told(**entry)


def is_length(mm: float) -> bool:
    """Whether a length can be told."""
    return math.isfinite(mm) and 0 < mm <= MOST_MM


def told_entry(told: Told) -> dict[str, object]:
    """One thing told, for a file."""
    return {"what": told.what} | {key: getattr(told, key) for key in KEYS[told.what]}


def with_told(before: Sequence[Told], told: Told) -> tuple[Told, ...]:
    """What is told once this is told too: a new depth or thickness, or gap on a side, takes the place of the old."""

    def place(each: Told) -> tuple[str, str | None]:
        return each.what, each.side

    return (*(each for each in before if place(each) != place(told)), told)


def last_mm(told: Sequence[Told], what: What) -> float | None:
    """The depth or thickness told, mm."""
    return next((each.mm for each in reversed(told) if each.what == what), None)
