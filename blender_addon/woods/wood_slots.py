"""The materials of a solid: its woods in their order, boards from photos among them, and the glue of its joints."""

from __future__ import annotations

import bpy

from ...core.boards.figure import GLUE, Lay
from ...core.woods import colour
from ...core.woods.species import find_wood, folded
from .. import versions
from ..designs import OpenDesign
from .photo_material import photo_material
from .wood_material import material_for, short_digest

GLUE_COLOUR = "#3b2b1c"
"""Width of joints in a blank, pressed so tight that they show as a dark line, whatever the glue (by eye)."""
GLUE_LINES = "Glue Lines"
"""The name of the glue between inserts and pockets."""


def words_of(opened: OpenDesign, name: str) -> str:
    """What a solid is made of: the same for the same materials, another for others."""
    if name == GLUE_LINES:
        return f"glue {opened.stack.design.workshop.glue_colour}"
    return "\n".join(words_of_wood(opened, wood) for wood in opened.lays[name].woods)


def materials_of(opened: OpenDesign, name: str) -> list[bpy.types.Material]:
    """These woods as materials, made on first use."""
    if name == GLUE_LINES:
        return [glue_material(opened.stack.design.workshop.glue_colour or GLUE_COLOUR)]
    return [material_of(opened, wood) for wood in opened.lays[name].woods]


def glue_material(hex_colour: str) -> bpy.types.Material:
    """Hard glue of a colour: matt, and lit like the wood beside it."""
    name = f"Grainstack glue {hex_colour}"
    made = bpy.data.materials.get(name)
    if made is not None and made.library is None:
        return made
    material = bpy.data.materials.new(name)
    tree = versions.empty_material_tree(material)
    surface = tree.nodes.new("ShaderNodeBsdfDiffuse")
    rgba = (*colour.linear_from_srgb(colour.srgb_from_hex(hex_colour)), 1.0)
    surface.inputs["Color"].default_value = material.diffuse_color = rgba
    output = tree.nodes.new("ShaderNodeOutputMaterial")
    tree.links.new(surface.outputs[0], output.inputs["Surface"])
    return material


def photos_of(opened: OpenDesign, lay: Lay) -> str:
    """What of the photos the mesh of a solid depends on; nothing for the most."""
    boards = [opened.boards[folded(wood)] for wood in lay.woods if folded(wood) in opened.boards]
    return short_digest(*boards) if boards else ""


def words_of_wood(opened: OpenDesign, wood: str) -> str:
    """What one wood of a design is, in words."""
    if wood == GLUE:
        return "glue"
    species = find_wood(wood, opened.stack.design.woods)
    if species is None or not species.looks_like:
        return wood
    return f"{wood} {short_digest(species, opened.boards.get(folded(wood)))}"


def material_of(opened: OpenDesign, wood: str) -> bpy.types.Material:
    """The material of one wood of a design, or of the glue between woods; made on first use."""
    if wood == GLUE:
        return glue_material(GLUE_COLOUR)
    own = opened.stack.design.woods
    species, board = find_wood(wood, own), opened.boards.get(folded(wood))
    return material_for(wood, own) if species is None or board is None else photo_material(species, board)
