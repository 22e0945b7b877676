"""Rendering the view that a scene shows into a picture file."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path

import bpy

from .core.errors import UnusableInput


def picture_path(folder: Path, design_name: str, view_name: str, batch: int | None = None) -> Path:
    """The file of a view's picture, such as koi-pond-finished.png or koi-pond-batch-2-proud.png."""
    step = "" if batch is None else f"batch-{batch}-"
    return folder / f"{design_name}-{step}{view_name}.png"


def prepare_folder(folder: Path) -> None:
    """Make the folder of the pictures.

    Raises:
        UnusableInput: it cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        problem = f"the folder cannot be made ({error.strerror})"
        raise UnusableInput(str(folder), "", problem, "Choose another folder") from None


def render_picture(scene: bpy.types.Scene, path: Path, progress: Callable[[str], None] | None = None) -> Path:
    """Render the scene and wait for it; returns the picture's path.

    Raises:
        UnusableInput: the picture cannot be written.
    """
    prepare_folder(path.parent)
    before = path.stat().st_mtime_ns if path.exists() else None
    with _output(scene, path), _reporting(progress):
        try:
            bpy.ops.render.render(write_still=True, scene=scene.name)
        except RuntimeError as error:
            problem = f"the picture cannot be rendered ({error})"
            raise UnusableInput(str(path), "", problem, "Choose another folder or size") from None
    if not path.exists() or path.stat().st_mtime_ns == before:
        raise UnusableInput(str(path), "", "the picture cannot be written there", "Choose another folder")
    return path


def start_rendering(scene: bpy.types.Scene, path: Path) -> None:
    """Render as a job of Blender's, with its window, progress bar and Esc; settings are restored at its end.

    Raises:
        UnusableInput: the folder cannot be made.
    """
    prepare_folder(path.parent)
    restoring = contextlib.ExitStack()
    restoring.enter_context(_output(scene, path))
    handlers = (bpy.app.handlers.render_complete, bpy.app.handlers.render_cancel)

    def restore(*_: object) -> None:
        for handler in handlers:
            if restore in handler:
                handler.remove(restore)
        restoring.close()

    for handler in handlers:
        handler.append(restore)
    if "CANCELLED" in bpy.ops.render.render("INVOKE_DEFAULT", write_still=True, scene=scene.name):
        restore()


@contextlib.contextmanager
def _output(scene: bpy.types.Scene, path: Path) -> Iterator[None]:
    """The scene writes a PNG to `path`, and afterwards what it wrote before."""
    name = scene.name  # no reference to data is kept while a job runs
    image = scene.render.image_settings
    before = (scene.render.filepath, scene.render.use_file_extension, image.file_format)
    scene.render.filepath, scene.render.use_file_extension, image.file_format = str(path), False, "PNG"
    try:
        yield
    finally:
        if scene := bpy.data.scenes.get(name):
            render = scene.render
            render.filepath, render.use_file_extension, render.image_settings.file_format = before


@contextlib.contextmanager
def _reporting(progress: Callable[[str], None] | None) -> Iterator[None]:
    """Pass Blender's render statistics on."""
    if progress is None:
        yield
        return

    def report(statistics: object, *_: object) -> None:
        progress(str(statistics))

    bpy.app.handlers.render_stats.append(report)
    try:
        yield
    finally:
        bpy.app.handlers.render_stats.remove(report)
