"""The scene of a design: its collections, and one object per background piece and insert.

`match` creates and removes objects as the design wants them, a view only refills their meshes. We know our own
objects by `object.grainstack`, never by name.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator
from typing import Literal, get_args

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.boards.figure import Lay, figure_of
from ...core.solids.panel_solids import Solid
from ..designs import OpenDesign
from ..drivers import drive
from ..meshes import fill
from ..studio import studio
from ..woods import wood_material, wood_slots

OVERLAP_MAP = "Overlap Map"
SECTION_PLANE = "Section Plane"
THREADS = "Threads"
AIDS = (("map", OVERLAP_MAP), ("plane", SECTION_PLANE))
"""What each scene of ours has beside its wood, by kind and id."""
Form = Literal["finished", "proud", "cut"]
FORMS = get_args(Form)
"""An object has a mesh for each form that a view showed it in."""
EXPLODED = 2
"""The exploded view's number in the view property, for drivers to compare with."""


def is_ours(scene: bpy.types.Scene) -> bool:
    """Whether the scene shows a design."""
    return bool(scene.grainstack.fingerprint)


def scene_for_a_design(current: bpy.types.Scene, title: str) -> bpy.types.Scene:
    """The current scene if it is empty or shows a design already, else a new one: never change the maker's.

    An empty or new scene gets its lengths in millimetres, or in inches where the maker works in those.
    """
    if is_ours(current):
        return current
    scene = bpy.data.scenes.new(title) if current.objects else current
    imperial = current.unit_settings.system == "IMPERIAL"
    scene.unit_settings.system = "IMPERIAL" if imperial else "METRIC"
    scene.unit_settings.length_unit = "INCHES" if imperial else "MILLIMETERS"
    return scene


def own_objects(scene: bpy.types.Scene) -> Iterator[bpy.types.Object]:
    """All objects of the scene that Grainstack owns."""
    return (item for item in scene.objects if item.grainstack.kind != "none")


def wood_objects(scene: bpy.types.Scene) -> dict[str, bpy.types.Object]:
    """The objects of background pieces and inserts by id."""
    wood = (item for item in own_objects(scene) if item.grainstack.kind in ("background", "insert"))
    return {item.grainstack.id: item for item in wood}


def match(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Create the objects that the design wants, of its woods, and remove those that it does not; a view fills them.

    Only within a step of undo: what is made between steps Blender drops with the next undo, and crashes where
    something that it keeps still points there.
    """
    settings = scene.grainstack
    if settings.collection is None:
        settings.collection = _new_collection(scene.collection, opened.title)
    root = settings.collection
    kept = _objects_to_keep(scene, opened)
    for (kind, name), wood in _wanted(opened).items():
        item = kept.get((kind, name))
        if item is None:
            item = _new_solid(root, scene, kind, name)
        _own_forms(item)
        if item.grainstack.made_of != wood:
            for mesh in {item.data, *_forms(item).values()}:
                mesh.materials.clear()
                for material in wood_slots.materials_of(opened, name):
                    mesh.materials.append(material)
            item.grainstack.made_of = wood
    if ("map", OVERLAP_MAP) not in kept:
        own_object(root, OVERLAP_MAP, "map", OVERLAP_MAP, bpy.data.meshes.new(OVERLAP_MAP))
    if ("plane", SECTION_PLANE) not in kept:
        _add_plane(root)


def matches(scene: bpy.types.Scene, opened: OpenDesign) -> bool:
    """Whether `match` has nothing to do."""
    own = [item.grainstack for item in own_objects(scene) if item.grainstack.kind not in ("outline", "threads")]
    found = {(mark.kind, mark.id): mark.made_of for mark in own}
    if not all(map(_owns_forms, wood_objects(scene).values())):
        return False
    wanted = _wanted(opened) | dict.fromkeys(AIDS, "")
    return len(own) == len(found) and found == wanted


def _wanted(opened: OpenDesign) -> dict[tuple[str, str], str]:
    """What each solid is made of, in words, by kind and id."""
    names = [("background", piece.name) for piece in opened.stack.background]
    names += [("insert", placed.piece.id) for placed in opened.stack.pieces]
    if opened.stack.design.workshop.glue_colour:
        names.append(("glue", wood_slots.GLUE_LINES))
    return {(kind, name): wood_slots.words_of(opened, name) for kind, name in names}


def _objects_to_keep(scene: bpy.types.Scene, opened: OpenDesign) -> dict[tuple[str, str], bpy.types.Object]:
    """Our objects by kind and id; those that the design does not want, and copies made by hand, are removed."""
    wanted = {*_wanted(opened), *AIDS}
    kept: dict[tuple[str, str], bpy.types.Object] = {}
    for item in sorted(own_objects(scene), key=lambda item: item.name):
        key = (item.grainstack.kind, item.grainstack.id)
        if key in wanted and key not in kept:
            kept[key] = item
        elif item.grainstack.kind not in ("outline", "threads"):
            remove(item)
    return kept


def _new_solid(root: bpy.types.Collection, scene: bpy.types.Scene, kind: str, name: str) -> bpy.types.Object:
    if kind == "background":
        item = own_object(child_collection(root, "Background"), name, kind, name, bpy.data.meshes.new(name))
        item.hide_select = True
        return item
    if kind == "glue":
        item = own_object(root, name, kind, name, bpy.data.meshes.new(name))
        item.hide_select = True
        return item
    title = f"{name} insert"
    item = own_object(child_collection(root, "Inserts"), title, kind, name, bpy.data.meshes.new(title))
    item.lock_location = item.lock_rotation = item.lock_scale = (True, True, True)
    drive(item, scene, "location", "0")
    return item


def number_batches(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Tell each outline the batch that its piece is glued in, for lists."""
    batches = {placed.piece.id: placed.batch for placed in opened.stack.pieces}
    for item in own_objects(scene):
        if item.grainstack.kind == "outline" and item.library is None and item.override_library is None:
            _set(item.grainstack, "batch", batches.get(item.grainstack.id, 0))


def clear(scene: bpy.types.Scene) -> None:
    """Remove our objects and collections; what the maker put among them moves to the scene's collection."""
    for item in list(own_objects(scene)):
        remove(item)
    if root := scene.grainstack.collection:
        for collection in (*root.children_recursive, root):
            _dissolve(collection, scene)
        scene.grainstack.collection = None


def close(scene: bpy.types.Scene) -> None:
    """Remove a scene of our own, with its studio."""
    clear(scene)
    studio.clear(scene)
    bpy.data.scenes.remove(scene)


def _dissolve(collection: bpy.types.Collection, scene: bpy.types.Scene) -> None:
    for item in collection.objects:
        if item.name not in scene.collection.objects:
            scene.collection.objects.link(item)
    bpy.data.collections.remove(collection)


def remove(item: bpy.types.Object) -> None:
    """Remove an object, and its data when nothing else uses it."""
    data = {item.data, *_forms(item).values()} - {None}
    bpy.data.objects.remove(item)
    bpy.data.batch_remove([each for each in data if not each.users])


def make_objects(
    scene: bpy.types.Scene, opened: OpenDesign, solids: Collection[Solid], form: Form, hidden: Collection[str] = ()
) -> bool:
    """Let each object show its mesh of this form, made when there is none, and refill it; within a step of undo.

    Returns False where an object could not be filled now, as `refill_objects` does.
    """
    shown = {solid.name for solid in solids}
    for name, item in wood_objects(scene).items():
        if name in shown and not _is_linked(item) and item.mode != "EDIT":
            _turn_to(item, form)
    return refill_objects(scene, opened, solids, hidden)


def refill_objects(
    scene: bpy.types.Scene, opened: OpenDesign, solids: Collection[Solid], hidden: Collection[str] = ()
) -> bool:
    """Fill each solid into the mesh that its object shows, where it does not hold it already; the rest is hidden.

    Returns False where an object could not be filled now: Blender loses a mesh that is filled in Edit Mode.
    """
    by_name = {solid.name: solid for solid in solids}
    done = True
    for name, item in wood_objects(scene).items():
        solid = by_name.get(name)
        if _is_linked(item):
            continue
        if item.mode == "EDIT":
            done = False
            continue
        if solid is not None:
            _fill_mesh(item.data, solid, opened)
        _set(item, "hide_render", solid is None)
        _set(item, "hide_viewport", solid is None or name in hidden)
    return done


def _is_linked(item: bpy.types.Object) -> bool:
    """Whether it, or its mesh, is another file's."""
    return bool(item.library or item.data.library)


def _forms(item: bpy.types.Object) -> dict[str, bpy.types.Mesh]:
    """The meshes of an object by form, of those that were shown."""
    meshes = {form: getattr(item.grainstack, f"mesh_{form}") for form in FORMS}
    return {form: mesh for form, mesh in meshes.items() if mesh is not None}


def _owns_forms(item: bpy.types.Object) -> bool:
    """Whether what it shows is a form of it, and no copy shares what it does not show."""
    forms = _forms(item).values()
    return item.data in forms and all(mesh.users == 1 for mesh in forms if mesh != item.data)


def _own_forms(item: bpy.types.Object) -> None:
    """Let an object that is new, a copy, or got another mesh, begin with just that."""
    if not _owns_forms(item):
        for form in FORMS:
            setattr(item.grainstack, f"mesh_{form}", item.data if form == FORMS[0] else None)


def _turn_to(item: bpy.types.Object, form: Form) -> None:
    """Let an object show its mesh of a form: a view that was shown before finds its mesh as it left it."""
    name = f"mesh_{form}"
    mesh = getattr(item.grainstack, name)
    if mesh is None:
        mesh = _like(item.data)
        setattr(item.grainstack, name, mesh)
    if item.data != mesh:
        item.data = mesh


def _like(mesh: bpy.types.Mesh) -> bpy.types.Mesh:
    """A new mesh of the same wood."""
    made = bpy.data.meshes.new(mesh.name)
    for material in mesh.materials:
        made.materials.append(material)
    return made


def _fill_mesh(mesh: bpy.types.Mesh, solid: Solid, opened: OpenDesign) -> None:
    """The stamp on the mesh tells what it holds, so that undo takes both back together."""
    lay = opened.lays[solid.name]
    stamp = f"{stamp_of(solid, lay)} {wood_slots.photos_of(opened, lay)}".rstrip()
    count, parted = len(mesh.vertices), len(lay.stripes) > 1
    if mesh.grainstack.stamp != stamp or count < len(solid.vertices) or (count > len(solid.vertices) and not parted):
        fill(mesh, figure_of(solid.mesh, lay, opened.boards))
        mesh.grainstack.stamp = stamp


_digests: dict[int, tuple[NDArray[np.float64], str]] = {}
"""Digests by the identity of a solid's vertices, which are kept as long as they stand here."""


def stamp_of(solid: Solid, lay: Lay) -> str:
    """A fingerprint: equal for equal meshes with equal figure."""
    known = _digests.get(id(solid.vertices))
    if known is None:
        if len(_digests) > 4096:
            _digests.clear()
        digest = hashlib.blake2b(digest_size=12)
        for array in (solid.vertices, solid.triangles, solid.surface):
            digest.update(np.ascontiguousarray(array).data)
        if solid.centre_line is not None:
            digest.update(np.ascontiguousarray(solid.centre_line).data)
        known = _digests[id(solid.vertices)] = (solid.vertices, digest.hexdigest())
    return f"{known[1]} {wood_material.short_digest(lay)}"


def forget_all() -> None:
    """Free what is kept."""
    _digests.clear()


def _set(owner: bpy.types.bpy_struct, name: str, value: object) -> None:
    """Only where it is another: what is written makes Blender evaluate anew."""
    if getattr(owner, name) != value:
        setattr(owner, name, value)


def overlap_map(scene: bpy.types.Scene) -> bpy.types.Object:
    """The object that shows the overlap map."""
    return next(item for item in own_objects(scene) if item.grainstack.kind == "map")


def glue_object(scene: bpy.types.Scene) -> bpy.types.Object | None:
    """The object that holds the glue between inserts and pockets, where that is shown."""
    return next((item for item in own_objects(scene) if item.grainstack.kind == "glue"), None)


def set_hidden(item: bpy.types.Object, hidden: bool) -> None:
    """Hide or show an object in viewport and pictures alike."""
    _set(item, "hide_viewport", hidden)
    _set(item, "hide_render", hidden)


def set_hidden_here(item: bpy.types.Object, hidden: bool) -> None:
    """Hide or show an object in viewports; pictures never have it."""
    _set(item, "hide_viewport", hidden)


def child_collection(root: bpy.types.Collection, name: str) -> bpy.types.Collection:
    """The collection of that name in ours; made when there is none."""
    for child in root.children:
        if child.name.rpartition(".")[0] == name or child.name == name:  # Blender numbers names that are taken
            return child
    return _new_collection(root, name)


def _new_collection(parent: bpy.types.Collection, name: str) -> bpy.types.Collection:
    collection = bpy.data.collections.new(name)
    parent.children.link(collection)
    return collection


def _add_plane(root: bpy.types.Collection) -> None:
    """What the section is cut along: dragged over the panel, turned about z, and in no picture."""
    item = own_object(root, SECTION_PLANE, "plane", SECTION_PLANE, bpy.data.meshes.new(SECTION_PLANE))
    item.lock_location[2] = item.lock_rotation[0] = item.lock_rotation[1] = True
    item.lock_scale = (True, True, True)
    item.show_in_front = item.hide_render = item.hide_viewport = True


def own_object(
    collection: bpy.types.Collection, name: str, kind: str, identity: str, data: bpy.types.ID
) -> bpy.types.Object:
    """A new object of ours."""
    item = bpy.data.objects.new(name, data)
    item.grainstack.kind, item.grainstack.id = kind, identity
    collection.objects.link(item)
    return item
