"""The listing card: one page, as HTML and as PDF, with all that a buyer asks of a panel before bidding."""

from __future__ import annotations

from html import escape
from pathlib import Path
from urllib.parse import quote

from ..measures.cautions import WALL
from .listing_facts import CARE, Listing, inches_text, joined, mm_text, weight_text
from .pdf import FADED, SANS_BOLD, SERIF, Page, Paper, write_html
from .picture_files import RENDERING

SIDE, TOP = 20.0, 18.0
"""Margins of the PDF, mm."""
PICTURE_HEIGHT = 137.0
LABELS = 32.0
"""Width of the column of labels, mm."""
WEIGHT_NOTE = "from the volume and usual density of each wood at 12 % moisture, without finish, glue and hangers"

NOTE = f"{RENDERING}: the wood itself will differ in figure and tone."


def facts(listing: Listing) -> list[tuple[str, str]]:
    """Labels and the words beside them."""
    count = len(listing.stack.pieces)
    work = f"{count} inlaid {'piece' if count == 1 else 'pieces'}" if count else "without inlay"
    return [
        ("Framed", f"{mm_text(listing.size)} — {inches_text(listing.size)}"),
        ("Weight", f"{weight_text(listing.weight)}, {WEIGHT_NOTE}"),
        ("Panel", f"{joined(listing.woods)}; {work}"),
        ("Frame", f"{listing.frame_wood}, mitred"),
    ]


def write_card(listing: Listing, picture: Path, stem: Path, paper: Paper = "a4") -> tuple[Path, Path]:
    """Write the card beside its picture, as STEM.html and STEM.pdf; returns both paths.

    Raises:
        UnusableInput: the picture cannot be read or the card not written.
    """
    html = write_html(stem.with_name(f"{stem.name}.html"), card_html(listing, picture.name))
    return html, _write_pdf(listing, picture, stem.with_name(f"{stem.name}.pdf"), paper)


def card_html(listing: Listing, picture: str) -> str:
    """The card as a page of its own; the picture is looked for beside it."""
    rows = "\n".join(f"<dt>{escape(label)}</dt><dd>{escape(words)}</dd>" for label, words in facts(listing))
    care = "\n".join(f"<li>{escape(words)}</li>" for words in (*CARE, *WALL))
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="description" content="{escape(listing.about.words)}">
<title>{escape(listing.title)}</title>
<style>
@page {{ size: A4; margin: 16mm 20mm }}
body {{ font: 16px/1.5 system-ui, sans-serif; color: #2b2723; background: #f6f3ee; margin: 0 }}
main {{ max-width: 46rem; margin: 2.5rem auto; padding: 0 1.25rem }}
h1 {{ font: 400 2.4rem/1.15 Georgia, "Times New Roman", serif; margin: 1.4rem 0 1rem }}
h2 {{ font-size: 0.8rem; letter-spacing: 0.08em; text-transform: uppercase; color: #6f675e; margin: 1.8rem 0 0.4rem }}
img {{ display: block; width: 100%; height: auto; border-radius: 3px }}
dl {{ display: grid; grid-template-columns: 5.5rem 1fr; gap: 0.4rem 1rem; margin: 0;
      border-top: 1px solid #cfc7bb; padding-top: 1rem }}
dt {{ color: #6f675e }}
dd {{ margin: 0 }}
ul {{ margin: 0; padding-left: 1.1rem }}
.note {{ color: #6f675e; font-size: 0.85rem; margin-top: 1.8rem }}
@media print {{
  body {{ background: none; font-size: 10.5pt }}
  main {{ margin: 0; padding: 0; max-width: none }}
  img {{ max-height: 130mm; width: auto; max-width: 100%; margin: 0 auto }}
}}
</style>
</head>
<body>
<main>
<img src="{quote(picture)}" alt="{escape(listing.about.words)}">
<h1>{escape(listing.title)}</h1>
<dl>
{rows}
</dl>
<h2>Care</h2>
<ul>
{care}
</ul>
<p class="note">{NOTE}</p>
</main>
</body>
</html>
"""


def _write_pdf(listing: Listing, picture: Path, path: Path, paper: Paper) -> Path:
    page = Page(path, paper, listing.about)
    width = page.width - 2 * SIDE
    _, high = page.picture(picture, SIDE, TOP, width, min(PICTURE_HEIGHT, page.height - 168))
    y = TOP + high + 15
    page.words(SIDE, y, listing.title, 26 if len(listing.title) < 36 else 17, SERIF)
    y += 6
    page.rule(SIDE, y, width)
    y += 4
    for label, words in facts(listing):
        page.paragraph(SIDE, y, LABELS, label, 10, FADED)
        y = page.paragraph(SIDE + LABELS, y, width - LABELS, words, 10) + 1.6
    y += 8
    page.words(SIDE, y, "Care", 10, SANS_BOLD)
    y += 2.5
    for words in (*CARE, *WALL):
        y = page.paragraph(SIDE, y, width, words, 9.5) + 1.0
    page.paragraph(SIDE, page.height - 18, width, NOTE, 8.5, FADED)
    return page.save()
