"""The fields of the maker's own woods and boards, and of where pieces lie on them; they edit the design's JSON."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import bpy
from bpy.props import BoolProperty, FloatProperty, FloatVectorProperty, IntProperty, IntVectorProperty, StringProperty

from ...core.boards.figure import board_of, on_photo
from ...core.design import OwnWood
from ...core.design_file.own_woods import renamed
from ...core.woods import colour
from ...core.woods.species import find_wood, folded
from .. import designs
from ..bench import fields, strip_fields
from ..bench.fields import MM, RADIANS, scaled
from ..bench.piece_fields import edit_piece, has_own, record_value
from ..woods.wood_slots import GLUE_COLOUR

CARD_AT = (20, 20)
"""Where a grey card is looked for first, pixels."""


# --- Woods --------------------------------------------------------------------------------------------------


def wood_of(item: Any) -> dict[str, Any]:
    """What the design says of a wood."""
    woods = json.loads(item.id_data.grainstack.document).get("woods", [])
    (index,) = strip_fields.indices_of(item)
    return dict(woods[index]) if index < len(woods) else {"name": ""}


def _record(item: Any) -> OwnWood | None:
    head = fields.head_record(item.id_data.grainstack)
    (index,) = strip_fields.indices_of(item)
    return head.woods[index] if head and index < len(head.woods) else None


def edit_wood(item: Any, **values: Any) -> None:
    """Change what the design says of a wood; None removes a key. The sidebar says what was refused."""
    scene, (index,) = item.id_data, strip_fields.indices_of(item)
    document = json.loads(scene.grainstack.document)
    changed = {key: value for key, value in (wood_of(item) | values).items() if value is not None}
    document["woods"][index] = changed
    with fields.telling(scene):
        fields.set_document(scene, document)


def _set_name(item: Any, name: str) -> None:
    """Whatever is of that wood keeps being of it."""
    scene, (index,) = item.id_data, strip_fields.indices_of(item)
    before = wood_of(item)["name"]

    def change(document: dict[str, Any]) -> dict[str, Any]:
        document["woods"][index]["name"] = name
        return renamed(document, before, name)

    with fields.telling(scene):
        fields.change_whole(scene, change)


def _is_photo(item: Any) -> bool:
    return "photo" in wood_of(item)


def _like(item: Any) -> str:
    wood = wood_of(item)
    return wood.get("species") or wood.get("looks_like", "")


def _photo(item: Any, key: str) -> Any:
    record = _record(item)
    return getattr(record.photo, key) if record and record.photo else None


def _number(item: Any, key: str) -> float | None:
    record = _record(item)
    species = find_wood(record.name, [record]) if record else None
    return getattr(species, key) if species else None


def _colour(item: Any, key: str) -> tuple[float, ...]:
    record = _record(item)
    species = find_wood(record.name, [record]) if record else None
    text = {"cut": "fresh_colour", "aged": "aged_colour"}[key]
    return tuple(colour.srgb_from_hex(getattr(species, text)).tolist()) if species else (0.0, 0.0, 0.0)


def _set_colour(item: Any, key: str, seen: Any) -> None:
    shown = {each: colour.hex_from_srgb(_colour(item, each)) for each in ("cut", "aged")}
    wanted = colour.hex_from_srgb(list(seen))
    if wanted != shown[key]:
        edit_wood(item, colours=shown | wood_of(item).get("colours", {}) | {key: wanted})


def _grey(item: Any) -> tuple[int, int]:
    """The middle of the place that is looked at."""
    box = _photo(item, "grey")
    return (round((box[0] + box[2]) / 2), round((box[1] + box[3]) / 2)) if box else (0, 0)


def _set_grey(item: Any, seen: Any) -> None:
    if wood_of(item).get("grey") is not None and tuple(seen) != _grey(item):
        edit_wood(item, grey=list(seen))


def _like_text(item: Any, value: str) -> None:
    edit_wood(item, **{"species" if _is_photo(item) else "looks_like": value})


def wood_fields() -> dict[str, Any]:
    """The fields of a wood."""
    made: dict[str, Any] = {
        "name_wood": StringProperty(
            name="Name", description="What you call it, as the wood of strips and pieces",
            get=lambda self: wood_of(self)["name"], set=_set_name, options=set(),
        ),
        "like": fields.species_field(
            "Species", "The species that it is, or comes nearest to: figure and properties are taken from there",
            _like, _like_text,
        ),
        "photo": StringProperty(
            name="Photo", description="The photo's file, beside the design or in a folder there",
            get=lambda self: wood_of(self).get("photo", ""),
            set=lambda self, value: edit_wood(self, photo=value), options=set(),
        ),
        "mm_per_pixel": FloatProperty(
            name="Scale", description="Millimetres that a pixel of the photo shows", precision=4, min=0, options=set(),
            get=lambda self: _photo(self, "mm_per_pixel") or 0.0,
            set=lambda self, value: _set_scale(self, value),
        ),
        "grain": scaled(
            "Grain", "Direction of the grain in the photo, counter-clockwise from its lower edge", RADIANS,
            lambda self: _photo(self, "grain"), lambda self, value: edit_wood(self, grain=value),
        ),
        "has_card": BoolProperty(
            name="Grey Card", description="Correct the colours of the photo by a grey card that lies in it",
            get=lambda self: _photo(self, "grey") is not None,
            set=lambda self, on: edit_wood(self, grey=list(CARD_AT) if on else None), options=set(),
        ),
        "card": IntVectorProperty(
            name="Card", description="A place on the card, in pixels from the photo's upper left corner",
            size=2, min=0, get=_grey, set=_set_grey, options=set(),
        ),
        "reflectance": FloatProperty(
            name="Reflectance", description="Share of the light that the card reflects; 0 keeps the photo's brightness",
            min=0, max=0.99, subtype="FACTOR", options=set(),
            get=lambda self: _photo(self, "grey_reflectance") or 0.0,
            set=lambda self, value: edit_wood(self, grey_reflectance=round(value, 4) or None),
        ),
        "density": scaled(
            "Density", "Density in kg/m3 at 12 % moisture content", 1.0, lambda self: _number(self, "density"),
            lambda self, value: edit_wood(self, density=value or None), min=0,
        ),
    }  # fmt: skip
    for key, label, when in (("cut", "Fresh Colour", "freshly cut"), ("aged", "Aged Colour", "aged")):
        made[f"colour_{key}"] = _colour_field(key, label, when)
    for key, label in (("tangential", "Shrinkage Tangential"), ("radial", "Shrinkage Radial")):
        made[f"shrinkage_{key}"] = _shrinkage_field(key, label)
    return made


def _set_scale(item: Any, seen: float) -> None:
    if seen > 0:
        edit_wood(item, mm_per_pixel=round(seen, 6), measured=None)


def _colour_field(key: str, label: str, when: str) -> Any:
    return FloatVectorProperty(
        name=label, description=f"Colour of the bare wood, {when}", subtype="COLOR_GAMMA", size=3, min=0, max=1,
        get=lambda self: _colour(self, key), set=lambda self, seen: _set_colour(self, key, seen), options=set(),
    )  # fmt: skip


def _shrinkage_field(key: str, label: str) -> Any:
    name = f"shrinkage_{key}"
    return scaled(
        label, "Shrinkage from green to oven-dry, in percent", 1.0, lambda self: _number(self, name),
        lambda self, value: edit_wood(self, **{name: value or None}), min=0,
    )  # fmt: skip


# --- Glue ---------------------------------------------------------------------------------------------------


def _glue(settings: Any) -> str | None:
    record = fields.head_record(settings)
    return record.workshop.glue_colour if record else None


def _set_glue(settings: Any, wanted: str | None) -> None:
    scene, document = settings.id_data, json.loads(settings.document)
    shop = {**document.get("workshop", {}), "glue_colour": wanted}
    document["workshop"] = {key: value for key, value in shop.items() if value is not None}
    if wanted != _glue(settings):
        with fields.telling(scene):
            fields.set_document(scene, document)


def glue_fields() -> dict[str, Any]:
    """The fields of the workshop's glue."""
    return {
        "shows_glue": BoolProperty(
            name="Glue Lines", description="Show glue in the gaps between inserts and pockets",
            get=lambda self: _glue(self) is not None,
            set=lambda self, on: _set_glue(self, GLUE_COLOUR if on else None), options=set(),
        ),
        "glue_colour": FloatVectorProperty(
            name="Glue Colour", description="Colour of the glue when it is hard", subtype="COLOR_GAMMA", size=3, min=0,
            max=1, get=lambda self: tuple(colour.srgb_from_hex(_glue(self) or GLUE_COLOUR).tolist()),
            set=lambda self, seen: _set_glue(self, colour.hex_from_srgb(list(seen))), options=set(),
        ),
    }  # fmt: skip


# --- Pieces -------------------------------------------------------------------------------------------------


def _place(mark: Any) -> tuple[float, float]:
    """Where a piece's middle lies on its board, mm, by its own wish or not."""
    own = record_value(mark, "board_at")
    scene = fields.scene_of(mark.id_data) if own is None and mark.kind == "outline" else None
    opened = designs.known(scene.grainstack.fingerprint) if scene else None
    lay = opened.lays.get(mark.id) if opened else None
    if own is not None or opened is None or lay is None:
        return own or (0.0, 0.0)
    photo = opened.boards.get(folded(lay.wood))
    return on_photo(lay, photo)[0] if photo else board_of(lay, lay.wood)[1]


def _set_place(mark: Any, seen: Any) -> None:
    before = _place(mark)
    now = [fields.typed(value, MM, old) for value, old in zip(seen, before, strict=True)]
    if tuple(now) != tuple(before):
        edit_piece(mark, board_at=now)


def _set_own_place(mark: Any, own: bool) -> None:
    at = [fields.typed(round(value, 2) * MM, MM, None) for value in _place(mark)]
    edit_piece(mark, board_at=at if own else None)


def _said(default: Any) -> Callable[[Any, str], Any]:
    return lambda mark, key: json.loads(mark.entry or "{}").get(key, default)


def piece_fields() -> dict[str, Any]:
    """The fields of a piece's place on its board."""
    said = _said(None)
    return {
        **strip_fields.sawn_fields(said, lambda self, key, value: edit_piece(self, **{key: value})),
        "board_at": FloatVectorProperty(
            name="On Board", description="Where the middle of the piece lies on the board", size=2, unit="LENGTH",
            precision=fields.DIGITS, get=lambda self: tuple(value * MM for value in _place(self)), set=_set_place,
            options=set(),
        ),
        "own_board_at": BoolProperty(
            name="Choose Place on Board",
            description="Choose where the piece lies on the board; otherwise Grainstack picks a place, always the same "
            "for the same name",
            get=lambda self: has_own(self, "board_at"), set=_set_own_place, options=set(),
        ),
        "board_turn": scaled(
            "Turn on Board", "How far the piece is turned on the board, counter-clockwise; on the panel its grain "
            "turns as far the other way, or the same way if it lies face down on the board", RADIANS,
            lambda self: said(self, "board_turn") or 0.0,
            lambda self, value: edit_piece(self, board_turn=value or None),
        ),
        "board_mirror": BoolProperty(
            name="Mirror", description="Turn the piece over on the board. A piece with upright walls then shows the "
            "back of the board, a tapered piece the photographed side. If ticked, lay the blank on the saw with the "
            "photographed side down; if not, with it up. The other way round for a tapered piece that you saw face up "
            "by the paper template",
            get=lambda self: bool(said(self, "board_mirror")),
            set=lambda self, value: edit_piece(self, board_mirror=value or None), options=set(),
        ),
        "stripes": IntProperty(
            name="Stripes", description="How many stripes make up the pattern of its blank",
            get=lambda self: len((said(self, "blank") or {}).get("stripes", [])), options={"HIDDEN"},
        ),
    }  # fmt: skip


class WoodItem(bpy.types.PropertyGroup):
    """One of the maker's own woods."""


fields.annotate(WoodItem, wood_fields, "wood_fields")

CLASSES = (WoodItem,)
