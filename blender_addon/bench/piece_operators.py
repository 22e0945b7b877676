"""What the maker can do with pieces: add, import, copy, mirror, array, delete, order.

A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, FloatVectorProperty, IntProperty, StringProperty
from bpy_extras.io_utils import ImportHelper
from mathutils import Vector

from ...core.design_file.reading import piece_of
from ...core.errors import UnusableInput
from ...core.outlines.editable_curves import artwork_pieces, centred, path_data
from ...core.outlines.place_matrix import mirrored, turned_grain
from ...core.outlines.starting_shapes import SHAPES, line
from ..scene import conversion
from ..scene import objects as scenes
from ..units import METRES
from . import fields
from .fields import wood_choice
from .operator_helpers import LENGTH, OUTLINES, follow_up, holds_design, may_change, mm, refuse

SHAPE_ITEMS = (
    ("leaf", "Leaf", "A leaf, pointed at both ends", "CURVE_BEZCURVE", 0),
    ("disc", "Disc", "A circle", "CURVE_BEZCIRCLE", 1),
    ("rectangle", "Rectangle", "A rectangle with straight sides", "MESH_PLANE", 2),
    ("line", "Groove", "A line as wide as its cutter, filled with a thin strip of wood", "CURVE_PATH", 3),
)
MOVES = (
    ("FIRST", "To Back", "Under all other pieces", 0),
    ("BACK", "Back", "One place towards the back", 1),
    ("FRONT", "Front", "One place towards the front", 2),
    ("LAST", "To Front", "Over all other pieces", 3),
)
AXES = (
    ("x", "Left to Right", "Swap left and right", 0),
    ("y", "Bottom to Top", "Swap bottom and top", 1),
)


class PieceOperator(bpy.types.Operator):
    """Works on the selected pieces."""

    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not holds_design(cls, context) or not may_change(cls, context):
            return False
        if not selected(context):
            cls.poll_message_set("Select a piece first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            words = self.work(context, selected(context))
        except UnusableInput as error:
            return refuse(self, error)
        return follow_up(self, context.scene, words)

    def work(self, context: bpy.types.Context, items: list[bpy.types.Object]) -> str:
        """Change the pieces, and say what was done.

        Raises:
            UnusableInput: it cannot be done; nothing is changed then.
        """
        raise NotImplementedError


class GRAINSTACK_OT_add_piece(bpy.types.Operator):
    """Add a piece at the cursor, on top of all others; change its outline in Edit Mode"""

    bl_idname = "grainstack.add_piece"
    bl_label = "Add Piece"
    bl_options = {"REGISTER", "UNDO"}

    shape: EnumProperty(name="Shape", description="The outline to start from", items=SHAPE_ITEMS)
    size: FloatProperty(
        name="Size", description="Length of the new outline", default=0.08, min=0.001, soft_max=1, **LENGTH
    )
    wood: wood_choice("Wood", "The wood that its insert is sawn from", "holly")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return holds_design(cls, context) and may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        scene = context.scene
        size = mm(self.size)
        if self.shape == "line":
            path = conversion.path_of(scene)
            cutter = conversion.head_design(scene.grainstack.document, path).workshop.cutter_diameter
            outline = line(size, cutter)
        else:
            outline = SHAPES[self.shape](size)
        name = "groove" if self.shape == "line" else self.shape
        entry = {"id": name, "wood": self.wood, "outline": outline, "at": _at_cursor(scene)}
        try:
            (item,) = put(context, [entry])
        except UnusableInput as error:
            return refuse(self, error)
        return follow_up(self, scene, f"Added {item.grainstack.id}")


class GRAINSTACK_OT_import_pieces(bpy.types.Operator, ImportHelper):
    """Import each filled shape of an SVG drawing as a piece, with its place, size and curves"""

    bl_idname = "grainstack.import_pieces"
    bl_label = "Import Pieces"
    bl_options = {"REGISTER", "UNDO"}

    filename_ext = ".svg"
    filepath: StringProperty(
        name="File Path", description="The drawing to import", subtype="FILE_PATH", options={"SKIP_SAVE"}
    )
    filter_glob: StringProperty(default="*.svg", options={"HIDDEN"})
    wood: wood_choice("Wood", "The wood that the inserts are sawn from", "holly")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return holds_design(cls, context) and may_change(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if self.properties.is_property_set("filepath"):  # dropped on the viewport: only the wood is asked for
            return context.window_manager.invoke_props_dialog(self, confirm_text="Import")
        return ImportHelper.invoke(self, context, event)

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        self.layout.prop(self, "wood")

    def execute(self, context: bpy.types.Context) -> set[str]:
        path = Path(bpy.path.abspath(self.filepath))
        try:
            found = artwork_pieces(path.parent, path.name)
            items = put(context, [self._entry(name or path.stem, runs) for name, runs in found])
        except UnusableInput as error:
            return refuse(self, error)
        return follow_up(self, context.scene, f"Imported {len(items)} pieces from {path.name}")

    def _entry(self, name: str, runs: Any) -> dict[str, Any]:
        """About its own middle, so that it turns about itself."""
        moved, middle = centred(runs)
        at = [int(value) if value == round(value) else value for value in middle]
        return {"id": as_id(name), "wood": self.wood, "outline": {"path": path_data(moved)}, "at": at}


class GRAINSTACK_OT_duplicate_pieces(PieceOperator):
    """Copy the selected pieces; each copy comes just after its original in the order"""

    bl_idname = "grainstack.duplicate_pieces"
    bl_label = "Duplicate Pieces"

    offset: FloatVectorProperty(
        name="Offset", description="How far the copies are moved", size=2, default=(0.01, 0.01), unit="LENGTH",
        precision=fields.DIGITS,
    )  # fmt: skip

    def work(self, context: bpy.types.Context, items: list[bpy.types.Object]) -> str:
        copies = [copy_of(item, mm(self.offset[0]), mm(self.offset[1])) for item in items]
        select(context, copies)
        return f"Copied {_pieces(copies)}"


class GRAINSTACK_OT_mirror_pieces(PieceOperator):
    """Mirror the selected pieces, or copies of them, with their grain"""

    bl_idname = "grainstack.mirror_pieces"
    bl_label = "Mirror Pieces"

    axis: EnumProperty(name="Direction", description="Which sides to swap", items=AXES)
    about: EnumProperty(
        name="About",
        description="The point or line that the pieces are mirrored about",
        items=(
            ("PIECES", "Pieces", "The middle of the selected pieces", 0),
            ("PANEL", "Panel", "The middle of the panel", 1),
        ),
    )
    copy: BoolProperty(name="Copy", description="Leave the pieces where they are and mirror copies of them")

    def work(self, context: bpy.types.Context, items: list[bpy.types.Object]) -> str:
        line = self._line(context.scene, items)
        for item in items:
            _refuse_if_stretched(item)
        if self.copy:
            items = [copy_of(item, 0, 0) for item in items]
            select(context, items)
        for item in items:
            _mirror(item, self.axis, line)
        return f"Mirrored {_pieces(items)}"

    def _line(self, scene: bpy.types.Scene, items: list[bpy.types.Object]) -> float:
        side = "xy".index(self.axis)
        if self.about == "PANEL":
            panel = fields.panel_of(scene)
            return (panel["width"], panel["height"])[side] / 2
        corners = [(item.matrix_basis @ Vector(c))[side] for item in items for c in item.bound_box]
        return round((min(corners) + max(corners)) / 2 / METRES, 3)


class GRAINSTACK_OT_array_pieces(PieceOperator):
    """Repeat the selected pieces in a row, each copy moved and turned from the one before"""

    bl_idname = "grainstack.array_pieces"
    bl_label = "Array Pieces"

    count: IntProperty(name="Count", description="How many there will be, with the original", default=3, min=2, max=500)
    offset: FloatVectorProperty(
        name="Offset", description="Distance from each copy to the next", size=2, default=(0.05, 0), unit="LENGTH",
        precision=fields.DIGITS,
    )  # fmt: skip
    turn: FloatProperty(name="Turn", description="How far each copy is turned from the one before", subtype="ANGLE")

    def work(self, context: bpy.types.Context, items: list[bpy.types.Object]) -> str:
        copies = []
        for item in items:
            for step in range(1, self.count):
                copy = copy_of(item, step * mm(self.offset[0]), step * mm(self.offset[1]))
                copy.rotation_euler.z += step * self.turn
                copies.append(copy)
        select(context, [*items, *copies])
        return f"Added {_pieces(copies)}"


class GRAINSTACK_OT_delete_pieces(PieceOperator):
    """Delete the selected pieces, and take them out of the After lists of other pieces"""

    bl_idname = "grainstack.delete_pieces"
    bl_label = "Delete Pieces"

    def work(self, context: bpy.types.Context, items: list[bpy.types.Object]) -> str:
        gone = {item.grainstack.id for item in items}
        for item in items:
            scenes.remove(item)
        fields.wait_for(conversion.piece_objects(context.scene), dict.fromkeys(gone))
        return f"Deleted {len(gone)} piece{'s' * (len(gone) != 1)}"


class GRAINSTACK_OT_order_pieces(PieceOperator):
    """Move the selected pieces in the order; the pocket of a later piece cuts into earlier pieces that it overlaps"""

    bl_idname = "grainstack.order_pieces"
    bl_label = "Order Pieces"

    move: EnumProperty(name="Move", description="Where in the order to move them", items=MOVES, default="FRONT")

    def work(self, context: bpy.types.Context, items: list[bpy.types.Object]) -> str:
        order = conversion.piece_objects(context.scene)
        rest = [item for item in order if item not in items]
        if self.move in ("FIRST", "LAST"):
            order = [*items, *rest] if self.move == "FIRST" else [*rest, *items]
        else:
            _shift(order, items, 1 if self.move == "FRONT" else -1)
        for place, item in enumerate(order):
            item.grainstack.order = place
        return f"Moved {_pieces(items)}"


def _shift(order: list[bpy.types.Object], items: list[bpy.types.Object], step: int) -> None:
    """Move each one place further; those at the end stay, and so do those right behind them."""
    for item in reversed(items) if step > 0 else items:
        place = order.index(item)
        other = place + step
        if 0 <= other < len(order) and order[other] not in items:
            order[place], order[other] = order[other], order[place]


def selected(context: bpy.types.Context) -> list[bpy.types.Object]:
    """The selected pieces, back to front."""
    return [item for item in conversion.piece_objects(context.scene) if item.select_get()]


def select(context: bpy.types.Context, items: list[bpy.types.Object]) -> None:
    """Select only these, and make the last one active."""
    for item in context.view_layer.objects.selected[:]:
        item.select_set(False)
    for item in items:
        item.select_set(True)
    context.view_layer.objects.active = items[-1] if items else None


def put(context: bpy.types.Context, entries: Iterable[dict[str, Any]]) -> list[bpy.types.Object]:
    """Put new pieces on top of all others, with ids that are free; the wood follows afterwards.

    Raises:
        UnusableInput: one cannot be made; none is put then.
    """
    scene = context.scene
    taken = {item.grainstack.id for item in conversion.piece_objects(scene)}
    folder = conversion.path_of(scene).parent
    workshop = conversion.head_design(scene.grainstack.document, conversion.path_of(scene)).workshop
    checked = []
    for entry in entries:
        entry["id"] = conversion.free_id(entry["id"], taken)
        taken.add(entry["id"])
        piece_of(entry, workshop, folder, f'piece "{entry["id"]}"')
        checked.append(entry)
    items = [conversion.new_piece(entry, folder) for entry in checked]
    for place, item in enumerate(items, len(taken)):
        item.grainstack.order = place
        _collection(scene).objects.link(item)
    select(context, items)
    return items


def copy_of(item: bpy.types.Object, x: float, y: float) -> bpy.types.Object:
    """A copy with a curve of its own, moved by so many mm; it gets its id and place in the order when it is adopted."""
    copy = item.copy()
    copy.data = item.data.copy()
    at = [round(value + step, 6) for value, step in zip(_at(item), (x, y), strict=True)]
    copy.location.x += x * METRES
    copy.location.y += y * METRES
    if item.parent is None:  # sums in single precision would drift
        copy.location.x, copy.location.y = (value * METRES for value in at)
        copy.grainstack.entry = conversion.entry_text(json.loads(item.grainstack.entry) | {"at": at})
    for collection in item.users_collection:
        collection.objects.link(copy)
    return copy


def _at(item: bpy.types.Object) -> list[float]:
    return list(conversion.read_entry(item).get("at", (0, 0)))


def as_id(name: str) -> str:
    """A name as an id: what an id may not hold becomes a hyphen."""
    return re.sub(r"[^A-Za-z0-9_-]+", "-", name).strip("-_")[:56] or "piece"


def _refuse_if_stretched(item: bpy.types.Object) -> None:
    if abs(abs(item.scale.x) - abs(item.scale.y)) > 1e-6:
        raise UnusableInput("", f'piece "{item.grainstack.id}"', "it is stretched", "Apply its scale first (Ctrl A)")


def _mirror(item: bpy.types.Object, axis: str, line: float) -> None:
    entry = conversion.read_entry(item)
    before = entry.get("turn", 0), entry.get("mirror", False)
    at, turn, flipped = mirrored(tuple(entry.get("at", (0, 0))), *before, axis, line)
    values: dict[str, Any] = {"at": [round(value, 6) for value in at], "turn": turn % 360, "mirror": flipped}
    if entry.get("grain") is not None:
        values["grain"] = turned_grain(entry["grain"], before, (turn % 360, flipped))
    item.grainstack.entry = conversion.entry_text(entry | values)
    conversion.place(item, entry | values)


def _at_cursor(scene: bpy.types.Scene) -> list[float]:
    """The cursor, in hundredths; the middle of the panel where the cursor lies beside it."""
    panel = fields.panel_of(scene)
    at = [round(value / METRES, 2) for value in scene.cursor.location[:2]]
    inside = 0 < at[0] < panel["width"] and 0 < at[1] < panel["height"]
    values = at if inside else [panel["width"] / 2, panel["height"] / 2]
    return [int(value) if value == round(value) else value for value in values]


def _collection(scene: bpy.types.Scene) -> bpy.types.Collection:
    return scenes.child_collection(scene.grainstack.collection, OUTLINES)


def _pieces(items: list[bpy.types.Object]) -> str:
    return f"{len(items)} piece{'s' * (len(items) != 1)}"


CLASSES = (
    GRAINSTACK_OT_add_piece,
    GRAINSTACK_OT_import_pieces,
    GRAINSTACK_OT_duplicate_pieces,
    GRAINSTACK_OT_mirror_pieces,
    GRAINSTACK_OT_array_pieces,
    GRAINSTACK_OT_delete_pieces,
    GRAINSTACK_OT_order_pieces,
)
