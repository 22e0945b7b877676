"""The views page: a panel on one page, as HTML and as PDF, in all that there is to see of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from urllib.parse import quote

from ..measures.cautions import BENCH
from ..woods.colour import hex_from_srgb, settled, srgb_from_linear
from ..woods.species import Species, find_wood
from .listing_facts import Listing, mm_text
from .pdf import FADED, SANS_BOLD, SERIF, Page, Paper, write_html
from .picture_files import RENDERING

SIDE, TOP, GAP = 12.0, 12.0, 5.0
"""Margins and gaps of the PDF, mm."""
COLUMNS = 3
BENCH_HEIGHT, SWATCH_HEIGHT = 36.0, 13.0
"""Kept free below the pictures for the cautions, and for each row of woods, mm."""
SWATCHES_IN_A_ROW = 8


@dataclass(frozen=True)
class Shown:
    """A picture of the page and what is written under it."""

    picture: Path
    words: str


def write_views_page(listing: Listing, shown: Sequence[Shown], stem: Path, paper: Paper = "a4") -> tuple[Path, Path]:
    """Write the page beside its pictures, as STEM.html and STEM.pdf; returns both paths.

    Raises:
        UnusableInput: a picture cannot be read or the page not written.
    """
    html = write_html(stem.with_name(f"{stem.name}.html"), page_html(listing, shown))
    return html, _write_pdf(listing, shown, stem.with_name(f"{stem.name}.pdf"), paper)


def swatches(listing: Listing) -> list[tuple[str, tuple[str, str, str]]]:
    """Each wood of panel and frame, with its colour as cut, settled and aged, bare; those unknown are left out."""
    woods = dict.fromkeys((*listing.woods, listing.frame_wood))
    known = [(wood, find_wood(wood, listing.design.woods)) for wood in woods]
    return [(wood, _colours(species)) for wood, species in known if species]


def page_html(listing: Listing, shown: Sequence[Shown]) -> str:
    """The page; pictures are looked for beside it."""
    figures = "\n".join(
        f'<figure><img src="{quote(each.picture.name)}" alt="{escape(each.words)}">'
        f"<figcaption>{escape(each.words)}</figcaption></figure>"
        for each in shown
    )
    woods = "\n".join(
        f'<li><span style="background:{cut}"></span><span style="background:{settled}"></span>'
        f'<span style="background:{aged}"></span>{escape(wood)}</li>'
        for wood, (cut, settled, aged) in swatches(listing)
    )
    bench = "\n".join(f"<p>{escape(words)}</p>" for words in BENCH)
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(listing.title)}: views</title>
<style>
@page {{ size: A4 landscape; margin: 10mm }}
body {{ font: 15px/1.45 system-ui, sans-serif; color: #2b2723; background: #f6f3ee; margin: 2rem }}
h1 {{ font: 400 2rem/1.2 Georgia, "Times New Roman", serif; margin: 0 }}
p {{ color: #6f675e; margin: 0.2rem 0 1.4rem }}
main {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(20rem, 1fr)); gap: 1.2rem }}
figure {{ margin: 0 }}
img {{ display: block; width: 100%; height: auto; border-radius: 3px }}
figcaption {{ margin-top: 0.35rem; color: #6f675e }}
ul {{ list-style: none; padding: 0; display: grid; gap: 0.5rem;
      grid-template-columns: repeat(auto-fill, minmax(11rem, 1fr)) }}
li span {{ display: inline-block; width: 1.3rem; height: 1.6rem; vertical-align: middle }}
.bench p {{ margin: 0.2rem 0; max-width: 60rem }}
li span:nth-of-type(3) {{ margin-right: 0.6rem }}
@media print {{
  body {{ margin: 0; background: none; font-size: 9pt }}
  main {{ grid-template-columns: repeat(3, 1fr) }}
}}
</style>
</head>
<body>
<h1>{escape(listing.title)}</h1>
<p>{escape(mm_text(listing.size))} framed. Renderings, not photographs.</p>
<main>
{figures}
</main>
<h2>Woods</h2>
<p>Bare wood as cut, settled and aged: estimates.</p>
<ul>
{woods}
</ul>
<h2>Before you cut</h2>
<div class="bench">
{bench}
</div>
</body>
</html>
"""


def _colours(species: Species) -> tuple[str, str, str]:
    middle = species.settled_colour
    if middle is None:
        middle = hex_from_srgb(srgb_from_linear(settled(species.fresh_colour, species.aged_colour)))
    return species.fresh_colour, middle, species.aged_colour


def _write_pdf(listing: Listing, shown: Sequence[Shown], path: Path, paper: Paper) -> Path:
    page = Page(path, paper, listing.about, wide=True)
    page.words(SIDE, TOP + 6, listing.title, 20, SERIF)
    page.words(SIDE, TOP + 11.5, f"{mm_text(listing.size)} framed. {RENDERING}.", 8.5, colour=FADED)
    width = (page.width - 2 * SIDE - (COLUMNS - 1) * GAP) / COLUMNS
    woods = swatches(listing)
    below = BENCH_HEIGHT + SWATCH_HEIGHT * -(-len(woods) // SWATCHES_IN_A_ROW)
    row_height = (page.height - 2 * TOP - below) / -(-len(shown) // COLUMNS)
    bottom = y = TOP + 16
    for place, each in enumerate(shown):
        row, column = divmod(place, COLUMNS)
        x, y = SIDE + column * (width + GAP), TOP + 16 + row * row_height
        _, high = page.picture(each.picture, x, y, width, row_height - 7)
        page.words(x, y + high + 4, each.words, 8, colour=FADED)
        bottom = max(bottom, y + row_height)
    _draw_swatches(page, woods, bottom + 4)
    page.paragraph(SIDE, page.height - TOP - 13, page.width - 2 * SIDE, " ".join(("Before you cut.", *BENCH)), 7.5)
    return page.save()


def _draw_swatches(page: Page, woods: Sequence[tuple[str, tuple[str, str, str]]], y: float) -> None:
    page.words(SIDE, y, "Woods", 9, SANS_BOLD)
    page.words(SIDE + 14, y, "bare, as cut, settled and aged: estimates", 8, colour=FADED)
    step = (page.width - 2 * SIDE) / SWATCHES_IN_A_ROW
    for place, (wood, colours) in enumerate(woods):
        row, column = divmod(place, SWATCHES_IN_A_ROW)
        x, top = SIDE + column * step, y + 2.5 + row * SWATCH_HEIGHT
        for number, colour in enumerate(colours):
            page.patch(x + number * (step - 4) / 3, top, (step - 4) / 3, 6.5, colour)
        page.words(x, top + 9.5, wood, 7, colour=FADED)
