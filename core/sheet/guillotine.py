"""Rectangles sawn from leaves of one width by straight cuts right through, as a saw cuts; never turned.

Every arrangement here comes apart by cuts that each go from edge to edge of what is being cut (guillotine cuts). A
part's length runs along the leaf's, since both have their grain that way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

Size = tuple[float, float]
"""Length along the grain and width across it, mm."""

EXACT = 7
"""Up to so many parts the shortest arrangement of all is found; of more, a good one."""
MANY = 100
"""More parts than this are laid in rows, which is quick however many they are."""
ROUNDING = 1e-9
STEPS = 8
"""Times that the length is halved in looking for a good one."""


@dataclass(frozen=True)
class Spot:
    """Where a part's lower left corner lies on its leaf, mm; `part` is its index among those asked for."""

    part: int
    x: float
    y: float


@dataclass(frozen=True)
class Arrangement:
    """All parts on equal leaves."""

    length: float
    """Length of each leaf, mm."""
    leaves: tuple[tuple[Spot, ...], ...]


@dataclass(frozen=True)
class _Block:
    """Parts that lie together in a rectangle, and the cut that parts it into two such blocks; or one part alone."""

    length: float
    width: float
    part: int = -1
    halves: tuple[_Block, _Block] | None = None
    crosscut: bool = False


def arranged(sizes: Sequence[Size], width: float, kerf: float, most: float, leaves: int = 1) -> Arrangement | None:
    """All parts on so many leaves of one width and of the least length found; None where they do not fit.

    Args:
        sizes: of the parts, mm.
        width: of the leaves, mm.
        kerf: what the saw takes between two parts, mm.
        most: the length that there is, mm.
        leaves: how many there are.
    """
    if any(length > most + ROUNDING or wide > width + ROUNDING for length, wide in sizes):
        return None
    if sum(length * wide for length, wide in sizes) > leaves * most * width * (1 + ROUNDING):
        return None
    if len(sizes) <= EXACT:
        return Shortest(sizes, width, kerf).of(range(len(sizes)), most, leaves)
    return _good(sizes, width, kerf, most, leaves)


# --- The shortest of all --------------------------------------------------------------------------------------------


class Shortest:
    """The shortest arrangements of each choice among a few parts: all ways to cut them apart are looked at."""

    def __init__(self, sizes: Sequence[Size], width: float, kerf: float) -> None:
        self._kerf, self._width = kerf, width
        self._blocks: dict[int, list[_Block]] = {0: []}
        self._count = len(sizes)
        for part, (length, wide) in enumerate(sizes):
            fits = wide <= width + ROUNDING
            self._blocks[1 << part] = [_Block(length, wide, part)] if fits else []
        for chosen in range(1, 1 << self._count):
            if chosen not in self._blocks:
                self._blocks[chosen] = self._joined(chosen)

    def of(self, parts: Sequence[int], most: float, leaves: int) -> Arrangement | None:
        """Those parts on so many leaves, which are all as long as the longest must be."""
        chosen = sum(1 << part for part in parts)
        best: dict[int, tuple[float, tuple[int, ...]]] = {0: (0.0, ())}
        for _ in range(min(leaves, len(parts)) or 1):
            best = {each: self._one_more_leaf(each, best) for each in _within(chosen) if each or not chosen}
            best = {each: found for each, found in best.items() if found[0] < float("inf")} | {0: (0.0, ())}
        if chosen not in best or best[chosen][0] > most + ROUNDING:
            return None
        length, shares = best[chosen]
        laid = [tuple(_spots(self._blocks[share][0])) for share in shares if share]
        return Arrangement(length, tuple(laid + [()] * (leaves - len(laid))))

    def shapes(self) -> list[Size]:
        """Length and width of all arrangements of all parts that no other beats in both."""
        return [(block.length, block.width) for block in self._blocks[(1 << self._count) - 1]]

    def _one_more_leaf(
        self, chosen: int, best: dict[int, tuple[float, tuple[int, ...]]]
    ) -> tuple[float, tuple[int, ...]]:
        """The best where some of the chosen lie on one more leaf, and the rest as they did."""
        found = best.get(chosen, (float("inf"), ()))
        for share in _within(chosen):
            rest = best.get(chosen & ~share)
            if share and rest is not None and self._blocks[share]:
                length = max(rest[0], self._blocks[share][0].length)
                if length < found[0] - ROUNDING:
                    found = (length, (*rest[1], share))
        return found

    def _joined(self, chosen: int) -> list[_Block]:
        """All blocks of these parts that no other beats in both length and width, the shortest first."""
        lowest = chosen & -chosen
        made: list[_Block] = []
        for one in _within(chosen):
            if one & lowest and one != chosen:
                for a, b in product(self._blocks[one], self._blocks[chosen & ~one]):
                    across = a.length + self._kerf + b.length
                    made.append(_Block(across, max(a.width, b.width), -1, (a, b), True))
                    if (wide := a.width + self._kerf + b.width) <= self._width + ROUNDING:
                        made.append(_Block(max(a.length, b.length), wide, -1, (a, b), False))
        kept: list[_Block] = []
        for block in sorted(made, key=lambda each: (each.length, each.width)):
            if not kept or block.width < kept[-1].width - ROUNDING:
                kept.append(block)
        return kept


def shapes(sizes: Sequence[Size], kerf: float) -> list[Size]:
    """Length and width of the arrangements of a few parts that no other beats in both, mm; the shortest first."""
    return Shortest(sizes, float("inf"), kerf).shapes()


def _within(chosen: int) -> list[int]:
    """All choices among those that are chosen, as sums of 1 << part."""
    found, share = [], chosen
    while share:
        found.append(share)
        share = (share - 1) & chosen
    return [0, *reversed(found)]


def _spots(block: _Block, x: float = 0.0, y: float = 0.0, kerf: float | None = None) -> list[Spot]:
    if block.halves is None:
        return [Spot(block.part, x, y)]
    a, b = block.halves
    if block.crosscut:
        return _spots(a, x, y) + _spots(b, x + block.length - b.length, y)
    return _spots(a, x, y) + _spots(b, x, y + block.width - b.width)


# --- A good one -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Free:
    """A rectangle of wood that is left."""

    leaf: int
    x: float
    y: float
    length: float
    width: float


_ORDERS: tuple[Callable[[Size], tuple[float, float]], ...] = (
    lambda size: (-size[0], -size[1]),
    lambda size: (-size[1], -size[0]),
    lambda size: (-size[0] * size[1], -size[0]),
)
_CUTS: tuple[Callable[[float, float], bool], ...] = (
    lambda along, across: True,
    lambda along, across: False,
    lambda along, across: along > across,
)
"""Whether to crosscut beside a part first, from what is left along and across the grain."""


def filled(
    sizes: Sequence[Size], width: float, kerf: float, length: float, leaves: int
) -> tuple[Arrangement, tuple[int, ...]]:
    """As many parts as are found to fit onto leaves of that length, by area, and the parts that are left over."""
    if len(sizes) > MANY:
        return _rows(sizes, width, kerf, length, leaves)
    tries = [_fill(sizes, order, cut, width, kerf, length, leaves) for order in _ORDERS for cut in _CUTS]
    return min(tries, key=lambda one: (sum(sizes[i][0] * sizes[i][1] for i in one[1]), one[0].length))


def _good(sizes: Sequence[Size], width: float, kerf: float, most: float, leaves: int) -> Arrangement | None:
    """A short arrangement: the length is halved again and again between too short and long enough."""
    best = _whole(sizes, width, kerf, most, leaves)
    if best is None:
        return None
    area = sum((length + kerf) * (wide + kerf) for length, wide in sizes)
    low = max(max(length for length, _ in sizes), area / (leaves * (width + kerf)) - kerf)
    for _ in range(STEPS):
        if best.length - low < 1.0:
            break
        middle = (low + best.length) / 2
        shorter = _whole(sizes, width, kerf, middle, leaves)
        if shorter is None:
            low = middle
        else:
            best = shorter
    return best


def _whole(sizes: Sequence[Size], width: float, kerf: float, length: float, leaves: int) -> Arrangement | None:
    """The first try that places all parts."""
    if len(sizes) > MANY:
        made, left = _rows(sizes, width, kerf, length, leaves)
        return None if left else made
    for order in _ORDERS:
        for cut in _CUTS:
            made, left = _fill(sizes, order, cut, width, kerf, length, leaves)
            if not left:
                return made
    return None


def _fill(
    sizes: Sequence[Size],
    order: Callable[[Size], tuple[float, float]],
    crosscut: Callable[[float, float], bool],
    width: float,
    kerf: float,
    length: float,
    leaves: int,
) -> tuple[Arrangement, tuple[int, ...]]:
    """Part after part into the rectangle that it fills best; what is left of that is cut into two."""
    free = [_Free(leaf, 0.0, 0.0, length, width) for leaf in range(leaves)]
    spots: list[list[Spot]] = [[] for _ in range(leaves)]
    left, used = [], 0.0
    for part in sorted(range(len(sizes)), key=lambda i: order(sizes[i])):
        long, wide = sizes[part]
        fits = [f for f in free if long <= f.length + ROUNDING and wide <= f.width + ROUNDING]
        if not fits:
            left.append(part)
            continue
        chosen = min(fits, key=lambda f: (min(f.length - long, f.width - wide), f.leaf, f.x))
        free.remove(chosen)
        spots[chosen.leaf].append(Spot(part, chosen.x, chosen.y))
        used = max(used, chosen.x + long)
        along, across = chosen.length - long - kerf, chosen.width - wide - kerf
        first = crosscut(along, across)
        beside = _Free(chosen.leaf, chosen.x + long + kerf, chosen.y, along, chosen.width if first else wide)
        above = _Free(chosen.leaf, chosen.x, chosen.y + wide + kerf, long if first else chosen.length, across)
        free += [each for each in (beside, above) if min(each.length, each.width) > ROUNDING]
    return Arrangement(used, tuple(map(tuple, spots))), tuple(sorted(left))


def _rows(
    sizes: Sequence[Size], width: float, kerf: float, length: float, leaves: int
) -> tuple[Arrangement, tuple[int, ...]]:
    """The widest parts first, side by side along the leaf in rows that are ripped off one after the other."""
    spots: list[list[Spot]] = [[] for _ in range(leaves)]
    left, used = [], 0.0
    leaf, x, y, row = 0, 0.0, 0.0, 0.0
    for part in sorted(range(len(sizes)), key=lambda i: (-sizes[i][1], -sizes[i][0])):
        long, wide = sizes[part]
        if long > length + ROUNDING or wide > width + ROUNDING:
            left.append(part)
            continue
        if row and x + long > length + ROUNDING:
            x, y, row = 0.0, y + row + kerf, 0.0
        if y + wide > width + ROUNDING:
            leaf, x, y, row = leaf + 1, 0.0, 0.0, 0.0
        if leaf >= leaves:
            left.append(part)
            continue
        spots[leaf].append(Spot(part, x, y))
        row, used, x = max(row, wide), max(used, x + long), x + long + kerf
    return Arrangement(used, tuple(map(tuple, spots))), tuple(sorted(left))
