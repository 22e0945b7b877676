"""Pictures without a window: `python -m grainstack.headless render DESIGN --view VIEW --out DIR`.

The package is the add-on, merely imported: our properties are registered while it works, operators never.
Paths of the pictures go to stdout, progress to stderr.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TextIO

from . import stdout

if __name__ == "__main__":
    RESULTS = stdout.for_results_alone()  # before Blender's module is imported, which talks as it starts

import bpy

from . import designs, properties, reading, render, views
from . import scene as scenes
from .core.commands import UNUSABLE, Parser, status_of
from .core.errors import UnusableInput

CHOICES = (*views.VIEWS, *reading.PICTURES)
USAGE = f"grainstack render DESIGN --view {'|'.join(CHOICES)} [--batch N] --out DIR [--size WxH]"
SIZE = (1600, 1000)


def main(argv: list[str], results: TextIO | None = None) -> int:
    """Render pictures as the arguments say, write their paths to `results` (stdout); returns the exit status."""
    try:
        arguments = _parser().parse_args(argv)
        opened = designs.read(arguments.design)
        if arguments.batch is not None:
            opened = opened.after_batch(arguments.batch)
        with properties.registered():
            paths = _render_views(opened, arguments)
    except UnusableInput as refused:
        print(refused, file=sys.stderr)
        return UNUSABLE
    except SystemExit as end:  # --help, which argparse has printed
        return int(end.code or 0)
    for path in paths:
        print(path, file=results, flush=True)
    return status_of(opened.findings)


def _parser() -> Parser:
    parser = Parser(prog="grainstack", usage=USAGE, allow_abbrev=False)
    commands = parser.add_subparsers(required=True, prog="grainstack", metavar="render", parser_class=Parser)
    command = commands.add_parser("render", usage=USAGE, help="pictures of a design", allow_abbrev=False)
    command.add_argument("design", type=Path, metavar="DESIGN")
    command.add_argument("--view", type=_view_names, required=True, help="one, or several with commas between")
    command.add_argument("--batch", type=int, metavar="N", help="the panel as it stands after batch N")
    command.add_argument("--out", type=Path, required=True, metavar="DIR")
    command.add_argument("--size", type=_size, default=SIZE, metavar="WxH", help="in pixels (default: 1600x1000)")
    command.add_argument("--samples", type=int, metavar="N", help="per pixel (default: the view's own number)")
    return parser


def _view_names(text: str) -> list[str]:
    names = text.split(",")
    for name in names:
        if name not in CHOICES:
            choices = ", ".join(CHOICES)
            raise argparse.ArgumentTypeError(f"there is no view {name!r}, choose from {choices}")
    return names


def _size(text: str) -> tuple[int, int]:
    match = re.fullmatch(r"(\d{2,5})x(\d{2,5})", text)
    if not match:
        raise argparse.ArgumentTypeError(f"{text!r} is no size, write it like 1600x1000")
    return int(match[1]), int(match[2])


def _render_views(opened: designs.OpenDesign, arguments: argparse.Namespace) -> list[Path]:
    """One picture per view, in a scene of our own that is gone afterwards."""
    scene = bpy.data.scenes.new(opened.title)
    settings = scene.grainstack
    settings.picture_width, settings.picture_height = arguments.size
    settings.view = next((name for name in arguments.view if name in views.VIEWS), "finished")
    views.open_design(scene, opened)
    paths = []
    try:
        for name in arguments.view:
            path = render.picture_path(arguments.out, opened.name, name, arguments.batch)
            if name in reading.PICTURES:
                told = _progress(name)
                paths.append(
                    reading.render_picture(scene, opened, name, path, samples=arguments.samples, progress=told)
                )
                continue
            if settings.shown != name:
                views.show(scene, opened, views.VIEWS[name])
            if arguments.samples:
                views.stage(scene, opened, arguments.samples)
            paths.append(render.render_picture(scene, path, _progress(name)))
    finally:
        scenes.close(scene)
    return paths


def _progress(view_name: str) -> Callable[[str], None]:
    """Tells stderr how far the renderer is, at most every two seconds."""
    last = time.monotonic()

    def tell(statistics: str) -> None:
        nonlocal last
        samples = re.search(r"Sample (\d+/\d+)", statistics)
        if samples and time.monotonic() - last > 2:
            last = time.monotonic()
            print(f"{view_name}: sample {samples[1]}", file=sys.stderr, flush=True)

    print(f"{view_name}: rendering", file=sys.stderr, flush=True)
    return tell


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], RESULTS))
