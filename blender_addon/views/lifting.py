"""The exploded view's lifts: inserts and the threads to their pockets, moved by drivers of one slider.

The slider `explosion` goes from 0, put together, to 1, taken apart. How it unfolds (`unfolding`) is in the expressions:
all at once, or each batch or piece in its turn (see `core.views.exploded.share_lifted`).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import bpy

from ...core.views.exploded import ELEVATION, Thread, turns
from ..designs import OpenDesign
from ..drivers import drive, say
from ..scene import objects as scenes
from ..scene.objects import EXPLODED, THREADS
from ..studio.sheet import flat_material
from ..units import METRES

THREAD_COLOUR, THREAD_RADIUS = "#a9a49a", 0.3
"""Thickness of the threads between lifted inserts and their pockets; mm."""


@dataclass(frozen=True)
class Lift:
    """How high something is lifted, mm, and whose turn it is."""

    height: float
    turn: int = 0
    count: int = 1

    @property
    def share(self) -> str:
        """How much of it is lifted, as an expression."""
        if self.count == 1:
            return "explosion"
        return f"smoothstep(0, 1, {self.count} * explosion - {self.count - 1 - self.turn})"

    @property
    def metres(self) -> str:
        """The lift now, as an expression."""
        return f"{self.height * METRES:.6f} * {self.share}"

    @property
    def on_sheet(self) -> str:
        """How far below its place at full explosion it is seen now, on a sheet before the exploded view's camera."""
        return f"{self.height * METRES * math.cos(math.radians(ELEVATION)):.6f} * ({self.share} - 1)"


PANEL = Lift(0.0)


def lifts(scene: bpy.types.Scene, opened: OpenDesign) -> list[Lift]:
    """Height of each piece, as the slider unfolds."""
    whole = opened.whole or opened
    own = turns(whole.stack, scene.grainstack.unfolding)
    by_id = {placed.piece.id: turn for placed, turn in zip(whole.stack.pieces, own, strict=True)}
    return [
        Lift(height, *by_id[placed.piece.id]) for placed, height in zip(opened.stack.pieces, opened.lifts, strict=True)
    ]


def lift(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Let the slider lift the inserts as the design wants, and draw their threads.

    Curves for threads are created and removed, which is safe only within a step of undo.
    """
    alike = _moved_alike(opened.threads, lifts(scene, opened))
    objects = _thread_objects(scene)
    for name in list(objects)[len(alike) :]:
        scenes.remove(objects[name])
    for number in range(len(objects) + 1, len(alike) + 1):
        _new_threads(scene, f"{THREADS} {number}")
    lift_again(scene, opened)


def lift_again(scene: bpy.types.Scene, opened: OpenDesign) -> None:
    """Do so with the curves that there are: a thread that needs another waits for the next step of undo."""
    items = scenes.wood_objects(scene)
    own = lifts(scene, opened)
    for placed, lifted in zip(opened.stack.pieces, own, strict=True):
        item = items.get(placed.piece.id)
        if item is not None:
            say(item, "location", _when_exploded(lifted.metres))
    _draw_threads(scene, _moved_alike(opened.threads, own))


def show_threads(scene: bpy.types.Scene, shown: bool) -> None:
    """Show or hide the threads, in viewport and pictures alike."""
    for item in _thread_objects(scene).values():
        scenes.set_hidden(item, not shown)


def _thread_objects(scene: bpy.types.Scene) -> dict[str, bpy.types.Object]:
    return {item.grainstack.id: item for item in scenes.own_objects(scene) if item.grainstack.kind == "threads"}


def _moved_alike(ways: Iterable[Thread], own: list[Lift]) -> dict[tuple[Lift, Lift], list[Thread]]:
    """Threads by the lifts of their ends: each kind is one curve."""
    alike: dict[tuple[Lift, Lift], list[Thread]] = defaultdict(list)
    for way in ways:
        alike[own[way.piece], PANEL if way.ground is None else own[way.ground]].append(way)
    return alike


def _draw_threads(scene: bpy.types.Scene, alike: dict[tuple[Lift, Lift], list[Thread]]) -> None:
    items = list(_thread_objects(scene).values())
    for item in items[len(alike) :]:
        item.data.splines.clear()
    for item, ((high, low), some) in zip(items, alike.items(), strict=False):
        scale, shift = _stretch(high, low)
        say(item, "scale", _when_exploded(scale))
        say(item, "location", _when_exploded(shift))
        _draw(item.data, some)


def _stretch(high: Lift, low: Lift) -> tuple[str, str]:
    """Scale and shift that bring threads drawn for the full explosion to where their ends are now."""
    if low == PANEL:
        return high.share, "0"
    span = max(high.height - low.height, 1e-6)
    scale = f"({high.height:.3f} * {high.share} - {low.height:.3f} * {low.share}) / {span:.3f}"
    return scale, f"{low.height * METRES:.6f} * ({low.share} - {scale})"


def _when_exploded(expression: str) -> str:
    return f"{expression} if view == {EXPLODED} else 0"


def _new_threads(scene: bpy.types.Scene, name: str) -> bpy.types.Object:
    curve = bpy.data.curves.new(name, "CURVE")
    curve.dimensions, curve.bevel_depth, curve.bevel_resolution = "3D", THREAD_RADIUS * METRES, 0
    curve.materials.append(flat_material(THREAD_COLOUR))
    item = scenes.own_object(scene.grainstack.collection, name, "threads", name, curve)
    item.hide_select = True
    drive(item, scene, "scale", "0")
    drive(item, scene, "location", "0")
    return item


def _draw(curve: bpy.types.Curve, ways: Iterable[Thread]) -> None:
    curve.splines.clear()
    for way in ways:
        spline = curve.splines.new("POLY")
        spline.points.add(1)
        for point, z in zip(spline.points, (way.low, way.high), strict=True):
            point.co = (way.x * METRES, way.y * METRES, z * METRES, 1.0)
