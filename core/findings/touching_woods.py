"""Findings of the picture: woods that are hard to tell apart where they meet, colour that gets into pale wood.

One finding for each two woods, at the longest edge that they share: a maker decides by woods, and a list as long as the
design has edges would hide what matters.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache

from ..measures.all_measures import Measures
from ..measures.grain_strength import off_grain
from ..measures.touching_woods import STEP, Face, Meeting, Side, Wanted, wood_of
from ..stack.stack import PlacedPiece
from ..woods.contrast import LOW, better_wood, contrast, lightness, reads
from ..woods.species import Species, find_wood
from ..woods.vision import EYES
from .finding import Finding, Level, Step, of, xy

NOTE: Level = "note"

# --- Contrast -------------------------------------------------------------------------------------------------------

LEAST_SHARE = 1 / 3
"""Two pieces merge when they share so much of the shorter outline of the two (common practice)."""
LEAST_LENGTH = 10.0
"""Shorter edges are details, mm (common practice)."""
OWN_SHARE = 0.75
"""A piece in its own wood is meant to merge, unless so much of its outline is lost in it (common practice)."""
OWN_GRAIN = 30.0
"""One wood whose grain turns by more degrees than this shines differently and can be told apart (common practice)."""
LEAST_JOINTS = 50.0
"""Length of joints between two woods of the background, mm (common practice)."""

_TIMES = ("when cut", "when aged")
_BLIND = {"protan": "red-blind", "deutan": "green-blind", "tritan": "blue-blind"}


def low_contrast(m: Measures) -> Iterator[Finding]:
    """Two woods that touch and are hard to tell apart, cut or aged, for some eyes."""
    woods = _woods(m)

    @cache  # asked of every two pieces
    def alike(one_name: str, other_name: str) -> tuple[bool, bool]:
        one, other = woods.get(one_name), woods.get(other_name)
        return one is not None and other is not None and not reads(one, other), one == other

    def wanted(later: Side, earlier: Side) -> bool:
        if any(isinstance(side, PlacedPiece) and side.piece.blank for side in (later, earlier)):
            return False  # the stripes of a glued-up blank are told from each other, and it by them
        low, same = alike(wood_of(later), wood_of(earlier))
        return low and (not same or bool(off_grain(later.grain, earlier.grain) <= OWN_GRAIN))

    def least(face: Face, meeting: Meeting) -> float:
        sides = [i for i in (meeting.later, meeting.earlier) if i is not None]
        if not sides:
            return LEAST_JOINTS
        _, same = alike(*meeting.woods)
        return max(LEAST_LENGTH, (OWN_SHARE if same else LEAST_SHARE) * float(face.outlines[sides].min()))

    for meetings in _told_together(Face(m.stack), wanted, least):
        yield _low(m, meetings, woods)


def _low(m: Measures, meetings: Sequence[Meeting], woods: Mapping[str, Species]) -> Finding:
    longest = meetings[0]
    one, other = (woods[name] for name in longest.woods)
    words = f"{_how_alike(m, longest, one, other)}{_more(m, meetings)}"
    value = -float(contrast(one, other).min())
    if longest.later is None:
        remedy = "Choose a lighter or a darker wood for one of them, unless you want them to merge"
        return _told(m, "low-contrast", longest, words, remedy, value=value)
    placed = m.stack.pieces[longest.later]
    beside = [woods[name] for name in _neighbours(m, placed) if name in woods]
    better = better_wood(one, beside, _in_hand(m, woods))
    if better is None:
        remedy = (
            f"Choose a lighter or a darker wood for {placed.piece.id}: none of your woods stands out from all its "
            f"neighbours"
        )
        return _told(m, "low-contrast", longest, words, remedy, value=value)
    remedy = (
        f"Use {better} for {placed.piece.id} instead of {longest.woods[0]}; it stands out from all its neighbours for "
        f"all eyes, and of your woods that do, it is most like this one"
    )
    return _told(m, "low-contrast", longest, words, remedy, Step(placed.piece.id, "wood", better), value)


def _how_alike(m: Measures, meeting: Meeting, one: Species, other: Species) -> str:
    """Who can hardly tell two woods apart, where, when, and by how little they differ."""
    pair, where = _pair(m, meeting), f"they meet along {meeting.length:.2f} mm"
    if one == other:
        return f"only the glue line shows between {pair}, whose grain runs alike; {where}"
    difference = contrast(one, other)
    low = difference < LOW
    numbers = " and ".join(f"{difference[t, 0]:.1f} {when}" for t, when in enumerate(_TIMES))
    if low[:, 0].any():
        return f"{pair} are hard to tell apart; {where}, with a colour difference of {numbers}, less than {LOW:g}"
    who = " and ".join(_BLIND[eyes] for e, eyes in enumerate(EYES) if low[:, e].any())
    times = " and ".join(when for t, when in enumerate(_TIMES) if low[t].any())
    least = float(difference.min())
    return (
        f"{who} eyes hardly tell {pair} apart, {times}; {where}, with a colour difference of only {least:.1f} for "
        f"these eyes, less than {LOW:g}, where normal eyes see {numbers}"
    )


def _neighbours(m: Measures, placed: PlacedPiece) -> list[str]:
    """All woods that a piece touches in the finished face, or may."""
    pieces = [m.stack.pieces[i].piece.wood for i in (*placed.over, *placed.under)]
    grounds = [part.wood for part in m.stack.background if part.box.intersects(placed.pocket)]
    return list(dict.fromkeys([*pieces, *grounds]))


def _woods(m: Measures) -> dict[str, Species]:
    """The woods of background and pieces by the names that the design gives them, those that are known."""
    names = (*(part.wood for part in m.stack.background), *(placed.piece.wood for placed in m.stack.pieces))
    return _known(m, names)


def _in_hand(m: Measures, used: Mapping[str, Species]) -> Mapping[str, Species]:
    """The woods that the maker has, or else those that the design uses."""
    return _known(m, m.workshop.in_hand) if m.workshop.in_hand else used


def _known(m: Measures, names: Iterable[str]) -> dict[str, Species]:
    found = {name: find_wood(name, m.design.woods) for name in dict.fromkeys(names)}
    return {name: wood for name, wood in found.items() if wood is not None}


# --- Colour that bleeds ---------------------------------------------------------------------------------------------

BLEEDING = ("African padauk", "redheart", "bloodwood", "purpleheart", "wenge", "African ebony")
"""Woods whose dust and extractives stain (common practice; of padauk SEEN in sellers' data)."""
PALE = 80.0
"""L* of bare wood from which on coloured dust in its pores is seen (common practice)."""
LEAST_BLEEDING = 5.0
"""Length of a shared edge, mm (common practice)."""


def colour_bleed(m: Measures) -> Iterator[Finding]:
    """Dust and extractives of a strongly coloured wood get into a pale neighbour."""
    woods = _woods(m)
    strong = {name for name, wood in woods.items() if wood.kind in BLEEDING}
    pale = {name for name, wood in woods.items() if lightness(wood) >= PALE} - strong

    def wanted(later: Side, earlier: Side) -> bool:
        names = {wood_of(later), wood_of(earlier)}
        return not names.isdisjoint(strong) and not names.isdisjoint(pale)

    for meetings in _told_together(Face(m.stack), wanted, lambda *_: LEAST_BLEEDING):
        longest = meetings[0]
        stains, stained = sorted(longest.woods, key=lambda name: name in pale)
        words = f"dust and colour of {stains} get into {stained}, along {longest.length:.2f} mm"
        words += f", where {_pair(m, longest)} meet{_more(m, meetings)}"
        remedy = (
            f"Trim nearly to depth and seal the {stained} thinly before you scrape the rest, clear the dust away "
            f"often; wipe no solvent from {stains} onto it; and try it on scrap first"
        )
        yield _told(m, "colour-bleed", longest, words, remedy, value=longest.length, also=_also(m, meetings))


# --- Dust that stains -----------------------------------------------------------------------------------------------

DARK = 50.0
"""L* of bare wood up to which its dust is seen in the pores of a pale one (common practice)."""
PALE_PORES = 60.0
"""L* of bare wood from which on dark dust in its open pores is seen (common practice)."""


def dust_stain(m: Measures) -> Iterator[Finding]:
    """Dust of a dark wood is sanded into the pores of a pale ring-porous one, unless `colour_bleed` tells of both."""
    woods = _woods(m)
    dark = {name for name, wood in woods.items() if lightness(wood) <= DARK}
    pale = {name for name, wood in woods.items() if lightness(wood) >= PALE_PORES and wood.pores.startswith("ring")}
    bleeds = {name for name in dark if woods[name].kind in BLEEDING}

    @cache  # asked of every two pieces
    def stained(one: str, other: str) -> bool:
        stains, into = (one, other) if one in dark else (other, one)
        return stains in dark and into in pale and not (stains in bleeds and lightness(woods[into]) >= PALE)

    def wanted(later: Side, earlier: Side) -> bool:
        return stained(wood_of(later), wood_of(earlier))

    if not dark or not pale:
        return
    for meetings in _told_together(Face(m.stack), wanted, lambda *_: LEAST_BLEEDING):
        longest = meetings[0]
        stains, into = sorted(longest.woods, key=lambda name: name in pale)
        words = f"sanding drives dark dust of {stains} into the open pores of {into}, along {longest.length:.2f} mm"
        words += f", where {_pair(m, longest)} meet{_more(m, meetings)}"
        remedy = f"Scrape or plane that joint, blow the dust out often, and seal the {into} thinly before you sand"
        yield _told(m, "dust-stain", longest, words, remedy, value=longest.length, also=_also(m, meetings))


# --- Words ----------------------------------------------------------------------------------------------------------


def _told_together(face: Face, wanted: Wanted, least: Callable[[Face, Meeting], float]) -> Iterator[list[Meeting]]:
    """Meetings of interest that are long enough, by their two woods; the longest of each comes first, measured."""
    groups: dict[tuple[bool, frozenset[str]], list[Meeting]] = {}
    for meeting in face.meetings(wanted):
        groups.setdefault((meeting.later is None, frozenset(meeting.woods)), []).append(meeting)
    for group in groups.values():
        # What is looked at every few mm may be so much longer than it seemed.
        near = [meeting for meeting in group if meeting.length + 2 * STEP >= least(face, meeting)]
        near.sort(key=lambda meeting: -meeting.length)
        while near:
            longest = face.measured(near.pop(0))
            if longest is not None and longest.length >= least(face, longest):
                yield [longest, *(meeting for meeting in near if meeting.length >= least(face, meeting))]
                break


def _pair(m: Measures, meeting: Meeting) -> str:
    """Both woods of a meeting, and whose they are."""
    one, other = meeting.woods
    if meeting.later is None:
        return f"its {one} and its {other}"
    whom = "the background" if meeting.earlier is None else m.stack.pieces[meeting.earlier].piece.id
    return f"its {one} and the {other} of {whom}"


def _more(m: Measures, meetings: Sequence[Meeting]) -> str:
    """The other pieces at which these two woods meet."""
    longest, *others = meetings
    ids = dict.fromkeys(m.stack.pieces[each.later].piece.id for each in others if each.later is not None)
    told = [name for name in ids if longest.later is None or name != m.stack.pieces[longest.later].piece.id]
    if not told:
        return ""
    return f". Also at {', '.join(told[:3])}" + (f" and {len(told) - 3} more" if len(told) > 3 else "")


def _also(m: Measures, meetings: Sequence[Meeting]) -> tuple[str, ...]:
    """All pieces at which these two woods meet, on either side."""
    both = dict.fromkeys(i for each in meetings for i in (each.later, each.earlier) if i is not None)
    return tuple(m.stack.pieces[i].piece.id for i in both)


def _told(
    m: Measures,
    code: str,
    meeting: Meeting,
    words: str,
    remedy: str,
    step: Step | None = None,
    value: float = 1.0,
    also: Sequence[str] = (),
) -> Finding:
    assert meeting.at is not None
    if meeting.later is None:
        text = f"background at {xy(meeting.at)}: {words}"
        return Finding(NOTE, code, None, None, meeting.at, text, remedy, value=value)
    other = None if meeting.earlier is None else m.stack.pieces[meeting.earlier]
    return of(
        NOTE, code, m.stack.pieces[meeting.later], meeting.at, words, remedy, step, other=other, value=value, also=also
    )
