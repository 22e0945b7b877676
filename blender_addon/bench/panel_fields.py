"""The fields of panel and workshop; like all fields they edit the JSON."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bpy.props import (
    EnumProperty,
    FloatVectorProperty,
    StringProperty,
)

from ...core.design import Workshop, radius_at_face
from ...core.design_file import background_strips
from . import fields
from .piece_fields import PIECE_ANGLES, PIECE_LENGTHS

DIRECTIONS = (
    ("y", "Up", "The strips run up and down the panel and fill its width", 0),
    ("x", "Across", "The strips run from left to right and fill the panel's height", 1),
)
SHOP_LENGTHS = {
    **PIECE_LENGTHS,
    "proud": ("Proud", "How far inserts stand above the raw face before they are trimmed"),
    "cutter_length": ("Cutter Length", "How deep the cutter can cut; with 0 the depth is not checked"),
    "depth_error": (
        "Depth Error",
        "How much deeper your pockets come out than set, as measured on the test-fit coupon; negative if shallower",
    ),
    "board_width": ("Board Width", "Width of your widest board; wider inserts are glued up from several leaves"),
    "min_floor": ("Minimum Floor", "Warn where less panel wood than this is left under a pocket"),
    "min_wall": ("Minimum Wall", "Warn where the wood between two pockets is thinner than this"),
    "min_neck": ("Minimum Neck", "Warn where an insert is narrower than this"),
    "min_neck_glued": ("Minimum Glued Neck", "Warn where what is left of a glued insert is narrower than this"),
    "min_skin": ("Minimum Skin", "Warn where a pocket leaves less than this of the insert under it"),
    "min_island": ("Minimum Island", "Warn where wood left standing in a pocket is narrower than this"),
}
SHOP_LENGTHS.pop("insert_thickness")
PANEL_LENGTHS = {
    "width": ("Width", "Width of the raw panel; its strips keep their share"),
    "height": ("Height", "Height of the raw panel; its segments keep their share"),
    "thickness": ("Thickness", "Thickness of the raw panel"),
    "face_trim": ("Face Trim", "How much you take off the whole face at the end"),
}


def _edit_panel(settings: Any, change: Callable[[dict[str, Any]], dict[str, Any]]) -> None:
    fields.edit_head(settings, lambda head: {**head, "panel": change(head["panel"])})


def _set_title(settings: Any, title: str) -> None:
    fields.edit_head(settings, lambda head: {**head, "title": title})


def _shop(settings: Any, key: str) -> float | None:
    record = fields.head_record(settings)
    if record is None:
        return None
    value = getattr(record.workshop, key)
    if key == "corner_radius" and value is None:
        shop: Workshop = record.workshop
        return radius_at_face(shop.cutter_diameter, shop.pocket_depth, shop.taper)
    return value


def _set_shop(settings: Any, key: str, value: float) -> None:
    def change(head: dict[str, Any]) -> dict[str, Any]:
        shop = {**head.get("workshop", {}), key: value}
        if key in ("corner_radius", "cutter_length") and not value:
            shop.pop(key)
        return {**head, "workshop": shop}

    fields.edit_head(settings, change)


def _panel(settings: Any, key: str) -> float | None:
    record = fields.head_record(settings)
    return None if record is None else getattr(record.panel, key)


def _set_panel(settings: Any, key: str, value: float) -> None:
    if key in ("width", "height"):
        _edit_panel(settings, lambda panel: background_strips.resized(panel, **{key: value}))
    else:
        _edit_panel(settings, lambda panel: {**panel, key: value})


def _edges(settings: Any) -> tuple[float, ...]:
    record = fields.head_record(settings)
    return tuple(value * fields.MM for value in record.panel.edge_trim) if record else (0.0,) * 4


def _set_edges(settings: Any, seen: Any) -> None:
    before = fields.head_record(settings).panel.edge_trim
    values = [fields.typed(value, fields.MM, old) for value, old in zip(seen, before, strict=True)]
    if list(before) != values:
        same = len(set(values)) == 1
        _edit_panel(settings, lambda panel: {**panel, "edge_trim": values[0] if same else values})


def _direction(settings: Any) -> int:
    record = fields.head_record(settings)
    return 1 if record and record.panel.strips_along == "x" else 0


def scene_fields() -> dict[str, Any]:
    """Fields of panel and workshop, by name."""
    made: dict[str, Any] = {
        "design_title": StringProperty(
            name="Title",
            description="What the panel is called, on pictures and on the bench sheet",
            get=lambda self: fields.head_value(self).get("title", ""),
            set=_set_title,
            options=set(),
        ),
        "edge_trim": FloatVectorProperty(
            name="Edge Trim",
            description="How much you cut off the left, right, bottom and top edge at the end",
            subtype="NONE",
            unit="LENGTH",
            size=4,
            min=0,
            precision=fields.DIGITS,
            get=_edges,
            set=_set_edges,
            options=set(),
        ),
        "strips_along": EnumProperty(
            name="Strips Run",
            description="Which way the strips of the background run",
            items=DIRECTIONS,
            get=_direction,
            set=lambda self, value: _edit_panel(
                self, lambda panel: background_strips.turned(panel, DIRECTIONS[value][0])
            ),
            options=set(),
        ),
        "shop_taper": _shop_number("taper", *PIECE_ANGLES["taper"], fields.RADIANS),
    }
    for key, (label, tip) in SHOP_LENGTHS.items():
        made[f"shop_{key}"] = _shop_number(key, label, tip, fields.MM)
    for key, (label, tip) in PANEL_LENGTHS.items():
        made[f"panel_{key}"] = _panel_number(key, label, tip)
    return made


def _shop_number(key: str, label: str, tip: str, unit: float) -> Any:
    least = {} if key in ("side_clearance", "depth_error") else {"min": 0}
    return fields.scaled(
        label, tip, unit, lambda self: _shop(self, key), lambda self, v: _set_shop(self, key, v), **least
    )


def _panel_number(key: str, label: str, tip: str) -> Any:
    return fields.scaled(
        label, tip, fields.MM, lambda self: _panel(self, key), lambda self, v: _set_panel(self, key, v), min=0
    )
