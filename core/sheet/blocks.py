"""What a sheet is made of, whatever it is printed or shown on."""

from __future__ import annotations

from dataclasses import dataclass

from .picture import Picture
from .plan import PieceWork

THIRD, HALF = 0.36, 0.6
"""Shares of a page that a section may find used and still begin there: those of a batch, which is pinned up by itself,
and of others."""


@dataclass(frozen=True)
class Heading:
    """Begins a section; a page of its own on paper if `page`."""

    text: str
    page: bool = False
    joins: float = 0.0
    """It may begin on the page of the section before, where that uses no more than this share of the page."""


@dataclass(frozen=True)
class Lines:
    """Sentences below each other."""

    lines: tuple[str, ...]
    strong: bool = False


@dataclass(frozen=True)
class Table:
    """Rows of words under a header; `shares` of the width go to its columns."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class Drawn:
    """A picture over the whole width."""

    picture: Picture
    caption: str
    most: float = 1.0
    """It takes at most this share of the height that a map may take on paper."""


@dataclass(frozen=True)
class Photo:
    """A picture made of pixels, over the whole width."""

    data: bytes
    """A JPEG."""
    size: tuple[int, int]
    """Pixels."""
    caption: str


@dataclass(frozen=True, eq=False)
class PieceRow:
    """One piece with its boxes to tick."""

    work: PieceWork
    head: str
    lines: tuple[str, ...]
    watch: tuple[str, ...]
    pictures: tuple[Picture, ...]
    caption: str


Block = Heading | Lines | Table | Drawn | Photo | PieceRow
