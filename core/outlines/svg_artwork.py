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
from functools import cached_property, lru_cache
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
from ..folders import beside, read_file
from ..limits import (
    DEEPEST,
    LARGEST,
    MOST_CURVES,
    MOST_ELEMENTS,
    MOST_POINTS,
    MOST_XML_ELEMENTS,
    count_text,
    refuse_beyond,
)
from .crossings import CROSSES_TOO_OFTEN, cross_too_often
from .curves import FLATTENING, Array, arc_cubics, flatten, flattened_size, line_cubics
from .path_data import BadPathData, read_path_data

# 96 px are an inch of 25.4 mm, 6 pc or 72 pt: CSS Values and Units 3, section 6.2 (from memory).
MM_PER_PX = 25.4 / 96
LARGEST_FACTOR = 1e12
"""Largest number in a transform, its own or all of them together: no product of two overflows."""

_PX = {"": 1.0, "px": 1.0, "in": 96.0, "mm": 96 / 25.4, "cm": 96 / 2.54, "q": 96 / 101.6, "pt": 4 / 3, "pc": 16.0}
# Possessive throughout: a length that is none must not be tried in every other way.
_LENGTH = re.compile(r"\s*+([+-]?(?:\d++(?:\.\d*+)?+|\.\d++)(?:e[+-]?\d++)?+)\s*+(%|[a-z]*+)\s*+", re.IGNORECASE)
_SHARE = re.compile(r"\s*+([0-9.]++)\s*+%?+\s*+")
_SHAPES = {"path", "rect", "circle", "ellipse", "polygon", "polyline", "line"}
_GROUPS = {"g", "a", "svg", "switch", "use"}
_DEFINITIONS = {"defs", "symbol"}
_LEFT_OUT = {"text": "text", "image": "image", "foreignObject": "image"}
_INHERITED = ("fill", "fill-rule", "fill-opacity", "stroke", "stroke-width", "visibility")
_UNAPPLIED = ("clip-path", "mask", "filter")
_STYLED = {*_INHERITED, *_UNAPPLIED, "display", "opacity", "transform"}
"""What of a style is looked at."""
_LONGEST_GUESS = 100
"""Ids longer than this are not compared with others, to guess which was meant."""


class BadArtwork(ValueError):
    """An SVG file that cannot be used; the message says why."""


class _Size(NamedTuple):
    """Size of the viewport in user units, for lengths in per cent."""

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
        self._check_size(shapes, scale, where or place)
        return _united(shapes, scale), notes

    def _check_size(self, parts: list[_Part], scale: float, where: str) -> None:
        """Refuses what would take too long to unite, before its curves become points."""
        curves = [cubics for part in parts for cubics in part.subpaths]
        largest = scale * max((float(np.abs(cubics).max()) for cubics in curves), default=0.0)
        if largest > LARGEST:
            problem = f"it reaches {largest / 1000:.3g} m from the corner of its page"
            raise UnusableInput(self.file, where, problem, f"Draw or scale it within {LARGEST / 1000:g} m")
        points = sum(flattened_size(cubics, scale) for cubics in curves)
        refuse_beyond(points, MOST_POINTS, "points", "Draw it with fewer, smoother curves", where, self.file)
        rings = [scale * flatten(cubics, 10 * FLATTENING / scale) for cubics in curves]
        closed = [np.vstack([ring, ring[:1]]) for ring in rings]
        if cross_too_often(closed):
            raise UnusableInput(self.file, where, CROSSES_TOO_OFTEN, "Draw it as simple shapes")

    def drawn(self, element: str | None) -> list[Drawn]:
        """The filled shapes of one element (None: all that is drawn), each by itself, in drawing order."""
        chosen = [part for part in self.parts if (part.drawn if element is None else element in part.owners)]
        return [Drawn(part.owners, part.subpaths, part.rule) for part in chosen if part.subpaths]

    def name_of(self, shape: Drawn) -> str:
        """The id of a shape's own element, or the nearest around it that no other shape has; "" if there is none."""
        alone = [i for i in shape.owners if self._shapes_in[i] == 1]
        return max(alone, key=self._order.__getitem__, default="")

    @cached_property
    def _shapes_in(self) -> Mapping[str, int]:
        """How many shapes each id holds."""
        return Counter(i for part in self.parts if part.subpaths for i in part.owners)

    @cached_property
    def _order(self) -> Mapping[str, int]:
        """The ids as they stand in the file: the innermost comes last."""
        return {identity: place for place, identity in enumerate(self.ids)}

    def _check_element(self, element: str) -> None:
        where = f'element "{element}"'
        if element not in self.ids:
            known = [identity for identity in self.ids if len(identity) <= _LONGEST_GUESS]
            near = get_close_matches(element[: 2 * _LONGEST_GUESS], known, n=1)
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
        return replace(_read(read_file(path, place)), file=file)
    except UnusableInput as refused:
        raise UnusableInput(file, refused.place, refused.problem, refused.remedy) from None
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

    count = 0

    def counted(*_: object) -> None:
        nonlocal count
        count += 1
        if count > MOST_XML_ELEMENTS:
            raise BadArtwork(f"the file has more than {count_text(MOST_XML_ELEMENTS)} elements")

    guard.EntityDeclHandler = refuse
    guard.StartElementHandler = counted
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
        self.styles: dict[Element, dict[str, str]] = {}
        self.count = self.curves = 0

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
            matrix=_within_reason(_times(around.matrix, transform)),
            style=style,
            owners=around.owners | {identity} if identity else around.owners,
            depth=around.depth + 1,
        )

    def style(self, element: Element) -> dict[str, str]:
        """What an element is given by itself, by the CSS cascade: the later wins.

        Attributes come first, then the style sheet, then the style attribute; then the same two again with what is
        marked ``!important`` in them (CSS Cascading and Inheritance Level 4, chapter 6; SVG 2, chapter 6.6 on
        attributes). Rules of the sheet go by what they select: all, a name, a class, an id.
        """
        known = self.styles.get(element)
        if known is None:
            known = self.styles[element] = self._cascaded(element)
        return known

    def _cascaded(self, element: Element) -> dict[str, str]:
        tag, classes = _tag(element), element.get("class", "").split()
        by_class = [f"{start}.{name}" for start in ("", tag) for name in classes]
        selectors = ("*", tag, *by_class, f"#{element.get('id')}")
        rules = [self.sheet[selector] for selector in selectors if selector in self.sheet]
        rules.append(_declarations(element.get("style", "")))
        found = {key: value.strip() for key, value in element.attrib.items() if key in _STYLED}
        for rule in (*(rule.usual for rule in rules), *(rule.important for rule in rules)):
            found.update(rule)
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
            raise BadArtwork(
                "the file draws too many elements, or nests them too deeply: "
                f"at most {count_text(MOST_ELEMENTS)} are drawn, {DEEPEST} deep"
            )
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
            for part in _shape_parts(element, tag, context):
                self.curves += sum(map(len, part.subpaths))
                if self.curves > MOST_CURVES:
                    raise BadArtwork(f"the file draws more than {count_text(MOST_CURVES)} lines and curves")
                yield part
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
        moved = replace(context, matrix=_within_reason(_times(context.matrix, _moved(x, y))))
        if _tag(target) == "symbol":
            sized = {key: value for key in ("width", "height") if (value := element.get(key))}
            inner = self.entered(target, moved)
            found = self.children(target, _viewport(target, inner, sized))
        else:
            found = self.element(target, moved)
        yield from (replace(part, owners=context.owners) for part in found)


# --- Style ------------------------------------------------------------------------------------------------


class _Rule(NamedTuple):
    """Declarations, those marked ``!important`` by themselves."""

    usual: dict[str, str]
    important: dict[str, str]


def _declarations(text: str) -> _Rule:
    """Those that are looked at."""
    rule = _Rule({}, {})
    for entry in text.split(";"):
        key, _, value = entry.partition(":")
        name = key.strip().lower()
        if name in _STYLED:
            plain, mark, rest = value.rpartition("!")
            important = bool(mark) and rest.strip().lower() == "important"
            (rule.important if important else rule.usual)[name] = (plain if important else value).strip()
    return rule


def _style_sheet(root: Element) -> dict[str, _Rule]:
    """Rules by their selector: an element's name, .class, name.class or #id. Others are passed over."""
    sheet: dict[str, _Rule] = {}
    for element in root.iter():
        if _tag(element) == "style":
            blocks = _without_comments("".join(element.itertext())).split("}")
            for block in blocks[:-1]:
                around, _, body = block.rpartition("{")
                rule = _declarations(body)
                for selector in around.rpartition("{")[2].split(","):
                    known = sheet.setdefault(selector.strip(), _Rule({}, {}))
                    known.usual.update(rule.usual)
                    known.important.update(rule.important)
    return sheet


def _without_comments(text: str) -> str:
    """The style sheet without its comments; one that does not end takes all that follows."""
    kept, position = [], 0
    while (start := text.find("/*", position)) >= 0:
        kept.append(text[position:start])
        end = text.find("*/", start + 2)
        position = end + 2 if end >= 0 else len(text)
    return "".join([*kept, text[position:]])


def _zero(value: str | None) -> bool:
    match = _SHARE.fullmatch(value or "")
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
        raise BadArtwork(f'the length "{_cut(value)}" is too large')
    if unit == "%":
        return number * whole / 100
    if unit not in _PX:
        raise BadArtwork(f'the length "{_cut(value)}" has a unit that is not known')
    return number * _PX[unit]


def _cut(text: str | None) -> str:
    """Words of a file as a message quotes them, cut short."""
    return text if text is not None and len(text) <= 40 else f"{(text or '')[:37]}..."


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
    made = np.array([[sx, 0.0, -sx * box[0]], [0.0, -sy, sy * (box[1] + box[3])]])
    return _within_reason(made), _Size(box[2], box[3])


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
        return replace(context, matrix=_within_reason(_times(context.matrix, _moved(x, y))), size=size)
    sx, sy = _scales(element, size, box)
    align = (element.get("preserveAspectRatio") or "xMidYMid").lower()
    x += _aligned(align, "x", size.width - box[2] * sx) - box[0] * sx
    y += _aligned(align, "y", size.height - box[3] * sy) - box[1] * sy
    inner = _times(context.matrix, _within_reason(np.array([[sx, 0.0, x], [0.0, sy, y]])))
    return replace(context, matrix=_within_reason(inner), size=_Size(box[2], box[3]))


def _aligned(align: str, axis: str, room: float) -> float:
    return room / 2 if f"{axis}mid" in align else room if f"{axis}max" in align else 0.0


def _transform(text: str | None) -> Array:
    """An SVG transform list as a (2, 3) matrix."""
    try:
        m = Matrix((text or "").replace("deg", ""))
        made = np.array([[m.a, m.c, m.e], [m.b, m.d, m.f]], np.float64)
    except (ArithmeticError, LookupError, TypeError, ValueError):  # svgelements has no error of its own
        made = np.full((2, 3), np.nan)
    if not np.all(np.abs(made) < 1e9):
        raise BadArtwork(f'the transform "{_cut(text)}" cannot be read')
    return made


def _within_reason(matrix: Array) -> Array:
    """The matrix itself, unless it is not finite or so large that others would make it so."""
    if not np.all(np.abs(matrix) < LARGEST_FACTOR):
        raise BadArtwork("its sizes, its viewBox or its transforms scale it beyond all measure")
    return matrix


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
    if not np.all(np.abs(cubics) < LARGEST_FACTOR):
        raise BadPathData("it has numbers too large to be meant")
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
