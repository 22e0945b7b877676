"""Artwork in SVG files: the filled shapes of a file or of one element.

In mm, y up, from the lower-left corner of the viewBox. What is filled counts, by its own fill rule. Strokes,
text, images and hidden elements are left out, with a note; clip paths, masks and filters are not applied, with
a note. Path data and transforms are read by svgelements; lengths here, since its millimetre is off by 2e-7.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element
from xml.parsers import expat

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from svgelements import Matrix

from ..areas import FillRule, filled, without_noise
from ..errors import UnusableInput
from ..folders import beside
from .curves import Array, arc_cubics, flatten, line_cubics
from .path_data import BadPathData, read_path_data

# 96 px are an inch of 25.4 mm, 6 pc or 72 pt: CSS Values and Units 3, section 6.2 (from memory).
MM_PER_PX = 25.4 / 96
MOST_BYTES = 32_000_000
MOST_ELEMENTS = 20_000
"""Counted as drawn: `use` multiplies them."""
DEEPEST = 100

_PX = {"": 1.0, "px": 1.0, "in": 96.0, "mm": 96 / 25.4, "cm": 96 / 2.54, "q": 96 / 101.6, "pt": 4 / 3, "pc": 16.0}
_LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)\s*([a-z]*|%)\s*", re.IGNORECASE)
_SHAPES = {"path", "rect", "circle", "ellipse", "polygon", "polyline", "line"}
_GROUPS = {"g", "a", "svg", "switch", "use"}
_DEFINITIONS = {"defs", "symbol"}
_LEFT_OUT = {"text": "text", "image": "image", "foreignObject": "image"}
_INHERITED = ("fill", "fill-rule", "fill-opacity", "stroke", "stroke-width", "visibility")
_UNAPPLIED = ("clip-path", "mask", "filter")


class BadArtwork(ValueError):
    """An SVG file that cannot be used; the message says why."""


class _Size(NamedTuple):
    """Of the viewport in user units, for lengths in per cent."""

    width: float
    height: float


@dataclass(frozen=True)
class _Context:
    """What an element has from those around it."""

    matrix: Array
    """(2, 3), from the element's units to mm, y up."""
    style: Mapping[str, str]
    size: _Size
    owners: frozenset[str]
    """Ids of the element and those around it."""
    drawn: bool = True
    """False inside definitions, which are drawn only where they are used."""
    depth: int = 0


@dataclass(frozen=True)
class _Part:
    """One shape, or one thing that is left out."""

    owners: frozenset[str]
    drawn: bool
    left_out: str = ""
    """"" for a filled shape, else what it is: "stroke", "text"."""
    subpaths: tuple[Array, ...] = ()
    """Cubics (m, 4, 2) in mm, y up."""
    rule: FillRule = "nonzero"
    problem: str = ""


@dataclass(frozen=True)
class Drawn:
    """One filled shape."""

    owners: frozenset[str]
    subpaths: tuple[Array, ...]
    """Cubics (m, 4, 2) in mm, y up."""
    rule: FillRule


@dataclass(frozen=True)
class Artwork:
    """An SVG file as read."""

    file: str
    ids: Mapping[str, int]
    """How often each id stands in the file."""
    parts: tuple[_Part, ...]

    def shape_of(self, element: str | None, scale: float, place: str) -> tuple[Polygon | MultiPolygon, tuple[str, ...]]:
        """The filled shapes of one element (None: all that is drawn), scaled and united; and the notes.

        Raises:
            UnusableInput: no such element, nothing filled in it, or path data that cannot be read.
        """
        if element is not None:
            self._check_element(element)
        chosen = [part for part in self.parts if (part.drawn if element is None else element in part.owners)]
        notes = _notes(chosen)
        shapes = [part for part in chosen if not part.left_out]
        where = f'element "{element}"' if element is not None else ""
        for part in shapes:
            if part.problem:
                raise UnusableInput(self.file, where, part.problem, "Draw the shape again")
        if not shapes:
            remedy = "Give the shape a fill" + (f" ({'; '.join(notes)})" if notes else "")
            raise UnusableInput(self.file, where, f"nothing in it is filled, for {place}", remedy)
        return _united(shapes, scale), notes

    def drawn(self, element: str | None) -> list[Drawn]:
        """The filled shapes of one element (None: all that is drawn), each by itself, in drawing order."""
        chosen = [part for part in self.parts if (part.drawn if element is None else element in part.owners)]
        return [Drawn(part.owners, part.subpaths, part.rule) for part in chosen if part.subpaths]

    def name_of(self, shape: Drawn) -> str:
        """The id of a shape's own element, or the nearest around it that no other shape has; "" if there is none."""
        alone = [i for i in shape.owners if sum(i in part.owners for part in self.parts if part.subpaths) == 1]
        order = list(self.ids)  # as they stand in the file: the innermost comes last
        return max(alone, key=order.index, default="")

    def _check_element(self, element: str) -> None:
        where = f'element "{element}"'
        if element not in self.ids:
            near = get_close_matches(element, self.ids, n=1)
            remedy = f'Did you mean "{near[0]}"?' if near else "Name one of its ids, or leave the key out"
            raise UnusableInput(self.file, where, "the file has no element with this id", remedy)
        if self.ids[element] > 1:
            raise UnusableInput(self.file, where, "several elements have this id", "Give each its own id")


def load_artwork(folder: Path, file: str, place: str) -> Artwork:
    """Reads the SVG file that a design in `folder` names at `place`. A file read before is not parsed again.

    Raises:
        UnusableInput: the file lies elsewhere, is missing, or is no SVG file that can be used safely.
    """
    path = beside(folder, file, place)
    try:
        if path.stat().st_size > MOST_BYTES:
            raise BadArtwork("the file is too large")
        return replace(_read(path.read_bytes()), file=file)
    except FileNotFoundError:
        problem = f"there is no such file, named by {place}"
        raise UnusableInput(file, "", problem, "Put it beside the design") from None
    except OSError as error:
        reason = f"the file cannot be read ({error.strerror}), named by {place}"
        raise UnusableInput(file, "", reason, "Check its name and permissions") from None
    except BadArtwork as error:
        raise UnusableInput(file, "", str(error), "Save it as plain SVG") from None


@lru_cache(maxsize=16)
def _read(content: bytes) -> Artwork:
    root = _parse(content)
    if _tag(root) != "svg":
        raise BadArtwork("this is not an SVG file")
    ids = Counter(element.get("id", "") for element in root.iter())
    return Artwork("", ids, tuple(_Reader(root).parts()))


def _parse(content: bytes) -> Element:
    """The root element. Files that declare entities are refused, since those can swell without bound."""
    guard = expat.ParserCreate()

    def refuse(*_: object) -> None:
        raise BadArtwork("the file declares entities, which are not read for safety's sake")

    guard.EntityDeclHandler = refuse
    try:
        guard.Parse(content, True)
        return ElementTree.fromstring(content)
    except (expat.ExpatError, ElementTree.ParseError) as error:
        raise BadArtwork(f"this is not an SVG file ({error})") from None
    except (LookupError, ValueError) as error:
        if isinstance(error, BadArtwork):
            raise
        raise BadArtwork(f"the file's encoding is unknown ({error})") from None


def _tag(element: Element) -> str:
    """The element's name without the SVG namespace; "" for those of others and for comments."""
    tag = element.tag if isinstance(element.tag, str) else ""
    if tag.startswith("{http://www.w3.org/2000/svg}"):
        return tag[28:]
    return "" if tag.startswith("{") else tag


class _Reader:
    """Walks a document in drawing order and yields its parts."""

    def __init__(self, root: Element) -> None:
        self.root = root
        self.by_id = {element.get("id", ""): element for element in reversed(list(root.iter()))}
        self.sheet = _style_sheet(root)
        self.count = 0

    def parts(self) -> Iterator[_Part]:
        matrix, size = _root_frame(self.root)
        yield from self.children(self.root, self.entered(self.root, _Context(matrix, {}, size, frozenset())))

    def entered(self, element: Element, around: _Context) -> _Context:
        """The context of an element itself: its own style, id and transform added."""
        own = self.style(element)
        style = {key: value for key, value in around.style.items() if key in _INHERITED}
        style.update({key: value for key, value in own.items() if value != "inherit"})
        identity = element.get("id")
        transform = _transform(None if element is self.root else own.get("transform"))
        return replace(
            around,
            matrix=_times(around.matrix, transform),
            style=style,
            owners=around.owners | {identity} if identity else around.owners,
            depth=around.depth + 1,
        )

    def style(self, element: Element) -> dict[str, str]:
        """Attributes, then the style sheet, then the style attribute: the later wins."""
        found = {key: value.strip() for key, value in element.attrib.items()}
        tag, classes = _tag(element), element.get("class", "").split()
        by_class = [f"{start}.{name}" for start in ("", tag) for name in classes]
        for selector in ("*", tag, *by_class, f"#{element.get('id')}"):
            found.update(self.sheet.get(selector, {}))
        found.update(_declarations(element.get("style", "")))
        return found

    def children(self, element: Element, context: _Context) -> Iterator[_Part]:
        for child in element:
            yield from self.element(child, context)

    def element(self, element: Element, around: _Context) -> Iterator[_Part]:
        tag = _tag(element)
        if tag not in _SHAPES | _GROUPS | _DEFINITIONS and tag not in _LEFT_OUT:
            return
        self.count += 1
        if self.count > MOST_ELEMENTS or around.depth > DEEPEST:
            raise BadArtwork("the file draws too many elements, or nests them too deeply")
        context = self.entered(element, around)
        style = context.style
        if style.get("display") == "none" or _zero(style.get("opacity")):
            yield _Part(context.owners, context.drawn, "hidden element")
            return
        for effect in _UNAPPLIED:
            if style.get(effect, "none") != "none":
                yield _Part(context.owners, context.drawn, f"{effect} effect")
        if tag in _LEFT_OUT:
            yield _Part(context.owners, context.drawn, _LEFT_OUT[tag])
        elif tag in _SHAPES:
            yield from _shape_parts(element, tag, context)
        elif tag in _DEFINITIONS:
            yield from self.children(element, replace(context, drawn=False))
        elif tag == "use":
            yield from self.use(element, context)
        else:
            yield from self.children(element, _viewport(element, context) if tag == "svg" else context)

    def use(self, element: Element, context: _Context) -> Iterator[_Part]:
        """Draws what it refers to, moved by x and y. Ids inside the definition are not its own."""
        href = element.get("href") or element.get("{http://www.w3.org/1999/xlink}href") or ""
        target = self.by_id.get(href[1:]) if href.startswith("#") else None
        if target is None:
            return
        x, y = (_length(element.get(key), 0.0, whole) for key, whole in zip("xy", context.size, strict=True))
        moved = replace(context, matrix=_times(context.matrix, _moved(x, y)))
        if _tag(target) == "symbol":
            sized = {key: value for key in ("width", "height") if (value := element.get(key))}
            inner = self.entered(target, moved)
            found = self.children(target, _viewport(target, inner, sized))
        else:
            found = self.element(target, moved)
        yield from (replace(part, owners=context.owners) for part in found)


# --- Style ------------------------------------------------------------------------------------------------


def _declarations(text: str) -> dict[str, str]:
    pairs = (entry.partition(":") for entry in text.split(";"))
    return {key.strip().lower(): value.replace("!important", "").strip() for key, colon, value in pairs if colon}


def _style_sheet(root: Element) -> dict[str, dict[str, str]]:
    """Rules by their selector: an element's name, .class, name.class or #id. Others are passed over."""
    sheet: dict[str, dict[str, str]] = {}
    for element in root.iter():
        if _tag(element) == "style":
            text = re.sub(r"/\*.*?\*/", "", "".join(element.itertext()), flags=re.DOTALL)
            for selectors, body in re.findall(r"([^{}]+)\{([^{}]*)\}", text):
                for selector in selectors.split(","):
                    sheet.setdefault(selector.strip(), {}).update(_declarations(body))
    return sheet


def _zero(value: str | None) -> bool:
    match = re.fullmatch(r"\s*([0-9.]+)\s*%?\s*", value or "")
    try:
        return match is not None and float(match[1]) == 0
    except ValueError:
        return False


# --- Units and frames -------------------------------------------------------------------------------------


def _length(value: str | None, default: float, whole: float) -> float:
    """A length in user units; per cent are of `whole`."""
    match = _LENGTH.fullmatch(value) if value else None
    if match is None:
        return default
    number, unit = float(match[1]), match[2].lower()
    if not math.isfinite(number):
        raise BadArtwork(f'the length "{value}" is too large')
    if unit == "%":
        return number * whole / 100
    if unit not in _PX:
        raise BadArtwork(f'the length "{value}" has a unit that is not known')
    return number * _PX[unit]


def _numbers(text: str | None) -> list[float]:
    try:
        return [float(part) for part in re.split(r"[\s,]+", (text or "").strip()) if part]
    except ValueError:
        return []


def _view_box(element: Element) -> tuple[float, float, float, float] | None:
    numbers = _numbers(element.get("viewBox"))
    if len(numbers) != 4 or not all(map(math.isfinite, numbers)) or min(numbers[2:]) <= 0:
        return None
    return numbers[0], numbers[1], numbers[2], numbers[3]


def _scales(element: Element, size: _Size, box: tuple[float, float, float, float]) -> tuple[float, float]:
    """How a viewBox is scaled into its viewport (SVG 2, chapter 8.2)."""
    across, up = size.width / box[2], size.height / box[3]
    wish = element.get("preserveAspectRatio", "").split()
    if wish[:1] == ["none"]:
        return across, up
    both = max(across, up) if "slice" in wish else min(across, up)
    return both, both


def _root_frame(root: Element) -> tuple[Array, _Size]:
    """From user units to mm, y up, from the lower-left corner of the viewBox (or of the page without one)."""
    box = _view_box(root)
    given = {key: value for key in ("width", "height") if (value := root.get(key)) and "%" not in value}
    width, height = (_length(given.get(key), 0.0, 0.0) for key in ("width", "height"))
    if box and not given:
        width, height = box[2:]
    elif box and len(given) == 1:  # the other follows from the shape of the box
        width, height = max(width, height * box[2] / box[3]), max(height, width * box[3] / box[2])
    if width <= 0 or height <= 0:
        raise BadArtwork("the file does not say how large it is: it needs a viewBox, or width and height")
    if box is None:
        box = (0.0, 0.0, width, height)
    sx, sy = (scale * MM_PER_PX for scale in _scales(root, _Size(width, height), box))
    return np.array([[sx, 0.0, -sx * box[0]], [0.0, -sy, sy * (box[1] + box[3])]]), _Size(box[2], box[3])


def _viewport(element: Element, context: _Context, sized: Mapping[str, str] | None = None) -> _Context:
    """The context inside a nested svg or a symbol in use: at its x and y, its viewBox scaled into its size."""
    get = {**element.attrib, **(sized or {})}.get
    outer = context.size
    x, y = _length(get("x"), 0.0, outer.width), _length(get("y"), 0.0, outer.height)
    width = _length(get("width"), outer.width, outer.width)
    height = _length(get("height"), outer.height, outer.height)
    size = _Size(width, height)
    box = _view_box(element)
    if box is None or min(size) <= 0:
        return replace(context, matrix=_times(context.matrix, _moved(x, y)), size=size)
    sx, sy = _scales(element, size, box)
    align = (element.get("preserveAspectRatio") or "xMidYMid").lower()
    x += _aligned(align, "x", size.width - box[2] * sx) - box[0] * sx
    y += _aligned(align, "y", size.height - box[3] * sy) - box[1] * sy
    inner = _times(context.matrix, np.array([[sx, 0.0, x], [0.0, sy, y]]))
    return replace(context, matrix=inner, size=_Size(box[2], box[3]))


def _aligned(align: str, axis: str, room: float) -> float:
    return room / 2 if f"{axis}mid" in align else room if f"{axis}max" in align else 0.0


def _transform(text: str | None) -> Array:
    """An SVG transform list as a (2, 3) matrix."""
    try:
        m = Matrix((text or "").replace("deg", ""))
        made = np.array([[m.a, m.c, m.e], [m.b, m.d, m.f]], np.float64)
    except (TypeError, ValueError):
        made = np.full((2, 3), np.nan)
    if not np.all(np.abs(made) < 1e9):
        raise BadArtwork(f'the transform "{text}" cannot be read')
    return made


def _moved(x: float, y: float) -> Array:
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y]])


def _times(outer: Array, inner: Array) -> Array:
    """The affine map that applies `inner`, then `outer`; both (2, 3)."""
    made: Array = outer[:, :2] @ inner
    made[:, 2] += outer[:, 2]
    return made


# --- Shapes -----------------------------------------------------------------------------------------------


def _shape_parts(element: Element, tag: str, context: _Context) -> Iterator[_Part]:
    """The shape's fill, and a mention of its stroke."""
    style = context.style
    base = _Part(context.owners, context.drawn)
    if style.get("visibility", "visible") != "visible":
        yield replace(base, left_out="hidden element")
        return
    if style.get("stroke", "none") != "none" and not _zero(style.get("stroke-width")):
        yield replace(base, left_out="stroke")
    if tag == "line" or style.get("fill") in ("none", "transparent") or _zero(style.get("fill-opacity")):
        return
    rule: FillRule = "evenodd" if style.get("fill-rule") == "evenodd" else "nonzero"
    try:
        curves = tuple(_mapped(context.matrix, cubics) for cubics in _curves(element, tag, context.size))
    except BadPathData as error:
        yield replace(base, problem=f"the path data are bad: {error}")
        return
    if curves:
        yield replace(base, subpaths=curves, rule=rule)


def _mapped(matrix: Array, cubics: Array) -> Array:
    mapped: Array = cubics @ matrix[:, :2].T + matrix[:, 2]
    return mapped


def _curves(element: Element, tag: str, size: _Size) -> list[Array]:
    """The shape's rings as cubics in user units; none where it has no extent."""
    diagonal = math.hypot(*size) / math.sqrt(2)
    wholes = {"x": size.width, "cx": size.width, "rx": size.width, "width": size.width, "r": diagonal}

    def length(key: str, default: float = 0.0) -> float:
        return _length(element.get(key), default, wholes.get(key, size.height))

    if tag == "path":
        data = element.get("d", "").strip()
        return [run.cubics for run in read_path_data(data)] if data not in ("", "none") else []
    if tag == "rect":
        rx, ry = length("rx", -1.0), length("ry", -1.0)
        return _rectangle(length("x"), length("y"), length("width"), length("height"), rx, ry)
    if tag in ("circle", "ellipse"):
        rx, ry = length("rx", -1.0), length("ry", -1.0)
        if tag == "circle":
            rx = ry = length("r")
        rx, ry = (ry if rx < 0 else rx), (rx if ry < 0 else ry)
        centre = np.array([length("cx"), length("cy")])
        return [_ellipse(centre, rx, ry)] if min(rx, ry) > 0 else []
    numbers = _numbers(element.get("points"))
    points = np.array(numbers[: len(numbers) // 2 * 2], np.float64).reshape(-1, 2)
    if not np.all(np.isfinite(points)):
        raise BadPathData("its points are not numbers")
    return [line_cubics(points)] if len(points) > 2 else []


def _ellipse(centre: Array, rx: float, ry: float) -> Array:
    return arc_cubics(centre, np.array([rx, 0.0]), np.array([0.0, ry]), 0.0, math.tau)


def _rectangle(x: float, y: float, width: float, height: float, rx: float, ry: float) -> list[Array]:
    """A rectangle, its corners rounded by quarter ellipses; a radius below 0 stands for "as the other"."""
    if width <= 0 or height <= 0:
        return []
    rx, ry = (ry if rx < 0 else rx), (rx if ry < 0 else ry)
    rx, ry = min(max(rx, 0.0), width / 2), min(max(ry, 0.0), height / 2)
    if min(rx, ry) == 0:
        corners = [[x, y], [x + width, y], [x + width, y + height], [x, y + height]]
        return [line_cubics(np.array(corners, np.float64))]
    axes = np.array([rx, 0.0]), np.array([0.0, ry])
    runs: list[Array] = []
    for quarter, (cx, cy) in enumerate(((1, 1), (0, 1), (0, 0), (1, 0))):
        centre = np.array([x + (width - rx if cx else rx), y + (height - ry if cy else ry)])
        arc = arc_cubics(centre, *axes, quarter * math.pi / 2, math.pi / 2)
        if runs:
            runs.append(line_cubics(np.array([runs[-1][-1, 3], arc[0, 0]])))
        runs.append(arc)
    return [np.vstack(runs)]


def _united(parts: list[_Part], scale: float) -> Polygon | MultiPolygon:
    shapes = [filled([_ring(scale * cubics) for cubics in part.subpaths], part.rule) for part in parts]
    return shapes[0] if len(shapes) == 1 else without_noise(shapely.union_all(shapes))


def _ring(cubics: Array) -> Array:
    points = flatten(cubics)
    return points[:-1] if np.array_equal(points[0], points[-1]) else points


def _notes(parts: list[_Part]) -> tuple[str, ...]:
    """What was left out, counted: "2 strokes are left out"."""
    counts = Counter(part.left_out for part in parts if part.left_out)
    return tuple(_note(what, count) for what, count in sorted(counts.items()))


def _note(what: str, count: int) -> str:
    plural, are = ("s", "are") if count > 1 else ("", "is")
    return f"{count} {what}{plural} {are} {'not applied' if what.endswith('effect') else 'left out'}"
