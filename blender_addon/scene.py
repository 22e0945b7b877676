"""The scene of an opened design: its collections, and one object per background piece and insert.

Objects are created and removed when a design is opened; a view only refills their meshes. We know our own
objects by `object.grainstack`, never by name.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import bpy

from . import studio
from .annotations import flat_material
from .core.exploded import Thread, exploded_lifts, threads
from .core.solids import Solid
from .designs import OpenDesign
from .meshes import METRES, fill
from .wood_material import material_for

OVERLAP_MAP = "Overlap Map"
THREADS = "Threads"
THREAD_COLOUR, THREAD_RADIUS = "#a9a49a", 0.3
"""Of the threads between lifted inserts and their pockets; mm."""
EXPLODED = 2
"""The exploded view's number in the view property, for drivers to compare with."""


def is_ours(scene: bpy.types.Scene) -> bool:
    """Whether the scene shows a design."""
    return bool(scene.grainstack.design_path)


def scene_for_a_design(current: bpy.types.Scene, title: str) -> bpy.types.Scene:
    """The current scene if it is empty or shows a design already, else a new one: never change the maker's.

    An empty or new scene gets its lengths in millimetres.
    """
    if is_ours(current):
        return current
    scene = bpy.data.scenes.new(title) if current.objects else current
    scene.unit_settings.system = "METRIC"
    scene.unit_settings.length_unit = "MILLIMETERS"
    return scene


def own_objects(scene: bpy.types.Scene) -> Iterator[bpy.types.Object]:
    """All objects of the scene that Grainstack owns."""
    return (item for item in scene.objects if item.grainstack.kind != "none")


def wood_objects(scene: bpy.types.Scene) -> dict[str, bpy.types.Object]:
    """The objects of background pieces and inserts by id."""
    wood = (item for item in own_objects(scene) if item.grainstack.kind in ("background", "insert"))
    return {item.grainstack.id: item for item in wood}


def build(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Replace whatever design the scene shows by empty objects for this one; a view fills them."""
    clear(scene)
    root = _new_collection(scene.collection, opened.title)
    scene.grainstack.collection = root
    background = _new_collection(root, "Background")
    for piece in opened.stack.background:
        _new_object(background, piece.name, "background", piece.wood)
    batches = [_new_collection(root, f"Batch {number}") for number in range(1, len(opened.stack.batches) + 1)]
    lifts = exploded_lifts(opened.stack)
    for placed, lift in zip(opened.stack.pieces, lifts, strict=True):
        insert = _new_object(batches[placed.batch - 1], placed.piece.id, "insert", placed.piece.wood)
        _drive_lift(insert, scene, lift)
    _new_object(root, OVERLAP_MAP, "map")
    _add_threads(root, scene, threads(opened.stack, lifts))


def clear(scene: bpy.types.Scene) -> None:
    """Remove our objects and collections; what the maker put among them moves to the scene's collection."""
    for item in list(own_objects(scene)):
        remove(item)
    if root := scene.grainstack.collection:
        for collection in (*root.children_recursive, root):
            _dissolve(collection, scene)


def close(scene: bpy.types.Scene) -> None:
    """Remove a scene of our own, with its studio."""
    clear(scene)
    for item in list(studio.collection_of(scene).objects):
        remove(item)
    bpy.data.collections.remove(studio.collection_of(scene))
    bpy.data.scenes.remove(scene)


def _dissolve(collection: bpy.types.Collection, scene: bpy.types.Scene) -> None:
    for item in collection.objects:
        if item.name not in scene.collection.objects:
            scene.collection.objects.link(item)
    bpy.data.collections.remove(collection)


def remove(item: bpy.types.Object) -> None:
    """Remove an object, and its data when nothing else uses it."""
    data = item.data
    bpy.data.objects.remove(item)
    if data is not None and not data.users:
        bpy.data.batch_remove([data])


def fill_objects(scene: bpy.types.Scene, opened: OpenDesign, solids: Iterable[Solid]) -> None:
    """Fill each solid into its object; objects that have none are hidden."""
    by_name = {solid.name: solid for solid in solids}
    for name, item in wood_objects(scene).items():
        solid = by_name.get(name)
        if solid is None:
            item.data.clear_geometry()
        else:
            fill(item.data, solid, opened.anchors[name])
        set_hidden(item, solid is None)


def overlap_map(scene: bpy.types.Scene) -> bpy.types.Object:
    """The object that shows the overlap map."""
    return next(item for item in own_objects(scene) if item.grainstack.kind == "map")


def thread_object(scene: bpy.types.Scene) -> bpy.types.Object:
    """The object that holds the exploded view's threads."""
    return next(item for item in own_objects(scene) if item.grainstack.kind == "threads")


def set_hidden(item: bpy.types.Object, hidden: bool) -> None:
    """Hide or show an object in viewport and pictures alike."""
    item.hide_viewport = item.hide_render = hidden


def _new_collection(parent: bpy.types.Collection, name: str) -> bpy.types.Collection:
    collection = bpy.data.collections.new(name)
    parent.children.link(collection)
    return collection


def _add_threads(root: bpy.types.Collection, scene: bpy.types.Scene, ways: Iterable[Thread]) -> None:
    """One curve with a thread for each lifted part; the explosion slider draws it out."""
    curve = bpy.data.curves.new(THREADS, "CURVE")
    curve.dimensions, curve.bevel_depth, curve.bevel_resolution = "3D", THREAD_RADIUS * METRES, 0
    curve.materials.append(flat_material(THREAD_COLOUR))
    for way in ways:
        spline = curve.splines.new("POLY")
        spline.points.add(1)
        for point, z in zip(spline.points, (way.low, way.high), strict=True):
            point.co = (way.x * METRES, way.y * METRES, z * METRES, 1.0)
    item = _own_object(root, THREADS, "threads", curve)
    _drive(item, scene, "scale", f"explosion if view == {EXPLODED} else 0")


def _new_object(collection: bpy.types.Collection, name: str, kind: str, wood: str | None = None) -> bpy.types.Object:
    mesh = bpy.data.meshes.new(name)
    if wood is not None:
        mesh.materials.append(material_for(wood))
    return _own_object(collection, name, kind, mesh)


def _own_object(collection: bpy.types.Collection, name: str, kind: str, data: bpy.types.ID) -> bpy.types.Object:
    item = bpy.data.objects.new(name, data)
    item.grainstack.kind, item.grainstack.id = kind, name
    collection.objects.link(item)
    return item


def _drive_lift(item: bpy.types.Object, scene: bpy.types.Scene, lift: float) -> None:
    """Let the explosion slider lift the object."""
    _drive(item, scene, "location", f"{lift * METRES:.6f} * explosion if view == {EXPLODED} else 0")


def _drive(item: bpy.types.Object, scene: bpy.types.Scene, channel: str, expression: str) -> None:
    """Drive the z of a channel by view and explosion; a simple expression runs with scripts off, and animates."""
    driver = item.driver_add(channel, 2).driver
    driver.type = "SCRIPTED"
    for name in ("view", "explosion"):
        variable = driver.variables.new()
        variable.name, variable.type = name, "SINGLE_PROP"
        target = variable.targets[0]
        target.id_type, target.id, target.data_path = "SCENE", scene, f"grainstack.{name}"
    driver.expression = expression
