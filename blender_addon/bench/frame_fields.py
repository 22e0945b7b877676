"""The fields of the frame that the listing picture hangs the panel in; like all fields they edit the design's JSON."""

from __future__ import annotations

import json
from typing import Any

from bpy.props import BoolProperty, EnumProperty, FloatVectorProperty

from ...core.design import Frame
from ...core.solids.frame import check_frame, frame_depth
from ...core.woods import colour
from ..scene import conversion
from . import fields

PROFILES = (
    ("square", "Square", "A flat face", 0),
    ("bevel", "Bevel", "A face that slopes down to the panel", 1),
    ("round", "Round", "A face rounded over from edge to edge", 2),
)
LENGTHS = {
    "width": ("Frame Width", "Width of the frame's face, seen from the front"),
    "depth": ("Frame Depth", "Depth of the frame from back to front, with the ledge under the panel"),
    "reveal": ("Gap", "Gap between panel and frame on each side: room for the panel to move"),
}


def _frame(settings: Any) -> Frame:
    record = fields.head_record(settings)
    return record.frame if record else Frame()


def _edit(settings: Any, **values: Any) -> None:
    scene = settings.id_data
    with fields.telling(scene):
        head = json.loads(settings.document)
        changed = {**head, "frame": {**head.get("frame", {}), **values}}
        check_frame(conversion.head_design(conversion.head_of(changed), conversion.path_of(scene)))
        fields.set_document(scene, changed)


def _length(settings: Any, key: str) -> float | None:
    record = fields.head_record(settings)
    if record is None:
        return None
    return frame_depth(record) if key == "depth" else getattr(record.frame, key)


def _wall(settings: Any) -> tuple[float, ...]:
    return tuple(colour.srgb_from_hex(_frame(settings).wall).tolist())


def _set_wall(settings: Any, seen: Any) -> None:
    wall = colour.hex_from_srgb(list(seen))
    if wall != _frame(settings).wall:
        _edit(settings, wall=wall)


def frame_fields() -> dict[str, Any]:
    """Fields of the frame, by name; all belong to a scene."""
    made: dict[str, Any] = {
        "frame_wood": fields.wood_field(
            "Frame Wood",
            "The wood of the frame",
            lambda self: _frame(self).wood,
            lambda self, value: _edit(self, wood=value),
        ),
        "frame_profile": EnumProperty(
            name="Frame Profile",
            description="The shape of the frame's face",
            items=PROFILES,
            get=lambda self: [each[0] for each in PROFILES].index(_frame(self).profile),
            set=lambda self, value: _edit(self, profile=PROFILES[value][0]),
            options=set(),
        ),
        "frame_wall": FloatVectorProperty(
            name="Wall",
            description="Colour of the wall behind the frame",
            subtype="COLOR_GAMMA",
            size=3,
            min=0,
            max=1,
            get=_wall,
            set=_set_wall,
            options=set(),
        ),
        "frame_caption": BoolProperty(
            name="Caption",
            description="Write below the listing picture what it shows, and that it is a rendering",
            get=lambda self: _frame(self).caption,
            set=lambda self, value: _edit(self, caption=value),
            options=set(),
        ),
    }
    for key, (label, tip) in LENGTHS.items():
        made[f"frame_{key}"] = _length_field(key, label, tip)
    return made


def _length_field(key: str, label: str, tip: str) -> Any:
    return fields.scaled(
        label, tip, fields.MM, lambda self: _length(self, key), lambda self, v: _edit(self, **{key: v}), min=0
    )
