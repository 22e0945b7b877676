"""What the maker can type: properties that show and change the design's JSON, which alone holds the values.

A field that is only looked at changes nothing, so the file's own numbers stay. What would break a rule of the design is
not taken over; the sidebar says why.
"""

from __future__ import annotations

import contextlib
import json
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import bpy
import numpy as np
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    StringProperty,
)

from . import conversion, designs, live
from .core import strips
from .core.design import LineOutline, Piece, Workshop
from .core.design_file import design_of, piece_id
from .core.errors import UnusableInput
from .core.placement import shortest
from .core.woods import species_table

MM = conversion.METRES
RADIANS = math.pi / 180
DIGITS = 5
"""Blender's default of two digits would show an eighth of an inch as 3.2 mm."""
FITS = (
    ("rounded", "Rounded", "Round pocket and insert alike, as the cutter can cut both", 0),
    ("as-drawn", "As Drawn", "Leave corners to the knife, and tell where the insert binds", 1),
)
DIRECTIONS = (
    ("y", "Up", "The strips run up the panel and fill its width", 0),
    ("x", "Across", "The strips run across the panel and fill its height", 1),
)


# --- Where values live ------------------------------------------------------------------------------------


def scene_of(item: bpy.types.Object) -> bpy.types.Scene | None:
    """The scene whose design the piece belongs to."""
    return next((scene for scene in item.users_scene if scene.grainstack.document), None)


@contextlib.contextmanager
def telling(scene: bpy.types.Scene) -> Iterator[None]:
    """What is refused is told in the sidebar, and nothing is changed."""
    try:
        yield
    except UnusableInput as error:
        scene.grainstack.trouble = str(error)
    else:
        live.follow(scene)


def set_document(scene: bpy.types.Scene, document: dict[str, Any]) -> None:
    """Take over a document's title, panel and workshop.

    Raises:
        UnusableInput: they break a rule of the format, alone or for one of the pieces; nothing is changed then.
    """
    head = conversion.head_of(document)
    text = conversion.read_scene(scene)
    conversion.SceneText(head, text.pieces, text.path).design()
    write_head(scene, head)


def change_whole(scene: bpy.types.Scene, change: Callable[[dict[str, Any]], dict[str, Any]]) -> None:
    """Change the whole document, whose pieces stay in their number, order and place.

    Raises:
        UnusableInput: it would break a rule of the format; nothing is changed then.
    """
    text = conversion.read_scene(scene)
    document = change(text.document())
    design_of(document, text.path)
    write_head(scene, conversion.head_of(document))
    for item, entry in zip(conversion.piece_objects(scene), document["pieces"], strict=True):
        kept = {key: value for key, value in entry.items() if key not in ("id", "outline")}
        item.grainstack.entry = conversion.entry_text(kept)


def write_head(scene: bpy.types.Scene, head: str) -> None:
    """The same, of what was checked before; the lists of strips and segments follow."""
    settings = scene.grainstack
    settings.document = head
    panel = json.loads(head)["panel"]
    wanted = strips.strips_of(panel)
    resize(settings.strips, len(wanted))
    for index, item in enumerate(settings.strips):
        resize(item.segments, len(strips.segments_of(panel, index)))
        item.active_segment = min(item.active_segment, len(item.segments) - 1)
    settings.active_strip = min(settings.active_strip, len(wanted) - 1)
    count = len(json.loads(head).get("woods", []))
    resize(settings.woods, count)
    settings.active_wood = max(min(settings.active_wood, count - 1), 0)


def resize(collection: Any, count: int) -> None:
    """Let a collection have so many items."""
    while len(collection) < count:
        collection.add()
    while len(collection) > count:
        collection.remove(len(collection) - 1)


def panel_of(scene: bpy.types.Scene) -> dict[str, Any]:
    """The panel's JSON value."""
    return dict(json.loads(scene.grainstack.document)["panel"])


def set_panel(scene: bpy.types.Scene, panel: dict[str, Any]) -> None:
    """Take over another panel.

    Raises:
        UnusableInput: it breaks a rule of the format.
    """
    set_document(scene, {**json.loads(scene.grainstack.document), "panel": panel})


def piece_record(item: bpy.types.Object) -> Piece | None:
    """The piece as it is now, with what it takes from the workshop; None where it is no sound piece."""
    scene = scene_of(item)
    if scene is None:
        return None
    path = conversion.path_of(scene)
    try:
        workshop = conversion.head_design(scene.grainstack.document, path).workshop
        return conversion.piece_record(conversion.read_piece(item, path.parent), workshop, path.parent)
    except UnusableInput:
        return None


def set_entry(item: bpy.types.Object, **values: Any) -> None:
    """Change what a piece says for itself; None takes a key out.

    Raises:
        UnusableInput: it breaks a rule of the format; nothing is changed then.
    """
    if scene_of(item) is not None:
        set_entries([item], **values)


def set_entries(items: Sequence[bpy.types.Object], **values: Any) -> None:
    """The same for several pieces of one scene: all of them are changed, or none.

    Raises:
        UnusableInput: it breaks a rule of the format; nothing is changed then.
    """
    scene = scene_of(items[0])
    text, objects = conversion.read_scene(scene), conversion.piece_objects(scene)
    pieces, changed = list(text.pieces), {}
    for item in items:
        entry, place = conversion.read_entry(item) | values, objects.index(item)
        changed[place] = conversion.entry_text({key: value for key, value in entry.items() if value is not None})
        pieces[place] = replace(pieces[place], entry=changed[place])
    replace(text, pieces=tuple(pieces)).design()
    for place, entry_text in changed.items():
        objects[place].grainstack.entry = entry_text


def wait_for(items: Iterable[bpy.types.Object], names: Mapping[str, str | None]) -> None:
    """Pieces that come after one of these come after what it is called now; after nothing, where it is gone."""
    for item in items:
        entry = json.loads(item.grainstack.entry)
        if not names.keys().isdisjoint(entry.get("after", [])):
            after = [name for each in entry.pop("after") if (name := names.get(each, each)) is not None]
            item.grainstack.entry = conversion.entry_text(entry | ({"after": after} if after else {}))


def rename_piece(item: bpy.types.Object, name: str) -> None:
    """Give a piece another id; pieces that come after it keep doing so.

    Raises:
        UnusableInput: the id cannot be one, or is taken.
    """
    scene, mark = scene_of(item), item.grainstack
    if scene is None or name == mark.id:
        return
    piece_id(name, f'piece "{mark.id}"')
    others = [other for other in conversion.piece_objects(scene) if other != item]
    if name.lower() in {other.grainstack.id.lower() for other in others}:
        raise UnusableInput("", f'piece "{mark.id}"', f'the id "{name}" is taken', "Choose another name")
    before = mark.id
    wait_for(others, {before: name})
    for own in scene.objects:
        if own.grainstack.kind == "insert" and own.grainstack.id == before:
            own.grainstack.id, own.name = name, f"{name} insert"
    mark.id = item.name = name


# --- Makers of properties ---------------------------------------------------------------------------------


def typed(seen: float, unit: float, before: float | None) -> float:
    """What was typed, in our unit; the value before where Blender cannot tell the two apart."""
    if before is not None and np.float32(before * unit) == np.float32(seen):
        return before
    value = shortest(seen, unit)
    return int(value) if value == round(value) else value


def scaled(label: str, tip: str, unit: float, get: Callable, put: Callable, **more: Any) -> Any:
    """A number field; `get(owner)` gives mm or degrees, or None; `put(owner, value)` may refuse."""

    def read(self: Any) -> float:
        value = get(self)
        return 0.0 if value is None else value * unit

    def write(self: Any, seen: float) -> None:
        before = get(self)
        value = typed(seen, unit, before)
        if value != before:
            put(self, value)

    kind = {MM: "DISTANCE", RADIANS: "ANGLE"}.get(unit, "NONE")
    return FloatProperty(
        name=label, description=tip, subtype=kind, precision=DIGITS if unit == MM else 2, get=read, set=write,
        options=set(), **more,
    )  # fmt: skip


def _woods(self: Any, context: bpy.types.Context, typed: str) -> list[str]:
    """The design's own woods first."""
    own = json.loads(context.scene.grainstack.document or "{}").get("woods", [])
    return [name for name in (*(wood["name"] for wood in own), *species_table()) if typed.casefold() in name.casefold()]


def _species(self: Any, context: bpy.types.Context, typed: str) -> list[str]:
    return [name for name in species_table() if typed.casefold() in name.casefold()]


def species_choice(label: str, tip: str, default: str) -> Any:
    """A field of an operator for a species of the table."""
    return StringProperty(name=label, description=tip, default=default, search=_species, search_options={"SUGGESTION"})


def species_field(label: str, tip: str, get: Callable, put: Callable) -> Any:
    """A field for a species of the table."""
    return StringProperty(
        name=label, description=tip, get=get, set=put, search=_species, search_options={"SUGGESTION"}, options=set()
    )


def wood_field(label: str, tip: str, get: Callable, put: Callable) -> Any:
    """A field for a wood's name, with those of the species table to choose from."""
    return StringProperty(
        name=label, description=tip, get=get, set=put, search=_woods, search_options={"SUGGESTION"}, options=set()
    )


def wood_choice(label: str, tip: str, default: str) -> Any:
    """The same for operators, which keep their own values."""
    return StringProperty(name=label, description=tip, default=default, search=_woods, search_options={"SUGGESTION"})


# --- Of a piece -------------------------------------------------------------------------------------------

PIECE_LENGTHS = {
    "pocket_depth": ("Pocket Depth", "How deep its pocket is cut below the raw face"),
    "insert_thickness": ("Insert Thickness", "How thick the wood is that its insert is sawn from"),
    "side_clearance": ("Side Clearance", "Gap left all round between insert and pocket wall"),
    "strip_clearance": ("Strip Clearance", "Gap left on each side of the strip that fills a groove"),
    "floor_gap": ("Floor Gap", "Room left under the insert, so that a tapered one wedges before it bottoms"),
    "cutter_diameter": ("Cutter Diameter", "Diameter of the cutter for its pocket, at the tip"),
    "corner_radius": ("Corner Radius", "Radius to which its corners are rounded, at least what the cutter leaves"),
}
PIECE_ANGLES = {"taper": ("Taper", "How far the walls lean from upright on each side, so that the insert tightens")}


def edit_piece(mark: Any, **values: Any) -> None:
    """Change what a piece says for itself; None takes a key out. What is refused is told."""
    item = mark.id_data
    scene = scene_of(item)
    if scene is not None:
        with telling(scene):
            set_entry(item, **values)


def record_value(mark: Any, key: str) -> Any:
    """What holds for a piece, its own or not; None where it is no sound piece."""
    record = piece_record(mark.id_data) if mark.kind == "outline" else None
    return None if record is None else getattr(record, key)


def has_own(mark: Any, key: str) -> bool:
    """Whether a piece says that for itself."""
    return bool(mark.entry) and json.loads(mark.entry).get(key) is not None


def _keep_or_leave(mark: Any, key: str, own: bool) -> None:
    """A value of its own, at first what it was; or the workshop's again."""
    edit_piece(mark, **{key: _plain(record_value(mark, key)) if own else None})


def _plain(value: float | None) -> float | None:
    return int(value) if value is not None and value == round(value) else value


def _grain(mark: Any) -> float | None:
    """Its own grain, or that which it has by its length."""
    own = record_value(mark, "grain")
    scene = scene_of(mark.id_data) if own is None and mark.kind == "outline" else None
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
    scene = scene_of(mark.id_data)
    if scene is not None:
        with telling(scene):
            rename_piece(mark.id_data, name)


def _set_after(mark: Any, text: str) -> None:
    edit_piece(mark, after=[word for word in text.replace(",", " ").split() if word] or None)


def _line(mark: Any, key: str) -> Any:
    outline = record_value(mark, "outline")
    return getattr(outline, key) if isinstance(outline, LineOutline) else None


def _set_line(mark: Any, key: str, value: Any) -> None:
    outline, scene = json.loads(mark.outline), scene_of(mark.id_data)
    if "line" in outline and scene is not None:
        mark.outline = json.dumps(outline | {key: value})
        live.follow(scene)


def annotate(group: type, fields: Callable[[], dict[str, Any]], source: str) -> None:
    """Give a property group these fields, as text that makes them when it is registered.

    A property definition that is still alive when Blender 4.2 ends makes it crash.
    """
    group.__annotations__.update({name: f"{source}()[{name!r}]" for name in fields()})


def piece_fields() -> dict[str, Any]:
    """The fields of a piece."""
    made: dict[str, Any] = {
        "name_id": StringProperty(
            name="Name",
            description="What the piece is called in lists, files and on the bench sheet",
            get=lambda self: self.id,
            set=_set_name,
            options=set(),
        ),
        "wood": wood_field(
            "Wood",
            "The wood that its insert is sawn from",
            lambda self: json.loads(self.entry or "{}").get("wood", ""),
            lambda self, value: edit_piece(self, wood=value),
        ),
        "grain": scaled(
            "Grain",
            "Direction of its grain, counter-clockwise from the panel's lower edge",
            RADIANS,
            _grain,
            lambda self, value: edit_piece(self, grain=value),
        ),
        "own_grain": BoolProperty(
            name="Own Grain",
            description="Give it a grain direction of its own; else the grain follows its length",
            get=lambda self: has_own(self, "grain"),
            set=_set_own_grain,
            options=set(),
        ),
        "fit": EnumProperty(
            name="Fit",
            description="How pocket and insert are brought to fit each other",
            items=FITS,
            get=_fit,
            set=lambda self, value: edit_piece(self, fit=FITS[value][0] if value or has_own(self, "fit") else None),
            options=set(),
        ),
        "after": StringProperty(
            name="After",
            description="Names of pieces that must be glued in before this one is cut",
            get=lambda self: ", ".join(record_value(self, "after") or ()),
            set=_set_after,
            options=set(),
        ),
        "leaves": IntProperty(
            name="Leaves",
            description="How many leaves its blank is book-matched from, where no board is wide enough for it",
            min=1,
            max=99,
            get=lambda self: record_value(self, "leaves") or 1,
            set=lambda self, value: edit_piece(self, leaves=value if value > 1 else None),
            options=set(),
        ),
        "line_width": scaled(
            "Line Width",
            "Width of the groove, which a cutter of that diameter cuts in one pass",
            MM,
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
    for unit, table in ((MM, PIECE_LENGTHS), (RADIANS, PIECE_ANGLES)):
        for key, (label, tip) in table.items():
            made[key] = _piece_number(key, label, tip, unit)
            made[f"own_{key}"] = _own(key, label)
    return made


def _piece_number(key: str, label: str, tip: str, unit: float) -> Any:
    least = {} if key == "side_clearance" else {"min": 0}
    return scaled(
        label, tip, unit, lambda self: record_value(self, key), lambda self, v: edit_piece(self, **{key: v}), **least
    )


def _own(key: str, label: str) -> Any:
    return BoolProperty(
        name=f"Own {label}",
        description=f"Give the piece a {label.lower()} of its own; else it is that of the workshop",
        get=lambda self: has_own(self, key),
        set=lambda self, own: _keep_or_leave(self, key, own),
        options=set(),
    )


# --- Of panel and workshop --------------------------------------------------------------------------------

SHOP_LENGTHS = {
    **PIECE_LENGTHS,
    "proud": ("Proud", "How far inserts stand above the raw face before they are trimmed"),
    "cutter_length": ("Cutter Length", "How deep the cutter can cut; 0 where it does not matter"),
    "board_width": ("Board Width", "Width of the boards in stock; wider inserts are book-matched"),
    "min_floor": ("Least Floor", "Panel wood that must be left under the deepest pocket"),
    "min_wall": ("Least Wall", "Wood that must be left standing between two pockets"),
    "min_neck": ("Least Neck", "Width below which a narrow place in an insert is told"),
    "min_neck_glued": ("Least Glued Neck", "The same for a remnant, which is glued in by then"),
    "min_skin": ("Least Skin", "Earlier insert that must be left under a shallower later pocket"),
    "min_island": ("Least Island", "Width below which wood left standing in a pocket is told"),
}
SHOP_LENGTHS.pop("insert_thickness")
PANEL_LENGTHS = {
    "width": ("Width", "Width of the raw panel; its strips keep their share"),
    "height": ("Height", "Height of the raw panel; its segments keep their share"),
    "thickness": ("Thickness", "Thickness of the raw panel"),
    "face_trim": ("Face Trim", "What is taken off the whole face at the end"),
}


def _head(settings: Any) -> dict[str, Any]:
    return dict(json.loads(settings.document)) if settings.document else {"panel": {}}


def head_record(settings: Any) -> Any:
    """The design that the scene says, without its pieces; None where it is no sound one."""
    if not settings.document:
        return None
    scene = settings.id_data
    try:
        return conversion.head_design(settings.document, conversion.path_of(scene))
    except UnusableInput:
        return None


def edit_head(settings: Any, change: Callable[[dict[str, Any]], dict[str, Any]]) -> None:
    """Change title, panel and workshop; what is refused is told."""
    scene = settings.id_data
    with telling(scene):
        set_document(scene, change(_head(settings)))


def _edit_panel(settings: Any, change: Callable[[dict[str, Any]], dict[str, Any]]) -> None:
    edit_head(settings, lambda head: {**head, "panel": change(head["panel"])})


def _set_title(settings: Any, title: str) -> None:
    edit_head(settings, lambda head: {**head, "title": title})


def _shop(settings: Any, key: str) -> float | None:
    record = head_record(settings)
    if record is None:
        return None
    value = getattr(record.workshop, key)
    if key == "corner_radius" and value is None:
        shop: Workshop = record.workshop
        return shop.cutter_diameter / 2 + shop.pocket_depth * math.tan(math.radians(shop.taper))
    return value


def _set_shop(settings: Any, key: str, value: float) -> None:
    def change(head: dict[str, Any]) -> dict[str, Any]:
        shop = {**head.get("workshop", {}), key: value}
        if key in ("corner_radius", "cutter_length") and not value:
            shop.pop(key)
        return {**head, "workshop": shop}

    edit_head(settings, change)


def _panel(settings: Any, key: str) -> float | None:
    record = head_record(settings)
    return None if record is None else getattr(record.panel, key)


def _set_panel(settings: Any, key: str, value: float) -> None:
    if key in ("width", "height"):
        _edit_panel(settings, lambda panel: strips.resized(panel, **{key: value}))
    else:
        _edit_panel(settings, lambda panel: {**panel, key: value})


def _edges(settings: Any) -> tuple[float, ...]:
    record = head_record(settings)
    return tuple(value * MM for value in record.panel.edge_trim) if record else (0.0,) * 4


def _set_edges(settings: Any, seen: Any) -> None:
    before = head_record(settings).panel.edge_trim
    values = [typed(value, MM, old) for value, old in zip(seen, before, strict=True)]
    if list(before) != values:
        same = len(set(values)) == 1
        _edit_panel(settings, lambda panel: {**panel, "edge_trim": values[0] if same else values})


def _direction(settings: Any) -> int:
    record = head_record(settings)
    return 1 if record and record.panel.strips_along == "x" else 0


def scene_fields() -> dict[str, Any]:
    """The fields of panel and workshop."""
    made: dict[str, Any] = {
        "design_title": StringProperty(
            name="Title",
            description="What the panel is called, on pictures and on the bench sheet",
            get=lambda self: _head(self).get("title", ""),
            set=_set_title,
            options=set(),
        ),
        "edge_trim": FloatVectorProperty(
            name="Edge Trim",
            description="What is taken off the left, right, bottom and top edge at the end",
            subtype="NONE",
            unit="LENGTH",
            size=4,
            min=0,
            precision=DIGITS,
            get=_edges,
            set=_set_edges,
            options=set(),
        ),
        "strips_along": EnumProperty(
            name="Strips Run",
            description="Which way the strips of the background run",
            items=DIRECTIONS,
            get=_direction,
            set=lambda self, value: _edit_panel(self, lambda panel: strips.turned(panel, DIRECTIONS[value][0])),
            options=set(),
        ),
        "shop_taper": _shop_number("taper", *PIECE_ANGLES["taper"], RADIANS),
    }
    for key, (label, tip) in SHOP_LENGTHS.items():
        made[f"shop_{key}"] = _shop_number(key, label, tip, MM)
    for key, (label, tip) in PANEL_LENGTHS.items():
        made[f"panel_{key}"] = _panel_number(key, label, tip)
    return made


def _shop_number(key: str, label: str, tip: str, unit: float) -> Any:
    least = {} if key == "side_clearance" else {"min": 0}
    return scaled(label, tip, unit, lambda self: _shop(self, key), lambda self, v: _set_shop(self, key, v), **least)


def _panel_number(key: str, label: str, tip: str) -> Any:
    return scaled(label, tip, MM, lambda self: _panel(self, key), lambda self, v: _set_panel(self, key, v), min=0)


# --- Of strips and segments -------------------------------------------------------------------------------


def indices_of(item: Any) -> list[int]:
    """Indices along the way to an item of the lists: of a strip, of a segment in it, of a wood."""
    return [int(part.split("]")[0]) for part in item.path_from_id().split("[")[1:]]


def _part(item: Any) -> dict[str, Any]:
    panel = panel_of(item.id_data)
    index, *segment = indices_of(item)
    parts = strips.segments_of(panel, index) if segment else strips.strips_of(panel)
    at = segment[0] if segment else index
    return parts[at] if at < len(parts) else {}


def _edit_strip(item: Any, change: Callable[..., dict[str, Any]], value: Any) -> None:
    scene = item.id_data
    with telling(scene):
        set_panel(scene, change(panel_of(scene), *indices_of(item), value))


CUTS = (
    ("any", "Any", "As its name falls", 0),
    ("flat", "Flat Sawn", "The rings lie flat in its face: arches and wide figure", 1),
    ("rift", "Rift Sawn", "The rings stand at about 45 degrees: even, straight lines", 2),
    ("quarter", "Quarter Sawn", "The rings stand upright: straight lines, and flecks in woods that have them", 3),
)


def sawn_fields(get: Callable, put: Callable) -> dict[str, Any]:
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
            description="Number of the board that it is cut from, shared by all of that wood and number; 0 for its own",
            min=0,
            max=9999,
            get=lambda self: get(self, "board") or 0,
            set=lambda self, value: put(self, "board", value or None),
            options=set(),
        ),
    }


def _set_sawn(item: Any, key: str, value: Any) -> None:
    _edit_strip(item, strips.segment_sawn if len(indices_of(item)) > 1 else strips.strip_sawn, {key: value})


def segment_fields() -> dict[str, Any]:
    """The fields of a segment."""
    return {
        **sawn_fields(lambda self, key: _part(self).get(key), _set_sawn),
        "length": scaled(
            "Length",
            "Length of the segment along its strip; its neighbour makes up for it",
            MM,
            lambda self: _part(self).get("length"),
            lambda self, value: _edit_strip(self, strips.segment_length, value),
            min=0,
        ),
        "wood": wood_field(
            "Wood",
            "The wood of this segment",
            lambda self: _part(self).get("wood", ""),
            lambda self, value: _edit_strip(self, strips.segment_wood, value),
        ),
    }


def strip_fields() -> dict[str, Any]:
    """The fields of a strip."""
    return {
        **sawn_fields(lambda self, key: _part(self).get(key), _set_sawn),
        "width": scaled(
            "Width",
            "Width of the strip; its neighbour makes up for it, so that the panel stays full",
            MM,
            lambda self: _part(self).get("width"),
            lambda self, value: _edit_strip(self, strips.strip_width, value),
            min=0,
        ),
        "wood": wood_field(
            "Wood",
            "The wood of this strip; choosing one makes it a single piece again",
            lambda self: _part(self).get("wood", ""),
            lambda self, value: _edit_strip(self, strips.strip_wood, value),
        ),
    }


class SegmentItem(bpy.types.PropertyGroup):
    """One segment of a strip."""


class StripItem(bpy.types.PropertyGroup):
    """One strip of the background."""

    segments: CollectionProperty(type=SegmentItem, options={"HIDDEN"})
    active_segment: IntProperty(name="Segment", description="The segment that buttons work on", options={"HIDDEN"})


annotate(SegmentItem, segment_fields, "segment_fields")
annotate(StripItem, strip_fields, "strip_fields")

CLASSES = (SegmentItem, StripItem)
