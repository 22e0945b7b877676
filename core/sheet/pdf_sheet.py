"""The sheet on paper: a PDF for the wall."""

from __future__ import annotations

import io
from collections.abc import Sequence
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
BOX, PITCH = 4.0, 5.8
"""A box, and from one to the next, mm."""
MAP_SHARE = 0.46
"""A map takes at most so much of the page's height."""
SMALLER = (0.4, 0.34, 0.28, 0.25)
"""Or so much, where that saves a section its last page, which would be nearly empty."""
SPARSE = 0.36
"""A page of which less than this share is used is nearly empty."""
WHOLE = 0.45
"""What stands under a heading is kept on one page with it, up to this share of a page."""

Cells = tuple[str, ...]


def _sections(blocks: Sequence[Block]) -> list[list[Block]]:
    """The blocks up to the first heading of a page, then section by section."""
    sections: list[list[Block]] = [[]]
    for block in blocks:
        if isinstance(block, Heading) and block.page:
            sections.append([])
        sections[-1].append(block)
    return [section for section in sections if section]


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
        self.title, self.paper = title, paper
        self.sections: list[str] = []
        self.drawing = True
        self.paragraphs: dict[tuple[str, float, float, str], tuple[Paragraph, float]] = {}
        self.page, self.y, self.share = 0, 0.0, MAP_SHARE

    @property
    def room(self) -> float:
        """Width between the margins."""
        return self.width - 2 * SIDE

    def made(self, blocks: tuple[Block, ...]) -> bytes:
        self._begin()
        for section in _sections(blocks):
            self.share = self._share_for(section)
            self._lay(section)
        self._end()
        self.canvas.save()
        return self.data.getvalue()

    def _lay(self, section: Sequence[Block]) -> None:
        for place, block in enumerate(section):
            if isinstance(block, Heading):
                self._heading(block, section[place + 1 :])
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

    def _share_for(self, section: Sequence[Block]) -> float:
        """How high the section's maps are: less where it then ends a page sooner, whose last would be nearly empty."""
        if not any(isinstance(block, (Drawn, Photo)) for block in section):
            return MAP_SHARE
        pages, y = self._measured(section, MAP_SHARE)
        if pages > 1 and self._used(y) < SPARSE:
            for share in SMALLER:
                if self._measured(section, share)[0] < pages:
                    return share
        return MAP_SHARE

    def _measured(self, section: Sequence[Block], share: float) -> tuple[int, float]:
        """How many pages the section takes, and how far down it ends on the last; nothing is drawn."""
        trial = _Flow(self.title, self.paper)
        trial.drawing, trial.paragraphs = False, self.paragraphs
        trial.share = share
        trial._begin()
        first = section[0]
        if isinstance(first, Heading) and self._joins(first):
            trial.y = self.y
        trial._lay(section)
        return trial.page, trial.y

    def _used(self, y: float) -> float:
        return (y - TOP) / (self.height - FOOT - TOP)

    # Pages

    def _begin(self) -> None:
        self.page += 1
        self.sections = self.sections[-1:]
        self.y = TOP

    def _end(self) -> None:
        if not self.drawing:
            return
        self._words(SIDE, 10, self.title, 11, SANS_BOLD)
        self.canvas.setFont(SANS, SMALL)
        self.canvas.setFillColor(HexColor(FADED))
        said = " · ".join(("bench sheet", *self.sections, f"page {self.page}"))
        self.canvas.drawRightString((self.width - SIDE) * mm, (self.height - 10) * mm, encodable(said))
        self._rule(13)
        foot = "Your machine's manual, your local rules and qualified people come before this sheet. Measure first."
        self._words(SIDE, self.height - 7, foot, 6.5, colour=FADED)
        self.canvas.showPage()

    def _need(self, height: float) -> None:
        """A new page where so much is not left on this one."""
        if self.y + height > self.height - FOOT and self.y > TOP:
            self._end()
            self._begin()

    # Blocks

    def _joins(self, block: Heading) -> bool:
        """Whether a section begins on the page of the one before."""
        return self._used(self.y) <= block.joins

    def _heading(self, block: Heading, following: Sequence[Block]) -> None:
        if block.page:
            if self.y > TOP and not self._joins(block):
                self._end()
                self._begin()
                self.sections = []
            self.sections.append(block.text.partition(":")[0])
        self._need(max(30.0, 10.0 + self._whole(following)))
        self.y += 6
        self._words(SIDE, self.y, block.text, 13 if block.page else 10, SANS_BOLD)
        self.y += 3

    def _whole(self, following: Sequence[Block]) -> float:
        """Height of what a heading stands over and is not torn from, mm: pictures, and what is short enough."""
        height = 0.0
        for block in following:
            if isinstance(block, (Heading, PieceRow, Photo)):
                break
            more = self._high(block)
            if height + more > WHOLE * self.height and not isinstance(block, Drawn):
                break
            height += more
        return height

    def _high(self, block: Lines | Table | Drawn) -> float:
        """How high a block is, mm."""
        if isinstance(block, Lines):
            font = SANS_BOLD if block.strong else SANS
            return sum(self._paragraph(line, self.room, NORMAL, font)[1] + 1.2 for line in block.lines) + 1.5
        if isinstance(block, Table):
            rows = (self._cells(row, block.shares, SANS) for row in (block.header, *block.rows))
            return sum(max(high for _, high in made) + 1.2 for made in rows) + 3.0
        return self._tall(block) + 8.0

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
            self._row(row, block.shares, SANS, block.header)
        self.y += 3

    def _row(self, row: Cells, shares: tuple[float, ...], font: str, header: Cells | None = None) -> None:
        """One row of a table; where a new page begins, its header comes again."""
        made = self._cells(row, shares, font)
        height = max(high for _, high in made)
        page = self.page
        self._need(height + 1 if header else height + 12)
        if header and self.page > page:
            self._row(header, shares, SANS_BOLD)
        x = SIDE
        for (paragraph, high), share in zip(made, shares, strict=True):
            self._put(paragraph, x, high)
            x += share * self.room
        self.y += height + 0.8
        self._rule(self.y)
        self.y += 0.4

    def _cells(self, row: Cells, shares: tuple[float, ...], font: str) -> list[tuple[Paragraph, float]]:
        return [self._paragraph(w, s * self.room - 2, SMALL, font) for w, s in zip(row, shares, strict=True)]

    def _drawn(self, block: Drawn) -> None:
        tall = self._tall(block)
        self._need(tall + 7)
        self._picture(block.picture, SIDE, self.y, self.room, tall)
        self.y += tall + 1
        if block.caption:
            self.y += 3
            self._words(SIDE, self.y, block.caption + ".", SMALL, colour=FADED)
        self.y += 3

    def _tall(self, block: Drawn) -> float:
        """How high a picture over the whole width is drawn, mm."""
        left, bottom, right, top = block.picture.box
        return min(self.room * (top - bottom) / (right - left), block.most * self.share * self.height)

    def _photo(self, block: Photo) -> None:
        most = self.share * self.height
        self._need(60)
        scale = min(self.room / block.size[0], min(most, self.height - FOOT - self.y - 8) / block.size[1])
        wide, tall = scale * block.size[0], scale * block.size[1]
        x, y = SIDE + (self.room - wide) / 2, self.height - self.y - tall
        if self.drawing:
            self.canvas.drawImage(ImageReader(io.BytesIO(block.data)), x * mm, y * mm, wide * mm, tall * mm)
        self.y += tall + 4
        self._words(SIDE, self.y, block.caption + ".", SMALL, colour=FADED)
        self.y += 3

    def _piece(self, row: PieceRow) -> None:
        middle = self.room - DRAWING - BOXES - 4
        head = self._paragraph(row.head, middle - 8, NORMAL + 1, SANS_BOLD)
        texts = [self._paragraph(line, middle, SMALL, SANS) for line in row.lines]
        texts += [self._paragraph(f"Watch: {line}", middle, SMALL, SANS) for line in row.watch]
        height = max(head[1] + 1 + sum(high + 0.3 for _, high in texts), PITCH * len(STEPS)) + 3
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
        if not self.drawing:
            return
        shown = row.pictures[:2]
        most, tall = min(high, 34.0), 0.0
        for place, picture in enumerate(shown):
            share = (DRAWING - 2) / len(shown)
            left, bottom, right, up = picture.box
            tall = max(tall, min((share - 1) * (up - bottom) / (right - left), most))
            self._picture(picture, SIDE + place * share, top, share - 1, most)
        more = f", first {len(shown)} of {len(row.pictures)} parts" if len(row.pictures) > 2 else ""
        bottom = top + tall + 2.6
        for line in self._wrapped(row.caption + more, DRAWING - 2):
            self._words(SIDE, bottom, line, 6, SANS_BOLD if "MIRRORED" in row.caption else SANS)
            bottom += 2.4

    def _wrapped(self, text: str, width: float) -> list[str]:
        from reportlab.lib.utils import simpleSplit

        return list(simpleSplit(encodable(text), SANS_BOLD, 6, width * mm))

    def _boxes(self, top: float) -> None:
        if not self.drawing:
            return
        x = self.width - SIDE - BOXES + 2
        for place, words in enumerate(STEPS.values()):
            y = top + place * PITCH
            self.canvas.setStrokeColor(HexColor(INK))
            self.canvas.setLineWidth(0.8)
            self.canvas.rect(x * mm, (self.height - y - BOX) * mm, BOX * mm, BOX * mm)
            self._words(x + BOX + 1.5, y + 3, words, SMALL)

    def _number(self, x: float, y: float, text: str) -> None:
        if not self.drawing:
            return
        self.canvas.setStrokeColor(HexColor(INK))
        self.canvas.setLineWidth(0.9)
        self.canvas.circle(x * mm, (self.height - y) * mm, 2.9 * mm)
        self.canvas.setFont(SANS_BOLD, 8.5)
        self.canvas.setFillColor(HexColor(INK))
        self.canvas.drawCentredString(x * mm, (self.height - y - 1.05) * mm, text)

    # Words and lines

    def _paragraph(self, text: str, width: float, size: float, font: str) -> tuple[Paragraph, float]:
        known = self.paragraphs.get((text, width, size, font))
        if known is not None:
            return known
        box = text.startswith("☐")
        style = ParagraphStyle("text", fontName=font, fontSize=size, leading=1.3 * size, textColor=HexColor(INK))
        words = escape(encodable(text.removeprefix("☐ ")))
        made = Paragraph(f"[&nbsp;&nbsp;] {words}" if box else words, style)
        _, height = made.wrap(width * mm, 10_000)
        self.paragraphs[text, width, size, font] = made, float(height) / mm
        return made, float(height) / mm

    def _put(self, made: Paragraph, x: float, height: float) -> None:
        if self.drawing:
            made.drawOn(self.canvas, x * mm, (self.height - self.y - height) * mm)

    def _words(self, x: float, y: float, text: str, size: float, font: str = SANS, colour: str = INK) -> None:
        if not self.drawing:
            return
        self.canvas.setFont(font, size)
        self.canvas.setFillColor(HexColor(colour))
        self.canvas.drawString(x * mm, (self.height - y) * mm, encodable(text))

    def _rule(self, y: float) -> None:
        if not self.drawing:
            return
        self.canvas.setStrokeColor(HexColor(RULE))
        self.canvas.setLineWidth(0.5)
        self.canvas.line(SIDE * mm, (self.height - y) * mm, (self.width - SIDE) * mm, (self.height - y) * mm)

    # Pictures

    def _picture(self, picture: Picture, x: float, y: float, width: float, height: float) -> None:
        if not self.drawing:
            return
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
        draw = self.canvas.drawString if label.left else self.canvas.drawCentredString
        draw(x * mm, (y - 0.36 * label.size) * mm, encodable(label.text))
