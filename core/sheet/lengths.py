"""Lengths as they are read at a bench: in millimetres, and in fractions of an inch with what is left over."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal

from ..pages.listing_facts import MM_PER_INCH

Units = Literal["mm", "inch", "both"]
FINEST = 64
"""Fractions of an inch go down to one of so many parts, as rules and calipers do (common practice)."""
ROUNDING = 1e-9
"""Lengths that come out of a sum a hair below one half of the last place are rounded up like it, mm."""
_TOLD_OVER = re.compile(r" (?:less|plus) 0\.\d+$")
MM3_PER_BOARD_FOOT = 144 * MM_PER_INCH**3
"""A board foot is 144 cubic inches."""


def fraction_of_inch(length: float) -> tuple[Fraction, float]:
    """The nearest 64th of an inch, and how much the length is more than that, in inches; the length is in mm."""
    inches = length / MM_PER_INCH
    nearest = Fraction(round(inches * FINEST), FINEST)
    return nearest, inches - float(nearest)


def inch_text(length: float) -> str:
    """Such as ``7/32 in less 0.002``: a fraction, then what is left over in thousandths where there is any."""
    nearest, over = fraction_of_inch(length)
    sign = "-" if nearest < 0 else ""
    whole, rest = divmod(abs(nearest), 1)
    words = " ".join([*([str(whole)] if whole or not rest else []), *([str(rest)] if rest else [])])
    thousandths = round(abs(over), 3)
    less = (over < 0) != (nearest < 0)
    left_over = f" {'less' if less else 'plus'} {thousandths:.3f}" if thousandths else ""
    return f"{sign}{words} in{left_over}"


def near_inch_text(length: float) -> str:
    """Such as ``7/32 in``: the nearest 64th alone, beside millimetres that say it exactly."""
    return _TOLD_OVER.sub("", inch_text(length))


def mm_text(length: float, decimals: int = 2) -> str:
    """Such as ``5.50 mm``."""
    return f"{length + ROUNDING:.{decimals}f} mm"


def length_text(length: float, units: Units, decimals: int = 2) -> str:
    """A length in mm as the maker wants to read it."""
    if units == "mm":
        return mm_text(length, decimals)
    if units == "inch":
        return inch_text(length)
    return f"{mm_text(length, decimals)} ({near_inch_text(length)})"


def size_text(sizes: tuple[float, ...], units: Units, decimals: int = 1) -> str:
    """Sides in mm, by × between them: such as ``40.0 × 12.0 mm (1 37/64 × 15/32 in)``."""
    in_mm = " × ".join(f"{side + ROUNDING:.{decimals}f}" for side in sizes) + " mm"
    in_inches = " × ".join(map(inch_text, sizes))
    near = " × ".join(near_inch_text(side).removesuffix(" in") for side in sizes) + " in"
    return {"mm": in_mm, "inch": in_inches, "both": f"{in_mm} ({near})"}[units]


def board_feet(volume: float) -> float:
    """Board feet of a volume in mm³."""
    return volume / MM3_PER_BOARD_FOOT
