"""Pictures and films without a window: `python -m …entry.headless render DESIGN --view VIEW --out DIR`.

The package is the add-on, merely imported: our properties are registered while it works, operators never.
Paths of the pictures go to stdout, progress to stderr.
"""

from __future__ import annotations

import argparse
import contextlib
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

from ...core.commands import Parser, at_the_door, status_of
from ...core.errors import UnusableInput
from ...core.pages.pdf import PAPERS
from .. import designs
from ..pictures import devices, estimates, film, page_commands, reading_pictures, render
from ..scene import objects as scenes
from ..studio import picture_choices
from ..views import views
from . import properties

CHOICES = (*views.VIEWS, *reading_pictures.PICTURES)
USAGE = (
    f"grainstack render DESIGN --view {'|'.join(CHOICES)} or --film {'|'.join(film.FILMS)} --out DIR [--batch N] "
    f"[--size WxH|{'|'.join(picture_choices.SIZES)}] [--quality {'|'.join(picture_choices.QUALITIES)}] [--samples N] "
    f"[--device {'|'.join(devices.WISHES)}]"
)
PAGE_USAGE = (
    f"grainstack {'|'.join(page_commands.PAGES)} DESIGN --out DIR [--paper {'|'.join(PAPERS)}] "
    "[--size SIZE] [--quality QUALITY] [--samples N] [--device DEVICE]"
)
SIZE, FILM_SIZE = (1600, 1000), (960, 600)


def main(argv: list[str], results: TextIO | None = None) -> int:
    """Render pictures as the arguments say, write their paths to `results` (stdout); returns the exit status."""

    def run() -> int:
        with contextlib.redirect_stdout(results or sys.stdout):  # where --help goes
            arguments = _parser().parse_args(argv)
        if arguments.run is _render_all and not arguments.view and not arguments.film:
            raise UnusableInput("grainstack render", "", "what to render is missing", "Give --view or --film")
        opened = designs.read(arguments.design)
        if arguments.batch is not None:
            opened = opened.after_batch(arguments.batch)
        devices.keep_compiled()
        with properties.registered():
            paths = arguments.run(opened, arguments)
        for path in paths:
            print(path, file=results, flush=True)
        return status_of(opened.findings)

    return at_the_door(run, f"grainstack {' '.join(argv)}")


def _parser() -> Parser:
    parser = Parser(prog="grainstack", usage=USAGE, allow_abbrev=False)
    commands = parser.add_subparsers(required=True, prog="grainstack", metavar="render|card|page", parser_class=Parser)
    command = commands.add_parser("render", usage=USAGE, help="pictures of a design", allow_abbrev=False)
    command.add_argument("--view", type=_view_names, default=[], help="one view, or several separated by commas")
    command.add_argument("--film", choices=film.FILMS, help="a short film, as MP4")
    command.add_argument(
        "--batch", type=int, metavar="N", help="the panel as it stands after batch N; 0 is the bare background"
    )
    command.set_defaults(run=_render_all)
    _add_options(command, "1600x1000, films 960x600")
    for page in page_commands.PAGES.values():
        command = commands.add_parser(page.name, usage=PAGE_USAGE, help=page.help, allow_abbrev=False)
        command.add_argument("--paper", choices=PAPERS, default="a4", help="paper of the PDF (default: a4)")
        command.set_defaults(run=_render_page, page=page, batch=None)
        _add_options(command, f"{page.size[0]}x{page.size[1]}")
    return parser


def _add_options(command: Parser, size: str) -> None:
    command.add_argument("design", type=Path, metavar="DESIGN", help="the design's file, NAME.panel.json")
    command.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder to write into")
    command.add_argument("--size", type=_size, metavar="SIZE", help=f"WxH in pixels, or by use (default: {size})")
    command.add_argument("--quality", choices=picture_choices.QUALITIES, help="(default: good; for films draft)")
    command.add_argument("--samples", type=int, metavar="N", help="samples per pixel, instead of a quality")
    command.add_argument(
        "--device",
        choices=devices.WISHES,
        default="auto",
        help="auto: a GPU if Blender can use one (default)",
    )


def _view_names(text: str) -> list[str]:
    names = text.split(",")
    for name in names:
        if name not in CHOICES:
            choices = ", ".join(CHOICES)
            raise argparse.ArgumentTypeError(f"there is no view {name!r}, choose from {choices}")
    return names


def _size(text: str) -> tuple[int, int]:
    if named := picture_choices.SIZES.get(text):
        return named.width, named.height
    match = re.fullmatch(r"(\d{2,5})x(\d{2,5})", text)
    if not match:
        names = ", ".join(picture_choices.SIZES)
        raise argparse.ArgumentTypeError(f"{text!r} is no size, write it like 1600x1000, or one of {names}")
    return int(match[1]), int(match[2])


def _render_all(opened: designs.OpenDesign, arguments: argparse.Namespace) -> list[Path]:
    """One picture per view, and the film, in a scene of our own that is gone afterwards."""
    scene = bpy.data.scenes.new(opened.title)
    shown = next((name for name in arguments.view if name in views.VIEWS), "finished")
    scene.grainstack.view = shown if arguments.view else film.FILMS[arguments.film].view
    _choose(scene, arguments, SIZE, picture_choices.GOOD)
    views.open_design(scene, opened)
    paths = []
    try:
        for name in arguments.view:
            path = render.picture_path(arguments.out, opened.name, name, arguments.batch)
            if name in reading_pictures.PICTURES:
                paths.append(_render_reading(scene, opened, name, path, arguments))
                continue
            paths.append(_render(scene, render.Take(path, opened, name, wish=arguments.device), arguments.samples))
        if arguments.film:
            _choose(scene, arguments, FILM_SIZE, "draft")
            rolled = film.FILMS[arguments.film]
            scene.grainstack.unfolding = rolled.unfolding or scene.grainstack.unfolding
            path = render.film_path(arguments.out, opened.name, rolled.name)
            take = render.Take(path, opened, rolled.view, rolled, arguments.device)
            paths.append(_render(scene, take, arguments.samples))
    finally:
        scenes.close(scene)
    return paths


def _render_page(opened: designs.OpenDesign, arguments: argparse.Namespace) -> list[Path]:
    """The pictures of a page, in a scene of our own, and the page that shows them."""
    page = arguments.page
    scene = bpy.data.scenes.new(opened.title)
    scene.grainstack.view = page.shots[0].view
    _choose(scene, arguments, page.size, picture_choices.GOOD)
    views.open_design(scene, opened)
    pictures = []
    try:
        for shot in page.shots:
            scene.grainstack.age = shot.age
            path = render.picture_path(arguments.out, opened.name, shot.name)
            take = render.Take(path, opened, shot.view, wish=arguments.device)
            pictures.append(_render(scene, take, arguments.samples))
    finally:
        scenes.close(scene)
    return page_commands.write(page, pictures, opened, arguments.paper)


def _choose(scene: bpy.types.Scene, arguments: argparse.Namespace, size: tuple[int, int], quality: str) -> None:
    """Size and quality as asked for, else these."""
    settings = scene.grainstack
    settings.picture_width, settings.picture_height = arguments.size or size
    settings.quality = arguments.quality or quality


def _render(scene: bpy.types.Scene, take: render.Take, samples: int | None) -> Path:
    """One picture or film, its progress and its time told on stderr."""
    what = take.film.name if take.film else take.view
    if scene.grainstack.shown != take.view:
        views.show(scene, take.opened, views.VIEWS[take.view])
    if samples:
        views.stage(scene, take.opened, samples)
    expected = estimates.estimate(render.work_of(scene, take.view), estimates.learnt())
    about = f", about {estimates.in_words(expected.times(take.frames).seconds)}" if expected else ""
    _tell(f"{what}: rendering{about}")
    done = render.render(scene, take, lambda words: _tell(f"{what}: {words}"), _progress(what))
    _tell(f"{what}: rendered in {done.seconds:.1f} s on {done.device.label}")
    return done.path


def _render_reading(
    scene: bpy.types.Scene, opened: designs.OpenDesign, name: str, path: Path, arguments: argparse.Namespace
) -> Path:
    """A picture that is made of others."""

    def shoot(part: Path) -> None:
        _render(scene, render.Take(part, opened, "finished", wish=arguments.device), arguments.samples)

    with render.unfinished(path) as part:
        reading_pictures.make_picture(scene, opened, name, part, shoot)
    return path


def _progress(what: str) -> Callable[[str], None]:
    """Tells stderr how far the renderer is, at most every two seconds."""
    last = time.monotonic()

    def tell(how_far: str) -> None:
        nonlocal last
        if time.monotonic() - last > 2:
            last = time.monotonic()
            _tell(f"{what}: {how_far}")

    return tell


def _tell(words: str) -> None:
    print(words, file=sys.stderr, flush=True)


if __name__ == "__main__":
    stdout.leave(main(sys.argv[1:], RESULTS), RESULTS)
