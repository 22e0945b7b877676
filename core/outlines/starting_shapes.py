"""Shapes to start a piece from, about their own middle, as outlines of the design file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

ROUND = 0.5522847498
"""Handle of a quarter circle's cubic, of its radius: 4/3 tan(22.5°), derived from meeting the arc at its middle."""


def leaf(size: float) -> dict[str, Any]:
    """Pointed at both ends, 0.45 times as wide as it is long."""
    half, bulge = _tidy(size / 2), _tidy(0.3 * size)
    return {"path": f"M {-half:g} 0 C {-half / 3:g} {-bulge:g} {half / 3:g} {-bulge:g} {half:g} 0 "
                    f"C {half / 3:g} {bulge:g} {-half / 3:g} {bulge:g} {-half:g} 0 Z"}  # fmt: skip


def disc(size: float) -> dict[str, Any]:
    """A circle of that diameter."""
    r, k = _tidy(size / 2), _tidy(size / 2 * ROUND)
    quarters = [(r, k, k, r, 0, r), (-k, r, -r, k, -r, 0), (-r, -k, -k, -r, 0, -r), (k, -r, r, -k, r, 0)]
    curves = " ".join("C " + " ".join(f"{value:g}" for value in quarter) for quarter in quarters)
    return {"path": f"M {r:g} 0 {curves} Z"}


def rectangle(size: float) -> dict[str, Any]:
    """Half as high as it is wide."""
    x, y = _tidy(size / 2), _tidy(size / 4)
    return {"path": f"M {-x:g} {-y:g} L {x:g} {-y:g} L {x:g} {y:g} L {-x:g} {y:g} Z"}


def line(size: float, width: float) -> dict[str, Any]:
    """A groove with a gentle bow."""
    x, y = _tidy(size / 2), _tidy(size / 10)
    return {"line": [[-x, -y], [0, y], [x, -y]], "width": width, "smooth": True}


SHAPES: dict[str, Callable[[float], dict[str, Any]]] = {"leaf": leaf, "disc": disc, "rectangle": rectangle}


def _tidy(value: float) -> float:
    tidy = round(value, 4)
    return int(tidy) if tidy == int(tidy) else tidy
