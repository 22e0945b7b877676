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
    FloatProperty,
    StringProperty,
)

from ...core.design import Piece
from ...core.design_file import background_strips
from ...core.design_file.reading import design_of, piece_id
from ...core.errors import UnusableInput
from ...core.outlines.place_matrix import shortest
from ...core.woods.species import species_table
from ..scene import conversion
from ..units import METRES
from ..views import live

MM = METRES
RADIANS = math.pi / 180
DIGITS = 5
"""Blender's default of two digits would show an eighth of an inch as 3.2 mm."""


# --- Where values live ------------------------------------------------------------------------------------


def scene_of(item: bpy.types.Object) -> bpy.types.Scene | None:
    """The scene whose design the piece belongs to."""
    return next((scene for scene in item.users_scene if scene.grainstack.document), None)


@contextlib.contextmanager
def telling(scene: bpy.types.Scene) -> Iterator[None]:
    """Show in the sidebar what was refused, and change nothing."""
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
    """Change the document without another check; the lists of strips and segments follow."""
    settings = scene.grainstack
    settings.document = head
    panel = json.loads(head)["panel"]
    wanted = background_strips.strips_of(panel)
    resize(settings.strips, len(wanted))
    for index, item in enumerate(settings.strips):
        resize(item.segments, len(background_strips.segments_of(panel, index)))
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
    """Change a piece's own values; None removes a key.

    Raises:
        UnusableInput: it breaks a rule of the format; nothing is changed then.
    """
    if scene_of(item) is not None:
        set_entries([item], **values)


def set_entries(items: Sequence[bpy.types.Object], **values: Any) -> None:
    """Change several pieces of one scene: all of them, or none.

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
        raise UnusableInput("", f'piece "{mark.id}"', f'the name "{name}" is taken', "Choose another")
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


def scaled(
    label: str, tip: str, unit: float, get: Callable[[Any], Any], put: Callable[[Any, Any], None], **more: Any
) -> Any:
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


def species_field(label: str, tip: str, get: Callable[[Any], Any], put: Callable[[Any, Any], None]) -> Any:
    """A field for a species of the table."""
    return StringProperty(
        name=label, description=tip, get=get, set=put, search=_species, search_options={"SUGGESTION"}, options=set()
    )


def wood_field(label: str, tip: str, get: Callable[[Any], Any], put: Callable[[Any, Any], None]) -> Any:
    """A field for a wood's name, with those of the species table to choose from."""
    return StringProperty(
        name=label, description=tip, get=get, set=put, search=_woods, search_options={"SUGGESTION"}, options=set()
    )


def wood_choice(label: str, tip: str, default: str) -> Any:
    """A field of an operator for a wood's name; operators keep their own values."""
    return StringProperty(name=label, description=tip, default=default, search=_woods, search_options={"SUGGESTION"})


def annotate(group: type, fields: Callable[[], dict[str, Any]], source: str) -> None:
    """Give a property group these fields, as text that makes them when it is registered.

    A property definition that is still alive when Blender 4.2 ends makes it crash.
    """
    group.__annotations__.update({name: f"{source}()[{name!r}]" for name in fields()})


# --- The design without its pieces ------------------------------------------------------------------------


def head_value(settings: Any) -> dict[str, Any]:
    """Title, panel, workshop and the rest of the design's JSON but its pieces."""
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
    """Change title, panel and workshop; the sidebar says what was refused."""
    scene = settings.id_data
    with telling(scene):
        set_document(scene, change(head_value(settings)))
