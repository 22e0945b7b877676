"""What wood costs: views of the pond rendered in its woods, and in plain coated colours on the same meshes, in turn.

Runs in a process of its own, in Blender's Python with the staged add-on: `python -m benchmark.wood_cost` prints seconds
of the processor (all threads) by view and material as JSON. Denoising is off, since it takes the same time for both.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import bpy
from grainstack.blender_addon import designs, versions
from grainstack.blender_addon.entry import properties
from grainstack.blender_addon.scene import objects
from grainstack.blender_addon.views import views

POND = Path(__file__).parents[1] / "assets" / "koi-pond" / "koi-pond.panel.json"
FILLED = "panel fills the frame, from above"
VIEWS = (*(v.name for v in views.VIEWS.values() if not (v.mapped or v.numbered)), FILLED)
SIZE, SAMPLES, ROUNDS = (400, 250), 8, 5
WOOD, PLAIN = "wood", "plain"

Seconds = dict[str, dict[str, float]]
"""Seconds by view, then by WOOD and PLAIN."""


def measure(
    names: Sequence[str] = VIEWS, size: tuple[int, int] = SIZE, samples: int = SAMPLES, rounds: int = ROUNDS
) -> Seconds:
    """Medians over the rounds of the seconds that each view takes."""
    with properties.registered(), _pond(size) as shown:
        return {name: _compared(shown(name, samples), rounds) for name in names}


@contextmanager
def _pond(size: tuple[int, int]) -> Iterator[Callable[[str, int], bpy.types.Scene]]:
    """A scene of the pond; what is yielded shows a view in it."""
    opened = designs.read(POND)
    made = bpy.data.scenes.new(opened.title)
    made.grainstack.picture_width, made.grainstack.picture_height = size
    views.open_design(made, opened)

    def shown(name: str, samples: int) -> bpy.types.Scene:
        view = views.VIEWS["finished" if name == FILLED else name]
        views.show(made, opened, view)
        views.stage(made, opened, samples)
        if name == FILLED:
            _look_down(made, opened)
        made.cycles.use_denoising = False
        return made

    try:
        yield shown
    finally:
        objects.close(made)


def _look_down(made: bpy.types.Scene, opened: designs.OpenDesign) -> None:
    """Nothing but panel in the picture."""
    left, low, right, high = opened.stack.finished_box.bounds
    camera = made.camera
    camera.data.type, camera.data.sensor_fit = "ORTHO", "HORIZONTAL"
    width, height = made.render.resolution_x, made.render.resolution_y
    camera.data.ortho_scale = 0.98 * min(right - left, (high - low) * width / height) / 1000
    camera.rotation_euler = (0.0, 0.0, 0.0)
    camera.location = ((left + right) / 2000, (low + high) / 2000, 1.0)


def _compared(shown: bpy.types.Scene, rounds: int) -> dict[str, float]:
    """Medians of both materials, each rendered once before it counts."""
    slots = [(mesh.materials, number) for mesh in _wooden(shown) for number in range(len(mesh.materials))]
    wood = [materials[number] for materials, number in slots]
    plain = [_plain(material) for material in wood]
    taken: dict[str, list[float]] = {WOOD: [], PLAIN: []}
    for counted in range(-1, rounds):
        for name, chosen in ((WOOD, wood), (PLAIN, plain)):
            for (materials, number), material in zip(slots, chosen, strict=True):
                materials[number] = material
            seconds = _rendered(shown)
            if counted >= 0:
                taken[name].append(seconds)
                print(f"wood_cost: {name}: {seconds:.2f} s", file=sys.stderr, flush=True)
    for (materials, number), material in zip(slots, wood, strict=True):
        materials[number] = material
    return {name: statistics.median(some) for name, some in taken.items()}


def _wooden(shown: bpy.types.Scene) -> list[bpy.types.Mesh]:
    """The meshes whose vertices know their place in a log."""
    meshes = {item.data.name: item.data for item in shown.objects if item.type == "MESH"}
    return [mesh for mesh in meshes.values() if "log_position" in mesh.attributes]


def _plain(wood: bpy.types.Material) -> bpy.types.Material:
    """Its colour, under the same coat."""
    material = bpy.data.materials.new(f"plain {wood.name}")
    tree = versions.empty_material_tree(material)
    surface = tree.nodes.new("ShaderNodeBsdfPrincipled")
    surface.inputs["Base Color"].default_value = wood.diffuse_color
    surface.inputs["Roughness"].default_value, surface.inputs["Coat Weight"].default_value = 0.42, 0.5
    output = tree.nodes.new("ShaderNodeOutputMaterial")
    tree.links.new(surface.outputs[0], output.inputs["Surface"])
    return material


def _rendered(shown: bpy.types.Scene) -> float:
    with tempfile.TemporaryDirectory() as folder:
        shown.render.filepath = str(Path(folder) / "picture.png")
        start = time.process_time()
        bpy.ops.render.render(write_still=True, scene=shown.name)
        return time.process_time() - start


def main(arguments: Sequence[str]) -> int:
    """Measure some views, or all."""
    parser = argparse.ArgumentParser(prog="python -m benchmark.wood_cost", description=__doc__)
    parser.add_argument("views", nargs="*", default=list(VIEWS), metavar="VIEW")
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    options = parser.parse_args(arguments)
    found = measure(options.views, rounds=options.rounds)
    print(json.dumps(found))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
