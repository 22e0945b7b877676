"""A close-up of each finding, from its little design: `python -m manual.finding_pictures OUT [CODE ...]`.

Runs where the staged add-on can be imported, as `build.py` arranges.
"""

from __future__ import annotations

import math
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path

import bpy
import numpy as np
import shapely
from grainstack.blender_addon import designs
from grainstack.blender_addon.designs import OpenDesign
from grainstack.blender_addon.entry import properties
from grainstack.blender_addon.findings import findings_picture
from grainstack.blender_addon.pictures import render
from grainstack.blender_addon.scene import objects as scenes
from grainstack.blender_addon.studio import picture_words, studio
from grainstack.blender_addon.studio.sheet import INK, PAPER, Sheet
from grainstack.blender_addon.views import views
from grainstack.core.design_file.reading import design_of
from grainstack.core.findings.all_findings import Finding
from PIL import Image

from .finding_designs import EXAMPLES, Example

SIZE = (480, 320)
QUALITY = 82
SAMPLES = 12
LETTERS = 2.1
"""Words on so small a picture are larger than on a big one by this."""
NEAR = 0.002
"""Metres."""
ROOM = 24.0
"""Left free below the cut face for words, mm."""
RING = 30.0
"""Radius of the ring round the place, pixels."""


def finding_pictures(out: Path, codes: Iterable[str] = EXAMPLES) -> list[Path]:
    """Make the pictures of these findings as OUT/CODE.jpg; returns their paths."""
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch, properties.registered():
        return [_picture(code, EXAMPLES[code], Path(scratch), out) for code in codes]


def _picture(code: str, example: Example, scratch: Path, out: Path) -> Path:
    path = scratch / f"{code}{designs.SUFFIX}"
    opened = designs.build(design_of(example.design, path), path, code, None)
    finding = next(finding for finding in opened.findings if finding.code == code)
    scene = bpy.data.scenes.new(code)
    settings = scene.grainstack
    settings.picture_width, settings.picture_height = SIZE
    settings.view = "section" if example.seen == "cut" else "finished"
    views.open_design(scene, opened)
    try:
        if example.seen == "cut":
            _cut(scene, opened, finding)
        else:
            _above(scene, opened, finding, example)
        raw = render.render(scene, render.Take(scratch / f"{code}.png", opened, settings.view)).path
    finally:
        scenes.close(scene)
    target = out / f"{code}.jpg"
    with Image.open(raw) as picture:
        picture.convert("RGB").save(target, quality=QUALITY, optimize=True, progressive=True)
    return target


def _above(scene: bpy.types.Scene, opened: OpenDesign, finding: Finding, example: Example) -> None:
    """From above, the place in the middle and ringed."""
    panel = opened.stack.design.panel
    box = np.array([(0.0, 0.0, -panel.thickness), (panel.width, panel.height, 0.0)])
    half = np.array([example.reach * SIZE[0] / SIZE[1], example.reach, 0.0])
    whole = example.reach > 0.4 * panel.height
    middle = np.array([panel.width / 2, panel.height / 2, 0.0] if whole else [*finding.at, 0.0])
    studio.set_up(scene, "closeup", box, np.array([middle - half, middle + half]), SIZE, samples=SAMPLES)
    sheet = Sheet(scene)
    if example.drawn:
        for placed in opened.stack.pieces:
            for ring in _rings(placed.outline if not placed.outline.is_empty else _as_typed(placed)):
                places = [sheet.project((x, y, 0.0)) for x, y in ring]
                for ink, width, lift in ((INK, 10.0, 1), (PAPER, 4.5, 2)):
                    sheet.line(places, ink, width, lift)
    look = findings_picture.LOOKS[finding.level]
    for ink, width, lift in ((INK, 17.0, 3), (look.fill, 9.0, 4)):
        sheet.ring(sheet.project((*finding.at, 0.0)), RING * look.size, ink, width, look.sides, look.first, lift)
    sheet.hang()


def _rings(shape: shapely.Geometry) -> list[np.ndarray]:
    parts = shapely.get_parts(shape)
    return [shapely.get_coordinates(ring) for part in parts for ring in (part.exterior, *part.interiors)]


def _as_typed(placed) -> shapely.Polygon:
    """A polygon that is no sound outline, where it was drawn."""
    return shapely.Polygon(np.array(placed.piece.outline.points) + placed.piece.at)


def _cut(scene: bpy.types.Scene, opened: OpenDesign, finding: Finding) -> None:
    """The cut through the place, with its depths."""
    (x0, y0), (x1, y1) = opened.cut.line
    length = math.hypot(x1 - x0, y1 - y0)
    facing = ((y1 - y0) / length, -(x1 - x0) / length)
    panel = opened.stack.design.panel
    low, high = np.array([0.0, 0.0, -panel.thickness]), np.array([panel.width, panel.height, 0.0])
    x, y = finding.at
    box = np.array([(x - 34, y, -panel.thickness - ROOM), (x + 34, y + 16, 3.0)])
    studio.set_up(scene, "section", np.array([low, high]), box, SIZE, samples=SAMPLES, facing=facing)
    scene.camera.data.clip_start = NEAR  # words hang a little way before the eye, which is close to the wood
    marks = [
        picture_words.DepthMark(m.x, m.y, m.z_top, m.z_bottom, f"{m.kind} {m.text}")
        for m in opened.cut.marks
        if m.kind != "proud"
    ]
    sheet = Sheet(scene)
    sheet.unit *= LETTERS
    picture_words.section_marks(sheet, marks)
    sheet.hang()


if __name__ == "__main__":
    for made in finding_pictures(Path(sys.argv[1]), sys.argv[2:] or EXAMPLES):
        print(made)
