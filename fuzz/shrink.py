"""A failing design made as small as it gets: one change after another, each kept while it fails in the same way."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator
from time import monotonic
from typing import Any

Document = dict[str, Any]
Fails = Callable[[Document], bool]
PLAIN_PIECE = {"at": [0.0, 0.0], "turn": 0.0, "scale": 1.0, "mirror": False}


def shrink(document: Document, fails: Fails, seconds: float = 60.0) -> Document:
    """The smallest design that was found to fail still.

    Args:
        document: a design that fails.
        fails: whether a design fails in the same way.
        seconds: when to stop looking.
    """
    until = monotonic() + seconds
    best = document
    tried = {_key(best)}
    progress = True
    while progress:
        progress = False
        for candidate in _smaller(best):
            if monotonic() > until:
                return best
            key = _key(candidate)
            if key in tried:
                continue
            tried.add(key)
            if fails(candidate):
                best, progress = candidate, True
                break
    return best


def _key(document: Document) -> str:
    return json.dumps(document, sort_keys=True)


def _smaller(document: Document) -> Iterator[Document]:
    """Designs that are simpler by one change, the boldest first."""
    yield from _fewer_pieces(document)
    yield from _plainer_panel(document)
    yield from _fewer_keys(document)
    yield from _plainer_outlines(document)
    yield from _rounder(document)


def _with(document: Document, change: Callable[[Document], object]) -> Document:
    made = copy.deepcopy(document)
    change(made)
    return made


def _fewer_pieces(document: Document) -> Iterator[Document]:
    """Leave out half of its pieces, then each of them."""
    count = len(document["pieces"])
    spans = [(0, count // 2), (count // 2, count)] if count > 3 else []
    for start, end in [*spans, *((i, i + 1) for i in range(count))]:
        made = copy.deepcopy(document)
        gone = {entry["id"] for entry in made["pieces"][start:end]}
        made["pieces"][start:end] = []
        for entry in made["pieces"]:
            if "after" in entry:
                entry["after"] = [name for name in entry["after"] if name not in gone]
        yield made


def _plainer_panel(document: Document) -> Iterator[Document]:
    panel = document["panel"]
    for key in ("face_trim", "edge_trim"):
        if key in panel:
            yield _with(document, lambda made, key=key: made["panel"].pop(key))  # type: ignore[misc]
    if "strips" not in panel:
        return
    made = copy.deepcopy(document)
    for key in ("strips", "strips_along"):
        made["panel"].pop(key, None)
    made["panel"]["wood"] = "ash"
    yield made
    for i, strip in enumerate(panel["strips"]):
        if "segments" in strip:
            made = copy.deepcopy(document)
            made["panel"]["strips"][i] = {"width": strip["width"], "wood": "ash"}
            yield made
    for i in range(len(panel["strips"]) - 1):  # two strips become one
        made = copy.deepcopy(document)
        strips = made["panel"]["strips"]
        strips[i : i + 2] = [{"width": strips[i]["width"] + strips[i + 1]["width"], "wood": "ash"}]
        yield made


def _fewer_keys(document: Document) -> Iterator[Document]:
    for key in document["workshop"]:
        yield _with(document, lambda made, key=key: made["workshop"].pop(key))  # type: ignore[misc]
    for i, entry in enumerate(document["pieces"]):
        for key in entry:
            if key not in ("id", "wood", "outline"):
                yield _with(document, lambda made, i=i, key=key: made["pieces"][i].pop(key))  # type: ignore[misc]


def _plainer_outlines(document: Document) -> Iterator[Document]:
    """Leave out one of its holes, or a stretch of its corners."""
    for i, entry in enumerate(document["pieces"]):
        outline = entry["outline"]
        for hole in range(len(outline.get("holes", ()))):
            yield _with(document, lambda made, i=i, hole=hole: made["pieces"][i]["outline"]["holes"].pop(hole))  # type: ignore[misc]
        rings = [key for key in ("polygon", "line") if key in outline]
        for key in rings:
            yield from _fewer_points(document, ["pieces", i, "outline", key], 3 if key == "polygon" else 2)
        for hole in range(len(outline.get("holes", ()))):
            yield from _fewer_points(document, ["pieces", i, "outline", "holes", hole], 3)


def _fewer_points(document: Document, path: list[Any], least: int) -> Iterator[Document]:
    points = _at(document, path)
    step = len(points) // 2
    while step:
        for start in range(0, len(points), step):
            if len(points) - len(points[start : start + step]) >= least:
                made = copy.deepcopy(document)
                _at(made, path)[start : start + step] = []
                yield made
        step //= 2


def _at(document: Any, path: list[Any]) -> Any:
    for step in path:
        document = document[step]
    return document


def _numbers(value: Any, path: list[Any]) -> Iterator[list[Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _numbers(inner, [*path, key])
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            yield from _numbers(inner, [*path, i])
    elif isinstance(value, float) and value != int(value):
        yield path


def _rounder(document: Document) -> Iterator[Document]:
    """All numbers with fewer decimals at once, then each by itself; strips keep their sum."""
    paths = [path for path in _numbers(document, []) if "strips" not in path]
    for digits in (0, 1, 2, 4):
        yield _rounded(document, paths, digits)
    for i in range(len(document["pieces"])):
        own = [path for path in paths if path[:2] == ["pieces", i]]
        for digits in (0, 1, 2, 4):
            yield _rounded(document, own, digits)
    for path in paths:
        for digits in (0, 1, 2, 4):
            yield _rounded(document, [path], digits)


def _rounded(document: Document, paths: list[list[Any]], digits: int) -> Document:
    made = copy.deepcopy(document)
    for path in paths:
        inner = _at(made, path[:-1])
        inner[path[-1]] = round(inner[path[-1]], digits)
    return made
