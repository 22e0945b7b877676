"""The wood as other eyes see it, at once in every viewport and picture: a matrix on all wood colours.

Wood materials look the matrix up in the scene, so that none is made or changed. Only wood is shown so: lights keep
their tint. Exact pictures are made by `core.pages.reading_sheet`, of finished ones.
"""

from __future__ import annotations

from typing import Literal

import bpy
import numpy as np

from ...core.woods import vision
from .node_maths import Value, arrange, combine, node

ROWS = ("grainstack_seen_red", "grainstack_seen_green", "grainstack_seen_blue")
"""Properties of a scene: the matrix less the unit matrix, row by row. A scene without them is seen by normal eyes."""
SHARED = "Grainstack eyes"
KINDS = (
    ("normal", "Normal Eyes", "See the woods in all their colours", 0),
    ("greyscale", "Greyscale", "See how light the woods are, and no colour: does the picture still read?", 1),
    ("protan", "Red-Blind Eyes", "See the woods as eyes that do not see red (protan)", 2),
    ("deutan", "Green-Blind Eyes", "See the woods as eyes that do not see green (deutan)", 3),
    ("tritan", "Blue-Blind Eyes", "See the woods about as eyes that do not see blue (tritan)", 4),
)


Kind = vision.Eyes | Literal["greyscale"]


def look_with(scene: bpy.types.Scene, kind: Kind) -> None:
    """Show all wood of a scene as one of `KINDS` sees it."""
    unit = np.eye(3)
    columns = vision.grey(unit) if kind == "greyscale" else vision.seen_by(unit, kind)
    for name, row in zip(ROWS, columns.T - unit, strict=True):
        scene[name] = row.tolist()
    scene.update_tag()


def seen(colour: Value) -> Value:
    """A colour of a wood material as the scene wants it seen."""
    group = colour.tree.nodes.new("ShaderNodeGroup")
    group.node_tree = bpy.data.node_groups.get(SHARED) or _group()
    colour.tree.links.new(colour.socket, group.inputs[0])
    return Value(colour.tree, group.outputs[0])


def _group() -> bpy.types.ShaderNodeTree:
    tree = bpy.data.node_groups.new(SHARED, "ShaderNodeTree")
    for way in ("INPUT", "OUTPUT"):
        tree.interface.new_socket("Colour", in_out=way, socket_type="NodeSocketColor")
    colour = Value(tree, tree.nodes.new("NodeGroupInput").outputs[0])
    rows = [
        node(tree, "ShaderNodeAttribute", {}, "Vector", attribute_name=name, attribute_type="VIEW_LAYER")
        for name in ROWS
    ]
    change = combine(tree, *(colour.vector("DOT_PRODUCT", colour, row, output="Value") for row in rows))
    result = colour.vector("MAXIMUM", colour.vector("ADD", colour, change), (0.0, 0.0, 0.0))
    tree.links.new(result.socket, tree.nodes.new("NodeGroupOutput").inputs[0])
    arrange(tree)
    return tree
