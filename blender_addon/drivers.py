"""Drivers by settings of a scene: simple expressions, which run with scripts off, animate and render."""

from __future__ import annotations

from collections.abc import Sequence

import bpy


def drive(
    item: bpy.types.ID,
    scene: bpy.types.Scene,
    channel: str,
    expression: str,
    index: int = 2,
    names: Sequence[str] = ("view", "explosion"),
) -> None:
    """Drive a part of a channel (of a vector by default its z) by settings of the scene."""
    driver = item.driver_add(channel, index).driver
    driver.type = "SCRIPTED"
    for name in names:
        variable = driver.variables.new()
        variable.name, variable.type = name, "SINGLE_PROP"
        target = variable.targets[0]
        target.id_type, target.id, target.data_path = "SCENE", scene, f"grainstack.{name}"
    driver.expression = expression


def say(item: bpy.types.ID, channel: str, expression: str, index: int = 2) -> None:
    """Let a driver that is there say this; nothing is created, and nothing written that is so already."""
    curves = item.animation_data.drivers if item.animation_data else ()
    for curve in curves:
        if (curve.data_path, curve.array_index) == (channel, index) and curve.driver.expression != expression:
            curve.driver.expression = expression
