"""Pages from the command line: `card DESIGN --out DIR` and `page DESIGN --out DIR`.

Each has pictures rendered into the folder and writes an HTML and a PDF that show them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ...core.pages.pdf import Paper
from ...core.pages.views_page import Shown
from ...core.woods import finish
from ..designs import OpenDesign
from . import finishing


@dataclass(frozen=True)
class Shot:
    """A picture of a page: which view, what its file is called, what stands under it, and how old the woods are."""

    view: str
    name: str
    words: str = ""
    age: float = finish.SETTLED


@dataclass(frozen=True)
class Page:
    """A page and the pictures that it shows."""

    name: str
    help: str
    size: tuple[int, int]
    """Size of its pictures, pixels, unless asked for otherwise."""
    shots: tuple[Shot, ...]


PAGES = {
    page.name: page
    for page in (
        Page("card", "the listing picture, and the card that shows it", (1600, 1280), (Shot("listing", "listing"),)),
        Page(
            "page",
            "all views on one page",
            (960, 600),
            (
                Shot("finished", "finished", "Finished, after some months in daylight"),
                Shot("finished", "cut", "Just cut", finish.CUT),
                Shot("finished", "aged", "Aged", finish.AGED),
                Shot("exploded", "exploded", "Exploded, batch by batch"),
                Shot("section", "section", "Section through the deepest overlaps"),
                Shot("overlap", "overlap", "Overlaps: how many layers, and how deep"),
            ),
        ),
    )
}


def write(page: Page, pictures: Sequence[Path], opened: OpenDesign, paper: Paper) -> list[Path]:
    """Write a page of its pictures, beside them; returns the paths of its HTML and its PDF.

    Raises:
        UnusableInput: it cannot be written.
    """
    if page.name == "card":
        return [*finishing.write_card(pictures[0], opened, paper)]
    shown = [Shown(picture, shot.words) for picture, shot in zip(pictures, page.shots, strict=True)]
    return [*finishing.write_page(shown, opened, paper)]
