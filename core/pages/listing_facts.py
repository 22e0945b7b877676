"""What a listing says of a panel: its size in its frame, its weight, its woods, how to care for it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from ..design import Design, Piece
from ..solids.frame import FramedSize, frame_sides, framed_size
from ..solids.panel_solids import Solid, build_solids
from ..stack.stack import Stack
from ..woods.species import find_wood, woods_in
from .picture_files import RENDERING, About

# Exact: international yard and pound agreement, 1959 (NIST Special Publication 811, Appendix B; from memory).
MM_PER_INCH = 25.4
LB_PER_KG = 1 / 0.45359237

# Common practice, no published source.
CARE = (
    "Hang it out of direct sun, which fades some woods and darkens others, away from radiators, stoves and damp walls.",
    "Keep the room's air even: wood swells and shrinks with it, and the gap in the frame leaves room for that.",
    "Dust with a soft dry cloth. No water, no household cleaner, no furniture spray with silicone.",
    "Ask the maker which finish is on it before you renew it, and try any product on the back first.",
)


@dataclass(frozen=True)
class Listing:
    """A design with its finished solids, ready to be told about."""

    stack: Stack

    @property
    def design(self) -> Design:
        """The stack's design."""
        return self.stack.design

    @property
    def title(self) -> str:
        """What the maker calls it."""
        return self.design.title or "Inlaid panel"

    @cached_property
    def size(self) -> FramedSize:
        """Over all, mm."""
        return framed_size(self.design)

    @cached_property
    def panel_weight(self) -> float:
        """Weight of the trimmed panel without its frame, kg."""
        return sum(self._weight(solid) for solid in build_solids(self.stack, "finished"))

    @cached_property
    def frame_weight(self) -> float:
        """kg"""
        return sum(side.volume for side in frame_sides(self.design)) * self._density(self.design.frame.wood) * 1e-9

    @property
    def weight(self) -> float:
        """Weight of panel and frame at 12 % moisture content, kg; without finish, glue and hangers."""
        return self.panel_weight + self.frame_weight

    @cached_property
    def woods(self) -> tuple[str, ...]:
        """Those of the panel that are seen in its finished face, the most seen first."""
        seen: dict[str, float] = defaultdict(float)
        background = self.stack.finished_box
        for placed, remnant in zip(self.stack.pieces, self.stack.remnants, strict=True):
            for wood in woods_in(placed.piece):
                seen[self._name(wood)] += remnant.area
            background = background.difference(remnant)
        for part in self.stack.background:
            seen[self._name(part.wood)] += part.box.intersection(background).area
        return tuple(sorted((wood for wood, area in seen.items() if area > 0), key=lambda wood: (-seen[wood], wood)))

    @property
    def frame_wood(self) -> str:
        """Wood of the frame."""
        return self._name(self.design.frame.wood)

    @property
    def about(self) -> About:
        """For the metadata of its pictures."""
        words = f"Inlaid wood panel of {joined(self.woods)}, in a frame of {self.frame_wood}, {size_text(self.size)}."
        return About(self.title, words)

    @property
    def caption(self) -> str:
        """The line at the foot of its picture."""
        size = self.size
        return f"{self.title}  ·  {_by([size.width, size.height])} mm framed  ·  {RENDERING.lower()}"

    def _name(self, wood: str) -> str:
        species = find_wood(wood, self.design.woods)
        return species.common_name if species else wood

    def _density(self, wood: str) -> float:
        species = find_wood(wood, self.design.woods)
        return species.density if species else math.nan

    def _weight(self, solid: Solid) -> float:
        if solid.piece is None:
            density = self._density(solid.wood)
        else:
            density = self._piece_density(self.stack.pieces[solid.piece].piece)
        return solid.volume * density * 1e-9

    def _piece_density(self, piece: Piece) -> float:
        """Density of its wood, or of its blank's stripes by their widths."""
        if piece.blank is None:
            return self._density(piece.wood)
        stripes = piece.blank.stripes
        total = sum(stripe.width for stripe in stripes)
        return sum(stripe.width * self._density(stripe.wood) for stripe in stripes) / total


def joined(words: Sequence[str]) -> str:
    """ "one", "one and two", "one, two and three"."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def inches(mm: float) -> str:
    """Write a length in inches to the nearest eighth, such as 24 1/8."""
    eighths = round(mm / MM_PER_INCH * 8)
    whole, rest = divmod(eighths, 8)
    part = str(Fraction(rest, 8)) if rest else ""
    return " ".join(filter(None, (str(whole) if whole or not part else "", part)))


def size_text(size: FramedSize) -> str:
    """Width, height and depth in mm and in inches."""
    return f"{_by([size.width, size.height, size.depth])} mm ({inches_text(size)})"


def inches_text(size: FramedSize) -> str:
    """A length in inches alone."""
    return " × ".join(inches(side) for side in (size.width, size.height, size.depth)) + " in"


def _by(sides: Iterable[float]) -> str:
    return " × ".join(f"{round(side, 1):g}" for side in sides)


def mm_text(size: FramedSize) -> str:
    """Width, height and depth in mm, to a tenth."""
    return f"{_by([size.width, size.height, size.depth])} mm"


def weight_text(kilograms: float) -> str:
    """Write a weight in kg and lb, to a tenth."""
    return f"about {kilograms:.1f} kg ({kilograms * LB_PER_KG:.1f} lb)"
