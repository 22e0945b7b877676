"""Brings a place of the panel into sight: where a viewport must look from, and the way there."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

import bpy
from mathutils import Quaternion, Vector

from .. import guards
from ..units import METRES

REACH = 40.0
"""What is seen round the place, at least, mm."""
LEAST_RISE = 0.25
"""Sine of the angle above the panel from which a place on its face is still seen well."""
HALF_SENSOR = 36.0
"""Half of what a viewport's lens counts as its sensor, along the longer side, mm."""
FRAME = 1 / 60
"""Seconds between two pictures of the way."""


@dataclass(frozen=True)
class Sight:
    """How a viewport looks at something: at which point, turned how, from how far (Blender's units)."""

    at: Vector
    turned: Quaternion
    distance: float

    def towards(self, end: Sight, share: float) -> Sight:
        """Part of the way to another: 0 here, 1 there, slow at both ends."""
        eased = share * share * (3 - 2 * share)
        distance = self.distance * (end.distance / self.distance) ** eased
        return Sight(self.at.lerp(end.at, eased), self.turned.slerp(end.turned, eased), distance)


def sight_of(x: float, y: float, turned: Quaternion, lens: float, size: tuple[int, int]) -> Sight:
    """A place (mm) in the middle of a viewport, seen as it was turned; from above where that was flat or from below.

    lens: the viewport's, mm. size: its width and height in pixels.
    """
    rise = (turned @ Vector((0.0, 0.0, 1.0))).z
    longer, shorter = max(*size, 1), max(min(size), 1)
    distance = REACH * METRES * lens / HALF_SENSOR * longer / shorter
    return Sight(Vector((x * METRES, y * METRES, 0.0)), turned if rise >= LEAST_RISE else Quaternion(), distance)


def frame(context: bpy.types.Context, x: float, y: float) -> bool:
    """Bring a place (mm) to the middle of the maker's viewport; False where there is no viewport.

    Who looks through the camera leaves it, still looking the same way; the camera stays as it is.
    """
    area = _viewport(context)
    if area is None:
        return False
    space = area.spaces.active
    view = space.region_3d
    region = next(region for region in area.regions if region.type == "WINDOW")
    start = _leave_camera(context.scene.camera, space, view)
    end = sight_of(x, y, start.turned, space.lens, (region.width, region.height))
    pause = 0 if bpy.app.background else context.preferences.view.smooth_view / 1000
    _fly(area, start, end, pause)
    return True


def _viewport(context: bpy.types.Context) -> bpy.types.Area | None:
    """The one that the maker is working in, or else the largest."""
    if context.area is not None and context.area.type == "VIEW_3D":
        return context.area
    window = context.window
    areas = [area for area in window.screen.areas if area.type == "VIEW_3D"] if window else []
    return max(areas, key=lambda area: area.width * area.height, default=None)


def _leave_camera(camera: bpy.types.Object | None, space: bpy.types.SpaceView3D, view: bpy.types.RegionView3D) -> Sight:
    """Where the viewport looks from, as a view of its own."""
    if view.view_perspective != "CAMERA" or camera is None or camera.type != "CAMERA":
        return Sight(view.view_location.copy(), view.view_rotation.copy(), view.view_distance)
    lens, eye, turned = camera.data, camera.matrix_world.translation, camera.matrix_world.to_quaternion()
    back = turned @ Vector((0.0, 0.0, 1.0))
    away = eye.z / back.z if back.z > LEAST_RISE else eye.length
    if lens.type == "ORTHO":
        view.view_perspective, seen = "ORTHO", lens.ortho_scale / 2
    else:
        view.view_perspective, seen = "PERSP", abs(away) * lens.sensor_width / 2 / lens.lens
    return Sight(eye - back * away, turned, seen * space.lens / HALF_SENSOR)


def _look(view: bpy.types.RegionView3D, sight: Sight) -> None:
    view.view_location, view.view_rotation, view.view_distance = sight.at, sight.turned, sight.distance


def _fly(area: bpy.types.Area, start: Sight, end: Sight, seconds: float) -> None:
    """Look from there within so many seconds. A later flight, or one whose viewport is gone, ends this one."""
    if seconds <= 0:
        _look(area.spaces.active.region_3d, end)
        return
    begin, pointer = time.monotonic(), area.as_pointer()
    _Flight.newest = begin

    @guards.timer("flying to a finding")
    def go_on() -> float | None:
        windows = bpy.context.window_manager.windows
        here = (a for window in windows for a in window.screen.areas if a.as_pointer() == pointer)
        area = next(here, None)
        if area is None or area.type != "VIEW_3D" or _Flight.newest != begin:
            return None
        share = min((time.monotonic() - begin) / seconds, 1.0)
        _look(area.spaces.active.region_3d, start.towards(end, share))
        area.tag_redraw()
        return FRAME if share < 1 else None

    _look(area.spaces.active.region_3d, start)
    _Flight.running = go_on
    bpy.app.timers.register(go_on)


class _Flight:
    """The one that is under way."""

    newest = 0.0
    running: ClassVar[Callable[[], float | None] | None] = None


def unregister() -> None:
    """End a flight that is under way."""
    if _Flight.running is not None and bpy.app.timers.is_registered(_Flight.running):
        bpy.app.timers.unregister(_Flight.running)
    _Flight.running = None
