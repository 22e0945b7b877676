"""Pictures of how the finished panel reads: in grey, as a thumbnail, and to all eyes on one sheet, cut and aged."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import bpy
from PIL import Image

from ...core.pages.picture_files import About, write_png
from ...core.pages.reading_sheet import cell_size, pixels_of, reading_sheet, seen_as
from ...core.woods import finish
from ..designs import OpenDesign

PICTURES = {
    "greyscale": "The finished panel in grey, light and dark alone.",
    "thumbnail": "The finished panel made as small as a page of many offers shows it.",
    "reading": "The finished panel when cut and when aged, in grey, as colour-blind eyes see it, and as a thumbnail.",
}
"""What can be rendered besides views, and what each shows."""
WHEN = {"When cut": finish.CUT, "When aged": finish.AGED}


def make_picture(
    scene: bpy.types.Scene, opened: OpenDesign, name: str, path: Path, shoot: Callable[[Path], None]
) -> None:
    """Make one of `PICTURES` at the scene's picture size.

    shoot: renders the finished panel as the scene is set up into a file.

    Raises:
        UnusableInput: the picture cannot be written.
    """
    settings = scene.grainstack
    size = (settings.picture_width, settings.picture_height)
    if name == "reading":
        age = settings.age
        settings.picture_width, settings.picture_height = cell_size(size)
        try:
            pictures = {}
            for when, settings.age in WHEN.items():
                shoot(path)
                pictures[when] = pixels_of(path)
        finally:
            settings.age = age
            settings.picture_width, settings.picture_height = size
        made = reading_sheet(pictures, size)
    else:
        shoot(path)
        made = Image.fromarray(seen_as(pixels_of(path), name))
    write_png(path, made, About(opened.title, PICTURES[name]))
