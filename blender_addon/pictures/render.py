"""From the view that a scene shows to a picture or a film in a file.

Nothing half-made is ever left: the file is written under another name, in its folder, and takes its own name only
when it is complete.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import bpy

from ...core.errors import UnusableInput
from .. import versions
from ..designs import OpenDesign
from ..scene import conversion
from . import devices, estimates, film, finishing

PICTURE, JPEG, VIDEO = ".png", ".jpg", ".mp4"

Tell = Callable[[str], None]
Finisher = Callable[[Path, OpenDesign, str], None]
FINISHERS: list[Finisher] = [finishing.finish]
"""What is done to each complete picture before it takes its name: called with its path, its design and its view."""


class Stopped(Exception):
    """The maker has stopped the rendering."""


@dataclass(frozen=True)
class Take:
    """A picture to make of the view that a scene shows, or a film."""

    path: Path
    opened: OpenDesign
    view: str
    film: film.Film | None = None
    wish: devices.Wish = "auto"

    @property
    def frames(self) -> int:
        """How many pictures Blender renders for it."""
        return self.film.frames if self.film else 1


@dataclass(frozen=True)
class Done:
    """A picture or film that is there, and what it took."""

    path: Path
    seconds: float
    device: devices.Device


def silent(words: str) -> None:
    """Tell nobody."""


def picture_path(folder: Path, design_name: str, view_name: str, batch: int | None = None) -> Path:
    """The file of a view's picture, such as koi-pond-finished.png or koi-pond-batch-2-proud.png."""
    step = "" if batch is None else f"batch-{batch}-"
    return folder / f"{design_name}-{step}{view_name}{PICTURE}"


def film_path(folder: Path, design_name: str, film_name: str) -> Path:
    """The file of a film, such as koi-pond-assembly.mp4."""
    return folder / f"{design_name}-{film_name}{VIDEO}"


def free_path(path: Path) -> Path:
    """The path itself, or where a file is there already the first numbered one that is free: name-2.png."""
    number, free = 1, path
    while free.exists():
        number += 1
        free = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return free


def work_of(scene: bpy.types.Scene, view_name: str) -> estimates.Work:
    """What one picture of the scene as it is set up is to the renderer."""
    design = conversion.path_of(scene).name
    render, cycles = scene.render, scene.cycles
    megapixels = render.resolution_x * render.resolution_y / 1e6
    return estimates.Work(design, view_name, megapixels, cycles.samples, cycles.use_denoising)


# --- Files ------------------------------------------------------------------------------------------------


@contextlib.contextmanager
def unfinished(path: Path) -> Iterator[Path]:
    """A file beside `path` to write to, which takes its place at the end; after an error nothing is left of it.

    It is made at once, so that a folder that cannot be written to is told before hours of rendering.

    Raises:
        UnusableInput: the folder cannot be made or written to.
    """
    part = path.with_name(f".{path.stem}-unfinished-{os.getpid()}{path.suffix}")
    made = _make_folder(path.parent)
    try:
        try:
            part.touch()
            yield part
            part.replace(path)
        except OSError as error:
            raise _unwritten(path, error.strerror or str(error)) from None
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        for folder in made:
            with contextlib.suppress(OSError):  # something else may be in it by now
                folder.rmdir()
        raise


def _make_folder(folder: Path) -> list[Path]:
    """Make it; returns the folders that were not there before, the innermost first."""
    missing = [each for each in (folder, *folder.parents) if not each.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        problem = f"the folder cannot be made ({error.strerror})"
        raise UnusableInput(str(folder), "", problem, "Choose another folder") from None
    return missing


def _unwritten(path: Path, reason: str) -> UnusableInput:
    return UnusableInput(str(path), "", f"it cannot be written ({reason})", "Choose another folder")


# --- Rendering --------------------------------------------------------------------------------------------


def render(scene: bpy.types.Scene, take: Take, tell: Tell = silent, progress: Tell = silent) -> Done:
    """Render and wait for it; a GPU that fails is replaced by the CPU.

    tell: called with what the maker should know; progress: with how far it is, often.

    Raises:
        UnusableInput: it cannot be rendered or written.
    """
    with unfinished(take.path) as part:
        try:
            device, seconds = _render_on(scene, take, part, take.wish, tell, progress)
        except RuntimeError as error:
            if not devices.choose_now(take.wish).is_gpu:
                raise _unrendered(take, _line(error)) from None
            tell(f"The GPU cannot render this, so the CPU does ({_line(error)})")
            device, seconds = _render_on(scene, take, part, "cpu", tell, progress)
        return _complete(scene, take, part, device, seconds)


def _render_on(
    scene: bpy.types.Scene, take: Take, part: Path, wish: devices.Wish, tell: Tell, progress: Tell
) -> tuple[devices.Device, float]:
    with _set_up(scene, take, part, wish) as device, _reporting(take, progress):
        if device.note:
            tell(device.note)
        start = time.monotonic()
        _blender_renders(animation=take.film is not None, scene=scene.name)
        return device, time.monotonic() - start


def _blender_renders(*context: str, **options: object) -> set[str]:
    return bpy.ops.render.render(*context, **options)


def _unrendered(take: Take, reason: str) -> UnusableInput:
    return UnusableInput(str(take.path), "", f"it cannot be rendered ({reason})", "Choose a smaller size")


@contextlib.contextmanager
def _set_up(scene: bpy.types.Scene, take: Take, part: Path, wish: devices.Wish) -> Iterator[devices.Device]:
    """The scene is ready to render on the device; afterwards it is as before."""
    with devices.used(scene, wish) as device:
        if take.film is None:
            yield device
        else:
            with _plainly_named(part) as file, film.rolling(scene, take.film, take.opened, file):
                yield device


@contextlib.contextmanager
def _plainly_named(part: Path) -> Iterator[Path]:
    """The file itself, or one that becomes it, where Blender would read # and { in its name as places for numbers."""
    if not set("#{}") & set(str(part)):
        yield part
        return
    with tempfile.TemporaryDirectory(prefix="grainstack-") as folder:
        file = Path(folder) / f"film{part.suffix}"
        yield file
        if file.exists():
            shutil.copyfile(file, part)


def _complete(scene: bpy.types.Scene, take: Take, part: Path, device: devices.Device, seconds: float) -> Done:
    """What Blender has rendered, in the file under its unfinished name, with all finishing touches.

    Raises:
        OSError: it cannot be written.
    """
    start = time.monotonic()
    if take.film is None:
        _save_picture(scene, part)
    if not part.stat().st_size:
        raise OSError("Blender wrote nothing")
    for finish in FINISHERS if take.film is None else ():
        finish(part, take.opened, take.view)
    if take.film is None and take.view == finishing.LISTING:
        with unfinished(take.path.with_suffix(JPEG)) as jpeg:
            finishing.write_listing_jpeg(part, jpeg, take.opened)
    seconds += time.monotonic() - start
    if not device.is_new:  # whose driver has compiled meanwhile
        estimates.learn(estimates.Render(device.label, seconds / take.frames, work_of(scene, take.view)))
    devices.was_used(device)
    return Done(take.path, seconds, device)


def _save_picture(scene: bpy.types.Scene, path: Path) -> None:
    """Not by the render operator, which reads # and { in names as places for numbers.

    Raises:
        OSError: it cannot be written.
    """
    with versions.picture_output(scene):
        try:
            bpy.data.images["Render Result"].save_render(str(path), scene=scene)
        except RuntimeError as error:
            raise OSError(_line(error)) from None


@contextlib.contextmanager
def _reporting(take: Take, progress: Tell) -> Iterator[None]:
    """Pass on how far Blender is."""
    frame = 0

    def count(*_: object) -> None:
        nonlocal frame
        frame += 1

    def report(statistics: object, *_: object) -> None:
        if sample := re.search(r"Sample (\d+/\d+)", str(statistics)):
            progress((f"frame {frame}/{take.frames}, " if take.film else "") + f"sample {sample[1]}")

    with _handling("render_pre", count), _handling("render_stats", report):
        yield


@contextlib.contextmanager
def _handling(event: str, handler: Callable[..., None]) -> Iterator[None]:
    """Blender calls the handler, until the end or another file is opened."""
    handlers = getattr(bpy.app.handlers, event)
    handlers.append(handler)
    try:
        yield
    finally:
        if handler in handlers:
            handlers.remove(handler)


def _line(error: Exception) -> str:
    """An error of Blender's as one line without its full stop."""
    return " ".join(str(error).split()).removeprefix("Error: ").rstrip(".")


# --- Rendering in a window --------------------------------------------------------------------------------


class Job:
    """A take that Blender renders while its window stays alive, with its progress bar and Esc.

    Blender's handlers, which run in the renderer's thread, only note what became of it; all else happens in `finish`.
    """

    def __init__(self, scene: bpy.types.Scene, take: Take) -> None:
        """Start it.

        Raises:
            UnusableInput: the folder cannot be written to, or Blender refuses to render.
        """
        self.take, self.scene_name = take, scene.name
        self.began, self.seconds, self.completed = time.monotonic(), 0.0, False
        with contextlib.ExitStack() as restoring:
            self._part = restoring.enter_context(unfinished(take.path))
            self._settings = restoring.enter_context(contextlib.ExitStack())
            self.device = self._settings.enter_context(_set_up(scene, take, self._part, take.wish))
            self._settings.enter_context(_handling("render_complete", self._note_end))
            self._start(scene)
            self._file = restoring.pop_all()

    def _start(self, scene: bpy.types.Scene) -> None:
        animation = self.take.film is not None
        try:
            started = _blender_renders("INVOKE_DEFAULT", animation=animation, scene=scene.name)
        except RuntimeError as error:
            raise _unrendered(self.take, _line(error)) from None
        if "CANCELLED" in started:
            raise _unrendered(self.take, "Blender does not start")

    def _note_end(self, *_: object) -> None:
        self.seconds, self.completed = time.monotonic() - self.began, True

    @property
    def is_running(self) -> bool:
        """Whether Blender still renders."""
        return bpy.app.is_job_running("RENDER")

    def finish(self) -> Done:
        """Put settings back after the rendering, and the file under its name.

        Raises:
            Stopped: the maker stopped it; nothing is left of it.
            UnusableInput: the file cannot be written; nothing is left of it either.
        """
        with self._file:
            scene = bpy.data.scenes.get(self.scene_name)
            self._settings.close()
            if not self.completed or scene is None:
                raise Stopped
            return _complete(scene, self.take, self._part, self.device, self.seconds)
