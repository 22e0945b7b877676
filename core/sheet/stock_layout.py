"""What is sawn, laid out on the boards in stock: lengths sawn off a board, resawn into leaves, leaves sawn into parts.

Parts of one wood and one thickness lie together, since they are planed together. Nothing is turned: the grain of board,
leaf and part runs along x. All cuts go straight through (`guillotine`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

from ..boards.stock import JOINTED, PLANING, SQUARED, boards_of, leaves_from, wood_key
from ..design import Design, StockBoard
from .buying import Item, items
from .guillotine import EXACT, Arrangement, Shortest, Size, Spot, arranged, filled
from .plan import Plan

ROUNDING = 1e-9
FEW_ROOMS = 4
"""Up to so many boards, or rests of boards, all ways to share a few parts among them are looked at."""


@dataclass(frozen=True)
class Part:
    """One rectangle of wood on a leaf; mm from the leaf's lower left corner, its length along x."""

    use: str
    x: float
    y: float
    length: float
    width: float
    glued: int = 1
    """Leaves that are glued edge to edge make one blank; this is one of them."""


@dataclass(frozen=True)
class Leaf:
    """One slice of a billet, planed in one go, then sawn into its parts."""

    thickness: float
    """When it is planed, mm."""
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class Billet:
    """A length crosscut from a board and resawn into leaves, the first one from its face."""

    start: float
    """From the board's left end, mm."""
    length: float
    leaves: tuple[Leaf, ...]

    def rest(self, board: float, kerf: float) -> float:
        """What is left of the board's thickness behind the leaves and their kerfs, mm."""
        return board - sum(leaf.thickness + PLANING + kerf for leaf in self.leaves)


@dataclass(frozen=True)
class SawnBoard:
    """One board of the stock and what is sawn from it."""

    place: int
    """In the stock's list, from 0."""
    number: int
    """Among the boards of that size, from 1."""
    board: StockBoard
    billets: tuple[Billet, ...]

    @property
    def used(self) -> float:
        """How much of its length is sawn up, mm."""
        return max((billet.start + billet.length for billet in self.billets), default=0.0)


@dataclass(frozen=True)
class Missing:
    """What the stock has no room for."""

    item: Item
    why: str


@dataclass(frozen=True)
class StockLayout:
    """Everything that is sawn: on the boards in stock, and what they do not suffice for."""

    boards: tuple[SawnBoard, ...]
    """Those that are sawn, in the order of the list."""
    missing: tuple[Missing, ...]


NO_WOOD, TOO_THICK, TOO_LONG, FULL = "none in stock", "too thick", "too long", "the boards are full"


def stock_layout(plan: Plan) -> StockLayout:
    """All wood of the plan laid out on the boards in stock."""
    return laid_out(plan.stack.design, items(plan))


def laid_out(design: Design, cut_list: Iterable[Item]) -> StockLayout:
    """Parts of these sizes laid out on the design's boards, the thickest first.

    Of each board one edge is jointed and one end cut square: parts lie in what is left.
    """
    groups: dict[tuple[str, float, int], list[Item]] = {}
    for item in cut_list:
        groups.setdefault((wood_key(design, item.wood), round(item.thickness, 6), item.glued), []).append(item)
    sawing = _Sawing(design)
    for (_, thickness, glued), some in sorted(
        groups.items(), key=lambda entry: (entry[0][0], -entry[0][1], -entry[0][2])
    ):
        sawing.lay(some, thickness, glued)
    return sawing.layout()


@dataclass
class _Open:
    """A board and what was sawn from it so far."""

    place: int
    number: int
    board: StockBoard
    billets: list[Billet] = field(default_factory=list)


@dataclass(frozen=True)
class _Room:
    """Wood that gives leaves still: the end of a board, or what is left of a billet's thickness."""

    board: _Open
    billet: int | None
    """Its place on the board; None: the end that is not sawn yet."""
    start: float
    length: float
    width: float
    leaves: int

    @property
    def kind(self) -> tuple[bool, float, float, float, int]:
        """Rooms of one kind are as good as each other."""
        return self.billet is None, self.length, self.width, self.board.board.thickness, self.leaves


class _Sawing:
    """Boards as they fill up."""

    def __init__(self, design: Design) -> None:
        self._design, self._kerf = design, design.workshop.saw_kerf
        self._least = design.workshop.min_planing_length or 0.0
        self._open = [
            _Open(place, number, board)
            for place, board in enumerate(design.stock)
            for number in range(1, board.count + 1)
        ]
        self._missing: list[Missing] = []

    def layout(self) -> StockLayout:
        """What was laid so far."""
        sawn = tuple(SawnBoard(o.place, o.number, o.board, tuple(o.billets)) for o in self._open if o.billets)
        return StockLayout(sawn, tuple(self._missing))

    def lay(self, some: Sequence[Item], thickness: float, glued: int) -> None:
        """Parts of one wood and thickness; those of one glued-up blank lie on consecutive leaves, like a book."""
        parts = [replace(item, count=1) for item in some for _ in range(item.count // glued)]
        left = parts if glued > 1 else self._into_rests(parts, thickness)
        left = self._fill(left, thickness, glued)
        if left and glued > 1:  # no board gives so many leaves: one from here, one from there
            left = self._fill([part for part in left for _ in range(glued)], thickness, 1)
        if left:
            own = [board for _, board in boards_of(self._design, left[0].wood)]
            self._missing += [Missing(item, _why(item, own, self._kerf)) for item in left]

    def _rooms(self, wood: str, thickness: float, glued: int) -> list[_Room]:
        """Where such leaves can come from: billets that have thickness left, begun boards, then the smallest boards."""
        places = {place for place, _ in boards_of(self._design, wood)}
        found = [room for one in self._open if one.place in places for room in self._on(one, thickness, glued)]
        enough = [room for room in found if room.leaves and room.length >= self._least - ROUNDING]

        def rank(room: _Room) -> tuple[bool, bool, float, float]:
            board = room.board
            return room.billet is None, not board.billets, board.board.thickness, room.length * room.width

        return sorted(enough, key=rank)

    def _on(self, one: _Open, thickness: float, glued: int) -> Iterator[_Room]:
        width, kerf = one.board.width - JOINTED, self._kerf
        for place, billet in enumerate(one.billets):
            leaves = leaves_from(billet.rest(one.board.thickness, kerf), thickness, kerf)
            yield _Room(one, place, billet.start, billet.length, width, leaves // glued)
        start = max((billet.start + billet.length + kerf for billet in one.billets), default=SQUARED)
        leaves = leaves_from(one.board.thickness, thickness, kerf)
        yield _Room(one, None, start, one.board.length - start, width, leaves // glued)

    def _into_rests(self, parts: list[Item], thickness: float) -> list[Item]:
        """Parts onto what books have left free of their leaves; returns those for which there is no room."""
        places = {place for place, _ in boards_of(self._design, parts[0].wood)}
        for one in self._open:
            for number, billet in enumerate(one.billets if one.place in places else []):
                leaves = list(billet.leaves)
                for k, leaf in enumerate(leaves):
                    if parts and leaf.thickness == thickness:
                        leaves[k], parts = self._beside(leaf, parts, billet.length, one.board.width - JOINTED)
                one.billets[number] = replace(billet, leaves=tuple(leaves))
        return parts

    def _beside(self, leaf: Leaf, parts: list[Item], length: float, width: float) -> tuple[Leaf, list[Item]]:
        """The leaf with parts in what one straight cut leaves free of it, along or across, and the parts left over."""
        x = max(part.x + part.length for part in leaf.parts) + self._kerf
        y = max(part.y + part.width for part in leaf.parts) + self._kerf
        best: tuple[float, tuple[Part, ...], list[Item]] = (0.0, (), parts)
        for right, up, long, wide in ((x, 0.0, length - x, width), (0.0, y, length, width - y)):
            if min(long, wide) > ROUNDING:
                made, left = filled(_sizes(parts), wide, self._kerf, long, 1)
                placed = tuple(replace(p, x=p.x + right, y=p.y + up) for p in _placed(parts, made.leaves[0]))
                area = sum(part.length * part.width for part in placed)
                if area > best[0]:
                    best = (area, placed, [parts[i] for i in left])
        return replace(leaf, parts=(*leaf.parts, *best[1])), best[2]

    def _fill(self, parts: list[Item], thickness: float, glued: int) -> list[Item]:
        """Saw the parts from what there is; returns those for which there is no room."""
        while parts:
            rooms = self._rooms(parts[0].wood, thickness, glued)
            if len(parts) <= EXACT and len(rooms) <= FEW_ROOMS:
                return self._share_out(parts, rooms, thickness, glued)
            kinds = {room.kind: room for room in reversed(rooms)}
            whole = [(room, made) for room in kinds.values() if (made := self._all_on(parts, room)) is not None]
            if whole:
                room, made = min(whole, key=lambda pair: self._opened(pair[0], pair[1].length))
                self._saw(room, parts, made, thickness, glued)
                return []
            left = self._fill_one(parts, rooms, thickness, glued)
            if len(left) == len(parts):
                break
            parts = left
        return parts

    def _fill_one(self, parts: list[Item], rooms: Sequence[_Room], thickness: float, glued: int) -> list[Item]:
        """As many parts as go onto the first room that holds any; returns the others."""
        for room in rooms:
            made, left = filled(_sizes(parts), room.width, self._kerf, room.length, room.leaves)
            if len(left) < len(parts):
                self._saw(room, parts, made, thickness, glued)
                return [parts[i] for i in left]
        return parts

    def _all_on(self, parts: Sequence[Item], room: _Room) -> Arrangement | None:
        return arranged(_sizes(parts), room.width, self._kerf, room.length, room.leaves)

    def _share_out(self, parts: list[Item], rooms: Sequence[_Room], thickness: float, glued: int) -> list[Item]:
        """A few parts in a few rooms: as much of them as goes, from as little new wood as can be."""
        everything = tuple(range(len(parts)))
        best: dict[tuple[int, ...], tuple[float, tuple[tuple[_Room, tuple[int, ...]], ...]]] = {everything: (0.0, ())}
        for room in rooms:
            cost = self._costs(parts, room)
            found = dict(best)
            for left, (spent, shares) in best.items():
                for chosen, volume in cost.items():
                    rest = tuple(i for i in left if i not in chosen)
                    if len(rest) + len(chosen) == len(left) and (
                        rest not in found or spent + volume < found[rest][0] - ROUNDING
                    ):
                        found[rest] = (spent + volume, (*shares, (room, chosen)))
            best = found
        area = {left: sum(parts[i].length * parts[i].width for i in left) for left in best}
        left = min(best, key=lambda each: (area[each], best[each][0]))
        for room, chosen in best[left][1]:
            some = [parts[i] for i in chosen]
            made = self._all_on(some, room)
            assert made is not None
            self._saw(room, some, made, thickness, glued)
        return [parts[i] for i in left]

    def _costs(self, parts: Sequence[Item], room: _Room) -> dict[tuple[int, ...], float]:
        """What each choice of parts takes of that room, mm³, where it goes in."""
        shortest = Shortest(_sizes(parts), room.width, self._kerf)
        return {
            chosen: self._opened(room, made.length)
            for count in range(1, len(parts) + 1)
            for chosen in combinations(range(len(parts)), count)
            if (made := shortest.of(chosen, room.length, room.leaves)) is not None
        }

    def _opened(self, room: _Room, length: float) -> float:
        """Wood that is newly sawn into, mm³; a billet that has thickness left is sawn already."""
        if room.billet is not None:
            return 0.0
        return max(length, self._least) * room.width * room.board.board.thickness

    def _saw(self, room: _Room, parts: Sequence[Item], made: Arrangement, thickness: float, glued: int) -> None:
        """More leaves; a new billet is at least as long as may be planed, and a book has its parts at one place."""
        length = room.length if room.billet is not None else max(made.length, self._least)
        few = self._fewest_leaves(parts, replace(room, length=length), made)
        leaves = tuple(Leaf(thickness, _placed(parts, spots)) for spots in few.leaves for _ in range(glued) if spots)
        billets = room.board.billets
        if room.billet is None:
            billets.append(Billet(room.start, length, leaves))
        else:
            billet = billets[room.billet]
            billets[room.billet] = replace(billet, leaves=(*billet.leaves, *leaves))

    def _fewest_leaves(self, parts: Sequence[Item], room: _Room, made: Arrangement) -> Arrangement:
        """The parts on as few leaves of that length as they go on: the rest of the thickness can give others."""
        for leaves in range(1, sum(map(bool, made.leaves))):
            fewer = self._all_on(parts, replace(room, leaves=leaves))
            if fewer is not None:
                return fewer
        return made


def _sizes(parts: Sequence[Item]) -> list[Size]:
    return [(part.length, part.width) for part in parts]


def _placed(parts: Sequence[Item], spots: Sequence[Spot]) -> tuple[Part, ...]:
    return tuple(
        Part(parts[s.part].use, s.x, s.y, parts[s.part].length, parts[s.part].width, parts[s.part].glued) for s in spots
    )


def _why(item: Item, own: Sequence[StockBoard], kerf: float) -> str:
    if not own:
        return NO_WOOD
    thick = [board for board in own if leaves_from(board.thickness, item.thickness, kerf)]
    if not thick:
        thickest = max(board.thickness for board in own)
        needed = f"{item.thickness:.2f} mm and {PLANING:.1f} mm for planing"
        return f"{TOO_THICK}: it takes {needed}, the thickest board in stock has {thickest:.2f} mm"
    longest = max(board.length for board in thick) - SQUARED
    if item.length > longest + ROUNDING:
        return f"{TOO_LONG}: it takes {item.length:.1f} mm, the longest board in stock gives {longest:.1f} mm"
    return FULL
