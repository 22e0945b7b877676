"""All pictures of the manual, or some: `python -m manual [demo] [views] [findings] [samples] [window]`, into
assets/pictures.

Runs where the staged add-on can be imported, as `python build.py manual` arranges. `demo` takes what that has rendered
into out/: the demo's pictures, larger. `window` needs a Blender program, the extension's zip and a screen.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from PIL import Image

import build

from . import window

WIDTH = 1280
"""Pixels of the window's pictures: small enough for a page, large enough to read."""
PICTURES = build.ROOT / "assets" / "pictures"
MORE_VIEWS = (["--view", "proud,detail,reading"], ["--view", "finished", "--batch", "2"])
"""What docs/views.md shows of the pond beside the demo's views, as `build.py render` is told it."""


def demo_pictures() -> list[Path]:
    """The demo's pictures as JPEG."""
    made = []
    for design, views in build.DEMO_VIEWS.items():
        for view in views:
            name = f"{design.name.partition('.')[0]}-{view}"
            made.append(PICTURES / f"{name}.jpg")
            with Image.open(build.ROOT / "out" / f"{name}.png") as image:
                image.convert("RGB").save(made[-1], quality=88, optimize=True, progressive=True)
    return made


def view_pictures() -> list[Path]:
    """Small pictures of the pond in views that the demo leaves out."""
    from grainstack.blender_addon.entry import headless  # starts Blender's module

    made = []
    with tempfile.TemporaryDirectory() as folder:
        for views in MORE_VIEWS:
            headless.main(["render", str(build.KOI_POND), "--out", folder, "--size", "800x500", *views], sys.stderr)
        for picture in sorted(Path(folder).glob("*.png")):
            made.append(PICTURES / f"{picture.stem}.jpg")
            with Image.open(picture) as image:
                image.convert("RGB").save(made[-1], quality=82, optimize=True, progressive=True)
    return made


def finding_pictures() -> list[Path]:
    """A close-up of each finding."""
    from . import finding_pictures as findings  # starts Blender's module

    return findings.finding_pictures(PICTURES / "findings")


def sample_pictures() -> list[Path]:
    """Blocks of all woods on one sheet."""
    from . import samples  # starts Blender's module

    return [samples.sample_sheet(PICTURES / "woods.jpg")]


def window_pictures(blender: Path, package: Path) -> list[Path]:
    """Blender's window at each step of docs/bench.md."""
    made = []
    for picture in window.window_pictures(blender, package, build.BUILD / "window"):
        made.append(PICTURES / "window" / f"{picture.stem}.jpg")
        made[-1].parent.mkdir(parents=True, exist_ok=True)
        with Image.open(picture) as image:
            smaller = image.convert("RGB").resize((WIDTH, round(image.height * WIDTH / image.width)), Image.LANCZOS)
            smaller.save(made[-1], quality=82, optimize=True, progressive=True)
    return made


PARTS: dict[str, Callable[[], list[Path]]] = {
    "demo": demo_pictures,
    "views": view_pictures,
    "findings": finding_pictures,
    "samples": sample_pictures,
}


def main() -> None:
    """Make the parts that were named, or all, and print the pictures' paths."""
    parser = argparse.ArgumentParser(prog="python -m manual", description=__doc__)
    parser.add_argument("part", nargs="*", help=f"{' or '.join(PARTS)} or window (default: all but the window)")
    parser.add_argument("--blender", type=Path, help="the program whose window is shown")
    parser.add_argument("--package", type=Path, help="the extension's zip")
    options = parser.parse_args()
    parts = {**PARTS, "window": lambda: window_pictures(options.blender, options.package)}
    for part in options.part or PARTS:
        for path in parts[part]():
            print(path, flush=True)


if __name__ == "__main__":
    main()
