"""Short films: what moves in them, and how Blender writes them.

A film lays keyframes over the scene while it is rendered, in actions of its own, and takes them away again. Whatever
the maker animated is put aside meanwhile, and comes back.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import bpy

from .. import versions
from ..designs import OpenDesign
from ..studio import hanging, sheet

FPS = 24


@dataclass(frozen=True)
class Track:
    """A property that moves: its value at each moment, 0 at the film's start and 1 at its end."""

    owner: bpy.types.ID
    path: str
    value: Callable[[float], float | bool]
    index: int = -1
    """Which number of a vector."""


@dataclass(frozen=True)
class Film:
    """A film: what it shows, for how long, and what moves. `number` is its value in saved files: never reuse one."""

    name: str
    label: str
    number: int
    description: str
    view: str
    seconds: float
    tracks: Callable[[bpy.types.Scene, OpenDesign], list[Track]]
    fps: int = FPS
    unfolding: str | None = None
    """How inserts follow the slider in it; None: as the maker chose."""

    @property
    def frames(self) -> int:
        """How many pictures it is made of."""
        return round(self.seconds * self.fps)


def _assembly(scene: bpy.types.Scene, opened: OpenDesign) -> list[Track]:
    """The inserts sink into their pockets, after a look at them and before a look at the panel.

    Their numbers ride with them, and are gone for the look at the panel, which they would hide.
    """
    start, end = 0.15, 0.8
    numbers = [item for item in sheet.sheets_of(scene) if item[sheet.LAYER]]
    return [
        Track(scene, "grainstack.explosion", lambda moment: 1.0 - eased((moment - start) / (end - start))),
        *(Track(item, "hide_render", lambda moment: moment > end) for item in numbers),
    ]


def _light(scene: bpy.types.Scene, opened: OpenDesign) -> list[Track]:
    """A lamp travels from left to right along the upper edge of the frame, while the window is dimmed."""
    lights = hanging.sweep_of(scene)
    start, full = lights.lamp.location.x, lights.window.data.energy

    def glow(moment: float) -> float:
        return math.sin(math.pi * moment) ** 2

    return [
        Track(lights.lamp, "location", lambda moment: start + lights.reach * moment, 0),
        Track(lights.lamp.data, "energy", lambda moment: lights.power * glow(moment)),
        Track(lights.window.data, "energy", lambda moment: full * (1.0 - (1.0 - hanging.DIMMED) * glow(moment))),
    ]


def eased(share: float) -> float:
    """From 0 to 1, starting and stopping gently."""
    share = min(max(share, 0.0), 1.0)
    return share * share * (3.0 - 2.0 * share)


FILMS = {
    film.name: film
    for film in (
        Film(
            "assembly",
            "Assembly",
            0,
            "Watch the inserts drop into their pockets, batch by batch",
            "exploded",
            5.0,
            _assembly,
            unfolding="batches",
        ),
        Film(
            "light", "Light", 1, "Sweep a light over the framed panel, to bring out its grain", "listing", 3.0, _light
        ),
    )
}


@contextlib.contextmanager
def rolling(scene: bpy.types.Scene, film: Film, opened: OpenDesign, path: Path) -> Iterator[None]:
    """The scene has the film's keyframes and writes it to `path`; afterwards all is as before."""
    with contextlib.ExitStack() as restoring:
        restoring.enter_context(_output(scene, film, path))
        for track in film.tracks(scene, opened):
            restoring.enter_context(_keyed(track, film.frames))
        yield


@contextlib.contextmanager
def _output(scene: bpy.types.Scene, film: Film, path: Path) -> Iterator[None]:
    """Frames, and an MP4 file with H.264, which wants even sizes; the interface is locked, so that keyframes stay."""
    render, name = scene.render, scene.name
    width, height = (2 * (size // 2) for size in (render.resolution_x, render.resolution_y))
    wanted = {
        "resolution_x": width,
        "resolution_y": height,
        "fps": film.fps,
        "fps_base": 1.0,
        "filepath": str(path),
        "use_file_extension": False,
        "use_lock_interface": True,
        "use_persistent_data": True,
    }
    frames: dict[str, object] = {"frame_start": 1, "frame_end": film.frames, "frame_step": 1, "frame_current": 1}
    before = {key: getattr(render, key) for key in wanted}
    frames_before = {key: getattr(scene, key) for key in frames}
    try:
        _set(render, wanted)
        _set(scene, frames)
        with versions.video_output(scene):
            yield
    finally:
        if scene := bpy.data.scenes.get(name):  # undo may have made a new one
            _set(scene.render, before)
            scene.frame_set(frames_before.pop("frame_current"))
            _set(scene, frames_before)


@contextlib.contextmanager
def _keyed(track: Track, frames: int) -> Iterator[None]:
    """The track's keyframes, one a frame, in an action of its own; value and animation are as before afterwards."""
    owner, had_data = track.owner, track.owner.animation_data is not None
    holder = owner.animation_data_create()
    kept, slot = holder.action, versions.action_slot(holder)
    before = _value(track)
    action = bpy.data.actions.new("Grainstack film")
    try:
        holder.action = action
        for frame in range(1, frames + 1):
            _set_value(track, track.value((frame - 1) / max(frames - 1, 1)))
            owner.keyframe_insert(track.path, index=track.index, frame=frame)
        yield
    finally:
        with contextlib.suppress(ReferenceError):  # another file was opened meanwhile
            holder = owner.animation_data  # asked anew: Blender does not say of the old one that it is gone
            holder.action = kept
            versions.set_action_slot(holder, slot)
            bpy.data.actions.remove(action)
            if not had_data:
                owner.animation_data_clear()
            _set_value(track, before)


def _place(track: Track) -> tuple[bpy.types.bpy_struct, str]:
    """Who holds the property, and its name there."""
    holder, _, name = track.path.rpartition(".")
    return (track.owner.path_resolve(holder) if holder else track.owner), name


def _value(track: Track) -> float | bool:
    holder, name = _place(track)
    value = getattr(holder, name)
    return value if track.index < 0 else value[track.index]


def _set_value(track: Track, value: float | bool) -> None:
    holder, name = _place(track)
    if track.index < 0:
        setattr(holder, name, value)
    else:
        getattr(holder, name)[track.index] = value


def _set(owner: bpy.types.bpy_struct, values: dict[str, object]) -> None:
    for key, value in values.items():
        setattr(owner, key, value)
