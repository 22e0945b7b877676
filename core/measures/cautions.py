"""What to beware of in the woods of a panel: dust, skin, trade."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..design import Frame
from ..stack.stack import Stack
from ..woods.species import Species, find_wood, woods_in

ALL_DUST = "The dust of every wood harms the lungs: extraction at the tool and a fitting mask."


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


def _names(stack: Stack) -> Iterator[str]:
    for part in stack.background:
        yield part.wood
    for placed in stack.pieces:
        yield from woods_in(placed.piece)
    if stack.design.frame != Frame():
        yield stack.design.frame.wood
