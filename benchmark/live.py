"""`python -m benchmark.live`: how soon the wood follows a piece that is moved in Blender, beside a full rebuild.

Runs in an environment with Blender's module, on the staged extension. A hundred shapes of 300 vertices that overlap
each other about three times each, the same as in the other benchmark. One of them is moved, each time another, and
what the extension's timer does is timed: reading the scene, pockets and overlaps, solids, meshes.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from core.design import Design, PolygonOutline

from .scene import scene

COUNT = 100
MOVES = 15
STEP = 0.002
"""How far a piece is moved each time, metres."""


def document(design: Design) -> dict[str, Any]:
    """The benchmark's scene as a design file's JSON value."""
    panel = design.panel
    strips = [{"width": strip.width, "wood": strip.segments[0].wood} for strip in panel.strips]
    return {
        "format": "grainstack-panel/1",
        "title": design.title,
        "panel": {
            "width": panel.width,
            "height": panel.height,
            "thickness": panel.thickness,
            "face_trim": panel.face_trim,
            "strips": strips,
        },
        "pieces": [
            {
                "id": piece.id,
                "wood": piece.wood,
                "grain": piece.grain,
                "outline": {"polygon": piece.outline.points},
                "at": piece.at,
                "pocket_depth": piece.pocket_depth,
            }
            for piece in design.pieces
            if isinstance(piece.outline, PolygonOutline)
        ],
    }


def measure(count: int = COUNT, moves: int = MOVES) -> tuple[float, float]:
    """Median seconds of a move followed, and of a rebuild of everything."""
    import bpy
    import grainstack
    from grainstack.blender_addon import designs
    from grainstack.blender_addon.scene import conversion
    from grainstack.blender_addon.scene import objects as scenes
    from grainstack.blender_addon.views import live

    bpy.ops.wm.read_factory_settings(use_empty=True)
    grainstack.register()
    try:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "benchmark.panel.json"
            path.write_text(json.dumps(document(scene(count))), encoding="utf-8")
            bpy.ops.grainstack.open_design(filepath=str(path))
        here = bpy.context.scene
        pieces = conversion.piece_objects(here)

        def follow(number: int) -> float:
            pieces[number * 7 % count].location.x += STEP
            start = time.perf_counter()
            live.catch_up(rest=False, idle=False)
            return time.perf_counter() - start

        def rebuild(number: int) -> float:
            pieces[number * 11 % count].location.x += STEP
            designs.forget_all()
            for item in scenes.wood_objects(here).values():
                item.data.grainstack.stamp = ""
            return follow(number)

        follow(0)  # what is made once
        followed = [follow(number) for number in range(1, moves + 1)]
        rebuilt = [rebuild(number) for number in range(3)]
    finally:
        grainstack.unregister()
    return statistics.median(followed), statistics.median(rebuilt)


def main() -> int:
    """Measure and print."""
    followed, rebuilt = measure()
    print(
        f"{COUNT} pieces, one moved: {followed * 1000:.0f} ms until it is in place, all of it anew: "
        f"{rebuilt * 1000:.0f} ms, {rebuilt / followed:.0f} times as long"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
