"""All pictures of the manual, or some: `python -m manual [demo] [findings]`, into assets/pictures.

Runs where the staged add-on can be imported, as `python build.py manual` arranges. `demo` takes what
`python build.py demo` has put into out/, so that the README shows just that.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from PIL import Image

import build

PICTURES = build.ROOT / "assets" / "pictures"


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


def finding_pictures() -> list[Path]:
    """A close-up of each finding."""
    from . import finding_pictures as findings  # starts Blender's module

    return findings.finding_pictures(PICTURES / "findings")


PARTS: dict[str, Callable[[], list[Path]]] = {"demo": demo_pictures, "findings": finding_pictures}


def main() -> None:
    """Make the parts that were named, or all, and print the pictures' paths."""
    parser = argparse.ArgumentParser(prog="python -m manual", description=__doc__)
    parser.add_argument("part", nargs="*", help=f"{' or '.join(PARTS)} (default: all)")
    for part in parser.parse_args().part or PARTS:
        for path in PARTS[part]():
            print(path, flush=True)


if __name__ == "__main__":
    main()
