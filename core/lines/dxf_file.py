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
    from ezdxf.entities.dxfgfx import DXFGraphic
    from ezdxf.layouts.layout import Modelspace

MILLIMETRES = 4
METRIC = 1
APPLICATION, TEXT_CODE = "GRAINSTACK", 1000
"""The name under which each line carries what it is, and the group code of a text there."""


def dxf_text(drawing: Drawing, curves: Sequence[Curve], *, splines: bool = False) -> str:
    """The file's text. `curves` stand for the drawing's lines, one each, without cubics unless as splines."""
    from ezdxf.document import Drawing as Document  # heavy, and else loaded whenever Blender starts
    from ezdxf.enums import TextEntityAlignment

    document = Document.new("R2010")
    document.header["$INSUNITS"] = MILLIMETRES
    document.header["$MEASUREMENT"] = METRIC
    for layer in (*LAYERS, NOTES):
        document.layers.add(layer, true_color=int(COLOURS[layer][1:], 16))
    document.appids.add(APPLICATION)
    space = document.modelspace()
    # Both: writing takes the header's from the model space, but for those that begin at 0, 0.
    document.header["$EXTMIN"], document.header["$EXTMAX"] = (0.0, 0.0, 0.0), (drawing.width, drawing.height, 0.0)
    space.reset_extents((0.0, 0.0, 0.0), (drawing.width, drawing.height, 0.0))
    space.reset_limits((0.0, 0.0), (drawing.width, drawing.height))
    alike: dict[str, list[DXFGraphic]] = {}
    for line, curve in zip(drawing.lines, curves, strict=True):
        entity = _add(space, curve, line.layer, splines)
        said = f"{line.name}, {line.setup.depth_text} mm, {line.setup.cutter}"
        entity.set_xdata(APPLICATION, [(TEXT_CODE, said)])
        alike.setdefault(f"{line.layer}-{line.setup.name}", []).append(entity)
    for name, entities in alike.items():
        document.groups.new(name, description=name).extend(entities)
    for points in drawing.strokes:
        space.add_lwpolyline(points.tolist(), dxfattribs={"layer": NOTES})
    for words in drawing.words:
        text = space.add_text(words.text, height=words.height, dxfattribs={"layer": NOTES})
        alignment = TextEntityAlignment.CENTER if words.middle else TextEntityAlignment.LEFT
        text.set_placement(words.at, align=alignment)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def _add(space: Modelspace, curve: Curve, layer: str, splines: bool) -> DXFGraphic:
    attributes = {"layer": layer}
    if curve.circle is not None:
        return space.add_circle(curve.circle.centre, curve.circle.radius, dxfattribs=attributes)
    if splines and curve.kinds.any():
        cubics = as_cubics(curve)
        controls = np.concatenate([cubics[:1, 0], cubics[:, 1:].reshape(-1, 2)])
        inner = np.repeat(np.arange(1, len(cubics)), 3)
        knots = [0.0] * 4 + inner.astype(float).tolist() + [float(len(cubics))] * 4
        return space.add_open_spline([(x, y, 0.0) for x, y in controls.tolist()], 3, knots, dxfattribs=attributes)
    nodes = curve.nodes[:-1] if curve.closed else curve.nodes
    bulges = np.concatenate([curve.bulges, [0.0]])[: len(nodes)]
    points = [(x, y, bulge) for (x, y), bulge in zip(nodes.tolist(), bulges.tolist(), strict=True)]
    return space.add_lwpolyline(points, format="xyb", close=curve.closed, dxfattribs=attributes)
