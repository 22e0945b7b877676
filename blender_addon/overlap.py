"""The overlap map as flat faces: a hue for the number of layers, darker where the pockets go deeper."""

from __future__ import annotations

import bpy

from .annotations import KeyEntry, flat_material
from .core import colour
from .core.overlap_map import OverlapRegion, overlap_regions
from .core.stack import Stack
from .core.triangulate import triangulate_shape
from .meshes import fill_faces
from .scene import set_hidden

BARE = "#e9e4da"
HUES = ("#8fb9d6", "#e8b04a", "#cf5f4c", "#8c4f9e")
"""For one, two, three, and four or more layers; they differ in lightness too, for eyes that see no hue."""
DARKEST = 0.55
"""How much of its hue's light the deepest region of a kind keeps."""


def fill_map(item: bpy.types.Object, stack: Stack | None) -> None:
    """Fill the map's object, or hide it when there is no stack."""
    set_hidden(item, stack is None)
    mesh = item.data
    mesh.clear_geometry()
    mesh.materials.clear()
    if stack is None:
        return
    regions = overlap_regions(stack)
    for hex_colour in _colours(regions):
        mesh.materials.append(flat_material(hex_colour))
    faces = [triangulate_shape(region.shape) for region in regions]
    fill_faces(mesh, faces, -stack.design.panel.face_trim)


def key(stack: Stack) -> list[KeyEntry]:
    """The map's colours and what they mean."""
    regions = overlap_regions(stack)
    return list(zip(_colours(regions), map(_words, regions), strict=True))


def _words(region: OverlapRegion) -> str:
    if not region.layers:
        return "background"
    return f"{region.layers} {'layer' if region.layers == 1 else 'layers'}, {region.depth:.2f}"


def _colours(regions: list[OverlapRegion]) -> list[str]:
    return [_colour(region, regions) for region in regions]


def _colour(region: OverlapRegion, regions: list[OverlapRegion]) -> str:
    if not region.layers:
        return BARE
    depths = sorted({other.depth for other in regions if other.layers == region.layers})
    share = depths.index(region.depth) / max(len(depths) - 1, 1)
    light = colour.linear_from_srgb(colour.srgb_from_hex(HUES[min(region.layers, len(HUES)) - 1]))
    return colour.hex_from_srgb(colour.srgb_from_linear(light * (1 - (1 - DARKEST) * share)))
