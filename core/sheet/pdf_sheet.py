"""The sheet on paper: a PDF for the wall."""

from __future__ import annotations

import io
from html import escape

import numpy as np
from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from ..pages.pdf import FADED, INK, PAPERS, RULE, SANS, SANS_BOLD, Paper
from ..pages.picture_files import SOFTWARE, encodable
from .blocks import Block, Drawn, Heading, Lines, Photo, PieceRow, Table
from .contents import STEPS
from .picture import Area, Label, Picture, Strokes

SIDE, TOP, FOOT = 14.0, 18.0, 14.0
"""Margins, mm."""
SMALL, NORMAL = 7.5, 8.5
"""Sizes of letters, points."""
DRAWING = 42.0
"""Width of a piece's drawing, mm."""
BOXES = 25.0
"""Width of the column of boxes, mm."""
BOX = 4.0
MAP_SHARE = 0.46
"""A map takes at most so much of the page's height."""


def pdf_sheet(title: str, blocks: tuple[Block, ...], paper: Paper) -> bytes:
    """The PDF file."""
    return _Flow(title, paper).made(blocks)


class _Flow:
    """Blocks laid from the top of a page down, page after page; y is measured from the top, mm."""

    def __init__(self, title: str, paper: Paper) -> None:
        self.data = io.BytesIO()
        self.width, self.height = (side / mm for side in PAPERS[paper])
        self.canvas = Canvas(self.data, pagesize=PAPERS[paper], invariant=1)
        self.canvas.setTitle(f"{title}: bench sheet")
        self.canvas.setCreator(SOFTWARE)
        self.title, self.section = title, ""
        self.page, self.y = 0, 0.0

    @property
    def room(self) -> float:
        """Width between the margins."""
        return self.width - 2 * SIDE

    def made(self, blocks: tuple[Block, ...]) -> bytes:
        self._begin()
        for block in blocks:
            if isinstance(block, Heading):
                self._heading(block)
            elif isinstance(block, Lines):
                self._lines(block)
            elif isinstance(block, Table):
                self._table(block)
            elif isinstance(block, Photo):
                self._photo(block)
            elif isinstance(block, Drawn):
                self._drawn(block)
            else:
                self._piece(block)
        self._end()
        self.canvas.save()
        return self.data.getvalue()

    # Pages

    def _begin(self) -> None:
        self.page += 1
        self._words(SIDE, 10, self.title, 11, SANS_BOLD)
        self.canvas.setFont(SANS, SMALL)
        self.canvas.setFillColor(HexColor(FADED))
        said = f"bench sheet · {self.section} · page {self.page}" if self.section else f"bench sheet · page {self.page}"
        self.canvas.drawRightString((self.width - SIDE) * mm, (self.height - 10) * mm, encodable(said))
        self._rule(13)
        self.y = TOP

    def _end(self) -> None:
        foot = "Your machine's manual, your local rules and qualified people come before this sheet. Measure first."
        self._words(SIDE, self.height - 7, foot, 6.5, colour=FADED)
        self.canvas.showPage()

    def _need(self, height: float) -> None:
        """A new page where so much is not left on this one."""
        if self.y + height > self.height - FOOT and self.y > TOP:
            self._end()
            self._begin()

    # Blocks

    def _heading(self, block: Heading) -> None:
        if block.page:
            self.section = block.text.partition(":")[0]
            if self.y > TOP:
                self._end()
                self._begin()
        self._need(30)
        self.y += 6
        self._words(SIDE, self.y, block.text, 13 if block.page else 10, SANS_BOLD)
        self.y += 3

    def _lines(self, block: Lines) -> None:
        for line in block.lines:
            made, height = self._paragraph(line, self.room, NORMAL, SANS_BOLD if block.strong else SANS)
            self._need(height)
            self._put(made, SIDE, height)
            self.y += height + 1.2
        self.y += 1.5

    def _table(self, block: Table) -> None:
        self._row(block.header, block.shares, SANS_BOLD)
        for row in block.rows:
            self._row(row, block.shares, SANS)
        self.y += 3

    def _row(self, row: tuple[str, ...], shares: tuple[float, ...], font: str) -> None:
        made = [self._paragraph(w, s * self.room - 2, SMALL, font) for w, s in zip(row, shares, strict=True)]
        height = max(high for _, high in made)
        self._need(height + 1)
        x = SIDE
        for (paragraph, high), share in zip(made, shares, strict=True):
            self._put(paragraph, x, high)
            x += share * self.room
        self.y += height + 0.8
        self._rule(self.y)
        self.y += 0.4

    def _drawn(self, block: Drawn) -> None:
        high = MAP_SHARE * self.height
        self._need(min(high, 60) + 6)
        most = min(high, self.height - FOOT - self.y - 8)
        _, tall = self._picture(block.picture, SIDE, self.y, self.room, most)
        self.y += tall + 4
        self._words(SIDE, self.y, block.caption + ".", SMALL, colour=FADED)
        self.y += 3

    def _photo(self, block: Photo) -> None:
        most = MAP_SHARE * self.height
        self._need(60)
        scale = min(self.room / block.size[0], min(most, self.height - FOOT - self.y - 8) / block.size[1])
        wide, tall = scale * block.size[0], scale * block.size[1]
        x, y = SIDE + (self.room - wide) / 2, self.height - self.y - tall
        self.canvas.drawImage(ImageReader(io.BytesIO(block.data)), x * mm, y * mm, wide * mm, tall * mm)
        self.y += tall + 4
        self._words(SIDE, self.y, block.caption + ".", SMALL, colour=FADED)
        self.y += 3

    def _piece(self, row: PieceRow) -> None:
        middle = self.room - DRAWING - BOXES - 4
        head = self._paragraph(row.head, middle - 8, NORMAL + 1, SANS_BOLD)
        texts = [self._paragraph(line, middle, SMALL, SANS) for line in row.lines]
        texts += [self._paragraph(f"Watch: {line}", middle, SMALL, SANS) for line in row.watch]
        height = max(head[1] + 1 + sum(high + 0.3 for _, high in texts), 7.0 * len(STEPS), 24.0) + 3
        height += 3.0 if "MIRRORED" in row.caption else 0.0  # its words take two lines
        self._need(height)
        top = self.y
        self._rule(top)
        self._drawings(row, top + 2, height - (11 if "MIRRORED" in row.caption else 8))
        x = SIDE + DRAWING + 2
        self._number(x + 3, top + 4.2, str(row.work.number))
        self.y = top + 1.6
        self._put(head[0], x + 8, head[1])
        self.y = top + 3 + max(head[1], 5)
        for paragraph, high in texts:
            self._put(paragraph, x, high)
            self.y += high + 0.3
        self._boxes(top + 2)
        self.y = max(self.y, top + height) + 0.5

    def _drawings(self, row: PieceRow, top: float, high: float) -> None:
        shown = row.pictures[:2]
        for place, picture in enumerate(shown):
            share = (DRAWING - 2) / len(shown)
            self._picture(picture, SIDE + place * share, top, share - 1, min(high, 34.0))
        more = f", first {len(shown)} of {len(row.pictures)} parts" if len(row.pictures) > 2 else ""
        bottom = top + min(high, 34.0) + 3
        for line in self._wrapped(row.caption + more, DRAWING - 2):
            self._words(SIDE, bottom, line, 6, SANS_BOLD if "MIRRORED" in row.caption else SANS)
            bottom += 2.4

    def _wrapped(self, text: str, width: float) -> list[str]:
        from reportlab.lib.utils import simpleSplit

        return list(simpleSplit(encodable(text), SANS_BOLD, 6, width * mm))

    def _boxes(self, top: float) -> None:
        x = self.width - SIDE - BOXES + 2
        for place, words in enumerate(STEPS.values()):
            y = top + place * 6.2
            self.canvas.setStrokeColor(HexColor(INK))
            self.canvas.setLineWidth(0.8)
            self.canvas.rect(x * mm, (self.height - y - BOX) * mm, BOX * mm, BOX * mm)
            self._words(x + BOX + 1.5, y + 3, words, SMALL)

    def _number(self, x: float, y: float, text: str) -> None:
        self.canvas.setStrokeColor(HexColor(INK))
        self.canvas.setLineWidth(0.9)
        self.canvas.circle(x * mm, (self.height - y) * mm, 2.9 * mm)
        self.canvas.setFont(SANS_BOLD, 8.5)
        self.canvas.setFillColor(HexColor(INK))
        self.canvas.drawCentredString(x * mm, (self.height - y - 1.05) * mm, text)

    # Words and lines

    def _paragraph(self, text: str, width: float, size: float, font: str) -> tuple[Paragraph, float]:
        box = text.startswith("☐")
        style = ParagraphStyle("text", fontName=font, fontSize=size, leading=1.3 * size, textColor=HexColor(INK))
        words = escape(encodable(text.removeprefix("☐ ")))
        made = Paragraph(f"[&nbsp;&nbsp;] {words}" if box else words, style)
        _, height = made.wrap(width * mm, 10_000)
        return made, float(height) / mm

    def _put(self, made: Paragraph, x: float, height: float) -> None:
        made.drawOn(self.canvas, x * mm, (self.height - self.y - height) * mm)

    def _words(self, x: float, y: float, text: str, size: float, font: str = SANS, colour: str = INK) -> None:
        self.canvas.setFont(font, size)
        self.canvas.setFillColor(HexColor(colour))
        self.canvas.drawString(x * mm, (self.height - y) * mm, encodable(text))

    def _rule(self, y: float) -> None:
        self.canvas.setStrokeColor(HexColor(RULE))
        self.canvas.setLineWidth(0.5)
        self.canvas.line(SIDE * mm, (self.height - y) * mm, (self.width - SIDE) * mm, (self.height - y) * mm)

    # Pictures

    def _picture(self, picture: Picture, x: float, y: float, width: float, height: float) -> tuple[float, float]:
        left, bottom, right, top = picture.box
        scale = min(width / (right - left), height / (top - bottom))
        wide, tall = scale * (right - left), scale * (top - bottom)
        start = np.array([x + (width - wide) / 2 - scale * left, self.height - y - tall - scale * bottom])
        for mark in picture.marks:
            if isinstance(mark, Label):
                self._label(mark, start + scale * np.array(mark.at))
            else:
                lines = mark.rings if isinstance(mark, Area) else mark.lines
                self._strokes(mark, [(start + scale * line) * mm for line in lines])
        return wide, tall

    def _strokes(self, mark: Area | Strokes, lines: list[np.ndarray]) -> None:  # type: ignore[type-arg]
        path = self.canvas.beginPath()
        for points in lines:
            path.moveTo(*points[0].tolist())
            for x, y in points[1:].tolist():
                path.lineTo(x, y)
        stroke = mark.stroke if isinstance(mark, Area) else mark.colour
        fill = mark.fill if isinstance(mark, Area) else None
        self.canvas.setLineWidth(mark.width)
        self.canvas.setLineJoin(1)
        if stroke:
            self.canvas.setStrokeColor(HexColor(stroke))
        if fill:
            self.canvas.setFillColor(HexColor(fill))
        self.canvas.drawPath(path, stroke=int(bool(stroke)), fill=int(bool(fill)), fillMode=0)

    def _label(self, label: Label, at: np.ndarray) -> None:  # type: ignore[type-arg]
        x, y = at.tolist()
        size = label.size * mm
        wide = self.canvas.stringWidth(label.text, SANS_BOLD, size) / mm
        if label.plate:
            half = max(wide / 2 + 0.7, 0.62 * label.size + 0.5)
            self.canvas.setFillColor(HexColor("#ffffff"))
            self.canvas.setStrokeColor(HexColor(INK))
            self.canvas.setLineWidth(0.5)
            high = label.size + 1.0
            self.canvas.roundRect((x - half) * mm, (y - high / 2) * mm, 2 * half * mm, high * mm, high / 2 * mm, fill=1)
        self.canvas.setFont(SANS_BOLD, size)
        self.canvas.setFillColor(HexColor(INK))
        self.canvas.drawCentredString(x * mm, (y - 0.36 * label.size) * mm, label.text)
