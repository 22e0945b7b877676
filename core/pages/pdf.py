"""One page of a PDF, in millimetres from its upper left corner: words, paragraphs, pictures, colours."""

from __future__ import annotations

import io
from html import escape
from pathlib import Path
from typing import Literal

from PIL import Image
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER, landscape
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from ..errors import UnusableInput
from .picture_files import JPEG_QUALITY, SOFTWARE, About, encodable, open_picture

Paper = Literal["a4", "letter"]
PAPERS = {"a4": A4, "letter": LETTER}
SERIF, SANS, SANS_BOLD = "Times-Roman", "Helvetica", "Helvetica-Bold"
INK, FADED, RULE = "#2b2723", "#6f675e", "#cfc7bb"
PICTURE_DPI = 220
"""Pictures are scaled down to this, which is all that printers show."""


class Page:
    """One page that is drawn on and saved."""

    def __init__(self, path: Path, paper: Paper, about: About, *, wide: bool = False) -> None:
        size = landscape(PAPERS[paper]) if wide else PAPERS[paper]
        self.path = path
        self.width, self.height = size[0] / mm, size[1] / mm
        self._canvas = Canvas(str(path), pagesize=size, invariant=1)
        self._canvas.setTitle(about.title)
        self._canvas.setSubject(about.words)
        self._canvas.setCreator(SOFTWARE)

    def words(self, x: float, y: float, text: str, size: float, font: str = SANS, colour: str = INK) -> None:
        """One line whose letters stand on y; size in points."""
        self._canvas.setFont(font, size)
        self._canvas.setFillColor(colour)
        self._canvas.drawString(x * mm, (self.height - y) * mm, encodable(text))

    def paragraph(self, x: float, y: float, width: float, text: str, size: float, colour: str = INK) -> float:
        """Plain text broken into lines from y downwards; returns where it ends."""
        from reportlab.platypus import Paragraph  # heavy, and else loaded whenever Blender starts

        style = ParagraphStyle("text", fontName=SANS, fontSize=size, leading=1.38 * size, textColor=HexColor(colour))
        made = Paragraph(escape(encodable(text)), style)
        _, height = made.wrap(width * mm, self.height * mm)
        made.drawOn(self._canvas, x * mm, (self.height - y) * mm - height)
        return y + float(height) / mm

    def picture(self, path: Path, x: float, y: float, width: float, height: float) -> tuple[float, float]:
        """A picture as large as the place allows, in its upper middle; returns its width and height.

        Raises:
            UnusableInput: it cannot be read.
        """
        picture = open_picture(path)
        scale = min(width / picture.width, height / picture.height)
        wide, high = picture.width * scale, picture.height * scale
        most = (round(wide / 25.4 * PICTURE_DPI), round(high / 25.4 * PICTURE_DPI))
        picture.thumbnail(most, Image.Resampling.LANCZOS)
        data = io.BytesIO()
        picture.save(data, "JPEG", quality=JPEG_QUALITY, subsampling=0)
        data.seek(0)
        left = x + (width - wide) / 2
        self._canvas.drawImage(ImageReader(data), left * mm, (self.height - y - high) * mm, wide * mm, high * mm)
        return wide, high

    def rule(self, x: float, y: float, width: float) -> None:
        """A thin line across."""
        self._canvas.setStrokeColor(RULE)
        self._canvas.setLineWidth(0.5)
        self._canvas.line(x * mm, (self.height - y) * mm, (x + width) * mm, (self.height - y) * mm)

    def patch(self, x: float, y: float, width: float, height: float, colour: str) -> None:
        """A rectangle of one colour."""
        self._canvas.setFillColor(colour)
        self._canvas.rect(x * mm, (self.height - y - height) * mm, width * mm, height * mm, stroke=0, fill=1)

    def save(self) -> Path:
        """Write the file.

        Raises:
            UnusableInput: it cannot be written.
        """
        try:
            self._canvas.save()
        except OSError as error:
            problem = f"the page cannot be written ({error.strerror or error})"
            raise UnusableInput(str(self.path), "", problem, "Choose another folder, or close the file") from None
        return self.path


def write_html(path: Path, text: str) -> Path:
    """Write a page.

    Raises:
        UnusableInput: it cannot be written.
    """
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        problem = f"the page cannot be written ({error.strerror or error})"
        raise UnusableInput(str(path), "", problem, "Choose another folder") from None
    return path
