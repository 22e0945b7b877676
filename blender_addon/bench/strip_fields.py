"""The fields of strips and segments, and how wood is sawn; like all fields they edit the JSON."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import bpy
from bpy.props import (
    CollectionProperty,
    EnumProperty,
    IntProperty,
)

from ...core.design_file import background_strips
from . import fields


def indices_of(item: Any) -> list[int]:
    """Indices along the way to an item of the lists: of a strip, of a segment in it, of a wood."""
    return [int(part.split("]")[0]) for part in item.path_from_id().split("[")[1:]]


def _part(item: Any) -> dict[str, Any]:
    panel = fields.panel_of(item.id_data)
    index, *segment = indices_of(item)
    parts = background_strips.segments_of(panel, index) if segment else background_strips.strips_of(panel)
    at = segment[0] if segment else index
    return parts[at] if at < len(parts) else {}


def _edit_strip(item: Any, change: Callable[..., dict[str, Any]], value: Any) -> None:
    scene = item.id_data
    with fields.telling(scene):
        fields.set_panel(scene, change(fields.panel_of(scene), *indices_of(item), value))


CUTS = (
    ("any", "Any", "Grainstack picks one, always the same for the same name", 0),
    ("flat", "Flat Sawn", "The rings lie flat in its face: arches and wide figure", 1),
    ("rift", "Rift Sawn", "The rings stand at about 45 degrees: even, straight lines", 2),
    ("quarter", "Quarter Sawn", "The rings stand upright: straight lines, and flecks in woods that have them", 3),
)


def sawn_fields(get: Callable[[Any, str], Any], put: Callable[[Any, str, Any], None]) -> dict[str, Any]:
    """How a piece of wood is sawn and from which board; `get(owner, key)`, `put(owner, key, value)`."""
    kinds = [kind for kind, *_ in CUTS]
    return {
        "cut": EnumProperty(
            name="Cut",
            description="How the wood was sawn from its log",
            items=CUTS,
            get=lambda self: kinds.index(get(self, "cut") or "any"),
            set=lambda self, value: put(self, "cut", kinds[value] if value else None),
            options=set(),
        ),
        "board": IntProperty(
            name="Board",
            description="Number of the board that it is cut from. Pieces of the same wood with the same number come "
            "from the same board; 0 gives it a board of its own",
            min=0,
            max=9999,
            get=lambda self: get(self, "board") or 0,
            set=lambda self, value: put(self, "board", value or None),
            options=set(),
        ),
    }


def _set_sawn(item: Any, key: str, value: Any) -> None:
    _edit_strip(
        item,
        background_strips.segment_sawn if len(indices_of(item)) > 1 else background_strips.strip_sawn,
        {key: value},
    )


def segment_fields() -> dict[str, Any]:
    """The fields of a segment."""
    return {
        **sawn_fields(lambda self, key: _part(self).get(key), _set_sawn),
        "length": fields.scaled(
            "Length",
            "Length of the segment along its strip; its neighbour makes up for it",
            fields.MM,
            lambda self: _part(self).get("length"),
            lambda self, value: _edit_strip(self, background_strips.segment_length, value),
            min=0,
        ),
        "wood": fields.wood_field(
            "Wood",
            "The wood of this segment",
            lambda self: _part(self).get("wood", ""),
            lambda self, value: _edit_strip(self, background_strips.segment_wood, value),
        ),
    }


def strip_fields() -> dict[str, Any]:
    """The fields of a strip."""
    return {
        **sawn_fields(lambda self, key: _part(self).get(key), _set_sawn),
        "width": fields.scaled(
            "Width",
            "Width of the strip; its neighbour makes up for it, so that the panel stays full",
            fields.MM,
            lambda self: _part(self).get("width"),
            lambda self, value: _edit_strip(self, background_strips.strip_width, value),
            min=0,
        ),
        "wood": fields.wood_field(
            "Wood",
            "The wood of this strip; choosing one turns a strip of segments into a single board again",
            lambda self: _part(self).get("wood", ""),
            lambda self, value: _edit_strip(self, background_strips.strip_wood, value),
        ),
    }


class SegmentItem(bpy.types.PropertyGroup):
    """One segment of a strip."""


class StripItem(bpy.types.PropertyGroup):
    """One strip of the background."""

    segments: CollectionProperty(type=SegmentItem, options={"HIDDEN"})
    active_segment: IntProperty(
        name="Segment", description="The segment that the buttons here change", options={"HIDDEN"}
    )


fields.annotate(SegmentItem, segment_fields, "segment_fields")
fields.annotate(StripItem, strip_fields, "strip_fields")

CLASSES = (SegmentItem, StripItem)
