"""The overlap map as flat faces: a hue for the number of layers, darker where the pockets go deeper."""

from __future__ import annotations

from collections.abc import Sequence

import bpy

from ...core.solids.triangulate import triangulate_shape
from ...core.views.overlap_map import OverlapRegion
from ...core.woods import colour
from ..designs import OpenDesign
from ..meshes import fill_faces
from ..studio.picture_words import KeyEntry
from ..studio.sheet import flat_material, flat_name

BARE = "#e9e4da"
HUES = ("#8fb9d6", "#e8b04a", "#cf5f4c", "#8c4f9e")
"""For one, two, three, and four or more layers; they differ in lightness too, for eyes that see no hue."""
DARKEST = 0.55
"""How much of its hue's light the deepest region of a kind keeps."""


def make_map(item: bpy.types.Object, opened: OpenDesign) -> None:
    """Fill the map's object in the colours that it needs, where it does not hold this design's map already.

    Colours that are missing are made, which is safe only within a step of undo.
    """
    mesh = item.data
    if _holds(mesh, opened):
        return
    mesh.materials.clear()
    for hex_colour in _colours(opened.regions):
        mesh.materials.append(flat_material(hex_colour))
    _fill(mesh, opened)


def refill_map(item: bpy.types.Object, opened: OpenDesign) -> None:
    """Fill the map's object in the colours that it has, where they are the ones that it needs."""
    mesh = item.data
    names = [material.name for material in mesh.materials if material is not None]
    if not _holds(mesh, opened) and names == [flat_name(hex_colour) for hex_colour in _colours(opened.regions)]:
        _fill(mesh, opened)


def _holds(mesh: bpy.types.Mesh, opened: OpenDesign) -> bool:
    return bool(mesh.grainstack.stamp == opened.fingerprint and mesh.vertices)


def _fill(mesh: bpy.types.Mesh, opened: OpenDesign) -> None:
    faces = [triangulate_shape(region.shape) for region in opened.regions]
    fill_faces(mesh, faces, -opened.stack.design.panel.face_trim)
    mesh.grainstack.stamp = opened.fingerprint


def key(regions: Sequence[OverlapRegion]) -> list[KeyEntry]:
    """The map's colours and what they mean."""
    return list(zip(_colours(regions), map(_words, regions), strict=True))


def _words(region: OverlapRegion) -> str:
    if not region.layers:
        return "background"
    return f"{region.layers} {'layer' if region.layers == 1 else 'layers'}, {region.depth:.2f}"


def _colours(regions: Sequence[OverlapRegion]) -> list[str]:
    return [_colour(region, regions) for region in regions]


def _colour(region: OverlapRegion, regions: Sequence[OverlapRegion]) -> str:
    if not region.layers:
        return BARE
    depths = sorted({other.depth for other in regions if other.layers == region.layers})
    share = depths.index(region.depth) / max(len(depths) - 1, 1)
    light = colour.linear_from_srgb(colour.srgb_from_hex(HUES[min(region.layers, len(HUES)) - 1]))
    return colour.hex_from_srgb(colour.srgb_from_linear(light * (1 - (1 - DARKEST) * share)))
