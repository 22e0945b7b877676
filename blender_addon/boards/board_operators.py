"""What the maker can do with woods and boards of their own, and with the blanks that pieces are sawn from.

A class's docstring is its tooltip, so it ends without a full stop.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import bpy
from bpy.props import FloatProperty, IntVectorProperty, StringProperty
from bpy_extras.io_utils import ImportHelper

from ...core.boards.place_on_photo import find_photo, lies_on_its_side
from ...core.boards.upright import upright_copy
from ...core.design_file.own_woods import renamed
from ...core.errors import UnusableInput
from ...core.woods.species import find_wood
from ..bench import fields
from ..bench.fields import species_choice, wood_choice
from ..bench.operator_helpers import LENGTH, follow_up, holds_design, may_change, mm, refuse
from ..bench.piece_operators import PieceOperator
from ..scene import conversion
from .board_fields import wood_of

PICTURES = "*.png;*.jpg;*.jpeg;*.tif;*.tiff"
FOLDER = "boards"
"""Where photos from elsewhere are copied to, beside the design."""

Document = dict[str, Any]


class WoodOperator(bpy.types.Operator):
    """Changes the design's list of woods."""

    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return holds_design(cls, context) and may_change(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            words = self.work(context)
        except UnusableInput as error:
            return refuse(self, error)
        return follow_up(self, context.scene, words)


class GRAINSTACK_OT_add_board(WoodOperator, ImportHelper):
    """Add a wood from the photo of a real board, at its true scale"""

    bl_idname = "grainstack.add_board"
    bl_label = "Add Board from Photo"

    filename_ext = ""
    filepath: StringProperty(
        name="File Path", description="The photo of the board", subtype="FILE_PATH", options={"SKIP_SAVE"}
    )
    filter_glob: StringProperty(default=PICTURES, options={"HIDDEN"})
    species: species_choice("Species", "Which wood the board is", "black walnut")
    mm_per_pixel: FloatProperty(
        name="Scale", description="Millimetres that a pixel of the photo shows", default=0.1, min=0.001, precision=4
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not super().poll(context):
            return False
        if not context.scene.grainstack.design_path:
            cls.poll_message_set("Save the design first: its photos lie beside it")
            return False
        return True

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        self.layout.prop(self, "species")
        self.layout.prop(self, "mm_per_pixel")

    def work(self, context: bpy.types.Context) -> str:
        scene = context.scene
        photo = beside_design(Path(bpy.path.abspath(self.filepath)), conversion.path_of(scene).parent)
        name = free_name(scene, Path(photo).stem.replace("-", " ").replace("_", " "))
        scale = round(self.mm_per_pixel, 6)
        add(scene, {"name": name, "photo": photo, "species": self.species, "mm_per_pixel": scale})
        width, height = find_photo(_last(scene), conversion.path_of(scene).parent).size
        return f"Added {name}, {width:.0f} x {height:.0f} mm"


class GRAINSTACK_OT_add_wood(WoodOperator):
    """Add a wood that the species table does not have, starting from a similar one"""

    bl_idname = "grainstack.add_wood"
    bl_label = "Add Wood"

    name: StringProperty(name="Name", description="What you call it", default="My Wood")
    looks_like: species_choice("Looks Like", "The species that comes nearest", "pear")

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self)

    def work(self, context: bpy.types.Context) -> str:
        name = free_name(context.scene, self.name)
        add(context.scene, {"name": name, "looks_like": self.looks_like})
        return f"Added {name}"


class ActiveWoodOperator(WoodOperator):
    """Works on the active wood."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not super().poll(context):
            return False
        if not context.scene.grainstack.woods:
            cls.poll_message_set("Add a wood first")
            return False
        return True


class GRAINSTACK_OT_remove_wood(ActiveWoodOperator):
    """Remove the active wood; strips and pieces of it become the species that it looks like"""

    bl_idname = "grainstack.remove_wood"
    bl_label = "Remove Wood"

    def work(self, context: bpy.types.Context) -> str:
        settings = context.scene.grainstack
        wood = wood_of(settings.woods[settings.active_wood])

        def change(document: Document) -> Document:
            document["woods"].pop(settings.active_wood)
            if not document["woods"]:
                document.pop("woods")
            return renamed(document, wood["name"], wood.get("species") or wood["looks_like"])

        fields.change_whole(context.scene, change)
        return f"Removed {wood['name']}"


class GRAINSTACK_OT_measure_board(ActiveWoodOperator):
    """Set the scale of the photo by two points and the distance between them, read from a ruler in the photo"""

    bl_idname = "grainstack.measure_board"
    bl_label = "Measure Board"

    start: IntVectorProperty(
        name="From", description="One point, in pixels from the photo's upper left corner", size=2, min=0
    )
    end: IntVectorProperty(
        name="To", description="The other point, in pixels from the photo's upper left corner", size=2, min=0
    )
    length: FloatProperty(
        name="Distance", description="Distance between the two points on the board", default=0.1, min=0.0001, **LENGTH
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not super().poll(context):
            return False
        settings = context.scene.grainstack
        if "photo" not in wood_of(settings.woods[settings.active_wood]):
            cls.poll_message_set("Choose a board from a photo first")
            return False
        return True

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self)

    def work(self, context: bpy.types.Context) -> str:
        settings = context.scene.grainstack
        item = settings.woods[settings.active_wood]
        measured = {"from": list(self.start), "to": list(self.end), "mm": mm(self.length)}
        document = json.loads(settings.document)
        kept = {key: value for key, value in wood_of(item).items() if key != "mm_per_pixel"}
        document["woods"][settings.active_wood] = kept | {"measured": measured}
        fields.set_document(context.scene, document)
        return f"A pixel shows {item.mm_per_pixel:.4f} mm"


class GRAINSTACK_OT_glue_blank(PieceOperator):
    """Saw each selected piece from a striped blank, glued up from two woods in turn"""

    bl_idname = "grainstack.glue_blank"
    bl_label = "Glue Up Blank"

    wood: wood_choice("Wood", "Wood of the stripe in the middle, and every other one", "holly")
    width: FloatProperty(
        name="Width",
        description="Width of the stripes of the first wood",
        default=0.01,
        min=0.0005,
        soft_max=0.1,
        **LENGTH,
    )
    second_wood: wood_choice("Second Wood", "Wood of the stripes between them", "wenge")
    second_width: FloatProperty(
        name="Second Width",
        description="Width of the stripes of the second wood",
        default=0.003,
        min=0.0005,
        soft_max=0.1,
        **LENGTH,
    )

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self)

    def work(self, context: bpy.types.Context, items: list[bpy.types.Object]) -> str:
        stripes = [
            {"wood": self.wood, "width": mm(self.width)},
            {"wood": self.second_wood, "width": mm(self.second_width)},
        ]
        fields.set_entries(items, blank={"stripes": stripes}, leaves=None)
        return f"Striped blanks: {len(items)}"


class GRAINSTACK_OT_plain_blank(PieceOperator):
    """Saw each selected piece from plain wood again, not from a striped blank"""

    bl_idname = "grainstack.plain_blank"
    bl_label = "Plain Blank"

    def work(self, context: bpy.types.Context, items: list[bpy.types.Object]) -> str:
        fields.set_entries(items, blank=None)
        return f"Plain blanks: {len(items)}"


def beside_design(file: Path, folder: Path) -> str:
    """The file's name as a design in `folder` says it; a file from elsewhere is copied to a folder beside the design.

    Of a photo that is only marked as turned an upright copy is made, and used.

    Raises:
        UnusableInput: there is no such file, or it cannot be copied.
    """
    if not file.is_file():
        raise UnusableInput(str(file), "", "there is no such photo", "Choose another")
    if lies_on_its_side(file):
        inside = file.resolve().is_relative_to(folder.resolve())
        file = upright_copy(file, file.parent if inside else folder / FOLDER)
    if file.resolve().is_relative_to(folder.resolve()):
        return file.resolve().relative_to(folder.resolve()).as_posix()
    target = folder / FOLDER / file.name
    try:
        if not target.exists():
            target.parent.mkdir(exist_ok=True)
            shutil.copyfile(file, target)
        elif target.read_bytes() != file.read_bytes():
            raise UnusableInput(str(target), "", "another photo has that name there", "Rename the new one first")
    except OSError as error:
        problem = f"the photo cannot be copied there ({error.strerror})"
        raise UnusableInput(str(target), "", problem, "Copy it beside the design yourself") from None
    return f"{FOLDER}/{file.name}"


def free_name(scene: bpy.types.Scene, wanted: str) -> str:
    """The name, or with the first free number behind it; it hides no other wood."""
    own = _head(scene).woods
    names = [wanted, *(f"{wanted} {number}" for number in range(2, 1000))]
    return next((name for name in names if find_wood(name, own) is None), wanted)


def add(scene: bpy.types.Scene, wood: Document) -> None:
    """Add a wood to the design, which becomes the active one.

    Raises:
        UnusableInput: it breaks a rule of the format, or its photo cannot be used.
    """
    document = json.loads(scene.grainstack.document)
    document["woods"] = [*document.get("woods", []), wood]
    head = conversion.head_design(conversion.head_of(document), conversion.path_of(scene))
    if "photo" in wood:
        find_photo(head.woods[-1], head.folder)
    fields.set_document(scene, document)
    scene.grainstack.active_wood = len(document["woods"]) - 1


def _head(scene: bpy.types.Scene) -> Any:
    return conversion.head_design(scene.grainstack.document, conversion.path_of(scene))


def _last(scene: bpy.types.Scene) -> Any:
    return _head(scene).woods[-1]


CLASSES = (
    GRAINSTACK_OT_add_board,
    GRAINSTACK_OT_add_wood,
    GRAINSTACK_OT_remove_wood,
    GRAINSTACK_OT_measure_board,
    GRAINSTACK_OT_glue_blank,
    GRAINSTACK_OT_plain_blank,
)
