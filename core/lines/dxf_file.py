"""A drawing as DXF R2010 in millimetres: closed polylines with bulges, or splines, on a layer for each side.

Bulges, group codes and $INSUNITS after the "DXF Reference" of its publisher (from memory); written by ezdxf.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .curve import Curve, as_cubics
from .cuts import LAYERS, NOTES
from .drawing import Drawing
from .svg_file import COLOURS

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

MILLIMETRES = 4
METRIC = 1


def dxf_text(drawing: Drawing, curves: Sequence[Curve], *, splines: bool = False) -> str:
    """The file's text. `curves` stand for the drawing's lines, one each, without cubics unless as splines."""
    from ezdxf.document import Drawing as Document  # heavy, and else loaded whenever Blender starts
    from ezdxf.enums import TextEntityAlignment

    document = Document.new("R2010")
    document.header["$INSUNITS"] = MILLIMETRES
    document.header["$MEASUREMENT"] = METRIC
    document.header["$EXTMIN"] = (0.0, 0.0, 0.0)
    document.header["$EXTMAX"] = (drawing.width, drawing.height, 0.0)
    for layer in (*LAYERS, NOTES):
        document.layers.add(layer, true_color=int(COLOURS[layer][1:], 16))
    space = document.modelspace()
    for line, curve in zip(drawing.lines, curves, strict=True):
        _add(space, curve, line.layer, splines)
    for points in drawing.strokes:
        space.add_lwpolyline(points.tolist(), dxfattribs={"layer": NOTES})
    for words in drawing.words:
        text = space.add_text(words.text, height=words.height, dxfattribs={"layer": NOTES})
        alignment = TextEntityAlignment.CENTER if words.middle else TextEntityAlignment.LEFT
        text.set_placement(words.at, align=alignment)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def _add(space: Modelspace, curve: Curve, layer: str, splines: bool) -> None:
    attributes = {"layer": layer}
    if curve.circle is not None:
        space.add_circle(curve.circle.centre, curve.circle.radius, dxfattribs=attributes)
        return
    if splines and curve.kinds.any():
        cubics = as_cubics(curve)
        controls = np.concatenate([cubics[:1, 0], cubics[:, 1:].reshape(-1, 2)])
        inner = np.repeat(np.arange(1, len(cubics)), 3)
        knots = [0.0] * 4 + inner.astype(float).tolist() + [float(len(cubics))] * 4
        space.add_open_spline([(x, y, 0.0) for x, y in controls.tolist()], 3, knots, dxfattribs=attributes)
        return
    nodes = curve.nodes[:-1] if curve.closed else curve.nodes
    bulges = np.concatenate([curve.bulges, [0.0]])[: len(nodes)]
    points = [(x, y, bulge) for (x, y), bulge in zip(nodes.tolist(), bulges.tolist(), strict=True)]
    space.add_lwpolyline(points, format="xyb", close=curve.closed, dxfattribs=attributes)
