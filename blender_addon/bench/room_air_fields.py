"""Fields of the air where the panel will hang, and of the woods on hand; like all fields they edit the JSON."""

from __future__ import annotations

from typing import Any

from bpy.props import FloatProperty, StringProperty

from ...core.design import Workshop
from . import fields

AIR = {
    "humidity_low": ("Dry Season", "Relative humidity of the air in the dry season where the panel will hang"),
    "humidity_high": ("Damp Season", "Relative humidity of the air in the damp season where the panel will hang"),
    "temperature": ("Temperature", "Temperature of the air where the panel will hang, in °C"),
}


def _value(settings: Any, key: str) -> Any:
    record = fields.head_record(settings)
    return getattr(record.workshop if record else Workshop(), key)


def _edit(settings: Any, key: str, value: Any) -> None:
    """Set a key of the workshop; an empty value removes the key."""

    def change(head: dict[str, Any]) -> dict[str, Any]:
        shop = {name: each for name, each in head.get("workshop", {}).items() if name != key}
        return {**head, "workshop": shop | ({key: value} if value not in (None, []) else {})}

    fields.edit_head(settings, change)


def _set_in_hand(settings: Any, text: str) -> None:
    woods = [name for each in text.split(",") if (name := " ".join(each.split()))]
    if woods != list(_value(settings, "in_hand")):
        _edit(settings, "in_hand", woods)


def _air(key: str, label: str, tip: str) -> Any:
    def write(settings: Any, seen: float) -> None:
        before = _value(settings, key)
        value = fields.typed(seen, 1.0, before)
        if value != before:
            _edit(settings, key, value)

    kind = "NONE" if key == "temperature" else "PERCENTAGE"
    return FloatProperty(
        name=label,
        description=tip,
        subtype=kind,
        precision=1,
        get=lambda self: _value(self, key),
        set=write,
        options=set(),
    )


def weather_fields() -> dict[str, Any]:
    """Fields of room air and woods on hand, by name; all belong to a scene."""
    in_hand = StringProperty(
        name="Woods on Hand",
        description="Woods that you have, separated by commas: Grainstack suggests only these. "
        "If empty, it suggests woods of the design",
        get=lambda self: ", ".join(_value(self, "in_hand")),
        set=_set_in_hand,
        options=set(),
    )
    return {"in_hand": in_hand, **{key: _air(key, *words) for key, words in AIR.items()}}
