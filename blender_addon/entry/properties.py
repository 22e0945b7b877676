"""What a scene and an object remember about Grainstack, in Blender's own properties."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ...core.woods import finish
from .. import designs
from ..bench import fields, frame_fields, panel_fields, piece_fields, room_air_fields, section_fields, strip_fields
from ..boards import board_fields
from ..findings import finding_items, finding_places
from ..pictures import film
from ..scene import conversion
from ..studio import picture_choices, studio
from ..views import views
from ..woods import eyes, wood_material


def _view_changed(self: SceneSettings, context: bpy.types.Context) -> None:
    views.refresh(self.id_data)


def _explosion_changed(self: SceneSettings, context: bpy.types.Context) -> None:
    self.id_data.update_tag()  # or the drivers sleep when a script moves the slider


def _size_changed(self: SceneSettings, context: bpy.types.Context) -> None:
    if self.picture_size != picture_choices.CUSTOM:
        self.picture_size = picture_choices.size_called(self.picture_width, self.picture_height)
    _shown_anew(self, context)


def _shown_anew(self: SceneSettings, context: bpy.types.Context) -> None:
    if self.shown:
        self.shown = ""  # until it is filled and framed anew
        views.refresh(self.id_data)


def _size_chosen(self: SceneSettings, context: bpy.types.Context) -> None:
    size = picture_choices.SIZES.get(self.picture_size)
    if size is None or (size.width, size.height) == (self.picture_width, self.picture_height):
        return
    shown, self.shown = self.shown, ""  # framed once, not for each of the two
    self.picture_size = picture_choices.CUSTOM
    self.picture_width, self.picture_height = size.width, size.height
    self.picture_size = size.name
    if shown:
        views.refresh(self.id_data)


def _quality_changed(self: SceneSettings, context: bpy.types.Context) -> None:
    if self.shown:
        self.id_data.cycles.samples = studio.samples_of(self.shown, self.quality)


def _get_batch(self: SceneSettings) -> int:
    return self.batch_count if self.stop_after < 0 else min(self.stop_after, self.batch_count)


def _set_batch(self: SceneSettings, batch: int) -> None:
    self.stop_after = -1 if batch >= self.batch_count else max(batch, 0)  # after the last: all there will ever be
    _shown_anew(self, bpy.context)


class ObjectMark(bpy.types.PropertyGroup):
    """Tells our own objects from the maker's."""

    kind: EnumProperty(
        items=(
            ("none", "None", "Not made by Grainstack", 0),
            ("background", "Background", "A piece of the background", 1),
            ("insert", "Insert", "The wood that fills a piece's pocket", 2),
            ("map", "Map", "The overlap map", 3),
            ("threads", "Threads", "The ways of the lifted inserts", 4),
            ("glue", "Glue", "The glue between inserts and pockets", 6),
            ("outline", "Outline", "The outline of a piece, which the maker edits", 5),
            ("plane", "Plane", "The plane that the section is cut along", 7),
        ),
        options={"HIDDEN"},
    )
    id: StringProperty(options={"HIDDEN"})
    order: IntProperty(options={"HIDDEN"})
    entry: StringProperty(options={"HIDDEN"})
    outline: StringProperty(options={"HIDDEN"})
    drawn: StringProperty(options={"HIDDEN"})
    made_of: StringProperty(options={"HIDDEN"})
    mesh_finished: PointerProperty(type=bpy.types.Mesh, options={"HIDDEN"})
    mesh_proud: PointerProperty(type=bpy.types.Mesh, options={"HIDDEN"})
    mesh_cut: PointerProperty(type=bpy.types.Mesh, options={"HIDDEN"})
    batch: IntProperty(options={"HIDDEN"})


fields.annotate(ObjectMark, piece_fields.piece_fields, "piece_fields.piece_fields")
fields.annotate(ObjectMark, board_fields.piece_fields, "board_fields.piece_fields")


def _active_piece(self: SceneSettings) -> int:
    """The place of the active piece among the scene's objects, as its list counts them."""
    scene = self.id_data
    active = bpy.context.view_layer.objects.active if bpy.context.scene == scene else None
    return scene.objects.find(active.name) if active is not None and active.grainstack.kind == "outline" else -1


def _wood_changed(self: SceneSettings, context: bpy.types.Context) -> None:
    wood_material.show_as(self.id_data, self.age, self.finish)


def _eyes_changed(self: SceneSettings, context: bpy.types.Context) -> None:
    eyes.look_with(self.id_data, self.eyes)


def _select_piece(self: SceneSettings, index: int) -> None:
    """What is chosen in the list is selected in the viewport."""
    scene, layer = self.id_data, bpy.context.view_layer
    item = scene.objects[index]
    if item.grainstack.kind != "outline" or item.name not in layer.objects or bpy.context.mode != "OBJECT":
        return
    for other in layer.objects.selected[:]:
        other.select_set(False)
    item.select_set(True)
    layer.objects.active = item


def _choose_finding(self: SceneSettings, index: int) -> None:
    """Its worst place is brought into sight, and its piece is selected; chosen again, its next place."""
    again = index == finding_items.chosen(self)
    self.chosen_place = self.chosen_place + 1 if again else 0
    self.chosen_finding = self.findings[index].identity
    opened = designs.known(self.fingerprint)
    if opened is not None and not again:
        finding_items.try_step(self, self.findings[index], opened)
    x, y, name = finding_items.place(self)
    pieces = {piece.grainstack.id: piece for piece in conversion.piece_objects(self.id_data)}
    if name in pieces and bpy.context.scene == self.id_data:
        _select_piece(self, self.id_data.objects.find(pieces[name].name))
    finding_places.frame(bpy.context, x, y)


class SceneSettings(bpy.types.PropertyGroup):
    """The design that a scene shows, and how."""

    document: StringProperty(options={"HIDDEN"})
    strips: CollectionProperty(type=strip_fields.StripItem, options={"HIDDEN"})
    woods: CollectionProperty(type=board_fields.WoodItem, options={"HIDDEN"})
    active_wood: IntProperty(name="Wood", description="The wood that the buttons here change", options={"HIDDEN"})
    active_strip: IntProperty(name="Strip", description="The strip that the buttons here change", options={"HIDDEN"})
    active_piece: IntProperty(
        name="Piece",
        description="The piece that the settings below belong to",
        get=_active_piece,
        set=_select_piece,
        options={"HIDDEN"},
    )
    design_path: StringProperty(options={"HIDDEN"})
    checked: StringProperty(options={"HIDDEN"})
    staged: StringProperty(options={"HIDDEN"})
    fingerprint: StringProperty(options={"HIDDEN"})
    collection: PointerProperty(type=bpy.types.Collection, options={"HIDDEN"})
    title: StringProperty(options={"HIDDEN"})
    size_text: StringProperty(options={"HIDDEN"})
    piece_count: IntProperty(options={"HIDDEN"})
    batch_count: IntProperty(options={"HIDDEN"})
    findings: CollectionProperty(type=finding_items.FindingItem, options={"HIDDEN"})
    accepted: IntProperty(options={"HIDDEN"})
    chosen_finding: StringProperty(options={"HIDDEN"})
    chosen_place: IntProperty(options={"HIDDEN"})
    active_finding: IntProperty(
        name="Finding",
        description=(
            "The chosen finding: the viewport shows its place and selects its piece. Click again for its next place"
        ),
        get=finding_items.chosen,
        set=_choose_finding,
        options={"HIDDEN"},
    )
    show_errors: BoolProperty(
        name="Errors", description="List and mark what makes the panel impossible or spoils it", default=True
    )
    show_warnings: BoolProperty(
        name="Warnings", description="List and mark what is likely to show or to break", default=True
    )
    show_notes: BoolProperty(name="Notes", description="List and mark what is good to know")
    only_active_piece: BoolProperty(
        name="Active Piece Only", description="List and mark only findings that are about the active piece"
    )
    show_marks: BoolProperty(
        name="Show Marks", description="Mark the places of the listed findings in the viewport", default=True
    )
    shown: StringProperty(options={"HIDDEN"})
    trouble: StringProperty(options={"HIDDEN"})
    view: EnumProperty(
        name="View",
        description="How to look at the panel",
        items=tuple((v.name, v.label, v.description, v.number) for v in views.VIEWS.values()),
        update=_view_changed,
    )
    explosion: FloatProperty(
        name="Spread",
        description="How far the inserts are lifted out of their pockets",
        default=1.0,
        min=0.0,
        max=1.0,
        subtype="FACTOR",
        update=_explosion_changed,
    )
    unfolding: EnumProperty(
        name="Lift",
        description="Whether the inserts rise all together, batch by batch or one by one as you move Spread",
        items=(
            ("together", "Together", "Lift all inserts at once", 0),
            ("batches", "Batch by Batch", "Lift one batch after the other; the batch glued last rises first", 1),
            ("pieces", "Piece by Piece", "Lift one insert after the other; the insert glued last rises first", 2),
        ),
        update=_shown_anew,
    )
    stop_after: IntProperty(default=-1, options={"HIDDEN"})
    batch: IntProperty(
        name="After Batch",
        description="Show the panel as it stands after this batch; 0 is the bare background",
        min=0,
        get=_get_batch,
        set=_set_batch,
        options=set(),
    )
    age: FloatProperty(
        name="Age",
        description="How far light has changed the woods: 0 freshly cut, 0.5 settled, 1 aged",
        default=finish.SETTLED,
        min=finish.CUT,
        max=finish.AGED,
        subtype="FACTOR",
        update=_wood_changed,
    )
    finish: EnumProperty(
        name="Finish",
        description="The finish on the woods: it deepens their colours and makes them shine",
        items=(
            ("bare", "Bare", "Sanded wood without any finish", 0),
            ("wax", "Wax", "A coat of wax: a little deeper, a soft shine", 1),
            ("oil", "Oil", "Oil: deep, warm colours and a satin shine", 2),
            ("lacquer", "Lacquer", "Clear lacquer: deep colours under a glossy film", 3),
        ),
        default="oil",
        update=_wood_changed,
    )
    eyes: EnumProperty(
        name="Eyes",
        description="Show the woods as these eyes see them, here and in pictures",
        items=eyes.KINDS,
        default="normal",
        update=_eyes_changed,
    )
    picture_size: EnumProperty(
        name="Size",
        description="What the picture is for, which sets its size",
        items=(
            *((size.name, size.label, size.description, size.number) for size in picture_choices.SIZES.values()),
            (picture_choices.CUSTOM, "Custom", "Keep the width and height below", 0),
        ),
        default="screen",
        update=_size_chosen,
    )
    quality: EnumProperty(
        name="Quality",
        description="How clean the picture is, and so how long it takes",
        items=tuple((q.name, q.label, q.description, q.number) for q in picture_choices.QUALITIES.values()),
        default=picture_choices.GOOD,
        update=_quality_changed,
    )
    device: EnumProperty(
        name="Device",
        description="What renders the picture",
        items=(
            ("auto", "Automatic", "A graphics processor if Blender's renderer can use one, else the processor", 0),
            ("cpu", "CPU", "The processor, which every computer has", 1),
            ("gpu", "GPU", "A graphics processor, which is much faster; without one, the processor", 2),
        ),
    )
    film: EnumProperty(
        name="Film",
        description="What the film shows",
        items=tuple((f.name, f.label, f.description, f.number) for f in film.FILMS.values()),
    )
    picture_width: IntProperty(
        name="Width",
        description="Width of the picture",
        default=picture_choices.SIZES["screen"].width,
        min=16,
        max=16384,
        subtype="PIXEL",
        update=_size_changed,
    )
    picture_height: IntProperty(
        name="Height",
        description="Height of the picture",
        default=picture_choices.SIZES["screen"].height,
        min=16,
        max=16384,
        subtype="PIXEL",
        update=_size_changed,
    )
    folder: StringProperty(
        name="Folder",
        description="Where pictures, lines to cut and bench sheets are saved, under the name of the design",
        subtype="DIR_PATH",
    )


class MeshMark(bpy.types.PropertyGroup):
    """What a mesh of ours holds. It stands on the mesh itself: undo takes each datablock back by itself."""

    stamp: StringProperty(options={"HIDDEN"})


fields.annotate(SceneSettings, panel_fields.scene_fields, "panel_fields.scene_fields")
fields.annotate(SceneSettings, frame_fields.frame_fields, "frame_fields.frame_fields")
fields.annotate(SceneSettings, board_fields.glue_fields, "board_fields.glue_fields")
fields.annotate(SceneSettings, room_air_fields.weather_fields, "room_air_fields.weather_fields")
fields.annotate(SceneSettings, section_fields.section_fields, "section_fields.section_fields")

CLASSES = (*strip_fields.CLASSES, *board_fields.CLASSES, finding_items.FindingItem, ObjectMark, MeshMark, SceneSettings)


def register() -> None:
    """Tell Blender of our properties."""
    for cls in CLASSES:
        bpy.utils.register_class(cls)
    bpy.types.Object.grainstack = PointerProperty(type=ObjectMark)
    bpy.types.Mesh.grainstack = PointerProperty(type=MeshMark)
    bpy.types.Scene.grainstack = PointerProperty(type=SceneSettings)


def unregister() -> None:
    """Undo `register`, in reverse."""
    del bpy.types.Scene.grainstack
    del bpy.types.Mesh.grainstack
    del bpy.types.Object.grainstack
    for cls in reversed(CLASSES):
        bpy.utils.unregister_class(cls)


@contextlib.contextmanager
def registered() -> Iterator[None]:
    """For commands: scenes and objects have our properties, be the add-on enabled or merely imported."""
    if hasattr(bpy.types.Scene, "grainstack"):
        yield
        return
    register()
    try:
        yield
    finally:
        unregister()
