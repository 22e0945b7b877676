"""The sheet that hangs in front of the studio's camera, for words and lines on a picture.

It is drawn in pixels of the picture (x to the right, y up from the lower left corner), so that it is crisp and never
hidden. Only the camera sees it: it casts no shadow and lights nothing. Points of the panel are in mm.

A sheet is one mesh. What rides with a lifted insert (`Sheet.riding`) is a mesh of its own, which a driver moves.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import chain, pairwise

import bpy
import numpy as np
from mathutils import Vector
from numpy.typing import NDArray

from ...core.woods import colour
from .. import versions
from ..drivers import drive, say
from ..meshes import fill_polygons
from ..units import METRES
from . import letters, studio

INK, PAPER = "#22201d", "#faf8f4"
BOLD = 0.045
"""Bold letters are struck twice, so many heights of a line apart: Blender brings one font."""
NAME, PEN = "Grainstack marks", "Grainstack pen"
LAYER, WORDS = "grainstack_layer", "grainstack_words"
"""On a sheet's object: which of the view's sheets it is, and the words on it, for who looks them up."""
Pixels = tuple[float, float]


def flat_name(hex_colour: str) -> str:
    """What the material of a colour is called."""
    return f"Grainstack flat {hex_colour}"


def flat_material(hex_colour: str) -> bpy.types.Material:
    """A material that shows exactly this colour in the Standard view at exposure 0, whatever the light."""
    name = flat_name(hex_colour)
    material = bpy.data.materials.get(name)
    if material is None:
        material = bpy.data.materials.new(name)
        studio.own(material)
        tree = versions.empty_material_tree(material)
        light = tree.nodes.new("ShaderNodeEmission")
        rgba = (*colour.linear_from_srgb(colour.srgb_from_hex(hex_colour)), 1.0)
        light.inputs["Color"].default_value = material.diffuse_color = rgba
        output = tree.nodes.new("ShaderNodeOutputMaterial")
        tree.links.new(light.outputs[0], output.inputs["Surface"])
    return material


def corners_of(at: Pixels, radius: float, sides: int, first: float) -> list[Pixels]:
    """Corners of an even polygon, counter-clockwise."""
    angles = np.radians(first) + 2 * np.pi * np.arange(sides) / sides
    return [(at[0] + radius * float(np.cos(a)), at[1] + radius * float(np.sin(a))) for a in angles]


def words_on(scene: bpy.types.Scene) -> list[str]:
    """All that is written on the sheets of the view that is shown."""
    return [words for item in sheets_of(scene) for words in item[WORDS].splitlines()]


def _inks_of(mesh: bpy.types.Mesh) -> list[str]:
    return ["" if slot is None else slot.name.rpartition(" ")[2] for slot in mesh.materials]


def sheets_of(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The objects that hold the words and lines on the view that is shown."""
    return _sheets(studio.stage_of(scene))


def stamps(scene: bpy.types.Scene) -> set[str]:
    """What the sheets of the view that is shown hold."""
    return {item.data.grainstack.stamp for item in _sheets(studio.stage_of(scene))}


def _sheets(collection: bpy.types.Collection) -> list[bpy.types.Object]:
    return [item for item in collection.objects if LAYER in item]


class Sheet:
    """Draws on the plane in front of the scene's camera, in pixels. A higher `lift` lies on top.

    Nothing is seen before `hang`. What is missing then, the object, the pen, an ink, is created, which is safe only
    within a step of undo; a `RefilledSheet` creates nothing.
    """

    def __init__(self, scene: bpy.types.Scene, layer: str = "", *, rides: str = "") -> None:
        """A sheet of the view that is shown, by its name among them.

        rides: how far up it is moved, metres, as a driver's expression.
        """
        self.scene, self.camera, self.layer = scene, scene.camera, layer
        self.rides = rides
        self.collection = studio.stage_of(scene)
        self.width, self.height = scene.render.resolution_x, scene.render.resolution_y
        self.unit = 0.019 * min(self.height, self.width * 0.625)
        """Height of a line of text: 19 pixels at 1600 x 1000."""
        lens = self.camera.data
        self.flat = lens.type == "ORTHO"
        self.distance = 20 * lens.clip_start
        across = lens.ortho_scale if self.flat else self.distance * lens.sensor_width / lens.lens
        self.pixel = across / self.width
        self._seen_from = self.camera.matrix_world.inverted()
        self._corners: list[NDArray[np.float64]] = []
        self._faces: list[tuple[str, list[Sequence[int]]]] = []
        self._count = 0
        self._words: list[str] = []

    def project(self, point_mm: Sequence[float]) -> Pixels:
        """Where a point of the panel is seen."""
        seen = self._seen_from @ (Vector(point_mm) * METRES)
        shrink = 1.0 if self.flat else self.distance / -seen.z
        return (seen.x * shrink / self.pixel + self.width / 2, seen.y * shrink / self.pixel + self.height / 2)

    def text_width(self, words: str, size: float) -> float:
        """About how wide words are, for laying out."""
        return 0.54 * size * len(words)

    def text(
        self, words: str, at: Pixels, size: float, ink: str, align: str = "LEFT", lift: int = 4, *, bold: bool = False
    ) -> None:
        """Words whose baseline starts (or is centred) at a place; `size` is the font's, in pixels."""
        self._words.append(words)
        pen = self._pen()
        corners, triangles = letters.written(pen, words) if pen else (np.empty((0, 2)), np.empty((0, 3)))
        if not len(corners):
            return
        start = np.array(at, float)
        if align == "CENTER":
            start[0] -= size * (corners[:, 0].min() + corners[:, 0].max()) / 2
        for aside in (0.0, BOLD * size) if bold else (0.0,):
            self._add(corners * size + start + [aside, 0.0], triangles.tolist(), ink, lift)

    def box(self, low: Pixels, high: Pixels, fill: str, lift: int = 0) -> None:
        """A filled rectangle."""
        self._polygons([[low, (high[0], low[1]), high, (low[0], high[1])]], fill, lift)

    def line(self, points: Sequence[Pixels], ink: str, width: float, lift: int = 1) -> None:
        """Straight lines through points; `width` in pixels at 1000 lines of height."""
        half = width / 2 * self.unit / 19
        corners = []
        for (x0, y0), (x1, y1) in pairwise(points):
            length = max(np.hypot(x1 - x0, y1 - y0), 1e-9)
            nx, ny = -(y1 - y0) / length * half, (x1 - x0) / length * half
            corners.append([(x0 - nx, y0 - ny), (x1 - nx, y1 - ny), (x1 + nx, y1 + ny), (x0 + nx, y0 + ny)])
        self._polygons(corners, ink, lift)

    def disc(self, at: Pixels, radius: float, fill: str, sides: int, first: float = 0.0, lift: int = 0) -> None:
        """A polygon of so many sides, its first corner so many degrees from the right; of many sides, a disc."""
        self._polygons([corners_of(at, radius, sides, first)], fill, lift)

    def ring(
        self, at: Pixels, radius: float, ink: str, width: float, sides: int, first: float = 0.0, lift: int = 1
    ) -> None:
        """The outline of such a polygon; `width` as of lines."""
        half = width / 2 * self.unit / 19 / np.cos(np.pi / sides)
        inner = corners_of(at, radius - half, sides, first)
        outer = corners_of(at, radius + half, sides, first)
        edges = zip(inner, outer, outer[1:] + outer[:1], inner[1:] + inner[:1], strict=True)
        self._polygons(list(edges), ink, lift)

    def plate(
        self, lines: Sequence[str], at: Pixels, size: float, lift: int = 4, *, bold: Collection[int] = ()
    ) -> None:
        """Lines of words on a plate of paper, some bold by their numbers; `at` is the middle of its upper edge."""
        half = max(self.text_width(words, size) for words in lines) / 2 + 0.35 * size
        step = 1.25 * size
        self.box((at[0] - half, at[1] - step * len(lines) - 0.3 * size), (at[0] + half, at[1]), PAPER, lift)
        for number, words in enumerate(lines):
            place = (at[0], at[1] - step * (number + 1) + 0.13 * size)
            self.text(words, place, size, INK, "CENTER", lift + 1, bold=number in bold)

    def riding(self, layer: str, rides: str) -> Sheet:
        """Another sheet of this kind and view, moved by a driver."""
        return type(self)(self.scene, layer, rides=rides)

    def layers(self) -> list[str]:
        """The names of all sheets of this view."""
        return [item[LAYER] for item in _sheets(self.collection)]

    def hang(self, stamp: str = "") -> bool:
        """Let all that was drawn be seen, instead of what was on this sheet before; `stamp` tells what it holds.

        Returns False where something is missing that may not be created now.
        """
        if self._found() is None and not self._faces:
            return True
        item = self._item()
        inks = list(dict.fromkeys(ink for ink, _ in self._faces))
        if item is None or not self._pen() or not self._has_inks(item.data, inks):
            return False
        self._fill(item.data)
        item[WORDS] = "\n".join(self._words)
        item.data.grainstack.stamp = stamp
        if self.rides:
            say(item, "location", self.rides, 1)
        return True

    def _found(self) -> bpy.types.Object | None:
        return next((each for each in _sheets(self.collection) if each[LAYER] == self.layer), None)

    def _item(self) -> bpy.types.Object | None:
        """The object that shows the sheet."""
        return self._found() or self._new()

    def _has_inks(self, mesh: bpy.types.Mesh, inks: Sequence[str]) -> bool:
        """Whether the mesh can show all of these."""
        if not set(inks) <= set(_inks_of(mesh)):
            mesh.materials.clear()
            for ink in inks:
                mesh.materials.append(flat_material(ink))
        return True

    def _new(self) -> bpy.types.Object:
        item = studio.add(self.collection, NAME, bpy.data.meshes.new(NAME))
        item[LAYER] = self.layer
        item.parent = self.camera
        item.hide_select = True
        if self.rides:
            drive(item, self.scene, "location", "0", 1)
        item.visible_diffuse = item.visible_glossy = item.visible_transmission = item.visible_shadow = False
        return item

    def _fill(self, mesh: bpy.types.Mesh) -> None:
        slots = _inks_of(mesh)
        faces = [face for _, some in self._faces for face in some]
        inked = [np.full(len(some), slots.index(ink), np.int32) for ink, some in self._faces]
        points = np.concatenate([np.empty((0, 3)), *self._corners])
        fill_polygons(mesh, points, faces, np.concatenate([np.empty(0, np.int32), *inked]))

    def _pen(self) -> bpy.types.Object | None:
        """What writes the words."""
        pen = _pen_of(self.scene)
        if pen is None:
            pen = letters.new_pen(PEN)
            studio.own(pen)
            pen[PEN] = True
            studio.collection_of(self.scene).objects.link(pen)
        return pen

    def _polygons(self, polygons: Sequence[Sequence[Pixels]], ink: str, lift: int) -> None:
        faces, start = [], 0
        for polygon in polygons:
            faces.append(range(start, start + len(polygon)))
            start += len(polygon)
        self._add(np.array(list(chain.from_iterable(polygons)), float), faces, ink, lift)

    def _add(self, corners: NDArray[np.float64], faces: Sequence[Sequence[int]], ink: str, lift: int) -> None:
        """Faces over corners (n, 2), in pixels."""
        away = -self.distance * (1 - 1e-4 * lift)
        placed = (corners - [self.width / 2, self.height / 2]) * self.pixel
        self._corners.append(np.column_stack([placed, np.full(len(placed), away)]))
        self._faces.append((ink, [[corner + self._count for corner in face] for face in faces]))
        self._count += len(corners)


class RefilledSheet(Sheet):
    """A sheet that is drawn anew with what there is of it, and creates nothing: so a timer may draw it."""

    def _item(self) -> bpy.types.Object | None:
        return self._found()

    def _has_inks(self, mesh: bpy.types.Mesh, inks: Sequence[str]) -> bool:
        return set(inks) <= set(_inks_of(mesh))

    def _pen(self) -> bpy.types.Object | None:
        return _pen_of(self.scene)


def _pen_of(scene: bpy.types.Scene) -> bpy.types.Object | None:
    return next((item for item in studio.collection_of(scene).objects if PEN in item), None)
