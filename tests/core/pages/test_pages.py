"""The listing card and the views page: one page each, whose words other libraries read back."""

from __future__ import annotations

from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import url2pathname

import pypdf
import pytest
from PIL import Image

from core.design import Frame
from core.errors import UnusableInput
from core.measures.cautions import BENCH, WALL
from core.pages.listing_card import write_card
from core.pages.listing_facts import CARE, Listing, weight_text
from core.pages.picture_files import RENDERING
from core.pages.views_page import Shown, write_views_page
from core.stack.stack import build_stack

from ..designs import make_design, make_panel, make_piece, rectangle

PAPER_SIZES = {"a4": (210, 297), "letter": (215.9, 279.4)}


@pytest.fixture
def listing() -> Listing:
    panel = make_panel(300, 200, 20, wood="black walnut")
    pieces = [make_piece("tile", rectangle(40, 30), at=(100, 80), wood="hard maple")]
    design = replace(make_design(pieces, panel), title="Étang <koï> & 池", frame=Frame(wood="cherry"))
    return Listing(build_stack(design))


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    path = tmp_path / "pond-listing.png"
    Image.new("RGB", (400, 320), (120, 90, 60)).save(path)
    return path


def pdf(path: Path) -> tuple[str, pypdf.PageObject, pypdf.PdfReader]:
    reader = pypdf.PdfReader(path)
    assert len(reader.pages) == 1
    return " ".join(reader.pages[0].extract_text().split()), reader.pages[0], reader


class Reader(HTMLParser):
    """Collects words and what is linked; every tag that is opened is closed."""

    VOID = ("meta", "img", "br", "link")

    def __init__(self, text: str) -> None:
        super().__init__()
        self.words, self.open, self.sources = "", [], []
        self.feed(text)
        assert not self.open

    def handle_starttag(self, tag, attrs):
        self.sources += [value for name, value in attrs if name in ("src", "href")]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words += data


@pytest.mark.parametrize("paper", PAPER_SIZES)
def test_the_card_is_one_page_that_says_all(listing: Listing, picture: Path, paper: str) -> None:
    html, path = write_card(listing, picture, picture.with_name("pond-card"), paper)
    text, page, reader = pdf(path)
    size = [float(side) / 72 * 25.4 for side in (page.mediabox.width, page.mediabox.height)]
    assert size == pytest.approx(PAPER_SIZES[paper], abs=0.1)
    for words in ("344 × 244 × 30 mm", "13 1/2 × 9 5/8 × 1 1/8 in", weight_text(listing.weight), "cherry, mitred"):
        assert words in text
        assert words in Reader(html.read_text("utf-8")).words
    for words in (*CARE, *WALL, RENDERING, "black walnut and hard maple; 1 inlaid piece"):
        assert words in text
        assert words in Reader(html.read_text("utf-8")).words
    assert "Étang <koï> & ?" in text
    assert reader.metadata.title == listing.title
    assert len(page.images) == 1


def test_the_cards_html_needs_nothing_but_the_picture_beside_it(listing: Listing, picture: Path) -> None:
    html, _ = write_card(listing, picture, picture.with_name("pond-card"))
    read = Reader(html.read_text("utf-8"))
    assert read.sources == ["pond-listing.png"]
    assert "Étang <koï> & 池" in read.words


def test_a_picture_is_found_whatever_its_name(listing: Listing, tmp_path: Path) -> None:
    """In an address # begins a fragment, ? a query and % a coded letter (RFC 3986)."""
    picture = tmp_path / "étang #1 50%?-listing.png"
    Image.new("RGB", (40, 32), (120, 90, 60)).save(picture)
    card, _ = write_card(listing, picture, tmp_path / "card")
    views, _ = write_views_page(listing, [Shown(picture, "Finished")], tmp_path / "views")
    for html in (card, views):
        (source,) = Reader(html.read_text("utf-8")).sources
        assert Path(url2pathname(urlsplit(source).path)) == Path(picture.name)


def test_a_missing_picture_is_told(listing: Listing, tmp_path: Path) -> None:
    with pytest.raises(UnusableInput, match="Render it again"):
        write_card(listing, tmp_path / "none.png", tmp_path / "card")


def test_the_views_page_shows_every_picture_and_every_wood_on_one_page(listing: Listing, picture: Path) -> None:
    names = ("Finished", "As cut", "Aged", "Exploded", "Section", "Overlap")
    shown = []
    for number, words in enumerate(names):
        shown.append(Shown(picture.with_name(f"pond-{number}.png"), words))
        Image.new("RGB", (400, 250), (40 * number, 90, 60)).save(shown[-1].picture)
    html, path = write_views_page(listing, shown, picture.with_name("pond-views"))
    text, page, _ = pdf(path)
    assert page.mediabox.width > page.mediabox.height
    words = Reader(html.read_text("utf-8"))
    assert words.sources == [each.picture.name for each in shown]
    for each in (*names, "black walnut", "hard maple", "cherry", *BENCH):
        assert each in text
        assert each in words.words
    assert len(page.images) == 6
