"""Every difference between Blender versions that we meet, one function each. Oldest supported: 4.2."""

from __future__ import annotations

import bpy


def empty_material_tree(material: bpy.types.Material) -> bpy.types.ShaderNodeTree:
    """The node tree of a material, without nodes. Before 5.0 it must be asked for; from 5.0 it is always there."""
    if material.node_tree is None:
        material.use_nodes = True
    material.node_tree.nodes.clear()
    return material.node_tree


def empty_world_tree(world: bpy.types.World) -> bpy.types.ShaderNodeTree:
    """The same for a world."""
    if world.node_tree is None:
        world.use_nodes = True
    world.node_tree.nodes.clear()
    return world.node_tree
