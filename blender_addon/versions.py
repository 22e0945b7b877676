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


def empty_light_tree(light: bpy.types.Light) -> bpy.types.ShaderNodeTree:
    """The same for a light."""
    if light.node_tree is None:
        light.use_nodes = True
    light.node_tree.nodes.clear()
    return light.node_tree


def use_best_denoiser(scene: bpy.types.Scene) -> bool:
    """Denoise Cycles pictures with OpenImageDenoise, guided by colour and normals; False where the build has none."""
    cycles = scene.cycles
    try:
        cycles.use_denoising = True
        cycles.denoiser = "OPENIMAGEDENOISE"
        cycles.denoising_input_passes = "RGB_ALBEDO_NORMAL"
        cycles.denoising_prefilter = "ACCURATE"
    except (AttributeError, TypeError):
        cycles.use_denoising = False
    return cycles.use_denoising


def standard_view(scene: bpy.types.Scene, exposure: float) -> None:
    """Plain sRGB: the one view transform that shows the wood's own colours, whatever the user's default is."""
    scene.display_settings.display_device = "sRGB"
    settings = scene.view_settings
    settings.view_transform, settings.look = "Standard", "None"
    settings.exposure, settings.gamma = exposure, 1.0
