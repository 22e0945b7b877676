"""SVG path data, read strictly, as runs of cubic Béziers.

The grammar is that of the SVG standard (version 2, chapter 9.3.9). It is checked here, since the library
that reads the data passes over what it does not know.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from svgelements import Arc, Close, CubicBezier, Move, QuadraticBezier
from svgelements import Path as SvgPath

from ..errors import UnusableInput
from ..limits import MOST_CHARACTERS, count_text
from .curves import Array, arc_cubics, line_cubics, quadratic_cubic

_NUMBER = r"(?>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)"
_GAP = r"(?>\s*,?\s*)"
_FLAG = "[01]"
_ARC = (_NUMBER, _NUMBER, _NUMBER, _FLAG, _FLAG, _NUMBER, _NUMBER)
_ARGUMENTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2}
LARGEST = 1e7


def _command(letter: str, arguments: tuple[str, ...]) -> str:
    one = _GAP.join(arguments)
    return rf"[{letter}{letter.lower()}]\s*{one}(?:{_GAP}{one})*"


_PLAIN = [_command(letter, (_NUMBER,) * count) for letter, count in _ARGUMENTS.items()]
_COMMAND = re.compile("|".join([r"[Zz]", _command("A", _ARC), *_PLAIN]))
_SPACE = re.compile(r"\s*")


class BadPathData(ValueError):
    """Path data that breaks the grammar; the message says where."""


@dataclass(frozen=True)
class Subpath:
    """One run of the pen, as cubics (m, 4, 2), m > 0."""

    cubics: Array
    closed: bool
    """Ends with Z, or where it began."""


@lru_cache(maxsize=2048)  # a design under edit is read again and again; arrays are never written to
def read_path_data(data: str) -> tuple[Subpath, ...]:
    """The subpaths of SVG path data, in its own units and axes. Runs without length are left out.

    Raises:
        BadPathData: the data break the grammar, or are too large to be meant.
    """
    if len(data) > MOST_CHARACTERS:
        many = f"{count_text(len(data))} characters are too many; at most {count_text(MOST_CHARACTERS)} are read"
        raise BadPathData(many)
    _check_grammar(data)
    try:
        return _runs(data)
    except (ArithmeticError, LookupError, ValueError):  # such as an arc whose radius is 1e-320
        raise BadPathData("it has numbers too large or too small to be meant") from None


def _runs(data: str) -> tuple[Subpath, ...]:
    runs: list[tuple[list[Array], bool]] = []
    pen_down = False
    for segment in SvgPath(data):
        if isinstance(segment, Move):
            pen_down = False
            continue
        if not pen_down:
            runs.append(([], False))
            pen_down = True
        runs[-1][0].append(_cubics(segment))
        if isinstance(segment, Close):
            runs[-1] = (runs[-1][0], True)
            pen_down = False
    return tuple(_subpath(np.vstack(cubics), closed) for cubics, closed in runs)


def closed_subpaths(data: str, place: str) -> tuple[Subpath, ...]:
    """The subpaths of a design's path outline.

    Raises:
        UnusableInput: the data at `place` cannot be read, draw nothing, or leave a ring open.
    """
    try:
        subpaths = read_path_data(data)
    except BadPathData as error:
        raise UnusableInput("", place, f"the path data are bad: {error}", "Mend or draw it again") from None
    if not subpaths:
        raise UnusableInput("", place, "the path draws nothing", "Give it lines or curves after M")
    if not all(subpath.closed for subpath in subpaths):
        raise UnusableInput("", place, "the path is open", "End each of its rings with Z")
    return subpaths


def _check_grammar(data: str) -> None:
    position = _end_of_space(data, 0)
    if data[position : position + 1] not in ("M", "m"):
        raise BadPathData("it must begin with M and a point")
    while position < len(data):
        match = _COMMAND.match(data, position)
        position = _end_of_space(data, match.end() if match else position)
        if match is None or not (position == len(data) or data[position].isalpha()):
            rest = data[position : position + 12]
            raise BadPathData(f'it cannot be read from character {position + 1} on, "{rest}"')


def _end_of_space(data: str, position: int) -> int:
    match = _SPACE.match(data, position)
    return match.end() if match else position


def _cubics(segment: object) -> Array:
    start, end = _point(segment.start), _point(segment.end)  # type: ignore[attr-defined]
    if isinstance(segment, CubicBezier):
        return np.array([[start, _point(segment.control1), _point(segment.control2), end]])
    if isinstance(segment, QuadraticBezier):
        return quadratic_cubic(start, _point(segment.control), end)
    if isinstance(segment, Arc) and segment.sweep:  # an arc without radius is a line
        centre = _point(segment.center)
        axes = _point(segment.prx) - centre, _point(segment.pry) - centre
        cubics = arc_cubics(centre, *axes, float(segment.get_start_t()), float(segment.sweep))
        cubics[0, 0], cubics[-1, 3] = start, end
        return cubics
    return line_cubics(np.array([start, end]))


def _point(point: object) -> Array:
    return np.array([point.x, point.y], np.float64)  # type: ignore[attr-defined]


def _subpath(cubics: Array, closed: bool) -> Subpath:
    if not np.all(np.abs(cubics) <= LARGEST):
        raise BadPathData("it has numbers too large to be meant")
    return Subpath(cubics, closed or bool(np.array_equal(cubics[0, 0], cubics[-1, 3])))
