"""The fields of a piece, its own or what it has from the workshop; like all fields they edit the JSON."""

from __future__ import annotations

import json
from typing import Any

from bpy.props import (
    BoolProperty,
    EnumProperty,
    IntProperty,
    StringProperty,
)

from ...core.design import LineOutline
from .. import designs
from ..views import live
from . import fields

FITS = (
    ("rounded", "Rounded", "Round pocket and insert alike, as the cutter can cut both", 0),
    ("as-drawn", "As Drawn", "Keep corners as drawn, to be cut by knife, and warn where the insert binds", 1),
)
PIECE_LENGTHS = {
    "pocket_depth": ("Pocket Depth", "How deep its pocket is cut below the raw face"),
    "insert_thickness": ("Insert Thickness", "How thick the wood is that its insert is sawn from"),
    "side_clearance": ("Side Clearance", "Gap left all round between insert and pocket wall"),
    "strip_clearance": (
        "Strip Clearance",
        "Gap left on each side of a groove strip, the thin strip that fills a groove",
    ),
    "floor_gap": ("Floor Gap", "Room left under the insert, so that a tapered one wedges before it touches the floor"),
    "cutter_diameter": ("Cutter Diameter", "Diameter of the cutter for its pocket, at the tip"),
    "corner_radius": ("Corner Radius", "Radius to which its corners are rounded, at least what the cutter leaves"),
}
ELSE = {"": "the workshop's is used", "insert_thickness": "it is the pocket depth plus Proud"}
"""What holds for a piece without a value of its own."""
PIECE_ANGLES = {"taper": ("Taper", "How far the walls lean from upright on each side, so that the insert tightens")}


def edit_piece(mark: Any, **values: Any) -> None:
    """Change the piece's own values; None removes a key. The sidebar says what was refused."""
    item = mark.id_data
    scene = fields.scene_of(item)
    if scene is not None:
        with fields.telling(scene):
            fields.set_entry(item, **values)


def record_value(mark: Any, key: str) -> Any:
    """The value that the piece has, its own or the workshop's; None where the piece is not sound."""
    record = fields.piece_record(mark.id_data) if mark.kind == "outline" else None
    return None if record is None else getattr(record, key)


def has_own(mark: Any, key: str) -> bool:
    """Whether the piece has a value of its own."""
    return bool(mark.entry) and json.loads(mark.entry).get(key) is not None


def _keep_or_leave(mark: Any, key: str, own: bool) -> None:
    """Give the piece a value of its own, at first the present one; or take the workshop's again."""
    edit_piece(mark, **{key: _plain(record_value(mark, key)) if own else None})


def _plain(value: float | None) -> float | None:
    return int(value) if value is not None and value == round(value) else value


def _grain(mark: Any) -> float | None:
    """Give the piece a grain of its own, or let it follow the piece's length again."""
    own = record_value(mark, "grain")
    scene = fields.scene_of(mark.id_data) if own is None and mark.kind == "outline" else None
    if scene is None:
        return own
    opened = designs.known(scene.grainstack.fingerprint)
    placed = opened.stack.pieces if opened else ()
    return next((each.grain for each in placed if each.piece.id == mark.id), 0.0)


def _set_own_grain(mark: Any, own: bool) -> None:
    edit_piece(mark, grain=_plain(round(_grain(mark) or 0.0, 2)) if own else None)


def _fit(mark: Any) -> int:
    return 1 if record_value(mark, "fit") == "as-drawn" else 0


def _set_name(mark: Any, name: str) -> None:
    scene = fields.scene_of(mark.id_data)
    if scene is not None:
        with fields.telling(scene):
            fields.rename_piece(mark.id_data, name)


def _set_after(mark: Any, text: str) -> None:
    edit_piece(mark, after=[word for word in text.replace(",", " ").split() if word] or None)


def _line(mark: Any, key: str) -> Any:
    outline = record_value(mark, "outline")
    return getattr(outline, key) if isinstance(outline, LineOutline) else None


def _set_line(mark: Any, key: str, value: Any) -> None:
    outline, scene = json.loads(mark.outline), fields.scene_of(mark.id_data)
    if "line" in outline and scene is not None:
        mark.outline = json.dumps(outline | {key: value})
        live.follow(scene)


def piece_fields() -> dict[str, Any]:
    """Fields of a piece, by name."""
    made: dict[str, Any] = {
        "name_id": StringProperty(
            name="Name",
            description="What the piece is called in lists, files and on the bench sheet",
            get=lambda self: self.id,
            set=_set_name,
            options=set(),
        ),
        "wood": fields.wood_field(
            "Wood",
            "The wood that its insert is sawn from",
            lambda self: json.loads(self.entry or "{}").get("wood", ""),
            lambda self, value: edit_piece(self, wood=value),
        ),
        "grain": fields.scaled(
            "Grain",
            "Direction of its grain, counter-clockwise from the panel's lower edge",
            fields.RADIANS,
            _grain,
            lambda self, value: edit_piece(self, grain=value),
        ),
        "own_grain": BoolProperty(
            name="Own Grain",
            description="Choose the grain direction; otherwise the grain runs along the piece",
            get=lambda self: has_own(self, "grain"),
            set=_set_own_grain,
            options=set(),
        ),
        "fit": EnumProperty(
            name="Fit",
            description="How the outlines of pocket and insert are made to fit",
            items=FITS,
            get=_fit,
            set=lambda self, value: edit_piece(self, fit=FITS[value][0] if value or has_own(self, "fit") else None),
            options=set(),
        ),
        "after": StringProperty(
            name="After",
            description="Pieces that must be glued in before you cut this one, separated by commas",
            get=lambda self: ", ".join(record_value(self, "after") or ()),
            set=_set_after,
            options=set(),
        ),
        "leaves": IntProperty(
            name="Leaves",
            description="How many leaves the blank is glued up from, if no board is wide enough",
            min=1,
            max=99,
            get=lambda self: record_value(self, "leaves") or 1,
            set=lambda self, value: edit_piece(self, leaves=value if value > 1 else None),
            options=set(),
        ),
        "line_width": fields.scaled(
            "Line Width",
            "Width of the line. One as wide as the cutter is a groove, cut with the middle of the cutter on the line",
            fields.MM,
            lambda self: _line(self, "width"),
            lambda self, value: _set_line(self, "width", value) if value > 0 else None,
            min=0,
        ),
        "smooth": BoolProperty(
            name="Smooth",
            description="Draw a smooth curve through the points of the line",
            get=lambda self: bool(_line(self, "smooth")),
            set=lambda self, value: _set_line(self, "smooth", value),
            options=set(),
        ),
    }
    for unit, table in ((fields.MM, PIECE_LENGTHS), (fields.RADIANS, PIECE_ANGLES)):
        for key, (label, tip) in table.items():
            made[key] = _piece_number(key, label, tip, unit)
            made[f"own_{key}"] = _own(key, label)
    return made


def _piece_number(key: str, label: str, tip: str, unit: float) -> Any:
    least = {} if key == "side_clearance" else {"min": 0}
    return fields.scaled(
        label, tip, unit, lambda self: record_value(self, key), lambda self, v: edit_piece(self, **{key: v}), **least
    )


def _own(key: str, label: str) -> Any:
    return BoolProperty(
        name=f"Own {label}",
        description=f"Give the piece its own {label.lower()}; otherwise {ELSE.get(key, ELSE[''])}",
        get=lambda self: has_own(self, key),
        set=lambda self, own: _keep_or_leave(self, key, own),
        options=set(),
    )
