"""Sheets of paper at full size: a drawing larger than a sheet over several, with overlap marks and check rulers."""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfdoc import PDFZCompress
from reportlab.pdfgen.canvas import Canvas
from shapely.geometry.base import BaseGeometry

from ..pages.pdf import FADED, INK, PAPERS, RULE, SANS, SANS_BOLD, Paper
from ..pages.picture_files import SOFTWARE, encodable
from .slanting import slanting

Array = npt.NDArray[np.float64]
Box = tuple[float, float, float, float]

LEFT, BOTTOM, RIGHT, TOP = 16.0, 20.0, 8.0, 16.0
"""Margins, mm: rulers to the left and below, words above."""
OVERLAP = 10.0
"""What neighbouring sheets both show, mm."""
RULER = 100.0
CROSSES = (0.25, 0.5, 0.75)
"""Where they lie along the edge of a sheet."""
THIN = 0.03
"""Lines on paper may lie this far from core's, mm: less than a tenth of a pencil line."""


_colour = lru_cache(maxsize=64)(HexColor)
"""Colours are slow to read, and the same few come again."""


_CIRCLE = 0.5522847498
"""Handles of a quarter circle as a cubic, in its radius: 4 / 3 (√2 - 1)."""
_QUARTERS = np.array([
    (1, 0), (1, _CIRCLE), (_CIRCLE, 1), (0, 1), (-_CIRCLE, 1), (-1, _CIRCLE), (-1, 0), (-1, -_CIRCLE), (-_CIRCLE, -1),
    (0, -1), (_CIRCLE, -1), (1, -_CIRCLE), (1, 0),
])  # fmt: skip
_CIRCLE_TEXT = "%.2f %.2f m " + 4 * "%.2f %.2f %.2f %.2f %.2f %.2f c "


class _Text:
    """A path as the text that the file holds, for a canvas to draw."""

    def __init__(self, text: str) -> None:
        self._text = text

    def getCode(self) -> str:  # noqa: N802 - the name that a canvas calls
        return f"n {self._text}"


@dataclass(frozen=True)
class Tile:
    """The part of a drawing that a sheet shows, mm in the drawing."""

    row: int
    column: int
    box: Box
    rows: int
    columns: int

    @property
    def name(self) -> str:
        """Letters from below, numbers from the left."""
        return f"{chr(ord('A') + self.row % 26)}{self.column + 1}"


class Sheets:
    """A PDF of sheets at full size; y runs up, as in a drawing."""

    def __init__(self, paper: Paper, title: str) -> None:
        self._data = io.BytesIO()
        self.size = (PAPERS[paper][0] / mm, PAPERS[paper][1] / mm)
        self.canvas = Canvas(self._data, pagesize=PAPERS[paper], invariant=1)
        self.canvas.setTitle(title)
        self.canvas.setCreator(SOFTWARE)
        # As bytes: to spell them in letters is slow, and makes the file larger.
        document: Any = vars(self.canvas)["_doc"]
        document.defaultStreamFilters = [PDFZCompress]
        self.canvas.setPageCompression(0)
        self._kept: dict[tuple[int, str], tuple[BaseGeometry, list[Array]]] = {}

    @property
    def room(self) -> tuple[float, float]:
        """What a sheet shows of a drawing, mm."""
        return self.size[0] - LEFT - RIGHT, self.size[1] - BOTTOM - TOP

    def tiles(self, width: float, height: float) -> Iterator[Tile]:
        """The sheets of a drawing from (0, 0), from below, and from the left in each row."""
        across, up = self.room
        columns = max(1, math.ceil((width - OVERLAP) / (across - OVERLAP)))
        rows = max(1, math.ceil((height - OVERLAP) / (up - OVERLAP)))
        for row in range(rows):
            for column in range(columns):
                x, y = column * (across - OVERLAP), row * (up - OVERLAP)
                yield Tile(row, column, (x, y, x + across, y + up), rows, columns)

    def sheet(
        self,
        heading: str,
        words: str,
        draw: Callable[[], None],
        at: tuple[float, float] = (0.0, 0.0),
        *,
        full_size: bool = True,
    ) -> None:
        """One sheet: its head, at full size its rulers, and what `draw` draws with `at` in the lower left corner."""
        across, up = self.room
        self.words(LEFT, self.size[1] - 6, heading, 11, SANS_BOLD)
        for row, line in enumerate(simpleSplit(encodable(words), SANS, 8, across * mm)):
            self.words(LEFT, self.size[1] - 10.5 - 3.2 * row, line, 8, colour=FADED)
        if full_size:
            self._rulers()
        self.canvas.saveState()
        frame = self.canvas.beginPath()
        frame.rect(LEFT * mm, BOTTOM * mm, across * mm, up * mm)
        self.canvas.clipPath(frame, stroke=0, fill=0)
        self.canvas.translate((LEFT - at[0]) * mm, (BOTTOM - at[1]) * mm)
        draw()
        self.canvas.restoreState()
        self.canvas.showPage()

    def words(self, x: float, y: float, text: str, size: float, font: str = SANS, colour: str = INK) -> None:
        """A line of text; size in points."""
        self.canvas.setFont(font, size)
        self.canvas.setFillColor(_colour(colour))
        self.canvas.drawString(x * mm, y * mm, encodable(text))

    def width(self, text: str, size: float) -> float:
        """Width of a line of text, mm; size in points."""
        return float(self.canvas.stringWidth(encodable(text), SANS, size)) / mm

    def stroke(self, points: Array, colour: str = INK, width: float = 0.3, dash: Sequence[float] = ()) -> None:
        """A line through points (n, 2), mm; width in points."""
        self.canvas.setStrokeColor(_colour(colour))
        self.canvas.setLineWidth(width)
        self.canvas.setDash(list(dash))
        self.canvas.drawPath(_path([points]), stroke=1, fill=0)
        self.canvas.setDash()

    def outline(self, shape: BaseGeometry, colour: str, width: float, dash: Sequence[float] = ()) -> None:
        """All rings of a shape."""
        self.canvas.setDash(list(dash))
        self.strokes(self.rings(shape), colour, width)
        self.canvas.setDash()

    def fill(self, shape: BaseGeometry, colour: str) -> None:
        """A shape in one colour, its holes left out."""
        self.canvas.setFillColor(_colour(colour))
        self.canvas.drawPath(_path(self.rings(shape)), stroke=0, fill=1, fillMode=0)

    def hatch(self, shape: BaseGeometry, colour: str, without: Sequence[Array] = ()) -> None:
        """A shape filled with slanting lines, but for what some rings in it bound: what is waste."""
        key = (id(shape), "hatched")
        if without or key not in self._kept:
            lines = slanting([*self.rings(shape), *without], 3.0)
            if without:
                self.strokes(lines, colour, 0.2)
                return
            self._kept[key] = (shape, lines)
        self.strokes(self._kept[key][1], colour, 0.2)

    def rings(self, shape: BaseGeometry) -> list[Array]:
        """All rings of a shape, thinned for paper; kept, since a shape is drawn on many sheets."""
        key = (id(shape), "rings")
        if key not in self._kept:
            self._kept[key] = (shape, rings_of(shape))
        return self._kept[key][1]

    def strokes(self, lines: Sequence[Array], colour: str, width: float) -> None:
        """Many lines at once."""
        self.canvas.setStrokeColor(_colour(colour))
        self.canvas.setLineWidth(width)
        if lines:
            self.canvas.drawPath(_path(lines), stroke=1, fill=0)

    def circles(self, middles: Array, radius: float, colour: str, width: float) -> None:
        """Circles round points (n, 2)."""
        self.canvas.setStrokeColor(_colour(colour))
        self.canvas.setLineWidth(width)
        points = (middles[:, None, :] + radius * _QUARTERS) * mm
        text = _CIRCLE_TEXT * len(middles) % tuple(points.ravel().tolist())
        self.canvas.drawPath(_Text(text), stroke=1, fill=0)

    def finish(self) -> bytes:
        """The file."""
        self.canvas.save()
        return self._data.getvalue()

    def _rulers(self) -> None:
        """100 mm to the right along the foot and up along the left side, a stroke every 10."""
        right, up = np.eye(2)
        for start, unit, across in ((np.array([LEFT, 9.0]), right, up), (np.array([7.0, BOTTOM]), up, right)):
            lines = [np.array([start, start + RULER * unit])]
            for at in range(0, round(RULER) + 1, 10):
                tick = 3.0 if at % 50 == 0 else 1.8
                lines.append(np.array([start + at * unit, start + at * unit + tick * across]))
            self.strokes(lines, INK, 0.4)
        self.words(LEFT + RULER + 3, 9.0, "100 mm. Measure both rulers before you trust", 6.5, colour=FADED)
        self.words(LEFT + RULER + 3, 6.2, "this sheet: print at 100 %, not fitted to the page", 6.5, colour=FADED)

    def seams(self, tile: Tile) -> None:
        """Where neighbouring sheets meet: crosses that lie on both, to be laid on each other."""
        dashed, crosses = self.seam_lines(tile)
        for line in dashed:
            self.stroke(line, RULE, 0.3, (2, 3))
        self.strokes(crosses, INK, 0.3)

    def seam_lines(self, tile: Tile) -> tuple[list[Array], list[Array]]:
        """The lines along which a sheet and its neighbours meet, and the strokes of the crosses on them."""
        left, bottom, right, top = tile.box
        half = OVERLAP / 2
        xs = [left + half] * (tile.column > 0) + [right - half] * (tile.column < tile.columns - 1)
        ys = [bottom + half] * (tile.row > 0) + [top - half] * (tile.row < tile.rows - 1)
        dashed = [np.array([[x, bottom], [x, top]]) for x in xs] + [np.array([[left, y], [right, y]]) for y in ys]
        across, up = self.room
        places = [(x, bottom + share * up) for x in xs for share in CROSSES]
        places += [(left + share * across, y) for y in ys for share in CROSSES]
        return dashed, [stroke for x, y in places for stroke in _cross(x, y)]


def _cross(x: float, y: float, arm: float = 3.0) -> list[Array]:
    """A registration cross."""
    return [np.array([[x - arm, y], [x + arm, y]]), np.array([[x, y - arm], [x, y + arm]])]


def rings_of(shape: BaseGeometry) -> list[Array]:
    """All rings of a shape, thinned for paper."""
    rings = shapely.get_rings(shapely.get_parts(shape))
    return [shapely.get_coordinates(ring) for ring in thinned(rings)]


def thinned(lines: npt.NDArray[np.object_]) -> npt.NDArray[np.object_]:
    """Lines or rings with fewer vertices, each for itself, within what paper shows; none vanishes."""
    thin = shapely.simplify(lines, THIN, preserve_topology=False)
    return np.where(shapely.is_empty(thin), lines, thin)


def _path(lines: Sequence[Array]) -> _Text:
    """Lines through points (n, 2), mm, in hundredths of a point: 0.004 mm."""
    text = "".join("%.2f %.2f m " + "%.2f %.2f l " * (len(line) - 1) for line in lines)
    return _Text(text % tuple((np.concatenate(lines) * mm).ravel().tolist()) if lines else "")
