"""Fields that say and change where the section plane lies; the object itself keeps it."""

from __future__ import annotations

import math
from typing import Any

import bpy
from bpy.props import FloatProperty

from ..scene.section_plane import place, plane_of, pose_of
from . import fields


def _middle(scene: bpy.types.Scene) -> tuple[float, float] | None:
    if not scene.grainstack.document:
        return None
    panel = fields.panel_of(scene)
    return panel["width"] / 2, panel["height"] / 2


def _normal(angle: float) -> tuple[float, float]:
    """Towards the half that stays."""
    return -math.sin(math.radians(angle)), math.cos(math.radians(angle))


def _get_position(settings: Any) -> float | None:
    item, middle = plane_of(settings.id_data), _middle(settings.id_data)
    if item is None or middle is None:
        return None
    x, y, angle = pose_of(item)
    nx, ny = _normal(angle)
    return (x - middle[0]) * nx + (y - middle[1]) * ny


def _set_position(settings: Any, value: float) -> None:
    item, before = plane_of(settings.id_data), _get_position(settings)
    if item is None or before is None:
        return
    x, y, angle = pose_of(item)
    nx, ny = _normal(angle)
    with fields.telling(settings.id_data):
        place(item, x + (value - before) * nx, y + (value - before) * ny, angle)


def _get_angle(settings: Any) -> float:
    item = plane_of(settings.id_data)
    return 0.0 if item is None else math.radians(pose_of(item)[2])


def _set_angle(settings: Any, value: float) -> None:
    item = plane_of(settings.id_data)
    if item is not None:
        with fields.telling(settings.id_data):
            x, y, _ = pose_of(item)
            place(item, x, y, math.degrees(value))


def section_fields() -> dict[str, Any]:
    """Fields of the section plane, by name; all belong to a scene."""
    return {
        "section_position": fields.scaled(
            "Position",
            "How far the section plane lies from the middle of the panel, in the direction of the arrows",
            fields.MM,
            _get_position,
            _set_position,
        ),
        "section_angle": FloatProperty(
            name="Angle",
            description="How far the section plane is turned; the half that the arrows point at stays",
            subtype="ANGLE",
            get=_get_angle,
            set=_set_angle,
            options=set(),
        ),
    }
