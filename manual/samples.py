"""The sample sheet: a block of every wood in the table, its face, edge and end seen, with its name.

`python build.py manual samples` draws the sheet of docs/woods.md, `python -m manual.samples OUT.jpg` any other:
`--numbered SEED` gives the blocks numbers in place of names, in an order that the seed shuffles, and prints which is
which, for eyes that must not know; `--woods A,B` draws some woods only.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np
from grainstack.blender_addon import meshes
from grainstack.blender_addon.entry import properties
from grainstack.blender_addon.studio import picture_words, studio
from grainstack.blender_addon.studio.sheet import Sheet
from grainstack.blender_addon.woods import wood_material
from grainstack.core.boards import log_space
from grainstack.core.design import Design, Panel, Workshop
from grainstack.core.solids.panel_solids import Solid, build_solids
from grainstack.core.stack.stack import build_stack
from grainstack.core.woods.species import species_table
from mathutils import Matrix

SIDE, THICKNESS, SOFT_EDGE = 100.0, 50.0, 0.5
"""Size of a block, in mm."""
ACROSS, DOWN = 172.0, 222.0
"""From block to block, in mm."""
COLUMNS = 6
TURN = -40.0
"""Degrees by which the blocks turn an edge and an end to the viewer."""
FLATTEST = 15.0
"""Degrees: samples are flat-sawn, so that edges are quarter-sawn and both figures are seen."""
PIXELS_PER_MM = 1.5
VIEW = "samples"

SETTING = studio.SETTINGS[VIEW] = studio.Setting(
    0.0,
    48.0,
    (
        studio.Lamp((-1.6, 0.9, 1.5), (0.7, 0.7), 95.0),
        studio.Lamp((-0.2, -1.9, 1.2), (1.2, 1.2), 30.0),
    ),
    world=0.42,
    exposure=-0.1,
    margin=0.01,
    parallel=True,
    samples=24,
)


def sample_sheet(
    out: Path, woods: Sequence[str] = (), words: Sequence[str] = (), columns: int = COLUMNS, scale: float = 1.0
) -> Path:
    """Draw blocks of some woods (none given: all) above the words given (none: their names); returns the picture."""
    woods = list(woods) or list(species_table())
    with properties.registered():
        scene = bpy.data.scenes.new("Samples")
        _draw(scene, out, woods, words or woods, columns, scale)
        bpy.data.scenes.remove(scene)
    return out


def _draw(
    scene: bpy.types.Scene, out: Path, woods: Sequence[str], words: Sequence[str], columns: int, scale: float
) -> None:
    rows = -(-len(woods) // columns)
    for number, (wood, block) in enumerate(zip(woods, map(_block, woods), strict=True)):
        _add(scene, wood, block, _place(number, columns))
    width, height = columns * ACROSS, rows * DOWN
    sheet = ((-ACROSS / 2, DOWN / 2 - height, -THICKNESS), (width - ACROSS / 2, DOWN / 2, 0.0))
    size = _pixels(width, height, scale)
    studio.set_up(scene, VIEW, sheet, sheet, size)
    wood_material.show_as(scene)
    names = [(*_label_place(number, columns), text) for number, text in enumerate(words)]
    paper = Sheet(scene)
    picture_words.labels(paper, names, scale=0.62 * 1600 / size[0] * scale)
    paper.hang()
    _render(scene, out)


def _pixels(width: float, height: float, scale: float) -> tuple[int, int]:
    rise = np.radians(studio.SETTINGS[VIEW].rise)
    seen = height * np.sin(rise) + THICKNESS * np.cos(rise)
    return round(width * PIXELS_PER_MM * scale), round(seen * PIXELS_PER_MM * scale)


def _place(number: int, columns: int) -> tuple[float, float]:
    return number % columns * ACROSS, -(number // columns) * DOWN


def _label_place(number: int, columns: int) -> tuple[float, float, float]:
    x, y = _place(number, columns)
    return x, y - 0.86 * SIDE, -THICKNESS


def _block(wood: str) -> Solid:
    """A panel of one wood and no pieces is a block."""
    panel = Panel(SIDE, SIDE, THICKNESS, 0.0, (0.0, 0.0, 0.0, 0.0), "x", (), wood, 0.0)
    (solid,) = build_solids(build_stack(Design("", panel, Workshop(), (), Path(), "")), soften=SOFT_EDGE)
    return replace(solid, name=flat_sawn(wood))


def flat_sawn(wood: str) -> str:
    """The first name after the wood's own whose board is flat-sawn, since a name picks a board."""
    names = (f"{wood} sample {number}" for number in range(1000))
    return next(name for name in names if abs(log_space.board_for(name).cut) <= FLATTEST)


def _add(scene: bpy.types.Scene, wood: str, block: Solid, place: tuple[float, float]) -> None:
    mesh = bpy.data.meshes.new(wood)
    meshes.fill_triangles(mesh, block.vertices, block.triangles)
    meshes.mark_sharpness(mesh, block)
    meshes.store_wood_coordinates(mesh, block.vertices, 0.0, block.name, anchor=(SIDE / 2, SIDE / 2))
    mesh.materials.append(wood_material.material_for(wood))
    item = bpy.data.objects.new(wood, mesh)
    centred = Matrix.Translation((-SIDE / 2000, -SIDE / 2000, 0.0))
    item.matrix_world = (
        Matrix.Translation((place[0] / 1000, place[1] / 1000, 0.0))
        @ Matrix.Rotation(np.radians(TURN), 4, "Z")
        @ centred
    )
    scene.collection.objects.link(item)


def _render(scene: bpy.types.Scene, out: Path) -> None:
    image = scene.render.image_settings
    image.file_format, image.quality = ("JPEG", 88) if out.suffix == ".jpg" else ("PNG", 90)
    out.parent.mkdir(parents=True, exist_ok=True)
    scene.render.filepath = str(out.resolve())
    bpy.ops.render.render(write_still=True, scene=scene.name)


def main(arguments: Sequence[str]) -> int:
    """Draw a sheet as the arguments say."""
    parser = argparse.ArgumentParser(prog="python -m manual.samples", description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--numbered", type=int, metavar="SEED")
    parser.add_argument("--woods", default="", help="names with commas between")
    parser.add_argument("--columns", type=int, default=COLUMNS)
    parser.add_argument("--scale", type=float, default=1.0)
    options = parser.parse_args(arguments)
    woods = [name.strip() for name in options.woods.split(",") if name.strip()] or list(species_table())
    words: list[str] = []
    if options.numbered is not None:
        random.Random(options.numbered).shuffle(woods)
        words = [str(number) for number in range(1, len(woods) + 1)]
        print("\n".join(f"{word} {wood}" for word, wood in zip(words, woods, strict=True)))
    sample_sheet(options.out, woods, words, options.columns, options.scale)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
