"""What makes one cause of many findings, and the groups in which they are shown: one entry for each cause."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import dist

import numpy as np
import numpy.typing as npt
import shapely

from .finding import Finding, Level, xy

ONE_PLACE = 3.0
"""What lies so near to each other, mm, is one place to whoever looks for it."""
CORNERS = "corners-rounded"
_MOST_PLACES = 6
"""Places told in words; the others are counted."""


@dataclass(frozen=True)
class Group:
    """All findings of one cause, of one level and code, the worst place first."""

    findings: tuple[Finding, ...]

    @property
    def worst(self) -> Finding:
        """The one that speaks for all."""
        return self.findings[0]

    @property
    def level(self) -> Level:
        """Level of all of them."""
        return self.worst.level

    @property
    def places(self) -> tuple[Finding, ...]:
        """One finding for each place, the worst first; what lies within 3 mm of another is at its place."""
        kept: list[Finding] = []
        tree = shapely.STRtree(shapely.points([finding.at for finding in self.findings]))
        near = tree.query(tree.geometries, predicate="dwithin", distance=ONE_PLACE)
        taken = np.zeros(len(self.findings), dtype=bool)
        for number, finding in enumerate(self.findings):
            if not taken[number]:
                kept.append(finding)
                taken[near[1][near[0] == number]] = True
        return tuple(kept)

    @property
    def pieces(self) -> set[str]:
        """Ids of all pieces that any of them is about."""
        return {name for finding in self.findings for name in (finding.piece, finding.other) if name}

    @property
    def curable(self) -> Finding | None:
        """The worst one that has a remedy of one step."""
        return next((finding for finding in self.findings if finding.step is not None), None)

    @property
    def counted(self) -> bool:
        """Whether the text gives the number of pieces instead of the places: nothing is to be done at any of them."""
        return self.worst.code == CORNERS and len(self.findings) > 1

    @property
    def text(self) -> str:
        """The text of the worst finding, and where else it is so."""
        if self.counted:
            return f"{len(self.findings)} pieces have {self.worst.cause}, worst {self.worst.text}"
        more = self.more()
        return f"{self.worst.text} ({more})" if more else self.worst.text

    def more(self) -> str:
        """What else has this cause, in words: other pairs at the worst place, and the other places; or nothing."""
        here = [one for one in self.findings[1:] if dist(one.at, self.worst.at) <= ONE_PLACE]
        pairs = [" and ".join(name for name in (one.other, one.piece) if name) for one in here]
        words = [f"also there between {_listed(pairs)}"] if pairs else []
        there = [xy(one.at) for one in self.places[1:]]
        if there:
            words.append(f"{len(there) + 1} such places, also at {_listed(there)}")
        return "; ".join(words)


def _listed(told: Sequence[str]) -> str:
    left = len(told) - _MOST_PLACES
    return ", ".join(told[:_MOST_PLACES]) + (f" and {left} more" if left > 0 else "")


def grouped(findings: Iterable[Finding]) -> list[Group]:
    """Findings by their cause, in the order of each group's first one; those that are accepted are left out."""
    groups: dict[object, list[Finding]] = {}
    for number, finding in enumerate(findings):
        if finding.accepted is not None:
            continue
        key = number if finding.cause is None else (finding.level, finding.code, finding.cause)
        groups.setdefault(key, []).append(finding)
    return [Group(tuple(sorted(some, key=_how_good))) for some in groups.values()]


def _how_good(finding: Finding) -> float:
    return -finding.value


# --- What belongs together ------------------------------------------------------------------------------------------


def linked(count: int, links: Iterable[tuple[int, int]]) -> list[int]:
    """For each of `count` things the first of those that links join it to, one after another."""
    first = list(range(count))

    def root(thing: int) -> int:
        while first[thing] != thing:
            first[thing] = first[first[thing]]
            thing = first[thing]
        return thing

    for one, other in links:
        low, high = sorted((root(one), root(other)))
        first[high] = low
    return [root(thing) for thing in range(count)]


def at_one_place(places: Sequence[tuple[float, float]], reach: Sequence[float]) -> list[int]:
    """For each place the first of those that lie together: nearer to each other than the larger reach of both, mm."""
    if not places:
        return []
    points = shapely.points(np.array(places))
    near: npt.NDArray[np.int64] = shapely.STRtree(points).query(points, predicate="dwithin", distance=reach)
    return linked(len(places), near.T.tolist())


def sharing_a_piece(pairs: Sequence[tuple[int, int]], values: Sequence[float], alike: float) -> list[int]:
    """For each pair of pieces the first of those that hang together: by a piece of both, with about the same value."""
    at_piece: dict[int, list[int]] = {}
    for number in sorted(range(len(pairs)), key=lambda number: values[number]):
        for piece in pairs[number]:
            at_piece.setdefault(piece, []).append(number)
    links = [
        (one, other)
        for numbers in at_piece.values()
        for one, other in pairwise(numbers)
        if values[other] - values[one] <= alike
    ]
    return linked(len(pairs), links)
