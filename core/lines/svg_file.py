"""A drawing as SVG in real millimetres: a group for each layer, named by its id, nothing transformed.

After "Scalable Vector Graphics (SVG) 2", W3C: width, height and viewBox, path data (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

import numpy as np
import numpy.typing as npt

from .curve import Curve, Kind, radius_of
from .cuts import LAYERS, NOTES, Line, Setup
from .drawing import Drawing, Words

Array = npt.NDArray[np.float64]

COLOURS = {
    "POCKET_EDGE": "#c00000",
    "POCKET_ISLAND": "#e07000",
    "INSERT_HOLE": "#007070",
    "INSERT_EDGE": "#0040c0",
    "GROOVE_CENTRE": "#800080",
    NOTES: "#404040",
}
LONGEST = math.tan(math.radians(120.0) / 4)
"""Bulge of the longest arc that is written as one."""
CUT_WIDTH, NOTES_WIDTH = 0.25, 0.2
"""Widths of lines, mm; machines cut along their middle."""


def svg_text(drawing: Drawing, curves: Sequence[Curve]) -> str:
    """The file's text. `curves` stand for the drawing's lines, one each."""
    width, height = _number(drawing.width), _number(drawing.height)
    size = f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    groups = "\n".join(_layer(drawing, curves, layer) for layer in LAYERS)
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" version="1.1" {size}>
<title>{escape(drawing.name)}</title>
{groups}
{_notes(drawing)}
</svg>
"""


def _layer(drawing: Drawing, curves: Sequence[Curve], layer: str) -> str:
    """A layer's group, and in it one for each depth and cutter."""
    groups: dict[Setup, list[str]] = {}
    for line, curve in zip(drawing.lines, curves, strict=True):
        if line.layer == layer:
            groups.setdefault(line.setup, []).append(_path(curve, drawing.height, line))
    inner = [_setup(layer, setup, paths) for setup, paths in groups.items()]
    return _group(layer, inner)


def _setup(layer: str, setup: Setup, paths: Sequence[str]) -> str:
    title = f"{layer}, {setup.depth_text} mm, {setup.cutter}"
    return "\n".join([f'<g id="{layer}-{setup.name}">', f"<title>{escape(title)}</title>", *paths, "</g>"])


def _group(layer: str, inner: Sequence[str]) -> str:
    wide = NOTES_WIDTH if layer == NOTES else CUT_WIDTH
    opened = f'<g id="{layer}" fill="none" stroke="{COLOURS[layer]}" stroke-width="{wide}">'
    return "\n".join([opened, *inner, "</g>"])


def _path(curve: Curve, top: float, line: Line) -> str:
    if curve.circle is not None:
        x, y = curve.circle.centre
        return (
            f'<circle id="{line.name}" cx="{_number(x)}" cy="{_number(top - y)}" r="{_number(curve.circle.radius)}"/>'
        )
    words = ["M", _point(curve.nodes[0], top)]
    last = len(curve.kinds) - 1
    for index, (kind, start, end) in enumerate(zip(curve.kinds, curve.nodes[:-1], curve.nodes[1:], strict=True)):
        if kind == Kind.CUBIC:
            words += ["C", *(_point(point, top) for point in (*curve.handles[index], end))]
        elif kind == Kind.ARC:
            words += _arcs(start, end, float(curve.bulges[index]), top)
        elif index < last or not curve.closed:
            words += ["L", _point(end, top)]
    return f'<path id="{line.name}" d="{" ".join([*words, "Z"] if curve.closed else words)}"/>'


def _arcs(start: Array, end: Array, bulge: float, top: float) -> list[str]:
    """An arc, as two halves where it is long; with y down what runs counter-clockwise has no sweep flag.

    SVG gives an arc's radius and ends and leaves its middle to be reckoned: near half a circle that is off by the root
    of what the numbers are rounded by.
    """
    if abs(bulge) > LONGEST:
        half = math.tan(math.atan(bulge) / 2)
        chord = end - start
        middle = (start + end) / 2 + bulge / 2 * np.array([chord[1], -chord[0]])
        return [*_arcs(start, middle, half, top), *_arcs(middle, end, half, top)]
    radius = _number(radius_of(start, end, bulge))
    return ["A", f"{radius} {radius} 0 0 {int(bulge < 0)}", _point(end, top)]


def _notes(drawing: Drawing) -> str:
    strokes = [
        '<path d="M ' + " L ".join(_point(point, drawing.height) for point in points) + '"/>'
        for points in drawing.strokes
    ]
    words = [_words(each, drawing.height) for each in drawing.words]
    return _group(NOTES, [*strokes, *words])


def _words(words: Words, top: float) -> str:
    x, y = words.at
    anchor = ' text-anchor="middle"' if words.middle else ""
    style = f'font-family="sans-serif" font-size="{words.height / 0.72:.2f}" fill="{COLOURS[NOTES]}" stroke="none"'
    return f'<text x="{_number(x)}" y="{_number(top - y)}"{anchor} {style}>{escape(words.text)}</text>'


def _point(point: Array, top: float) -> str:
    return f"{_number(float(point[0]))} {_number(top - float(point[1]))}"


def _number(value: float) -> str:
    """Four decimals: a tenth of a micrometre."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
