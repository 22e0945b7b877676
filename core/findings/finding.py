"""One finding: what is wrong, where on the panel, what next; and the words that all findings share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ..design import Point
from ..stack.pocket_pairs import ROUNDING
from ..stack.stack import PlacedPiece
from ..witness import inside

Level = Literal["error", "warning", "note"]
LEVELS: tuple[Level, ...] = ("error", "warning", "note")


@dataclass(frozen=True)
class Step:
    """A remedy that is one change of the design file: set that key of that piece to that value.

    For `after` the value is the whole list, with the id that joins it; for `at` it is the new place.
    """

    piece: str
    key: str
    value: float | str | tuple[str, ...] | Point


@dataclass(frozen=True)
class Finding:
    """One thing that a maker should know of one place."""

    level: Level
    code: str
    piece: str | None
    """The later one of a pair; None for the panel and its background."""
    other: str | None
    """The earlier one of a pair."""
    at: Point
    text: str
    remedy: str
    step: Step | None = None
    value: float = 1.0
    """How bad it is compared with others of its code: larger is worse. Its unit is that of what the finding measures;
    where small is bad it has a minus. 1 where there is nothing to measure."""
    cause: str | None = None
    """Shared by all findings that one cause makes; None for one that stands alone."""
    tried: bool = False
    """Its step was tried on a copy of the design: it cures, and brings no other error or warning."""
    accepted: str | None = None
    """Why the maker accepts it; None where it is told."""
    also: tuple[str, ...] = ()
    """Ids of further pieces of which it is true too, where one finding speaks for several."""


def of(
    level: Level,
    code: str,
    placed: PlacedPiece,
    at: Point,
    words: str,
    remedy: str,
    step: Step | None = None,
    *,
    other: PlacedPiece | None = None,
    value: float = 1.0,
    cause: str | None = None,
    also: Sequence[str] = (),
) -> Finding:
    """A finding of one piece, or of a pair; its text begins with the piece and the place."""
    earlier = None if other is None else other.piece.id
    text = f"{placed.piece.id} at {xy(at)}: {words}"
    return Finding(level, code, placed.piece.id, earlier, at, text, remedy, step, value, cause, also=tuple(also))


def xy(at: Point) -> str:
    """A place in words."""
    x, y = (round(value, 2) + 0.0 for value in at)  # + 0.0: no minus zero
    return f"({x:.2f}, {y:.2f})"


def listed(names: Sequence[str]) -> str:
    """Names with commas between, and "and" before the last."""
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def somewhere(placed: PlacedPiece) -> Point:
    """A point inside a piece, even if it is not sound."""
    if placed.sound:
        return inside(placed.pocket)
    return placed.problem_at or placed.piece.at


def below(one: float, other: float) -> bool:
    """Whether one length is less than another by more than rounding: 12.7 - 7.7 is less than 5 in floating point."""
    return one < other - ROUNDING
