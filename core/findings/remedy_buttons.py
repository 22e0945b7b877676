"""A remedy that is one step, in the words of a button."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import cast

from ..cutter.sizes import diameter_text
from ..design import Piece, Point
from .finding import Step


def step_words(step: Step, piece: Piece) -> str:
    """What taking the step does to the piece, verb first, such as "Set pocket depth to 6.20 mm"."""
    words = _WORDS.get(step.key)
    return words(step, piece) if words else f"Set {step.key.replace('_', ' ')} to {_value(step.value)}"


def _value(value: object) -> str:
    return f"{value:.2f} mm" if isinstance(value, (int, float)) else str(value)


def _grain(step: Step, piece: Piece) -> str:
    return f"Turn the grain to {step.value:.0f}°"


def _wood(step: Step, piece: Piece) -> str:
    return f"Change the wood to {step.value}"


def _scale(step: Step, piece: Piece) -> str:
    return f"Scale {piece.id} by {cast(float, step.value) / piece.scale:.4g}"


def _cutter(step: Step, piece: Piece) -> str:
    return f"Set cutter diameter to {diameter_text(cast(float, step.value))}"


def _fit(step: Step, piece: Piece) -> str:
    return "Set fit to rounded" if step.value == "rounded" else "Set fit to as drawn"


def _after(step: Step, piece: Piece) -> str:
    """Only the ids that join those which the piece comes after already."""
    assert isinstance(step.value, tuple)
    joining = [str(name) for name in step.value if name not in piece.after]
    return f"Cut {piece.id} after {' and '.join(joining)}"


def _at(step: Step, piece: Piece) -> str:
    """By its longer way, where the other one is nothing to speak of."""
    x, y = (to - start for to, start in zip(cast(Point, step.value), piece.at, strict=True))
    ways = [(x, "right", "left"), (y, "up", "down")]
    told = [f"{abs(way):.2f} mm {plus if way > 0 else minus}" for way, plus, minus in ways if abs(way) >= 0.005]
    return f"Move {piece.id} {' and '.join(told) or f'{math.hypot(x, y):.3f} mm'}"


def _leaves(step: Step, piece: Piece) -> str:
    return "Book-match it from 2 leaves" if step.value == 2 else f"Glue it up from {step.value} leaves"


_WORDS: dict[str, Callable[[Step, Piece], str]] = {
    "grain": _grain,
    "wood": _wood,
    "scale": _scale,
    "cutter_diameter": _cutter,
    "fit": _fit,
    "after": _after,
    "at": _at,
    "leaves": _leaves,
}
