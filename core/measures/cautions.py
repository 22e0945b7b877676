"""What to beware of: at the bench, in the woods of a panel, and with the panel on a wall."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..design import Frame
from ..stack.stack import Stack
from ..woods.species import Species, find_wood, woods_in

BENCH = (
    "Cutters and saws: protect eyes and ears, leave guards on, clamp the work, unplug before you change a cutter. "
    "Hold small parts with tape, tabs or a carrier board, never with your hand.",
    "Dust: that of every wood harms the lungs. Use extraction at the tool and wear a mask that fits.",
    "Finishes and glues: read the label and air the room. Rags wet with oil can catch fire by themselves: dry them "
    "flat outdoors, or keep them under water.",
    "Your machine's manual, your local rules and qualified people come before anything written here.",
)
"""What a maker should know before cutting, one sentence or two for each danger (common practice)."""
BENCH_IN_SHORT = (
    "Your machine's manual, your local rules and qualified people come before anything written here.",
    "Cutters, saws: protect eyes, ears; leave guards on; clamp work, tape small parts; unplug to change cutters.",
    "Dust of every wood harms the lungs: use extraction at the tool, and wear a mask that fits.",
    "Finishes: air the room. Oily rags can catch fire by themselves: dry them flat outdoors, or keep in water.",
)
"""`BENCH` in a line each, for the report (common practice)."""
WALL = (
    "Hang it with fixings made for its weight, in a wall that bears it. If in doubt, ask a qualified person.",
    "Sanding it makes dust that harms the lungs, and rags wet with oil can catch fire by themselves: follow the label "
    "of the product and your local rules.",
)
"""What an owner should know who hangs or renews a panel (common practice)."""


@dataclass(frozen=True)
class UsedWood:
    """A wood of a design, under the name that the design gives it."""

    name: str
    species: Species


def woods_used(stack: Stack) -> tuple[UsedWood, ...]:
    """Every wood of background, pieces and a frame that the design speaks of, once; unknown ones are left out."""
    found: dict[str, UsedWood] = {}
    for name in _names(stack):
        species = find_wood(name, stack.design.woods)
        if species is not None:
            found.setdefault(species.common_name, UsedWood(name, species))
    return tuple(found.values())


HARMS = (("sensitizer", "allergies"), ("irritant", "irritation"), ("nausea", "nausea"))
"""Words of the species table, the worst first, and what they mean."""


def harmful_woods(woods: Iterable[UsedWood]) -> str:
    """The woods that do more harm than every wood's dust does, each under the worst of it; "" if there are none."""
    told: dict[str, list[str]] = {}
    starred = False
    for used in woods:
        sensitizes = False
        said = {kind: getattr(used.species, f"{kind}_cautions") for kind in ("dust", "skin")}
        for word, harm in HARMS:
            kinds = [kind for kind, words in said.items() if word in words]
            if not kinds or (word == "irritant" and sensitizes):
                continue
            sensitizes = word == "sensitizer"
            recalled = used.species.recalled.issuperset(kinds)
            starred |= recalled
            told.setdefault(harm, []).append(f"{used.name}{'*' if recalled else ''}")
    lines = [f"{harm}: {', '.join(told[harm])}" for _, harm in HARMS if harm in told]
    return f"Can cause {'; '.join(lines)}{' (* not checked against a source)' if starred else ''}." if lines else ""


def _names(stack: Stack) -> Iterator[str]:
    for part in stack.background:
        yield part.wood
    for placed in stack.pieces:
        yield from woods_in(placed.piece)
    if stack.design.frame != Frame():
        yield stack.design.frame.wood
