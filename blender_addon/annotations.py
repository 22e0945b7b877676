"""Words and lines on a picture: depths in a section, the key of a map, labels.

They are drawn on a sheet that hangs in front of the studio's camera, in pixels of the picture (x to the right, y up
from the lower left corner), so that they are crisp and never hidden. Only the camera sees them: they cast no shadow
and light nothing. Call these after `studio.set_up`, which takes an older sheet away. Points of the panel are in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain, pairwise

import bpy
import numpy as np
from mathutils import Vector

from . import studio, versions
from .core import colour

INK, PAPER = "#22201d", "#faf8f4"
BOLD = 0.045
"""Bold letters are struck twice, so many heights of a line apart: Blender brings one font."""
Pixels = tuple[float, float]

DepthMark = tuple[float, float, float, float, str]
"""x, y, z of the top, z of the bottom, and the words, such as "pocket 6.00"."""
Label = tuple[float, float, float, str]
"""x, y, z and the words."""
KeyEntry = tuple[str, str]
"""Colour as hex, and the words."""


def section_marks(scene: bpy.types.Scene, marks: Sequence[DepthMark]) -> None:
    """Mark depths on the cut face.

    Marks at one place make a column: a bar from top to bottom of each, side by side where they overlap, and one
    leader to a plate below the panel with their words, from the top down. Plates never overlap.
    """
    sheet = Sheet(scene)
    columns = _columns(marks)
    if not columns:
        return
    text = sheet.unit
    feet = [sheet.project((*place, min(bottom for _, bottom, _ in bars))) for place, bars in columns]
    order = sorted(range(len(columns)), key=lambda i: feet[i][0])
    widths = [max(sheet.text_width(words, text) for _, _, words in columns[i][1]) + 1.5 * text for i in order]
    centres = spread([feet[i][0] for i in order], widths, sheet.width)
    y = min(foot[1] for foot in feet) - 3.2 * text
    for i, centre in zip(order, centres, strict=True):
        place, bars = columns[i]
        sheet.line([feet[i], (centre, y)], PAPER, 1.3, lift=1)
        for lane, (top, bottom, _) in zip(_lanes(bars), bars, strict=True):
            _depth_bar(sheet, place, top, bottom, lane)
        sheet.plate([words for _, _, words in bars], (centre, y), text)


def _columns(marks: Sequence[DepthMark]) -> list[tuple[Pixels, list[tuple[float, float, str]]]]:
    """Marks by their place in the plane: (x, y) and [(top, bottom, words)] from the top down."""
    found: dict[Pixels, list[tuple[float, float, str]]] = {}
    for x, y, top, bottom, words in marks:
        found.setdefault((round(x, 2), round(y, 2)), []).append((top, bottom, words))
    return [(place, sorted(bars, key=lambda bar: (-bar[0], -bar[1]))) for place, bars in found.items()]


def _lanes(bars: Sequence[tuple[float, float, str]]) -> list[int]:
    """For each bar, from the top down, the first lane where it overlaps no other."""
    ends: list[float] = []
    lanes = []
    for top, bottom, _ in bars:
        lane = next((k for k, end in enumerate(ends) if top <= end + 1e-6), len(ends))
        ends[lane : lane + 1] = [bottom]
        lanes.append(lane)
    return lanes


def _depth_bar(sheet: Sheet, place: Pixels, top: float, bottom: float, lane: int) -> None:
    tick = 0.26 * sheet.unit
    aside = lane * 2.6 * tick
    ends = [(x + aside, y) for x, y in (sheet.project((*place, z)) for z in (top, bottom))]
    for ink, width, grow, lift in ((INK, 3.4, 1.0, 2), (PAPER, 1.5, 0.0, 3)):
        sheet.line(ends, ink, width, lift)
        for x, y in ends:
            sheet.line([(x - tick - grow, y), (x + tick + grow, y)], ink, width, lift)


def overlap_key(scene: bpy.types.Scene, entries: Sequence[KeyEntry], title: str = "", note: str = "") -> None:
    """The key at the right of a flat view: a title, a swatch with words for each entry, and a note below."""
    sheet = Sheet(scene)
    text = sheet.unit * 1.05
    left = sheet.width * (1 - studio.SETTINGS["overlap"].key_share - 0.005)
    step = min(2.0 * text, 0.8 * sheet.height / max(len(entries) + 3, 1))
    y = sheet.height / 2 + step * (len(entries) + 1) / 2
    if title:
        sheet.text(title, (left, y), text * 1.2, INK)
        y -= 1.4 * step
    for hex_colour, words in entries:
        sheet.box((left, y - 0.35 * text), (left + 1.9 * text, y + 0.95 * text), INK, lift=0)
        sheet.box((left + 1, y - 0.35 * text + 1), (left + 1.9 * text - 1, y + 0.95 * text - 1), hex_colour, lift=1)
        sheet.text(words, (left + 2.5 * text, y), text, INK)
        y -= step
    for line in note.splitlines():
        sheet.text(line, (left, y - 0.2 * step), text * 0.8, INK)
        y -= 0.75 * step


def labels(scene: bpy.types.Scene, places: Sequence[Label], scale: float = 0.8) -> None:
    """Small words on paper plates, centred on places of the panel."""
    sheet = Sheet(scene)
    for x, y, z, words in places:
        text = sheet.unit * scale
        centre = sheet.project((x, y, z))
        sheet.plate([words], (centre[0], centre[1] + 0.78 * text), text)


def batch_labels(scene: bpy.types.Scene, batches: Sequence[tuple[str, Sequence[float]]]) -> None:
    """Words at the left, level with each batch, and a line from them to a place (x, y, z) of the batch."""
    sheet = Sheet(scene)
    text = sheet.unit * 1.05
    ends = [sheet.project(place) for _, place in batches]
    heights = spread([y for _, y in ends], [1.9 * text] * len(ends), sheet.height)
    for (words, _), end, y in zip(batches, ends, heights, strict=True):
        left = 0.03 * sheet.width
        start = left + sheet.text_width(words, text) + 0.6 * text
        sheet.line([(start, y), (max(start, end[0] - abs(end[1] - y)), y), end], PAPER, 1.2)
        sheet.text(words, (left, y - 0.35 * text), text, PAPER)


def flat_material(hex_colour: str) -> bpy.types.Material:
    """A material that shows exactly this colour in the Standard view at exposure 0, whatever the light."""
    name = f"Grainstack flat {hex_colour}"
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


def spread(wanted: Sequence[float], widths: Sequence[float], limit: float) -> list[float]:
    """Centres near the wanted ones, in their order (rising), for boxes of these widths side by side within 0 to limit.

    Boxes that collide are merged into a run whose middle is the mean of what its boxes want.
    """
    runs: list[tuple[float, list[int]]] = []
    for i in range(len(wanted)):
        members = [i]
        while True:
            offsets = np.cumsum([0.0, *(widths[k] for k in members)])
            middles = (offsets[:-1] + offsets[1:]) / 2
            start = float(np.mean([wanted[k] for k in members] - middles))
            start = min(max(start, 0.0), max(limit - offsets[-1], 0.0))
            if not runs or runs[-1][0] + sum(widths[k] for k in runs[-1][1]) <= start + 1e-9:
                break
            members = runs.pop()[1] + members
        runs.append((start, members))
    centres = []
    for start, members in runs:
        for k in members:
            centres.append(start + widths[k] / 2)
            start += widths[k]
    return centres


def corners_of(at: Pixels, radius: float, sides: int, first: float) -> list[Pixels]:
    """Corners of an even polygon, counter-clockwise."""
    angles = np.radians(first) + 2 * np.pi * np.arange(sides) / sides
    return [(at[0] + radius * float(np.cos(a)), at[1] + radius * float(np.sin(a))) for a in angles]


class Sheet:
    """Draws on the plane in front of the scene's camera, in pixels. A higher `lift` lies on top."""

    def __init__(self, scene: bpy.types.Scene) -> None:
        self.camera = scene.camera
        self.collection = studio.collection_of(scene)
        self.width, self.height = scene.render.resolution_x, scene.render.resolution_y
        self.unit = 0.019 * min(self.height, self.width * 0.625)
        """Height of a line of text: 19 pixels at 1600 x 1000."""
        lens = self.camera.data
        self.flat = lens.type == "ORTHO"
        self.distance = 20 * lens.clip_start
        across = lens.ortho_scale if self.flat else self.distance * lens.sensor_width / lens.lens
        self.pixel = across / self.width

    def project(self, point_mm: Sequence[float]) -> Pixels:
        """Where a point of the panel is seen."""
        seen = self.camera.matrix_world.inverted() @ (Vector(point_mm) * studio.METRES)
        shrink = 1.0 if self.flat else self.distance / -seen.z
        return (seen.x * shrink / self.pixel + self.width / 2, seen.y * shrink / self.pixel + self.height / 2)

    def text_width(self, words: str, size: float) -> float:
        """About how wide words are, for laying out."""
        return 0.54 * size * len(words)

    def text(
        self, words: str, at: Pixels, size: float, ink: str, align: str = "LEFT", lift: int = 4, *, bold: bool = False
    ) -> None:
        """Words whose baseline starts (or is centred) at a place; `size` is the font's, in pixels."""
        data = bpy.data.curves.new("Grainstack text", "FONT")
        data.body, data.size, data.align_x = words, size * self.pixel, align
        data.materials.append(flat_material(ink))
        self._hang(data, at, lift)
        if bold:
            self._hang(data, (at[0] + BOLD * size, at[1]), lift)

    def box(self, low: Pixels, high: Pixels, fill: str, lift: int = 0) -> None:
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

    def plate(self, lines: Sequence[str], at: Pixels, size: float, lift: int = 4) -> None:
        """Lines of words on a plate of paper; `at` is the middle of its upper edge."""
        half = max(self.text_width(words, size) for words in lines) / 2 + 0.35 * size
        step = 1.25 * size
        self.box((at[0] - half, at[1] - step * len(lines) - 0.3 * size), (at[0] + half, at[1]), PAPER, lift)
        for number, words in enumerate(lines, 1):
            self.text(words, (at[0], at[1] - step * number + 0.13 * size), size, INK, "CENTER", lift + 1)

    def _polygons(self, polygons: Sequence[Sequence[Pixels]], ink: str, lift: int) -> None:
        mesh = bpy.data.meshes.new("Grainstack line")
        middle = (self.width / 2, self.height / 2)
        corners = [(*self._offset(corner, middle), 0.0) for corner in chain.from_iterable(polygons)]
        faces, start = [], 0
        for polygon in polygons:
            faces.append(range(start, start + len(polygon)))
            start += len(polygon)
        mesh.from_pydata(corners, [], faces)
        mesh.materials.append(flat_material(ink))
        self._hang(mesh, middle, lift)

    def _offset(self, place: Pixels, middle: Pixels) -> tuple[float, float]:
        return (place[0] - middle[0]) * self.pixel, (place[1] - middle[1]) * self.pixel

    def _hang(self, data: bpy.types.ID, at: Pixels, lift: int) -> None:
        item = studio.add(self.collection, data.name, data)
        item.parent = self.camera
        x, y = self._offset(at, (self.width / 2, self.height / 2))
        item.location = (x, y, -self.distance * (1 - 1e-4 * lift))
        item.visible_diffuse = item.visible_glossy = item.visible_transmission = item.visible_shadow = False
