"""What is done to a rendered picture before it is handed over, and the pages that show it."""

from __future__ import annotations

from pathlib import Path

from ...core.pages import listing_card, views_page
from ...core.pages.listing_facts import Listing
from ...core.pages.pdf import Paper
from ...core.pages.picture_files import About, finish_png, write_jpeg
from ...core.pages.views_page import Shown
from ..designs import OpenDesign

LISTING = "listing"


def finish(path: Path, opened: OpenDesign, view: str) -> None:
    """Let a picture say what it shows and that it is a rendering; a listing says so at its foot, unless turned off.

    Raises:
        UnusableInput: it cannot be written.
    """
    listing = Listing(opened.stack)
    captioned = view == LISTING and opened.stack.design.frame.caption
    finish_png(path, _about(listing, view), listing.caption if captioned else "")


def write_listing_jpeg(picture: Path, path: Path, opened: OpenDesign) -> None:
    """A finished listing picture as a JPEG, for pages that take no PNG.

    Raises:
        UnusableInput: it cannot be written.
    """
    write_jpeg(picture, path, Listing(opened.stack).about)


def write_card(picture: Path, opened: OpenDesign, paper: Paper = "a4") -> tuple[Path, Path]:
    """The listing card as HTML and PDF, beside the listing picture.

    Raises:
        UnusableInput: it cannot be written.
    """
    return listing_card.write_card(Listing(opened.stack), picture, picture.with_name(f"{opened.name}-card"), paper)


def write_page(shown: list[Shown], opened: OpenDesign, paper: Paper = "a4") -> tuple[Path, Path]:
    """The views page as HTML and PDF, beside its pictures.

    Raises:
        UnusableInput: it cannot be written.
    """
    stem = shown[0].picture.with_name(f"{opened.name}-views")
    return views_page.write_views_page(Listing(opened.stack), shown, stem, paper)


def _about(listing: Listing, view: str) -> About:
    about = listing.about
    return about if view == LISTING else About(f"{about.title}: {view}", about.description)
