"""Every difference between Blender versions that we meet, one function each. Oldest supported: 4.2."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import bpy

TURNED_VECTOR = "Vector"
"""The input of a Vector Transform node that takes the vector: by name, since from 5.3 another comes first."""
NOISE = 0
"""The output of a Noise Texture node that is its value: by place, since it has had several names."""


def empty_material_tree(material: bpy.types.Material) -> bpy.types.ShaderNodeTree:
    """The node tree of a material, without nodes. Before 5.0 it must be asked for; from 5.0 it is always there."""
    if material.node_tree is None:
        material.use_nodes = True
    material.node_tree.nodes.clear()
    return material.node_tree


def empty_world_tree(world: bpy.types.World) -> bpy.types.ShaderNodeTree:
    """The node tree of a world, without nodes."""
    if world.node_tree is None:
        world.use_nodes = True
    world.node_tree.nodes.clear()
    return world.node_tree


def empty_light_tree(light: bpy.types.Light) -> bpy.types.ShaderNodeTree:
    """The node tree of a light, without nodes."""
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


@contextlib.contextmanager
def picture_output(scene: bpy.types.Scene) -> Iterator[None]:
    """The scene writes PNG. From 5.0 pictures and videos are different media."""
    with _output(scene, "IMAGE", "PNG"):
        yield


@contextlib.contextmanager
def video_output(scene: bpy.types.Scene) -> Iterator[None]:
    """The scene writes MP4 with H.264."""
    wanted = {"format": "MPEG4", "codec": "H264", "constant_rate_factor": "HIGH", "audio_codec": "NONE"}
    name, video = scene.name, scene.render.ffmpeg
    before = {key: getattr(video, key) for key in wanted}
    with _output(scene, "VIDEO", "FFMPEG"):
        try:
            for key, value in wanted.items():
                setattr(video, key, value)
            yield
        finally:
            if scene := bpy.data.scenes.get(name):  # undo may have made a new one
                for key, value in before.items():
                    setattr(scene.render.ffmpeg, key, value)


@contextlib.contextmanager
def _output(scene: bpy.types.Scene, medium: str, file_format: str) -> Iterator[None]:
    name, image = scene.name, scene.render.image_settings
    medium_before = getattr(image, "media_type", None)
    before = (image.file_format, image.color_mode)
    try:
        if medium_before is not None:
            image.media_type = medium
        image.file_format, image.color_mode = file_format, "RGB"
        yield
    finally:
        if scene := bpy.data.scenes.get(name):
            image = scene.render.image_settings
            if medium_before is not None:
                image.media_type = medium_before
            image.file_format, image.color_mode = before


def action_slot(holder: bpy.types.AnimData) -> bpy.types.bpy_struct | None:
    """Which part of its action the animation is; actions have such parts from 4.4 on."""
    return getattr(holder, "action_slot", None)


def set_action_slot(holder: bpy.types.AnimData, slot: bpy.types.bpy_struct | None) -> None:
    """Put it back."""
    if slot is not None:
        holder.action_slot = slot


def _fcurves(owner: bpy.types.ID) -> bpy.types.bpy_prop_collection | None:
    """The curves of its action: in 4.2 the action's own, from 5.0 those of its slot; 4.4 and 4.5 have both."""
    data = owner.animation_data
    action = data.action if data else None
    if action is None:
        return None
    if hasattr(action, "fcurves"):
        return action.fcurves
    bags = (strip.channelbag(data.action_slot) for layer in action.layers for strip in layer.strips)
    bag = next((bag for bag in bags if bag), None)
    return bag.fcurves if bag else None


def fcurve(owner: bpy.types.ID, path: str) -> bpy.types.FCurve | None:
    """The curve that animates a property; None where nothing does."""
    return next((curve for curve in _fcurves(owner) or () if curve.data_path == path), None)


def remove_fcurve(owner: bpy.types.ID, path: str) -> None:
    """Let a property be animated no more."""
    curves, curve = _fcurves(owner), fcurve(owner, path)
    if curves is not None and curve is not None:
        curves.remove(curve)
